//! Devices that tell nothing, nothing new, or nothing but zeros.

use stillroad::device::Request;
use stillroad::engine::{Command, Role};
use stillroad::ride::{Mode, RideMode};

use super::wire::Wire;
use super::{has, listen, wired};
use crate::world::{Fake, Knobs, Ride, rider, session, tap};

#[test]
fn a_request_for_control_without_an_answer_is_said_after_three_seconds_and_an_answered_one_is_not()
{
    let (wire, mut ride) = wired();
    wire.fake.turn(|knobs| knobs.silent = true);
    let said = listen(&mut ride, 3.0);
    assert!(!has(&said, "may want to be paired"), "{said:?}");
    let said = listen(&mut ride, 1.0);
    assert!(has(&said, "may want to be paired"), "{said:?}");
    let (_, mut ride) = wired();
    let said = listen(&mut ride, 10.0);
    assert!(!has(&said, "paired"), "{said:?}");
}

#[test]
fn a_trainer_silent_on_a_standing_link_is_said_once_and_asked_again() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    wire.fake.turn(|knobs| knobs.mute = true);
    let from = ride.now();
    let said = listen(&mut ride, 25.0);
    assert!(has(&said, "has told nothing for ten seconds"), "{said:?}");
    let silences = |ride: &Ride| {
        let events = ride.events().into_iter();
        events.filter(|event| event.what == "told-nothing").count()
    };
    assert_eq!(silences(&ride), 1);
    let again = ride.requests().into_iter();
    let again = again.filter(|(at, request)| {
        *at > from && matches!(request, Request::Subscribe(_, what) if what.0 == 0x2AD2)
    });
    assert_eq!(again.count(), 1);
    wire.fake.turn(|knobs| knobs.mute = false);
    ride.pass(3.0);
    assert!(ride.happened("told-again"));
    assert_eq!(ride.mode(), Mode::Riding);
}

#[test]
fn the_same_figures_after_a_large_change_of_load_are_doubted_and_steady_watts_are_not() {
    let blocks = "[[block]]\nkind = \"hold\"\ntime = \"3:00\"\nwatts = 150\n\
                  [[block]]\nkind = \"recovery\"\ntime = \"3:00\"\nwatts = 90\n";
    let ridden = |frozen: bool| {
        let wire = Wire::new(&Fake::new(Knobs::default()));
        let mut ride = Ride::new(vec![tap(wire.clone())]);
        ride.choose(&session(blocks), &rider(), RideMode::TargetPower);
        ride.command(Command::Use(Role::Trainer, Some(wire.fake.id())));
        ride.start();
        ride.to(60.0);
        wire.fake.turn(|knobs| knobs.frozen = frozen);
        // Two minutes of one load, all records alike: no fault, on a coarse trainer.
        ride.to(180.0);
        assert!(!ride.happened("repeats-itself"));
        ride.to(240.0);
        ride
    };
    assert!(ridden(true).happened("repeats-itself"));
    assert!(!ridden(false).happened("repeats-itself"));
}

#[test]
fn first_records_full_of_zeros_start_no_ride_and_pause_none() {
    let (wire, mut ride) = wired();
    wire.fake.turn(|knobs| knobs.zeros = true);
    ride.to(5.0);
    ride.command(Command::StartWithPedals);
    ride.pass(5.0);
    assert_eq!(ride.mode(), Mode::Ready);
    wire.fake.turn(|knobs| knobs.zeros = false);
    ride.pass(2.0);
    assert_eq!(ride.mode(), Mode::Riding);
    ride.pass(30.0);
    // The first records of a new link.
    wire.fake.turn(|knobs| knobs.zeros = true);
    wire.fake.drop_link(ride.now());
    ride.pass(2.4);
    wire.fake.turn(|knobs| knobs.zeros = false);
    ride.pass(40.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert!(!ride.happened("pause"));
    assert_eq!(wire.fake.state().holds, Some(150));
}
