//! A trainer that reports cadence 0 whatever the legs do, and the power all the same: seen in the field.

use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::gatt::IndoorBikeData;
use stillroad::gatt::uuid16::INDOOR_BIKE_DATA;
use stillroad::time::Instant;
use stillroad::units::Rpm;

use crate::world::Fake;

pub struct CadenceNought(pub Fake);

impl Backend for CadenceNought {
    fn owns(&self, device: &DeviceId) -> bool {
        self.0.owns(device)
    }

    fn request(&mut self, now: Instant, request: Request) {
        self.0.request(now, request);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        let (at, event) = self.0.poll_event(now)?;
        let event = match event {
            Event::Notified(id, what, bytes) if what == INDOOR_BIKE_DATA => {
                let record = IndoorBikeData::decode(&bytes).unwrap();
                Event::Notified(id, what, record.with_cadence(Rpm(0.0)).encode())
            }
            event => event,
        };
        Some((at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        self.0.poll_timeout()
    }
}
