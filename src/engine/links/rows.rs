//! A device as Prepare lists it: what it could be used for, how its link stands, what it tells.

use super::{Known, State};
use crate::engine::roles;
use crate::engine::snapshot::{DeviceRow, Link};
use crate::time::Instant;

impl Known {
    pub(super) fn row(&self, now: Instant) -> DeviceRow {
        let link = match &self.state {
            State::Closing if !self.roles.is_empty() => Link::Lost,
            State::Idle | State::Closing => {
                roles::in_the_way(self.machine).map_or(Link::Heard, Link::Unusable)
            }
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
            can: roles::roles_of(&self.services, self.machine),
            used_for: self.roles.clone(),
            link,
            battery: self.sensor.battery,
            rssi: self.rssi,
            last_heard: self.last_heard,
            live: live.join(", "),
            bad_records: self.sensor.bad_records,
            simulated: self.simulated,
            // The core knows what is remembered.
            known: false,
        }
    }
}
