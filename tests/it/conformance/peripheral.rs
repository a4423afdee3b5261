//! An emulated peripheral in octets: what it has, what it says when it is read or written to, and what the test makes it
//! notify. It knows nothing of the program's codecs.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard};

use stillroad::device::{Advertisement, Backend, DeviceId, Event, Failure, Request};
use stillroad::engine::input::Input;
use stillroad::engine::snapshot::DeviceRow;
use stillroad::engine::{Command, Role};
use stillroad::gatt::Uuid16;
use stillroad::plan::Plan;
use stillroad::ride::RideMode;
use stillroad::rider::Rider;
use stillroad::time::{Instant, Span};

use crate::gatt::octets;
use crate::world::{Ride, session, tap};

pub const FEATURE: u16 = 0x2ACC;
pub const BIKE_DATA: u16 = 0x2AD2;
pub const TRAINING_STATUS: u16 = 0x2AD3;
pub const LEVEL_RANGE: u16 = 0x2AD6;
pub const POWER_RANGE: u16 = 0x2AD8;
pub const CONTROL_POINT: u16 = 0x2AD9;
pub const STATUS: u16 = 0x2ADA;

/// From a request to its answer, and from the write response to the indication.
const REPLY: Span = Span::from_millis(20);
/// Between two reports.
const REPORTS: Span = Span::from_millis(430);

/// What it is and does; a test may change it at any time.
#[derive(Debug)]
pub struct State {
    /// Pairs of service and characteristic, in the order of discovery.
    pub has: Vec<(u16, u16)>,
    /// What a read gives; an ATT error where nothing stands here.
    pub values: BTreeMap<u16, Vec<u8>>,
    /// The indication that answers an op; `80 op 01` where nothing stands here.
    pub answers: BTreeMap<u8, Vec<u8>>,
    /// The ATT error of the next writes, first come first served.
    pub write_errors: Vec<u8>,
    /// Nothing is answered but by the write response.
    pub silent: bool,
    /// The record of Indoor Bike Data that is sent over and over; nothing where it is empty.
    pub report: Vec<u8>,
    /// Links cannot be made.
    pub away: bool,
    linked: bool,
    queue: BTreeMap<(Instant, u64), Event>,
    number: u64,
    next_report: Option<Instant>,
}

/// A handle on it: the backend itself, and the test's hand.
#[derive(Clone, Debug)]
pub struct Peripheral(Arc<Mutex<State>>);

/// Its name at the seam.
pub fn id() -> DeviceId {
    DeviceId::new("fake:peripheral")
}

impl Peripheral {
    /// A trainer that takes power (0 to 1000 W by 1), levels (1.0 to 20.0 by 0.1) and slopes, and reports 32.25 km/h, 85 rpm
    /// and 100 W.
    pub fn trainer() -> Self {
        let has = [
            FEATURE,
            BIKE_DATA,
            TRAINING_STATUS,
            LEVEL_RANGE,
            POWER_RANGE,
            CONTROL_POINT,
            STATUS,
        ];
        let values = [
            (FEATURE, "024000000c200000"),
            (LEVEL_RANGE, "0ac801"),
            (POWER_RANGE, "0000e8030100"),
        ];
        let trainer = Self::having(&has.map(|found| (0x1826, found)));
        let mut state = trainer.state();
        state.values = values.map(|(of, hex)| (of, octets(hex))).into();
        state.report = octets("4400990caa006400");
        drop(state);
        trainer
    }

    /// A device with these characteristics, which reads nothing and reports nothing.
    pub fn having(has: &[(u16, u16)]) -> Self {
        Self(Arc::new(Mutex::new(State {
            has: has.to_vec(),
            values: BTreeMap::new(),
            answers: BTreeMap::new(),
            write_errors: Vec::new(),
            silent: false,
            report: Vec::new(),
            away: false,
            linked: false,
            queue: BTreeMap::new(),
            number: 0,
            next_report: None,
        })))
    }

    pub fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap()
    }

    /// It no longer has a characteristic.
    pub fn without(self, characteristic: u16) -> Self {
        self.state()
            .has
            .retain(|&(_, found)| found != characteristic);
        self
    }

    /// A read of a characteristic gives this.
    pub fn reading(self, characteristic: u16, hex: &str) -> Self {
        self.state().values.insert(characteristic, octets(hex));
        self
    }

    /// Sends a notification or an indication now, and lets it arrive.
    pub fn notify(&self, ride: &mut Ride, characteristic: u16, hex: &str) {
        let event = Event::Notified(id(), Uuid16(characteristic), octets(hex));
        self.state().push(ride.now(), event);
        ride.pass(0.0);
    }

    /// The link breaks now.
    pub fn drop_link(&self, ride: &mut Ride) {
        let mut state = self.state();
        state.unlink();
        state.push(ride.now(), Event::Disconnected(id()));
        drop(state);
        ride.pass(0.0);
    }
}

impl State {
    fn push(&mut self, at: Instant, event: Event) {
        self.number += 1;
        self.queue.insert((at, self.number), event);
    }

    fn unlink(&mut self) {
        self.linked = false;
        self.next_report = None;
        self.queue.clear();
    }

    fn write(&mut self, now: Instant, what: Uuid16, bytes: &[u8]) -> Result<(), Failure> {
        if !self.write_errors.is_empty() {
            return Err(Failure::Att(self.write_errors.remove(0)));
        }
        let op = bytes.first().copied().unwrap_or_default();
        let usual = vec![0x80, op, 0x01];
        let answer = self.answers.get(&op).cloned().unwrap_or(usual);
        if !self.silent {
            let event = Event::Notified(id(), what, answer);
            self.push(now + REPLY + REPLY, event);
        }
        Ok(())
    }
}

impl Backend for Peripheral {
    fn owns(&self, device: &DeviceId) -> bool {
        *device == id()
    }

    fn request(&mut self, now: Instant, request: Request) {
        let mut state = self.state();
        let lost = || Err(Failure::LinkLost);
        let answer = match request {
            Request::Scan(_) => return,
            Request::Connect(id) if state.away => Event::ConnectFailed(id, Failure::NotFound),
            Request::Connect(id) => {
                state.linked = true;
                let has = state
                    .has
                    .iter()
                    .map(|&(service, found)| (Uuid16(service), Uuid16(found)));
                Event::Connected(id, has.collect())
            }
            Request::Disconnect(id) => {
                state.unlink();
                Event::Disconnected(id)
            }
            Request::Read(id, what) => {
                // Error 02: read not permitted (Core Specification, volume 3, part F, 3.4.1.1).
                let value = state.values.get(&what.0).cloned().ok_or(Failure::Att(0x02));
                Event::Read(
                    id,
                    what,
                    if state.linked {
                        value
                    } else {
                        Err(Failure::LinkLost)
                    },
                )
            }
            Request::Subscribe(id, what) if state.linked => {
                if what.0 == BIKE_DATA {
                    state.next_report = Some(now + REPORTS);
                }
                Event::Subscribed(id, what, Ok(()))
            }
            Request::Subscribe(id, what) => Event::Subscribed(id, what, lost()),
            Request::Write(id, what, bytes) if state.linked => {
                let outcome = state.write(now, what, &bytes);
                Event::Written(id, what, outcome)
            }
            Request::Write(id, what, _) => Event::Written(id, what, lost()),
        };
        state.push(now + REPLY, answer);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        let mut state = self.state();
        while let Some(due) = state.next_report.filter(|due| *due <= now) {
            state.next_report = Some(due + REPORTS);
            if !state.report.is_empty() {
                let record = Event::Notified(id(), Uuid16(BIKE_DATA), state.report.clone());
                state.push(due, record);
            }
        }
        let first = *state.queue.first_key_value()?.0;
        if first.0 > now {
            return None;
        }
        state.queue.pop_first().map(|((at, _), event)| (at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let state = self.state();
        let first = state.queue.first_key_value().map(|((at, _), _)| *at);
        first.into_iter().chain(state.next_report).min()
    }
}

/// Twenty minutes of 150 W.
pub fn hold() -> Arc<Plan> {
    session("[[block]]\nkind = \"hold\"\ntime = \"20:00\"\nwatts = 150\n")
}

/// The program with this peripheral in reach and a session chosen; it uses nothing yet.
pub fn beside(peripheral: &Peripheral) -> Ride {
    let mut ride = Ride::new(vec![tap(peripheral.clone())]);
    ride.choose(&hold(), &crate::world::rider(), RideMode::TargetPower);
    ride
}

/// Used in a role, and five seconds later.
pub fn using(peripheral: &Peripheral, role: Role) -> Ride {
    let mut ride = beside(peripheral);
    ride.command(Command::Use(role, Some(id())));
    ride.to(5.0);
    ride
}

/// Ridden for thirty seconds: the 150 W stand.
pub fn riding(peripheral: &Peripheral) -> Ride {
    let mut ride = using(peripheral, Role::Trainer);
    ride.command(Command::Start);
    ride.to(35.0);
    ride
}

/// A ride of another session by another rider, begun.
pub fn riding_of(peripheral: &Peripheral, plan: &Arc<Plan>, rider: &Rider, mode: RideMode) -> Ride {
    let mut ride = Ride::new(vec![tap(peripheral.clone())]);
    ride.choose(plan, rider, mode);
    ride.command(Command::Use(Role::Trainer, Some(id())));
    ride.start();
    ride
}

/// It advertises.
pub fn heard(ride: &mut Ride, services: &[u16], machine_data: Option<&str>) {
    ride.input(Input::Device(Event::Heard(Advertisement {
        device: id(),
        name: Some("Rig".to_owned()),
        services: services.iter().map(|&service| Uuid16(service)).collect(),
        machine_data: machine_data.map(octets),
        rssi: Some(-60),
        simulated: false,
    })));
}

/// How the program lists it.
pub fn row(ride: &Ride) -> DeviceRow {
    let devices = ride.snapshot().devices.clone();
    devices
        .iter()
        .find(|row| row.id == id())
        .cloned()
        .expect("it is listed")
}

/// What was asked of it, in short words: `connect`, `read 2acc`, `subscribe 2ad2`, `write 05c800`, `disconnect`.
pub fn asked(ride: &Ride) -> Vec<String> {
    asked_since(ride, Instant::ZERO)
}

/// The same from a moment on.
pub fn asked_since(ride: &Ride, from: Instant) -> Vec<String> {
    let requests = ride.requests().into_iter().filter(|(at, _)| *at >= from);
    requests.map(|(_, request)| in_short(&request)).collect()
}

fn in_short(request: &Request) -> String {
    match request {
        Request::Scan(_) => "scan".to_owned(),
        Request::Connect(_) => "connect".to_owned(),
        Request::Disconnect(_) => "disconnect".to_owned(),
        Request::Read(_, what) => format!("read {:04x}", what.0),
        Request::Subscribe(_, what) => format!("subscribe {:04x}", what.0),
        Request::Write(_, _, bytes) => {
            let hex: String = bytes.iter().map(|octet| format!("{octet:02x}")).collect();
            format!("write {hex}")
        }
    }
}

/// The writes among them, in hexadecimal digits.
pub fn writes_since(ride: &Ride, from: Instant) -> Vec<String> {
    let asked = asked_since(ride, from);
    asked
        .iter()
        .filter_map(|word| word.strip_prefix("write "))
        .map(str::to_owned)
        .collect()
}
