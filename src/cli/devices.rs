//! `stillroad devices`: what is heard on the air, what each device can be used for, and why one cannot be used.

use std::fmt::Write as _;
use std::sync::Arc;

use serde_json::{Value, json};

use crate::device::name::safe_name;
use crate::device::practice::{Practice, PracticeConfig};
use crate::device::radio::Radio;
use crate::device::{Adapter, Advertisement, Backend, DeviceId, Event, Request};
use crate::engine::command::Role;
use crate::engine::roles;
use crate::gatt::Uuid16;
use crate::gatt::fitness_machine::MachineAdvertisement;
use crate::text::translated;
use crate::time::{Instant, Span};

/// How many devices are kept; more than that in one room are left out, the last ones heard.
const MOST: usize = 256;

/// What was heard in a while of listening.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Heard {
    /// One entry a device, in the order in which they were first heard, with the newest of all that it sent.
    pub devices: Vec<Advertisement>,
    /// What keeps the computer's Bluetooth from listening, in a sentence; none where it listened.
    pub trouble: Option<String>,
}

impl Heard {
    /// Takes one more report of a device: what it brings replaces what was known, what it lacks stays.
    pub fn add(&mut self, report: Advertisement) {
        let known = self
            .devices
            .iter_mut()
            .find(|known| known.device == report.device);
        let Some(known) = known else {
            if self.devices.len() < MOST {
                self.devices.push(report);
            }
            return;
        };
        known.name = report.name.or(known.name.take());
        known.machine_data = report.machine_data.or(known.machine_data.take());
        known.rssi = report.rssi.or(known.rssi);
        known.simulated |= report.simulated;
        for service in report.services {
            if !known.services.contains(&service) {
                known.services.push(service);
            }
        }
    }
}

/// Listens through every backend for `span` and gathers what is heard.
///
/// `now` reads the clock; `wait` returns after the span it is given or earlier, when a backend has something.
pub fn listen(
    backends: &mut [Box<dyn Backend>],
    span: Span,
    now: &dyn Fn() -> Instant,
    wait: &mut dyn FnMut(Span),
) -> Heard {
    let end = now() + span;
    let mut heard = Heard::default();
    let mut states: Vec<Option<Adapter>> = vec![None; backends.len()];
    for backend in backends.iter_mut() {
        backend.request(now(), Request::Scan(true));
    }
    loop {
        let at = now();
        for (backend, state) in backends.iter_mut().zip(&mut states) {
            while let Some((_, event)) = backend.poll_event(at) {
                match event {
                    Event::Heard(report) => heard.add(report),
                    Event::Adapter(adapter) => *state = Some(adapter),
                    _ => {}
                }
            }
        }
        if at >= end {
            break;
        }
        let next = backends
            .iter()
            .filter_map(|backend| backend.poll_timeout())
            .min()
            .unwrap_or(end);
        wait(next.min(end).since(at));
    }
    for backend in backends.iter_mut() {
        backend.request(now(), Request::Scan(false));
    }
    heard.trouble = states.into_iter().flatten().find_map(|state| match state {
        Adapter::Missing(why) | Adapter::Off(why) | Adapter::Forbidden(why) => Some(why),
        Adapter::Listening | Adapter::Quiet => None,
    });
    heard
}

/// A device as it is listed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// What names it: its address, or what the platform gives instead.
    pub device: DeviceId,
    /// Its name, made safe to show.
    pub name: String,
    /// Signal strength, dBm.
    pub rssi: Option<i16>,
    /// What it could be used for.
    pub can: Vec<Role>,
    /// Why it cannot be used, or what stands in the way, in a sentence; none where nothing does.
    pub note: Option<String>,
    /// The services it lists.
    pub services: Vec<Uuid16>,
    /// Whether it is a model and not a machine.
    pub simulated: bool,
}

/// What each device heard can be used for, in the same order.
pub fn list(heard: &[Advertisement]) -> Vec<Listed> {
    heard.iter().map(listed).collect()
}

fn listed(heard: &Advertisement) -> Listed {
    // Data too short to say anything says nothing.
    let machine = heard
        .machine_data
        .as_deref()
        .and_then(|data| MachineAdvertisement::decode(data).ok());
    let can = roles::roles_of(&heard.services, machine);
    let note = roles::in_the_way(machine).or_else(|| {
        if !can.is_empty() {
            None
        } else if heard.services.is_empty() && heard.machine_data.is_none() {
            Some(say!(
                "It does not say what it is. If it is yours, name it by its address: stillroad ride FILE --trainer {address}",
                address = heard.device
            ))
        } else {
            Some(word!("It measures nothing that this program uses.").to_owned())
        }
    });
    Listed {
        device: heard.device.clone(),
        name: safe_name(heard.name.as_deref().unwrap_or_default()),
        rssi: heard.rssi,
        can,
        note,
        services: heard.services.clone(),
        simulated: heard.simulated,
    }
}

fn role_words(role: Role) -> &'static str {
    match role {
        Role::Trainer => word!("trainer"),
        Role::Meter => word!("power meter"),
        Role::Cadence => word!("cadence sensor"),
        Role::Heart => word!("heart strap"),
        Role::SecondHeart => word!("second heart strap"),
    }
}

/// The report on `heard` after listening for `span`, as text or as JSON; ends with a line feed.
///
/// JSON: `listened_s`, `trouble` (a sentence or null) and `devices`, each with `name`, `address`, `rssi_dbm`, `can`
/// (the roles as the command line writes them), `note`, `services` (four hexadecimal digits each) and `simulated`.
pub fn report(heard: &Heard, span: Span, as_json: bool) -> String {
    let listed = list(&heard.devices);
    if as_json {
        report_json(heard, &listed, span)
    } else {
        report_text(heard, &listed, span)
    }
}

fn report_json(heard: &Heard, listed: &[Listed], span: Span) -> String {
    let devices: Vec<Value> = listed
        .iter()
        .map(|one| {
            json!({
                "name": one.name,
                "address": one.device.as_str(),
                "rssi_dbm": one.rssi,
                "can": one.can.iter().map(|role| role.key()).collect::<Vec<_>>(),
                "note": one.note,
                "services": one.services.iter().map(Uuid16::to_string).collect::<Vec<_>>(),
                "simulated": one.simulated,
            })
        })
        .collect();
    let whole = json!({
        "listened_s": span.seconds(),
        "trouble": heard.trouble,
        "devices": devices,
    });
    format!("{whole:#}\n")
}

fn report_text(heard: &Heard, listed: &[Listed], span: Span) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail.
    if let Some(trouble) = &heard.trouble {
        let _ = writeln!(text, "{}", translated(trouble));
    } else if listed.iter().all(|one| one.simulated) {
        text += &say!(
            "No device was heard in {seconds} s: turn the pedals to wake the trainer, put the strap on, and try again.",
            seconds = span.seconds()
        );
        text.push('\n');
    }
    let width = |of: fn(&Listed) -> &str, least: usize| {
        listed
            .iter()
            .map(|one| of(one).chars().count())
            .fold(least, usize::max)
    };
    let (name, address) = (word!("Name"), word!("Address"));
    let name_width = width(|one| &one.name, name.chars().count());
    let address_width = width(|one| one.device.as_str(), address.chars().count());
    if !listed.is_empty() {
        let (signal, uses) = (word!("Signal"), word!("Can be used as"));
        let _ = writeln!(
            text,
            "{name:name_width$}  {address:address_width$}  {signal:>8}  {uses}"
        );
    }
    for one in listed {
        let signal = one
            .rssi
            .map_or_else(|| "–".to_owned(), |rssi| format!("{rssi} dBm"));
        let mut can = one
            .can
            .iter()
            .map(|role| role_words(*role))
            .collect::<Vec<_>>()
            .join(", ");
        if can.is_empty() {
            can.push('–');
        }
        if one.simulated {
            can.push(' ');
            can.push_str(word!("(simulated)"));
        }
        let _ = writeln!(
            text,
            "{:name_width$}  {:address_width$}  {signal:>8}  {can}",
            one.name,
            one.device.as_str()
        );
        if let Some(note) = &one.note {
            let _ = writeln!(text, "    {}", translated(note));
        }
    }
    text
}

/// Listens on the radio and through the practice devices, and reports.
pub fn run(span: Span, as_json: bool) -> String {
    let clock = crate::engine::drive::Clock::new();
    let (wake, woken) = std::sync::mpsc::sync_channel(1);
    // A full channel holds a wake-up already.
    let wake = Arc::new(move || {
        let _full = wake.try_send(());
    });
    let practice = Practice::new(PracticeConfig::default());
    let radio = Radio::start(Arc::new(move || clock.now()), wake);
    let mut backends: Vec<Box<dyn Backend>> = vec![Box::new(practice), Box::new(radio)];
    let mut wait = |span: Span| {
        let _woken = woken.recv_timeout(std::time::Duration::from_micros(span.0));
    };
    let heard = listen(&mut backends, span, &|| clock.now(), &mut wait);
    report(&heard, span, as_json)
}

#[cfg(test)]
mod tests;
