//! What the rider's hand does to a ride: trim, ease, stretch, cut, skip, undo, pause, brake off, the other mode.

use super::{Facts, MOST_TRIM, Runner};
use crate::ride::build_up::{BUILD_BACK, BUILD_UP, BuildUp};
use crate::ride::let_off::LetOff;
use crate::ride::load;
use crate::ride::mode::RideMode;
use crate::ride::timeline::Timeline;
use crate::time::{Instant, Span};
use crate::units::BrakeTarget;

impl Runner {
    /// Two per cent a step of work or recovery; in effort-only mode a step of the fixed level.
    pub fn trim(&mut self, steps: i8, now: Instant, facts: &Facts) {
        if self.ride_mode == RideMode::EffortOnly {
            self.nudge_level(steps, now, facts);
            return;
        }
        if self.heart_lost && steps > 0 {
            self.ride_without_heart(now, facts);
            return;
        }
        let Some(place) = self.place(now) else { return };
        let work = self.block_at(place).kind.is_work();
        let trim = if work {
            &mut self.trim_work
        } else {
            &mut self.trim_recovery
        };
        *trim = (*trim + i32::from(steps)).clamp(-MOST_TRIM, MOST_TRIM);
        let per_cent = *trim * 2;
        let detail = if work {
            kept!("work {per_cent:+} %")
        } else {
            kept!("recovery {per_cent:+} %")
        };
        self.happened("trim", false, detail);
    }

    /// Ten per cent off the rest of this block.
    pub fn ease_block(&mut self) {
        self.ease.ask();
        self.happened("ease-block", true, entry!("This block is eased by 10 %."));
    }

    /// Half a minute more of this block.
    pub fn stretch(&mut self, now: Instant) -> bool {
        let session = self.session(now);
        let done = self.timeline.stretch(&self.plan, session);
        if done {
            self.happened(
                "stretch",
                true,
                entry!("Thirty seconds more of this block."),
            );
        } else {
            self.happened(
                "refused",
                true,
                entry!("This block may not be made longer."),
            );
        }
        done
    }

    /// Leaves out the next block that may be cut.
    pub fn cut(&mut self, now: Instant) -> bool {
        let session = self.session(now);
        match self.timeline.cut(&self.plan, session) {
            Some(lap) => {
                let name = &self.plan.blocks[self.timeline.laps()[lap].block].name;
                let detail = kept!("Left out: {name}.");
                self.happened("cut", true, detail);
                true
            }
            None => {
                self.happened(
                    "refused",
                    true,
                    entry!("No block that follows may be left out."),
                );
                false
            }
        }
    }

    /// On to the next block.
    pub fn skip(&mut self, now: Instant) {
        let session = self.session(now);
        self.timeline.skip(session);
        self.happened("skip", false, entry!("On to the next block."));
    }

    /// The session goes on at `to`, which is never before where it stands; its blocks are as they were written again. What
    /// stands goes its way into the block as at a beat.
    pub fn jump(&mut self, now: Instant, to: Span, facts: &Facts) {
        let here = self.lap;
        self.timeline = Timeline::new(&self.plan);
        self.jumped = to.less(self.clock.ridden(now)).max(self.jumped);
        let Some(place) = self.place(now) else { return };
        // Nobody counted this down: what lies there builds up, a sprint's load too.
        if here != Some(place.lap) {
            self.unannounced = here.is_some();
            return;
        }
        // The same block further on: its load may lie elsewhere, or it is still being built up to.
        let back = self.build.left_from_nothing(now).max(BUILD_BACK);
        let stands = self.standing_load(facts);
        let from = self.unled.map_or(stands, |unled| unled.min(stands));
        self.build = load::way_into(self.block_at(place), from, now, false, back);
        self.led = None;
    }

    /// Ends this block and leaves out those that follow it as long as `left` says so of their index in the plan: the
    /// steps of a test that is over. It is not taken back: who could not go on shall not find the load again.
    pub fn leave_while(&mut self, now: Instant, left: impl Fn(usize) -> bool) {
        let session = self.session(now);
        self.timeline.leave_while(session, left);
    }

    /// Whether the stall guard acts.
    pub const fn is_stalling(&self) -> bool {
        self.guard.acts()
    }

    /// Takes back the last skip, stretch or cut.
    pub fn undo(&mut self) -> bool {
        let done = self.timeline.undo();
        if done {
            self.happened("undo", true, entry!("Taken back."));
        }
        done
    }

    /// From here on the last change cannot be taken back.
    pub fn forget_undo(&mut self) {
        self.timeline.forget();
    }

    /// Lets the brake off by hand, in two quick steps; it stays off until [`put_on`](Self::put_on).
    pub fn brake_off(&mut self, now: Instant) {
        self.by_hand = true;
        self.let_go(now, entry!("let off by hand"));
    }

    /// Whether the brake was let off by hand.
    pub const fn is_off(&self) -> bool {
        self.by_hand
    }

    /// The brake was released at once: the two steps of letting off are not wanted any more.
    pub fn released_at_once(&mut self) {
        self.let_off = None;
        self.stands = None;
        self.slow.released();
        self.slowly = None;
    }

    /// What stands is not known: of the two steps of letting off only the second is left.
    pub fn forget_half(&mut self) {
        if let Some(let_off) = &mut self.let_off {
            let_off.forget_half();
        }
    }

    /// Whether the load is on its way off: the second step is still to come.
    pub fn letting_off(&self, now: Instant) -> bool {
        self.let_off_due(now).is_some()
    }

    /// When the second step of letting off is due, where it is still to come.
    pub fn let_off_due(&self, now: Instant) -> Option<Instant> {
        self.let_off?.next_change(now)
    }

    /// Sets the brake again after it was let off by hand, built up gently.
    pub fn put_on(&mut self, now: Instant) {
        self.by_hand = false;
        if self.clock.runs() {
            self.set_again(now);
        }
    }

    /// The letting off is over. What still stands of the load is where it builds back from.
    fn set_again(&mut self, now: Instant) {
        if self.let_off.take().is_some()
            && let Some((_, BrakeTarget::Power(stands))) = self.stands
        {
            let over = BUILD_BACK.max(self.build_left(now));
            self.build = BuildUp::new(self.uncorrected(stands.0), now, over);
        }
    }

    /// The clock stands from `since` on. Where legs were turning the load goes in two steps from now, as by hand.
    pub fn pause(&mut self, now: Instant, since: Instant) {
        self.clock.stand(since);
        self.let_go(now, entry!("the clock stands"));
    }

    /// The clock runs on, and the load builds back unless the brake was let off by hand.
    pub fn resume(&mut self, now: Instant) {
        self.clock.run(now);
        if !self.by_hand {
            self.set_again(now);
        }
    }

    pub(super) fn let_go(&mut self, now: Instant, why: &'static str) {
        // Half of what was asked for may be more than what the trainer has taken so far.
        let lower = |target: BrakeTarget| match self.taken {
            Some(taken) if taken.same_sort(target) && taken.value() < target.value() => taken,
            _ => target,
        };
        let stands = self.stands.map(|(_, target)| lower(target));
        let speed = self.free.speed();
        self.let_off
            .get_or_insert(LetOff::new(now, stands, speed, why));
    }

    /// The link or the control of the brake is lost, or came back: what stands is unknown, so the next target is
    /// built up from release.
    pub fn brake_unknown(&mut self) {
        self.stands = None;
        self.slow.released();
        self.slowly = None;
        self.risen = None;
        self.led = None;
        self.unled = None;
        self.released = entry!("control of the brake was lost");
        self.forget_half();
        self.guard.rest();
    }

    /// The other ride mode, from the load that stands.
    pub fn switch_mode(&mut self, now: Instant, facts: &Facts) {
        let from = self.standing_load(facts);
        self.ride_mode = match self.ride_mode {
            RideMode::TargetPower => RideMode::EffortOnly,
            RideMode::EffortOnly => RideMode::TargetPower,
        };
        self.build = BuildUp::new(from, now, BUILD_UP);
        let detail = match self.ride_mode {
            RideMode::TargetPower => entry!("Now riding in target-power mode."),
            RideMode::EffortOnly => entry!("Now riding in effort-only mode."),
        };
        self.happened("mode", true, detail);
        if self.ride_mode == RideMode::EffortOnly {
            self.say_watts_are_yours();
        }
    }
}
