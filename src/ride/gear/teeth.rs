//! How many shifts lie between two gears, from the chainrings and sprockets that the rider entered.
//!
//! What is seen is metres for one turn of the cranks; what was entered is turns of the wheel. Between them stands the
//! wheel's size as the trainer reckons it, which nobody tells. So every size that wheels have is tried, and those count
//! with which each gear that was ridden is one of those entered. A number of shifts is told only where all of them, and
//! every chainring that the chain may lie on, come to the same one.

use super::Seen;
use crate::rider::Drivetrain;
use crate::time::Span;

/// Metres for one turn of a wheel that are tried: from 18 inches to 29 with a thick tyre (about 1.37 to 2.36 m by the
/// tables that come with bicycle computers).
const LEAST_WHEEL: f64 = 1.35;
const MOST_WHEEL: f64 = 2.40;

/// From one size to the next, as a share: a quarter of what a gear may be off.
const STEP: f64 = 0.0025;

/// A gear that was seen lies no further from one that was entered, as a share. Speed and cadence come in steps of
/// 0.01 km/h and half a turn a minute, 0.6 % at 85, and a mean over many looks is far nearer; neighbouring sprockets lie
/// 4 % and more apart.
const NEAR: f64 = 0.01;

/// A gear that was ridden for less may be half a shift and is not held against a wheel.
const LEAST_RIDDEN: Span = Span::from_seconds(8);

/// So many different gears were ridden before anything is told: with two, a wheel that is wrong explains them easily.
const LEAST_GEARS: usize = 2;

/// The gears that were entered, and the wheels with which they explain those that were ridden.
#[derive(Clone, Debug, Default)]
pub struct Teeth {
    /// Turns of the wheel for one of the cranks, for each chainring from the easiest gear to the hardest.
    rings: Vec<Vec<f64>>,
    /// Metres for one turn of the wheel. At most as many as there are steps from the least wheel to the most, 231.
    wheels: Vec<f64>,
}

impl Teeth {
    /// For what the rider entered.
    pub fn new(drivetrain: &Drivetrain) -> Self {
        Self {
            rings: drivetrain.ratios(),
            wheels: Vec::new(),
        }
    }

    /// Looks again which wheels explain what was ridden.
    pub fn explain(&mut self, gears: &[Seen]) {
        self.wheels.clear();
        if self.rings.is_empty() {
            return;
        }
        let ridden = || gears.iter().filter(|seen| seen.ridden >= LEAST_RIDDEN);
        if ridden().count() < LEAST_GEARS {
            return;
        }
        let mut wheel = LEAST_WHEEL;
        while wheel <= MOST_WHEEL {
            if ridden().all(|seen| self.places(seen.development / wheel).next().is_some()) {
                self.wheels.push(wheel);
            }
            wheel *= 1.0 + STEP;
        }
    }

    /// Where a ratio may stand: chainring and place on it.
    fn places(&self, ratio: f64) -> impl Iterator<Item = (usize, usize)> + '_ {
        let near = move |entered: f64| (ratio / entered - 1.0).abs() <= NEAR;
        self.rings
            .iter()
            .enumerate()
            .flat_map(move |(ring, gears)| {
                let on = gears.iter().enumerate();
                on.filter(move |(_, entered)| near(**entered))
                    .map(move |(place, _)| (ring, place))
            })
    }

    /// Shifts of the sprocket from one gear to another, both in metres for one turn of the cranks; harder where positive.
    /// Nothing where that cannot be told, or where the other gear may lie on another chainring.
    pub fn shifts(&self, from: f64, to: f64) -> Option<i32> {
        let mut told = None;
        for wheel in &self.wheels {
            let mut any = false;
            for (ring, place) in self.places(from / wheel) {
                any = true;
                let mut found = false;
                for (_, other) in self.places(to / wheel).filter(|(other, _)| *other == ring) {
                    found = true;
                    // A cassette has thirteen sprockets at most.
                    let shifts = other as i32 - place as i32;
                    if *told.get_or_insert(shifts) != shifts {
                        return None;
                    }
                }
                if !found {
                    return None;
                }
            }
            if !any {
                return None;
            }
        }
        told
    }
}
