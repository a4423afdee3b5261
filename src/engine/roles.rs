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
        Some(match kinds(machine).as_slice() {
            [] => entry!(
                "It is a fitness machine of an unknown kind, not an indoor bike: this program cannot set it."
            )
            .to_owned(),
            [kind] => kept!("It is {kind}, not an indoor bike: this program cannot set it."),
            [kind, others @ ..] => kept!(
                "It is {kind} and {other}, not an indoor bike: this program cannot set it.",
                other = others.join(" and ")
            ),
        })
    } else if !machine.is_available() {
        Some(entry!(
            "It is busy: another program, computer or telephone uses it. Close that connection first."
        )
        .to_owned())
    } else {
        None
    }
}

/// The kinds of machine that the type bits name, each as "a treadmill".
fn kinds(machine: MachineAdvertisement) -> Vec<&'static str> {
    // In the order of the bits, before the indoor bike's.
    let all = [
        entry!("a treadmill"),
        entry!("a cross trainer"),
        entry!("a step climber"),
        entry!("a stair climber"),
        entry!("a rower"),
    ];
    let named = |bit: usize| machine.types >> bit & 1 == 1;
    let all = all.into_iter().enumerate();
    all.filter(|(bit, _)| named(*bit))
        .map(|(_, kind)| kind)
        .collect()
}
