//! A ride that a killed program left open goes on, in the recording in which it began.

use super::Core;
use crate::engine::command::Role;
use crate::engine::rows::Rows;
use crate::engine::snapshot::TakenUp;
use crate::engine::take_up::TakeUp;
use crate::record::{GoesOn, Kept};
use crate::ride::{PauseCause, Runner};
use crate::time::{Instant, Span};

impl Core {
    /// Takes a ride to be gone on with; it begins as any other does.
    pub(super) fn take_up(&mut self, take_up: TakeUp) {
        if self.mode.under_way() {
            return;
        }
        self.choose(take_up.choice.clone());
        self.take_up = Some(Box::new(take_up));
    }

    /// The ride that waits to go on, for the screen.
    pub(super) fn taken_up(&self) -> Option<TakenUp> {
        let take_up = self.take_up.as_ref()?;
        Some(TakenUp {
            ride: take_up.ride.clone(),
            ridden: take_up.ridden(),
            left: take_up.left(),
            held_back: take_up.held_back(),
        })
    }

    /// Seconds ridden before the ride that waits to begin.
    pub(super) fn ridden_before(&self) -> f64 {
        let waits = self.take_up.as_ref();
        waits.map_or(0.0, |take_up| take_up.ridden().seconds())
    }

    /// Seconds of the session's clock where the ride that waits to begin does so.
    pub(super) fn plan_before(&self) -> f64 {
        self.take_up.as_ref().map_or(0.0, |take_up| take_up.plan_s)
    }

    /// The runner of the ride that begins now, and word of it to the writer.
    pub(super) fn begin_recording(&mut self, now: Instant) -> Option<Runner> {
        let choice = self.choice.clone()?;
        let start = self.ride_start(now, &choice);
        if let Some(take_up) = &self.take_up {
            let runner = take_up.runner(now, self.links.used_for(Role::Trainer));
            let goes_on = GoesOn {
                ride: take_up.ride.clone(),
                part: take_up.part,
                kept: take_up.kept,
                plan_s: take_up.plan_s,
                start,
            };
            self.keep(Kept::GoOn(Box::new(goes_on)));
            return Some(runner);
        }
        self.keep(Kept::Begin(Box::new(start)));
        Some(Runner::new(choice.plan, choice.rider, choice.mode, now))
    }

    /// The ride that has just begun goes on where the recording ended.
    pub(super) fn go_on(&mut self, now: Instant) {
        let Some(take_up) = self.take_up.take() else {
            return;
        };
        let gap_ms = take_up.gap_ms(self.utc_ms(now));
        let gap = Span::from_millis(gap_ms.unsigned_abs());
        if let (Some(ride), Some(choice)) = (&mut self.ride, &self.choice) {
            ride.rows = Rows::new(&choice.rider);
            ride.rows.take_up(take_up.kept.rows, take_up.came_to());
            ride.tally = take_up.tally();
            ride.marks = take_up.marks();
            ride.tally.pause(now, PauseCause::Gap);
            ride.tally.slept(gap);
            ride.tally.resume(now);
            // A test is not gone on with.
            ride.test = None;
        }
        let detail = kept!(
            "The recording was not closed: the ride goes on from {ridden}, {gap} after its last row.",
            ridden = take_up.ridden()
        );
        self.event(now, "taken-up", &detail);
        self.say(
            now,
            kept!(
                "On from {ridden}. {held_back}",
                ridden = take_up.ridden(),
                held_back = take_up.held_back()
            ),
        );
    }
}
