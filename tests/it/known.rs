//! What is remembered between rides and used again: devices, and the day on which the cautions were seen.

use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::device::{Advertisement, DeviceId, Event};
use stillroad::engine::input::Input;
use stillroad::engine::snapshot::{DeviceRow, Link};
use stillroad::engine::{Command, Role};
use stillroad::gatt::MachineAdvertisement;
use stillroad::gatt::uuid16::{FITNESS_MACHINE, HEART_RATE};
use stillroad::memory::{MOST_EASED, Memory};
use stillroad::plan::fit::{Recoveries, Wish, fit};
use stillroad::ride::{Mode, RideMode};

use crate::replay::{outcome, raw, replay};
use crate::world::{Fake, Knobs, Ride, rider, session, tap};

const SHORT: &str =
    "[[block]]\nkind = \"warm-up\"\ntime = \"0:40\"\neffort = 3\ncadence = [80, 90]\n";

/// What a trainer sends on the air: the Fitness Machine service, and that it is an indoor bike.
fn on_the_air(id: &DeviceId) -> Advertisement {
    Advertisement {
        device: id.clone(),
        name: Some("Rig".into()),
        services: vec![FITNESS_MACHINE],
        machine_data: Some(MachineAdvertisement::indoor_bike(true).encode()),
        rssi: Some(-60),
        simulated: false,
    }
}

fn heard(ride: &mut Ride, advertisement: Advertisement) {
    ride.input(Input::Device(Event::Heard(advertisement)));
}

/// A start of the program with a trainer in reach, and what earlier rides left.
fn started(fake: &Fake, memory: &Memory) -> Ride {
    let mut ride = Ride::new(vec![tap(fake.clone())]);
    ride.input(Input::Remembered(Box::new(memory.clone())));
    ride.choose(&session(SHORT), &rider(), RideMode::TargetPower);
    ride.command(Command::Scan(true));
    ride
}

fn row(ride: &Ride, id: &DeviceId) -> Option<DeviceRow> {
    let rows = ride.snapshot().devices.clone();
    rows.iter().find(|row| row.id == *id).cloned()
}

fn used(ride: &Ride, id: &DeviceId) -> Vec<Role> {
    row(ride, id).map(|row| row.used_for).unwrap_or_default()
}

/// What a whole ride on a trainer leaves.
fn after_a_ride(fake: &Fake) -> Memory {
    let mut ride = started(fake, &Memory::default());
    heard(&mut ride, on_the_air(&fake.id()));
    ride.command(Command::Use(Role::Trainer, Some(fake.id())));
    ride.start();
    ride.to_the_end(200.0);
    ride.command(Command::Close);
    ride.pass(6.0);
    ride.world.remembered().unwrap().clone()
}

#[test]
fn a_trainer_that_was_used_is_connected_by_itself_at_the_next_start_and_gets_no_load() {
    let fake = Fake::new(Knobs::default());
    let memory = after_a_ride(&fake);
    assert_eq!(memory.devices["trainer"], fake.id().as_str());
    assert_eq!(memory.services[fake.id().as_str()], ["1826"]);
    assert_eq!(memory.devices.len(), 1);

    let fake = Fake::new(Knobs::default());
    let mut ride = started(&fake, &memory);
    ride.to(3.0);
    assert_eq!(row(&ride, &fake.id()), None, "nothing heard, nothing taken");
    assert_eq!(ride.mode(), Mode::Ready);
    heard(&mut ride, on_the_air(&fake.id()));
    assert_eq!(ride.mode(), Mode::Connecting);
    assert!(row(&ride, &fake.id()).unwrap().known);
    ride.to(8.0);
    assert_eq!(used(&ride, &fake.id()), [Role::Trainer]);
    assert!(ride.snapshot().brake_in_hand);
    // Op 00 asks for control and op 07 starts, neither of which sets a load (Fitness Machine Service 1.0, 4.16.2); the
    // only target is the lowest that the trainer takes, 0 W, although the legs turn.
    let writes: Vec<_> = ride.writes().into_iter().map(|(_, bytes)| bytes).collect();
    assert_eq!(writes, [vec![0x00], vec![0x07], vec![0x05, 0, 0]]);
    assert_eq!(ride.world.remembered(), None, "nothing new to remember");

    // The ride that follows replays to the last octet, what was remembered among its inputs.
    ride.command(Command::Start);
    ride.to_the_end(200.0);
    let seen = ride.seen();
    let lines = raw(&seen);
    assert!(lines.iter().any(|line| line.input == "remembered"));
    let first = outcome(seen.into_iter().map(|(_, seen)| seen).collect());
    assert_eq!(replay(&lines), first);
    // Without it the trainer is not taken, and the ride is another one.
    let without: Vec<_> = lines
        .into_iter()
        .filter(|line| line.input != "remembered")
        .collect();
    assert_ne!(replay(&without), first);
}

#[test]
fn the_mere_wish_is_not_remembered() {
    let fake = Fake::new(Knobs {
        out_of_reach: true,
        ..Knobs::default()
    });
    let mut ride = started(&fake, &Memory::default());
    heard(&mut ride, on_the_air(&fake.id()));
    ride.command(Command::Use(Role::Trainer, Some(fake.id())));
    ride.to(60.0);
    assert_eq!(ride.world.remembered(), None);
    assert!(!row(&ride, &fake.id()).unwrap().known);
    fake.turn(|knobs| knobs.out_of_reach = false);
    ride.pass(40.0);
    assert!(row(&ride, &fake.id()).unwrap().known);
}

#[test]
fn what_the_rider_chose_meanwhile_stands() {
    let memory = after_a_ride(&Fake::new(Knobs::default()));
    for (command, known) in [
        (Command::Use(Role::Trainer, None), true),
        (
            Command::Use(Role::Trainer, Some(DeviceId::new("another"))),
            true,
        ),
        (Command::Forget(DeviceId::new("fake:trainer")), false),
    ] {
        let fake = Fake::new(Knobs::default());
        let mut ride = started(&fake, &memory);
        ride.command(command.clone());
        heard(&mut ride, on_the_air(&fake.id()));
        ride.to(6.0);
        assert_eq!(used(&ride, &fake.id()), [], "{command:?}");
        assert_eq!(row(&ride, &fake.id()).unwrap().known, known, "{command:?}");
    }
    // Another role's choice is not this one's.
    let fake = Fake::new(Knobs::default());
    let mut ride = started(&fake, &memory);
    ride.command(Command::Use(Role::Heart, None));
    heard(&mut ride, on_the_air(&fake.id()));
    assert_eq!(used(&ride, &fake.id()), [Role::Trainer]);
    // Forgotten while it is in use: let go, its brake first, and not taken again.
    ride.to(4.0);
    ride.command(Command::Forget(fake.id()));
    heard(&mut ride, on_the_air(&fake.id()));
    ride.to(8.0);
    assert_eq!(used(&ride, &fake.id()), []);
    assert_eq!(row(&ride, &fake.id()).unwrap().link, Link::Heard);
    let memory = ride.world.remembered().unwrap();
    assert!(memory.devices.is_empty() && memory.services.is_empty());
    assert_eq!(ride.writes().last().unwrap().1, [0x05, 0, 0]);
}

#[test]
fn a_device_that_cannot_do_its_role_now_is_not_taken() {
    let memory = after_a_ride(&Fake::new(Knobs::default()));
    let fake = Fake::new(Knobs::default());
    let mut ride = started(&fake, &memory);
    let id = fake.id();
    // Busy: bit 0 of the service data's flags is off (Fitness Machine Service 1.0, 3.1.1).
    heard(
        &mut ride,
        Advertisement {
            machine_data: Some(MachineAdvertisement::indoor_bike(false).encode()),
            ..on_the_air(&id)
        },
    );
    ride.to(2.0);
    assert_eq!(used(&ride, &id), []);
    heard(&mut ride, on_the_air(&id));
    assert_eq!(used(&ride, &id), [Role::Trainer]);
    // It says that it is a heart strap now.
    let mut ride = started(&Fake::new(Knobs::default()), &memory);
    let strap = Advertisement {
        services: vec![HEART_RATE],
        machine_data: None,
        ..on_the_air(&id)
    };
    heard(&mut ride, strap);
    ride.to(2.0);
    assert_eq!(used(&ride, &id), []);
    assert!(!row(&ride, &id).unwrap().known);
}

#[test]
fn a_device_with_other_services_than_before_is_new() {
    let mut memory = after_a_ride(&Fake::new(Knobs::default()));
    let fake = Fake::new(Knobs::default());
    let id = fake.id();
    memory
        .services
        .insert(id.to_string(), vec!["180D".into(), "1826".into()]);
    // That an earlier run left a load on it is no reason to take it, and is not forgotten either.
    memory.control_held = vec![id.to_string()];
    let mut ride = started(&fake, &memory);
    heard(&mut ride, on_the_air(&id));
    ride.to(3.0);
    heard(&mut ride, on_the_air(&id));
    ride.to(6.0);
    assert_eq!(used(&ride, &id), []);
    assert!(ride.writes().is_empty(), "{:?}", ride.writes());
    let left = ride.world.remembered().unwrap();
    assert_eq!(
        left.control_held.last().map(String::as_str),
        Some(id.as_str())
    );
    assert!(
        ride.notice().contains("other services"),
        "{}",
        ride.notice()
    );
    assert!(ride.writes().is_empty());
    assert!(ride.world.remembered().unwrap().devices.is_empty());
    // Chosen by hand it is used, and remembered as it is.
    ride.command(Command::Use(Role::Trainer, Some(id.clone())));
    ride.to(9.0);
    assert!(row(&ride, &id).unwrap().known);
    assert_eq!(
        ride.world.remembered().unwrap().services[id.as_str()],
        ["1826"]
    );
}

fn practising(memory: &Memory, fake: &Fake) -> Ride {
    let practice = Practice::new(PracticeConfig::default());
    let mut ride = Ride::new(vec![tap(practice), tap(fake.clone())]);
    ride.input(Input::Remembered(Box::new(memory.clone())));
    ride.choose(&session(SHORT), &rider(), RideMode::TargetPower);
    ride.command(Command::Scan(true));
    ride
}

#[test]
fn the_practice_trainer_is_taken_by_itself_only_where_no_machine_is_known_or_heard() {
    let fake = Fake::new(Knobs::default());
    let model = Device::Trainer.id();
    let mut ride = practising(&Memory::default(), &fake);
    ride.to(20.0);
    assert_eq!(used(&ride, &model), [], "nothing is remembered");
    ride.command(Command::Use(Role::Trainer, Some(model.clone())));
    ride.to(25.0);
    let models = ride.world.remembered().unwrap().clone();
    assert_eq!(models.devices["trainer"], model.as_str());

    // Remembered, and nothing else about: taken, but not before machines had time to be heard.
    let mut ride = practising(&models, &fake);
    ride.to(3.0);
    assert_eq!(used(&ride, &model), []);
    ride.to(9.0);
    assert_eq!(used(&ride, &model), [Role::Trainer]);

    // A machine is heard.
    let mut ride = practising(&models, &fake);
    ride.to(2.0);
    heard(&mut ride, on_the_air(&fake.id()));
    ride.to(20.0);
    assert_eq!(used(&ride, &model), []);
    assert_eq!(used(&ride, &fake.id()), [], "and nobody chose it yet");

    // A machine is remembered: practising on the model in between does not make it forgotten.
    let mut ride = practising(&after_a_ride(&fake), &fake);
    ride.to(20.0);
    assert_eq!(used(&ride, &model), []);
    heard(&mut ride, on_the_air(&fake.id()));
    ride.to(25.0);
    ride.command(Command::Use(Role::Trainer, Some(model.clone())));
    ride.to(30.0);
    assert_eq!(used(&ride, &model), [Role::Trainer]);
    assert!(row(&ride, &fake.id()).unwrap().known);
    assert!(!row(&ride, &model).unwrap().known);
}

#[test]
fn a_device_that_tells_only_its_name_becomes_what_its_services_say() {
    let fake = Fake::new(Knobs::default());
    let id = fake.id();
    let mut ride = started(&fake, &Memory::default());
    let bare = Advertisement {
        services: Vec::new(),
        machine_data: None,
        ..on_the_air(&id)
    };
    heard(&mut ride, bare.clone());
    assert_eq!(
        row(&ride, &id).unwrap().can,
        Role::ALL[..4],
        "a second strap is a strap"
    );
    // A strap of the same name, by its letters.
    heard(
        &mut ride,
        Advertisement {
            device: DeviceId::new("F0:00:00:00:AB:07"),
            name: Some("ri\u{200b}g".into()),
            ..bare.clone()
        },
    );
    assert_eq!(row(&ride, &id).unwrap().name, "Rig [ainer]");
    let other = row(&ride, &DeviceId::new("F0:00:00:00:AB:07")).unwrap();
    assert_eq!(other.name, "rig [AB:07]");

    ride.command(Command::Use(Role::Heart, Some(id.clone())));
    ride.to(3.0);
    let told = row(&ride, &id).unwrap();
    assert!(matches!(&told.link, Link::Unusable(why) if why.contains("measures no heart rate")));
    assert_eq!(told.can, [Role::Trainer], "what its services say");
    assert_eq!(ride.world.remembered(), None);
    heard(&mut ride, bare);
    assert_eq!(row(&ride, &id).unwrap().can, [Role::Trainer]);

    ride.command(Command::Use(Role::Heart, None));
    ride.command(Command::Use(Role::Trainer, Some(id.clone())));
    ride.to(6.0);
    assert_eq!(row(&ride, &id).unwrap().link, Link::Connected);
    // Connected as it is, it is refused for what it does not have, and keeps what it does.
    ride.command(Command::Use(Role::Heart, Some(id.clone())));
    assert!(ride.notice().contains("measures no heart rate"));
    ride.to(9.0);
    assert_eq!(used(&ride, &id), [Role::Trainer]);
    assert_eq!(row(&ride, &id).unwrap().link, Link::Connected);
    assert_eq!(ride.world.remembered().unwrap().devices.len(), 1);
}

#[test]
fn of_two_roles_asked_for_at_once_the_one_that_cannot_be_is_given_back() {
    let fake = Fake::new(Knobs::default());
    let id = fake.id();
    let mut ride = started(&fake, &Memory::default());
    ride.command(Command::Use(Role::Heart, Some(id.clone())));
    ride.command(Command::Use(Role::Trainer, Some(id.clone())));
    ride.to(4.0);
    assert_eq!(used(&ride, &id), [Role::Trainer]);
    assert!(ride.happened("unusable"));
    assert!(ride.snapshot().brake_in_hand);
}

#[test]
fn cautions_are_asked_once_a_day_by_the_riders_own_midnight() {
    // The world begins at 2026-01-01T00:00:00Z.
    let seen = |zone: Option<i32>, memory: &Memory| {
        let mut ride = Ride::new(Vec::new());
        if let Some(zone) = zone {
            ride.input(Input::Zone(zone));
        }
        ride.input(Input::Remembered(Box::new(memory.clone())));
        ride
    };
    let mut ride = seen(None, &Memory::default());
    assert!(!ride.snapshot().cautions_seen_today);
    ride.command(Command::CautionsSeen);
    assert!(ride.snapshot().cautions_seen_today);
    let memory = ride.world.remembered().unwrap().clone();
    assert_eq!(memory.cautions_seen.as_deref(), Some("2026-01-01"));
    ride.to(86_399.0);
    assert!(ride.snapshot().cautions_seen_today);
    ride.to(86_400.0);
    assert!(!ride.snapshot().cautions_seen_today, "midnight");

    // Five hours behind UTC it is still New Year's Eve at that moment, and until five o'clock UTC.
    let mut west = seen(Some(-5 * 3600), &Memory::default());
    west.command(Command::CautionsSeen);
    let eve = west.world.remembered().unwrap().clone();
    assert_eq!(eve.cautions_seen.as_deref(), Some("2025-12-31"));
    west.to(5.0 * 3600.0 - 1.0);
    assert!(west.snapshot().cautions_seen_today);
    west.to(5.0 * 3600.0);
    assert!(!west.snapshot().cautions_seen_today);
    assert!(!seen(None, &eve).snapshot().cautions_seen_today);
    assert!(seen(None, &memory).snapshot().cautions_seen_today);
    // A day that lies ahead is of a clock that was wrong.
    let ahead = Memory {
        cautions_seen: Some("2031-05-05".into()),
        ..Memory::default()
    };
    assert!(!seen(None, &ahead).snapshot().cautions_seen_today);
}

/// Rides a session of 1:40 so far, seconds, fitted to these recoveries, after what earlier rides left.
fn ridden_with(recoveries: Recoveries, memory: &Memory, seconds: f64) -> Memory {
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"0:20\"\neffort = 3\n\
         [[block]]\nkind = \"hold\"\ntime = \"0:20\"\neffort = 5\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\neffort = 4\n",
    );
    let wish = Wish {
        recoveries,
        ..Wish::default()
    };
    let plan = std::sync::Arc::new(fit(&plan, &wish).unwrap().plan);
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::new(vec![tap(fake.clone())]);
    ride.input(Input::Remembered(Box::new(memory.clone())));
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(fake.id())));
    ride.start();
    ride.pass(seconds);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.command(Command::Close);
    ride.pass(8.0);
    ride.world.remembered().cloned().unwrap_or_default()
}

#[test]
fn how_the_recoveries_were_ridden_is_offered_at_the_next_start_once_half_was_ridden() {
    let nothing = Memory::default();
    let early = ridden_with(Recoveries::Easier, &nothing, 30.0);
    assert_eq!(early.eased, []);
    let memory = ridden_with(Recoveries::Easier, &nothing, 60.0);
    let name = memory.eased[0].session.clone();
    assert_eq!(memory.last_recoveries(&name), Recoveries::Easier);
    assert_eq!(memory.last_recoveries("another"), Recoveries::Full);
    // It is in the file, and comes back from there.
    let text = toml::to_string(&memory).unwrap();
    assert!(text.contains("recoveries = \"easier\""), "{text}");
    assert_eq!(toml::from_str::<Memory>(&text).unwrap(), memory);
    // The next start offers it and does nothing: the session is chosen as it was written.
    let fake = Fake::new(Knobs::default());
    let mut ride = started(&fake, &memory);
    assert_eq!(ride.snapshot().plan.as_ref().unwrap().name, name);
    assert_eq!(ride.snapshot().last_recoveries, Recoveries::Easier);
    assert_eq!(ride.snapshot().plan.as_ref().unwrap().fitted, None);
    ride.pass(1.0);
    // Step by step back, and then nothing is left to offer.
    let half = ridden_with(Recoveries::HalfWay, &memory, 60.0);
    assert_eq!(half.last_recoveries(&name), Recoveries::HalfWay);
    assert_eq!(half.eased.len(), 1);
    assert_eq!(ridden_with(Recoveries::Full, &half, 60.0).eased, []);
    // As many as are kept: the oldest goes.
    let mut many = memory.clone();
    for number in 0..MOST_EASED {
        many.ridden_with(&format!("session {number}"), Recoveries::Easier);
    }
    assert_eq!(many.eased.len(), MOST_EASED);
    assert_eq!(many.last_recoveries(&name), Recoveries::Full);
}
