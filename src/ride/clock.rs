//! The ride's clock: ridden time is now − start − paused, never a sum of ticks.

use crate::time::{Instant, Span};

/// Ridden time, which stands still in pauses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RideClock {
    start: Instant,
    /// What was ridden before `start`, in an earlier run of the program.
    before: Span,
    paused: Span,
    standing_since: Option<Instant>,
}

impl RideClock {
    /// Runs from `start`.
    pub const fn started(start: Instant) -> Self {
        Self::taken_up(start, Span::ZERO)
    }

    /// Runs on from `start`, with so much ridden before it.
    pub const fn taken_up(start: Instant, before: Span) -> Self {
        Self {
            start,
            before,
            paused: Span::ZERO,
            standing_since: None,
        }
    }

    /// Time ridden up to `now`.
    pub fn ridden(&self, now: Instant) -> Span {
        let until = self.standing_since.unwrap_or(now);
        self.before + until.since(self.start).less(self.paused)
    }

    /// Whether the clock runs.
    pub const fn runs(&self) -> bool {
        self.standing_since.is_none()
    }

    /// Stands still from `at` on; nothing happens where it stands already.
    pub fn stand(&mut self, at: Instant) {
        self.standing_since.get_or_insert(at);
    }

    /// Runs on from `now`.
    pub fn run(&mut self, now: Instant) {
        if let Some(since) = self.standing_since.take() {
            self.paused += now.since(since);
        }
    }

    /// When ridden time reaches `ridden`, if the clock runs on as it does now; nothing while it stands.
    pub fn reaches(&self, ridden: Span) -> Option<Instant> {
        self.runs()
            .then(|| self.start + self.paused + ridden.less(self.before))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECOND: Span = Span::from_seconds(1);

    #[test]
    fn pauses_are_left_out_of_ridden_time() {
        let start = Instant(7_000_000);
        let mut clock = RideClock::started(start);
        assert_eq!(clock.ridden(start + SECOND * 10), SECOND * 10);
        clock.stand(start + SECOND * 10);
        clock.stand(start + SECOND * 12);
        assert_eq!(clock.ridden(start + SECOND * 40), SECOND * 10);
        assert_eq!(clock.reaches(SECOND * 11), None);
        clock.run(start + SECOND * 40);
        clock.run(start + SECOND * 41);
        assert_eq!(clock.ridden(start + SECOND * 45), SECOND * 15);
        assert_eq!(clock.reaches(SECOND * 16), Some(start + SECOND * 46));
    }

    #[test]
    fn a_ride_that_is_taken_up_goes_on_counting_where_it_was() {
        // The program was started again: its own clock stands near zero, though an hour was ridden.
        let start = Instant(3_000_000);
        let mut clock = RideClock::taken_up(start, SECOND * 3_600);
        assert_eq!(clock.ridden(start), SECOND * 3_600);
        assert_eq!(clock.reaches(SECOND * 3_601), Some(start + SECOND));
        clock.stand(start + SECOND * 2);
        clock.run(start + SECOND * 9);
        assert_eq!(clock.ridden(start + SECOND * 10), SECOND * 3_603);
        assert_eq!(clock.reaches(SECOND * 3_604), Some(start + SECOND * 11));
    }
}
