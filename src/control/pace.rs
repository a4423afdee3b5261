//! When a wanted target is due: at most four a second, small changes only once they stand still, and nothing that was
//! refused again and again. A sort that is refused every time is given up.

use std::collections::VecDeque;

use super::abilities::Sort;
use crate::time::{Instant, Span};
use crate::units::{BrakeRange, BrakeTarget};

/// Between two targets: at most four a second (common practice, no source).
pub(super) const BETWEEN_TARGETS: Span = Span::from_millis(250);

/// A change under the least one is sent when the wanted value has stood still for this long: the last of a ramp. It is
/// longer than the quarter of a second in which a ramp is reckoned anew, or each small step of a ramp would be a last.
const STANDS_STILL: Span = Span::from_millis(500);

/// A change of power under this is not worth a command (common practice, no source).
const LEAST_WATTS: f64 = 2.0;

/// Refused values remembered; when full the oldest is forgotten, and may then be tried once more.
const MOST_HELD: usize = 32;

/// So many refusals in a row, and a sort of target of which nothing was ever taken on this link is given up. Our own
/// choice: half a minute of tries.
const MOST_REFUSED: u8 = 6;

/// Refusals that come faster, as along a ramp, count as one.
const REFUSED_AGAIN: Span = Span::from_seconds(4);

/// After a refusal as much or more is not asked for sooner, so that a ramp is no flood of commands.
const AFTER_REFUSAL: Span = Span::from_seconds(2);

/// What is wanted.
#[derive(Clone, Copy, Debug)]
struct Wanted {
    target: BrakeTarget,
    since: Instant,
    /// It is on its way to another value, so that a small change may wait for it.
    on_its_way: bool,
}

/// What is wanted, what stands, and what is held back.
#[derive(Clone, Debug, Default)]
pub(super) struct Pace {
    wanted: Option<Wanted>,
    /// What the trainer confirmed and nothing has put in doubt since.
    settled: Option<BrakeTarget>,
    last_sent: Option<Instant>,
    /// The target that was refused last, how often its sort was in a row, and when that was last counted.
    refused: Option<(BrakeTarget, u8, Instant)>,
    /// The sorts of which one was taken on this link: as many as there are sorts.
    took: Vec<Sort>,
    /// Values not to be sent again: for good, or until a time.
    held: VecDeque<(BrakeTarget, Option<Instant>)>,
}

impl Pace {
    /// Takes the newest wanted target; an older one is forgotten.
    pub(super) fn want(&mut self, now: Instant, target: BrakeTarget, on_its_way: bool) {
        let since = match self.wanted {
            Some(wanted) if wanted.target == target => wanted.since,
            _ => now,
        };
        self.wanted = Some(Wanted {
            target,
            since,
            on_its_way,
        });
    }

    /// Nothing is wanted any more.
    pub(super) fn forget_wanted(&mut self) {
        self.wanted = None;
    }

    pub(super) fn wanted(&self) -> Option<BrakeTarget> {
        self.wanted.map(|wanted| wanted.target)
    }

    pub(super) const fn last_sent(&self) -> Option<Instant> {
        self.last_sent
    }

    pub(super) fn sent(&mut self, now: Instant) {
        self.last_sent = Some(now);
    }

    /// The trainer confirmed this.
    pub(super) fn settle(&mut self, target: BrakeTarget) {
        self.settled = Some(target);
    }

    /// A target was taken: what was refused before it was a matter of values, and what is refused after it is one of the
    /// moment.
    pub(super) fn taken(&mut self, sort: Sort) {
        self.refused = None;
        if !self.took.contains(&sort) {
            self.took.push(sort);
        }
    }

    /// A target was answered with a refusal. Whether its sort is to be given up: it was refused so often in a row, and none
    /// was ever taken, that this trainer does not take it, whatever reason it gives.
    pub(super) fn refused_too_often(&mut self, now: Instant, target: BrakeTarget) -> bool {
        let (times, counted) = match self.refused {
            Some((before, times, at)) if before.same_sort(target) => {
                if now.since(at) < REFUSED_AGAIN {
                    (times, at)
                } else {
                    (times.saturating_add(1), now)
                }
            }
            _ => (1, now),
        };
        self.refused = Some((target, times, counted));
        times >= MOST_REFUSED && !self.took.contains(&Sort::of(target))
    }

    /// What stands is in doubt, so that whatever is wanted is due.
    pub(super) fn unsettle(&mut self) {
        self.settled = None;
    }

    /// Keeps a value from being sent again, for good (on this link) or until a time.
    pub(super) fn hold(&mut self, target: BrakeTarget, until: Option<Instant>) {
        self.held.retain(|(held, _)| *held != target);
        if self.held.len() >= MOST_HELD {
            self.held.pop_front();
        }
        self.held.push_back((target, until));
    }

    /// The wanted target and when it may be sent; nothing where none is wanted, it stands already, or it was refused
    /// for good.
    pub(super) fn due(&self, range: Option<BrakeRange>) -> Option<(BrakeTarget, Instant)> {
        let Wanted {
            target,
            since,
            on_its_way,
        } = self.wanted?;
        let turned_back = self.refused.is_some_and(|(refused, _, _)| {
            refused.same_sort(target) && target.value() >= refused.value()
        });
        let between = if turned_back {
            AFTER_REFUSAL
        } else {
            BETWEEN_TARGETS
        };
        let mut due = self.last_sent.map_or(Instant::ZERO, |last| last + between);
        if let Some(settled) = self.settled.filter(|settled| settled.same_sort(target)) {
            let change = (target.value() - settled.value()).abs();
            if change == 0.0 {
                return None;
            }
            let least = match target {
                BrakeTarget::Power(_) => LEAST_WATTS,
                BrakeTarget::Resistance(_) => range.map_or(0.1, |range| range.step),
                BrakeTarget::Slope(_) => 0.1,
            };
            if change < least - 1e-9 {
                if on_its_way {
                    // In a ramp it waits until it is worth a command, however slow the ramp; its end is no ramp.
                    return None;
                }
                due = due.max(since + STANDS_STILL);
            }
        }
        if let Some((_, until)) = self.held.iter().find(|(held, _)| *held == target) {
            due = due.max((*until)?);
        }
        Some((target, due))
    }
}
