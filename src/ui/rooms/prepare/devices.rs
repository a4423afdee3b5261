//! The devices in Prepare: in an order that stands still, told apart, each with what it measures and can be used for.

use super::spin_down::CalibrateButton;
use crate::device::{Adapter, DeviceId};
use crate::engine::Command;
use crate::engine::command::Role;
use crate::engine::snapshot::{DeviceRow, Flywheel, Link};
use crate::text::translated;
use crate::time::Instant;

/// A button that gives a device a role or takes it away.
#[derive(Clone, Debug, PartialEq)]
pub struct RoleButton {
    /// Which role.
    pub role: Role,
    /// The role in a word or two.
    pub words: &'static str,
    /// Whether the device has the role.
    pub used: bool,
    /// What a press sends.
    pub command: Command,
    /// Its name for a screen reader: "Use Practice trainer as trainer".
    pub spoken: String,
}

/// What is asked or known of a trainer's flywheel.
#[derive(Clone, Debug, PartialEq)]
pub struct FlywheelLine {
    /// The entry of the question, or of the answer that was given.
    pub words: &'static str,
    /// The entries of the answers with what each sends; once one was given, the other one alone.
    pub answers: Vec<(&'static str, Command)>,
}

impl FlywheelLine {
    /// For the trainer in use: the question once, and then its answer, which can be changed. Nothing for a model, which
    /// has no legs to carry round: a newcomer's way to a first ride has no more stops than it needs.
    pub fn of(row: &DeviceRow, flywheel: Flywheel) -> Option<Self> {
        let runs_on = (Flywheel::RUNS_ON, Command::FixedFlywheel(false));
        let fixed = (Flywheel::FIXED, Command::FixedFlywheel(true));
        if row.simulated || !row.used_for.contains(&Role::Trainer) {
            return None;
        }
        match flywheel.fixed {
            None if flywheel.asks => Some(Self {
                words: Flywheel::QUESTION,
                answers: vec![runs_on, fixed],
            }),
            None => None,
            Some(true) => Some(Self {
                words: entry!("Its flywheel is fixed to the pedals."),
                answers: vec![(entry!("It runs on"), runs_on.1)],
            }),
            Some(false) => Some(Self {
                words: entry!("Its flywheel runs on without the pedals."),
                answers: vec![(entry!("It is fixed"), fixed.1)],
            }),
        }
    }
}

/// One device.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceLine {
    /// Which.
    pub id: DeviceId,
    /// Its name, with the last part of its address where another has the same.
    pub name: String,
    /// "simulated", "known", or nothing.
    pub mark: &'static str,
    /// Its newest figures; empty where there are none.
    pub live: String,
    /// How its link stands, in words; a reason where it cannot be used.
    pub link: String,
    /// Whether it cannot be used.
    pub unusable: bool,
    /// Battery, signal, when it was last heard.
    pub details: String,
    /// What it can be used for.
    pub roles: Vec<RoleButton>,
    /// The button that has it calibrated; none where it offers that not.
    pub calibrate: Option<CalibrateButton>,
    /// Its flywheel, where it is the trainer in use.
    pub flywheel: Option<FlywheelLine>,
}

/// The order in which devices are listed. It never changes under the hand: a device keeps its place, and a new one goes
/// to the end of its group, known ones first and then the simulated; while a hand is on the list, to the end of all.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Order {
    /// At most as many as the snapshot lists, which is bounded by the core.
    places: Vec<(DeviceId, u8)>,
}

impl Order {
    /// Takes in who is there now.
    pub fn settle(&mut self, devices: &[DeviceRow], hand_on_it: bool) {
        self.places
            .retain(|(id, _)| devices.iter().any(|row| row.id == *id));
        for row in devices {
            if self.places.iter().any(|(id, _)| *id == row.id) {
                continue;
            }
            let group = match row {
                row if row.known => 0,
                row if row.simulated => 1,
                _ => 2,
            };
            let end = self.places.len();
            let place = if hand_on_it {
                end
            } else {
                let after = self.places.iter().rposition(|(_, other)| *other <= group);
                after.map_or(0, |after| after + 1)
            };
            self.places.insert(place, (row.id.clone(), group));
        }
    }

    /// The devices in this order; those that it has not taken in come last.
    pub fn of<'a>(&self, devices: &'a [DeviceRow]) -> Vec<&'a DeviceRow> {
        let mut rows: Vec<&DeviceRow> = devices.iter().collect();
        rows.sort_by_key(|row| {
            let place = self.places.iter().position(|(id, _)| *id == row.id);
            place.unwrap_or(usize::MAX)
        });
        rows
    }
}

/// What the name is shown as: with the last part of the address where another device has the same name.
pub fn shown_name(row: &DeviceRow, devices: &[DeviceRow]) -> String {
    let twin = devices
        .iter()
        .any(|other| other.id != row.id && other.name == row.name);
    let name = translated(&row.name).into_owned();
    if !twin {
        return name;
    }
    let address = row.id.as_str();
    // "D0:12:AB:34:56:78" ends in "56:78"; another sort of address in its last five letters.
    let from = address
        .char_indices()
        .rev()
        .nth(4)
        .map_or(0, |(index, _)| index);
    format!("{name} …{}", &address[from..])
}

/// A device's line at `now`.
pub fn line(
    row: &DeviceRow,
    devices: &[DeviceRow],
    flywheel: Flywheel,
    now: Instant,
) -> DeviceLine {
    let name = shown_name(row, devices);
    let link = match &row.link {
        // "Heard now" says as much.
        Link::Heard => String::new(),
        Link::Connecting => word!("connecting").to_owned(),
        Link::Connected => word!("connected").to_owned(),
        Link::Lost => word!("link lost, trying again").to_owned(),
        Link::Unusable(why) => translated(why).into_owned(),
    };
    let mut details = Vec::new();
    details.extend(
        row.battery
            .map(|percent| say!("battery {percent} %", percent)),
    );
    details.extend(row.rssi.map(|dbm| {
        let minus = if dbm < 0 { "−" } else { "" };
        say!("signal {minus}{dbm} dBm", minus, dbm = dbm.unsigned_abs())
    }));
    details.extend(
        row.last_heard
            .map(|heard| match now.since(heard).whole_seconds() {
                0..=1 => word!("heard now").to_owned(),
                seconds @ 2..=119 => say!("heard {seconds} s ago", seconds),
                seconds => say!("heard {minutes} min ago", minutes = seconds / 60),
            }),
    );
    if row.bad_records > 0 {
        details.push(say!(
            "{records} unreadable records",
            records = row.bad_records
        ));
    }
    let unusable = matches!(row.link, Link::Unusable(_));
    let roles = offered(row, devices)
        .into_iter()
        .filter(|_| !unusable)
        .map(|role| {
            let used = row.used_for.contains(&role);
            RoleButton {
                role,
                words: role_words(role),
                used,
                command: Command::Use(role, (!used).then(|| row.id.clone())),
                spoken: if used {
                    say!("Stop using {name} as {role}", name, role = spoken(role))
                } else {
                    say!("Use {name} as {role}", name, role = spoken(role))
                },
            }
        })
        .collect();
    DeviceLine {
        id: row.id.clone(),
        mark: match row {
            row if row.simulated => word!("simulated"),
            row if row.known => word!("known"),
            _ => "",
        },
        live: row.live.clone(),
        link,
        unusable,
        details: details.join(", "),
        roles,
        calibrate: None,
        flywheel: FlywheelLine::of(row, flywheel),
        name,
    }
}

/// The roles that a device is offered: a second strap is one only where another device is the first.
fn offered(row: &DeviceRow, devices: &[DeviceRow]) -> Vec<Role> {
    let mut roles = row.can.clone();
    let first = |other: &DeviceRow| other.id != row.id && other.used_for.contains(&Role::Heart);
    let second = row.used_for.contains(&Role::SecondHeart);
    if second || (row.can.contains(&Role::Heart) && devices.iter().any(first)) {
        roles.push(Role::SecondHeart);
    }
    roles
}

fn role_words(role: Role) -> &'static str {
    match role {
        Role::Trainer => word!("trainer"),
        Role::Meter => word!("power meter"),
        Role::Cadence => word!("cadence"),
        Role::Heart => word!("heart rate"),
        Role::SecondHeart => word!("second strap"),
    }
}

/// What a device is used as, to stand after "as".
fn spoken(role: Role) -> &'static str {
    match role {
        Role::Trainer => word!("trainer" # "as"),
        Role::Meter => word!("meter" # "as"),
        Role::Cadence => word!("cadence" # "as"),
        Role::Heart => word!("heart" # "as"),
        Role::SecondHeart => word!("second heart" # "as"),
    }
}

/// What is wrong with the computer's Bluetooth, where something is.
pub fn adapter(adapter: &Adapter) -> Option<&str> {
    match adapter {
        Adapter::Listening | Adapter::Quiet => None,
        Adapter::Missing(words) | Adapter::Off(words) | Adapter::Forbidden(words) => Some(words),
    }
}
