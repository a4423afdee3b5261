//! How the load gets from where it stands to where the plan wants it: rises build up, falls follow their beat.

use crate::time::{Instant, Span};

/// Holds and warm-ups build up over this (common practice, no source).
pub const BUILD_UP: Span = Span::from_seconds(10);
/// After pedals stood still, a pause, a release or a lost link, the load builds back over this.
pub const BUILD_BACK: Span = Span::from_seconds(6);
/// Recoveries and cool-downs fall over this.
pub const FALL: Span = Span::from_seconds(2);
/// A sprint's load stands on for at most this after its end, unless power drops first: dropping a standing rider is
/// as dangerous as loading one.
pub const SPRINT_STANDS_ON: Span = Span::from_seconds(1);
/// Then it falls over this.
pub const SPRINT_FALL: Span = Span::from_millis(1_500);
/// No rise outside sprints is faster than this, watts a second, whatever asked for it. Our own choice, no source: it
/// is above every build-up of an ordinary session and below what a leg notices as a jerk.
pub const MOST_RISE: f64 = 50.0;

/// A way from one load to another that begins at a beat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BuildUp {
    /// The load that stood at the beat.
    from: f64,
    /// The beat.
    since: Instant,
    rise_over: Span,
    /// When a fall begins: the beat, or a little later after a sprint.
    fall_at: Instant,
    fall_over: Span,
    /// Whether it begins at a beat of the session: only then may a rise be sent ahead.
    on_beat: bool,
}

impl BuildUp {
    /// From a load that stands, at a beat: a rise takes `rise_over`, a fall two seconds.
    pub fn new(from: f64, beat: Instant, rise_over: Span) -> Self {
        Self {
            from,
            since: beat,
            rise_over,
            fall_at: beat,
            fall_over: FALL,
            on_beat: false,
        }
    }

    /// The same, begun at a beat of the session and from a load that stands. A return from release has no beat.
    #[must_use]
    pub fn on_beat(self) -> Self {
        Self {
            on_beat: self.from > 0.0,
            ..self
        }
    }

    /// The load of a command that is sent at `now` and answered `lead` later.
    pub fn ahead(&self, now: Instant, lead: Span, wanted: f64) -> f64 {
        let answered = if self.on_beat { now + lead } else { now };
        self.at(answered, wanted)
    }

    /// The way down from a held sprint.
    pub fn after_sprint(from: f64, beat: Instant, rise_over: Span) -> Self {
        Self {
            fall_at: beat + SPRINT_STANDS_ON,
            fall_over: SPRINT_FALL,
            ..Self::new(from, beat, rise_over)
        }
    }

    /// The rider has let go of the sprint: the fall need not wait longer.
    pub fn power_dropped(&mut self, now: Instant) {
        self.fall_at = Instant(self.fall_at.0.min(now.0.max(self.since.0)));
    }

    /// The load at `now` on the way to `wanted`.
    pub fn at(&self, now: Instant, wanted: f64) -> f64 {
        let (begin, over) = if wanted >= self.from {
            (self.since, self.rise_over)
        } else {
            (self.fall_at, self.fall_over)
        };
        let gone = now.since(begin).seconds();
        let share = if over.0 == 0 {
            1.0
        } else {
            (gone / over.seconds()).min(1.0)
        };
        if now < begin {
            self.from
        } else {
            self.from + (wanted - self.from) * share
        }
    }

    /// How far a rise from nothing has come, 0 to 1; 1 where it did not begin from nothing.
    pub fn from_nothing(&self, now: Instant) -> f64 {
        if self.from > 0.0 || self.rise_over.0 == 0 {
            return 1.0;
        }
        (now.since(self.since).seconds() / self.rise_over.seconds()).min(1.0)
    }

    /// What is left at `now` of a rise from nothing; no time where it did not begin from nothing.
    pub fn left_from_nothing(&self, now: Instant) -> Span {
        if self.from > 0.0 {
            return Span::ZERO;
        }
        self.rise_ends().since(now)
    }

    /// When both a rise and a fall are over.
    pub fn ends(&self) -> Instant {
        Instant(
            (self.since + self.rise_over)
                .0
                .max((self.fall_at + self.fall_over).0),
        )
    }

    /// When a rise is over.
    pub fn rise_ends(&self) -> Instant {
        self.since + self.rise_over
    }

    /// When a fall begins.
    pub const fn fall_begins(&self) -> Instant {
        self.fall_at
    }

    /// When a fall, at the latest, is over.
    pub fn fall_ends(&self) -> Instant {
        self.fall_at + self.fall_over
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: f64) -> Instant {
        Instant::ZERO + Span::from_seconds_f64(seconds)
    }

    fn assert_near(got: f64, expected: f64) {
        assert!((got - expected).abs() < 1e-9, "{got} is not {expected}");
    }

    #[test]
    fn a_rise_is_a_straight_line_over_ten_seconds() {
        let way = BuildUp::new(100.0, at(20.0), BUILD_UP);
        for (t, load) in [
            (19.0, 100.0),
            (20.0, 100.0),
            (25.0, 150.0),
            (29.0, 190.0),
            (30.0, 200.0),
            (60.0, 200.0),
        ] {
            assert_near(way.at(at(t), 200.0), load);
        }
        assert_eq!(way.ends(), at(30.0));
    }

    #[test]
    fn a_fall_takes_two_seconds_and_none_comes_before_its_beat() {
        let way = BuildUp::new(200.0, at(20.0), BUILD_UP);
        for (t, load) in [(19.9, 200.0), (20.0, 200.0), (21.0, 150.0), (22.0, 100.0)] {
            assert_near(way.at(at(t), 100.0), load);
        }
    }

    #[test]
    fn a_sprint_stands_on_for_a_second_or_until_power_drops() {
        let mut way = BuildUp::after_sprint(300.0, at(20.0), BUILD_UP);
        for (t, load) in [(20.9, 300.0), (21.0, 300.0), (21.75, 200.0), (22.5, 100.0)] {
            assert_near(way.at(at(t), 100.0), load);
        }
        way.power_dropped(at(20.2));
        assert_near(way.at(at(20.95), 100.0), 200.0);
        assert_near(way.at(at(21.7), 100.0), 100.0);
        way.power_dropped(at(20.9));
        assert_near(way.at(at(21.7), 100.0), 100.0);
    }
}
