//! Cuts out of a ride the changes of load from which something can be learned: settled, changed one way, settled again.

use std::collections::VecDeque;

use super::grid::{Episode, STEP};
use crate::time::{Instant, Span};

/// The load must have stood for so long before a change, so that even a slow brake has settled.
const SETTLED: Span = Span::from_seconds(8);
/// So much of the settled time is looked at.
const BEFORE: Span = Span::from_seconds(2);
/// And so much after the last command of the change.
const AFTER: Span = Span::from_seconds(6);
/// A change that takes longer is left.
const LONGEST: Span = Span::from_seconds(18);
/// Smaller changes say too little, watts.
const LEAST_CHANGE: f64 = 25.0;
/// Reports further apart than this leave too much unseen.
const MOST_APART: Span = Span::from_millis(1_600);
/// Below this cadence and this power the rider rests, and the brake's power is the rider's doing.
const LEAST_CADENCE: f64 = 45.0;
const LEAST_POWER: f64 = 20.0;
/// A cadence that leaps by more than this share between two reports was a shift of gears.
const LEAP: f64 = 0.10;
/// Kept at most; when full the oldest goes, and the change that needed it is left.
const MOST_KEPT: usize = 512;

/// A report of power with the cadence of the same moment, where there is one.
#[derive(Clone, Copy, Debug)]
struct Report {
    at: Instant,
    power: f64,
    cadence: Option<f64>,
}

/// A change, cut out.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    pub(super) episode: Episode,
    pub(super) rise: bool,
    /// Whether cadence was seen all along.
    pub(super) turning_seen: bool,
}

/// Watches commands and reports.
#[derive(Clone, Debug, Default)]
pub(super) struct Window {
    /// Commands, the one that stood before an open change first.
    told: VecDeque<(Instant, f64)>,
    reports: VecDeque<Report>,
    /// When the change that is being watched began.
    open: Option<Instant>,
}

impl Window {
    /// Forgets what is open: what stands is not known, or is no power.
    pub(super) fn clear(&mut self) {
        self.told.clear();
        self.reports.clear();
        self.open = None;
    }

    /// A command that the trainer took, with the moment at which it was sent.
    pub(super) fn told(&mut self, at: Instant, watts: f64) {
        let Some(&(before, stood)) = self.told.back() else {
            self.told.push_back((at, watts));
            return;
        };
        if stood == watts {
            return;
        }
        match self.open {
            Some(began) if at.since(began) > LONGEST => self.open = None,
            None if at.since(before) >= SETTLED => {
                self.told.drain(..self.told.len() - 1);
                self.open = Some(at);
            }
            _ => {}
        }
        if self.told.len() >= MOST_KEPT {
            self.told.pop_front();
            self.open = None;
        }
        self.told.push_back((at, watts));
    }

    /// A report of power; gives a change that is complete with it.
    pub(super) fn reported(
        &mut self,
        at: Instant,
        power: f64,
        cadence: Option<f64>,
    ) -> Option<Cut> {
        if self.reports.len() >= MOST_KEPT {
            self.reports.pop_front();
        }
        self.reports.push_back(Report { at, power, cadence });
        let long_ago = at - (LONGEST + BEFORE + AFTER + Span::from_seconds(2));
        while self
            .reports
            .front()
            .is_some_and(|report| report.at < long_ago)
        {
            self.reports.pop_front();
        }
        let began = self.open?;
        let (last, _) = *self.told.back()?;
        if at.since(last) < AFTER {
            return None;
        }
        self.open = None;
        self.cut(began - BEFORE, last + AFTER)
    }

    fn cut(&self, from: Instant, until: Instant) -> Option<Cut> {
        let one_way = |up: f64| {
            self.told
                .iter()
                .zip(self.told.iter().skip(1))
                .all(|(a, b)| (b.1 - a.1) * up >= 0.0)
        };
        let change = self.told.back()?.1 - self.told.front()?.1;
        if change.abs() < LEAST_CHANGE || !one_way(change) {
            return None;
        }
        let seen: Vec<Report> = self
            .reports
            .iter()
            .copied()
            .filter(|report| report.at >= from && report.at <= until)
            .collect();
        let edges = [from, until];
        let mut times: Vec<Instant> = seen.iter().map(|report| report.at).collect();
        times.splice(0..0, [edges[0]]);
        times.push(edges[1]);
        if seen.len() < 6
            || times
                .windows(2)
                .any(|pair| pair[1].since(pair[0]) > MOST_APART)
        {
            return None;
        }
        if seen.iter().any(|report| report.power < LEAST_POWER) {
            return None;
        }
        let turning_seen = seen.iter().all(|report| report.cadence.is_some());
        if turning_seen && !steady_gear(&seen) {
            return None;
        }
        let steps = (until.since(from).seconds() / STEP) as usize;
        Some(Cut {
            episode: Episode {
                asked: self.asked(from, steps),
                turning: if turning_seen {
                    turning(&seen, from, steps)
                } else {
                    vec![1.0; steps]
                },
                reports: seen
                    .iter()
                    .map(|report| (report.at.since(from).seconds() / STEP, report.power))
                    .collect(),
            },
            rise: change > 0.0,
            turning_seen,
        })
    }

    /// The mean of what was asked for over each step.
    fn asked(&self, from: Instant, steps: usize) -> Vec<f64> {
        let mut asked = vec![0.0; steps];
        let first = self.told.front().map_or(0.0, |(_, watts)| *watts);
        let starts = std::iter::once((0.0, first)).chain(
            self.told
                .iter()
                .skip(1)
                .map(|(at, watts)| (at.since(from).seconds() / STEP, *watts)),
        );
        let starts: Vec<(f64, f64)> = starts.collect();
        for (index, &(start, watts)) in starts.iter().enumerate() {
            let end = starts
                .get(index + 1)
                .map_or(steps as f64, |next| next.0)
                .min(steps as f64);
            let mut at = start;
            while at < end {
                let step = at as usize;
                let until = (step as f64 + 1.0).min(end);
                if let Some(asked) = asked.get_mut(step) {
                    *asked += watts * (until - at);
                }
                at = until;
            }
        }
        asked
    }
}

/// Whether the rider pedalled on in one gear.
fn steady_gear(seen: &[Report]) -> bool {
    let cadence: Vec<f64> = seen.iter().filter_map(|report| report.cadence).collect();
    cadence.iter().all(|&rpm| rpm >= LEAST_CADENCE)
        && cadence
            .windows(2)
            .all(|pair| (pair[1] - pair[0]).abs() <= LEAP * pair[0])
}

/// Cadence at the end of each step, in a straight line from report to report.
fn turning(seen: &[Report], from: Instant, steps: usize) -> Vec<f64> {
    let points: Vec<(f64, f64)> = seen
        .iter()
        .filter_map(|report| Some((report.at.since(from).seconds() / STEP, report.cadence?)))
        .collect();
    let mut next = 0;
    (0..steps)
        .map(|step| {
            let at = step as f64 + 1.0;
            while next < points.len() && points[next].0 < at {
                next += 1;
            }
            match (
                next.checked_sub(1).and_then(|before| points.get(before)),
                points.get(next),
            ) {
                (Some(&(t0, v0)), Some(&(t1, v1))) => v0 + (v1 - v0) * (at - t0) / (t1 - t0),
                (Some(&(_, value)), None) | (None, Some(&(_, value))) => value,
                (None, None) => 1.0,
            }
        })
        .collect()
}
