//! What is remembered between rides and used again: devices by role, and the day on which the cautions were seen.

use super::Core;
use crate::device::DeviceId;
use crate::engine::command::Role;
use crate::engine::snapshot::DeviceRow;
use crate::time::Instant;

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
            row.known = self.is_remembered(&row.id);
        }
        rows
    }

    /// Whether a device is remembered in any role.
    fn is_remembered(&self, id: &DeviceId) -> bool {
        let mut remembered = self.memory.devices.values();
        remembered.any(|address| address == id.as_str())
    }

    /// A device is remembered no more, and is let go.
    pub(super) fn forget(&mut self, now: Instant, id: &DeviceId) {
        if self.mode.under_way() {
            return;
        }
        for role in Role::ALL {
            if self.links.used_for(role) == Some(id) {
                self.use_device(now, role, None);
            }
        }
        if self.is_remembered(id) {
            let devices = &mut self.remember().devices;
            devices.retain(|_, address| address != id.as_str());
        }
    }
}
