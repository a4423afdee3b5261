//! The brake is let off: at the next start where a ride was killed, and at an end behind an answer that does not come.

use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::device::{DeviceId, Request};
use stillroad::engine::input::Input;
use stillroad::engine::{Command, Role};
use stillroad::memory::{MOST_HELD, Memory};
use stillroad::ride::{Cause, Mode, PauseCause, RideMode};
use stillroad::time::{Instant, Span};

use super::{HOLD, has, listen, on_the_air, wired};
use crate::world::{Fake, Knobs, Ride, rider, session, tap, watts_of};

#[test]
fn a_brake_that_was_left_held_is_let_off_first_at_the_next_start_and_that_is_said() {
    let (wire, mut ride) = wired();
    let id = wire.fake.id();
    ride.start();
    ride.to(8.0);
    let held = |ride: &Ride| {
        ride.world
            .remembered()
            .and_then(|memory| memory.control_held.last().cloned())
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
    wire.fake.drop_link(Instant::ZERO);
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
    assert_eq!(ride.world.remembered().unwrap().control_held, [""; 0]);

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
        .and_then(|memory| memory.control_held.last().cloned());
    assert_eq!(held, None);
    assert_eq!(Memory::default().control_held, [""; 0]);
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

#[test]
fn a_release_does_not_wait_behind_a_write_that_hangs() {
    // At the end of the program: the write of a target is not acknowledged when it is closed.
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    wire.fake.turn(|knobs| knobs.hangs = true);
    ride.command(Command::Trim(1));
    ride.pass(0.3);
    assert_eq!(wire.fake.state().holds, Some(150), "it heard of nothing");
    let from = ride.now();
    ride.command(Command::Close);
    ride.pass(0.3);
    let closed = |ride: &Ride| {
        let asked = ride.requests();
        asked
            .into_iter()
            .filter(|(at, what)| *at >= from && matches!(what, Request::Disconnect(_)))
            .count()
    };
    ride.pass(1.1);
    assert_eq!(closed(&ride), 0, "it may yet be acknowledged");
    ride.pass(0.2);
    assert_eq!(closed(&ride), 1, "the lane is given up");
    ride.pass(2.5);
    assert_eq!(wire.fake.state().holds, Some(0), "let off on the new link");
    ride.pass(6.0);
    assert!(ride.world.is_done());
    assert_eq!(ride.world.remembered().unwrap().control_held, [""; 0]);

    // By hand in a ride, and the ride goes on.
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    wire.fake.turn(|knobs| knobs.hangs = true);
    ride.command(Command::Trim(1));
    ride.pass(0.3);
    ride.command(Command::Pause);
    let said = listen(&mut ride, 6.0);
    assert!(has(&said, "may hold its last load"), "{said:?}");
    assert!(ride.happened("write-hangs"));
    assert_eq!(wire.fake.state().holds, Some(0));
    assert_eq!(
        ride.mode(),
        Mode::Paused(PauseCause::Rider),
        "it is confirmed"
    );
    ride.command(Command::Resume);
    ride.pass(20.0);
    assert_eq!(wire.fake.state().holds, Some(153));
}

#[test]
fn a_trainer_that_acknowledges_nothing_at_all_holds_up_neither_the_end_nor_the_ride() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    wire.fake.turn(|knobs| knobs.always_hangs = true);
    ride.command(Command::Close);
    ride.pass(9.0);
    assert!(ride.world.is_done());
    // Nothing was let off, so the next start has to do it.
    let held = ride.world.remembered().unwrap().control_held.clone();
    assert_eq!(held, [wire.fake.id().to_string()]);

    // A write that is acknowledged late, but within the bound, costs no link.
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    wire.fake
        .turn(|knobs| knobs.acknowledges_after = Span::from_millis(2_500));
    let from = ride.now();
    ride.command(Command::Pause);
    ride.pass(10.0);
    let remade = ride
        .requests()
        .into_iter()
        .any(|(at, what)| at >= from && matches!(what, Request::Disconnect(_)));
    assert!(!remade);
    assert_eq!(wire.fake.state().holds, Some(0));
}

#[test]
fn a_link_that_is_slower_than_that_is_given_up_once_and_lets_go_at_last() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    // Longer than is waited for a hang, and nowhere near the thirty seconds that end a link.
    let slow = Span::from_millis(3_200);
    wire.fake.turn(|knobs| knobs.acknowledges_after = slow);
    let from = ride.now();
    ride.command(Command::Pause);
    ride.pass(45.0);
    let cuts = ride
        .requests()
        .into_iter()
        .filter(|(at, what)| *at >= from && matches!(what, Request::Disconnect(_)))
        .count();
    assert_eq!(cuts, 1, "the next link is as slow");
    assert_eq!(wire.fake.state().holds, Some(0));
    assert_eq!(ride.mode(), Mode::Paused(PauseCause::Rider), "confirmed");
}

#[test]
fn every_trainer_that_was_left_held_is_let_off_at_the_next_start() {
    let first = Fake::named("fake:first", Knobs::default());
    let second = Fake::named("fake:second", Knobs::default());
    let both = || vec![tap(first.clone()), tap(second.clone())];
    let mut ride = Ride::new(both());
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(first.id())));
    ride.start();
    ride.to(40.0);
    // The first one goes out of reach under its load, and the ride goes on with another.
    first.turn(|knobs| knobs.out_of_reach = true);
    first.drop_link(ride.now());
    ride.pass(2.0);
    ride.command(Command::Use(Role::Trainer, Some(second.id())));
    ride.pass(30.0);
    assert_eq!(
        (first.state().holds, second.state().holds),
        (Some(150), Some(150))
    );
    // The program is killed.
    let memory = ride.world.remembered().unwrap().clone();
    let ids = [first.id().to_string(), second.id().to_string()];
    assert_eq!(memory.control_held, ids);
    assert_eq!(memory.devices["trainer"], ids[1]);
    drop(ride);
    first.turn(|knobs| knobs.out_of_reach = false);
    second.drop_link(Instant::ZERO);

    let mut ride = Ride::new(both());
    ride.input(Input::Remembered(Box::new(memory.clone())));
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Scan(true));
    ride.input(on_the_air(&second.id()));
    ride.to(3.0);
    assert_eq!(
        (first.state().holds, second.state().holds),
        (Some(150), Some(0))
    );
    let held = |ride: &Ride| ride.world.remembered().unwrap().control_held.clone();
    assert_eq!(held(&ride), ids[..1]);
    // The other one is heard later; then the one that is ridden on is taken again.
    ride.input(on_the_air(&first.id()));
    ride.to(6.0);
    ride.input(on_the_air(&second.id()));
    ride.to(10.0);
    assert_eq!(
        (first.state().holds, second.state().holds),
        (Some(0), Some(0))
    );
    assert_eq!(held(&ride), [""; 0]);
    let rows = ride.snapshot().devices.clone();
    let used = |id: &DeviceId| {
        rows.iter()
            .find(|row| row.id == *id)
            .unwrap()
            .used_for
            .clone()
    };
    assert_eq!(used(&first.id()), []);
    assert_eq!(used(&second.id()), [Role::Trainer]);
    assert_eq!(ride.world.remembered().unwrap().devices["trainer"], ids[1]);

    // Who chooses a trainer is not crossed: the other one keeps its mark until it is ridden on or forgotten.
    let mut ride = Ride::new(both());
    ride.input(Input::Remembered(Box::new(memory)));
    ride.command(Command::Use(Role::Trainer, Some(second.id())));
    ride.input(on_the_air(&first.id()));
    ride.to(6.0);
    assert_eq!(held(&ride), ids[..1]);
    ride.command(Command::Forget(first.id()));
    assert_eq!(held(&ride), [""; 0]);
}

#[test]
fn a_trainer_that_was_left_held_and_does_not_come_up_makes_room_for_the_usual_one() {
    let gone = Fake::named("fake:gone", Knobs::default());
    let usual = Fake::named("fake:usual", Knobs::default());
    let mut ride = Ride::new(vec![tap(usual.clone())]);
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(usual.id())));
    ride.start();
    ride.to(8.0);
    let mut memory = ride.world.remembered().unwrap().clone();
    drop(ride);
    usual.drop_link(Instant::ZERO);
    memory.control_held = vec![gone.id().to_string()];
    gone.turn(|knobs| knobs.out_of_reach = true);

    let mut ride = Ride::new(vec![tap(gone.clone()), tap(usual.clone())]);
    ride.input(Input::Remembered(Box::new(memory)));
    ride.choose(&session(HOLD), &rider(), RideMode::TargetPower);
    ride.command(Command::Scan(true));
    let used = |ride: &Ride| {
        let devices = ride.snapshot().devices.clone();
        let trainer = devices
            .iter()
            .find(|row| row.used_for.contains(&Role::Trainer));
        trainer.map(|row| row.id.clone())
    };
    ride.input(on_the_air(&gone.id()));
    ride.to(2.0);
    for second in 3..30 {
        ride.input(on_the_air(&usual.id()));
        ride.to(f64::from(second));
        assert_eq!(used(&ride), Some(gone.id()), "at {second} s");
    }
    let mut said = std::collections::BTreeSet::new();
    for _ in 0..10 {
        ride.input(on_the_air(&usual.id()));
        said.extend(listen(&mut ride, 1.0));
    }
    assert_eq!(used(&ride), Some(usual.id()));
    assert!(has(&said, "does not connect"), "{said:?}");
    assert!(ride.snapshot().brake_in_hand);
    // The next start lets it go first again.
    let marks = |ride: &Ride| {
        ride.world
            .remembered()
            .map(|memory| memory.control_held.clone())
    };
    assert!(marks(&ride).is_none_or(|marks| marks == [gone.id().to_string()]));
}

#[test]
fn marks_are_read_from_older_files_and_never_grow_without_bound() {
    let read = |text: &str| toml::from_str::<Memory>(text).unwrap().control_held;
    assert_eq!(read("version = 1"), [""; 0]);
    // As it stood in the file while there was room for one.
    assert_eq!(read("version = 1\ncontrol_held = \"AA:BB\""), ["AA:BB"]);
    assert_eq!(
        read("version = 1\ncontrol_held = [\"A\", \"B\"]"),
        ["A", "B"]
    );
    let mut memory = Memory::default();
    for n in 0..20 {
        memory.mark_held(&format!("{n}"));
    }
    memory.mark_held("15");
    assert_eq!(memory.control_held.len(), MOST_HELD);
    assert_eq!(memory.control_held.last().unwrap(), "15");
    assert_eq!(
        memory
            .control_held
            .iter()
            .filter(|held| *held == "15")
            .count(),
        1
    );
    for memory in [memory, Memory::default()] {
        let text = toml::to_string(&memory).unwrap();
        assert_eq!(read(&text), memory.control_held);
    }
    let many: Vec<String> = (0..100).map(|n| format!("\"{n}\"")).collect();
    let many = read(&format!("version = 1\ncontrol_held = [{}]", many.join(",")));
    assert_eq!(many.len(), MOST_HELD);
    assert_eq!(many.last().unwrap(), "99");
}

#[test]
fn a_program_that_is_closed_while_it_lets_off_behind_an_unanswered_command_insists_all_the_same() {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    // The ride is ended by hand, in two steps, and the first of them is not answered.
    wire.fake.turn(|knobs| knobs.silent = true);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(0.5);
    let first = ride.watts().last().unwrap().1;
    assert!(first > 0 && first < 150, "half at once: {first}");
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
    assert_eq!(wire.fake.state().holds, Some(0));
    ride.pass(5.0);
    assert!(ride.world.is_done());

    // Where each step is answered, the second is not waited for: nobody is there any more to take it.
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(0.3);
    let half = wire.fake.state().holds.unwrap();
    assert!(half > 0 && half < 150, "{half}");
    ride.command(Command::Close);
    ride.pass(0.2);
    assert_eq!(wire.fake.state().holds, Some(0));
    ride.pass(6.0);
    assert!(ride.world.is_done());
}
