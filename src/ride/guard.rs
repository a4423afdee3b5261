//! The stall guard: lets the brake off before a held target grinds tired legs to a stop.
//!
//! A brake that holds watts asks for more torque as cadence falls (P = T·ω), so a fading rider is driven into a stall.
//! The signs are cadence that falls while torque rises, below 55 rpm or bound to be there within two seconds. A coast is
//! not a stall (power goes with the legs), nor is a start from rest (the legs have not been up to speed yet), nor a
//! shift (one drop, and it is over), nor a slow climb in a free block (the brake does not chase the rider), nor legs that
//! slow down into a cadence they were asked for. The rates are common practice, no source; what they let pass and what
//! they catch is tried on models of legs in the tests.

use std::f64::consts::TAU;

use crate::ride::pedals::TURNING_POWER;
use crate::time::{Instant, Span};
use crate::units::{Rpm, Watts};

/// Below this cadence a held target may stall the legs.
pub const STALL_CADENCE: Rpm = Rpm(55.0);
/// A block that asks for a cadence as low as that: the legs stall only so far below its band.
const UNDER_LOW_BAND: f64 = 5.0;
/// Feet slower than this stand still: a coast, or a stall so quick that no report told of it.
const STILL_CADENCE: Rpm = Rpm(5.0);
/// So far ahead the fall of cadence is looked at, seconds.
const AHEAD: f64 = 2.0;
/// Over so much of the past the trend is taken, or over three reports where they come more slowly.
const WINDOW: Span = Span::from_millis(1_500);
/// A grinding fall is slower than the guard's quick look can tell from wandering: it is judged over this.
const LONG_WINDOW: Span = Span::from_seconds(8);
/// A trend needs this much time at least.
const LEAST_SPAN: Span = Span::from_millis(700);
/// Cadence falling more slowly than this (rpm a second) is settling, not stalling; below the stall's cadence half of it
/// is too much, where it goes on through the long window.
const LEAST_FALL: f64 = 2.0;
/// Cadence is bound to get low only where it is within so much (rpm) of low already: standing up, or two shifts, take the
/// legs down as fast as a stall does at first, and end above this.
const NEAR: f64 = 10.0;
/// It must have fallen by so much (rpm) within the window: noise makes trends too, and some sensors know cadence in steps
/// of eight.
const LEAST_DROP: f64 = 9.0;
/// A fall of which one report brought more than this share is a shift, or a sensor's slip.
const ALL_AT_ONCE: f64 = 0.9;
/// Legs that push have not lost more of their power than this within the window; legs that coast have.
const STILL_PUSHED: f64 = 0.7;
/// Legs over this cadence are back, or in the band where a block asks for less.
pub const BACK_CADENCE: Rpm = Rpm(70.0);
/// For so long, before the load builds back.
const BACK_FOR: Span = Span::from_seconds(2);
/// Without a cadence, power over [`TURNING_POWER`] against the lowest load for so long shows that the legs turn. Our own
/// choice: five times what a known cadence needs.
pub const BLIND_FOR: Span = Span::from_seconds(10);
/// The legs must have been over this cadence since the target was last built up, or a start would look like a stall.
const ARMED_CADENCE: Rpm = Rpm(60.0);
/// Values that change within this belong to one report.
const ONE_REPORT: Span = Span::from_millis(100);
/// A value that stands is a sample again after this: at ten changes a second the long window holds eighty-one at most.
const STANDS: Span = Span::from_seconds(1);

#[derive(Clone, Copy, Debug)]
struct Sample {
    at: Instant,
    cadence: f64,
    power: f64,
}

impl Sample {
    /// Torque at the crank, Nm; none at a standstill.
    fn torque(&self) -> f64 {
        let turning = self.cadence * TAU / 60.0;
        if turning > 0.5 {
            self.power.max(0.0) / turning
        } else {
            0.0
        }
    }
}

/// Watches for a stall.
#[derive(Clone, Debug, Default)]
pub struct StallGuard {
    /// The last eight seconds, a sample a report.
    samples: Vec<Sample>,
    armed: bool,
    acting: bool,
    /// Since when the legs have been over the cadence that ends it.
    back_since: Option<Instant>,
    /// Since when, without a cadence, power alone has shown that they turn.
    pushed_since: Option<Instant>,
    /// Whether the guard ended without a cadence.
    blind: bool,
}

impl StallGuard {
    /// Takes what is fresh as it arrives. `held` is whether the brake holds watts now, `band_low` the lowest cadence
    /// that the block asks for. Returns whether the guard acts.
    pub fn see(
        &mut self,
        now: Instant,
        cadence: Option<Rpm>,
        power: Option<Watts>,
        held: bool,
        band_low: Option<Rpm>,
    ) -> bool {
        self.blind &= cadence.is_none();
        match (cadence, power) {
            (Some(cadence), Some(power)) => self.sample(now, cadence, power),
            _ => self.samples.clear(),
        }
        if self.acting {
            let over = match (cadence, power) {
                (Some(cadence), _) => self.legs_are_back(now, cadence, band_low),
                (None, power) => self.legs_push(now, power),
            };
            if over {
                *self = Self {
                    blind: cadence.is_none(),
                    ..Self::default()
                };
            }
        } else if !held {
            self.armed = false;
        } else if let Some(cadence) = cadence {
            let low = band_low.map_or(f64::INFINITY, |low| low.0);
            self.armed |= cadence.0 > ARMED_CADENCE.0.min(low);
            // Legs that slow down into their band do as they were asked.
            self.acting = self.armed && cadence.0 < low && self.stalling(cadence, low);
            self.back_since = None;
            self.pushed_since = None;
        }
        self.acting
    }

    fn sample(&mut self, now: Instant, cadence: Rpm, power: Watts) {
        let sample = Sample {
            at: now,
            cadence: cadence.0,
            power: power.0,
        };
        match self.samples.last_mut() {
            Some(last) if now.since(last.at) < ONE_REPORT => {
                *last = Sample {
                    at: last.at,
                    ..sample
                };
            }
            Some(last)
                if last.cadence == sample.cadence
                    && last.power == sample.power
                    && now.since(last.at) < STANDS => {}
            _ => self.samples.push(sample),
        }
        self.samples
            .retain(|sample| now.since(sample.at) <= LONG_WINDOW);
    }

    /// Whether the legs have been up to speed for long enough.
    fn legs_are_back(&mut self, now: Instant, cadence: Rpm, band_low: Option<Rpm>) -> bool {
        self.pushed_since = None;
        let back = band_low.map_or(BACK_CADENCE, |low| low.min(BACK_CADENCE));
        if cadence <= back {
            self.back_since = None;
            return false;
        }
        now.since(*self.back_since.get_or_insert(now)) >= BACK_FOR
    }

    /// Whether, without a cadence, power has shown for long enough that the legs turn.
    fn legs_push(&mut self, now: Instant, power: Option<Watts>) -> bool {
        self.back_since = None;
        if !power.is_some_and(|power| power > TURNING_POWER) {
            self.pushed_since = None;
            return false;
        }
        now.since(*self.pushed_since.get_or_insert(now)) >= BLIND_FOR
    }

    fn stalling(&self, cadence: Rpm, low: f64) -> bool {
        let stall = STALL_CADENCE.0.min(low - UNDER_LOW_BAND);
        let Some(last) = self.samples.last() else {
            return false;
        };
        if cadence < STILL_CADENCE {
            // Feet that stand still are watched by a rule of their own.
            return false;
        }
        // Three reports at least, however slowly they come.
        let recent = self
            .samples
            .iter()
            .rev()
            .take_while(|sample| last.at.since(sample.at) <= WINDOW)
            .count()
            .max(3)
            .min(self.samples.len());
        let quick = Trend::of(&self.samples[self.samples.len() - recent..]);
        let long = Trend::of(&self.samples);
        let slowed_as_asked = low < STALL_CADENCE.0 + NEAR;
        let quickly = quick.is_some_and(|trend| {
            let bound = !slowed_as_asked
                && cadence.0 < stall + NEAR
                && trend.end - trend.fall * AHEAD < stall;
            trend.fall > LEAST_FALL && (cadence.0 < stall || bound)
        });
        let slowly = long.is_some_and(|trend| cadence.0 < stall && trend.fall > LEAST_FALL / 2.0);
        quickly || slowly
    }

    /// Whether the guard acts.
    pub const fn acts(&self) -> bool {
        self.acting
    }

    /// Whether it ended by power alone, and no cadence has been seen since: the guard cannot watch these legs.
    pub const fn is_blind(&self) -> bool {
        self.blind
    }

    /// Another block begins: what the guard could not watch is given another try.
    pub const fn next_block(&mut self) {
        self.blind = false;
    }

    /// Forgets the past: after a pause, a release or a lost link. A guard that acts goes on acting: a reading that is
    /// missing is no sign that the legs are back.
    pub fn rest(&mut self) {
        *self = Self {
            acting: self.acting,
            blind: self.blind,
            ..Self::default()
        };
    }
}

/// How cadence fell through a stretch of samples, where it did while torque rose and the legs pushed on.
#[derive(Clone, Copy, Debug)]
struct Trend {
    /// How fast it falls, rpm a second; of the two halves of the stretch the gentler one.
    fall: f64,
    /// The last of three means along the stretch, rpm.
    end: f64,
}

impl Trend {
    fn of(samples: &[Sample]) -> Option<Self> {
        let (first, last) = samples.first().zip(samples.last())?;
        if samples.len() < 3 || last.at.since(first.at) < LEAST_SPAN {
            return None;
        }
        // The ends are a third each, so that noise of single reports is taken out where there are many.
        let third = (samples.len() / 3).max(1);
        let begin = Mean::of(&samples[..third]);
        let middle = Mean::of(&samples[third..samples.len() - third]);
        let end = Mean::of(&samples[samples.len() - third..]);
        // A shift drops cadence once and is over; a stall falls through both halves.
        let fall = middle.fall_from(begin).min(end.fall_from(middle));
        let most_power = samples
            .iter()
            .map(|sample| sample.power)
            .fold(0.0, f64::max);
        let pushed = end.power >= most_power * STILL_PUSHED;
        let loaded = begin.torque < middle.torque && middle.torque < end.torque;
        let dropped = begin.cadence - end.cadence >= LEAST_DROP;
        let once = samples
            .windows(2)
            .map(|pair| pair[0].cadence - pair[1].cadence)
            .fold(0.0, f64::max);
        if once > ALL_AT_ONCE * (first.cadence - last.cadence) {
            return None;
        }
        (pushed && loaded && dropped).then_some(Self {
            fall,
            end: end.cadence,
        })
    }
}

/// The means of some samples.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    /// Seconds.
    at: f64,
    cadence: f64,
    power: f64,
    torque: f64,
}

impl Mean {
    /// Of one sample at least.
    fn of(samples: &[Sample]) -> Self {
        let mean = |value: fn(&Sample) -> f64| {
            samples.iter().map(value).sum::<f64>() / samples.len() as f64
        };
        Self {
            at: mean(|sample| sample.at.seconds()),
            cadence: mean(|sample| sample.cadence),
            power: mean(|sample| sample.power),
            torque: mean(Sample::torque),
        }
    }

    /// rpm a second since an earlier mean.
    fn fall_from(self, earlier: Self) -> f64 {
        (earlier.cadence - self.cadence) / (self.at - earlier.at).max(0.05)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    /// Feeds four samples a second and says at which second the guard first acted.
    fn first_act(held: bool, at: impl Fn(f64) -> (f64, f64)) -> Option<f64> {
        let mut guard = StallGuard::default();
        (0..80).map(|quarter| f64::from(quarter) / 4.0).find(|&t| {
            let (cadence, power) = at(t);
            guard.see(
                Instant::ZERO + Span::from_seconds_f64(t),
                Some(Rpm(cadence)),
                Some(Watts(power)),
                held,
                None,
            )
        })
    }

    #[test]
    fn a_spiral_into_a_stall_is_caught_above_fifty() {
        // 85 rpm for five seconds, then 8 rpm a second down while the brake holds 250 W.
        let spiral = |t: f64| (85.0 - 8.0 * (t - 5.0).max(0.0), 250.0);
        let acted = first_act(true, spiral).expect("the guard must act");
        let cadence = spiral(acted).0;
        assert!((50.0..75.0).contains(&cadence), "acted at {cadence} rpm");
        assert_eq!(
            first_act(false, spiral),
            None,
            "in a free block it is no stall"
        );
    }

    #[test]
    fn hard_but_ordinary_riding_is_no_stall() {
        // A start from rest against a held target.
        assert_eq!(first_act(true, |t| ((t * 8.0).min(85.0), 100.0)), None);
        // Two seconds of coasting: power goes with the legs.
        let coast = |t: f64| {
            if (5.0..7.0).contains(&t) {
                (85.0 - 20.0 * (t - 5.0), 0.0)
            } else {
                (85.0, 200.0)
            }
        };
        assert_eq!(first_act(true, coast), None);
        // A shift to a harder gear: one drop of ten revolutions.
        assert_eq!(
            first_act(true, |t| (if t < 5.0 { 88.0 } else { 78.0 }, 220.0)),
            None
        );
        // Slow but steady.
        assert_eq!(
            first_act(true, |t| (if t < 5.0 { 65.0 } else { 58.0 }, 180.0)),
            None
        );
    }

    #[test]
    fn a_missing_reading_does_not_end_it_and_many_looks_do_not_blind_it() {
        // The same spiral, looked at two hundred times a second.
        let mut guard = StallGuard::default();
        let mut look = |t: f64, cadence: f64| {
            let now = Instant::ZERO + Span::from_seconds_f64(t);
            guard.see(now, Some(Rpm(cadence)), Some(Watts(250.0)), true, None);
        };
        for step in 0..2_000 {
            let t = f64::from(step) / 200.0;
            look(t, 85.0 - 8.0 * (t - 5.0).max(0.0));
        }
        assert!(guard.acts());
        guard.rest();
        assert!(
            guard.acts(),
            "a lost sensor is no sign that the legs are back"
        );
    }

    #[test]
    fn the_load_comes_back_after_two_seconds_over_seventy() {
        let mut guard = StallGuard::default();
        let mut acts = |t: f64, cadence: f64| {
            guard.see(
                Instant::ZERO + Span::from_seconds_f64(t),
                Some(Rpm(cadence)),
                Some(Watts(200.0)),
                true,
                None,
            )
        };
        for quarter in 0..20 {
            acts(
                f64::from(quarter) / 4.0,
                85.0 - 4.0 * f64::from((quarter - 8).max(0)),
            );
        }
        assert!(acts(5.0, 40.0));
        assert!(acts(6.0, 72.0));
        assert!(acts(7.0, 69.0), "a dip starts the two seconds anew");
        assert!(acts(8.0, 75.0));
        assert!(acts(9.9, 75.0));
        assert!(!acts(10.0, 75.0));
    }

    #[test]
    fn a_lower_band_is_not_a_stall_and_is_enough_to_come_back_to() {
        let mut guard = StallGuard::default();
        let low = Some(Rpm(50.0));
        let mut acts = |t: f64, cadence: f64| {
            let now = Instant::ZERO + Span::from_seconds_f64(t);
            guard.see(now, Some(Rpm(cadence)), Some(Watts(200.0)), true, low)
        };
        // From 80 into a band of 50 to 60, and a little under it.
        for quarter in 0..40 {
            let t = f64::from(quarter) / 4.0;
            assert!(!acts(t, (80.0 - 6.0 * t).max(48.0)), "at {t} s");
        }
        // And then truly down.
        let acted = (40..80).find(|&quarter| {
            let t = f64::from(quarter) / 4.0;
            acts(t, 48.0 - 6.0 * (t - 10.0))
        });
        assert!(acted.is_some());
        assert!(acts(20.0, 52.0));
        assert!(!acts(22.0, 52.0), "two seconds in the band");
    }

    #[test]
    fn without_a_cadence_ten_seconds_of_power_end_it_and_that_is_known() {
        let mut guard = StallGuard::default();
        let at = |t: f64| Instant::ZERO + Span::from_seconds_f64(t);
        for quarter in 0..20 {
            let t = f64::from(quarter) / 4.0;
            guard.see(
                at(t),
                Some(Rpm(85.0 - 10.0 * t)),
                Some(Watts(200.0)),
                true,
                None,
            );
        }
        assert!(guard.acts());
        assert!(guard.see(at(6.0), None, None, false, None));
        assert!(guard.see(at(7.0), None, Some(Watts(30.0)), false, None));
        assert!(
            guard.see(at(15.0), None, Some(Watts(20.0)), false, None),
            "a gap starts anew"
        );
        assert!(guard.see(at(16.0), None, Some(Watts(30.0)), false, None));
        assert!(guard.see(at(25.9), None, Some(Watts(30.0)), false, None));
        assert!(!guard.see(at(26.0), None, Some(Watts(30.0)), false, None));
        assert!(guard.is_blind());
        guard.see(at(27.0), Some(Rpm(80.0)), Some(Watts(30.0)), false, None);
        assert!(!guard.is_blind(), "a cadence is seen again");
    }
}
