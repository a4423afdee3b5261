//! Which device's telling counts for which quantity.

use super::{Links, State};
use crate::engine::command::Role;
use crate::engine::sensor::{Sensor, first_fresh};
use crate::ride::reading::Latest;
use crate::time::{Instant, Span};
use crate::units::{Bpm, MetresPerSecond, Rpm, Watts};

/// The roles in the order in which their devices count for a quantity.
const POWER: [Role; 2] = [Role::Meter, Role::Trainer];
const CADENCE: [Role; 3] = [Role::Cadence, Role::Meter, Role::Trainer];
const HEART_RATE: [Role; 3] = [Role::Heart, Role::SecondHeart, Role::Trainer];

/// Whose device a quantity comes from now; none where nothing of it is fresh.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sources {
    /// Power.
    pub power: Option<Role>,
    /// Cadence.
    pub cadence: Option<Role>,
    /// Heart rate.
    pub heart_rate: Option<Role>,
}

impl Links {
    /// Whose device each quantity comes from.
    pub fn sources(&self, now: Instant) -> Sources {
        fn first<const N: usize>(roles: [Role; N], fresh: impl Fn(Role) -> bool) -> Option<Role> {
            roles.into_iter().find(|role| fresh(*role))
        }
        Sources {
            power: first(POWER, |role| {
                self.told(role, |s| s.power(now))
                    .reading(now)
                    .fresh()
                    .is_some()
            }),
            cadence: first(CADENCE, |role| {
                self.told(role, |s| s.cadence(now))
                    .reading(now)
                    .fresh()
                    .is_some()
            }),
            heart_rate: first(HEART_RATE, |role| {
                self.told(role, |s| s.heart_rate(now))
                    .reading(now)
                    .fresh()
                    .is_some()
            }),
        }
    }

    fn sensor(&self, role: Role) -> Option<&Sensor> {
        self.known
            .iter()
            .find(|known| known.roles.contains(&role))
            .map(|known| &known.sensor)
    }

    fn told<T: Copy + Default>(&self, role: Role, of: impl Fn(&Sensor) -> Latest<T>) -> Latest<T> {
        self.sensor(role).map(of).unwrap_or_default()
    }

    /// Power: the chosen meter's, else the trainer's.
    pub fn power(&self, now: Instant) -> Latest<Watts> {
        first_fresh(now, POWER.map(|role| self.told(role, |s| s.power(now))))
    }

    /// Power of a meter that is a device of its own, and nothing of the trainer's.
    pub fn separate_meter(&self, now: Instant) -> Latest<Watts> {
        if self.used_for(Role::Meter) == self.used_for(Role::Trainer) {
            return Latest::default();
        }
        self.told(Role::Meter, |s| s.power(now))
    }

    /// Power as the trainer itself tells it.
    pub fn trainer_power(&self, now: Instant) -> Latest<Watts> {
        self.told(Role::Trainer, |s| s.power(now))
    }

    /// Cadence: of the chosen sensor, else the meter, else the trainer.
    pub fn cadence(&self, now: Instant) -> Latest<Rpm> {
        first_fresh(now, CADENCE.map(|role| self.told(role, |s| s.cadence(now))))
    }

    /// Heart rate: of the chosen strap, else of the second one, else what the trainer passes on.
    pub fn heart_rate(&self, now: Instant) -> Latest<Bpm> {
        first_fresh(
            now,
            HEART_RATE.map(|role| self.told(role, |s| s.heart_rate(now))),
        )
    }

    /// Speed: the trainer's, else a sensor's.
    pub fn speed(&self, now: Instant) -> Latest<MetresPerSecond> {
        first_fresh(
            now,
            [Role::Trainer, Role::Cadence].map(|role| self.told(role, |s| s.speed(now))),
        )
    }

    /// The power that the trainer reported at this very moment, with its own cadence of the same report.
    pub fn trainer_report(&self, now: Instant) -> Option<(Watts, Option<Rpm>)> {
        self.sensor(Role::Trainer)?.report(now)
    }

    /// Since when the trainer has told the very same record.
    pub fn trainer_repeats_since(&self) -> Option<Instant> {
        self.sensor(Role::Trainer)?.repeats_since()
    }

    /// For how long the device of a role has told nothing on a link that stands.
    pub fn untold_for(&self, role: Role, now: Instant) -> Option<Span> {
        let known = self
            .known
            .iter()
            .find(|known| known.roles.contains(&role))?;
        let told = known.last_heard.filter(|_| known.state == State::Up)?;
        Some(now.since(told))
    }

    /// The greatest fresh cadence over all devices in use.
    pub fn most_cadence(&self, now: Instant) -> Option<Rpm> {
        self.in_use()
            .filter_map(|s| s.cadence(now).reading(now).fresh())
            .reduce(Rpm::max)
    }

    /// The greatest fresh power over all devices in use.
    pub fn most_power(&self, now: Instant) -> Option<Watts> {
        self.in_use()
            .filter_map(|s| s.power(now).reading(now).fresh())
            .reduce(Watts::max)
    }

    fn in_use(&self) -> impl Iterator<Item = &Sensor> {
        self.known
            .iter()
            .filter(|known| !known.roles.is_empty())
            .map(|known| &known.sensor)
    }
}
