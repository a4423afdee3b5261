//! What a device could be used for, and what stands in the way, by what it advertises.

use std::collections::BTreeSet;

use crate::engine::command::Role;
use crate::gatt::{MachineAdvertisement, Uuid16, uuid16};

/// What a device could be used for.
pub fn roles_of(services: &[Uuid16], machine: Option<MachineAdvertisement>) -> Vec<Role> {
    let has = |service| services.contains(&service);
    let machine_of_ours = machine.map_or(has(uuid16::FITNESS_MACHINE), |machine| {
        machine.is_indoor_bike()
    });
    let roles = [
        (Role::Trainer, machine_of_ours),
        (Role::Meter, has(uuid16::CYCLING_POWER)),
        // Most power meters in the cranks count turns as well.
        (
            Role::Cadence,
            has(uuid16::SPEED_AND_CADENCE) || has(uuid16::CYCLING_POWER),
        ),
        (Role::Heart, has(uuid16::HEART_RATE)),
    ];
    roles
        .into_iter()
        .filter(|(_, can)| *can)
        .map(|(role, _)| role)
        .collect()
}

/// The services that tell what a device is, of those found on it; in order, each once.
pub fn telling(found: impl Iterator<Item = Uuid16>) -> Vec<Uuid16> {
    let tells = [
        uuid16::HEART_RATE,
        uuid16::SPEED_AND_CADENCE,
        uuid16::CYCLING_POWER,
        uuid16::FITNESS_MACHINE,
    ];
    let found: BTreeSet<Uuid16> = found.filter(|service| tells.contains(service)).collect();
    found.into_iter().collect()
}

/// Why a fitness machine cannot be used, in a sentence: it is of another kind, or busy.
pub fn in_the_way(machine: Option<MachineAdvertisement>) -> Option<String> {
    let machine = machine?;
    if !machine.is_indoor_bike() {
        Some(format!(
            "It is {}, not an indoor bike: this program cannot set it.",
            kinds(machine)
        ))
    } else if !machine.is_available() {
        Some("It is busy: another program, computer or telephone uses it. Close that connection first.".to_owned())
    } else {
        None
    }
}

/// The kinds of machine that the type bits name, as "a treadmill" or "a rower and a cross trainer".
fn kinds(machine: MachineAdvertisement) -> String {
    let named: Vec<String> = MachineAdvertisement::TYPE_NAMES
        .iter()
        .enumerate()
        .filter(|(bit, _)| machine.types >> bit & 1 == 1)
        .map(|(_, name)| format!("a {name}"))
        .collect();
    if named.is_empty() {
        "a fitness machine of an unknown kind".to_owned()
    } else {
        named.join(" and ")
    }
}
