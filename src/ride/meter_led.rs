//! The rider may hold the watts of a separate meter: a slow, bounded correction of what the trainer is asked for.
//!
//! Two instruments seldom agree: drive losses, temperature and a missed spin-down make a few per cent. Where the rider
//! asks for it, the difference between the meter and the watts that are wanted is summed up over the block and taken off
//! the trainer's target. It is slow, so that neither noise of the reports nor the brake's delay can make it hunt, and it
//! waits wherever the two cannot be compared: in the first seconds of a block, in sprints, while the trainer does not
//! hold what it was asked for, and while the meter is silent, reads nought or something that cannot be.

use crate::time::{Instant, Span};
use crate::units::Watts;

/// The correction goes no further than this share of the load either way. A power display of the better class may be off
/// by a tenth (ISO 20957-1, class A, *memory*): what lies beyond is a fault to be mended by a spin-down or a new battery,
/// and not one to be followed.
pub const BOUND: f64 = 0.10;
/// The difference is taken up with this time constant, s. Several times the slowest brake (3 s) and the latest meter
/// (2 s) together, so that the loop of the two does not overshoot. Our own choice.
const TAKE_UP: f64 = 20.0;
/// The target moves by steps of this at least, W, and no more than one step a second: what moves less is noise.
const LEAST_STEP: f64 = 2.0;
/// Or by this share of the load, where that is more.
const STEP_SHARE: f64 = 0.01;
const STEP_EVERY: Span = Span::from_seconds(1);
/// So long after a load has stopped rising or falling the two may be compared: the brake's lag and the meter's own.
pub const SETTLES: Span = Span::from_seconds(5);
/// Below this load a per cent is less than a reading's own step. Our own choice.
const LEAST_LOAD: Watts = Watts(50.0);
/// The trainer counts as holding what it was asked for within this share.
const HOLDS: f64 = 0.10;
/// A meter that differs by more than this share is not of this ride: dead, on one leg, or another rider's.
const APART: f64 = 0.30;
/// A step of time that was not looked at for longer than this counts as this.
const MOST_TIME: Span = Span::from_seconds(1);

/// How the correction stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MeterState {
    /// Not asked for.
    #[default]
    Off,
    /// It follows the meter.
    Following,
    /// It waits: a beat, a ramp or a sprint is too near, or the trainer does not hold its target.
    Waiting,
    /// The meter is silent or reads nought: what stands, stands.
    Silent,
    /// The meter is too far off to be believed: what stands, stands.
    Apart,
    /// The bound, or the rider's cap, keeps it from going further.
    Bound,
}

/// What the correction looks at.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Fresh power of the separate meter.
    pub meter: Option<Watts>,
    /// Fresh power of the trainer itself.
    pub trainer: Option<Watts>,
    /// What the trainer was last asked for; none where it holds no watts.
    pub stands: Option<Watts>,
    /// The watts that the rider is to make, before the correction and under the cap.
    pub wanted: Option<Watts>,
    /// Whether the load stands still and the clock runs.
    pub settled: bool,
    /// Whether the target stands at the cap, so that nothing can be added.
    pub at_cap: bool,
}

/// The correction.
#[derive(Clone, Copy, Debug, Default)]
pub struct MeterLed {
    on: bool,
    /// What the sum of differences asks for, a share of the load.
    summed: f64,
    /// What the target is corrected by now, a share of the load.
    applied: f64,
    looked: Option<Instant>,
    stepped: Option<Instant>,
    state: MeterState,
}

impl MeterLed {
    /// As the rider's file has it; nothing corrected yet.
    pub fn new(on: bool) -> Self {
        Self {
            on,
            state: if on {
                MeterState::Waiting
            } else {
                MeterState::Off
            },
            ..Self::default()
        }
    }

    /// On or off. Off, the correction goes as slowly as it came.
    pub fn set(&mut self, on: bool) {
        self.on = on;
        if !on {
            self.summed = 0.0;
            self.state = MeterState::Off;
        }
    }

    /// Whether the rider asked for it.
    pub const fn is_on(&self) -> bool {
        self.on
    }

    /// Takes what is known now.
    pub fn see(&mut self, now: Instant, look: &Look) {
        let time = self
            .looked
            .map_or(Span::ZERO, |looked| now.since(looked).min(MOST_TIME))
            .seconds();
        self.looked = Some(now);
        if self.on {
            self.state = self.take_up(time, look);
        }
        let Some(wanted) = look.wanted.filter(|_| look.settled) else {
            return;
        };
        let due = self
            .stepped
            .is_none_or(|stepped| now.since(stepped) >= STEP_EVERY);
        let step = (LEAST_STEP / wanted.0.max(1.0)).max(STEP_SHARE);
        let off = self.summed - self.applied;
        // Off, the last of it goes too, though it be less than a step.
        let last = !self.on && off.abs() < step;
        if due && (off.abs() >= LEAST_STEP / wanted.0.max(1.0) || last) && off != 0.0 {
            self.applied += off.clamp(-step, step);
            self.applied = self.applied.clamp(-BOUND, BOUND);
            self.stepped = Some(now);
        }
    }

    fn take_up(&mut self, time: f64, look: &Look) -> MeterState {
        let (Some(wanted), Some(stands), true) = (look.wanted, look.stands, look.settled) else {
            return MeterState::Waiting;
        };
        let Some(meter) = look.meter.filter(|meter| meter.0 > 0.0) else {
            return MeterState::Silent;
        };
        let holds = look
            .trainer
            .is_some_and(|trainer| (trainer.0 - stands.0).abs() <= HOLDS * stands.0);
        if !holds || wanted < LEAST_LOAD {
            return MeterState::Waiting;
        }
        let short = (wanted.0 - meter.0) / wanted.0;
        if short.abs() > APART {
            return MeterState::Apart;
        }
        if look.at_cap && short > 0.0 {
            return MeterState::Bound;
        }
        self.summed = (self.summed + short * time / TAKE_UP).clamp(-BOUND, BOUND);
        if self.summed.abs() >= BOUND {
            MeterState::Bound
        } else {
            MeterState::Following
        }
    }

    /// The target after the correction.
    pub fn corrected(&self, wanted: f64) -> f64 {
        wanted * (1.0 + self.applied)
    }

    /// The watts before the correction, of a target after it.
    pub fn before(&self, target: f64) -> f64 {
        target / (1.0 + self.applied)
    }

    /// What the target is corrected by, a share of the load: −0.04 is four per cent less than is wanted of the legs.
    pub const fn share(&self) -> f64 {
        self.applied
    }

    /// How it stands.
    pub const fn state(&self) -> MeterState {
        self.state
    }

    /// In words for the screen; none where it is off and nothing of it is left.
    pub fn words(&self) -> Option<String> {
        if !self.on && self.applied == 0.0 {
            return None;
        }
        let per_cent = (self.applied * 100.0).round();
        let off = per_cent.abs();
        let asked = if per_cent == 0.0 {
            entry!("the trainer is asked for the same").to_owned()
        } else if per_cent > 0.0 {
            kept!("the trainer is asked for {off:.0} % more")
        } else {
            kept!("the trainer is asked for {off:.0} % less")
        };
        Some(match self.state {
            MeterState::Off => kept!("No longer held by your meter: {asked}."),
            MeterState::Following | MeterState::Waiting => kept!("Held by your meter: {asked}."),
            MeterState::Silent => kept!("Your meter is silent: {asked}."),
            MeterState::Apart => kept!("Your meter is too far off to follow: {asked}."),
            MeterState::Bound => kept!("Held by your meter, as far as it goes: {asked}."),
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn look(meter: f64, target: f64, wanted: f64) -> Look {
        Look {
            meter: Some(Watts(meter)),
            trainer: Some(Watts(target)),
            stands: Some(Watts(target)),
            wanted: Some(Watts(wanted)),
            settled: true,
            at_cap: false,
        }
    }

    fn at(quarter: u64) -> Instant {
        Instant(quarter * 250_000)
    }

    /// A meter that reads `gain` times what the trainer holds.
    fn ridden(gain: f64, quarters: u64, led: &mut MeterLed) -> f64 {
        for quarter in 0..quarters {
            let target = led.corrected(200.0).floor();
            led.see(at(quarter), &look(target * gain, target, 200.0));
        }
        led.corrected(200.0) * gain
    }

    #[test]
    fn a_meter_that_is_off_by_some_per_cent_is_held_and_no_further_than_a_tenth() {
        for gain in [0.92, 0.97, 1.03, 1.10] {
            let mut led = MeterLed::new(true);
            let met = ridden(gain, 1_000, &mut led);
            assert!((met - 200.0).abs() < 3.5, "{gain}: {met} W");
        }
        let mut led = MeterLed::new(true);
        let met = ridden(0.85, 1_000, &mut led);
        // A tenth more than 200 W, of which the meter sees 85 %.
        assert!((met - 187.0).abs() < 0.1, "{met}");
        assert_eq!(led.state(), MeterState::Bound);
    }

    #[test]
    fn nothing_is_taken_up_from_a_meter_that_says_nothing_or_nonsense() {
        let cases = [
            (look(0.0, 200.0, 200.0), MeterState::Silent),
            (
                Look {
                    meter: None,
                    ..look(0.0, 200.0, 200.0)
                },
                MeterState::Silent,
            ),
            (look(100.0, 200.0, 200.0), MeterState::Apart),
            (
                Look {
                    settled: false,
                    ..look(180.0, 200.0, 200.0)
                },
                MeterState::Waiting,
            ),
            (
                Look {
                    trainer: Some(Watts(150.0)),
                    ..look(150.0, 200.0, 200.0)
                },
                MeterState::Waiting,
            ),
            (
                Look {
                    at_cap: true,
                    ..look(190.0, 200.0, 200.0)
                },
                MeterState::Bound,
            ),
            (look(44.0, 48.0, 48.0), MeterState::Waiting),
        ];
        for (look, state) in cases {
            let mut led = MeterLed::new(true);
            for quarter in 0..400 {
                led.see(at(quarter), &look);
            }
            assert_eq!((led.share(), led.state()), (0.0, state), "{look:?}");
        }
    }

    #[test]
    fn switched_off_it_goes_as_it_came_and_says_so() {
        let mut led = MeterLed::new(true);
        ridden(1.08, 800, &mut led);
        assert_eq!(
            led.words().unwrap(),
            "Held by your meter: the trainer is asked for 7 % less."
        );
        led.set(false);
        let before = led.share();
        led.see(at(801), &look(200.0, 186.0, 200.0));
        assert!((led.share() - before).abs() <= 0.01 + 1e-9);
        for quarter in 802..900 {
            led.see(at(quarter), &look(200.0, 200.0, 200.0));
        }
        assert_eq!(led.share(), 0.0);
        assert_eq!(led.words(), None);
    }
}
