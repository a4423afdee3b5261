//! The stall guard: lets the brake off before a held target grinds tired legs to a stop.
//!
//! A brake that holds watts asks for more torque as cadence falls, so a fading rider is driven into a stall. The signs
//! are cadence that falls while torque rises, below 55 rpm or bound to be there within two seconds. A coast is not a
//! stall (torque falls with cadence), nor is a start from rest (the legs have not been up to speed yet), nor a slow
//! climb in a free block (the brake does not chase the rider). The rates are common practice, no source.

use std::collections::VecDeque;
use std::f64::consts::TAU;

use crate::time::{Instant, Span};
use crate::units::{Rpm, Watts};

/// Below this cadence a held target may stall the legs.
pub const STALL_CADENCE: Rpm = Rpm(55.0);
/// So far ahead the fall of cadence is looked at.
const AHEAD: f64 = 2.0;
/// Over so much of the past the trend is taken.
const WINDOW: Span = Span::from_millis(1_500);
/// Cadence falling more slowly than this (rpm a second) is settling, not stalling.
const LEAST_FALL: f64 = 2.0;
/// Legs over this cadence are back.
pub const BACK_CADENCE: Rpm = Rpm(70.0);
/// For so long, before the load builds back.
const BACK_FOR: Span = Span::from_seconds(2);
/// The legs must have been over this cadence since the target was last built up, or a start would look like a stall.
const ARMED_CADENCE: Rpm = Rpm(60.0);
/// A sample is taken no more often than this, however often the guard looks: the window holds sixteen at most.
const SAMPLE_STEP: Span = Span::from_millis(100);

#[derive(Clone, Copy, Debug)]
struct Sample {
    at: Instant,
    cadence: f64,
    torque: f64,
}

/// Watches for a stall.
#[derive(Clone, Debug, Default)]
pub struct StallGuard {
    samples: VecDeque<Sample>,
    armed: bool,
    acting: bool,
    back_since: Option<Instant>,
}

impl StallGuard {
    /// Takes a pair of fresh values as it arrives. `held` is whether the brake holds watts now,
    /// `band_low` the lowest cadence that the block asks for.
    /// Returns whether the guard acts.
    pub fn see(
        &mut self,
        now: Instant,
        cadence: Rpm,
        power: Watts,
        held: bool,
        band_low: Option<Rpm>,
    ) -> bool {
        let rate = cadence.0 * TAU / 60.0;
        let torque = if rate > 0.5 {
            power.0.max(0.0) / rate
        } else {
            0.0
        };
        let last = self.samples.back().map(|sample| sample.at);
        if last.is_none_or(|last| now.since(last) >= SAMPLE_STEP) {
            self.samples.push_back(Sample {
                at: now,
                cadence: cadence.0,
                torque,
            });
        }
        while self
            .samples
            .front()
            .is_some_and(|s| now.since(s.at) > WINDOW)
        {
            self.samples.pop_front();
        }
        if self.acting {
            if cadence > BACK_CADENCE {
                let since = *self.back_since.get_or_insert(now);
                self.acting = now.since(since) < BACK_FOR;
            } else {
                self.back_since = None;
            }
            if !self.acting {
                *self = Self::default();
            }
        } else if !held {
            self.armed = false;
        } else {
            self.armed |= cadence > ARMED_CADENCE;
            // Legs that slow down into their band do as they were asked.
            let in_band = band_low.is_some_and(|low| cadence >= low);
            self.acting = self.armed && !in_band && self.stalling(cadence);
            self.back_since = None;
        }
        self.acting
    }

    fn stalling(&self, cadence: Rpm) -> bool {
        let (Some(first), Some(last)) = (self.samples.front(), self.samples.back()) else {
            return false;
        };
        // A trend needs half the window and three samples at least.
        if self.samples.len() < 3 || last.at.since(first.at).0 * 2 < WINDOW.0 {
            return false;
        }
        let cadence_trend = slope(&self.samples, |s| s.cadence);
        let torque_trend = slope(&self.samples, |s| s.torque);
        // A shift drops cadence once and is over; a stall falls through both halves of the window.
        let middle = self.samples[self.samples.len() / 2].cadence;
        let on_and_on =
            first.cadence - middle >= LEAST_FALL / 2.0 && middle - last.cadence >= LEAST_FALL / 2.0;
        let falling = on_and_on && cadence_trend < -LEAST_FALL && torque_trend > 0.0;
        falling && (cadence < STALL_CADENCE || cadence.0 + cadence_trend * AHEAD < STALL_CADENCE.0)
    }

    /// Whether the guard acts.
    pub const fn acts(&self) -> bool {
        self.acting
    }

    /// Forgets the past: after a pause, a release or a lost sensor. A guard that acts goes on acting: a reading that is
    /// missing is no sign that the legs are back.
    pub fn rest(&mut self) {
        *self = Self {
            acting: self.acting,
            ..Self::default()
        };
    }
}

/// The least-squares slope of a value over time, per second.
fn slope(samples: &VecDeque<Sample>, value: impl Fn(&Sample) -> f64) -> f64 {
    let count = samples.len() as f64;
    let start = samples.front().map_or(Instant::ZERO, |s| s.at);
    let time = |s: &Sample| s.at.since(start).seconds();
    let mean_time = samples.iter().map(time).sum::<f64>() / count;
    let mean_value = samples.iter().map(&value).sum::<f64>() / count;
    let (mut above, mut below) = (0.0, 0.0);
    for sample in samples {
        let off = time(sample) - mean_time;
        above += off * (value(sample) - mean_value);
        below += off * off;
    }
    if below > 0.0 { above / below } else { 0.0 }
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
                Rpm(cadence),
                Watts(power),
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
            guard.see(now, Rpm(cadence), Watts(250.0), true, None);
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
                Rpm(cadence),
                Watts(200.0),
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
}
