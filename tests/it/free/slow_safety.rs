//! What keeps a rider safe while watts are held by the slow loop: eased where the legs tire, let off where they stall, off
//! in two steps by hand, switched without a jump, capped in a sprint, and begun from the lowest level after a lost link.

use stillroad::engine::Command;
use stillroad::ride::{Mode, RideMode};

use super::slow_laws::{acting, levels, rises, written};
use crate::world::{Fake, Knobs, Ride, rider, session};

const SESSION: &str = "[[block]]\nkind = \"hold\"\ntime = \"4:00\"\nwatts = 150\ncadence = [80, 90]\n\
    [[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = 150\ncadence = [80, 90]\n";

/// 150 W are level 6.0 of these, in tenths: (150 − 60) / 15. Within 5 %, 7.5 W, half a level.
fn held() -> (Fake, Ride) {
    let fake = acting();
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(100.0);
    let stands = last(&ride, 100.0);
    assert!((55..=65).contains(&stands), "{stands}");
    (fake, ride)
}

/// The level that was written last before a second, in tenths.
fn last(ride: &Ride, before: f64) -> u8 {
    written(ride, 0.0, before).last().unwrap().1
}

#[test]
fn legs_under_their_band_get_less_watts_and_a_lower_level_and_get_them_back_in_the_next_block() {
    let (fake, mut ride) = held();
    fake.turn(|knobs| knobs.cadence = 76.0);
    ride.to(109.0);
    assert!(!ride.happened("ease-down"), "not before ten seconds");
    ride.to(130.0);
    assert!(ride.happened("ease-down"));
    // 4 % of 150 W once, and no sooner again than after thirty seconds.
    let watts = ride.snapshot().ledger.as_ref().unwrap().slow_watts();
    assert_eq!(watts, Some(144.0));
    // 6 W are 0.4 of a level.
    assert!(last(&ride, 130.0) < last(&ride, 109.0));
    fake.turn(|knobs| knobs.cadence = 85.0);
    ride.to(290.0);
    let watts = ride.snapshot().ledger.as_ref().unwrap().slow_watts();
    assert_eq!(watts, Some(150.0));
}

#[test]
fn legs_that_stall_get_the_lowest_level_at_once_and_nothing_more_until_they_turn() {
    let (fake, mut ride) = held();
    let mut lowest = None;
    // A second for every eight revolutions: the power stays, so that the torque rises.
    for step in 1..=12_u32 {
        fake.turn(|knobs| knobs.cadence = 85.0 - 4.0 * f64::from(step));
        ride.pass(0.5);
        if ride.happened("guard") && lowest.is_none() {
            lowest = Some(ride.now().0 as f64 / 1e6);
        }
    }
    let acted = lowest.expect("the guard acts");
    let after = written(&ride, acted - 0.5, 200.0);
    // In one step: nothing stands between what stood and the lowest.
    assert_eq!(after.len(), 1, "{after:?}");
    assert_eq!(after[0].1, 0);
    ride.to(115.0);
    assert!(!rises(&written(&ride, acted, 115.0)));
    fake.turn(|knobs| knobs.cadence = 86.0);
    ride.to(117.0);
    assert_eq!(last(&ride, 117.0), 0, "two seconds over 70 first");
    ride.to(165.0);
    // What the guard takes off for the rest of the block, 4 %, and within 5 % of it: 136.8 to 151.2 W.
    assert!(
        (51..=61).contains(&last(&ride, 165.0)),
        "{}",
        last(&ride, 165.0)
    );
}

#[test]
fn what_the_hand_lets_off_goes_in_two_steps() {
    for end in [false, true] {
        let (_, mut ride) = held();
        let stood = last(&ride, 100.0);
        if end {
            ride.command(Command::End);
            ride.command(Command::End);
        } else {
            ride.command(Command::BrakeOff);
        }
        ride.pass(2.0);
        let after: Vec<u8> = written(&ride, 100.0, 102.0).iter().map(|w| w.1).collect();
        assert_eq!(after, [stood / 2, 0], "end {end}");
        let second = written(&ride, 100.0, 102.0)[1].0;
        // Lowest within a second and a half; the first half is there to be felt.
        assert!((100.4..=101.5).contains(&second), "{second}");
        ride.pass(20.0);
        assert!(!rises(&written(&ride, 101.0, 125.0)), "end {end}");
    }
}

#[test]
fn a_switch_of_mode_and_back_makes_no_jump_of_the_level() {
    let (_, mut ride) = held();
    let stood = last(&ride, 100.0);
    ride.command(Command::SwitchMode);
    ride.to(130.0);
    assert_eq!(ride.snapshot().ride_mode, RideMode::EffortOnly);
    let by_effort = written(&ride, 100.0, 130.0);
    assert!(
        by_effort.iter().all(|(_, level)| *level <= stood),
        "{by_effort:?}"
    );
    ride.command(Command::SwitchMode);
    ride.to(170.0);
    let back = written(&ride, 100.0, 170.0);
    // A quarter of a second at 50 W a second, and what the trainer's step rounds off, is 1 level of 15 W.
    let mut before = stood;
    for (_, level) in &back {
        assert!(*level <= before + 10, "{stood} {back:?}");
        before = *level;
    }
    assert!((55..=65).contains(&before), "{before}");
}

#[test]
fn a_held_sprint_is_free_at_a_level_under_the_cap_and_falls_after_its_end() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:40\"\nwatts = 150\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:20\"\nwatts = 900\nbrake = \"held\"\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n",
    );
    // 60 W at none and 60 W a level: the sprint cap of 400 W is level 5.6, the cap of 250 W is 3.1.
    let fake = Fake::new(Knobs {
        watts_a_level: 60.0,
        free_power: 60.0,
        ..levels()
    });
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(185.0);
    let before = written(&ride, 0.0, 100.0);
    assert!(before.iter().all(|(_, level)| *level <= 31), "{before:?}");
    let sprint = written(&ride, 100.0, 125.0);
    assert!(sprint.iter().all(|(_, level)| *level <= 56), "{sprint:?}");
    // What stands at its beat stands to its end, and for no longer than a second after it and two on its way down.
    let inside = written(&ride, 105.5, 125.0);
    assert!(inside.is_empty(), "{inside:?}");
    let after = written(&ride, 125.0, 185.0);
    assert!(!rises(&after[..after.len().min(4)]), "{after:?}");
    // 80 W are level 0.3.
    let down = written(&ride, 125.0, 129.5).last().unwrap().1;
    assert!(down <= 5, "{after:?}");
}

#[test]
fn after_a_lost_link_the_lowest_level_comes_first_and_the_way_back_is_measured_anew() {
    let (fake, mut ride) = held();
    fake.drop_link(ride.now());
    ride.pass(0.5);
    assert!(
        matches!(ride.mode(), Mode::Degraded { .. }),
        "{:?}",
        ride.mode()
    );
    assert!(
        ride.notice().contains("may hold its last load"),
        "{}",
        ride.notice()
    );
    // A harder gear meanwhile: 33 W a level from 130 W, so that 150 W are level 0.6.
    fake.turn(|knobs| {
        knobs.free_power = 130.0;
        knobs.watts_a_level = 33.0;
    });
    ride.to(150.0);
    assert_eq!(ride.mode(), Mode::Riding);
    let back = written(&ride, 100.1, 150.0);
    assert_eq!(back[0].1, 0, "{back:?}");
    // At the level that stood before, 6.0, it would be 328 W.
    assert!(back.iter().all(|(_, level)| *level <= 12), "{back:?}");
}
