//! Whose device a quantity comes from: where that changes in a ride, its recording says so.

use super::Core;
use crate::engine::command::Role;
use crate::time::Instant;

impl Core {
    /// Notes each quantity that now comes from another device than it last did. One that only went away keeps its source:
    /// its cells are empty meanwhile.
    pub(super) fn tend_sources(&mut self, now: Instant) {
        if !self.mode.under_way() {
            return;
        }
        let told = self.links.sources(now);
        let Some(ride) = &mut self.ride else { return };
        let mut changes: Vec<(&str, Role)> = Vec::new();
        let mut look = |what, before: &mut Option<Role>, told: Option<Role>| {
            if let Some(role) = told
                && *before != Some(role)
            {
                *before = Some(role);
                changes.push((what, role));
            }
        };
        let sources = &mut ride.sources;
        look(entry!("power"), &mut sources.power, told.power);
        look(entry!("cadence"), &mut sources.cadence, told.cadence);
        look(
            entry!("heart rate"),
            &mut sources.heart_rate,
            told.heart_rate,
        );
        for (what, role) in changes {
            let device = self.links.used_for(role);
            let name = device.map(|id| self.links.name(id)).unwrap_or_default();
            let detail = kept!("{what} comes from the {role}: {name}", role = role.words());
            self.event(now, "source", &detail);
        }
    }
}
