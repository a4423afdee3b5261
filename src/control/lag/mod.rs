//! How the brake answers a command, found out from the ride itself.
//!
//! Every step and ramp of the session is an experiment that costs nothing: the commands are known with their times, and
//! reports of power and cadence arrive. What is wanted is not the likeliest answer but a **lower bound** of it, since
//! commands are sent ahead by no more than that: a load that comes late is a nuisance, one that comes before its beat
//! is the program's fault. Brakes that lag, reports that are smoothed and reports that come seldom look alike in power
//! alone; see [`grid`] for what tells them apart. Where nothing does, nothing is sent ahead.

mod grid;
mod window;

pub use grid::Candidate;
use grid::Misfit;
use window::{Cut, Window};

use crate::control::answer::{Answer, Seen};
use crate::time::Instant;
use crate::units::{BrakeLag, Rpm, Watts};

/// So many changes one way are needed before anything is said of it.
const LEAST_EPISODES: u32 = 3;
/// A candidate is possible while its misfit is no more than this many times the variance above the best. For one
/// unknown and independent errors 9 would be three standard deviations; errors here are neither quite independent nor
/// is any candidate quite true, so it is wider.
const POSSIBLE: f64 = 30.0;
/// Reports are not thought better than this, watts: they are whole numbers, and cadence is in halves.
const LEAST_ERROR: f64 = 0.7;
/// What a report may be old when it arrives, as far as it cannot be seen, seconds.
const RADIO: f64 = 0.05;

/// Learns how the brake of one trainer answers.
#[derive(Clone, Debug, Default)]
pub struct Identification {
    window: Window,
    rise: Misfit,
    fall: Misfit,
    /// The longest mean time between reports in any change, seconds.
    period: f64,
    blind: bool,
    remembered: Option<BrakeLag>,
    answer: Answer,
}

impl Identification {
    /// Of a trainer of which earlier rides know this.
    pub fn of(remembered: Option<BrakeLag>) -> Self {
        let mut new = Self {
            remembered,
            ..Self::default()
        };
        new.conclude();
        new
    }

    /// The trainer took a target power that was sent at `at`.
    pub fn told(&mut self, at: Instant, watts: Watts) {
        self.window.told(at, watts.0);
    }

    /// What stands is no target power, or not known.
    pub fn interrupted(&mut self) {
        self.window.clear();
    }

    /// The trainer reported its power, and its cadence where it has one. True where something new was learned.
    pub fn reported(&mut self, at: Instant, power: Watts, cadence: Option<Rpm>) -> bool {
        match self.window.reported(at, power.0, cadence.map(Rpm::get)) {
            Some(cut) => {
                self.learn(&cut);
                true
            }
            None => false,
        }
    }

    fn learn(&mut self, cut: &Cut) {
        self.period = self.period.max(cut.period);
        self.blind |= !cut.turning_seen;
        if cut.rise {
            self.rise.add(&cut.episode);
        } else {
            self.fall.add(&cut.episode);
        }
        self.conclude();
    }

    /// What is known now.
    pub const fn answer(&self) -> &Answer {
        &self.answer
    }

    fn conclude(&mut self) {
        self.answer = Answer {
            rise: self.seen(&self.rise),
            fall: self.seen(&self.fall),
            remembered: self.remembered,
        };
    }

    fn seen(&self, misfit: &Misfit) -> Option<Seen> {
        if misfit.episodes < LEAST_EPISODES {
            return None;
        }
        let (cell, best) = misfit.best();
        let likely = Candidate::of(cell);
        let variance = (best / (misfit.reports - 5.0).max(1.0)).max(LEAST_ERROR * LEAST_ERROR);
        let mut seen = Seen {
            likely,
            least_behind: f64::INFINITY,
            least_half: f64::INFINITY,
            least_total: f64::INFINITY,
            most_total: 0.0,
            error: variance.sqrt(),
        };
        let possible = std::env::var("POSS")
            .ok()
            .and_then(|v| v.parse().ok())
            .unwrap_or(POSSIBLE);
        for candidate in misfit.not_above(best + possible * variance) {
            seen.least_behind = seen.least_behind.min(candidate.behind());
            seen.least_half = seen.least_half.min(candidate.half());
            seen.least_total = seen.least_total.min(candidate.total());
            seen.most_total = seen.most_total.max(candidate.total());
        }
        if self.blind {
            (seen.least_behind, seen.least_half) = (0.0, 0.0);
        }
        seen.least_behind = (seen.least_behind - RADIO).max(0.0);
        seen.least_half = (seen.least_half - RADIO).max(0.0);
        Some(seen)
    }
}
