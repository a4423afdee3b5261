//! The candidates: every pair of a brake and a manner of reporting that is thought possible, each tried on what was seen.
//!
//! A brake is a dead time and a first-order lag of its *force*; a manner of reporting is a delay, and a first-order
//! smoothing or a plain mean of power, or the one after the other. A brake that holds watts asks for the force watts / speed, so its power is that
//! lagging force times the speed of this moment. While the wheel turns evenly the lag and the smoothing can be exchanged
//! and nothing is told apart. Where cadence dips or rises, an unsmoothed report follows it at once and the brake follows
//! later, and a smoothed report cannot: that is the further evidence.

/// One step of the reckoning, seconds.
pub(super) const STEP: f64 = 0.05;

/// Dead times of the brake, seconds: 0 to 1.2 in tenths, two steps of the reckoning each.
const DEAD_TIMES: usize = 13;
const DEAD_STEPS: usize = 2;
/// Lags of the brake, seconds.
const LAGS: [f64; 24] = [
    0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2.0,
    2.3, 2.6, 3.0, 3.5, 4.0,
];
/// How reports come from the truth.
const MANNERS: [Manner; 30] = [
    Manner::Smoothed(0.0),
    Manner::Smoothed(0.1),
    Manner::Smoothed(0.2),
    Manner::Smoothed(0.3),
    Manner::Smoothed(0.4),
    Manner::Smoothed(0.5),
    Manner::Smoothed(0.6),
    Manner::Smoothed(0.8),
    Manner::Smoothed(1.0),
    Manner::Smoothed(1.2),
    Manner::Smoothed(1.5),
    Manner::Smoothed(1.8),
    Manner::Smoothed(2.1),
    Manner::Smoothed(2.5),
    Manner::Smoothed(3.0),
    Manner::Smoothed(3.5),
    Manner::Smoothed(5.0),
    Manner::Mean(0.5),
    Manner::Mean(1.0),
    Manner::Mean(1.5),
    Manner::Mean(2.0),
    Manner::Mean(3.0),
    Manner::Mean(4.0),
    Manner::Mean(6.0),
    Manner::SmoothedMean(1.0, 0.5),
    Manner::SmoothedMean(1.0, 1.0),
    Manner::SmoothedMean(2.0, 0.5),
    Manner::SmoothedMean(2.0, 1.0),
    Manner::SmoothedMean(3.0, 0.5),
    Manner::SmoothedMean(3.0, 1.0),
];
/// Delays of the reports, seconds.
const DELAYS: [f64; 6] = [0.0, 0.1, 0.2, 0.5, 0.9, 1.5];

/// Ways of reporting: every manner with every delay.
pub(super) const WAYS: usize = MANNERS.len() * DELAYS.len();
/// How many candidates there are.
const CELLS: usize = DEAD_TIMES * LAGS.len() * WAYS;

/// How a report comes from the true power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Manner {
    /// A first-order smoothing with this time constant, seconds.
    Smoothed(f64),
    /// A plain mean over this time, seconds.
    Mean(f64),
    /// A plain mean over the first time, smoothed on top with the second as time constant, seconds. Without these a quick
    /// brake whose reports come about so was taken for one that lags.
    SmoothedMean(f64, f64),
}

impl Manner {
    /// Its mean delay, seconds.
    pub const fn delay(self) -> f64 {
        match self {
            Self::Smoothed(constant) => constant,
            Self::Mean(over) => over / 2.0,
            Self::SmoothedMean(over, constant) => over / 2.0 + constant,
        }
    }
}

/// One candidate, times in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// From a command until the brake's force moves.
    pub dead_time: f64,
    /// Time constant of the brake's force.
    pub lag: f64,
    /// How the reports come about.
    pub manner: Manner,
    /// Delay of the reports.
    pub delay: f64,
}

impl Candidate {
    /// The candidate of a cell.
    pub(super) const fn of(cell: usize) -> Self {
        let (rest, delay) = (cell / DELAYS.len(), cell % DELAYS.len());
        let (rest, manner) = (rest / MANNERS.len(), rest % MANNERS.len());
        let (dead, lag) = (rest / LAGS.len(), rest % LAGS.len());
        Self {
            dead_time: (dead * DEAD_STEPS) as f64 * STEP,
            lag: LAGS[lag],
            manner: MANNERS[manner],
            delay: DELAYS[delay],
        }
    }

    /// The mean delay of the load: how far a ramp is behind.
    pub const fn behind(&self) -> f64 {
        self.dead_time + self.lag
    }

    /// When half of a step stands: a first-order answer 1 − e^(−t/τ) is half at τ·ln 2.
    pub const fn half(&self) -> f64 {
        self.dead_time + self.lag * std::f64::consts::LN_2
    }

    /// The mean delay of what is reported.
    pub const fn total(&self) -> f64 {
        self.dead_time + self.lag + self.manner.delay() + self.delay
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

/// How well each candidate explains what was seen: the sums of the squares of what is left over, in W².
#[derive(Clone, Debug)]
pub(super) struct Misfit(pub(super) Vec<f64>);

impl Default for Misfit {
    fn default() -> Self {
        Self(vec![0.0; CELLS])
    }
}

impl Misfit {
    /// Tries every candidate on an episode, and adds what is left over, `weight` times.
    pub(super) fn add(&mut self, episode: &Episode, weight: f64) {
        let mut power = vec![0.0; episode.asked.len()];
        let mut shown = power.clone();
        let mut cells = self.0.iter_mut();
        for dead in 0..DEAD_TIMES {
            for lag in LAGS {
                brake(episode, dead * DEAD_STEPS, lag, &mut power);
                for manner in MANNERS {
                    report(&power, manner, &mut shown);
                    for (delay, cell) in DELAYS.iter().zip(&mut cells) {
                        *cell += weight * rest(&shown, *delay, &episode.reports).squares;
                    }
                }
            }
        }
    }

    /// The least misfit of every way of reporting, whatever the brake.
    pub(super) fn by_way(&self) -> Vec<f64> {
        let mut least = vec![f64::INFINITY; WAYS];
        for cells in self.0.chunks_exact(WAYS) {
            for (least, cell) in least.iter_mut().zip(cells) {
                *least = least.min(*cell);
            }
        }
        least
    }
}

/// What a candidate leaves of the reports of an episode, one after the other.
pub(super) fn leaves(candidate: &Candidate, episode: &Episode) -> Vec<f64> {
    let mut power = vec![0.0; episode.asked.len()];
    let mut shown = power.clone();
    let dead = (candidate.dead_time / STEP).round() as usize;
    brake(episode, dead, candidate.lag, &mut power);
    report(&power, candidate.manner, &mut shown);
    let fit = rest(&shown, candidate.delay, &episode.reports);
    let each = episode.reports.iter();
    each.map(|&(at, watts)| {
        let (value, rise) = value(&shown, at, candidate.delay);
        watts - value + fit.shift * rise - fit.standing
    })
    .collect()
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

/// What would be reported of the power.
fn report(power: &[f64], manner: Manner, shown: &mut [f64]) {
    let first = power.first().copied().unwrap_or_default();
    match manner {
        Manner::Smoothed(constant) => {
            let share = share(constant);
            let mut stands = first;
            for (shown, power) in shown.iter_mut().zip(power) {
                stands += (power - stands) * share;
                *shown = stands;
            }
        }
        Manner::Mean(over) => {
            let count = (over / STEP).round() as usize;
            let mut sum = first * count as f64;
            for step in 0..power.len() {
                let gone = step.checked_sub(count).map_or(first, |gone| power[gone]);
                sum += power[step] - gone;
                shown[step] = sum / count as f64;
            }
        }
        Manner::SmoothedMean(over, constant) => {
            report(power, Manner::Mean(over), shown);
            let share = share(constant);
            let mut stands = first;
            for shown in shown {
                stands += (*shown - stands) * share;
                *shown = stands;
            }
        }
    }
}

/// What is left over of the reports of an episode.
struct Rest {
    /// The sum of the squares, W².
    squares: f64,
    /// The best shift, in steps.
    shift: f64,
    /// The standing difference, watts.
    standing: f64,
}

/// The value at a step with its fraction and how it rises there, watts a step. The value of a step stands at its end.
fn value(shown: &[f64], at: f64, delay: f64) -> (f64, f64) {
    let place = (at - delay / STEP - 1.0).clamp(0.0, shown.len() as f64 - 1.001);
    let (below, part) = (place as usize, place.fract());
    let rise = shown[below + 1] - shown[below];
    (shown[below] + rise * part, rise)
}

/// What is left over of the reports, less a standing difference, since a meter may read high or low, and less the best
/// shift by up to one step, since the candidates stand apart and packets do not arrive evenly.
fn rest(shown: &[f64], delay: f64, reports: &[(f64, f64)]) -> Rest {
    let (mut rests, mut rises) = (0.0, 0.0);
    let (mut rest_rest, mut rest_rise, mut rise_rise) = (0.0, 0.0, 0.0);
    for &(at, watts) in reports {
        let (value, rise) = value(shown, at, delay);
        let rest = watts - value;
        rests += rest;
        rises += rise;
        rest_rest += rest * rest;
        rest_rise += rest * rise;
        rise_rise += rise * rise;
    }
    let count = reports.len().max(1) as f64;
    let squares = rest_rest - rests * rests / count;
    let both = rest_rise - rests * rises / count;
    let turned = rise_rise - rises * rises / count;
    let shift = if turned > 0.0 {
        (-both / turned).clamp(-1.0, 1.0)
    } else {
        0.0
    };
    Rest {
        squares: (squares + 2.0 * shift * both + shift * shift * turned).max(0.0),
        shift,
        standing: (rests + shift * rises) / count,
    }
}
