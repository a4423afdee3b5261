//! Making a link: from the connection to the last subscription, with everything that can fail on the way.
//!
//! A step that fails is tried again after half a second and after two more; then the link comes up without it. The control
//! point is worth more: its subscription is tried again on the standing link after 5, 10 and 20 seconds.

use std::collections::VecDeque;

use super::setup::{gives_something, not_usable, request_of, retry_after, words};
use super::{
    CLOSE_DEADLINE, CONNECT_DEADLINE, Known, LinkEvent, Links, MachineValues, STEP_DEADLINE, State,
    Step,
};
use crate::device::{DeviceId, Failure, Request};
use crate::engine::roles;
use crate::gatt::{Uuid16, uuid16};
use crate::time::{Instant, Span};

/// Pauses before a failed step of setting up is tried again (common practice, no source).
const STEP_AGAIN: [Span; 2] = [Span::from_millis(500), Span::from_millis(2_000)];

/// Pauses before the subscription to a control point is tried again on a link that stands (common practice, no source).
const CONTROL_AGAIN: [Span; 3] = [
    Span::from_seconds(5),
    Span::from_seconds(10),
    Span::from_seconds(20),
];

/// A discovery that lacks what was there before, or that found nothing, is done anew so often before it is believed.
const REDISCOVERIES: usize = 2;

/// Whether another try could bring anything: what is not there, not allowed or wants to be paired stays so.
const fn worth_another_try(failure: &Failure) -> bool {
    match failure {
        // Read or write not permitted, authentication, authorisation, attribute not found, encryption key size,
        // encryption (Core Specification, volume 3, part F, 3.4.1.1).
        Failure::Att(code) => {
            !matches!(code, 0x02 | 0x03 | 0x05 | 0x06 | 0x08 | 0x0A | 0x0C | 0x0F)
        }
        Failure::NotFound | Failure::Forbidden(_) => false,
        Failure::TimedOut | Failure::LinkLost | Failure::Other(_) => true,
    }
}

impl Known {
    /// Whether a discovery lacks what was found before, in this run or in an earlier ride, or found nothing at all that its
    /// roles need.
    fn lacks(&self, characteristics: &[(Uuid16, Uuid16)]) -> bool {
        let service = |wanted: &Uuid16| characteristics.iter().any(|(found, _)| found == wanted);
        let one = |wanted: &Uuid16| characteristics.iter().any(|(_, found)| found == wanted);
        !gives_something(&self.roles, |wanted| one(&wanted))
            || !self.expected.iter().all(service)
            || !self.characteristics.iter().all(one)
    }
}

impl Links {
    /// What earlier rides found on a device: a discovery that lacks it is done anew before it is believed.
    pub fn expect(&mut self, id: &DeviceId, services: Vec<Uuid16>) {
        if let Some(known) = self.get_mut(id) {
            known.expected = services;
        }
    }

    /// What a device has now is what it is from now on, whatever it was.
    pub fn found_anew(&mut self, id: &DeviceId, characteristics: &[(Uuid16, Uuid16)]) {
        if let Some(known) = self.get_mut(id) {
            known.characteristics = characteristics.iter().map(|&(_, found)| found).collect();
            let services = characteristics.iter().map(|&(service, _)| service);
            known.found = Some(roles::telling(services));
            known.expected.clear();
        }
    }

    /// Whether a discovery is to be done anew before it is believed.
    pub fn doubts(&self, id: &DeviceId, characteristics: &[(Uuid16, Uuid16)]) -> bool {
        self.get(id).is_some_and(|known| {
            known.rediscovered < REDISCOVERIES
                && matches!(known.state, State::Connecting { .. })
                && known.lacks(characteristics)
        })
    }

    pub(super) fn connected(
        &mut self,
        now: Instant,
        id: &DeviceId,
        characteristics: &[(Uuid16, Uuid16)],
    ) -> Option<LinkEvent> {
        let doubted = self.doubts(id, characteristics);
        let known = self.get_mut(id)?;
        if !matches!(known.state, State::Connecting { .. }) {
            return None;
        }
        known.last_heard = Some(now);
        known.values = MachineValues::default();
        known.sensor = known.sensor.on_a_new_link();
        known.control_again = None;
        if doubted {
            // The link is made anew, and with it the discovery.
            known.rediscovered += 1;
            known.state = State::Closing {
                deadline: now + CLOSE_DEADLINE,
            };
            self.requests.push_back(Request::Disconnect(id.clone()));
            return None;
        }
        known.rediscovered = 0;
        known.characteristics = characteristics.iter().map(|&(_, found)| found).collect();
        known.found = Some(roles::telling(
            characteristics.iter().map(|&(service, _)| service),
        ));
        known.expected.clear();
        known.asked.clear();
        let mut steps = known.steps_to_come();
        known.asked.extend(&steps);
        match steps.pop_front() {
            Some(step) if gives_something(&known.roles, |found| known.has(found)) => {
                self.begin_step(now, id, step, steps, 0);
                None
            }
            _ if known.was_up => {
                // It gave something before: whatever is wrong with it now may pass.
                self.requests.push_back(Request::Disconnect(id.clone()));
                let why = Failure::Other(entry!("its services were not found").to_owned());
                self.failed(now, id, &why)
            }
            _ => {
                let why = not_usable(&known.roles, &known.name);
                known.state = State::Unusable(why.clone());
                self.requests.push_back(Request::Disconnect(id.clone()));
                Some(LinkEvent::Unusable(id.clone(), why))
            }
        }
    }

    fn begin_step(
        &mut self,
        now: Instant,
        id: &DeviceId,
        step: Step,
        rest: VecDeque<Step>,
        failures: usize,
    ) {
        if let Some(known) = self.get_mut(id) {
            known.state = State::SettingUp {
                step,
                rest,
                deadline: now + STEP_DEADLINE,
                failures,
                again_at: None,
            };
            self.requests.push_back(request_of(id, step));
        }
    }

    /// The answer to a read.
    pub(super) fn read(
        &mut self,
        now: Instant,
        id: &DeviceId,
        characteristic: Uuid16,
        bytes: &[u8],
    ) {
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

    /// The answer to a step of setting up, or to the subscription of a control point that failed then.
    pub(super) fn step_done(
        &mut self,
        now: Instant,
        id: &DeviceId,
        done: Step,
        failure: Option<&Failure>,
    ) -> Option<LinkEvent> {
        let control = Step::Subscribe(uuid16::CONTROL_POINT);
        let known = self.get_mut(id)?;
        if known.state == State::Up && done == control && known.values.control_failure.is_some() {
            return known.control_answered(now, failure);
        }
        let State::SettingUp {
            step,
            rest,
            failures,
            again_at,
            ..
        } = &mut known.state
        else {
            return None;
        };
        if *step != done || again_at.is_some() {
            return None;
        }
        match failure {
            // Its end is reported by itself; if not, the deadline is.
            Some(Failure::LinkLost) => return None,
            Some(why) if worth_another_try(why) && *failures < STEP_AGAIN.len() => {
                *again_at = Some(now + STEP_AGAIN[*failures]);
                *failures += 1;
                return None;
            }
            _ => {}
        }
        if done == control {
            known.values.control = failure.is_none();
            known.values.control_failure = failure.cloned();
        }
        let next = rest.pop_front();
        let rest = std::mem::take(rest);
        match next {
            Some(next) => {
                self.begin_step(now, id, next, rest, 0);
                None
            }
            None => {
                let again = known.values.control_failure.as_ref();
                known.control_again = again
                    .filter(|why| worth_another_try(why))
                    .map(|_| (now + CONTROL_AGAIN[0], 0));
                known.state = State::Up;
                known.was_up = true;
                known.attempts = 0;
                Some(LinkEvent::Up(id.clone()))
            }
        }
    }

    pub(super) fn failed(
        &mut self,
        now: Instant,
        id: &DeviceId,
        failure: &Failure,
    ) -> Option<LinkEvent> {
        let name = self.name(id);
        let known = self.get_mut(id)?;
        if known.roles.is_empty() {
            known.state = State::Idle;
            return None;
        }
        known.state = State::Waiting {
            retry_at: now + retry_after(known.attempts),
        };
        known.attempts += 1;
        let why = kept!(
            "{name} could not be connected: {why}. Trying again.",
            why = words(failure)
        );
        Some(LinkEvent::Lost(id.clone(), why))
    }

    pub(super) fn disconnected(&mut self, now: Instant, id: &DeviceId) -> Option<LinkEvent> {
        let name = self.name(id);
        let known = self.get_mut(id)?;
        known.sensor.lose();
        known.control_again = None;
        if known.roles.is_empty() {
            known.state = State::Idle;
            return None;
        }
        match known.state {
            // Asked for, or known already.
            State::Waiting { .. } | State::Unusable(_) | State::Idle => None,
            State::Closing { .. } => {
                known.state = State::Idle;
                None
            }
            State::Connecting { .. } | State::SettingUp { .. } | State::Up => {
                known.state = State::Waiting {
                    retry_at: now + retry_after(known.attempts),
                };
                known.attempts += 1;
                let why = kept!("The link to {name} was lost. Trying again.");
                Some(LinkEvent::Lost(id.clone(), why))
            }
        }
    }

    /// Acts on deadlines that have passed.
    pub fn handle_timeout(&mut self, now: Instant) -> Option<LinkEvent> {
        self.try_again(now);
        for known in &mut self.known {
            if matches!(known.state, State::Closing { deadline } if now >= deadline) {
                known.state = State::Idle;
            }
        }
        let late = self.known.iter().find_map(|known| match known.state {
            State::Connecting { deadline } => (now >= deadline).then(|| known.id.clone()),
            State::SettingUp {
                deadline,
                again_at: None,
                ..
            } => (now >= deadline).then(|| known.id.clone()),
            _ => None,
        });
        let outcome = late.and_then(|id| {
            self.requests.push_back(Request::Disconnect(id.clone()));
            self.failed(now, &id, &Failure::TimedOut)
        });
        self.tend(now);
        outcome
    }

    /// Failed steps whose pause is over.
    fn try_again(&mut self, now: Instant) {
        for known in &mut self.known {
            match &mut known.state {
                State::SettingUp {
                    step,
                    deadline,
                    again_at,
                    ..
                } if again_at.is_some_and(|at| now >= at) => {
                    *again_at = None;
                    *deadline = now + STEP_DEADLINE;
                    self.requests.push_back(request_of(&known.id, *step));
                }
                State::Up => {
                    if let Some((at, tries)) = known.control_again
                        && now >= at
                    {
                        // Until the answer is there; where none comes the link is as good as it was.
                        known.control_again = Some((now + CONNECT_DEADLINE, tries));
                        let control = Step::Subscribe(uuid16::CONTROL_POINT);
                        self.requests.push_back(request_of(&known.id, control));
                    }
                }
                _ => {}
            }
        }
    }
}

impl Known {
    /// The answer to a subscription of the control point that was tried again on a standing link.
    fn control_answered(&mut self, now: Instant, failure: Option<&Failure>) -> Option<LinkEvent> {
        let tries = self.control_again.take().map_or(0, |(_, tries)| tries) + 1;
        match failure {
            None => {
                self.values.control = true;
                self.values.control_failure = None;
                Some(LinkEvent::Control(self.id.clone()))
            }
            Some(why) => {
                self.values.control_failure = Some(why.clone());
                let pause = CONTROL_AGAIN.get(tries).filter(|_| worth_another_try(why));
                self.control_again = pause.map(|&pause| (now + pause, tries));
                (self.control_again.is_none())
                    .then(|| LinkEvent::NoControl(self.id.clone(), why.clone()))
            }
        }
    }
}
