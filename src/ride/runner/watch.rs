//! What the ride watches for by itself: legs that stall, and a meter that is to be held.

use super::{Facts, Runner};
use crate::plan::{Kind, Target};
use crate::ride::build_up::{BUILD_UP, BuildUp};
use crate::ride::gear::WheelSpeed;
use crate::ride::meter_led::{Look, MeterLed, SETTLES};
use crate::time::Instant;
use crate::units::{BrakeTarget, Rpm, Watts};

impl Runner {
    /// Watches for legs that stall, and says what the guard does.
    pub(super) fn watch_for_a_stall(
        &mut self,
        now: Instant,
        facts: &Facts,
        held: bool,
        low: Option<Rpm>,
    ) {
        let (acted, blind) = (self.guard.acts(), self.guard.is_blind());
        let acts = self.guard.see(now, facts.cadence, facts.power, held, low);
        if acts && !acted {
            self.guard_waits = false;
            let eased = self.ease.stalled(now);
            let detail = kept!(
                "Brake off: spin the legs up. They were stalling; the load builds up once they turn, and {eased}."
            );
            self.happened("guard", true, detail);
        } else if acts && facts.cadence.is_none() && !self.guard_waits {
            self.guard_waits = true;
            self.happened(
                "guard-waits",
                true,
                entry!("Brake off: pedal on. No cadence is seen since the legs stalled; a recovery's load comes back."),
            );
        } else if acted && !acts && self.guard.is_blind() {
            self.happened(
                "guard-over",
                true,
                entry!("An easy load is back. The legs push, but no cadence is seen: the full load waits for it, or for the next block."),
            );
        } else if acted && !acts {
            self.happened(
                "guard-over",
                false,
                entry!("The legs are back. The load builds up again."),
            );
        } else if blind && !self.guard.is_blind() {
            // From a recovery's load to the block's own, as at its beginning.
            self.build = BuildUp::new(self.standing_load(facts), now, BUILD_UP);
        }
    }

    /// Whether a heart rate that limited the load is lost.
    pub const fn heart_is_lost(&self) -> bool {
        self.heart_lost
    }

    /// A heart rate that limited the load and is lost holds it at a recovery's, through every block that comes, until it
    /// is back or the rider says to go on without it.
    pub(super) fn watch_the_heart(&mut self, now: Instant, facts: &Facts, lost: bool) {
        if lost == self.heart_lost {
            return;
        }
        // Down over two seconds, and up again as at the beginning of a block. A rise that was wanted and is not taken yet
        // is no part of where the way down begins; where none was taken since the brake was let off, nothing stands.
        let stands = self.standing_load(facts);
        let from = match facts.taken {
            Some(BrakeTarget::Power(taken)) => stands.min(self.uncorrected(taken.0)),
            None if matches!(self.stands, Some((_, BrakeTarget::Power(_)))) => 0.0,
            _ => stands,
        };
        // A step of the way down is due at once: what was wanted a moment ago is not sent any more.
        let since = if lost { now - super::RAMP_STEP } else { now };
        self.build = BuildUp::new(from, since, BUILD_UP);
        self.heart_lost = lost;
        if lost {
            self.happened(
                "heart-lost",
                true,
                entry!("Heart rate was lost while it limited the load: a recovery's load until it is back. Harder rides on \
                 without it."),
            );
        } else {
            self.happened(
                "heart-back",
                false,
                entry!("Heart rate is back: the load builds up again."),
            );
        }
    }

    /// The rider says to ride on without the heart rate that was lost.
    pub(super) fn ride_without_heart(&mut self, now: Instant, facts: &Facts) {
        self.heart_lost = false;
        self.ease.ride_without_heart();
        self.build = BuildUp::new(self.standing_load(facts), now, BUILD_UP);
        self.happened(
            "heart-waived",
            true,
            entry!("Riding on without a heart rate. The load builds up again."),
        );
    }

    /// Compares a separate meter with what is wanted, where the rider asked for it.
    pub(super) fn watch_the_meter(&mut self, now: Instant, facts: &Facts) {
        let stands = match self.stands {
            Some((_, BrakeTarget::Power(watts))) => Some(watts),
            _ => None,
        };
        let Some(place) = self.place(now) else { return };
        let block = self.block_at(place);
        let sprint = block.kind == Kind::Sprint;
        let cap = self.rider.power_cap;
        // A ramp moves away from under a comparison that looks seconds back, unless it is a slow one: a per cent in ten
        // seconds at most.
        let steep = match block.target {
            Target::Line(from, to) => {
                let watts = |load| crate::rider::lane(&load, &self.rider).map_or(0.0, |w| w.0);
                let (from, to) = (watts(from), watts(to));
                let a_second = (to - from).abs() / (place.into + place.left).seconds().max(1.0);
                a_second > 0.001 * from.max(to)
            }
            Target::Steady(_) | Target::None => false,
        };
        let settled = self.clock.runs()
            && !sprint
            && !steep
            && self.released.is_empty()
            && self.pedals.turn_now()
            && now >= self.build.ends() + SETTLES;
        let wanted = self.risen.map(|(_, risen)| Watts(risen.min(cap.0)));
        let look = Look {
            meter: facts.meter,
            trainer: facts.trainer,
            stands,
            wanted,
            settled,
            at_cap: stands.is_some_and(|stands| stands.0 >= cap.0 - 1.0),
        };
        self.meter.see(now, &look);
    }

    /// The rider wants a separate meter's watts held, or the trainer's own.
    pub fn hold_by_meter(&mut self, on: bool) {
        self.meter.set(on);
        let detail = if on {
            entry!(
                "Your meter's watts are held: the trainer is corrected slowly, by a tenth at most."
            )
        } else {
            entry!("The trainer's own watts are held.")
        };
        self.happened("meter", true, detail);
    }

    /// Whether the correction acts in the block that is ridden: not in sprints.
    fn corrects(&self) -> bool {
        let sprint =
            |lap: usize| self.plan.blocks[self.timeline.laps()[lap].block].kind == Kind::Sprint;
        !self.lap.is_some_and(sprint)
    }

    /// A target after the correction towards a separate meter, under the block's own cap.
    pub(super) fn corrected(&self, wanted: f64) -> f64 {
        if self.corrects() {
            self.meter.corrected(wanted)
        } else {
            wanted
        }
    }

    /// The watts before that correction.
    pub(super) fn uncorrected(&self, target: f64) -> f64 {
        if self.corrects() {
            self.meter.before(target)
        } else {
            target
        }
    }

    /// Whether the speed that is shown was seen to be a wheel's.
    pub fn speed_is_the_wheels(&self) -> bool {
        self.gears.wheel_speed() == WheelSpeed::Real
    }

    /// The correction towards a separate meter.
    pub const fn meter(&self) -> &MeterLed {
        &self.meter
    }
}
