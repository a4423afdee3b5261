//! A device as Prepare lists it: what it could be used for, how its link stands, what it tells.

use super::{Known, State};
use crate::engine::command::Role;
use crate::engine::snapshot::{DeviceRow, Link};
use crate::gatt::{MachineAdvertisement, Uuid16, uuid16};
use crate::time::Instant;

impl Known {
    pub(super) fn row(&self, now: Instant) -> DeviceRow {
        let link = match &self.state {
            State::Idle | State::Closing => match self.why_not() {
                Some(why) => Link::Unusable(why.to_owned()),
                None => Link::Heard,
            },
            State::Connecting { .. } | State::SettingUp { .. } => Link::Connecting,
            State::Up => Link::Connected,
            State::Waiting { .. } => Link::Lost,
            State::Unusable(why) => Link::Unusable(why.clone()),
        };
        let mut live = Vec::new();
        if let Some(power) = self.sensor.power(now).reading(now).fresh() {
            live.push(power.to_string());
        }
        if let Some(cadence) = self.sensor.cadence(now).reading(now).fresh() {
            live.push(cadence.to_string());
        }
        if let Some(heart_rate) = self.sensor.heart_rate(now).reading(now).fresh() {
            live.push(heart_rate.to_string());
        }
        DeviceRow {
            id: self.id.clone(),
            name: self.name.clone(),
            can: roles_of(&self.services, self.machine.as_ref()),
            used_for: self.roles.clone(),
            link,
            battery: self.sensor.battery,
            rssi: self.rssi,
            last_heard: self.last_heard,
            live: live.join(", "),
            bad_records: self.sensor.bad_records,
            simulated: self.simulated,
        }
    }

    fn why_not(&self) -> Option<&'static str> {
        let machine = self.machine.as_ref()?;
        if !machine.is_indoor_bike() {
            Some("It is a fitness machine of another kind, not a bicycle trainer.")
        } else if !machine.is_available() {
            Some(
                "It says that it is busy with another program. Close that program, or switch the trainer off and on.",
            )
        } else {
            None
        }
    }
}

/// What a device could be used for, by what it advertises.
pub fn roles_of(services: &[Uuid16], machine: Option<&MachineAdvertisement>) -> Vec<Role> {
    let has = |service| services.contains(&service);
    let mut roles = Vec::new();
    if (has(uuid16::FITNESS_MACHINE) || machine.is_some())
        && machine.is_none_or(|machine| machine.is_indoor_bike())
    {
        roles.push(Role::Trainer);
    }
    if has(uuid16::CYCLING_POWER) {
        roles.push(Role::Meter);
    }
    if has(uuid16::SPEED_AND_CADENCE) || has(uuid16::CYCLING_POWER) {
        roles.push(Role::Cadence);
    }
    if has(uuid16::HEART_RATE) {
        roles.push(Role::Heart);
    }
    roles
}
