//! Every device that is known, and the links to those in use: connecting, setting up, losing, trying again.

mod heard;
mod making;
mod readings;
mod rows;
mod setup;

pub use readings::Sources;
use setup::request_of;
pub use setup::words;

use std::collections::VecDeque;

use crate::device::name::{safe_name, told_apart};
use crate::device::{DeviceId, Event, Failure, Request};
use crate::engine::command::Role;
use crate::engine::sensor::Sensor;
use crate::gatt::{MachineAdvertisement, Uuid16, uuid16};

use crate::time::{Instant, Span};

/// At most so many devices are listed; the one heard longest ago that is not in use makes room.
const MOST_DEVICES: usize = 64;

/// A backend answers sooner; this is for one that does not.
const CONNECT_DEADLINE: Span = Span::from_seconds(45);
const STEP_DEADLINE: Span = Span::from_seconds(15);
const CLOSE_DEADLINE: Span = Span::from_seconds(10);

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
        /// How often this step failed.
        failures: usize,
        /// When it is tried again after a failure; none while its answer is awaited.
        again_at: Option<Instant>,
    },
    Up,
    /// Lost or failed; the next try is due then.
    Waiting {
        retry_at: Instant,
    },
    /// Being closed: nothing uses it any more, or it is to be made again. Where its end is not reported by the deadline it
    /// counts as closed.
    Closing {
        deadline: Instant,
    },
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
    /// Why its indications could not be turned on, where it has a control point and they could not.
    pub control_failure: Option<Failure>,
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
    /// The control point of a trainer that was set up without it takes indications now.
    Control(DeviceId),
    /// It does not, however often it was asked: why.
    NoControl(DeviceId, Failure),
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
    /// The services that are expected on it, from what is remembered of earlier rides.
    expected: Vec<Uuid16>,
    /// Whether its link was once up: then it is what it was taken for, and is never given up.
    was_up: bool,
    /// How often in a row it was discovered anew because something was missing.
    rediscovered: usize,
    /// When the subscription to its control point is tried again, and how often that was done since the link is up.
    control_again: Option<(Instant, usize)>,
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

    /// The name of a device, safe to show; where another device has the same one, with the end of its address behind it.
    pub fn name(&self, id: &DeviceId) -> String {
        let names: Vec<_> = self
            .known
            .iter()
            .map(|known| (known.name.as_str(), known.id.as_str()))
            .collect();
        let at = self.known.iter().position(|known| known.id == *id);
        at.and_then(|at| told_apart(&names).into_iter().nth(at))
            .unwrap_or_else(|| safe_name(id.as_str()))
    }

    /// Whether a device is connected and set up.
    pub fn is_up(&self, id: &DeviceId) -> bool {
        self.get(id).is_some_and(|known| known.state == State::Up)
    }

    /// Whether the link to a device was asked for and is not made yet.
    pub fn is_being_made(&self, id: &DeviceId) -> bool {
        self.get(id)
            .is_some_and(|known| matches!(known.state, State::Connecting { .. }))
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

    /// Whether the subscription of a trainer's control point failed and is tried again.
    pub fn control_is_tried_again(&self, id: &DeviceId) -> bool {
        self.get(id)
            .is_some_and(|known| known.control_again.is_some())
    }

    /// Whether any link stands or is being made.
    pub fn any_open(&self) -> bool {
        self.known.iter().any(|known| {
            matches!(
                known.state,
                State::Connecting { .. }
                    | State::SettingUp { .. }
                    | State::Up
                    | State::Closing { .. }
            )
        })
    }

    /// Uses a device for a role, or nothing. A device that no role uses any more is let go.
    pub fn use_for(&mut self, now: Instant, role: Role, device: Option<&DeviceId>) {
        for known in &mut self.known {
            // One strap cannot stand in for itself.
            let twice = device == Some(&known.id);
            known
                .roles
                .retain(|&used| used != role && !(twice && used.kind() == role.kind()));
        }
        if let Some(device) = device {
            let known = self.entry(device);
            known.roles.push(role);
            known.roles.sort();
            if matches!(known.state, State::Unusable(_)) {
                known.state = State::Idle;
            }
            known.attempts = 0;
            known.rediscovered = 0;
            known.was_up &= known.state == State::Up;
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
                        failures: 0,
                        again_at: None,
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
                    known.state = State::Closing {
                        deadline: now + CLOSE_DEADLINE,
                    };
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
    pub fn remake(&mut self, now: Instant, id: &DeviceId) {
        if let Some(known) = self.get_mut(id) {
            known.sensor.lose();
            known.state = State::Closing {
                deadline: now + CLOSE_DEADLINE,
            };
            let request = Request::Disconnect(known.id.clone());
            self.requests.push_back(request);
        }
    }

    /// Turns a subscription on again.
    pub fn resubscribe(&mut self, id: &DeviceId, characteristic: Uuid16) {
        self.requests
            .push_back(Request::Subscribe(id.clone(), characteristic));
    }

    /// Subscribes again to everything that was subscribed to on this link but the control point, whose indications belong
    /// to its procedures.
    pub fn listen_again(&mut self, id: &DeviceId) {
        let asked = self.get(id).map(|known| known.asked.clone());
        for step in asked.unwrap_or_default() {
            if matches!(step, Step::Subscribe(what) if what != uuid16::CONTROL_POINT) {
                self.requests.push_back(request_of(id, step));
            }
        }
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

    /// When something is next due.
    pub fn poll_timeout(&self, now: Instant) -> Option<Instant> {
        let due = |known: &Known| match known.state {
            State::Connecting { deadline } | State::Closing { deadline } => Some(deadline),
            State::SettingUp {
                deadline, again_at, ..
            } => Some(again_at.unwrap_or(deadline)),
            State::Waiting { retry_at } => Some(retry_at),
            State::Up => known.control_again.map(|(at, _)| at),
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
