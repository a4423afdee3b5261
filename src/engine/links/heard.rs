//! What is heard on the air, and which devices are known.

use super::{Known, Links, MOST_DEVICES, MachineValues, State};
use crate::device::name::safe_name;
use crate::device::{Advertisement, DeviceId};
use crate::engine::sensor::Sensor;
use crate::gatt::MachineAdvertisement;
use crate::time::Instant;

impl Links {
    /// Takes what was heard on the air.
    pub fn heard(&mut self, now: Instant, heard: Advertisement) {
        let known = self.entry(&heard.device);
        known.last_heard = Some(now);
        known.first_heard.get_or_insert(now);
        if let Some(name) = heard.name {
            known.name = safe_name(&name);
        }
        for service in heard.services {
            // A device lists few services; a stranger's long list is cut.
            if known.services.len() < 16 && !known.services.contains(&service) {
                known.services.push(service);
            }
        }
        if let Some(data) = heard.machine_data {
            // Too short to be read: harmless, and as good as none.
            known.machine = MachineAdvertisement::decode(&data).ok();
        }
        known.rssi = heard.rssi.or(known.rssi);
        known.simulated |= heard.simulated;
    }

    pub(super) fn entry(&mut self, id: &DeviceId) -> &mut Known {
        let at = match self.known.iter().position(|known| known.id == *id) {
            Some(at) => at,
            None => {
                if self.known.len() >= MOST_DEVICES {
                    self.make_room();
                }
                self.known.push(Known {
                    id: id.clone(),
                    name: safe_name(id.as_str()),
                    services: Vec::new(),
                    machine: None,
                    rssi: None,
                    simulated: false,
                    last_heard: None,
                    roles: Vec::new(),
                    state: State::Idle,
                    attempts: 0,
                    values: MachineValues::default(),
                    sensor: Sensor::default(),
                    characteristics: Vec::new(),
                    found: None,
                    first_heard: None,
                    asked: Vec::new(),
                    expected: Vec::new(),
                    was_up: false,
                    rediscovered: 0,
                    control_again: None,
                });
                self.known.len() - 1
            }
        };
        &mut self.known[at]
    }

    fn make_room(&mut self) {
        let idle = |known: &&Known| known.roles.is_empty() && known.state == State::Idle;
        let oldest = self
            .known
            .iter()
            .filter(idle)
            .min_by_key(|known| known.last_heard)
            .map(|known| known.id.clone());
        if let Some(oldest) = oldest {
            self.known.retain(|known| known.id != oldest);
        }
    }
}
