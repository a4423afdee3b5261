//! Stretches in which speed over cadence stands still: neither a shift nor coasting.

use std::collections::VecDeque;

use crate::time::{Instant, Span};
use crate::units::{MetresPerSecond, Rpm, Watts};

/// A look is taken this often.
pub const LOOK: Span = Span::from_millis(250);

/// Eight seconds of looks are kept; the oldest makes room.
const MOST: usize = 32;

/// Three seconds of looks tell a gear.
const GEAR: usize = 12;

/// Legs that turn slower than this, or push less than this, may be coasting: then the wheel runs ahead of the feet.
const LEAST_CADENCE: Rpm = Rpm(40.0);
const LEAST_POWER: Watts = Watts(30.0);

/// The standard deviation of a steady ratio, as a share, is no greater: cadence in steps of one rpm at 60 has 0.5 %, a
/// sensor's noise about as much.
const MOST_SPREAD: f64 = 0.012;

/// Nor do its two halves differ by more, as a share: a ratio that drifts is no gear.
const MOST_DRIFT: f64 = 0.008;

/// Over eight seconds the halves differ by no more than this. A speed that follows power with the inertia of a rider on the
/// road (20 s at 100 W, up to 50 s at less) may drift so slowly only where it is within 4 % of where it goes, power
/// therefore within 11 %: two such stretches at one speed never differ by a quarter in power.
const MOST_LONG_DRIFT: f64 = 0.003;

/// One look at the legs and the wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Metres for one turn of the cranks.
    pub ratio: f64,
    /// Cadence, rpm.
    pub cadence: f64,
    /// Power, W.
    pub power: f64,
}

impl Sample {
    /// From three fresh values; nothing while the feet may be coasting.
    pub fn of(speed: MetresPerSecond, cadence: Rpm, power: Watts) -> Option<Self> {
        let drives = cadence >= LEAST_CADENCE && power >= LEAST_POWER && speed.0 > 0.5;
        drives.then(|| Self {
            ratio: speed.0 * 60.0 / cadence.0,
            cadence: cadence.0,
            power: power.0,
        })
    }
}

/// The mean of a steady stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Mean ratio, m.
    pub ratio: f64,
    /// Mean cadence, rpm.
    pub cadence: f64,
    /// Mean power, W.
    pub power: f64,
}

/// The last looks.
#[derive(Clone, Debug, Default)]
pub struct Steady {
    looks: VecDeque<Sample>,
    last: Option<Instant>,
}

impl Steady {
    /// Takes a look; none while coasting or where something is not known, which ends the stretch.
    pub fn see(&mut self, now: Instant, sample: Option<Sample>) {
        if self
            .last
            .is_some_and(|last| now.since(last) > Span::from_seconds(1))
        {
            self.looks.clear();
        }
        self.last = Some(now);
        let Some(sample) = sample else {
            self.looks.clear();
            return;
        };
        if self.looks.len() >= MOST {
            self.looks.pop_front();
        }
        self.looks.push_back(sample);
    }

    /// The gear of the last three seconds, where they were steady: metres for one turn of the cranks.
    pub fn gear(&self) -> Option<f64> {
        self.stretch(GEAR, MOST_DRIFT).map(|stretch| stretch.ratio)
    }

    /// The whole of the last eight seconds, where they were steady.
    pub fn whole(&self) -> Option<Stretch> {
        self.stretch(MOST, MOST_LONG_DRIFT)
    }

    fn stretch(&self, looks: usize, most_drift: f64) -> Option<Stretch> {
        if self.looks.len() < looks {
            return None;
        }
        let last = || self.looks.iter().skip(self.looks.len() - looks);
        let mean = |of: fn(&Sample) -> f64| last().map(of).sum::<f64>() / looks as f64;
        let ratio = mean(|s| s.ratio);
        let variance = last().map(|s| (s.ratio - ratio).powi(2)).sum::<f64>() / looks as f64;
        let half = looks / 2;
        let first = last().take(half).map(|s| s.ratio).sum::<f64>() / half as f64;
        let second = last().skip(looks - half).map(|s| s.ratio).sum::<f64>() / half as f64;
        let steady =
            variance.sqrt() <= MOST_SPREAD * ratio && (second - first).abs() <= most_drift * ratio;
        steady.then(|| Stretch {
            ratio,
            cadence: mean(|s| s.cadence),
            power: mean(|s| s.power),
        })
    }
}
