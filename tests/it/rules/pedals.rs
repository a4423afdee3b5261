//! Pedals that stop and turn again.

use stillroad::engine::Command;
use stillroad::ride::{Mode, PauseCause, RideMode};
use stillroad::rider::PauseAfter;
use stillroad::time::Span;
use stillroad::units::BrakeLag;

use super::{held, riding, steady};
use crate::world::{Fake, Knobs, Ride, remembering, rider, session};

const STOPPED: Mode = Mode::Paused(PauseCause::PedalsStopped);

#[test]
fn still_pedals_release_after_two_seconds_and_pause_after_twenty() {
    let (fake, mut ride) = riding(&steady());
    ride.to(40.0);
    assert_eq!(held(&fake), Some(150));
    fake.turn(|knobs| knobs.cadence = 0.0);
    ride.to(41.9);
    assert_eq!(held(&fake), Some(150), "not before two seconds");
    // The first report of stillness comes within 0.43 s, then two seconds, then the answer.
    ride.to(42.7);
    assert_eq!(held(&fake), Some(0));
    assert_eq!(ride.mode(), Mode::Riding, "the clock runs on");
    ride.to(59.9);
    assert_eq!(ride.mode(), Mode::Riding);
    ride.to(60.6);
    assert_eq!(ride.mode(), STOPPED);
    assert!(ride.notice().contains("Paused"), "{}", ride.notice());
    let ridden = ride.rows().len();
    ride.to(90.0);
    assert_eq!(ride.rows().len(), ridden, "no row while the clock stands");
    assert!(ride.watts_in(43.0, 90.0).is_empty());
}

#[test]
fn pedals_that_turn_again_build_the_load_over_six_seconds() {
    for stands in [5.0, 40.0] {
        let (fake, mut ride) = riding(&steady());
        ride.to(40.0);
        fake.turn(|knobs| knobs.cadence = 0.0);
        ride.to(40.0 + stands);
        fake.turn(|knobs| knobs.cadence = 85.0);
        ride.to(60.0 + stands);
        assert_eq!(ride.mode(), Mode::Riding);
        let watts = ride.watts_in(40.0 + stands, 60.0 + stands);
        let full = watts.iter().find(|(_, watts)| *watts == 150).unwrap();
        let turned = 40.0 + stands;
        assert!(
            (6.0..7.3).contains(&(full.0 - turned)),
            "full after {} s",
            full.0 - turned
        );
        for (when, watts) in watts {
            // A straight line over six seconds from the moment at which the pedals turned.
            let line = 150.0 * (when - turned) / 6.0;
            assert!(f64::from(watts) <= line + 1.0, "{watts} W at {when}");
        }
    }
}

#[test]
fn a_sprint_that_begins_in_a_return_does_not_cut_it_short() {
    // The beat of a held sprint of 300 W is at second 65; with and without commands sent ahead.
    let blocks = "[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n[[block]]\nkind = \"sprint\"\n\
                  time = \"0:15\"\nwatts = 300\nbrake = \"held\"\n";
    for lag in [None, Some(lag())] {
        for turned in [60.2, 62.0, 64.5] {
            let fake = Fake::new(Knobs::default());
            let mut ride = Ride::on(&fake, &session(blocks), &rider(), RideMode::TargetPower);
            ride.input(remembering(&fake.id(), lag));
            ride.start();
            ride.to(50.0);
            fake.turn(|knobs| knobs.cadence = 0.0);
            ride.to(turned);
            assert_eq!(held(&fake), Some(0));
            fake.turn(|knobs| knobs.cadence = 85.0);
            ride.to(79.0);
            assert_eq!(held(&fake), Some(300), "the sprint is reached");
            for (when, watts) in ride.watts_in(turned, 79.0) {
                // No straight line from nothing over six seconds goes above this.
                let line = 300.0 * (when - turned) / 6.0;
                assert!(
                    f64::from(watts) <= line + 1.0,
                    "{watts} W at {when}, {lag:?}"
                );
            }
        }
    }
}

/// A brake of which earlier rides left a lead of about a second.
fn lag() -> BrakeLag {
    BrakeLag {
        dead_time: 0.3,
        rise: 0.8,
        fall: 0.6,
        least: 1.0,
        least_half: 0.8,
        cadence_prompt: true,
    }
}

#[test]
fn the_clock_does_not_pause_in_a_free_block_nor_near_a_sprint_nor_against_the_riders_wish() {
    let free = "[[block]]\nkind = \"free\"\ntime = \"5:00\"\n";
    let sprints = "[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n[[block]]\nkind = \"sprint\"\n\
                   time = \"0:15\"\nwatts = 300\nbrake = \"held\"\n[[block]]\nkind = \"recovery\"\ntime = \"5:00\"\n\
                   watts = 80\n";
    let hold = "[[block]]\nkind = \"hold\"\ntime = \"10:00\"\nwatts = 150\n";
    // Blocks, when the pedals stop, when the clock still runs, when it stands (none: never).
    type Case = (&'static str, PauseAfter, f64, f64, Option<f64>);
    let twenty = PauseAfter::After(Span::from_seconds(20));
    let cases: [Case; 5] = [
        (free, twenty, 40.0, 200.0, None),
        // Twenty seconds are over 8 s before the sprint of 65 to 80; ten seconds after it are over at 90.
        (sprints, twenty, 37.0, 89.9, Some(92.0)),
        // Twenty seconds are over 15 s before it.
        (sprints, twenty, 29.0, 48.9, Some(50.0)),
        (hold, PauseAfter::Never, 40.0, 200.0, None),
        (
            hold,
            PauseAfter::After(Span::from_seconds(60)),
            40.0,
            99.9,
            Some(101.0),
        ),
    ];
    for (blocks, after, stop, runs, stands) in cases {
        let fake = Fake::new(Knobs::default());
        let mut rider = rider();
        rider.pause_after = after;
        let mut ride = Ride::on(&fake, &session(blocks), &rider, RideMode::TargetPower);
        ride.start();
        ride.to(stop);
        fake.turn(|knobs| knobs.cadence = 0.0);
        ride.to(runs);
        assert_eq!(ride.mode(), Mode::Riding, "{blocks} {stop}");
        if let Some(stands) = stands {
            ride.to(stands);
            assert_eq!(ride.mode(), STOPPED, "{blocks} {stop}");
        }
    }
}

#[test]
fn a_cadence_of_nought_beside_power_is_not_a_stop() {
    // A trainer that reports no cadence at 150 W.
    let (fake, mut ride) = riding(&steady());
    ride.to(30.0);
    fake.turn(|knobs| knobs.cadence = 19.0);
    ride.to(60.0);
    assert_eq!(held(&fake), Some(150), "power alone shows that they turn");
}

#[test]
fn a_trainer_that_shows_nothing_but_zeros_is_never_loaded() {
    let knobs = Knobs {
        zeros: true,
        ..Knobs::default()
    };
    let (fake, mut ride) = super::riding_on(knobs, &steady());
    ride.to(20.0);
    assert!(ride.watts().iter().all(|(_, watts)| *watts == 0));
    fake.turn(|knobs| knobs.zeros = false);
    ride.to(40.0);
    assert_eq!(
        held(&fake),
        Some(150),
        "and once it shows turning pedals it is"
    );
}

#[test]
fn nothing_is_raised_while_no_source_is_fresh_and_nothing_falls() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 100\n[[block]]\nkind = \"hold\"\ntime = \"5:00\"\n\
         watts = 200\n",
    );
    let (fake, mut ride) = riding(&plan);
    ride.to(55.0);
    fake.turn(|knobs| knobs.mute = true);
    // The beat to 200 W is at 65, when nothing is known of the pedals.
    ride.to(90.0);
    assert_eq!(held(&fake), Some(100));
    assert_eq!(ride.mode(), Mode::Riding);
    fake.turn(|knobs| knobs.mute = false);
    ride.to(110.0);
    assert_eq!(held(&fake), Some(200));
    // No rise is faster than fifty watts a second (our own choice, said in the module that builds up).
    let watts = ride.watts_in(55.0, 110.0);
    assert!(watts.len() > 5);
    for (when, watts) in watts {
        let line = 100.0 + 50.0 * (when - 90.0);
        assert!(f64::from(watts) <= line + 1.0, "{watts} W at {when}");
    }
}

#[test]
fn a_pause_by_hand_is_not_ended_by_the_pedals() {
    let (fake, mut ride) = riding(&steady());
    ride.to(30.0);
    ride.command(Command::Pause);
    ride.to(60.0);
    assert_eq!(ride.mode(), Mode::Paused(PauseCause::Rider));
    assert_eq!(held(&fake), Some(0));
    let rows = ride.rows().len();
    assert_eq!(rows, 25);
    ride.command(Command::Resume);
    ride.to(65.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert!(held(&fake).unwrap() < 150);
    ride.to(67.5);
    assert_eq!(held(&fake), Some(150));
    assert_eq!(ride.rows().len(), rows + 7);
}

#[test]
fn a_resume_in_the_middle_of_the_letting_off_builds_over_six_seconds_too() {
    let (fake, mut ride) = riding(&steady());
    ride.to(30.0);
    ride.command(Command::Pause);
    ride.to(30.5);
    assert_eq!(held(&fake), Some(75), "half at once");
    ride.command(Command::Resume);
    ride.to(35.0);
    let now = held(&fake).unwrap();
    assert!((75..150).contains(&now), "{now} W");
    ride.to(37.5);
    assert_eq!(held(&fake), Some(150));
}
