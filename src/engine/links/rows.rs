//! A device as Prepare lists it: what it could be used for, how its link stands, what it tells.

use super::setup::{gives_something, not_usable};
use super::{Known, Links, State};
use crate::device::DeviceId;
use crate::device::name;
use crate::engine::command::Role;
use crate::engine::roles;
use crate::engine::snapshot::{DeviceRow, Link};
use crate::gatt::Uuid16;
use crate::time::{Instant, Span};

impl Links {
    /// The devices as Prepare lists them; those of the same name are told apart.
    pub fn rows(&self, now: Instant) -> Vec<DeviceRow> {
        let mut rows: Vec<DeviceRow> = self.known.iter().map(|known| known.row(now)).collect();
        let names: Vec<_> = rows
            .iter()
            .map(|row| (row.name.as_str(), row.id.as_str()))
            .collect();
        let apart = name::told_apart(&names);
        for (row, name) in rows.iter_mut().zip(apart) {
            row.name = name;
        }
        rows
    }

    /// What a device can be used for, or may be where it tells only its name.
    pub fn can(&self, id: &DeviceId) -> Vec<Role> {
        self.get(id).map(Known::can).unwrap_or_default()
    }

    /// Why a connected device cannot fill a role, in a sentence, by what was found on it.
    pub fn refuses(&self, role: Role, id: &DeviceId) -> Option<String> {
        let known = self.get(id)?;
        let looked_at = matches!(known.state, State::SettingUp { .. } | State::Up);
        let gives = gives_something(&[role], |found| known.has(found));
        (looked_at && !gives).then(|| not_usable(&[role], &known.name))
    }

    /// Whether a device was heard on the air and nothing that it told stands in the way of connecting it.
    pub fn can_be_had(&self, id: &DeviceId) -> bool {
        self.get(id).is_some_and(|known| {
            known.first_heard.is_some()
                && known.state == State::Idle
                && roles::in_the_way(known.machine).is_none()
        })
    }

    /// Whether a device has been heard for so long, counted from the first time.
    pub fn heard_for(&self, now: Instant, id: &DeviceId, span: Span) -> bool {
        let first = self.get(id).and_then(|known| known.first_heard);
        first.is_some_and(|first| now.since(first) >= span)
    }

    /// Whether any machine, and not a model, said by its services that it can fill a role.
    pub fn any_real(&self, role: Role) -> bool {
        let mut known = self.known.iter();
        known.any(|known| {
            !known.simulated && !known.only_named() && known.can().contains(&role.kind())
        })
    }

    /// The services that tell what a device is, as found on its link, as they are remembered.
    pub fn found(&self, id: &DeviceId) -> Vec<String> {
        let found = self.get(id).and_then(|known| known.found.as_ref());
        found.into_iter().flatten().map(Uuid16::to_string).collect()
    }
}

impl Known {
    /// Whether all that is known of it is its name: it may be anything.
    fn only_named(&self) -> bool {
        self.first_heard.is_some()
            && self.found.is_none()
            && self.services.is_empty()
            && self.machine.is_none()
    }

    fn can(&self) -> Vec<Role> {
        if self.only_named() {
            return Role::ALL
                .into_iter()
                .filter(|role| role.kind() == *role)
                .collect();
        }
        let services = self.found.as_ref().unwrap_or(&self.services);
        roles::roles_of(services, self.machine)
    }

    pub(super) fn row(&self, now: Instant) -> DeviceRow {
        let link = match &self.state {
            State::Closing { .. } if !self.roles.is_empty() => Link::Lost,
            State::Idle | State::Closing { .. } => {
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
            can: self.can(),
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
