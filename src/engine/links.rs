//! Every device that is known, and the links to those in use: connecting, setting up, losing, trying again.

use std::collections::VecDeque;

use crate::device::name::safe_name;
use crate::device::{Advertisement, DeviceId, Event, Failure, Request};
use crate::engine::command::Role;
use crate::engine::sensor::{Sensor, first_fresh};
use crate::engine::snapshot::{DeviceRow, Link};
use crate::gatt::{MachineAdvertisement, Uuid16, uuid16};
use crate::ride::reading::Latest;
use crate::time::{Instant, Span};
use crate::units::{Bpm, MetresPerSecond, Rpm, Watts};

/// At most so many devices are listed; the one heard longest ago that is not in use makes room.
const MOST_DEVICES: usize = 64;

/// A backend answers sooner; this is for one that does not.
const CONNECT_DEADLINE: Span = Span::from_seconds(45);
const STEP_DEADLINE: Span = Span::from_seconds(15);

/// Pauses between tries to connect, seconds; the last one is repeated.
const RETRY_AFTER: [u64; 6] = [1, 2, 4, 8, 15, 30];

/// One step of setting up a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    Read(Uuid16),
    Subscribe(Uuid16),
}

#[derive(Clone, Debug, PartialEq)]
enum State {
    /// Not asked for.
    Idle,
    Connecting {
        deadline: Instant,
    },
    SettingUp {
        step: Step,
        rest: VecDeque<Step>,
        deadline: Instant,
    },
    Up,
    /// Lost or failed; the next try is due then.
    Waiting {
        retry_at: Instant,
    },
    /// Being closed: nothing uses it any more, or it is to be made again.
    Closing,
    /// It cannot be used, and why.
    Unusable(String),
}

/// The raw values read while a trainer's link was set up.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MachineValues {
    /// Fitness Machine Feature.
    pub feature: Option<Vec<u8>>,
    /// Supported Power Range.
    pub power_range: Option<Vec<u8>>,
    /// Supported Resistance Level Range.
    pub resistance_range: Option<Vec<u8>>,
    /// Whether there is a control point whose indications are on.
    pub control: bool,
}

/// What the links tell the core.
#[derive(Clone, Debug, PartialEq)]
pub enum LinkEvent {
    /// A device in use is ready.
    Up(DeviceId),
    /// A device in use was lost, or could not be connected; the sentence says so.
    Lost(DeviceId, String),
    /// A device cannot be used for what it was asked for; the sentence says why.
    Unusable(DeviceId, String),
}

#[derive(Clone, Debug)]
struct Known {
    id: DeviceId,
    name: String,
    services: Vec<Uuid16>,
    machine: Option<MachineAdvertisement>,
    rssi: Option<i16>,
    simulated: bool,
    last_heard: Option<Instant>,
    roles: Vec<Role>,
    state: State,
    attempts: usize,
    values: MachineValues,
    sensor: Sensor,
}

/// All devices.
#[derive(Debug, Default)]
pub struct Links {
    known: Vec<Known>,
    requests: VecDeque<Request>,
}

impl Links {
    fn get(&self, id: &DeviceId) -> Option<&Known> {
        self.known.iter().find(|known| known.id == *id)
    }

    fn get_mut(&mut self, id: &DeviceId) -> Option<&mut Known> {
        self.known.iter_mut().find(|known| known.id == *id)
    }

    /// The device used for a role.
    pub fn used_for(&self, role: Role) -> Option<&DeviceId> {
        self.known
            .iter()
            .find(|known| known.roles.contains(&role))
            .map(|known| &known.id)
    }

    /// The name of a device, safe to show.
    pub fn name(&self, id: &DeviceId) -> String {
        self.get(id)
            .map_or_else(|| id.to_string(), |known| known.name.clone())
    }

    /// Whether a device is connected and set up.
    pub fn is_up(&self, id: &DeviceId) -> bool {
        self.get(id).is_some_and(|known| known.state == State::Up)
    }

    /// Whether a device was found unusable.
    pub fn is_unusable(&self, id: &DeviceId) -> bool {
        self.get(id)
            .is_some_and(|known| matches!(known.state, State::Unusable(_)))
    }

    /// Whether a device is a model.
    pub fn is_simulated(&self, id: &DeviceId) -> bool {
        self.get(id).is_some_and(|known| known.simulated)
    }

    /// What was read of a trainer when its link was set up.
    pub fn machine_values(&self, id: &DeviceId) -> MachineValues {
        self.get(id)
            .map(|known| known.values.clone())
            .unwrap_or_default()
    }

    /// Whether any link stands or is being made.
    pub fn any_open(&self) -> bool {
        self.known.iter().any(|known| {
            matches!(
                known.state,
                State::Connecting { .. } | State::SettingUp { .. } | State::Up | State::Closing
            )
        })
    }

    /// Takes what was heard on the air.
    pub fn heard(&mut self, now: Instant, heard: Advertisement) {
        let known = self.entry(&heard.device);
        known.last_heard = Some(now);
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

    fn entry(&mut self, id: &DeviceId) -> &mut Known {
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

    /// Uses a device for a role, or nothing. A device that no role uses any more is let go.
    pub fn use_for(&mut self, now: Instant, role: Role, device: Option<&DeviceId>) {
        for known in &mut self.known {
            known.roles.retain(|&used| used != role);
        }
        if let Some(device) = device {
            let known = self.entry(device);
            known.roles.push(role);
            known.roles.sort();
            // Another role may need characteristics that were passed over: set the link up again.
            if matches!(known.state, State::Unusable(_)) {
                known.state = State::Idle;
            }
            known.attempts = 0;
        }
        self.tend(now);
    }

    /// Starts and ends links as the roles want it.
    fn tend(&mut self, now: Instant) {
        for known in &mut self.known {
            let wanted = !known.roles.is_empty();
            match &known.state {
                State::Idle if wanted => {
                    known.state = State::Connecting {
                        deadline: now + CONNECT_DEADLINE,
                    };
                    self.requests.push_back(Request::Connect(known.id.clone()));
                }
                State::Waiting { retry_at } if wanted && now >= *retry_at => {
                    known.state = State::Connecting {
                        deadline: now + CONNECT_DEADLINE,
                    };
                    self.requests.push_back(Request::Connect(known.id.clone()));
                }
                State::Waiting { .. } if !wanted => known.state = State::Idle,
                State::Connecting { .. } | State::SettingUp { .. } | State::Up if !wanted => {
                    known.state = State::Closing;
                    known.sensor.lose();
                    self.requests
                        .push_back(Request::Disconnect(known.id.clone()));
                }
                _ => {}
            }
        }
    }

    /// Lets every device go; nothing is connected again until it is used for a role anew.
    pub fn close_all(&mut self, now: Instant) {
        for known in &mut self.known {
            known.roles.clear();
        }
        self.tend(now);
    }

    /// Closes a link that has gone wrong and makes it again: after a control procedure that was never answered. It is
    /// made once the old one is gone, so that the old one's end is not taken for the new one's.
    pub fn remake(&mut self, id: &DeviceId) {
        if let Some(known) = self.get_mut(id) {
            known.sensor.lose();
            known.state = State::Closing;
            let request = Request::Disconnect(known.id.clone());
            self.requests.push_back(request);
        }
    }

    /// Turns a subscription on again.
    pub fn resubscribe(&mut self, id: &DeviceId, characteristic: Uuid16) {
        self.requests
            .push_back(Request::Subscribe(id.clone(), characteristic));
    }

    /// Takes an event of the seam.
    pub fn handle(&mut self, now: Instant, event: &Event) -> Option<LinkEvent> {
        let outcome = match event {
            Event::Connected(id, characteristics) => self.connected(now, id, characteristics),
            Event::ConnectFailed(id, failure) => self.failed(now, id, failure),
            Event::Disconnected(id) => self.disconnected(now, id),
            Event::Read(id, characteristic, result) => {
                if let Ok(bytes) = result {
                    self.read(now, id, *characteristic, bytes);
                }
                self.step_done(now, id, Step::Read(*characteristic), result.as_ref().err())
            }
            Event::Subscribed(id, characteristic, result) => self.step_done(
                now,
                id,
                Step::Subscribe(*characteristic),
                result.as_ref().err(),
            ),
            Event::Notified(id, characteristic, bytes) => {
                if let Some(known) = self.get_mut(id) {
                    known.last_heard = Some(now);
                    // A record that cannot be read is counted, and shown on the device's row.
                    let _counted = known.sensor.take(now, *characteristic, bytes);
                }
                None
            }
            Event::Adapter(_) | Event::Heard(_) | Event::Written(..) | Event::Lost(_) => None,
        };
        self.tend(now);
        outcome
    }

    fn connected(
        &mut self,
        now: Instant,
        id: &DeviceId,
        characteristics: &[(Uuid16, Uuid16)],
    ) -> Option<LinkEvent> {
        let known = self.get_mut(id)?;
        if !matches!(known.state, State::Connecting { .. }) {
            return None;
        }
        known.last_heard = Some(now);
        known.values = MachineValues::default();
        known.sensor = known.sensor.on_a_new_link();
        let has = |wanted: Uuid16| characteristics.iter().any(|&(_, found)| found == wanted);
        let mut steps = steps_for(&known.roles, has);
        match steps.pop_front() {
            Some(step) if gives_something(&known.roles, has) => {
                let request = request_of(id, step);
                known.state = State::SettingUp {
                    step,
                    rest: steps,
                    deadline: now + STEP_DEADLINE,
                };
                self.requests.push_back(request);
                None
            }
            _ => {
                let why = not_usable(&known.roles, &known.name);
                known.state = State::Unusable(why.clone());
                self.requests.push_back(Request::Disconnect(id.clone()));
                Some(LinkEvent::Unusable(id.clone(), why))
            }
        }
    }

    fn read(&mut self, now: Instant, id: &DeviceId, characteristic: Uuid16, bytes: &[u8]) {
        let Some(known) = self.get_mut(id) else {
            return;
        };
        match characteristic {
            uuid16::FITNESS_MACHINE_FEATURE => known.values.feature = Some(bytes.to_vec()),
            uuid16::POWER_RANGE => known.values.power_range = Some(bytes.to_vec()),
            uuid16::RESISTANCE_RANGE => known.values.resistance_range = Some(bytes.to_vec()),
            other => {
                let _counted = known.sensor.take(now, other, bytes);
            }
        }
    }

    fn step_done(
        &mut self,
        now: Instant,
        id: &DeviceId,
        done: Step,
        failure: Option<&Failure>,
    ) -> Option<LinkEvent> {
        let known = self.get_mut(id)?;
        let State::SettingUp { step, rest, .. } = &mut known.state else {
            return None;
        };
        if *step != done {
            return None;
        }
        if done == Step::Subscribe(uuid16::CONTROL_POINT) && failure.is_none() {
            known.values.control = true;
        }
        match rest.pop_front() {
            Some(next) => {
                let request = request_of(id, next);
                let rest = std::mem::take(rest);
                known.state = State::SettingUp {
                    step: next,
                    rest,
                    deadline: now + STEP_DEADLINE,
                };
                self.requests.push_back(request);
                None
            }
            None => {
                known.state = State::Up;
                known.attempts = 0;
                Some(LinkEvent::Up(id.clone()))
            }
        }
    }

    fn failed(&mut self, now: Instant, id: &DeviceId, failure: &Failure) -> Option<LinkEvent> {
        let known = self.get_mut(id)?;
        if known.roles.is_empty() {
            known.state = State::Idle;
            return None;
        }
        known.state = State::Waiting {
            retry_at: now + retry_after(known.attempts),
        };
        known.attempts += 1;
        let why = format!(
            "{} could not be connected: {}. Trying again.",
            known.name,
            words(failure)
        );
        Some(LinkEvent::Lost(id.clone(), why))
    }

    fn disconnected(&mut self, now: Instant, id: &DeviceId) -> Option<LinkEvent> {
        let known = self.get_mut(id)?;
        known.sensor.lose();
        if known.roles.is_empty() {
            known.state = State::Idle;
            return None;
        }
        match known.state {
            // Asked for, or known already.
            State::Waiting { .. } | State::Unusable(_) | State::Idle => None,
            State::Closing => {
                known.state = State::Idle;
                None
            }
            State::Connecting { .. } | State::SettingUp { .. } | State::Up => {
                known.state = State::Waiting {
                    retry_at: now + retry_after(known.attempts),
                };
                known.attempts += 1;
                let why = format!("The link to {} was lost. Trying again.", known.name);
                Some(LinkEvent::Lost(id.clone(), why))
            }
        }
    }

    /// Acts on deadlines that have passed.
    pub fn handle_timeout(&mut self, now: Instant) -> Option<LinkEvent> {
        let late = self.known.iter().find_map(|known| match known.state {
            State::Connecting { deadline } | State::SettingUp { deadline, .. }
                if now >= deadline =>
            {
                Some(known.id.clone())
            }
            _ => None,
        });
        let outcome = late.and_then(|id| {
            self.requests.push_back(Request::Disconnect(id.clone()));
            self.failed(now, &id, &Failure::TimedOut)
        });
        self.tend(now);
        outcome
    }

    /// When something is next due.
    pub fn poll_timeout(&self, now: Instant) -> Option<Instant> {
        let due = |known: &Known| match known.state {
            State::Connecting { deadline } | State::SettingUp { deadline, .. } => Some(deadline),
            State::Waiting { retry_at } => Some(retry_at),
            _ => None,
        };
        let ageing = |known: &Known| {
            (known.state == State::Up)
                .then(|| known.sensor.next_change(now))
                .flatten()
        };
        self.known
            .iter()
            .flat_map(|known| [due(known), ageing(known)])
            .flatten()
            .min()
    }

    /// The next request for a backend.
    pub fn poll_request(&mut self) -> Option<Request> {
        self.requests.pop_front()
    }

    fn sensor(&self, role: Role) -> Option<&Sensor> {
        self.known
            .iter()
            .find(|known| known.roles.contains(&role))
            .map(|known| &known.sensor)
    }

    fn told<T: Copy + Default>(&self, role: Role, of: impl Fn(&Sensor) -> Latest<T>) -> Latest<T> {
        self.sensor(role).map(of).unwrap_or_default()
    }

    /// Power: the chosen meter's, else the trainer's.
    pub fn power(&self, now: Instant) -> Latest<Watts> {
        first_fresh(
            now,
            [Role::Meter, Role::Trainer].map(|role| self.told(role, |s| s.power(now))),
        )
    }

    /// Cadence: of the chosen sensor, else the meter, else the trainer.
    pub fn cadence(&self, now: Instant) -> Latest<Rpm> {
        let roles = [Role::Cadence, Role::Meter, Role::Trainer];
        first_fresh(now, roles.map(|role| self.told(role, |s| s.cadence(now))))
    }

    /// Heart rate: of the chosen strap, else what the trainer passes on.
    pub fn heart_rate(&self, now: Instant) -> Latest<Bpm> {
        first_fresh(
            now,
            [Role::Heart, Role::Trainer].map(|role| self.told(role, |s| s.heart_rate(now))),
        )
    }

    /// Speed: the trainer's, else a sensor's.
    pub fn speed(&self, now: Instant) -> Latest<MetresPerSecond> {
        first_fresh(
            now,
            [Role::Trainer, Role::Cadence].map(|role| self.told(role, |s| s.speed(now))),
        )
    }

    /// The greatest fresh cadence over all devices in use.
    pub fn most_cadence(&self, now: Instant) -> Option<Rpm> {
        self.in_use()
            .filter_map(|s| s.cadence(now).reading(now).fresh())
            .reduce(Rpm::max)
    }

    /// The greatest fresh power over all devices in use.
    pub fn most_power(&self, now: Instant) -> Option<Watts> {
        self.in_use()
            .filter_map(|s| s.power(now).reading(now).fresh())
            .reduce(Watts::max)
    }

    fn in_use(&self) -> impl Iterator<Item = &Sensor> {
        self.known
            .iter()
            .filter(|known| !known.roles.is_empty())
            .map(|known| &known.sensor)
    }

    /// The devices as Prepare lists them.
    pub fn rows(&self, now: Instant) -> Vec<DeviceRow> {
        self.known.iter().map(|known| known.row(now)).collect()
    }
}

impl Known {
    fn row(&self, now: Instant) -> DeviceRow {
        let link = match &self.state {
            State::Closing if !self.roles.is_empty() => Link::Lost,
            State::Idle | State::Closing => match self.why_not() {
                Some(why) => Link::Unusable(why.to_owned()),
                None => Link::Heard,
            },
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
            can: roles_of(&self.services, self.machine.as_ref()),
            used_for: self.roles.clone(),
            link,
            battery: self.sensor.battery,
            rssi: self.rssi,
            last_heard: self.last_heard,
            live: live.join(", "),
            bad_records: self.sensor.bad_records,
            simulated: self.simulated,
        }
    }

    fn why_not(&self) -> Option<&'static str> {
        let machine = self.machine.as_ref()?;
        if !machine.is_indoor_bike() {
            Some("It is a fitness machine of another kind, not a bicycle trainer.")
        } else if !machine.is_available() {
            Some(
                "It says that it is busy with another program. Close that program, or switch the trainer off and on.",
            )
        } else {
            None
        }
    }
}

/// What a device could be used for, by what it advertises.
pub fn roles_of(services: &[Uuid16], machine: Option<&MachineAdvertisement>) -> Vec<Role> {
    let has = |service| services.contains(&service);
    let mut roles = Vec::new();
    if (has(uuid16::FITNESS_MACHINE) || machine.is_some())
        && machine.is_none_or(|machine| machine.is_indoor_bike())
    {
        roles.push(Role::Trainer);
    }
    if has(uuid16::CYCLING_POWER) {
        roles.push(Role::Meter);
    }
    if has(uuid16::SPEED_AND_CADENCE) || has(uuid16::CYCLING_POWER) {
        roles.push(Role::Cadence);
    }
    if has(uuid16::HEART_RATE) {
        roles.push(Role::Heart);
    }
    roles
}

/// What is read and subscribed to for these roles, of what the device has, in order: the control point comes last, so
/// that everything it may say has somewhere to go.
fn steps_for(roles: &[Role], has: impl Fn(Uuid16) -> bool) -> VecDeque<Step> {
    let mut steps = Vec::new();
    if roles.contains(&Role::Trainer) {
        steps.extend(
            [
                uuid16::FITNESS_MACHINE_FEATURE,
                uuid16::POWER_RANGE,
                uuid16::RESISTANCE_RANGE,
            ]
            .map(Step::Read),
        );
        steps.extend(
            [
                uuid16::INDOOR_BIKE_DATA,
                uuid16::TRAINING_STATUS,
                uuid16::FITNESS_MACHINE_STATUS,
            ]
            .map(Step::Subscribe),
        );
    }
    if roles.iter().any(|role| *role != Role::Heart) {
        steps.push(Step::Subscribe(uuid16::CYCLING_POWER_MEASUREMENT));
        steps.push(Step::Subscribe(uuid16::SPEED_AND_CADENCE_MEASUREMENT));
    }
    if roles.contains(&Role::Heart) {
        steps.push(Step::Subscribe(uuid16::HEART_RATE_MEASUREMENT));
    }
    steps.push(Step::Read(uuid16::BATTERY_LEVEL));
    steps.push(Step::Subscribe(uuid16::BATTERY_LEVEL));
    if roles.contains(&Role::Trainer) {
        steps.push(Step::Subscribe(uuid16::CONTROL_POINT));
    }
    let exists = |step: &Step| match *step {
        Step::Read(characteristic) | Step::Subscribe(characteristic) => has(characteristic),
    };
    steps.into_iter().filter(exists).collect()
}

/// Whether a device has anything at all that its roles need.
fn gives_something(roles: &[Role], has: impl Fn(Uuid16) -> bool) -> bool {
    roles.iter().any(|role| match role {
        Role::Trainer => {
            has(uuid16::INDOOR_BIKE_DATA)
                || has(uuid16::CONTROL_POINT)
                || has(uuid16::CYCLING_POWER_MEASUREMENT)
        }
        Role::Meter => has(uuid16::CYCLING_POWER_MEASUREMENT),
        Role::Cadence => {
            has(uuid16::CYCLING_POWER_MEASUREMENT) || has(uuid16::SPEED_AND_CADENCE_MEASUREMENT)
        }
        Role::Heart => has(uuid16::HEART_RATE_MEASUREMENT),
    })
}

fn not_usable(roles: &[Role], name: &str) -> String {
    match roles.first() {
        Some(Role::Trainer) => format!(
            "{name} is not a trainer that this program can use: it has no Fitness Machine service. Choose another device."
        ),
        Some(Role::Meter) => {
            format!("{name} measures no power. Choose another device as power meter.")
        }
        Some(Role::Cadence) => {
            format!("{name} measures no cadence. Choose another device as cadence sensor.")
        }
        _ => format!("{name} measures no heart rate. Choose another device as heart strap."),
    }
}

fn request_of(id: &DeviceId, step: Step) -> Request {
    match step {
        Step::Read(characteristic) => Request::Read(id.clone(), characteristic),
        Step::Subscribe(characteristic) => Request::Subscribe(id.clone(), characteristic),
    }
}

fn retry_after(attempts: usize) -> Span {
    Span::from_seconds(RETRY_AFTER[attempts.min(RETRY_AFTER.len() - 1)])
}

fn words(failure: &Failure) -> String {
    match failure {
        Failure::Att(code) => format!("it answered with ATT error {code:02X}"),
        Failure::TimedOut => "it did not answer in time".to_owned(),
        Failure::NotFound => "it was not found; wake it up and bring it near".to_owned(),
        Failure::LinkLost => "the link was lost".to_owned(),
        Failure::Forbidden(why) | Failure::Other(why) => why.clone(),
    }
}
