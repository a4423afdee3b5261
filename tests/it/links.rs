//! Links that are made with trouble, roles that fall back, a brake that was left held, and an end behind an answer that
//! does not come.

mod changed;
mod doubts;
mod letting_go;
mod making;
mod pulse;
mod wire;

use std::collections::BTreeSet;

use stillroad::device::practice::PracticeConfig;
use stillroad::device::{Advertisement, DeviceId, Event, Failure, Request};
use stillroad::engine::input::Input;
use stillroad::engine::{Command, Role};
use stillroad::gatt::uuid16::{CONTROL_POINT, FITNESS_MACHINE};
use stillroad::gatt::{MachineAdvertisement, Uuid16};
use stillroad::memory::Memory;
use stillroad::ride::{Mode, RideMode};
use stillroad::units::Bpm;

use crate::world::{Fake, Knobs, Ride, rider, session, tap};
use pulse::Pulse;
use wire::Wire;

const HOLD: &str = "[[block]]\nkind = \"hold\"\ntime = \"20:00\"\nwatts = 150\n";

fn wired() -> (Wire, Ride) {
    let wire = Wire::new(&Fake::new(Knobs::default()));
    let mut ride = Ride::new(vec![tap(wire.clone())]);
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(wire.fake.id())));
    (wire, ride)
}

/// When the control point's subscription was asked for, seconds.
fn tries(ride: &Ride) -> Vec<f64> {
    let requests = ride.requests().into_iter();
    let control = |request: &Request| matches!(request, Request::Subscribe(_, CONTROL_POINT));
    requests
        .filter(|(_, request)| control(request))
        .map(|(at, _)| at.0 as f64 / 1e6)
        .collect()
}

/// Lets time pass and gathers what stood on the screen.
fn listen(ride: &mut Ride, seconds: f64) -> BTreeSet<String> {
    let mut said = BTreeSet::from([ride.notice()]);
    for _ in 0..(seconds * 10.0) as usize {
        ride.pass(0.1);
        said.insert(ride.notice());
    }
    said
}

#[test]
fn the_columns_know_every_role() {
    let keys = Role::ALL.map(Role::key);
    assert_eq!(keys, stillroad::record::columns::SOURCES);
}

fn has(said: &BTreeSet<String>, part: &str) -> bool {
    said.iter().any(|sentence| sentence.contains(part))
}

#[test]
fn a_control_point_that_refuses_its_subscription_twice_is_asked_again_before_the_link_is_up() {
    let (wire, mut ride) = wired();
    wire.rule().refuse = Some((CONTROL_POINT, Failure::Att(0x80), 2));
    let said = listen(&mut ride, 6.0);
    let tries = tries(&ride);
    assert_eq!(tries.len(), 3, "{tries:?}");
    assert!((0.4..0.7).contains(&(tries[1] - tries[0])), "{tries:?}");
    assert!((1.9..2.2).contains(&(tries[2] - tries[1])), "{tries:?}");
    assert!(!has(&said, "cannot be set"), "{said:?}");
    ride.command(Command::Start);
    ride.pass(20.0);
    assert_eq!(wire.fake.state().holds, Some(150));
}

#[test]
fn one_that_refuses_longer_is_asked_again_on_the_standing_link_and_the_load_then_builds_up() {
    let (wire, mut ride) = wired();
    wire.rule().refuse = Some((CONTROL_POINT, Failure::Att(0x80), 4));
    let said = listen(&mut ride, 4.0);
    assert!(
        has(&said, "does not yet let this program listen"),
        "{said:?}"
    );
    assert!(!has(&said, "cannot be set by a program"), "{said:?}");
    ride.command(Command::Start);
    ride.pass(2.0);
    assert!(ride.snapshot().power.fresh().is_some(), "its reports come");
    assert!(ride.writes().is_empty(), "and nothing is set");
    ride.pass(30.0);
    assert_eq!(wire.fake.state().holds, Some(150));
    let powers: Vec<_> = ride.watts();
    assert_eq!(powers[0].1, 0, "from release");
    assert_eq!(ride.mode(), Mode::Riding);
}

#[test]
fn one_that_never_lets_itself_be_heard_is_named_and_not_asked_for_ever() {
    let (wire, mut ride) = wired();
    wire.rule().refuse = Some((CONTROL_POINT, Failure::Att(0x80), 99));
    let said = listen(&mut ride, 120.0);
    // Three on the way and three on the standing link.
    assert_eq!(tries(&ride).len(), 6);
    assert!(has(
        &said,
        "does not let this program listen to its control point"
    ));
    assert!(has(&said, "ATT error 80") && !has(&said, "cannot be set by a program"));
    ride.command(Command::Start);
    ride.pass(10.0);
    assert!(ride.rows().len() >= 9, "the ride goes on without the brake");
    assert!(ride.writes().is_empty());
}

#[test]
fn one_that_wants_to_be_paired_is_not_asked_twice_and_how_to_pair_is_said_at_once() {
    // Insufficient authentication and insufficient encryption (Core Specification, volume 3, part F, 3.4.1.1).
    for why in [
        Failure::Att(0x05),
        Failure::Att(0x0F),
        Failure::Forbidden("Pair it.".to_owned()),
    ] {
        let (wire, mut ride) = wired();
        wire.rule().refuse = Some((CONTROL_POINT, why, 99));
        let said = listen(&mut ride, 3.0);
        assert!(has(&said, "paired with this computer"), "{said:?}");
        listen(&mut ride, 60.0);
        assert_eq!(tries(&ride).len(), 1);
    }
}

#[test]
fn a_short_discovery_is_done_anew_before_it_is_believed() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(30.0);
    let from = ride.now();
    wire.rule().short = (2, vec![CONTROL_POINT]);
    wire.fake.drop_link(from);
    let said = listen(&mut ride, 30.0);
    assert!(!has(&said, "cannot be set by a program"), "{said:?}");
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(wire.fake.state().holds, Some(150));
    let connects = ride.requests().into_iter();
    let after = |(at, request): &(_, Request)| *at > from && matches!(request, Request::Connect(_));
    assert_eq!(connects.filter(after).count(), 3);
    assert_eq!(ride.rows().len(), 55, "the recording went on");
}

#[test]
fn one_that_stays_short_is_believed_and_an_empty_one_is_not_at_once() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(30.0);
    wire.rule().short = (99, vec![CONTROL_POINT]);
    wire.fake.drop_link(ride.now());
    let said = listen(&mut ride, 30.0);
    assert!(has(&said, "cannot be set by a program"), "{said:?}");
    assert!(ride.snapshot().power.fresh().is_some(), "its reports count");

    let (wire, mut ride) = wired();
    let everything: Vec<Uuid16> = (0..=0xFFFF).map(Uuid16).collect();
    wire.rule().short = (1, everything);
    ride.to(10.0);
    assert!(ride.snapshot().brake_in_hand, "found on the second look");
}

/// What a ride needs of the devices and no more: services and characteristics of Fitness Machine 1.0, Cycling Power,
/// Cycling Speed and Cadence, Heart Rate and Battery; to be written is the control point alone.
#[test]
fn nothing_is_read_subscribed_to_or_written_but_what_a_ride_needs_and_on_no_device_but_those_chosen()
 {
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\nwatts = 100\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:10\"\nwatts = 300\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 90\n",
    );
    let mut ride = Ride::practice(
        PracticeConfig::default(),
        &plan,
        &rider(),
        RideMode::TargetPower,
    );
    ride.command(Command::Scan(true));
    ride.start();
    ride.to_the_end(400.0);
    ride.command(Command::Close);
    ride.pass(6.0);
    let reads = [0x2ACC, 0x2AD6, 0x2AD8, 0x2A19];
    let subscriptions = [
        0x2AD2, 0x2AD3, 0x2AD9, 0x2ADA, 0x2A63, 0x2A5B, 0x2A37, 0x2A19,
    ];
    let chosen = ["practice:trainer", "practice:heart"];
    let requests = ride.requests();
    assert!(requests.len() > 30);
    for (_, request) in requests {
        let device = request.device().unwrap().as_str();
        assert!(chosen.contains(&device), "{request:?}");
        match &request {
            Request::Read(_, what) => assert!(reads.contains(&what.0), "{request:?}"),
            Request::Subscribe(_, what) => {
                assert!(subscriptions.contains(&what.0), "{request:?}");
            }
            // Request control, resistance, power, start, stop; simulation and spin-down where they are offered.
            Request::Write(_, what, bytes) => {
                assert_eq!(what.0, 0x2AD9, "{request:?}");
                assert!(
                    [0x00, 0x04, 0x05, 0x07, 0x08].contains(&bytes[0]),
                    "{request:?}"
                );
            }
            Request::Connect(_) | Request::Disconnect(_) | Request::Scan(_) => {}
        }
    }
}

#[test]
fn a_second_strap_counts_while_the_first_is_away_and_no_longer() {
    let fake = Fake::new(Knobs::default());
    let (first, second) = (
        Pulse::new("fake:first", 140.0),
        Pulse::new("fake:second", 150.0),
    );
    let mut ride = Ride::new(vec![
        tap(fake.clone()),
        tap(first.clone()),
        tap(second.clone()),
    ]);
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(fake.id())));
    ride.command(Command::Use(Role::Heart, Some(first.id())));
    ride.command(Command::Use(Role::SecondHeart, Some(second.id())));
    ride.start();
    ride.to(20.0);
    let beats = |ride: &Ride| ride.snapshot().heart_rate.fresh();
    assert_eq!(beats(&ride), Some(Bpm(140.0)));
    first.away(ride.now(), true);
    ride.pass(1.0);
    assert_eq!(beats(&ride), Some(Bpm(150.0)), "at once: its link was lost");
    let events = ride.events();
    let source = events.iter().rfind(|event| event.what == "source").unwrap();
    assert!(
        source.detail.contains("second heart strap"),
        "{}",
        source.detail
    );
    ride.pass(20.0);
    first.away(ride.now(), false);
    ride.pass(40.0);
    assert_eq!(beats(&ride), Some(Bpm(140.0)), "it is back");
    // Whose they are stands in every row; the straps tell different figures.
    let rows = ride.rows();
    for row in &rows {
        let whose = row.heart_rate.map(|bpm| match bpm {
            Bpm(140.0) => "heart",
            _ => "second-heart",
        });
        assert_eq!(row.heart_rate_from, whose, "{row:?}");
        assert_eq!(row.power_from, row.power.map(|_| "trainer"));
    }
    assert!(
        rows.iter()
            .any(|row| row.heart_rate_from == Some("second-heart"))
    );
    // Roles may be changed in mid-ride; one strap cannot stand in for itself.
    ride.command(Command::Use(Role::Heart, Some(second.id())));
    ride.pass(3.0);
    assert_eq!(beats(&ride), Some(Bpm(150.0)));
    let rows = ride.snapshot().devices.clone();
    let used = |id: &DeviceId| {
        rows.iter()
            .find(|row| row.id == *id)
            .unwrap()
            .used_for
            .clone()
    };
    assert_eq!(used(&second.id()), [Role::Heart]);
    assert!(used(&first.id()).is_empty());
    assert_eq!(ride.mode(), Mode::Riding);
    let remembered = ride.world.remembered().unwrap().clone();
    assert_eq!(remembered.devices["heart"], "fake:second");
    assert_eq!(remembered.devices.get("second-heart"), None);
    // The next start takes it as the first strap, and as nothing else.
    let mut next = Ride::new(vec![tap(second.clone())]);
    next.input(Input::Remembered(Box::new(remembered)));
    next.command(Command::Scan(true));
    next.input(heart_on_the_air(&second.id()));
    next.to(5.0);
    let rows = next.snapshot().devices.clone();
    assert_eq!(rows[0].used_for, [Role::Heart]);
}

#[test]
fn the_riders_choice_of_a_first_strap_is_not_taken_back() {
    let (first, second) = (
        Pulse::new("fake:first", 140.0),
        Pulse::new("fake:second", 150.0),
    );
    let mut memory = Memory::default();
    for (role, strap) in [("heart", &first), ("second-heart", &second)] {
        memory.devices.insert(role.into(), strap.id().to_string());
        memory
            .services
            .insert(strap.id().to_string(), vec!["180D".into()]);
    }
    let mut ride = Ride::new(vec![tap(first.clone()), tap(second.clone())]);
    ride.input(Input::Remembered(Box::new(memory)));
    ride.command(Command::Scan(true));
    ride.input(heart_on_the_air(&first.id()));
    ride.input(heart_on_the_air(&second.id()));
    ride.to(5.0);
    let used = |ride: &Ride, id: &DeviceId| {
        let rows = ride.snapshot().devices.clone();
        rows.iter()
            .find(|row| row.id == *id)
            .unwrap()
            .used_for
            .clone()
    };
    assert_eq!(used(&ride, &first.id()), [Role::Heart]);
    assert_eq!(used(&ride, &second.id()), [Role::SecondHeart]);
    ride.command(Command::Use(Role::Heart, Some(second.id())));
    ride.to(10.0);
    assert_eq!(used(&ride, &second.id()), [Role::Heart]);
}

fn heart_on_the_air(id: &DeviceId) -> Input {
    Input::Device(Event::Heard(Advertisement {
        device: id.clone(),
        name: Some("Strap".into()),
        services: vec![stillroad::gatt::uuid16::HEART_RATE],
        machine_data: None,
        rssi: Some(-60),
        simulated: false,
    }))
}

fn on_the_air(id: &DeviceId) -> Input {
    Input::Device(Event::Heard(Advertisement {
        device: id.clone(),
        name: Some("Rig".into()),
        services: vec![FITNESS_MACHINE],
        machine_data: Some(MachineAdvertisement::indoor_bike(true).encode()),
        rssi: Some(-60),
        simulated: false,
    }))
}

#[test]
fn the_form_of_a_level_is_remembered_from_ride_to_ride() {
    let with = |memory: Option<Memory>| {
        let knobs = Knobs {
            offers_power: false,
            power_range: None,
            ..Knobs::default()
        };
        let wire = Wire::new(&Fake::new(knobs));
        wire.rule().words_only = true;
        let mut ride = Ride::new(vec![tap(wire.clone())]);
        if let Some(memory) = memory {
            ride.input(Input::Remembered(Box::new(memory)));
        }
        ride.choose(&session(HOLD), &rider(), RideMode::EffortOnly);
        ride.command(Command::Use(Role::Trainer, Some(wire.fake.id())));
        ride.start();
        ride.to(120.0);
        ride
    };
    let levels = |ride: &Ride| -> Vec<usize> {
        let writes = ride.writes().into_iter().map(|(_, bytes)| bytes);
        writes
            .filter(|bytes| bytes[0] == 0x04)
            .map(|bytes| bytes.len())
            .collect()
    };
    let first = with(None);
    assert_eq!(
        levels(&first)[..2],
        [2, 3],
        "an octet first, as the standard has it"
    );
    let memory = first.world.remembered().unwrap().clone();
    let id = Fake::new(Knobs::default()).id();
    assert_eq!(
        memory.trainers[id.as_str()].resistance_form.as_deref(),
        Some("word")
    );
    let second = with(Some(memory));
    assert!(!levels(&second).is_empty());
    assert!(levels(&second).iter().all(|length| *length == 3));
}

#[test]
fn strangers_names_are_harmless_in_every_sentence_and_file() {
    let wire = Wire::new(&Fake::new(Knobs::default()));
    let mut ride = Ride::new(vec![tap(wire.clone())]);
    let Input::Device(Event::Heard(heard)) = on_the_air(&wire.fake.id()) else {
        unreachable!()
    };
    let name = format!(
        "=cmd\u{202e}\u{1b}[2J\r\n\u{200b}{}",
        "e\u{301}\u{302}".repeat(300)
    );
    ride.input(Input::Device(Event::Heard(Advertisement {
        name: Some(name),
        ..heard
    })));
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(wire.fake.id())));
    ride.start();
    ride.to(20.0);
    wire.fake.drop_link(ride.now());
    ride.pass(5.0);
    let shown = ride.snapshot().devices[0].name.clone();
    let mut texts: Vec<String> = ride
        .events()
        .into_iter()
        .map(|event| event.detail)
        .collect();
    texts.push(shown);
    assert!(texts.iter().any(|text| text.contains("=cmd")), "{texts:?}");
    for text in texts {
        assert!(
            !text
                .chars()
                .any(|c| c.is_control() || c == '\u{202e}' || c == '\u{200b}'),
            "{text:?}"
        );
        assert!(text.chars().count() < 300, "{text:?}");
    }
}
