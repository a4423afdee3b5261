//! The laws of the brake where watts are held by the slow loop: nothing rises on what is not known, releases are the lowest
//! level, a rider without a measured power is told and ridden by effort, and a level without effect is not raised for ever.

use stillroad::engine::{Command, Role};
use stillroad::ride::{Mode, RideMode};
use stillroad::time::Span;

use super::no_cadence::CadenceNought;
use crate::world::{Fake, Knobs, Ride, rider, session, tap};

const SESSION: &str = "[[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = 150\n\
    [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 100\n";

/// Levels 0 to 10.0 in tenths, one octet each.
pub fn levels() -> Knobs {
    Knobs {
        offers_power: false,
        power_range: None,
        ..Knobs::default()
    }
}

/// The levels that were written in a span of seconds, in tenths.
pub fn written(ride: &Ride, from: f64, to: f64) -> Vec<(f64, u8)> {
    ride.writes()
        .iter()
        .filter(|(now, bytes)| bytes[0] == 0x04 && (from..to).contains(&(now.0 as f64 / 1e6)))
        .map(|(now, bytes)| (now.0 as f64 / 1e6, bytes[1]))
        .collect()
}

pub fn rises(levels: &[(f64, u8)]) -> bool {
    levels.windows(2).any(|pair| pair[1].1 > pair[0].1)
}

/// A fake whose power follows its level: 60 W at none and 15 W a level, in one gear.
pub fn acting() -> Fake {
    Fake::new(Knobs {
        watts_a_level: 15.0,
        free_power: 60.0,
        ..levels()
    })
}

#[test]
fn the_level_follows_the_watts_that_are_asked_for() {
    let fake = acting();
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(115.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(ride.snapshot().ride_mode, RideMode::TargetPower);
    // 150 W are level 6.0: (150 − 60) / 15. Within 5 %, 7.5 W, half a level.
    let stands = written(&ride, 0.0, 115.0).last().unwrap().1;
    assert!((55..=65).contains(&stands), "{stands}");
    // 100 W are level 2.7; down within three seconds of the beat, and never before it.
    let early = written(&ride, 100.0, 125.0);
    assert!(early.iter().all(|(_, level)| *level >= 55), "{early:?}");
    ride.to(129.5);
    let after = written(&ride, 125.0, 129.5).last().unwrap().1;
    assert!((20..=34).contains(&after), "{after}");
    // Every level is explained from the session's watts to the trainer's step.
    let ledger = ride.snapshot().ledger.clone().unwrap();
    assert_eq!(ledger.slow_watts(), Some(100.0));
    assert!(ride.happened("slow-hold"));
}

#[test]
fn nothing_rises_while_power_is_not_seen_and_after_a_while_the_ride_goes_on_by_effort() {
    let fake = acting();
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(20.0);
    let before = written(&ride, 0.0, 20.0);
    assert!(rises(&before), "{before:?}");
    fake.turn(|knobs| knobs.no_power = true);
    ride.to(23.5);
    ride.to(60.0);
    let blind = written(&ride, 23.5, 42.0);
    assert!(!rises(&blind), "{blind:?}");
    assert_eq!(ride.snapshot().ride_mode, RideMode::EffortOnly);
    assert!(ride.happened("mode"));
    // By effort the level is the one that stood, or lower.
    assert!(!rises(&written(&ride, 42.0, 60.0)));
}

#[test]
fn still_pedals_release_to_the_lowest_level_and_the_way_back_is_measured_anew() {
    let fake = acting();
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(60.0);
    fake.turn(|knobs| knobs.cadence = 0.0);
    ride.to(64.0);
    assert_eq!(written(&ride, 0.0, 64.0).last().unwrap().1, 0);
    fake.turn(|knobs| {
        knobs.cadence = 85.0;
        // A much harder gear: 130 W at the lowest level, 33 W a level.
        knobs.free_power = 130.0;
        knobs.watts_a_level = 33.0;
    });
    ride.to(100.0);
    // 150 W are level 0.6 now. At the level that stood before, 6.0, it would be 328 W.
    let back = written(&ride, 64.0, 100.0);
    assert!(back.iter().all(|(_, level)| *level <= 12), "{back:?}");
}

#[test]
fn a_level_that_changes_nothing_is_not_raised_for_ever_and_it_is_said() {
    let fake = Fake::new(levels());
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(124.0);
    let most = written(&ride, 0.0, 124.0)
        .iter()
        .map(|(_, l)| *l)
        .max()
        .unwrap();
    assert!(most <= 60, "{most}");
    let said = ride.events();
    assert!(
        said.iter()
            .any(|e| e.detail.contains("does not change its load")),
        "{said:?}"
    );
}

#[test]
fn above_the_cap_the_level_falls_at_once() {
    let fake = acting();
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(100.0);
    let stood = written(&ride, 0.0, 100.0).last().unwrap().1;
    // Three gears harder: every level asks for more than twice as much, 315 W under a cap of 250 W.
    fake.turn(|knobs| {
        knobs.free_power = 126.0;
        knobs.watts_a_level = 31.5;
    });
    ride.to(106.0);
    let fell = written(&ride, 100.0, 106.0).last().unwrap().1;
    assert!(fell < stood, "{stood} {fell}");
    ride.to(115.0);
    let after = written(&ride, 100.0, 115.0).last().unwrap().1;
    // Under the cap: 126 + 31.5 a level is 250 W at 3.9.
    assert!(after <= 39, "{after}");
}

#[test]
fn slow_legs_are_not_asked_for_more_by_a_correction() {
    let fake = acting();
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(60.0);
    // The legs slow down and make less: the level is not what is missing.
    fake.turn(|knobs| {
        knobs.cadence = 60.0;
        knobs.free_power = 40.0;
        knobs.watts_a_level = 10.0;
    });
    ride.to(100.0);
    assert!(!rises(&written(&ride, 62.0, 100.0)));
}

#[test]
fn power_alone_is_enough_to_steer_by_where_no_cadence_is_reported() {
    let fake = acting();
    fake.turn(|knobs| knobs.no_cadence = true);
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(115.0);
    // 150 W are level 6.0: (150 − 60) / 15. Within 5 %, 7.5 W, half a level.
    let stands = written(&ride, 0.0, 115.0).last().unwrap().1;
    assert!((55..=65).contains(&stands), "{stands}");
}

#[test]
fn a_late_answer_is_not_followed_by_a_jump() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:30\"\nwatts = 240\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 120\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 240\nbuild_up = \"0:03\"\n",
    );
    // 120 W are level 2.0 and 240 W are level 6.0.
    let fake = Fake::new(Knobs {
        watts_a_level: 30.0,
        free_power: 60.0,
        ..levels()
    });
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(154.5);
    let stands = written(&ride, 0.0, 154.5).last().unwrap().1;
    assert!((18..=22).contains(&stands), "{stands}");
    fake.turn(|knobs| knobs.answers_after = Span::from_seconds(4));
    ride.to(185.0);
    let mut before = stands;
    let late = written(&ride, 154.5, 185.0);
    for (_, level) in &late {
        // 50 W at once, level 1.7, and what the scale is off by.
        assert!(*level <= before + 20, "{stands} {late:?}");
        before = *level;
    }
    assert!(before >= 50, "it comes there all the same: {late:?}");
}

/// Three minutes of 150 W, which are level 2.0 of these: 60 W at none and 45 W a level.
fn steep() -> (Fake, Ride) {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"4:00\"\nwatts = 150\n");
    let fake = Fake::new(Knobs {
        watts_a_level: 45.0,
        free_power: 60.0,
        ..levels()
    });
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(100.0);
    let stands = written(&ride, 0.0, 100.0).last().unwrap().1;
    assert!((17..=22).contains(&stands), "{stands}");
    (fake, ride)
}

#[test]
fn legs_that_go_along_without_pushing_do_not_find_twice_as_much() {
    let (fake, mut ride) = steep();
    fake.turn(|knobs| {
        knobs.cadence = 70.0;
        knobs.free_power = 25.0;
        knobs.watts_a_level = 0.0;
    });
    ride.to(109.0);
    fake.turn(|knobs| {
        knobs.cadence = 85.0;
        knobs.free_power = 60.0;
        knobs.watts_a_level = 45.0;
    });
    ride.to(115.0);
    // A quarter more than 150 W is level 2.8; a little more where the scale is off.
    let most = written(&ride, 100.0, 115.0).iter().map(|(_, l)| *l).max();
    assert!(most.is_none_or(|level| level <= 31), "{most:?}");
    ride.to(140.0);
    let after = written(&ride, 0.0, 140.0).last().unwrap().1;
    assert!((17..=22).contains(&after), "{after}");
}

#[test]
fn a_shift_by_five_gears_is_followed_once_it_lasts() {
    let (fake, mut ride) = steep();
    // Less than half as much at every level: 150 W are level 6.1.
    fake.turn(|knobs| {
        knobs.free_power = 27.0;
        knobs.watts_a_level = 20.25;
    });
    ride.to(160.0);
    let after = written(&ride, 0.0, 160.0).last().unwrap().1;
    assert!((54..=67).contains(&after), "{after}");
}

#[test]
fn without_a_power_a_recovery_is_no_reason_for_a_holds_level() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:30\"\nwatts = 150\n\
         [[block]]\nkind = \"recovery\"\ntime = \"3:00\"\nwatts = 75\n",
    );
    let fake = acting();
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(120.0);
    let stands = written(&ride, 0.0, 120.0).last().unwrap().1;
    assert!(stands <= 15, "{stands}");
    fake.turn(|knobs| knobs.no_power = true);
    ride.to(200.0);
    assert_eq!(ride.snapshot().ride_mode, RideMode::EffortOnly);
    let after = written(&ride, 120.0, 200.0);
    assert!(after.iter().all(|(_, level)| *level <= stands), "{after:?}");
}

#[test]
fn a_cadence_of_nought_beside_a_power_is_none() {
    let fake = acting();
    let mut ride = Ride::new(vec![tap(CadenceNought(fake.clone()))]);
    ride.choose(&session(SESSION), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(fake.id())));
    ride.start();
    ride.to(115.0);
    // 150 W are level 6.0: (150 − 60) / 15. Within 5 %, 7.5 W, half a level.
    let stands = written(&ride, 0.0, 115.0).last().unwrap().1;
    assert!((55..=65).contains(&stands), "{stands}");
}
