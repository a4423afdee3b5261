//! A ride that an earlier run of the program left open goes on.

use super::{MOST_TRIM, Runner};
use crate::ride::clock::RideClock;
use crate::time::{Instant, Span};

/// How such a ride stood.
#[derive(Clone, Copy, Debug)]
pub struct LeftAt<'a> {
    /// Time ridden.
    pub ridden: Span,
    /// How much of the session was passed over to be with a group.
    pub jumped: Span,
    /// How long each lap is today.
    pub lengths: &'a [Span],
    /// Presses of trim, of work and of recovery.
    pub trims: (i32, i32),
    /// The level that was set, as a share of the trainer's range; none where the trainer is another one now.
    pub level: Option<f64>,
    /// Whether the brake was let off by hand.
    pub by_hand: bool,
    /// Whether a heart rate that limited the load was lost.
    pub heart_lost: bool,
}

impl Runner {
    /// Goes on at `now` from where a ride stood. Call it before anything else: what stood on the brake is not known, so it
    /// stays released until the pedals are seen to turn, and the load builds up from nothing as at a start. A brake that
    /// was let off by hand stays off, and a heart rate that was lost still holds the load at a recovery's.
    pub fn take_up(&mut self, now: Instant, left: &LeftAt<'_>) {
        self.clock = RideClock::taken_up(now, left.ridden);
        self.jumped = left.jumped;
        self.timeline.set_lengths(left.lengths);
        self.trim_work = left.trims.0.clamp(-MOST_TRIM, MOST_TRIM);
        self.trim_recovery = left.trims.1.clamp(-MOST_TRIM, MOST_TRIM);
        self.level_before = left.level;
        self.heart_lost = left.heart_lost;
        if left.by_hand {
            self.by_hand = true;
            self.let_go(now, entry!("let off by hand"));
        }
    }
}
