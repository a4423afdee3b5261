//! Setting up a link: what is read and subscribed to, in which order, and when to try again.

use std::collections::VecDeque;

use super::{Known, RETRY_AFTER, Step};
use crate::device::{DeviceId, Failure, Request};
use crate::engine::command::Role;
use crate::gatt::{Uuid16, uuid16};
use crate::time::Span;

impl Known {
    /// Whether the device has a characteristic.
    pub(super) fn has(&self, characteristic: Uuid16) -> bool {
        self.characteristics.contains(&characteristic)
    }

    /// What its roles need and was not asked for yet on this link.
    pub(super) fn steps_to_come(&self) -> VecDeque<Step> {
        let mut steps = steps_for(&self.roles, |found| self.has(found));
        steps.retain(|step| !self.asked.contains(step));
        steps
    }
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
        steps
            .extend([uuid16::TRAINING_STATUS, uuid16::FITNESS_MACHINE_STATUS].map(Step::Subscribe));
    }
    if roles.iter().any(|role| role.kind() != Role::Heart) {
        steps.push(Step::Subscribe(uuid16::INDOOR_BIKE_DATA));
        steps.push(Step::Subscribe(uuid16::CYCLING_POWER_MEASUREMENT));
        steps.push(Step::Subscribe(uuid16::SPEED_AND_CADENCE_MEASUREMENT));
    }
    if roles.iter().any(|role| role.kind() == Role::Heart) {
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
pub(super) fn gives_something(roles: &[Role], has: impl Fn(Uuid16) -> bool) -> bool {
    roles.iter().any(|role| match role {
        Role::Trainer => {
            has(uuid16::INDOOR_BIKE_DATA)
                || has(uuid16::CONTROL_POINT)
                || has(uuid16::CYCLING_POWER_MEASUREMENT)
        }
        Role::Meter => has(uuid16::CYCLING_POWER_MEASUREMENT) || has(uuid16::INDOOR_BIKE_DATA),
        Role::Cadence => {
            has(uuid16::CYCLING_POWER_MEASUREMENT)
                || has(uuid16::SPEED_AND_CADENCE_MEASUREMENT)
                || has(uuid16::INDOOR_BIKE_DATA)
        }
        Role::Heart | Role::SecondHeart => has(uuid16::HEART_RATE_MEASUREMENT),
    })
}

pub(super) fn not_usable(roles: &[Role], name: &str) -> String {
    match roles.first() {
        Some(Role::Trainer) => kept!(
            "{name} is not a trainer that this program can use: it has no Fitness Machine service. Choose another device."
        ),
        Some(Role::Meter) => {
            kept!("{name} measures no power. Choose another device as power meter.")
        }
        Some(Role::Cadence) => {
            kept!("{name} measures no cadence. Choose another device as cadence sensor.")
        }
        _ => kept!("{name} measures no heart rate. Choose another device as heart strap."),
    }
}

pub(super) fn request_of(id: &DeviceId, step: Step) -> Request {
    match step {
        Step::Read(characteristic) => Request::Read(id.clone(), characteristic),
        Step::Subscribe(characteristic) => Request::Subscribe(id.clone(), characteristic),
    }
}

pub(super) fn retry_after(attempts: usize) -> Span {
    Span::from_seconds(RETRY_AFTER[attempts.min(RETRY_AFTER.len() - 1)])
}

/// A failure in words that follow a name.
pub fn words(failure: &Failure) -> String {
    match failure {
        Failure::Att(code) => kept!("it answered with ATT error {code:02X}"),
        Failure::TimedOut => entry!("it did not answer in time").to_owned(),
        Failure::NotFound => entry!("it was not found; wake it up and bring it near").to_owned(),
        Failure::LinkLost => entry!("the link was lost").to_owned(),
        Failure::Forbidden(why) | Failure::Other(why) => why.clone(),
    }
}
