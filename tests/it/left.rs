//! What the end of a ride says: completeness, pauses, ratings, and how the brake was left.

use stillroad::engine::Command;
use stillroad::engine::input::{Input, Recorder};
use stillroad::engine::snapshot::{BrakeLeft, Question};
use stillroad::ride::{Finish, Mode, PauseCause, RideMode};
use stillroad::time::Span;
use stillroad::units::Effort;

use crate::world::{Fake, Knobs, Ride, rider, session};

fn on(fake: &Fake) -> Ride {
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"3:20\"\neffort = 5\ncadence = [80, 90]\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:40\"\neffort = 3\n",
    );
    let mut ride = Ride::on(fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride
}

#[test]
fn a_ride_to_its_end_is_counted_whole() {
    let fake = Fake::new(Knobs::default());
    let mut ride = on(&fake);
    ride.to(65.0);
    assert_eq!(ride.snapshot().summary, None, "not before it is over");
    // At ridden second 60 the reports stop for 12.5 s; a reading counts as fresh for three.
    fake.turn(|knobs| knobs.mute = true);
    ride.pass(12.5);
    fake.turn(|knobs| knobs.mute = false);
    ride.to(100.0);
    ride.command(Command::Pause);
    ride.pass(30.0);
    ride.command(Command::Resume);
    ride.input(Input::Recorder(Recorder::Dropped(7)));
    ride.to(240.0);
    assert_eq!(ride.snapshot().question, Some(Question::RateBlock(0)));
    ride.command(Command::Rate(Effort(6.0)));
    ride.to_the_end(500.0);
    ride.command(Command::Rate(Effort(5.0)));
    let snapshot = ride.snapshot();
    assert_eq!(snapshot.mode, Mode::Finished(Finish::Completed));
    let told = snapshot.summary.clone().unwrap();
    assert_eq!(told.rows, 300);
    assert_eq!(told.rows, ride.rows().len() as u64);
    assert_eq!(told.in_hand, 300);
    assert_eq!(told.lost, 7);
    assert_eq!((told.power.gaps, told.cadence.gaps), (1, 1));
    assert!((8..=10).contains(&told.power.longest), "{:?}", told.power);
    assert_eq!(told.power.seconds + told.power.longest, 300);
    assert_eq!(told.heart_rate.seconds, 0);
    // The means are those of the rows that were written.
    let rows = ride.rows();
    let mean = |of: &dyn Fn(&stillroad::record::Row) -> Option<f64>| {
        let values: Vec<f64> = rows.iter().filter_map(of).collect();
        values.iter().sum::<f64>() / values.len() as f64
    };
    let power = mean(&|row| row.power.map(|watts| watts.0));
    assert!((told.power.mean.unwrap() - power).abs() < 1e-9);
    let cadence = mean(&|row| row.cadence.map(|rpm| rpm.0));
    assert!((told.cadence.mean.unwrap() - cadence).abs() < 1e-9);
    assert_eq!(told.pauses.len(), 1);
    assert_eq!(told.pauses[0].cause, PauseCause::Rider);
    assert_eq!(told.pauses[0].count, 1);
    assert_eq!(told.pauses[0].stood, Span::from_seconds(30));
    assert_eq!(told.ratings, [(0, Some(Effort(6.0)))]);
    assert_eq!(told.session_rating, Some(Effort(5.0)));
    assert_eq!(told.brake_left, BrakeLeft::Released);
    assert_eq!(told.ink.len(), 300);
    assert_eq!(told.ink_step, Span::from_seconds(1));
    for (point, row) in told.ink.iter().zip(&rows) {
        assert_eq!(point.power, row.power);
        assert_eq!(point.cadence, row.cadence);
        assert_eq!(point.lane, row.lane);
        assert_eq!(point.at, Span::from_seconds_f64(row.ridden_s as f64 - 0.5));
    }
}

#[test]
fn a_trainer_lost_under_load_may_hold_it() {
    let fake = Fake::new(Knobs::default());
    let mut ride = on(&fake);
    ride.to(40.0);
    assert!(ride.snapshot().brake.is_some());
    fake.turn(|knobs| knobs.out_of_reach = true);
    fake.drop_link(ride.now());
    ride.pass(10.0);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(1.0);
    let told = ride.snapshot().summary.clone().unwrap();
    assert_eq!(told.brake_left, BrakeLeft::MayHold);
    assert!((34..=36).contains(&told.in_hand), "{}", told.in_hand);
    assert_eq!(told.rows, 45);
    // It comes back while the window shows the end: its first word is the release, and then it is let off.
    fake.turn(|knobs| knobs.out_of_reach = false);
    ride.pass(40.0);
    let told = ride.snapshot().summary.clone().unwrap();
    assert_eq!(told.brake_left, BrakeLeft::Released);
}

#[test]
fn a_trainer_that_stays_silent_at_the_end_may_hold_its_load() {
    let fake = Fake::new(Knobs::default());
    let mut ride = on(&fake);
    ride.to(40.0);
    fake.turn(|knobs| knobs.silent = true);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(0.2);
    let left = |ride: &Ride| ride.snapshot().summary.clone().unwrap().brake_left;
    assert_eq!(left(&ride), BrakeLeft::LettingOff);
    ride.pass(5.0);
    assert_eq!(left(&ride), BrakeLeft::MayHold);
}

#[test]
fn without_a_brake_nothing_is_said_of_one() {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"0:30\"\neffort = 5\n");
    let mut ride = Ride::new(Vec::new());
    ride.choose(&plan, &rider(), RideMode::EffortOnly);
    ride.start();
    ride.to_the_end(60.0);
    let told = ride.snapshot().summary.clone().unwrap();
    assert_eq!(told.brake_left, BrakeLeft::Never);
    assert_eq!((told.rows, told.in_hand), (30, 0));
    assert_eq!(told.power.mean, None);
    assert!(told.ink.iter().all(|point| point.power.is_none()));
    // The next choice takes the last ride's figures away.
    ride.choose(&plan, &rider(), RideMode::EffortOnly);
    assert_eq!(ride.snapshot().summary, None);
}
