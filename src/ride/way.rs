//! The way of a level or a slope from where it stands to where it is wanted: rises build up, falls go over two seconds.

use crate::time::{Instant, Span};

/// A look that comes later than this moves the value by this time's worth at most, so that no rise is caught up with.
const AT_ONCE: Span = Span::from_seconds(1);

/// A value on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    at: Instant,
    value: f64,
    to: f64,
    /// Most change a second on this way.
    rate: f64,
}

impl Way {
    /// Standing at a value.
    pub const fn standing(now: Instant, value: f64) -> Self {
        Self {
            at: now,
            value,
            to: value,
            rate: 0.0,
        }
    }

    /// The value at `now` on the way to `to`. A new goal is reached in a straight line over `rise` or `fall`.
    pub fn go(&mut self, now: Instant, to: f64, rise: Span, fall: Span) -> f64 {
        if (to - self.to).abs() > 1e-9 {
            let over = if to > self.value { rise } else { fall };
            // A goal that moves on while the value follows it does not make the way slower.
            let follows = self.moves() && (to > self.value) == (self.to > self.value);
            let rate = (to - self.value).abs() / over.seconds().max(1e-3);
            self.rate = if follows { rate.max(self.rate) } else { rate };
            self.to = to;
        }
        let time = now.since(self.at).min(AT_ONCE).seconds();
        let most = self.rate * time;
        self.value += (self.to - self.value).clamp(-most, most);
        self.at = now;
        self.value
    }

    /// What was asked for was not taken up: the value stands at `value` still.
    pub const fn hold(&mut self, now: Instant, value: f64) {
        *self = Self::standing(now, value);
    }

    /// Where it stands.
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// Whether it is still under way.
    pub fn moves(&self) -> bool {
        (self.to - self.value).abs() > 1e-9
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: f64) -> Instant {
        Instant::ZERO + Span::from_seconds_f64(seconds)
    }

    const RISE: Span = Span::from_seconds(10);
    const FALL: Span = Span::from_seconds(2);

    #[test]
    fn a_rise_takes_ten_seconds_and_a_fall_two() {
        let mut way = Way::standing(at(0.0), 10.0);
        let mut values = Vec::new();
        for quarter in 0..=40 {
            values.push(way.go(at(f64::from(quarter) * 0.25), 50.0, RISE, FALL));
        }
        for (quarter, expected) in [(0, 10.0), (20, 30.0), (40, 50.0)] {
            assert!((values[quarter] - expected).abs() < 1e-9, "{values:?}");
        }
        assert!(!way.moves());
        for (second, expected) in [(10.0, 50.0), (11.0, 30.0), (12.0, 10.0), (13.0, 10.0)] {
            assert!((way.go(at(second), 10.0, RISE, FALL) - expected).abs() < 1e-9);
        }
    }

    #[test]
    fn a_late_look_is_not_caught_up_with() {
        let mut way = Way::standing(at(0.0), 0.0);
        way.go(at(0.0), 100.0, RISE, FALL);
        assert!((way.go(at(8.0), 100.0, RISE, FALL) - 10.0).abs() < 1e-9);
        way.hold(at(9.0), 4.0);
        assert!((way.go(at(9.0), 100.0, RISE, FALL) - 4.0).abs() < 1e-9);
    }
}
