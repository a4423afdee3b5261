//! A ride by a group's clock. The world begins at midnight UTC, so that a second of the day is a second of time.

use stillroad::device::Request;
use stillroad::engine::input::Input;
use stillroad::engine::{Command, GroupClock};
use stillroad::ride::{Finish, Mode, PauseCause, RideMode};
use stillroad::rider::{PauseAfter, Rider};
use stillroad::time::Span;

use super::{held, riding, steady};
use crate::world::{Fake, Knobs, Ride, at, rider, session};

/// A minute each of 100, 150 and 200 W.
const STAIRS: &str = "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 100\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 150\ncut = true\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 200\n";

/// Chosen and connected at second five, by this clock.
fn ready(blocks: &str, clock: GroupClock) -> (Fake, Ride) {
    let fake = Fake::new(Knobs::default());
    let plan = session(blocks);
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.command(Command::Clock(clock));
    ride.to(5.0);
    (fake, ride)
}

#[test]
fn a_shared_time_begins_the_ride_and_turning_pedals_do_not() {
    for start in [Command::StartWithPedals, Command::Start] {
        let (fake, mut ride) = ready(STAIRS, GroupClock::At(30));
        ride.command(start);
        // The pedals of this rider turn all the time.
        ride.to(29.999);
        assert_eq!(ride.mode(), Mode::Ready);
        let group = ride.snapshot().group.clone().unwrap();
        assert!(group.waits);
        assert_eq!(group.starts_in(at(10.0)), Some(Span::from_seconds(20)));
        assert_eq!(group.clock_words().as_deref(), Some("0:00:30"));
        let off = |(_, watts): &(_, i16)| *watts == 0;
        assert!(ride.watts().iter().all(off), "the brake stays off");
        ride.to(30.001);
        assert_eq!(ride.mode(), Mode::Riding);
        ride.to(75.0);
        assert_eq!(ride.rows().len(), 45);
        // From nothing: at least six seconds until the whole load stands.
        let full = ride.watts_in(30.0, 60.0);
        let full = full.iter().find(|(_, watts)| *watts == 100).unwrap().0;
        assert!(full >= 36.0, "{full}");
        assert_eq!(held(&fake), Some(100));
        // The beat of the second block is the group's to the millisecond.
        ride.to_the_end(300.0);
        let blocks: Vec<_> = ride
            .events()
            .into_iter()
            .filter(|event| event.what == "block")
            .map(|event| event.utc_ms - crate::world::EPOCH_MS)
            .collect();
        assert_eq!(blocks, [30_000, 90_000, 150_000]);
    }
}

#[test]
fn a_time_that_has_passed_joins_the_group_where_it_is() {
    // Two seconds before the world began, by a clock an hour ahead of UTC.
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &session(STAIRS), &rider(), RideMode::TargetPower);
    ride.input(Input::Zone(3_600));
    ride.command(Command::Clock(GroupClock::At(3_598)));
    ride.to(80.0);
    ride.command(Command::StartWithPedals);
    ride.pass(2.0);
    assert_eq!(ride.mode(), Mode::Riding);
    // 82 seconds after its beginning the group is in the second block.
    let rows = |ride: &Ride| -> Vec<_> {
        let rows = ride.rows().into_iter();
        rows.map(|row| (row.ridden_s, row.plan_s.round(), row.block))
            .collect()
    };
    ride.to(98.5);
    assert_eq!(rows(&ride)[0].0, 1);
    assert!(
        (82.0..=84.0).contains(&rows(&ride)[0].1),
        "{:?}",
        rows(&ride)[0]
    );
    assert_eq!(rows(&ride)[0].2, 2);
    // The load of the block that is joined builds up from nothing.
    for (when, watts) in ride.watts_in(80.0, 86.0) {
        assert!(
            f64::from(watts) <= 150.0 * (when - 80.0) / 6.0 + 1.0,
            "{watts} at {when}"
        );
    }
    ride.to_the_end(300.0);
    assert_eq!(ride.mode(), Mode::Finished(Finish::Completed));
    let last = rows(&ride).pop().unwrap();
    assert!((98..=100).contains(&last.0), "{last:?}");
    assert_eq!((last.1, last.2), (180.0, 3));
}

#[test]
fn a_time_means_the_session_under_way_else_the_next_such_time() {
    for (clock, starts_in) in [
        // Three minutes of session: what began less than that ago is under way.
        (86_400 - 170, None),
        (86_400 - 180, Some(86_400 - 180)),
        (0, None),
        (4, Some(4)),
        (43_200, Some(43_200)),
        // Past the end of a day a clock begins anew.
        (86_404, Some(4)),
    ] {
        let mut ride = Ride::on(
            &Fake::new(Knobs::default()),
            &session(STAIRS),
            &rider(),
            RideMode::TargetPower,
        );
        ride.command(Command::Clock(GroupClock::At(clock)));
        let group = ride.snapshot().group.clone().unwrap();
        assert_eq!(
            group.starts_in(at(0.0)),
            starts_in.map(Span::from_seconds),
            "{clock}"
        );
    }
}

#[test]
fn a_session_is_joined_at_a_minute_and_its_blocks_before_are_passed_over() {
    let (_, mut ride) = ready(STAIRS, GroupClock::Join(Span::from_seconds(110)));
    ride.command(Command::Start);
    ride.to(30.0);
    let snapshot = ride.snapshot();
    assert_eq!(snapshot.ridden, Span::from_seconds(25));
    assert_eq!(snapshot.session, Span::from_seconds(135));
    assert_eq!(ride.rows()[0].plan_s.round(), 111.0);
    ride.to_the_end(200.0);
    assert_eq!(ride.rows().len(), 70);
    let summary = ride.snapshot().summary.clone().unwrap();
    // The ink of the whole lies where it was ridden.
    assert!(summary.ink.first().unwrap().at.seconds() > 110.0);
    assert!(summary.ink.last().unwrap().at.seconds() < 180.0);
}

#[test]
fn a_session_is_not_joined_behind_its_end_nor_a_test_at_all() {
    let (_, mut ride) = ready(STAIRS, GroupClock::Join(Span::from_seconds(180)));
    ride.command(Command::Start);
    assert_eq!(ride.mode(), Mode::Ready);
    assert!(ride.notice().contains("over by then"), "{}", ride.notice());
    // The wish is gone: the next start begins at the beginning.
    ride.command(Command::Start);
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(ride.snapshot().session, Span::ZERO);
    let text = stillroad::plan::builtin()
        .iter()
        .find(|(key, _)| *key == "three-minutes")
        .unwrap()
        .1;
    let test = std::sync::Arc::new(stillroad::plan::read(text).plan.unwrap());
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &test, &rider(), RideMode::TargetPower);
    ride.command(Command::Clock(GroupClock::At(30)));
    assert!(ride.notice().contains("its own clock"), "{}", ride.notice());
    assert_eq!(ride.snapshot().group, None);
    // Nor where the test was chosen last.
    ride.choose(&session(STAIRS), &rider(), RideMode::TargetPower);
    ride.command(Command::Clock(GroupClock::Join(Span::from_seconds(60))));
    ride.choose(&test, &rider(), RideMode::TargetPower);
    ride.start();
    assert_eq!(ride.snapshot().session, Span::ZERO);
}

#[test]
fn still_pedals_let_the_brake_off_and_never_pause_a_group() {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"10:00\"\nwatts = 150\n");
    for joined in [false, true] {
        let fake = Fake::new(Knobs::default());
        let quick = Rider {
            pause_after: PauseAfter::After(Span::from_seconds(5)),
            ..rider()
        };
        let mut ride = Ride::on(&fake, &plan, &quick, RideMode::TargetPower);
        if joined {
            ride.command(Command::Clock(GroupClock::Join(Span::from_seconds(10))));
        }
        ride.start();
        ride.to(40.0);
        assert_eq!(held(&fake), Some(150));
        fake.turn(|knobs| knobs.cadence = 0.0);
        ride.to(43.0);
        assert_eq!(held(&fake), Some(0), "the brake is let off all the same");
        ride.to(100.0);
        let expected = if joined {
            Mode::Riding
        } else {
            Mode::Paused(PauseCause::PedalsStopped)
        };
        assert_eq!(ride.mode(), expected);
    }
}

#[test]
fn after_a_pause_the_rider_goes_on_from_there_or_is_with_the_group_again() {
    for rejoins in [false, true] {
        let (fake, mut ride) = ready(STAIRS, GroupClock::At(10));
        ride.command(Command::Start);
        ride.to(40.0);
        ride.command(Command::Pause);
        ride.to(100.0);
        // Thirty seconds were ridden, and the group is at ninety.
        let behind = ride.snapshot().group.clone().unwrap().behind;
        assert_eq!(behind, Some(Span::from_seconds(60)));
        ride.command(if rejoins {
            Command::Rejoin
        } else {
            Command::Resume
        });
        assert_eq!(ride.mode(), Mode::Riding);
        ride.to(120.0);
        let (session, behind) = if rejoins {
            (110, None)
        } else {
            (50, Some(Span::from_seconds(60)))
        };
        let snapshot = ride.snapshot();
        assert_eq!(snapshot.session, Span::from_seconds(session));
        assert_eq!(snapshot.ridden, Span::from_seconds(50));
        assert_eq!(snapshot.group.clone().unwrap().behind, behind);
        assert_eq!(held(&fake), Some(if rejoins { 150 } else { 100 }));
        // Back from a release: nothing comes at once.
        for (when, watts) in ride.watts_in(100.0, 106.0) {
            assert!(
                f64::from(watts) <= 150.0 * (when - 100.0) / 6.0 + 1.0,
                "{watts} at {when}"
            );
        }
        ride.to_the_end(400.0);
        assert_eq!(ride.rows().len(), if rejoins { 120 } else { 180 });
        assert_eq!(ride.happened("rejoin"), rejoins);
        let numbers: Vec<_> = ride.rows().iter().map(|row| row.ridden_s).collect();
        assert!(numbers.iter().copied().eq(1..=numbers.len() as u64));
    }
}

#[test]
fn who_rode_on_behind_is_with_the_group_by_one_press_and_what_was_left_out_is_back() {
    let (_, mut ride) = ready(STAIRS, GroupClock::At(10));
    ride.command(Command::Start);
    ride.to(30.0);
    ride.command(Command::Cut);
    ride.command(Command::Pause);
    ride.to(50.0);
    ride.command(Command::Resume);
    ride.to(60.0);
    let before = ride.rows().len();
    ride.command(Command::Rejoin);
    ride.to(62.0);
    let snapshot = ride.snapshot();
    assert_eq!(snapshot.session, Span::from_seconds(52));
    assert_eq!(snapshot.session_length, Span::from_seconds(180));
    assert_eq!(ride.rows().len(), before + 2);
    assert!(!snapshot.can_undo);
    // The group's session is over: nobody is thrown out of their own.
    ride.command(Command::Pause);
    ride.to(200.0);
    ride.command(Command::Rejoin);
    assert_eq!(ride.mode(), Mode::Paused(PauseCause::Rider));
    assert!(ride.notice().contains("is over"), "{}", ride.notice());
}

#[test]
fn after_the_end_nobody_waits_for_a_group_and_the_loop_has_its_rest() {
    let (_, mut ride) = ready(STAIRS, GroupClock::Own);
    ride.command(Command::Start);
    ride.to(20.0);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.to(40.0);
    assert!(matches!(ride.mode(), Mode::Finished(_)));
    ride.command(Command::Clock(GroupClock::At(60)));
    ride.command(Command::StartWithPedals);
    let waits = |ride: &Ride| {
        ride.snapshot()
            .group
            .as_ref()
            .is_some_and(|group| group.waits)
    };
    assert!(!waits(&ride));
    for _ in 0..100 {
        let next = ride.world.core().poll_timeout();
        assert!(next.is_none_or(|next| next > ride.now()), "{next:?}");
        ride.pass(0.5);
    }
}

#[test]
fn a_jump_into_a_sprint_builds_its_load_up_and_one_out_of_it_drops_nobody() {
    let blocks = "[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n\
        [[block]]\nkind = \"sprint\"\ntime = \"0:20\"\nwatts = 350\nbrake = \"held\"\n\
        [[block]]\nkind = \"cool-down\"\ntime = \"2:00\"\nwatts = 80\n";
    // Ten seconds behind the group, who is so far into the sprint, or behind it, by then.
    for into in [0.5, 1.5, 6.0] {
        let (fake, mut ride) = ready(blocks, GroupClock::At(10));
        ride.command(Command::Start);
        ride.to(30.0);
        ride.command(Command::Pause);
        ride.to(40.0);
        ride.command(Command::Resume);
        ride.to(70.0 + into);
        assert_eq!(held(&fake), Some(80));
        ride.command(Command::Rejoin);
        // Pressed again while it builds up, and again.
        for again in [0.4, 1.2] {
            ride.to(70.0 + into + again);
            ride.command(Command::Rejoin);
        }
        ride.to(85.0);
        let rise = ride.watts_in(70.0 + into, 85.0);
        let full = rise.iter().find(|(_, watts)| *watts == 350).unwrap().0;
        assert!(full >= 75.9 + into, "six seconds at least: {rise:?}");
        for pair in rise.windows(2) {
            assert!(pair[1].1 - pair[0].1 <= 20, "{rise:?}");
        }
    }
    let (fake, mut ride) = ready(blocks, GroupClock::At(10));
    ride.command(Command::Start);
    ride.to(30.0);
    ride.command(Command::Pause);
    ride.to(33.0);
    ride.command(Command::Resume);
    ride.to(91.8);
    assert_eq!(held(&fake), Some(350));
    ride.command(Command::Rejoin);
    // It stands on for a second at most and falls over one to two (rules of the ride).
    let at = |ride: &mut Ride, second: f64| {
        ride.to(second);
        held(&fake).unwrap()
    };
    assert_eq!(at(&mut ride, 92.0), 350);
    assert!(at(&mut ride, 93.4) > 200);
    assert_eq!(at(&mut ride, 95.5), 80);
}

#[test]
fn a_jump_within_a_ramp_builds_its_difference_up() {
    let ramp = "[[block]]\nkind = \"warm-up\"\ntime = \"10:00\"\nwatts = [50, 250]\n";
    let (fake, mut ride) = ready(ramp, GroupClock::At(10));
    ride.command(Command::Start);
    ride.to(40.0);
    ride.command(Command::Pause);
    ride.to(310.0);
    ride.command(Command::Resume);
    ride.to(340.0);
    // A minute into the ramp: a tenth of it is behind.
    assert!(
        (65..=75).contains(&held(&fake).unwrap()),
        "{:?}",
        held(&fake)
    );
    ride.command(Command::Rejoin);
    ride.pass(1.0);
    let soon = held(&fake).unwrap();
    assert!(soon < 100, "{soon} W a second after the jump");
    ride.pass(12.0);
    // 343 of 600 seconds: 50 and 200 times 0.57.
    assert!(
        (160..=168).contains(&held(&fake).unwrap()),
        "{:?}",
        held(&fake)
    );
}

#[test]
fn a_brake_let_off_by_hand_stays_off_when_the_group_is_joined_again() {
    let (fake, mut ride) = ready(STAIRS, GroupClock::At(10));
    ride.command(Command::Start);
    ride.to(40.0);
    ride.command(Command::Pause);
    ride.command(Command::BrakeOff);
    ride.to(60.0);
    ride.command(Command::Rejoin);
    ride.to(90.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(held(&fake), Some(0));
    ride.command(Command::Resume);
    ride.to(100.0);
    assert_eq!(held(&fake), Some(150));
}

#[test]
fn a_wait_is_left_by_the_riders_own_clock_by_another_session_and_by_a_later_time() {
    let (_, mut ride) = ready(STAIRS, GroupClock::At(30));
    ride.command(Command::StartWithPedals);
    ride.command(Command::Clock(GroupClock::At(60)));
    ride.to(59.0);
    assert_eq!(ride.mode(), Mode::Ready);
    ride.command(Command::Clock(GroupClock::Own));
    ride.to(59.5);
    // The pedals turn, and the rider said that they are ready.
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(ride.snapshot().session.whole_seconds(), 0);

    let (_, mut ride) = ready(STAIRS, GroupClock::At(30));
    ride.command(Command::StartWithPedals);
    ride.choose(&steady(), &rider(), RideMode::TargetPower);
    ride.to(60.0);
    assert_eq!(ride.mode(), Mode::Ready, "another session was chosen");
    assert!(!ride.snapshot().group.clone().unwrap().waits);
}

#[test]
fn a_ride_by_ones_own_clock_knows_no_group() {
    let (_, mut ride) = riding(&steady());
    ride.command(Command::Clock(GroupClock::Join(Span::from_seconds(60))));
    ride.to(20.0);
    ride.command(Command::Rejoin);
    ride.to(21.0);
    let snapshot = ride.snapshot();
    assert_eq!(
        (snapshot.session, snapshot.group.clone()),
        (snapshot.ridden, None)
    );
    assert!(!ride.happened("rejoin"));
    let released = |request: &Request| matches!(request, Request::Disconnect(_));
    assert!(!ride.requests().iter().any(|(_, request)| released(request)));
}
