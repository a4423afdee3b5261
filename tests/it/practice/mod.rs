//! The practice trainer, ridden through the seam by nothing but bytes.

mod riding;
mod seam;

use stillroad::device::practice::{HEART, METER, Practice, PracticeConfig, TRAINER};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::gatt::control_point::Request as Ask;
use stillroad::gatt::uuid16::{
    CONTROL_POINT, CYCLING_POWER_MEASUREMENT, FITNESS_MACHINE_STATUS, HEART_RATE_MEASUREMENT,
    INDOOR_BIKE_DATA,
};
use stillroad::gatt::{IndoorBikeData, Uuid16};
use stillroad::time::{Instant, Span};
use stillroad::units::{Joules, Watts};

/// One program with one practice ride, in a time of its own.
struct Rig {
    practice: Practice,
    now: Instant,
    events: Vec<(Instant, Event)>,
}

/// One decoded record of the trainer.
#[derive(Clone, Copy, Debug)]
struct Ridden {
    second: f64,
    kmh: f64,
    rpm: f64,
    watts: f64,
}

impl Rig {
    /// Nothing connected.
    fn new(config: PracticeConfig) -> Self {
        Self {
            practice: Practice::new(config),
            now: Instant::ZERO,
            events: Vec::new(),
        }
    }

    /// All three devices connected and listened to, and control of the brake granted, within the first second.
    fn riding(config: PracticeConfig) -> Self {
        let mut rig = Self::new(config);
        for (device, characteristics) in [
            (
                TRAINER,
                &[INDOOR_BIKE_DATA, CONTROL_POINT, FITNESS_MACHINE_STATUS][..],
            ),
            (HEART, &[HEART_RATE_MEASUREMENT]),
            (METER, &[CYCLING_POWER_MEASUREMENT]),
        ] {
            rig.ask(Request::Connect(DeviceId::new(device)));
            for &characteristic in characteristics {
                rig.ask(Request::Subscribe(DeviceId::new(device), characteristic));
            }
        }
        rig.write(&Ask::RequestControl);
        rig.run_to(1.0);
        rig
    }

    fn ask(&mut self, request: Request) {
        self.practice.request(self.now, request);
    }

    fn write(&mut self, ask: &Ask) {
        self.ask(Request::Write(
            DeviceId::new(TRAINER),
            CONTROL_POINT,
            ask.encode(),
        ));
    }

    /// On to a moment, woken only when the backend asks to be.
    fn run_to(&mut self, second: f64) {
        let end = Instant(Span::from_seconds_f64(second).0);
        while let Some(due) = self.practice.poll_timeout().filter(|due| *due <= end) {
            self.now = self.now.max(due);
            while let Some(event) = self.practice.poll_event(self.now) {
                self.events.push(event);
            }
        }
        self.now = end;
        while let Some(event) = self.practice.poll_event(self.now) {
            self.events.push(event);
        }
    }

    fn seconds(&self) -> f64 {
        self.now.seconds()
    }

    /// The values that one characteristic notified or indicated.
    fn notified(&self, characteristic: Uuid16) -> impl Iterator<Item = (Instant, &[u8])> {
        self.events
            .iter()
            .filter_map(move |(at, event)| match event {
                Event::Notified(_, uuid, bytes) if *uuid == characteristic => {
                    Some((*at, bytes.as_slice()))
                }
                _ => None,
            })
    }

    fn ridden(&self) -> Vec<Ridden> {
        self.notified(INDOOR_BIKE_DATA)
            .map(|(at, bytes)| {
                let record = IndoorBikeData::decode(bytes).unwrap();
                Ridden {
                    second: at.seconds(),
                    kmh: record.speed().unwrap().kmh(),
                    rpm: record.cadence().unwrap().0,
                    watts: record.power().unwrap().0,
                }
            })
            .collect()
    }

    /// The means of the last `seconds` of the ride.
    fn lately(&self, seconds: f64) -> Ridden {
        let from = self.seconds() - seconds;
        let records: Vec<_> = self
            .ridden()
            .into_iter()
            .filter(|record| record.second > from)
            .collect();
        let mean =
            |of: fn(&Ridden) -> f64| records.iter().map(of).sum::<f64>() / records.len() as f64;
        Ridden {
            second: self.seconds(),
            kmh: mean(|r| r.kmh),
            rpm: mean(|r| r.rpm),
            watts: mean(|r| r.watts),
        }
    }
}

fn quiet() -> PracticeConfig {
    PracticeConfig::for_critical_power(Watts(250.0), Joules(20_000.0)).noiseless()
}
