//! The candidates: every pair of a brake and a manner of reporting that is thought possible, each tried on what was seen.
//!
//! A brake is a dead time and a first-order lag of its *force*; a manner of reporting is a delay and a first-order
//! smoothing of power. A brake that holds watts asks for the force watts / speed, so its power is that lagging force
//! times the speed of this moment. While the wheel turns evenly the two lags can be exchanged and nothing is told
//! apart. Where cadence dips or rises, an unsmoothed report follows it at once and the brake follows later, and a
//! smoothed report cannot: that is the further evidence.

/// One step of the reckoning, seconds.
pub(super) const STEP: f64 = 0.05;

/// Dead times of the brake, seconds: 0 to 1.2 in tenths.
const DEAD_TIMES: usize = 13;
/// Lags of the brake, seconds.
const LAGS: [f64; 24] = [
    0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2.0,
    2.3, 2.6, 3.0, 3.5, 4.0,
];
/// Smoothing of the reports, seconds.
const SMOOTHINGS: [f64; 16] = [
    0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 1.8, 2.1, 2.5, 3.0, 3.5,
];
/// Delays of the reports, seconds.
const DELAYS: [f64; 6] = [0.0, 0.1, 0.2, 0.5, 0.9, 1.5];

/// How many candidates there are.
pub(super) const CELLS: usize = DEAD_TIMES * LAGS.len() * SMOOTHINGS.len() * DELAYS.len();

/// One candidate, all in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// From a command until the brake's force moves.
    pub dead_time: f64,
    /// Time constant of the brake's force.
    pub lag: f64,
    /// Time constant of the smoothing in the reports.
    pub smoothing: f64,
    /// Delay of the reports.
    pub delay: f64,
}

impl Candidate {
    /// The candidate of a cell.
    pub(super) fn of(cell: usize) -> Self {
        let (rest, delay) = (cell / DELAYS.len(), cell % DELAYS.len());
        let (rest, smoothing) = (rest / SMOOTHINGS.len(), rest % SMOOTHINGS.len());
        let (dead, lag) = (rest / LAGS.len(), rest % LAGS.len());
        Self {
            dead_time: dead as f64 * 0.1,
            lag: LAGS[lag],
            smoothing: SMOOTHINGS[smoothing],
            delay: DELAYS[delay],
        }
    }

    /// The mean delay of the load: how far a ramp is behind.
    pub fn behind(&self) -> f64 {
        self.dead_time + self.lag
    }

    /// When half of a step stands: a first-order answer 1 − e^(−t/τ) is half at τ·ln 2.
    pub fn half(&self) -> f64 {
        self.dead_time + self.lag * std::f64::consts::LN_2
    }

    /// The mean delay of what is reported.
    pub fn total(&self) -> f64 {
        self.dead_time + self.lag + self.smoothing + self.delay
    }
}

/// A change of load as it was seen, on even steps of [`STEP`], with some settled time before it.
#[derive(Clone, Debug)]
pub(super) struct Episode {
    /// The watts asked for, a mean for each step.
    pub(super) asked: Vec<f64>,
    /// Cadence, for each step, on any scale.
    pub(super) turning: Vec<f64>,
    /// Reports of power: the step at which each arrived, with its fraction, and watts.
    pub(super) reports: Vec<(f64, f64)>,
}

/// How well each candidate explains what was seen: the sum of the squares of what is left over, in W².
#[derive(Clone, Debug)]
pub(super) struct Misfit {
    cells: Vec<f64>,
    pub(super) reports: f64,
    pub(super) episodes: u32,
}

impl Default for Misfit {
    fn default() -> Self {
        Self {
            cells: vec![0.0; CELLS],
            reports: 0.0,
            episodes: 0,
        }
    }
}

/// So many episodes count; with more the older ones lose weight, so that a brake that warms up is followed.
const MOST_EPISODES: u32 = 24;

impl Misfit {
    /// Tries every candidate on one more episode.
    pub(super) fn add(&mut self, episode: &Episode) {
        if self.episodes >= MOST_EPISODES {
            self.episodes /= 2;
            self.reports /= 2.0;
            self.cells.iter_mut().for_each(|cell| *cell /= 2.0);
        }
        let mut power = vec![0.0; episode.asked.len()];
        let mut smoothed = power.clone();
        let mut cell = 0;
        for dead in 0..DEAD_TIMES {
            for lag in LAGS {
                brake(episode, dead * 2, lag, &mut power);
                for smoothing in SMOOTHINGS {
                    follow(&power, smoothing, &mut smoothed);
                    for delay in DELAYS {
                        self.cells[cell] += left_over(&smoothed, delay, &episode.reports);
                        cell += 1;
                    }
                }
            }
        }
        self.reports += episode.reports.len() as f64;
        self.episodes += 1;
    }

    /// The candidate that explains best, and its cell.
    pub(super) fn best(&self) -> (usize, f64) {
        let each = self.cells.iter().copied().enumerate();
        each.fold((0, f64::INFINITY), |best, (cell, misfit)| {
            if misfit < best.1 {
                (cell, misfit)
            } else {
                best
            }
        })
    }

    /// Every candidate whose misfit is not above `most`.
    pub(super) fn not_above(&self, most: f64) -> impl Iterator<Item = Candidate> + '_ {
        let each = self.cells.iter().enumerate();
        each.filter(move |(_, misfit)| **misfit <= most)
            .map(|(cell, _)| Candidate::of(cell))
    }
}

/// The share of a first-order answer in one step.
fn share(constant: f64) -> f64 {
    if constant > 0.0 {
        1.0 - (-STEP / constant).exp()
    } else {
        1.0
    }
}

/// The brake's power for each step, its dead time in steps.
fn brake(episode: &Episode, dead: usize, lag: f64, power: &mut [f64]) {
    let share = share(lag);
    let Some((&asked, &turning)) = episode.asked.first().zip(episode.turning.first()) else {
        return;
    };
    let mut force = asked / turning;
    for (step, power) in power.iter_mut().enumerate() {
        let turning = episode.turning[step];
        let wanted = episode.asked[step.saturating_sub(dead)] / turning;
        force += (wanted - force) * share;
        *power = force * turning;
    }
}

fn follow(power: &[f64], smoothing: f64, smoothed: &mut [f64]) {
    let share = share(smoothing);
    let mut stands = power.first().copied().unwrap_or_default();
    for (smoothed, power) in smoothed.iter_mut().zip(power) {
        stands += (power - stands) * share;
        *smoothed = stands;
    }
}

/// What is left over of the reports, less a standing difference, since a meter may read high or low, and less the best
/// shift by up to one step, since the candidates stand apart and packets do not arrive evenly.
fn left_over(smoothed: &[f64], delay: f64, reports: &[(f64, f64)]) -> f64 {
    let (mut rest_sum, mut rise_sum) = (0.0, 0.0);
    let (mut rest_rest, mut rest_rise, mut rise_rise) = (0.0, 0.0, 0.0);
    let last = smoothed.len() as f64 - 1.001;
    for &(at, watts) in reports {
        // The value of a step stands at its end.
        let place = (at - delay / STEP - 1.0).clamp(0.0, last);
        let (below, part) = (place as usize, place.fract());
        let rise = smoothed[below + 1] - smoothed[below];
        let rest = watts - smoothed[below] - rise * part;
        rest_sum += rest;
        rise_sum += rise;
        rest_rest += rest * rest;
        rest_rise += rest * rise;
        rise_rise += rise * rise;
    }
    let count = reports.len().max(1) as f64;
    let rests = rest_rest - rest_sum * rest_sum / count;
    let both = rest_rise - rest_sum * rise_sum / count;
    let rises = rise_rise - rise_sum * rise_sum / count;
    let shift = if rises > 0.0 {
        (-both / rises).clamp(-1.0, 1.0)
    } else {
        0.0
    };
    (rests + 2.0 * shift * both + shift * shift * rises).max(0.0)
}
