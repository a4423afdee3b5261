//! Holds a stream of repeated reports to one in a period for each sender, without losing the last one.

use std::collections::HashMap;
use std::hash::Hash;

use crate::time::{Instant, Span};

/// Remembers for each key when it was last let through and whether one was held back since.
///
/// A report that comes too early is owed and handed out by [`due`](Self::due) when its period has passed: many
/// controllers report a sender once in a scan, its name in a second packet a moment after the first, and dropping that
/// one would lose the name.
pub(super) struct Throttle<K> {
    period: Span,
    limit: usize,
    last: HashMap<K, Last>,
}

struct Last {
    passed: Instant,
    owed: bool,
}

impl<K: Eq + Hash + Clone> Throttle<K> {
    /// One report in `period` a key, for at most `limit` keys; one more key makes room by forgetting the oldest.
    pub(super) fn new(period: Span, limit: usize) -> Self {
        Self {
            period,
            limit: limit.max(1),
            last: HashMap::new(),
        }
    }

    /// Whether a report of `key` may pass now. Where not, it is owed.
    pub(super) fn admits(&mut self, key: &K, now: Instant) -> bool {
        if let Some(last) = self.last.get_mut(key) {
            if now.since(last.passed) < self.period {
                last.owed = true;
                return false;
            }
            *last = Last {
                passed: now,
                owed: false,
            };
            return true;
        }
        if self.last.len() >= self.limit
            && let Some(oldest) = self
                .last
                .iter()
                .min_by_key(|(_, last)| last.passed)
                .map(|(key, _)| key.clone())
        {
            self.last.remove(&oldest);
        }
        self.last.insert(
            key.clone(),
            Last {
                passed: now,
                owed: false,
            },
        );
        true
    }

    /// The keys whose owed report may pass now; they count as let through.
    pub(super) fn due(&mut self, now: Instant) -> Vec<K> {
        let period = self.period;
        self.last
            .iter_mut()
            .filter(|(_, last)| last.owed && now.since(last.passed) >= period)
            .map(|(key, last)| {
                *last = Last {
                    passed: now,
                    owed: false,
                };
                key.clone()
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HALF: Span = Span::from_millis(500);

    fn at(millis: u64) -> Instant {
        Instant::ZERO + Span::from_millis(millis)
    }

    #[test]
    fn two_a_second_pass_and_the_last_is_owed() {
        let mut throttle = Throttle::new(HALF, 8);
        assert!(throttle.admits(&'a', at(1000)));
        assert!(!throttle.admits(&'a', at(1001)));
        assert!(throttle.admits(&'b', at(1002)), "keys do not share a place");
        assert!(throttle.due(at(1499)).is_empty());
        assert_eq!(throttle.due(at(1500)), ['a']);
        assert!(throttle.due(at(1501)).is_empty(), "owed once");
        assert!(
            !throttle.admits(&'a', at(1999)),
            "the owed report took a place"
        );
        assert!(throttle.admits(&'a', at(2000)));
        assert!(
            throttle.due(at(9000)).is_empty(),
            "a later report paid what was owed"
        );
    }

    #[test]
    fn at_most_two_a_second_over_a_minute_of_many() {
        let mut throttle = Throttle::new(HALF, 8);
        let mut passed = 0;
        for millis in 0..60_000 {
            passed += u32::from(throttle.admits(&0, at(millis)));
            passed += throttle.due(at(millis)).len() as u32;
        }
        assert_eq!(passed, 120);
    }

    #[test]
    fn the_table_stays_within_its_limit_and_forgets_the_oldest() {
        let mut throttle = Throttle::new(HALF, 2);
        for (key, millis) in [(1, 0), (2, 10), (3, 20)] {
            assert!(throttle.admits(&key, at(millis)));
        }
        assert_eq!(throttle.last.len(), 2);
        assert!(!throttle.admits(&2, at(30)));
        assert!(throttle.admits(&1, at(30)), "1 was forgotten");
    }
}
