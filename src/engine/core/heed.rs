//! Whether the trainer acts on the target powers that it takes: said once, and left to the rider.

use super::Core;
use crate::control::{Heeding, Moment};
use crate::plan::Kind;
use crate::ride::Runner;
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, Watts};

/// The very same record for so long may be a frozen one: no power is taken from it here.
const REPEATED: Span = Span::from_seconds(5);
/// So near an end of its range a brake may be unable to do what it takes.
const NEAR_AN_END: Watts = Watts(20.0);
/// A speed under this is none, m/s.
const KNOWN_SPEED: f64 = 1.0;

impl Core {
    /// The trainer has just reported.
    pub(super) fn watch_heed(&mut self, now: Instant) {
        let repeated = self.links.trainer_repeats_since();
        let repeats = repeated.is_some_and(|since| now.since(since) >= REPEATED);
        let facts = self.facts(now);
        let moment = Moment {
            target: self.held_undisturbed(now),
            power: facts.trainer.filter(|_| !repeats),
            cadence: facts.cadence.map(|cadence| cadence.0),
            speed: facts.speed.map(|v| v.0).filter(|v| *v > KNOWN_SPEED),
            is_wheels: self
                .ride
                .as_ref()
                .is_some_and(|ride| ride.runner.speed_is_the_wheels()),
        };
        match self.heed.see(now, &moment) {
            Some(Heeding::Not) => {
                let offer = self.offer();
                let words = if offer.level.is_some() || offer.slope.is_some() {
                    entry!(
                        "The trainer ignores its targets: switch to effort only. It takes every one and its load does \
                         not change, so your watts follow your speed: make the load with your gears."
                    )
                } else {
                    entry!(
                        "The trainer ignores its targets: make the load with your gears. It takes every one and its \
                         load does not change, so your watts follow your speed; there is nothing else that it takes."
                    )
                };
                self.event(now, "target-unheeded", words);
                self.say(now, words.to_owned());
            }
            Some(Heeding::Again) => {
                self.event(
                    now,
                    "target-heeded",
                    entry!("Its load changes with its targets again."),
                );
            }
            None => {}
        }
    }

    /// The target power that the trainer took last, where nothing else is in play.
    fn held_undisturbed(&self, now: Instant) -> Option<Watts> {
        let ride = self.ride.as_ref().filter(|_| self.mode.runs())?;
        let plan = &self.choice.as_ref()?.plan;
        let runner: &Runner = &ride.runner;
        let place = runner.place(now)?;
        let block = &plan.blocks[runner.timeline().laps()[place.lap].block];
        let Some(BrakeTarget::Power(watts)) = self.brake else {
            return None;
        };
        let range = self.control.abilities().power?;
        let inside =
            watts.0 >= range.least + NEAR_AN_END.0 && watts.0 <= range.most - NEAR_AN_END.0;
        let undisturbed = runner.released().is_empty()
            && runner.may_rise()
            && !runner.is_stalling()
            && !runner.letting_off(now)
            && block.kind != Kind::Sprint;
        (inside && undisturbed).then_some(watts)
    }
}
