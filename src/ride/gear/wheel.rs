//! Whether the speed is a wheel's own, or reckoned from power.
//!
//! In one gear at one level a wheel's speed and a speed reckoned from power rise together with cadence: both look like a
//! gear. They part where power changes at the same cadence and in the same gear, because the load was changed: then the
//! wheel goes on as before, and a speed reckoned from power does not. On a level road power rises with speed to the power
//! of 1 to 3 (rolling resistance to air), so that a quarter more power is at least 1.25^(1/3) = 7.7 % more speed. A shift
//! at a steady level cannot be mistaken for it: it moves the ratio.

use std::collections::VecDeque;

use super::WheelSpeed;
use super::steady::{Steady, Stretch};
use crate::time::{Instant, Span};

/// Power has changed where it differs by a quarter.
const OTHER_POWER: f64 = 1.25;

/// Cadence is the same within this share.
const SAME_CADENCE: f64 = 0.03;

/// The ratio stood where it differs by no more than this, as a share: 7.7 % less 3 % for cadence leaves more than three
/// times this for a speed that follows power.
const SAME_RATIO: f64 = 0.01;

/// A speed reckoned from power follows it with the inertia of the rider on the road: about m·v²/P seconds, 20 s for 85 kg
/// at 100 W. Stretches closer together are not compared.
const APART: Span = Span::from_seconds(16);

/// So many steady stretches are kept, one every two seconds at most; the oldest makes room.
const MOST: usize = 45;
const EVERY: Span = Span::from_seconds(2);

/// So many pairs of stretches must show it, so that one odd reading does not.
const ENOUGH: u32 = 3;

/// What is known of the speed so far.
#[derive(Clone, Debug, Default)]
pub struct Wheel {
    judged: WheelSpeed,
    stretches: VecDeque<(Instant, Stretch)>,
    shown: u32,
}

impl Wheel {
    /// What an earlier ride has shown.
    pub const fn know(&mut self, judged: WheelSpeed) {
        self.judged = judged;
    }

    /// What the speed is.
    pub const fn judged(&self) -> WheelSpeed {
        self.judged
    }

    /// Looks at the newest steady stretch.
    pub fn see(&mut self, now: Instant, steady: &Steady) {
        if self.judged == WheelSpeed::Real
            || self
                .stretches
                .back()
                .is_some_and(|(at, _)| now.since(*at) < EVERY)
        {
            return;
        }
        let Some(new) = steady.whole() else { return };
        let near = |a: f64, b: f64, share: f64| (a / b - 1.0).abs() <= share;
        // Both stretches must be long in their state: neither may still be on its way from the other's power.
        let shows = self.stretches.iter().any(|(at, old)| {
            let power = (new.power / old.power).max(old.power / new.power);
            now.since(*at) >= APART
                && power >= OTHER_POWER
                && near(new.cadence, old.cadence, SAME_CADENCE)
                && near(new.ratio, old.ratio, SAME_RATIO)
        });
        self.shown = if shows {
            self.shown + 1
        } else {
            self.shown.saturating_sub(1)
        };
        if self.shown >= ENOUGH {
            self.judged = WheelSpeed::Real;
        }
        if self.stretches.len() >= MOST {
            self.stretches.pop_front();
        }
        self.stretches.push_back((now, new));
    }
}
