//! What is remembered between rides and used again: devices by role, and the day on which the cautions were seen.

use super::{Core, Load};
use crate::device::DeviceId;
use crate::engine::command::Role;
use crate::engine::roles;
use crate::engine::snapshot::DeviceRow;
use crate::gatt::Uuid16;
use crate::ride::Mode;
use crate::time::{Instant, Span};

/// A model is taken by itself only after listening for so long without hearing a machine that can do the same: machines
/// advertise several times a second.
const MACHINES_FIRST: Span = Span::from_seconds(4);

impl Core {
    /// The rider's day, as `2026-11-24`. The wall clock and the zone say so, not a clock of the core's own.
    fn day(&self, now: Instant) -> String {
        let local = self
            .utc_ms(now)
            .saturating_add(i64::from(self.zone_s) * 1_000);
        let local = jiff::Timestamp::from_millisecond(local).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        let day = jiff::tz::TimeZone::UTC.to_datetime(local).date();
        day.to_string()
    }

    /// The rider saw the cautions and took them.
    pub(super) fn cautions_seen(&mut self, now: Instant) {
        let day = self.day(now);
        if self.memory.cautions_seen.as_ref() != Some(&day) {
            self.remember().cautions_seen = Some(day);
        }
    }

    /// Whether that was on this day. A day that lies ahead is of a clock that was wrong, and does not count.
    pub(super) fn cautions_are_seen(&self, now: Instant) -> bool {
        let seen = self.memory.cautions_seen.as_ref();
        seen.is_some_and(|seen| *seen == self.day(now))
    }

    /// The devices as Prepare lists them.
    pub(super) fn device_rows(&self, now: Instant) -> Vec<DeviceRow> {
        let mut rows = self.links.rows(now);
        for row in &mut rows {
            row.known = Role::ALL.iter().any(|role| {
                self.remembered(*role).as_ref() == Some(&row.id) && row.can.contains(&role.kind())
            });
        }
        rows
    }

    /// The services that earlier rides found on a device.
    pub(super) fn remembered_services(&self, id: &DeviceId) -> Vec<Uuid16> {
        let found = self.memory.services.get(id.as_str());
        let number = |text: &String| u16::from_str_radix(text, 16).ok().map(Uuid16);
        found.into_iter().flatten().filter_map(number).collect()
    }

    /// The device remembered for a role.
    fn remembered(&self, role: Role) -> Option<DeviceId> {
        self.memory.devices.get(role.key()).map(DeviceId::new)
    }

    /// A device is remembered no more, and is let go.
    pub(super) fn forget(&mut self, now: Instant, id: &DeviceId) {
        if self.mode.under_way() {
            return;
        }
        for role in Role::ALL {
            if self.links.used_for(role) == Some(id) {
                self.chosen.insert(role);
                self.use_device(now, role, None);
            }
        }
        if self.memory.knows(id.as_str()) {
            self.remember().forget(id.as_str());
        }
        if self.memory.holds(id.as_str()) {
            self.remember().unmark_held(id.as_str());
        }
        self.left_held.retain(|held| held != id);
        self.usual_trainer = self.usual_trainer.take().filter(|usual| usual != id);
    }

    /// Remembers the devices that are in use, and before a ride takes those that are remembered.
    pub(super) fn tend_known(&mut self, now: Instant) {
        if self.closing.is_some() {
            return;
        }
        for role in Role::ALL {
            self.keep_known(role);
        }
        if matches!(self.mode, Mode::Idle | Mode::Connecting | Mode::Ready) {
            self.take_left_held(now);
            for role in Role::ALL {
                self.take_known(now, role);
            }
        }
    }

    /// A device that was set up in a role is remembered for it. A model never takes the place of a machine.
    fn keep_known(&mut self, role: Role) {
        let Some(id) = self.links.used_for(role) else {
            return;
        };
        if !self.links.is_up(id) || self.links.refuses(role, id).is_some() {
            return;
        }
        let id = id.clone();
        let found = self.links.found(&id);
        let before = self.remembered(role);
        let same = before.as_ref() == Some(&id);
        if same && self.memory.services.get(id.as_str()) == Some(&found) {
            return;
        }
        let model_before = before.is_none_or(|before| self.links.is_simulated(&before));
        if !same && self.links.is_simulated(&id) && !model_before {
            return;
        }
        let memory = self.remember();
        // It stands in for itself in no other role of its kind.
        for other in Role::ALL {
            if other.kind() == role.kind()
                && memory.devices.get(other.key()) == Some(&id.to_string())
            {
                memory.devices.remove(other.key());
            }
        }
        memory.devices.insert(role.key().to_owned(), id.to_string());
        memory.services.insert(id.to_string(), found);
        let used: Vec<_> = memory.devices.values().cloned().collect();
        memory.services.retain(|address, _| used.contains(address));
    }

    /// A remembered device that is heard and can do its role is used for it, unless the rider has chosen otherwise.
    fn take_known(&mut self, now: Instant, role: Role) {
        if self.chosen.contains(&role) || self.links.used_for(role).is_some() {
            return;
        }
        let Some(id) = self.remembered(role) else {
            return;
        };
        let elsewhere = Role::ALL
            .into_iter()
            .any(|other| other.kind() == role.kind() && self.links.used_for(other) == Some(&id));
        if elsewhere
            || !self.links.can(&id).contains(&role.kind())
            || !self.may_be_taken(now, role, &id)
        {
            return;
        }
        self.use_device(now, role, Some(&id));
    }

    /// Whether a remembered device may be taken now: one in use in another role may; a model only where nothing points
    /// to a machine, since a model's figures in a real ride would be a lie.
    fn may_be_taken(&self, now: Instant, role: Role, id: &DeviceId) -> bool {
        if !self.links.is_up(id) && !self.links.can_be_had(id) {
            return false;
        }
        if !self.links.is_simulated(id) {
            return true;
        }
        let remembered = self.memory.devices.values().map(DeviceId::new);
        let models_only = remembered
            .chain(
                Role::ALL
                    .into_iter()
                    .filter_map(|role| self.links.used_for(role).cloned()),
            )
            .all(|id| self.links.is_simulated(&id));
        models_only
            && !self.links.any_real(role)
            && !self.links.any_real(Role::Trainer)
            && self.links.heard_for(now, id, MACHINES_FIRST)
    }

    /// A link stands: a device that has other services than it is remembered by, or than on its last link, is new. What
    /// was taken by itself is let go, and so is what the rider chose as long as it was another; where that is the trainer
    /// of a ride, the mark of its load stays for the one whose it is.
    pub(super) fn recognise(
        &mut self,
        now: Instant,
        id: &DeviceId,
        characteristics: &[(Uuid16, Uuid16)],
    ) {
        let found = roles::telling(characteristics.iter().map(|&(service, _)| service));
        let found: Vec<_> = found.iter().map(Uuid16::to_string).collect();
        if found.is_empty() || !self.links.is_being_made(id) {
            // Nothing was found, which the links know to doubt; or this tells of a link that stood before.
            return;
        }
        let other = |before: &Vec<String>| !before.is_empty() && *before != found;
        let since_its_last_link = other(&self.links.found(id));
        let since_it_was_remembered = self.memory.services.get(id.as_str()).is_some_and(other);
        if !since_its_last_link && !since_it_was_remembered {
            return;
        }
        if self.memory.knows(id.as_str()) {
            self.remember().forget(id.as_str());
        }
        // A stranger is not taken to be let go either; the mark stays for the trainer whose it is.
        self.left_held.retain(|held| held != id);
        let taken: Vec<_> = Role::ALL
            .into_iter()
            .filter(|role| self.links.used_for(*role) == Some(id))
            .filter(|role| since_its_last_link || !self.chosen.contains(role))
            .collect();
        if taken.is_empty() {
            return;
        }
        let name = self.links.name(id);
        let sentence = if !since_its_last_link {
            kept!(
                "{name} is not what it was when it was last used: it has other services. It was not taken; choose it if it \
                 is yours."
            )
        } else if self.mode.under_way() {
            kept!(
                "{name} is not what it was before its link was lost: it has other services, and is not used any more. If it \
                 is yours, use it again: that is among the choices."
            )
        } else {
            kept!(
                "{name} is not what it was before its link was lost: it has other services, and is not used any more. \
                 Choose it again if it is yours."
            )
        };
        let load = self.load;
        self.links.found_anew(id, characteristics);
        for &role in &taken {
            self.use_device(now, role, None);
        }
        if self.mode.under_way() {
            self.changed
                .extend(taken.into_iter().map(|role| (role, id.clone())));
        }
        if load != Load::Off {
            self.load = Load::Doubtful;
        }
        self.event(now, "unusable", &sentence);
        self.say(now, sentence);
    }

    /// A device is set up: before a ride it keeps only the roles that it has something for, and the rider is told of the
    /// others. False where none is left.
    pub(super) fn keep_to_what_it_gives(&mut self, now: Instant, id: &DeviceId) -> bool {
        if self.mode.under_way() {
            return true;
        }
        for role in Role::ALL {
            if self.links.used_for(role) == Some(id)
                && let Some(why) = self.links.refuses(role, id)
            {
                self.use_device(now, role, None);
                self.event(now, "unusable", &why);
                self.say(now, why);
            }
        }
        let mut roles = Role::ALL.into_iter();
        roles.any(|role| self.links.used_for(role) == Some(id))
    }
}
