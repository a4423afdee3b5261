//! A ride that an earlier run of the program left open goes on.

use super::{MOST_TRIM, Runner};
use crate::ride::clock::RideClock;
use crate::time::{Instant, Span};

impl Runner {
    /// Goes on at `now` after so much was ridden and so much passed over, with laps of these lengths and so many presses of trim of work and of
    /// recovery. Call it before anything else: what stood on the brake is not known, so it stays released until the
    /// pedals are seen to turn, and the load builds up from nothing as at a start.
    pub fn take_up(
        &mut self,
        now: Instant,
        ridden: Span,
        jumped: Span,
        lengths: &[Span],
        (work, recovery): (i32, i32),
    ) {
        self.clock = RideClock::taken_up(now, ridden);
        self.jumped = jumped;
        self.timeline.set_lengths(lengths);
        self.trim_work = work.clamp(-MOST_TRIM, MOST_TRIM);
        self.trim_recovery = recovery.clamp(-MOST_TRIM, MOST_TRIM);
    }
}
