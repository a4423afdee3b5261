//! What the rider's hand does.

use stillroad::engine::Command;
use stillroad::ride::{Finish, Mode, RideMode};

use super::{held, riding, steady};
use crate::world::{Fake, Knobs, Ride, rider, session};

const WORK_AND_RECOVERY: &str = "[[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = 150\n\
                                 [[block]]\nkind = \"recovery\"\ntime = \"2:00\"\nwatts = 100\n\
                                 [[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = 150\n";

#[test]
fn the_brake_goes_off_in_two_steps_and_stays_off_until_resume() {
    let (fake, mut ride) = riding(&steady());
    ride.to(30.0);
    ride.command(Command::BrakeOff);
    ride.to(30.2);
    assert_eq!(held(&fake), Some(75), "half at once");
    ride.to(31.5);
    assert_eq!(held(&fake), Some(0), "lowest within a second and a half");
    assert_eq!(ride.watts_in(30.0, 32.0).len(), 2, "two steps");
    // Pedals that stop and turn again do not set it, nor does the next block.
    fake.turn(|knobs| knobs.cadence = 0.0);
    ride.to(60.0);
    fake.turn(|knobs| knobs.cadence = 85.0);
    ride.to(100.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert!(ride.watts_in(32.0, 100.0).iter().all(|(_, w)| *w == 0));
    ride.command(Command::Resume);
    ride.to(105.0);
    assert!(held(&fake).unwrap() < 150, "built up, not set");
    ride.to(107.5);
    assert_eq!(held(&fake), Some(150));
}

#[test]
fn skip_and_end_want_a_second_press_within_three_seconds() {
    for (wait, counts) in [(0.5, true), (2.9, true), (3.1, false)] {
        let (_, mut ride) = riding(&session(WORK_AND_RECOVERY));
        ride.to(30.0);
        ride.command(Command::Skip);
        assert_eq!(ride.snapshot().lap, 0);
        assert!(ride.snapshot().armed.is_some());
        ride.pass(wait);
        ride.command(Command::Skip);
        assert_eq!(ride.snapshot().lap == 1, counts, "skip after {wait} s");

        let (_, mut ride) = riding(&steady());
        ride.to(30.0);
        ride.command(Command::End);
        ride.pass(wait);
        ride.command(Command::End);
        let ended = ride.mode() == Mode::Finished(Finish::ByRider);
        assert_eq!(ended, counts, "end after {wait} s");
    }
    // A press of the other button is not the second press.
    let (_, mut ride) = riding(&steady());
    ride.to(30.0);
    ride.command(Command::Skip);
    ride.command(Command::End);
    assert_eq!(ride.mode(), Mode::Riding);
}

#[test]
fn the_end_releases_first_and_then_stops() {
    let (fake, mut ride) = riding(&steady());
    ride.to(30.0);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(1.0);
    assert_eq!(held(&fake), Some(0), "let off within one second");
    ride.pass(0.5);
    let writes: Vec<Vec<u8>> = ride.writes().into_iter().map(|(_, bytes)| bytes).collect();
    // Half of the 150 W that stood, for a rider who may be standing; then op 05 with 0 W, and op 08 with 01, stop
    // (Fitness Machine Service 1.0, 4.16.2.9).
    assert_eq!(
        writes[writes.len() - 3..],
        [vec![5, 75, 0], vec![5, 0, 0], vec![8, 1]]
    );
    ride.pass(30.0);
    assert_eq!(ride.writes().len(), writes.len(), "and nothing after that");
}

#[test]
fn a_skip_can_be_taken_back_for_ten_seconds() {
    for (wait, back) in [(9.5, true), (10.5, false)] {
        let (_, mut ride) = riding(&session(WORK_AND_RECOVERY));
        ride.to(30.0);
        ride.command(Command::Skip);
        ride.command(Command::Skip);
        assert_eq!(ride.snapshot().lap, 1);
        assert_eq!(ride.snapshot().session_length.seconds(), 265.0);
        ride.pass(wait);
        ride.command(Command::Undo);
        let snapshot = ride.snapshot();
        let length = if back { 360.0 } else { 265.0 };
        assert_eq!(snapshot.session_length.seconds(), length, "after {wait} s");
        assert_eq!(snapshot.lap == 0, back, "after {wait} s");
        // What was ridden since stays ridden.
        assert_eq!(snapshot.ridden.seconds(), 25.0 + wait);
    }
}

#[test]
fn stretch_adds_thirty_seconds_and_cut_leaves_out_the_next_block_that_may_be() {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 150\nstretch = true\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 160\ncut = true\n\
         [[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\nwatts = 70\nstretch = false\n",
    );
    let (_, mut ride) = riding(&plan);
    ride.to(30.0);
    ride.command(Command::Stretch);
    assert_eq!(ride.snapshot().session_length.seconds(), 270.0);
    ride.command(Command::Cut);
    assert_eq!(ride.snapshot().session_length.seconds(), 210.0);
    ride.command(Command::Cut);
    assert!(ride.happened("refused"), "nothing else may be cut");
    ride.to(5.0 + 90.0 + 60.0 + 5.0);
    assert_eq!(ride.snapshot().lap, 3, "straight to the cool-down");
    ride.command(Command::Stretch);
    assert_eq!(
        ride.snapshot().session_length.seconds(),
        210.0,
        "a block that may not be longer stays as it is"
    );
    ride.to_the_end(400.0);
    assert_eq!(ride.rows().len(), 210);
    // The third block's number stands in no row.
    assert!(ride.rows().iter().all(|row| row.block != 3));
}

#[test]
fn trim_is_two_per_cent_a_press_apart_for_work_and_recovery() {
    let (fake, mut ride) = riding(&session(WORK_AND_RECOVERY));
    ride.to(60.0);
    ride.command(Command::Trim(1));
    ride.command(Command::Trim(1));
    ride.to(70.0);
    // 150 × 1.04
    assert_eq!(held(&fake), Some(156));
    ride.to(150.0);
    assert_eq!(held(&fake), Some(100), "the recovery is as it was");
    ride.command(Command::Trim(-3));
    ride.to(160.0);
    // 100 × 0.94
    assert_eq!(held(&fake), Some(94));
    ride.to(270.0);
    assert_eq!(held(&fake), Some(156), "and the work keeps its own");
    let snapshot = ride.snapshot();
    assert_eq!((snapshot.trim_work, snapshot.trim_recovery), (4, -6));
    assert_eq!(ride.rows()[60].lane.unwrap().0, 156.0);
}

#[test]
fn an_eased_block_is_a_tenth_easier_and_gives_it_back() {
    let (fake, mut ride) = riding(&session(WORK_AND_RECOVERY));
    ride.to(60.0);
    ride.command(Command::EaseBlock);
    ride.command(Command::EaseBlock);
    ride.to(70.0);
    assert_eq!(held(&fake), Some(135), "once, not twice");
    ride.to(150.0);
    assert_eq!(held(&fake), Some(100));
    ride.to(270.0);
    assert_eq!(held(&fake), Some(150));
}

#[test]
fn the_other_mode_begins_from_the_load_that_stands() {
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &steady(), &rider(), RideMode::EffortOnly);
    ride.start();
    ride.to(40.0);
    assert!(
        ride.watts().iter().all(|(_, w)| *w == 0),
        "no watts by effort"
    );
    ride.command(Command::SwitchMode);
    ride.to(55.0);
    let watts = ride.watts_in(40.0, 55.0);
    // The legs made 90 W when it was pressed: from there to 150 W over ten seconds.
    let first = watts.first().unwrap();
    assert!((88..=96).contains(&first.1), "{first:?}");
    for (when, watts) in &watts {
        let line = 90.0 + 60.0 * (when - 40.0) / 10.0;
        assert!(
            (f64::from(*watts) - line).abs() < 4.0,
            "{watts} W at {when}"
        );
    }
    assert_eq!(held(&fake), Some(150));
    ride.command(Command::SwitchMode);
    // The watts fall first, so that nobody is dropped, by half of their two seconds at least: the level that stands then
    // is one of which 90 W are known.
    ride.to(56.0);
    assert!(held(&fake).is_some_and(|watts| watts < 150));
    assert!(
        ride.watts_in(55.0, 58.0)
            .iter()
            .all(|(_, watts)| *watts >= 45)
    );
    ride.to(57.5);
    assert_eq!(held(&fake), None, "a level stands again");
}

#[test]
fn everything_is_let_go_when_the_program_closes() {
    let (fake, mut ride) = riding(&steady());
    ride.to(30.0);
    ride.command(Command::Close);
    ride.to(31.0);
    assert_eq!(held(&fake), Some(0));
    ride.to(36.0);
    assert!(ride.world.is_done());
    assert_eq!(ride.mode(), Mode::Finished(Finish::Closed));
}
