//! How the brake answers a command, found out from the ride itself.
//!
//! Every step and ramp of the session is an experiment that costs nothing: the commands are known with their times, and
//! reports of power and cadence arrive. What is wanted is not the likeliest answer but a **lower bound** of it, since
//! commands are sent ahead by no more than that: a load that comes late is a nuisance, one that comes before its beat
//! is the program's fault. Brakes that lag, reports that are smoothed and reports that come seldom look alike in power
//! alone; the candidates say what tells them apart. Where nothing does, nothing is sent ahead.

mod evidence;
mod grid;
mod prompt;
mod window;

use evidence::Evidence;
pub use grid::{Candidate, Manner};
use prompt::Promptness;
use window::{Cut, Window};

use crate::control::answer::{Answer, Seen};
use crate::time::Instant;
use crate::units::{BrakeLag, Rpm, Watts};

/// So many changes one way are needed before anything is said of it.
const LEAST_EPISODES: usize = 3;
/// What a report may be old when it arrives, as far as it cannot be seen, seconds.
const RADIO: f64 = 0.05;

/// Reports may come about in a manner that is none of the candidates'. The slower they are, the more of their delay may
/// have been laid to the brake: this share of what goes beyond quick reports, seconds, is taken off the lower bounds.
/// Found on means that were smoothed on top, which no candidate is.
const UNKNOWN_MANNER: f64 = 0.35;
const QUICK_REPORTS: f64 = 0.3;

/// Learns how the brake of one trainer answers.
#[derive(Clone, Debug, Default)]
pub struct Identification {
    window: Window,
    rise: Evidence,
    fall: Evidence,
    cadence: Promptness,
    remembered: Option<BrakeLag>,
    answer: Answer,
}

impl Identification {
    /// Of a trainer of which earlier rides know this.
    pub fn of(remembered: Option<BrakeLag>) -> Self {
        let mut new = Self {
            cadence: Promptness::of(remembered.is_some_and(|lag| lag.cadence_prompt)),
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
        let prompt = self.cadence.see(at, cadence);
        match self.window.reported(at, power.0, cadence.map(Rpm::get)) {
            Some(cut) => self.learn(cut),
            None if prompt => self.conclude(),
            None => return false,
        }
        true
    }

    fn learn(&mut self, cut: Cut) {
        let evidence = if cut.rise {
            &mut self.rise
        } else {
            &mut self.fall
        };
        evidence.add(cut.episode, cut.turning_seen);
        self.conclude();
    }

    /// What is known now.
    pub const fn answer(&self) -> &Answer {
        &self.answer
    }

    fn conclude(&mut self) {
        self.answer = Answer {
            rise: seen(&self.rise, &self.fall),
            fall: seen(&self.fall, &self.rise),
            remembered: self.remembered,
            cadence_prompt: self.cadence.is_prompt(),
        };
    }
}

/// What is to be said of the changes one way; those of the other way tell of the reports too.
fn seen(evidence: &Evidence, other: &Evidence) -> Option<Seen> {
    if evidence.episodes() < LEAST_EPISODES {
        return None;
    }
    let found = evidence.possible(other);
    let mut seen = Seen {
        likely: found.likely,
        least_behind: f64::INFINITY,
        least_half: f64::INFINITY,
        most_behind: 0.0,
        least_total: f64::INFINITY,
        most_total: 0.0,
        error: found.error,
        told_apart: found.explained && !evidence.is_blind(),
    };
    for candidate in found.possible {
        seen.least_behind = seen.least_behind.min(candidate.behind());
        seen.least_half = seen.least_half.min(candidate.half());
        seen.most_behind = seen.most_behind.max(candidate.behind());
        seen.least_total = seen.least_total.min(candidate.total());
        seen.most_total = seen.most_total.max(candidate.total());
    }
    let reports = seen.likely.manner.delay() + seen.likely.delay;
    let unsure = RADIO + UNKNOWN_MANNER * (reports - QUICK_REPORTS).max(0.0);
    seen.least_behind = (seen.least_behind - unsure).max(0.0);
    seen.least_half = (seen.least_half - unsure).max(0.0);
    Some(seen)
}
