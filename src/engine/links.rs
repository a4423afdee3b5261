//! Every device that is known, and the links to those in use: connecting, setting up, losing, trying again.

mod heard;
mod readings;
mod rows;
mod setup;

use setup::{gives_something, not_usable, request_of, retry_after, words};

use std::collections::VecDeque;

use crate::device::{DeviceId, Event, Failure, Request};
use crate::engine::command::Role;
use crate::engine::roles;
use crate::engine::sensor::Sensor;
use crate::gatt::{MachineAdvertisement, Uuid16, uuid16};

use crate::time::{Instant, Span};

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
    /// What the device has, as found when its link was made.
    characteristics: Vec<Uuid16>,
    /// The services that tell what it is, as found then; none before the first link. They count, not the advertisement.
    found: Option<Vec<Uuid16>>,
    /// When it was first heard on the air.
    first_heard: Option<Instant>,
    /// What was asked for on this link.
    asked: Vec<Step>,
}

/// All devices.
#[derive(Debug, Default)]
pub struct Links {
    known: Vec<Known>,
    /// Fetched after every input, so that it holds what one input asks for: a few at most.
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

    /// Uses a device for a role, or nothing. A device that no role uses any more is let go.
    pub fn use_for(&mut self, now: Instant, role: Role, device: Option<&DeviceId>) {
        for known in &mut self.known {
            known.roles.retain(|&used| used != role);
        }
        if let Some(device) = device {
            let known = self.entry(device);
            known.roles.push(role);
            known.roles.sort();
            if matches!(known.state, State::Unusable(_)) {
                known.state = State::Idle;
            }
            known.attempts = 0;
            if known.state == State::Up {
                // Another role may need what was passed over when the link was set up.
                if role == Role::Trainer {
                    // The brake is set up anew: its values are read and its control is asked for again.
                    known.asked.clear();
                    known.values = MachineValues::default();
                }
                let mut missing = known.steps_to_come();
                known.asked.extend(&missing);
                let id = known.id.clone();
                if role == Role::Trainer
                    && let Some(step) = missing.pop_front()
                {
                    let request = request_of(&id, step);
                    known.state = State::SettingUp {
                        step,
                        rest: missing,
                        deadline: now + STEP_DEADLINE,
                    };
                    self.requests.push_back(request);
                } else {
                    self.requests
                        .extend(missing.into_iter().map(|step| request_of(&id, step)));
                }
            }
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
        known.characteristics = characteristics.iter().map(|&(_, found)| found).collect();
        known.found = Some(roles::telling(
            characteristics.iter().map(|&(service, _)| service),
        ));
        known.asked.clear();
        let mut steps = known.steps_to_come();
        known.asked.extend(&steps);
        match steps.pop_front() {
            Some(step) if gives_something(&known.roles, |found| known.has(found)) => {
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

    /// When any reading next grows too old by age alone. Also that of a link which is not up: what it told last may be fresh
    /// still, and counts until then.
    pub fn next_ageing(&self, now: Instant) -> Option<Instant> {
        self.known
            .iter()
            .filter_map(|known| known.sensor.next_change(now))
            .min()
    }

    /// Whatever was told until now is of another time: no reading counts before a new value comes.
    pub fn lose_readings(&mut self) {
        for known in &mut self.known {
            known.sensor.lose();
        }
    }

    /// The next request for a backend.
    pub fn poll_request(&mut self) -> Option<Request> {
        self.requests.pop_front()
    }
}
