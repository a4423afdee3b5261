//! What the changes one way say of the candidates, all taken together.

use std::collections::VecDeque;

use super::grid::{Candidate, Episode, Misfit, WAYS, leaves};

/// So many changes are kept. With a new one the oldest goes, so that a brake that warms up is followed.
const MOST_EPISODES: usize = 24;

/// A candidate is possible while its misfit is no more than so many times the variance above the best. For one unknown
/// and independent errors 9 is three standard deviations.
const POSSIBLE: f64 = 9.0;

/// Errors that follow each other so much more than independent ones would mean that no candidate is true.
const MOST_ALIKE: f64 = 1.5;

/// Reports are not thought better than this, watts: they are whole numbers, and cadence is in halves.
const LEAST_ERROR: f64 = 0.7;

/// Changes of load one way.
#[derive(Clone, Debug, Default)]
pub(super) struct Evidence {
    misfit: Misfit,
    episodes: VecDeque<Episode>,
    blind: bool,
}

/// What follows.
pub(super) struct Found {
    /// What explains best.
    pub(super) likely: Candidate,
    /// Everything that cannot be excluded.
    pub(super) possible: Vec<Candidate>,
    /// The standard deviation of what is left over, watts.
    pub(super) error: f64,
    /// Whether the best explains what was seen but for independent errors.
    pub(super) explained: bool,
}

impl Evidence {
    /// Takes one more change.
    pub(super) fn add(&mut self, episode: Episode, turning_seen: bool) {
        if self.episodes.len() >= MOST_EPISODES
            && let Some(oldest) = self.episodes.pop_front()
        {
            self.misfit.add(&oldest, -1.0);
        }
        self.blind |= !turning_seen;
        self.misfit.add(&episode, 1.0);
        self.episodes.push_back(episode);
    }

    /// How many changes are kept.
    pub(super) fn episodes(&self) -> usize {
        self.episodes.len()
    }

    /// Whether a change was seen without cadence.
    pub(super) fn is_blind(&self) -> bool {
        self.blind
    }

    /// What is possible, with what the changes the other way say of the reports.
    pub(super) fn possible(&self, other: &Self) -> Found {
        let ways = if other.episodes.is_empty() {
            vec![0.0; WAYS]
        } else {
            other.misfit.by_way()
        };
        let all = || {
            let cells = self.misfit.0.chunks_exact(WAYS);
            cells.flat_map(|cells| cells.iter().zip(&ways).map(|(own, way)| own + way))
        };
        let best = all()
            .enumerate()
            .fold((0, f64::INFINITY), |best, (cell, misfit)| {
                if misfit < best.1 {
                    (cell, misfit)
                } else {
                    best
                }
            });
        let likely = Candidate::of(best.0);
        let reports: usize = [self, other]
            .iter()
            .flat_map(|evidence| &evidence.episodes)
            .map(|episode| episode.reports.len())
            .sum();
        let least = LEAST_ERROR * LEAST_ERROR;
        let variance = (best.1 / (reports as f64 - 8.0).max(1.0)).max(least);
        // Errors that follow each other are fewer errors than they seem, or show that no candidate is true.
        let alike = (variance / self.jitter(&likely).max(least)).max(1.0);
        let most = best.1 + POSSIBLE * variance * alike;
        Found {
            likely,
            possible: all()
                .enumerate()
                .filter(|(_, misfit)| *misfit <= most)
                .map(|(cell, _)| Candidate::of(cell))
                .collect(),
            error: variance.sqrt(),
            explained: alike <= MOST_ALIKE,
        }
    }

    /// The variance of the errors by their differences from one to the next (von Neumann 1941): that of independent
    /// errors is the same, that of errors that follow each other is less.
    fn jitter(&self, candidate: &Candidate) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for episode in &self.episodes {
            for pair in leaves(candidate, episode).windows(2) {
                sum += (pair[1] - pair[0]).powi(2) / 2.0;
                count += 1.0;
            }
        }
        if count > 0.0 { sum / count } else { 0.0 }
    }
}
