//! Still pedals that stand the clock.

use super::Core;
use crate::plan::Kind;
use crate::ride::pedals::Pedals;
use crate::rider::PauseAfter;
use crate::time::{Instant, Span};

/// No pause by still pedals so close to a sprint.
const NEAR_SPRINT: Span = Span::from_seconds(10);

impl Core {
    /// When still pedals pause the clock.
    pub(super) fn pause_due(&self) -> Option<Instant> {
        let ride = self.ride.as_ref()?;
        let choice = self.choice.as_ref()?;
        let (true, Pedals::Stopped(since)) = (self.mode.runs(), ride.runner.pedals()) else {
            return None;
        };
        // Nobody else waits.
        if self.is_in_group() {
            return None;
        }
        let PauseAfter::After(span) = choice.rider.pause_after else {
            return None;
        };
        let now = self.handled;
        let place = ride.runner.place(now)?;
        let timeline = ride.runner.timeline();
        let kind = |lap: usize| choice.plan.blocks[timeline.laps()[lap].block].kind;
        let near = |lap: Option<usize>, away: Span| {
            away <= NEAR_SPRINT && lap.is_some_and(|lap| kind(lap) == Kind::Sprint)
        };
        let held_off = kind(place.lap) == Kind::Free
            || self.fixed_wheel_turns(now)
            || near(Some(place.lap), Span::ZERO)
            || near(timeline.next(place.lap), place.left)
            || near(timeline.previous(place.lap), place.into);
        // A pause that is held off falls due when the reason is past: looked at again every second.
        Some((since + span).max(if held_off {
            now + Span::from_seconds(1)
        } else {
            Instant::ZERO
        }))
    }
}
