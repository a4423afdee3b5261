//! `stillroad devices`: what is heard on the air, what each device can be used for, and why one cannot be used.

use std::fmt::Write as _;
use std::sync::Arc;

use serde_json::{Value, json};

use crate::device::name::safe_name;
use crate::device::practice::{Practice, PracticeConfig};
use crate::device::radio::Radio;
use crate::device::{Adapter, Advertisement, Backend, DeviceId, Event, Request};
use crate::engine::command::Role;
use crate::gatt::Uuid16;
use crate::gatt::fitness_machine::MachineAdvertisement;
use crate::gatt::uuid16::{CYCLING_POWER, FITNESS_MACHINE, HEART_RATE, SPEED_AND_CADENCE};
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
    let lists = |service| heard.services.contains(&service);
    // Data too short to say anything says nothing.
    let machine = heard
        .machine_data
        .as_deref()
        .and_then(|data| MachineAdvertisement::decode(data).ok());
    let mut note = None;
    let mut can = Vec::new();
    match machine {
        Some(machine) if !machine.is_indoor_bike() => {
            note = Some(format!(
                "It is {}, not an indoor bike: this program cannot set it.",
                kinds(machine)
            ));
        }
        _ if machine.is_some() || lists(FITNESS_MACHINE) => can.push(Role::Trainer),
        _ => {}
    }
    for (service, role) in [
        (CYCLING_POWER, Role::Meter),
        (SPEED_AND_CADENCE, Role::Cadence),
        (HEART_RATE, Role::Heart),
    ] {
        if lists(service) {
            can.push(role);
        }
    }
    if note.is_none() {
        note = if machine.is_some_and(|machine| !machine.is_available()) {
            Some(
                "It is busy: another program, computer or telephone uses it. Close that connection first."
                    .to_owned(),
            )
        } else if can.is_empty() && heard.services.is_empty() && heard.machine_data.is_none() {
            Some(format!(
                "It does not say what it is. If it is yours, name it by its address: stillroad ride FILE --trainer {}",
                heard.device
            ))
        } else if can.is_empty() {
            Some("It measures nothing that this program uses.".to_owned())
        } else {
            None
        };
    }
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

fn role_words(role: Role) -> &'static str {
    match role {
        Role::Trainer => "trainer",
        Role::Meter => "power meter",
        Role::Cadence => "cadence sensor",
        Role::Heart => "heart strap",
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
        let _ = writeln!(text, "{trouble}");
    } else if listed.iter().all(|one| one.simulated) {
        let _ = writeln!(
            text,
            "No device was heard in {} s: turn the pedals to wake the trainer, put the strap on, and try again.",
            span.seconds()
        );
    }
    let width = |of: fn(&Listed) -> &str, least: usize| {
        listed
            .iter()
            .map(|one| of(one).chars().count())
            .fold(least, usize::max)
    };
    let name_width = width(|one| &one.name, 4);
    let address_width = width(|one| one.device.as_str(), 7);
    if !listed.is_empty() {
        let _ = writeln!(
            text,
            "{:name_width$}  {:address_width$}  {:>8}  Can be used as",
            "Name", "Address", "Signal"
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
            can.push_str(" (simulated)");
        }
        let _ = writeln!(
            text,
            "{:name_width$}  {:address_width$}  {signal:>8}  {can}",
            one.name,
            one.device.as_str()
        );
        if let Some(note) = &one.note {
            let _ = writeln!(text, "    {note}");
        }
    }
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::cell::Cell;
    use std::collections::VecDeque;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicU32, Ordering};

    fn heard(services: &[u16], machine_data: Option<&[u8]>) -> Advertisement {
        Advertisement {
            device: DeviceId::new("F0:00:00:00:00:01"),
            name: Some("Rig".to_owned()),
            services: services.iter().map(|service| Uuid16(*service)).collect(),
            machine_data: machine_data.map(<[u8]>::to_vec),
            rssi: Some(-52),
            simulated: false,
        }
    }

    fn one(services: &[u16], machine_data: Option<&[u8]>) -> Listed {
        list(&[heard(services, machine_data)]).remove(0)
    }

    #[test]
    fn services_say_what_a_device_can_be_used_for() {
        use Role::{Cadence, Heart, Meter, Trainer};
        // Service numbers from the SIG's assigned numbers, written out.
        let cases: [(&[u16], &[Role]); 6] = [
            (&[0x1826], &[Trainer]),
            (&[0x1826, 0x1818, 0x1816], &[Trainer, Meter, Cadence]),
            (&[0x1818], &[Meter]),
            (&[0x1816], &[Cadence]),
            (&[0x180D, 0x180F], &[Heart]),
            (&[0x180F], &[]),
        ];
        for (services, can) in cases {
            let listed = one(services, None);
            assert_eq!(listed.can, can, "{services:04X?}");
            assert_eq!(listed.note.is_some(), can.is_empty());
        }
    }

    /// Fitness Machine Service 1.0, 3.1: flags (bit 0 available), type of machine (bit 5 indoor bike, 0 treadmill).
    #[test]
    fn machine_data_tells_bikes_from_other_machines_and_the_busy_from_the_free() {
        let bike = one(&[0x1826], Some(&[0x01, 0x20, 0x00]));
        assert_eq!(
            (bike.can.as_slice(), bike.note),
            (&[Role::Trainer][..], None)
        );
        // Treadmill and bike both: offered.
        assert_eq!(one(&[0x1826], Some(&[1, 0x21, 0])).can, [Role::Trainer]);
        // Reserved bits set: ignored.
        let reserved = one(&[0x1826], Some(&[0xFF, 0xE0, 0xFF]));
        assert_eq!((reserved.can.len(), reserved.note), (1, None));
        // Listed by its data alone.
        assert_eq!(one(&[], Some(&[1, 0x20, 0])).can, [Role::Trainer]);

        let treadmill = one(&[0x1826, 0x180D], Some(&[1, 0x01, 0]));
        assert_eq!(treadmill.can, [Role::Heart]);
        assert!(treadmill.note.unwrap().contains("a treadmill, not"));
        let two = one(&[0x1826], Some(&[1, 0x12, 0]));
        assert!(two.note.unwrap().contains("a cross trainer and a rower"));
        let unknown = one(&[0x1826], Some(&[1, 0xC0, 0xFF]));
        assert!(unknown.can.is_empty());
        assert!(unknown.note.unwrap().contains("unknown kind"));

        let busy = one(&[0x1826], Some(&[0, 0x20, 0]));
        assert_eq!(busy.can, [Role::Trainer]);
        assert!(busy.note.unwrap().contains("busy"));
        // Too short to say anything: as if it were not there.
        let short = one(&[0x1826], Some(&[0, 1]));
        assert_eq!(
            (short.can.as_slice(), short.note),
            (&[Role::Trainer][..], None)
        );
    }

    #[test]
    fn a_device_that_says_nothing_can_be_named_by_its_address() {
        let listed = one(&[], None);
        assert!(listed.can.is_empty());
        assert!(
            listed
                .note
                .unwrap()
                .ends_with("--trainer F0:00:00:00:00:01")
        );
        assert!(
            one(&[0x180A], None)
                .note
                .unwrap()
                .contains("measures nothing")
        );
    }

    #[test]
    fn the_table_is_plain_text_whatever_a_device_calls_itself() {
        let mut strap = heard(&[0x180D], None);
        strap.device = DeviceId::new("F0:00:00:00:00:02");
        strap.name = Some("\u{1b}[31mEvil\nStrap\u{202e}".to_owned());
        strap.rssi = None;
        let mut practice = heard(&[0x1826], None);
        practice.device = DeviceId::new("practice:trainer");
        practice.name = Some("Practice trainer".to_owned());
        practice.simulated = true;
        let heard = Heard {
            devices: vec![
                heard(&[0x1826, 0x1818], Some(&[0, 0x20, 0])),
                strap,
                practice,
            ],
            trouble: None,
        };
        assert_eq!(
            report(&heard, Span::from_seconds(5), false),
            "\
Name              Address              Signal  Can be used as
Rig               F0:00:00:00:00:01   -52 dBm  trainer, power meter
    It is busy: another program, computer or telephone uses it. Close that connection first.
[31mEvil Strap    F0:00:00:00:00:02         –  heart strap
Practice trainer  practice:trainer    -52 dBm  trainer (simulated)
"
        );
        let json: Value =
            serde_json::from_str(&report(&heard, Span::from_seconds(5), true)).unwrap();
        assert_eq!(json["listened_s"], 5.0);
        assert_eq!(json["trouble"], Value::Null);
        assert_eq!(
            json["devices"][1],
            json!({"name": "[31mEvil Strap", "address": "F0:00:00:00:00:02", "rssi_dbm": null,
                "can": ["heart"], "note": null, "services": ["180D"], "simulated": false})
        );
        assert_eq!(json["devices"][0]["can"], json!(["trainer", "meter"]));
        assert_eq!(json["devices"][2]["simulated"], true);
    }

    #[test]
    fn silence_and_trouble_are_sentences() {
        let mut nothing = Heard::default();
        let span = Span::from_seconds(8);
        assert!(report(&nothing, span, false).starts_with("No device was heard in 8 s: turn"));
        nothing.trouble = Some("Bluetooth is switched off.".to_owned());
        assert_eq!(
            report(&nothing, span, false),
            "Bluetooth is switched off.\n"
        );
        let json: Value = serde_json::from_str(&report(&nothing, span, true)).unwrap();
        assert_eq!(json["trouble"], "Bluetooth is switched off.");
        assert_eq!(json["devices"], json!([]));
    }

    /// A backend that says what it was given, at the moments it was given.
    struct Script {
        events: VecDeque<(Instant, Event)>,
        stopped: Arc<AtomicU32>,
    }

    impl Backend for Script {
        fn owns(&self, _: &DeviceId) -> bool {
            true
        }
        fn request(&mut self, _: Instant, request: Request) {
            if request == Request::Scan(false) {
                self.stopped.fetch_add(1, Ordering::Relaxed);
            }
        }
        fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
            self.events.pop_front_if(|(at, _)| *at <= now)
        }
        fn poll_timeout(&self) -> Option<Instant> {
            self.events.front().map(|(at, _)| *at)
        }
    }

    #[test]
    fn listening_gathers_from_all_backends_until_its_time_is_over() {
        let second = |n| Instant::ZERO + Span::from_seconds(n);
        let mut named = heard(&[0x1826], None);
        let mut later = heard(&[0x1818], Some(&[1, 0x20, 0]));
        later.name = None;
        later.rssi = Some(-70);
        let too_late = heard(&[0x180D], None);
        named.rssi = None;
        let stopped = Arc::new(AtomicU32::new(0));
        let script = |events: Vec<(Instant, Event)>| -> Box<dyn Backend> {
            Box::new(Script {
                events: events.into(),
                stopped: Arc::clone(&stopped),
            })
        };
        let off = Adapter::Off("Switched off.".to_owned());
        let mut backends = vec![
            script(vec![
                (second(1), Event::Adapter(off)),
                (second(1), Event::Heard(named)),
                (second(4), Event::Heard(later)),
                (second(7), Event::Heard(too_late)),
            ]),
            script(vec![(second(2), Event::Adapter(Adapter::Listening))]),
        ];
        let clock = Cell::new(Instant::ZERO);
        let gathered = listen(
            &mut backends,
            Span::from_seconds(6),
            &|| clock.get(),
            &mut |span| {
                assert!(span > Span::ZERO, "waiting for nothing would never end");
                clock.set(clock.get() + span);
            },
        );
        assert_eq!(clock.get(), second(6));
        assert_eq!(stopped.load(Ordering::Relaxed), 2);
        assert_eq!(gathered.trouble.as_deref(), Some("Switched off."));
        let mut whole = heard(&[0x1826, 0x1818], Some(&[1, 0x20, 0]));
        whole.rssi = Some(-70);
        assert_eq!(gathered.devices, [whole]);
    }
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
