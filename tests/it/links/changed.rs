//! A device that comes back as another one: its services are not those that it had.

use stillroad::engine::{Command, Role};
use stillroad::gatt::Uuid16;
use stillroad::ride::{Mode, RideMode};

use super::{HOLD, Wire, has, listen, wired};
use crate::world::{Fake, Knobs, Ride, rider, session, tap};

/// A heart rate measurement in its service (Heart Rate Service 1.0, 3.1): nothing that was there is missing.
const MORE: (Uuid16, Uuid16) = (Uuid16(0x180D), Uuid16(0x2A37));

#[test]
fn a_trainer_whose_services_change_in_a_ride_is_new_and_nothing_is_written_to_it() {
    let (wire, mut ride) = wired();
    let id = wire.fake.id();
    ride.start();
    ride.to(40.0);
    assert_eq!(ride.watts().last().unwrap().1, 150);
    wire.rule().more = vec![MORE];
    let from = ride.now();
    wire.fake.drop_link(from);
    let said = listen(&mut ride, 20.0);
    assert!(
        has(&said, "it has other services, and is not used any more"),
        "{said:?}"
    );
    let writes = |ride: &Ride| ride.writes().iter().filter(|(at, _)| *at >= from).count();
    assert_eq!(writes(&ride), 0, "not even control is asked for");
    let used = |ride: &Ride| {
        let rows = ride.snapshot().devices.clone();
        rows.iter()
            .find(|row| row.id == id)
            .unwrap()
            .used_for
            .clone()
    };
    assert_eq!(used(&ride), []);
    let left = ride.world.remembered().unwrap().clone();
    assert_eq!(
        left.control_held,
        [id.to_string()],
        "the other one may hold its load"
    );
    assert!(left.devices.is_empty() && left.services.is_empty());
    // The ride goes on without it, and with it once the rider says that it is theirs.
    let rows = ride.rows().len();
    ride.pass(10.0);
    assert_eq!(ride.rows().len(), rows + 10);
    assert_eq!(ride.snapshot().changed, [(Role::Trainer, id.clone())]);
    ride.command(Command::Use(Role::Trainer, Some(id.clone())));
    ride.pass(20.0);
    assert_eq!(used(&ride), [Role::Trainer]);
    assert_eq!(ride.snapshot().changed, []);
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(ride.watts().last().unwrap().1, 150);
    // As it is now it is known: the same again is no change.
    wire.fake.drop_link(ride.now());
    ride.pass(25.0);
    assert_eq!(used(&ride), [Role::Trainer]);
    assert_eq!(ride.watts().last().unwrap().1, 150);
}

#[test]
fn one_that_was_chosen_by_hand_is_let_go_before_a_ride_too_once_it_is_another() {
    let wire = Wire::new(&Fake::new(Knobs::default()));
    let mut ride = Ride::new(vec![tap(wire.clone())]);
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(wire.fake.id())));
    ride.to(5.0);
    assert_eq!(ride.mode(), Mode::Ready);
    let before = ride.writes().len();
    wire.rule().more = vec![MORE];
    wire.fake.drop_link(ride.now());
    let said = listen(&mut ride, 10.0);
    assert!(has(&said, "other services"), "{said:?}");
    assert_eq!(ride.writes().len(), before);
    // A discovery that merely lacks something is done anew and believed twice later (see `making`): no change by itself.
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(20.0);
    wire.rule().short = (1, vec![Uuid16(0x2ACC)]);
    wire.fake.drop_link(ride.now());
    ride.pass(25.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(ride.watts().last().unwrap().1, 150);
}
