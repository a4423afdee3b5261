//! A sensor's value together with its age, so that an old number can never pass for a new one.

use crate::time::{Instant, Span};

/// After this long without a new value a reading is stale: not drawn as a number, not used, not written.
pub const FRESH_FOR: Span = Span::from_seconds(3);

/// After this long it is gone: the sensor counts as lost.
pub const GONE_AFTER: Span = Span::from_seconds(10);

/// What is known of one quantity.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Reading<T> {
    /// Nothing was ever received.
    #[default]
    NeverSeen,
    /// Received within the last three seconds.
    Fresh(T),
    /// The last value is over three seconds old.
    Stale(T),
    /// The last value is over ten seconds old, or the sensor's link is lost.
    Gone,
}

impl<T: Copy> Reading<T> {
    /// The value where it is fresh; nothing otherwise. The only way to a number that may be used.
    pub const fn fresh(self) -> Option<T> {
        match self {
            Self::Fresh(value) => Some(value),
            Self::NeverSeen | Self::Stale(_) | Self::Gone => None,
        }
    }
}

/// Keeps the last value and its arrival.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Latest<T> {
    last: Option<(Instant, T)>,
    lost: bool,
}

impl<T: Copy> Latest<T> {
    /// A value that arrived at `at`.
    pub fn put(&mut self, at: Instant, value: T) {
        self.last = Some((at, value));
        self.lost = false;
    }

    /// The sensor's link is lost: from here on the reading is gone until a new value comes.
    pub fn lose(&mut self) {
        self.lost = true;
    }

    /// The value that arrived at this very moment.
    pub fn put_at(&self, at: Instant) -> Option<T> {
        self.last
            .filter(|(put, _)| *put == at && !self.lost)
            .map(|(_, value)| value)
    }

    /// Whether a value was ever put.
    pub const fn was_seen(&self) -> bool {
        self.last.is_some()
    }

    /// The reading as it stands at `now`.
    pub fn reading(&self, now: Instant) -> Reading<T> {
        match self.last {
            None => Reading::NeverSeen,
            Some(_) if self.lost => Reading::Gone,
            Some((at, value)) => {
                let age = now.since(at);
                if age <= FRESH_FOR {
                    Reading::Fresh(value)
                } else if age <= GONE_AFTER {
                    Reading::Stale(value)
                } else {
                    Reading::Gone
                }
            }
        }
    }

    /// When the reading next changes its state by age alone, after `now`.
    pub fn next_change(&self, now: Instant) -> Option<Instant> {
        let (at, _) = self.last?;
        if self.lost {
            return None;
        }
        // A microsecond past the limit, since at the limit the older state still holds.
        [at + FRESH_FOR + Span(1), at + GONE_AFTER + Span(1)]
            .into_iter()
            .find(|&change| change > now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_ages_through_its_states() {
        let mut latest = Latest::default();
        assert_eq!(latest.reading(Instant(0)), Reading::NeverSeen);
        latest.put(Instant(1_000_000), 90);
        let at = |seconds: f64| latest.reading(Instant::ZERO + Span::from_seconds_f64(seconds));
        assert_eq!(at(1.0), Reading::Fresh(90));
        assert_eq!(at(4.0), Reading::Fresh(90));
        assert_eq!(at(4.000_001), Reading::Stale(90));
        assert_eq!(at(11.0), Reading::Stale(90));
        assert_eq!(at(11.000_001), Reading::Gone);
        assert_eq!(at(4.1).fresh(), None);
        assert_eq!(
            latest.next_change(Instant(1_000_000)),
            Some(Instant(4_000_001))
        );
        assert_eq!(
            latest.next_change(Instant(4_000_001)),
            Some(Instant(11_000_001))
        );
        assert_eq!(latest.next_change(Instant(11_000_001)), None);
    }

    #[test]
    fn a_lost_link_ends_a_fresh_value_at_once() {
        let mut latest = Latest::default();
        latest.put(Instant(0), 90);
        latest.lose();
        assert_eq!(latest.reading(Instant(1)), Reading::Gone);
        latest.put(Instant(2), 88);
        assert_eq!(latest.reading(Instant(3)), Reading::Fresh(88));
    }
}
