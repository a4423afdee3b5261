//! Whether the pedals turn, from every source that is fresh.

use crate::time::{Instant, Span};
use crate::units::{Rpm, Watts};

/// Above this cadence the pedals turn.
pub const TURNING_CADENCE: Rpm = Rpm(20.0);

/// Above this power the pedals turn, whatever cadence is shown: some trainers report cadence 0 at 200 W.
pub const TURNING_POWER: Watts = Watts(20.0);

/// For so long nothing may show turning pedals before they count as stopped.
pub const STOPPED_AFTER: Span = Span::from_seconds(2);

/// What is known of the pedals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pedals {
    /// No fresh source speaks of them. Not stopped, but nothing is raised.
    #[default]
    Unknown,
    /// They turn.
    Turning,
    /// They have stood still since then.
    Stopped(Instant),
}

/// Watches the pedals.
#[derive(Clone, Copy, Debug, Default)]
pub struct PedalWatch {
    still_since: Option<Instant>,
    pedals: Pedals,
}

impl PedalWatch {
    /// Takes the greatest fresh cadence and the greatest fresh power over all sources; none where no source is fresh.
    pub fn see(&mut self, now: Instant, cadence: Option<Rpm>, power: Option<Watts>) -> Pedals {
        if cadence.is_none() && power.is_none() {
            self.still_since = None;
            self.pedals = Pedals::Unknown;
        } else if cadence.is_some_and(|c| c > TURNING_CADENCE)
            || power.is_some_and(|p| p > TURNING_POWER)
        {
            self.still_since = None;
            self.pedals = Pedals::Turning;
        } else {
            let since = *self.still_since.get_or_insert(now);
            if now.since(since) >= STOPPED_AFTER {
                self.pedals = Pedals::Stopped(since);
            } else if self.pedals == Pedals::Unknown {
                // Nothing has shown them turning yet, so nothing may be raised in these two seconds either.
                self.pedals = Pedals::Unknown;
            }
        }
        self.pedals
    }

    /// What was last seen.
    pub const fn pedals(&self) -> Pedals {
        self.pedals
    }

    /// Whether a fresh source shows them turning at this moment: they count as turning for two seconds longer, but
    /// nothing is raised in that time.
    pub const fn turn_now(&self) -> bool {
        matches!(self.pedals, Pedals::Turning) && self.still_since.is_none()
    }

    /// When still pedals will count as stopped, if nothing new comes.
    pub fn next_change(&self) -> Option<Instant> {
        match self.pedals {
            Pedals::Stopped(_) => None,
            _ => self.still_since.map(|since| since + STOPPED_AFTER),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: f64) -> Instant {
        Instant::ZERO + Span::from_seconds_f64(seconds)
    }

    #[test]
    fn two_still_seconds_are_a_stop_and_one_source_that_turns_is_enough() {
        let mut watch = PedalWatch::default();
        assert_eq!(watch.see(at(0.0), None, None), Pedals::Unknown);
        assert_eq!(
            watch.see(at(1.0), Some(Rpm(90.0)), Some(Watts(150.0))),
            Pedals::Turning
        );
        assert_eq!(
            watch.see(at(2.0), Some(Rpm(0.0)), Some(Watts(0.0))),
            Pedals::Turning
        );
        assert_eq!(watch.next_change(), Some(at(4.0)));
        assert_eq!(
            watch.see(at(3.9), Some(Rpm(20.0)), Some(Watts(20.0))),
            Pedals::Turning
        );
        assert_eq!(
            watch.see(at(4.0), Some(Rpm(5.0)), None),
            Pedals::Stopped(at(2.0))
        );
        // Cadence 0 at 200 W: seen in the field.
        assert_eq!(
            watch.see(at(4.5), Some(Rpm(0.0)), Some(Watts(200.0))),
            Pedals::Turning
        );
        // No cadence at all, and a trainer that lets the power go.
        assert_eq!(watch.see(at(5.0), None, Some(Watts(0.0))), Pedals::Turning);
        assert_eq!(
            watch.see(at(7.0), None, Some(Watts(0.0))),
            Pedals::Stopped(at(5.0))
        );
    }

    #[test]
    fn silence_is_unknown_and_not_a_stop() {
        let mut watch = PedalWatch::default();
        watch.see(at(0.0), Some(Rpm(90.0)), None);
        assert_eq!(watch.see(at(10.0), None, None), Pedals::Unknown);
        assert_eq!(watch.see(at(20.0), None, None), Pedals::Unknown);
        // Zeros after silence are a stop only once two seconds old, and never count as turning in between.
        assert_eq!(watch.see(at(21.0), Some(Rpm(0.0)), None), Pedals::Unknown);
        assert_eq!(
            watch.see(at(23.0), Some(Rpm(0.0)), None),
            Pedals::Stopped(at(21.0))
        );
    }
}
