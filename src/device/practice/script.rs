//! What the practice rider does, and when: for tests, and for the ride that a newcomer sees.

use super::legs::{Intent, Legs};

/// One thing a rider does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Act {
    /// Changes what is intended.
    Intend(Intent),
    /// Stands up (`true`) or sits down.
    Stand(bool),
    /// Shifts by so many gears, harder where positive.
    Shift(i32),
}

/// Timed acts, in seconds since a program first listened to the ride.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Script {
    acts: Vec<(f64, Act)>,
}

impl Script {
    /// A rider who never moves.
    pub fn still() -> Self {
        Self::default()
    }

    /// A rider who starts to turn the pedals three seconds after a program listens, and keeps at this cadence (rpm).
    pub fn ride(cadence: f64) -> Self {
        Self::still().pedal(3.0, cadence)
    }

    /// Adds an act; they may be added in any order.
    #[must_use]
    pub fn act(mut self, second: f64, act: Act) -> Self {
        let place = self.acts.partition_point(|&(at, _)| at <= second);
        self.acts.insert(place, (second, act));
        self
    }

    /// From this second: turn the pedals at a cadence in rpm.
    #[must_use]
    pub fn pedal(self, second: f64, cadence: f64) -> Self {
        self.act(second, Act::Intend(Intent::Pedal(cadence)))
    }

    /// From this second: make a power in watts where the brake is free.
    #[must_use]
    pub fn aim(self, second: f64, watts: f64) -> Self {
        self.act(second, Act::Intend(Intent::Aim(watts)))
    }

    /// From this second: feet still, and after so many seconds the pedals again at a cadence in rpm.
    #[must_use]
    pub fn coast(self, second: f64, seconds: f64, cadence: f64) -> Self {
        self.stop(second).pedal(second + seconds, cadence)
    }

    /// From this second: turn the cranks at a cadence in rpm without pushing.
    #[must_use]
    pub fn twiddle(self, second: f64, cadence: f64) -> Self {
        self.act(second, Act::Intend(Intent::Twiddle(cadence)))
    }

    /// From this second: feet still.
    #[must_use]
    pub fn stop(self, second: f64) -> Self {
        self.act(second, Act::Intend(Intent::Still))
    }

    /// From this second: standing, and seated again after so many seconds.
    #[must_use]
    pub fn stand(self, second: f64, seconds: f64) -> Self {
        self.act(second, Act::Stand(true))
            .act(second + seconds, Act::Stand(false))
    }

    /// At this second: shift by so many gears, harder where positive.
    #[must_use]
    pub fn shift(self, second: f64, gears: i32) -> Self {
        self.act(second, Act::Shift(gears))
    }

    /// Does what is due at `seconds`, from the act numbered `next` on, and returns the number of the next act.
    pub fn play(&self, next: usize, seconds: f64, legs: &mut Legs) -> usize {
        let due = self
            .acts
            .iter()
            .skip(next)
            .take_while(|(at, _)| *at <= seconds);
        let mut played = next;
        for (_, act) in due {
            match *act {
                Act::Intend(intent) => legs.intend(intent),
                Act::Stand(standing) => legs.stand(standing),
                Act::Shift(gears) => legs.shift(gears),
            }
            played += 1;
        }
        played
    }
}
