//! What Prepare has to stand: shelves and devices of many sorts.

use std::sync::Arc;

use stillroad::app::Shelf;
use stillroad::control::SpinDownStage;
use stillroad::device::{Adapter, DeviceId};
use stillroad::engine::Snapshot;
use stillroad::engine::command::Role;
use stillroad::engine::snapshot::{DeviceRow, Link, SpinDownView, SpinDowns};
use stillroad::plan::{self, Plan};
use stillroad::ride::{Mode, Reading};
use stillroad::rider::Rider;
use stillroad::time::Instant;
use stillroad::units::MetresPerSecond;

use super::hand::shelf;
use super::states::{AT, idle, practice, ready, steady_plan};

/// Names as people give them: long, short, in other scripts.
const NAMES: [&str; 8] = [
    "Morning over the long bridge to the lighthouse and back against the wind, twice",
    "К маяку и обратно",
    "Łagodna rozgrzewka i trzy dłuższe odcinki",
    "До порта",
    "A",
    "Ανηφόρα στο κάστρο",
    "灯台まで静かに",
    "灯台から静かに",
];

/// So many sessions, the built-in ones first.
pub fn many(count: usize) -> Shelf {
    let mut sessions: Vec<(String, Arc<Plan>)> = plan::builtin()
        .iter()
        .map(|(key, text)| {
            let plan = plan::read(text).plan.unwrap();
            ((*key).to_owned(), Arc::new(plan))
        })
        .collect();
    for number in sessions.len()..count {
        let plan = Plan {
            name: format!("{} {number}", NAMES[number % NAMES.len()]),
            ..steady_plan()
        };
        sessions.push((format!("own-{number}"), Arc::new(plan)));
    }
    let riders = (0..9).map(|number| {
        let rider = Rider {
            name: NAMES[number % NAMES.len()].to_owned(),
            ..Rider::default()
        };
        (Some(format!("rider-{number}")), Arc::new(rider))
    });
    Shelf {
        sessions,
        riders: riders.collect(),
        troubles: Vec::new(),
    }
}

/// Only what comes with the program, as at a first start.
pub fn first() -> Shelf {
    Shelf {
        sessions: many(4).sessions,
        riders: vec![(None, Arc::new(Rider::default()))],
        troubles: Vec::new(),
    }
}

/// A real device.
pub fn device(address: &str, name: &str, can: &[Role]) -> DeviceRow {
    DeviceRow {
        id: DeviceId::new(address),
        name: name.to_owned(),
        can: can.to_vec(),
        used_for: Vec::new(),
        link: Link::Heard,
        battery: None,
        rssi: Some(-58),
        last_heard: Some(AT),
        live: String::new(),
        bad_records: 0,
        simulated: false,
        known: false,
    }
}

/// Twelve devices, two of them of one name.
pub fn dozen() -> Snapshot {
    let trainer = [Role::Trainer, Role::Meter, Role::Cadence];
    let mut devices = vec![practice(false)];
    devices.push(DeviceRow {
        known: true,
        live: "0 W, 0 rpm".into(),
        battery: Some(100),
        ..device("D0:12:AB:34:56:78", "Hall trainer", &trainer)
    });
    devices.push(DeviceRow {
        link: Link::Unusable(
            "It is busy: another program, computer or telephone uses it. Close that connection first."
                .into(),
        ),
        ..device("D0:12:AB:34:56:99", "Hall trainer", &trainer)
    });
    for number in 3..12 {
        devices.push(DeviceRow {
            rssi: Some(-40 - number * 5),
            battery: (number % 2 == 0).then_some(number as u8 * 7),
            last_heard: Some(Instant(AT.0 - number as u64 * 17_000_000)),
            bad_records: u32::from(number == 5) * 3,
            ..device(
                &format!("E1:00:00:00:00:{number:02}"),
                &format!("{} {number}", NAMES[number as usize % NAMES.len()]),
                if number % 3 == 0 {
                    &[Role::Heart]
                } else {
                    &[Role::Cadence]
                },
            )
        });
    }
    Snapshot {
        devices: devices.into(),
        ..idle()
    }
}

/// Every state by name, with what can be chosen in it.
pub fn all() -> Vec<(&'static str, Snapshot, Shelf)> {
    let first_start = Snapshot {
        devices: Arc::from([practice(false)]),
        missing: Vec::new(),
        ..ready()
    };
    let no_adapter = Snapshot {
        adapter: Adapter::Missing(
            "The computer has no Bluetooth that this program can use: the service that drives it does not run, or \
             there is no adapter. Start the service or plug an adapter in; the practice trainer works without."
                .into(),
        ),
        ..first_start.clone()
    };
    let seen = |snapshot: Snapshot| Snapshot {
        cautions_seen_today: true,
        ..snapshot
    };
    let mut bare = shelf();
    bare.sessions.clear();
    bare.troubles = vec![
        "The session bridge cannot be used: 3:1: error: The effort of 12 is outside 0 to 10. Look it over with `stillroad check`.".into(),
        "The rider robin cannot be used: 1:1: error: A threshold of 20 W is outside 30 to 600 W.".into(),
    ];
    let mut connecting = practice(true);
    connecting.link = Link::Connecting;
    let wanting = Snapshot {
        missing: vec![
            "Hall trainer is not connected yet.".into(),
            "Chest strap shows no heart rate yet: wet its contacts.".into(),
        ],
        notice: Some(Arc::from(
            "The last ride ended with the brake on: the trainer may still hold its load. Turn the pedals gently first.",
        )),
        ..no_adapter.clone()
    };
    vec![
        ("prepare-first", first_start.clone(), first()),
        ("prepare-no-adapter", no_adapter, first()),
        ("prepare-thirty", seen(ready()), many(30)),
        ("prepare-dozen", seen(dozen()), shelf()),
        ("prepare-cautions", ready(), first()),
        (
            "prepare-connecting",
            seen(Snapshot {
                mode: Mode::Connecting,
                devices: Arc::from([connecting]),
                ..ready()
            }),
            shelf(),
        ),
        ("prepare-ready", seen(ready()), shelf()),
        (
            "prepare-calibrate",
            seen(Snapshot {
                spin_down: SpinDowns {
                    offered: true,
                    asked_for: true,
                    ..SpinDowns::default()
                },
                ..ready()
            }),
            shelf(),
        ),
        (
            "prepare-spin-down",
            seen(Snapshot {
                speed: Reading::Fresh(MetresPerSecond::from_kmh(21.4)),
                spin_down: SpinDowns {
                    offered: true,
                    guide: Some(SpinDownView {
                        stage: SpinDownStage::Speeding,
                        sentence: "Pedal faster: between 25 km/h and 34 km/h.".into(),
                        window: Some((
                            MetresPerSecond::from_kmh(25.0),
                            MetresPerSecond::from_kmh(34.0),
                        )),
                    }),
                    ..SpinDowns::default()
                },
                ..ready()
            }),
            shelf(),
        ),
        (
            "prepare-pedals",
            seen(Snapshot {
                waits_for_pedals: true,
                ..ready()
            }),
            first(),
        ),
        (
            "prepare-group",
            seen(Snapshot {
                waits_for_pedals: true,
                ..super::television::in_group(ready(), -252, true, None)
            }),
            first(),
        ),
        ("prepare-wanting", seen(wanting), bare),
        (
            "prepare-nothing",
            seen(Snapshot {
                devices: Arc::from([]),
                ..idle()
            }),
            first(),
        ),
    ]
}
