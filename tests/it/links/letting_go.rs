//! The brake is let off: at the next start where a ride was killed, and at an end behind an answer that does not come.

use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::engine::input::Input;
use stillroad::engine::{Command, Role};
use stillroad::memory::Memory;
use stillroad::ride::{Cause, Mode, PauseCause, RideMode};
use stillroad::time::Span;

use super::{HOLD, has, listen, on_the_air, wired};
use crate::world::{Ride, rider, session, tap, watts_of};

#[test]
fn a_brake_that_was_left_held_is_let_off_first_at_the_next_start_and_that_is_said() {
    let (wire, mut ride) = wired();
    let id = wire.fake.id();
    ride.start();
    ride.to(8.0);
    let held = |ride: &Ride| {
        ride.world
            .remembered()
            .and_then(|memory| memory.control_held.clone())
    };
    ride.to(40.0);
    assert_eq!(
        held(&ride).as_deref(),
        Some(id.as_str()),
        "marked while it holds"
    );
    // The program is killed here: its memory stands as it was last put out, and the trainer holds 150 W.
    let mut memory = ride.world.remembered().unwrap().clone();
    // Even where another trainer was the last one that was remembered for the role.
    memory
        .devices
        .insert("trainer".into(), "F0:00:00:00:AB:09".into());
    drop(ride);
    wire.fake.drop_link(stillroad::time::Instant::ZERO);
    assert_eq!(wire.fake.state().holds, Some(150));

    let mut ride = Ride::new(vec![tap(wire.clone())]);
    ride.input(Input::Remembered(Box::new(memory.clone())));
    assert!(
        ride.notice().contains("may hold its last load"),
        "{}",
        ride.notice()
    );
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Scan(true));
    ride.to(2.0);
    assert!(ride.writes().is_empty(), "not before it is heard");
    ride.input(on_the_air(&id));
    let said = listen(&mut ride, 8.0);
    let writes: Vec<_> = ride.writes().into_iter().map(|(_, bytes)| bytes).collect();
    // Control, a start that sets nothing, and the lowest target power (Fitness Machine Service 1.0, 4.16.2).
    assert_eq!(writes, [vec![0x00], vec![0x07], vec![0x05, 0, 0]]);
    assert_eq!(wire.fake.state().holds, Some(0));
    assert!(has(&said, "has now let it go"), "{said:?}");
    assert_eq!(held(&ride), None);

    // Who chose another trainer, or forgot this one, is not crossed.
    let mut ride = Ride::new(vec![tap(wire.clone())]);
    ride.input(Input::Remembered(Box::new(memory)));
    ride.command(Command::Use(Role::Trainer, None));
    ride.input(on_the_air(&id));
    ride.to(5.0);
    assert!(ride.requests().is_empty());
    ride.command(Command::Forget(id));
    assert_eq!(held(&ride), None);
}

#[test]
fn a_ride_that_ends_well_leaves_no_mark_and_a_model_never_does() {
    let (_, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    ride.command(Command::Close);
    ride.pass(6.0);
    assert_eq!(ride.world.remembered().unwrap().control_held, None);

    let mut ride = Ride::new(vec![tap(Practice::new(PracticeConfig::default()))]);
    ride.command(Command::Scan(true));
    ride.to(2.0);
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    ride.start();
    ride.to(60.0);
    assert!(ride.watts().iter().any(|(_, watts)| *watts > 100));
    let held = ride
        .world
        .remembered()
        .and_then(|memory| memory.control_held.clone());
    assert_eq!(held, None);
    assert_eq!(Memory::default().control_held, None);
}

#[test]
fn at_the_end_a_release_does_not_wait_for_an_answer_that_does_not_come() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    wire.fake.turn(|knobs| knobs.silent = true);
    ride.command(Command::Trim(1));
    ride.pass(0.5);
    assert_eq!(
        ride.watts().last().unwrap().1,
        153,
        "in flight, not answered"
    );
    let from = ride.now();
    ride.command(Command::Close);
    ride.pass(1.0);
    let after: Vec<_> = ride
        .writes()
        .into_iter()
        .filter(|(at, _)| *at >= from)
        .collect();
    assert_eq!(after.len(), 1, "{after:?}");
    assert_eq!(watts_of(&after[0].1), Some(0));
    assert!(after[0].0.since(from) < Span::from_seconds(1));
    assert_eq!(
        wire.fake.state().holds,
        Some(0),
        "it took it without answering"
    );
    ride.pass(5.0);
    assert!(ride.world.is_done());

    // One that answers is asked once, in its turn, and told that the session stops.
    let (_, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    let from = ride.now();
    ride.command(Command::Close);
    ride.pass(6.0);
    let after: Vec<_> = ride
        .writes()
        .into_iter()
        .filter(|(at, _)| *at >= from)
        .map(|(_, bytes)| bytes)
        .collect();
    assert_eq!(after, [vec![0x05, 0, 0], vec![0x08, 0x01]]);
    assert!(ride.world.is_done());
}

#[test]
fn a_release_that_is_not_confirmed_stays_on_the_screen_until_it_is() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    wire.fake
        .turn(|knobs| knobs.answers_after = Span::from_seconds(4));
    ride.command(Command::Pause);
    let mut unanswered = 0;
    for _ in 0..120 {
        ride.pass(0.1);
        if let Mode::Degraded { cause, paused, .. } = ride.mode() {
            assert_eq!(cause, Cause::ReleaseUnanswered);
            assert_eq!(paused, Some(PauseCause::Rider));
            unanswered += 1;
        }
    }
    assert!(
        (15..=80).contains(&unanswered),
        "{unanswered} tenths of a second"
    );
    assert_eq!(ride.mode(), Mode::Paused(PauseCause::Rider), "confirmed");
    wire.fake
        .turn(|knobs| knobs.answers_after = Span::from_millis(60));
    ride.command(Command::Resume);
    ride.pass(20.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(wire.fake.state().holds, Some(150));
}
