//! Instants and spans in whole microseconds, handed down from one clock and never read here.

use std::fmt;
use std::ops::{Add, AddAssign, Mul, Sub};

use serde::{Deserialize, Serialize};

/// A moment, in microseconds since the clock was made.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Instant(pub u64);

/// A length of time, in microseconds; never negative.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Span(pub u64);

impl Instant {
    /// The moment the clock was made.
    pub const ZERO: Self = Self(0);

    /// The time from `earlier` to this moment; zero where `earlier` is the later of the two.
    pub const fn since(self, earlier: Self) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }

    /// Seconds since the clock was made.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e6
    }
}

impl Span {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// From whole seconds.
    pub const fn from_seconds(seconds: u64) -> Self {
        Self(seconds.saturating_mul(1_000_000))
    }

    /// From whole milliseconds.
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis.saturating_mul(1_000))
    }

    /// From seconds with a fraction; negative and not-a-number become zero.
    pub fn from_seconds_f64(seconds: f64) -> Self {
        // A cast from a float saturates and turns NaN into zero.
        Self((seconds * 1e6).round().max(0.0) as u64)
    }

    /// In seconds with their fraction.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// Whole seconds, the rest dropped.
    pub const fn whole_seconds(self) -> u64 {
        self.0 / 1_000_000
    }

    /// This span less another; zero where the other is longer.
    #[must_use]
    pub const fn less(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Add<Span> for Instant {
    type Output = Self;
    fn add(self, span: Span) -> Self {
        Self(self.0.saturating_add(span.0))
    }
}

impl AddAssign<Span> for Instant {
    fn add_assign(&mut self, span: Span) {
        *self = *self + span;
    }
}

impl Sub<Span> for Instant {
    type Output = Self;
    fn sub(self, span: Span) -> Self {
        Self(self.0.saturating_sub(span.0))
    }
}

impl Add for Span {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Span {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Mul<u64> for Span {
    type Output = Self;
    fn mul(self, times: u64) -> Self {
        Self(self.0.saturating_mul(times))
    }
}

impl std::iter::Sum for Span {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, |total, span| total + span)
    }
}

/// Minutes and seconds, with hours where there are any: `0:35`, `26:25`, `1:04:00`. Parts of a second are dropped.
impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = self.whole_seconds();
        let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        if hours > 0 {
            f.pad(&format!("{hours}:{minutes:02}:{seconds:02}"))
        } else {
            f.pad(&format!("{minutes}:{seconds:02}"))
        }
    }
}

/// Ticks at `start + n × period`: the n-th is reckoned from the start, so late handling of one never moves the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Periods {
    start: Instant,
    period: Span,
    next: u64,
}

impl Periods {
    /// The first tick falls one `period` after `start`. A period of zero is taken as one microsecond.
    pub fn new(start: Instant, period: Span) -> Self {
        Self {
            start,
            period: Span(period.0.max(1)),
            next: 1,
        }
    }

    /// When the next tick is due.
    pub fn due(&self) -> Instant {
        self.start + self.period * self.next
    }

    /// The number of the tick that is due at or before `now`, counted from 1, and on to the next; nothing where none is.
    pub fn tick(&mut self, now: Instant) -> Option<u64> {
        (self.due() <= now).then(|| {
            self.next += 1;
            self.next - 1
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_written_as_a_clock_shows_them() {
        for (seconds, shown) in [
            (0, "0:00"),
            (35, "0:35"),
            (1585, "26:25"),
            (3840, "1:04:00"),
        ] {
            assert_eq!(Span::from_seconds(seconds).to_string(), shown);
        }
        assert_eq!(format!("{:>6}", Span::from_seconds(35)), "  0:35");
    }

    #[test]
    fn periods_do_not_drift_when_handled_late() {
        let mut periods = Periods::new(Instant(250_000), Span::from_seconds(1));
        assert_eq!(periods.tick(Instant(1_249_999)), None);
        assert_eq!(periods.tick(Instant(1_900_000)), Some(1));
        assert_eq!(periods.due(), Instant(2_250_000));
        assert_eq!(periods.tick(Instant(4_500_000)), Some(2));
        assert_eq!(periods.tick(Instant(4_500_000)), Some(3));
        assert_eq!(periods.tick(Instant(4_500_000)), Some(4));
        assert_eq!(periods.tick(Instant(4_500_000)), None);
    }

    #[test]
    fn differences_never_go_below_zero() {
        assert_eq!(Instant(5).since(Instant(9)), Span::ZERO);
        assert_eq!(Span(5).less(Span(9)), Span::ZERO);
        assert_eq!(Span::from_seconds_f64(-1.0), Span::ZERO);
        assert_eq!(Span::from_seconds_f64(f64::NAN), Span::ZERO);
    }
}
