//! Whether the speed is a wheel's own, or reckoned from power.
//!
//! In one gear at one level a wheel's speed and a speed reckoned from power rise together with cadence: both look like a
//! gear. They part where power changes at the same cadence and in the same gear, because the load was changed: then the
//! wheel goes on as before, and a speed reckoned from power does not. On a level road power rises with speed to the power
//! of 1 to 3 (rolling resistance to air), so that a quarter more power is at least 1.25^(1/3) = 7.7 % more speed. A shift
//! at a steady level cannot be mistaken for it: it moves the ratio.
//!
//! The judgement can be taken back. That power and ratio go up together shows nothing, since riders shift when the load
//! changes, and a row of shifts looks like a speed that glides. But while the brake holds the watts, a rider who turns
//! faster in one gear turns the wheel faster, and a speed that follows power stands.

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

/// While watts are held: they are the same within this share, and cadence is another where it differs by so much. Then a
/// wheel in one gear differs by as much in speed, and a speed that follows power by no more than the last one: it may
/// still drift, and goes with the watts' first to third root.
const SAME_WATTS: f64 = 0.03;
const OTHER_CADENCE: f64 = 0.06;
const SAME_SPEED: f64 = 0.02;

/// Once judged, a stretch is kept so often at most: three minutes of them.
const EVERY_LATER: Span = Span::from_seconds(4);

/// What is known of the speed so far.
#[derive(Clone, Debug, Default)]
pub struct Wheel {
    judged: WheelSpeed,
    /// With whether the brake held watts.
    stretches: VecDeque<(Instant, Stretch, bool)>,
    shown: u32,
    /// How often, one after the other, the speed stood where a wheel would not have, and when last.
    against: u32,
    against_at: Option<Instant>,
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

    /// Looks at the newest steady stretch; `held` says whether the brake holds watts.
    pub fn see(&mut self, now: Instant, steady: &Steady, held: bool) {
        let every = match self.judged {
            WheelSpeed::Unknown => EVERY,
            WheelSpeed::Real => EVERY_LATER,
            WheelSpeed::FollowsPower => return,
        };
        let last = self.stretches.back();
        if last.is_some_and(|(at, ..)| now.since(*at) < every) {
            return;
        }
        let Some(new) = steady.whole() else { return };
        // Both stretches must be long in their state: neither may still be on its way from the other's power.
        let shows = self.stretches.iter().any(|(at, old, _)| {
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
        match self.judged {
            WheelSpeed::Real if shows => self.against = 0,
            WheelSpeed::Real if held => self.doubt(now, &new),
            WheelSpeed::Unknown if self.shown >= ENOUGH => self.judged = WheelSpeed::Real,
            _ => {}
        }
        if self.stretches.len() >= MOST {
            self.stretches.pop_front();
        }
        self.stretches.push_back((now, new, held));
    }

    /// What was judged, or is known from earlier rides, is held against a stretch with other legs under the same watts.
    fn doubt(&mut self, now: Instant, new: &Stretch) {
        let others = || {
            self.stretches.iter().filter(|(at, old, held)| {
                *held
                    && now.since(*at) >= APART
                    && near(new.power, old.power, SAME_WATTS)
                    && !near(new.cadence, old.cadence, OTHER_CADENCE)
            })
        };
        let speed = |of: &Stretch| of.ratio * of.cadence;
        let one_gear = others().any(|(_, old, _)| near(new.ratio, old.ratio, SAME_RATIO));
        let stands = others().count() > 0
            && others().all(|(_, old, _)| near(speed(new), speed(old), SAME_SPEED));
        if one_gear {
            self.against = 0;
        } else if stands && self.against_at.is_none_or(|at| now.since(at) >= APART) {
            self.against += 1;
            self.against_at = Some(now);
        }
        if self.against >= ENOUGH {
            self.judged = WheelSpeed::FollowsPower;
        }
    }
}

fn near(a: f64, b: f64, share: f64) -> bool {
    (a / b - 1.0).abs() <= share
}
