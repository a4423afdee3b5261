//! Which device's telling counts for which quantity.

use super::Links;
use crate::engine::command::Role;
use crate::engine::sensor::{Sensor, first_fresh};
use crate::ride::reading::Latest;
use crate::time::Instant;
use crate::units::{Bpm, MetresPerSecond, Rpm, Watts};

impl Links {
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
        first_fresh(
            now,
            [Role::Meter, Role::Trainer].map(|role| self.told(role, |s| s.power(now))),
        )
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
        let roles = [Role::Cadence, Role::Meter, Role::Trainer];
        first_fresh(now, roles.map(|role| self.told(role, |s| s.cadence(now))))
    }

    /// Heart rate: of the chosen strap, else what the trainer passes on.
    pub fn heart_rate(&self, now: Instant) -> Latest<Bpm> {
        first_fresh(
            now,
            [Role::Heart, Role::Trainer].map(|role| self.told(role, |s| s.heart_rate(now))),
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
