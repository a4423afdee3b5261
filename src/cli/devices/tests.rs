//! What is listed, and how.
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
        (&[0x1818], &[Meter, Cadence]),
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
Rig               F0:00:00:00:00:01   -52 dBm  trainer, power meter, cadence sensor
    It is busy: another program, computer or telephone uses it. Close that connection first.
[31mEvil Strap    F0:00:00:00:00:02         –  heart strap
Practice trainer  practice:trainer    -52 dBm  trainer (simulated)
"
    );
    let json: Value = serde_json::from_str(&report(&heard, Span::from_seconds(5), true)).unwrap();
    assert_eq!(json["listened_s"], 5.0);
    assert_eq!(json["trouble"], Value::Null);
    assert_eq!(
        json["devices"][1],
        json!({"name": "[31mEvil Strap", "address": "F0:00:00:00:00:02", "rssi_dbm": null,
            "can": ["heart"], "note": null, "services": ["180D"], "simulated": false})
    );
    assert_eq!(
        json["devices"][0]["can"],
        json!(["trainer", "meter", "cadence"])
    );
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
