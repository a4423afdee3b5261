//! The practice trainer: models of brake, legs, heart and meters that speak real bytes through the same seam as the
//! radio.
//!
//! Physics moves in fixed steps of 10 ms on a grid of the caller's time, only as far as it is asked about, so that the
//! stream of events is the same however often it is polled. While nothing is connected the world stands still.

pub mod bike;
pub mod brake;
pub mod config;
pub mod control;
pub mod devices;
pub mod heart;
pub mod legs;
pub mod meter;
pub mod noise;
pub mod script;
pub mod spin_down;

pub use bike::Bike;
pub use brake::{BrakeParameters, Following, Setting};
pub use config::{MANNERS, PracticeConfig, SpeedFrom, Takes, TrainerParameters};
pub use devices::{Device, HEART, METER, PREFIX, TRAINER};
pub use legs::{Intent, StandingWeight};
pub use script::Script;
pub use spin_down::SpinDownManner;

use std::collections::BTreeMap;

use crate::device::{Adapter, Backend, DeviceId, Event, Failure, Request};
use crate::gatt::heart_rate::HeartRateMeasurement;
use crate::gatt::status::SpinDownStatus;
use crate::gatt::uuid16::{CONTROL_POINT, FITNESS_MACHINE_STATUS};
use crate::gatt::{
    CrankCount, CyclingPowerMeasurement, IndoorBikeData, Resistance, ResistanceRange, Status,
    Uuid16,
};
use crate::time::{Instant, Span};
use crate::units::{Bpm, Level, Metres, MetresPerSecond, Rpm, Watts};

use control::ControlServer;
use devices::Access;

/// From a request to its answer over the air; a bare client on a bench saw 15 to 50 ms for a write.
const REPLY: Span = Span::from_millis(15);
/// From a request to connect until the link stands and its characteristics are known.
const CONNECTING: Span = Span::from_millis(250);
/// Between two advertisements of one device.
const ADVERTISING: Span = Span::from_seconds(1);
/// Between two reports of the heart strap and of the power meter.
const SENSOR_PERIOD: Span = Span::from_seconds(1);
/// ATT error: the characteristic cannot be read (Core Specification, ATT).
const READ_NOT_PERMITTED: u8 = 0x02;
/// ATT error: the characteristic cannot be written (Core Specification, ATT).
const WRITE_NOT_PERMITTED: u8 = 0x03;
/// ATT error: no such attribute, here the descriptor that turns notifications on (Core Specification, ATT).
const ATTRIBUTE_NOT_FOUND: u8 = 0x0A;

/// How many events may wait. Physics is only moved as far as the next event while it is polled, so that it fills only
/// where requests come for a quarter of an hour without a poll; then notifications are dropped, counted and reported.
const WAITING: usize = 4096;

/// What waits for its moment.
#[derive(Clone, Debug)]
enum Waiting {
    Event(Event),
    /// All devices without a link advertise, and again after a period.
    Advertise,
}

/// A link to one device.
#[derive(Clone, Debug, Default)]
struct Link {
    /// The characteristics that notify or indicate.
    subscribed: Vec<Uuid16>,
    /// When the next measurement is reported; none while nobody has subscribed to it.
    report: Option<Instant>,
}

/// The practice trainer, heart strap and power meter as a backend.
#[derive(Clone, Debug)]
pub struct Practice {
    config: PracticeConfig,
    bike: Bike,
    control: ControlServer,
    links: BTreeMap<Device, Link>,
    /// How far physics has come; none while nothing is connected.
    moved_to: Option<Instant>,
    waiting: BTreeMap<(Instant, u64), Waiting>,
    sequence: u64,
    scanning: bool,
    lost: u32,
}

impl Practice {
    /// A practice ride that has not begun.
    pub fn new(mut config: PracticeConfig) -> Self {
        config.step = config.step.max(Span::from_millis(1));
        Self {
            bike: Bike::new(&config),
            control: ControlServer::new(config.trainer),
            config,
            links: BTreeMap::new(),
            moved_to: None,
            waiting: BTreeMap::new(),
            sequence: 0,
            scanning: false,
            lost: 0,
        }
    }

    /// The truth behind the bytes, as far as physics has been moved: for tests.
    pub fn bike(&self) -> &Bike {
        &self.bike
    }

    /// Moves physics as far as `now`, to look at the truth between two events; the events stay what they were.
    pub fn move_to(&mut self, now: Instant) {
        self.advance(now);
    }

    /// Takes control of the trainer away from the program, as another program does: status FF, where it listens.
    pub fn take_control_away(&mut self, now: Instant) {
        self.advance(now);
        self.control.revoke();
        self.notify_status(now, &Status::ControlLost);
    }

    fn push(&mut self, at: Instant, what: Waiting) {
        self.sequence += 1;
        self.waiting.insert((at, self.sequence), what);
    }

    fn notify(&mut self, at: Instant, device: Device, characteristic: Uuid16, bytes: Vec<u8>) {
        if self.waiting.len() >= WAITING {
            self.lost = self.lost.saturating_add(1);
            return;
        }
        let event = Event::Notified(device.id(), characteristic, bytes);
        self.push(at, Waiting::Event(event));
    }

    fn notify_status(&mut self, at: Instant, status: &Status) {
        let listened = self
            .links
            .get(&Device::Trainer)
            .is_some_and(|link| link.subscribed.contains(&FITNESS_MACHINE_STATUS));
        if listened {
            self.notify(at, Device::Trainer, FITNESS_MACHINE_STATUS, status.encode());
        }
    }

    /// Moves physics by one step, where the step ends at or before `now`.
    fn step(&mut self, now: Instant) -> bool {
        let Some(next) = self
            .moved_to
            .map(|at| at + self.config.step)
            .filter(|at| *at <= now)
        else {
            return false;
        };
        self.bike.step();
        self.moved_to = Some(next);
        self.spin_down(next);
        for device in Device::ALL {
            let Some(link) = self.links.get_mut(&device) else {
                continue;
            };
            let Some(due) = link.report.filter(|due| *due <= next) else {
                continue;
            };
            let period = match device {
                Device::Trainer => self.config.trainer.report_period.max(self.config.step),
                Device::Heart | Device::Meter => SENSOR_PERIOD,
            };
            link.report = Some(due + period);
            let bytes = self.measure(device);
            self.notify(next, device, device.measurement(), bytes);
        }
        true
    }

    /// The trainer's own calibration goes on; the rider on it does as the trainer says.
    fn spin_down(&mut self, now: Instant) {
        let (speed, driven) = (self.bike.brake().speed(), self.bike.legs().torque() > 0.0);
        if let Some(said) = self.control.spin_down(now, speed, driven) {
            self.notify_status(now, &Status::SpinDown(said));
        }
        let coasts = self.control.is_coasting() && self.config.heeds_spin_down;
        self.bike.rest_feet(coasts);
    }

    /// The trainer asks to be calibrated, where the program listens.
    pub fn ask_for_spin_down(&mut self, now: Instant) {
        self.advance(now);
        self.notify_status(now, &Status::SpinDown(SpinDownStatus::Requested));
    }

    fn advance(&mut self, now: Instant) {
        while self.step(now) {}
    }

    /// The bytes of a device's measurement at this moment.
    fn measure(&mut self, device: Device) -> Vec<u8> {
        match device {
            Device::Trainer => {
                let cadence = Rpm(self.bike.read_trainer_cadence());
                let power = Watts(self.bike.read_trainer_power());
                let wide = matches!(
                    self.config.trainer.resistance_range,
                    ResistanceRange::Words { .. }
                );
                let resistance = match self.bike.brake().setting() {
                    Setting::Level(level) if wide => Some(Resistance::word(Level(level))),
                    Setting::Level(level) => Some(Resistance::octet(Level(level))),
                    Setting::Power(_) | Setting::Road(_) => None,
                };
                let record = IndoorBikeData {
                    resistance,
                    ..IndoorBikeData::default()
                };
                record
                    .with_speed(MetresPerSecond(self.bike.shown_speed()))
                    .with_cadence(cadence)
                    .with_distance(Metres(self.bike.distance()))
                    .with_power(power)
                    .encode()
            }
            Device::Heart => {
                // Ticks of 1/1024 s; an interval of over a minute does not come from this heart.
                let intervals = self.bike.take_intervals();
                HeartRateMeasurement {
                    intervals: intervals
                        .iter()
                        .map(|seconds| (seconds * 1024.0).round() as u16)
                        .collect(),
                    ..HeartRateMeasurement::of(Bpm(self.bike.heart().rate()))
                }
                .encode()
            }
            Device::Meter => {
                let (turns, second) = self.bike.last_turn();
                // Both wrap by their width, as the service says.
                let crank = CrankCount {
                    revolutions: (turns & 0xFFFF) as u16,
                    time: ((second * 1024.0) as u64 & 0xFFFF) as u16,
                };
                CyclingPowerMeasurement {
                    crank: Some(crank),
                    ..CyclingPowerMeasurement::of(Watts(self.bike.read_crank_power()))
                }
                .encode()
            }
        }
    }

    fn connect(&mut self, now: Instant, id: DeviceId) {
        let Some(device) = Device::at(&id) else {
            let failed = Event::ConnectFailed(id, Failure::NotFound);
            self.push(now + REPLY, Waiting::Event(failed));
            return;
        };
        self.links.entry(device).or_default();
        // The grid is that of absolute time, so that a later connection does not shift it.
        let step = self.config.step.0;
        self.moved_to.get_or_insert(Instant(now.0 - now.0 % step));
        let found = device
            .characteristics()
            .iter()
            .map(|&(service, characteristic, _)| (service, characteristic))
            .collect();
        self.push(
            now + CONNECTING,
            Waiting::Event(Event::Connected(id, found)),
        );
    }

    fn disconnect(&mut self, now: Instant, id: DeviceId) {
        if let Some(device) = Device::at(&id) {
            self.links.remove(&device);
            if device == Device::Trainer {
                // The grant goes with the link; the brake keeps what it was set to, as trainers do.
                self.control.drop_link();
            }
            if self.links.is_empty() {
                self.moved_to = None;
            }
            // The lost link is the answer to whatever was still under way.
            self.waiting.retain(
                |_, waiting| !matches!(waiting, Waiting::Event(event) if concerns(event, &id)),
            );
        }
        self.push(now + REPLY, Waiting::Event(Event::Disconnected(id)));
    }

    /// The device behind the address and what can be done with the characteristic, where the link stands.
    fn reach(&self, id: &DeviceId, characteristic: Uuid16) -> Result<(Device, Access), Failure> {
        let device = Device::at(id).ok_or(Failure::NotFound)?;
        if !self.links.contains_key(&device) {
            return Err(Failure::LinkLost);
        }
        let access = device.access(characteristic).ok_or(Failure::NotFound)?;
        Ok((device, access))
    }

    fn read(&self, id: &DeviceId, characteristic: Uuid16) -> Result<Vec<u8>, Failure> {
        let (device, _) = self.reach(id, characteristic)?;
        device
            .value(characteristic, &self.config.trainer)
            .ok_or(Failure::Att(READ_NOT_PERMITTED))
    }

    fn subscribe(
        &mut self,
        now: Instant,
        id: &DeviceId,
        characteristic: Uuid16,
    ) -> Result<(), Failure> {
        let (device, access) = self.reach(id, characteristic)?;
        if access == Access::Read {
            return Err(Failure::Att(ATTRIBUTE_NOT_FOUND));
        }
        let link = self.links.entry(device).or_default();
        if link.subscribed.contains(&characteristic) {
            return Ok(());
        }
        link.subscribed.push(characteristic);
        if characteristic == device.measurement() {
            // The first report comes at once, after the answer.
            link.report = Some(on_grid(now + REPLY, self.config.step));
            self.bike.listen();
        }
        Ok(())
    }

    fn write(
        &mut self,
        now: Instant,
        id: &DeviceId,
        characteristic: Uuid16,
        bytes: &[u8],
    ) -> Result<(), Failure> {
        let (device, access) = self.reach(id, characteristic)?;
        if access != Access::WriteIndicate {
            return Err(Failure::Att(WRITE_NOT_PERMITTED));
        }
        let indications = self
            .links
            .get(&device)
            .is_some_and(|link| link.subscribed.contains(&CONTROL_POINT));
        // An indication never overtakes the response to its write.
        let delay = self.config.trainer.answer_delay.max(REPLY);
        let answer = self
            .control
            .write(now, delay, indications, bytes)
            .map_err(Failure::Att)?;
        if let Some(setting) = answer.setting {
            self.bike.brake_mut().set(setting);
        }
        if !self.control.keeps_silent(bytes) {
            let indication = Event::Notified(id.clone(), CONTROL_POINT, answer.response.encode());
            // The response to the write is queued by the caller after this, so one tick keeps it ahead.
            self.push(now + delay + Span(1), Waiting::Event(indication));
        }
        if let Some(status) = answer.status
            && self.config.trainer.echoes_status
        {
            self.notify_status(now + delay + Span(1), &status);
        }
        Ok(())
    }

    fn scan(&mut self, now: Instant, on: bool) {
        let adapter = if on {
            Adapter::Listening
        } else {
            Adapter::Quiet
        };
        self.push(now, Waiting::Event(Event::Adapter(adapter)));
        if on && !self.scanning {
            self.push(now + REPLY, Waiting::Advertise);
        }
        if !on {
            self.waiting
                .retain(|_, waiting| !matches!(waiting, Waiting::Advertise));
        }
        self.scanning = on;
    }

    fn advertise(&mut self, at: Instant) {
        for device in Device::ALL {
            // A device that is connected does not advertise.
            if !self.links.contains_key(&device) {
                self.push(at, Waiting::Event(Event::Heard(device.advertisement())));
            }
        }
        self.push(at + ADVERTISING, Waiting::Advertise);
    }
}

/// The next moment of the physics' grid at or after `at`.
fn on_grid(at: Instant, step: Span) -> Instant {
    Instant(at.0.div_ceil(step.0).saturating_mul(step.0))
}

/// Whether an event is about a link to this device.
fn concerns(event: &Event, id: &DeviceId) -> bool {
    match event {
        Event::Connected(device, _)
        | Event::ConnectFailed(device, _)
        | Event::Disconnected(device)
        | Event::Read(device, _, _)
        | Event::Subscribed(device, _, _)
        | Event::Written(device, _, _)
        | Event::Notified(device, _, _) => device == id,
        Event::Adapter(_) | Event::Heard(_) | Event::Lost(_) => false,
    }
}

impl Backend for Practice {
    fn owns(&self, device: &DeviceId) -> bool {
        device.as_str().starts_with(PREFIX)
    }

    fn request(&mut self, now: Instant, request: Request) {
        self.advance(now);
        let answer = match request {
            Request::Scan(on) => return self.scan(now, on),
            Request::Connect(id) => return self.connect(now, id),
            Request::Disconnect(id) => return self.disconnect(now, id),
            Request::Read(id, characteristic) => {
                let value = self.read(&id, characteristic);
                Event::Read(id, characteristic, value)
            }
            Request::Subscribe(id, characteristic) => {
                let result = self.subscribe(now, &id, characteristic);
                Event::Subscribed(id, characteristic, result)
            }
            Request::Write(id, characteristic, bytes) => {
                let result = self.write(now, &id, characteristic, &bytes);
                Event::Written(id, characteristic, result)
            }
        };
        self.push(now + REPLY, Waiting::Event(answer));
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        loop {
            let first = self.waiting.first_key_value().map(|(&(at, _), _)| at);
            // What waits is next only once physics cannot put anything before it.
            let passed = |at: Instant| self.moved_to.is_none_or(|moved| at <= moved);
            if !first.is_some_and(passed) && self.step(now) {
                continue;
            }
            let at = first.filter(|at| *at <= now)?;
            if self.lost > 0 {
                let lost = std::mem::take(&mut self.lost);
                return Some((at, Event::Lost(lost)));
            }
            match self.waiting.pop_first()?.1 {
                Waiting::Event(event) => return Some((at, event)),
                Waiting::Advertise => self.advertise(at),
            }
        }
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let first = self.waiting.first_key_value().map(|(&(at, _), _)| at);
        let report = self.links.values().filter_map(|link| link.report).min();
        let due = report.map(|due| on_grid(due, self.config.step));
        first.into_iter().chain(due).min()
    }
}
