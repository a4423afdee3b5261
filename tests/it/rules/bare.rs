//! Rides without a trainer: with nothing at all, and with sensors only.

use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::engine::{Command, Role};
use stillroad::ride::{Finish, Mode, RideMode};

use crate::world::{Ride, rider, session, tap};

const SHORT: &str = "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 5\n";

#[test]
fn a_ride_with_nothing_is_a_ride_with_empty_cells() {
    let mut ride = Ride::new(Vec::new());
    ride.choose(&session(SHORT), &rider(), RideMode::TargetPower);
    ride.to(5.0);
    assert_eq!(ride.mode(), Mode::Ready);
    ride.command(Command::Start);
    ride.to_the_end(120.0);
    assert_eq!(ride.mode(), Mode::Finished(Finish::Completed));
    let rows = ride.rows();
    assert_eq!(rows.len(), 60);
    for row in rows {
        assert_eq!((row.power, row.cadence, row.heart_rate), (None, None, None));
        assert_eq!((row.speed, row.distance, row.brake), (None, None, None));
        // Effort 5 of a threshold of 200 W is 63 %: 126 W.
        assert_eq!(row.lane.unwrap().0.round(), 126.0);
        assert_eq!(row.effort.unwrap().0, 5.0);
    }
    assert!(ride.writes().is_empty());
}

#[test]
fn a_ride_with_sensors_only_has_their_figures_and_no_others() {
    let mut ride = Ride::new(vec![tap(Practice::new(PracticeConfig::default()))]);
    ride.choose(&session(SHORT), &rider(), RideMode::TargetPower);
    ride.command(Command::Use(Role::Meter, Some(Device::Meter.id())));
    ride.command(Command::Use(Role::Heart, Some(Device::Heart.id())));
    ride.to(5.0);
    ride.command(Command::StartWithPedals);
    ride.to(20.0);
    assert_eq!(ride.mode(), Mode::Riding, "the pedals have started it");
    ride.to_the_end(200.0);
    let rows = ride.rows();
    assert_eq!(rows.len(), 60);
    for row in &rows[5..] {
        assert!(row.power.is_some() && row.cadence.is_some(), "{row:?}");
        assert!(row.heart_rate.is_some());
        // The meter counts the cranks' turns too, and nothing else was chosen for them.
        let from = (row.power_from, row.cadence_from, row.heart_rate_from);
        assert_eq!(from, (Some("meter"), Some("meter"), Some("heart")));
        assert_eq!((row.speed, row.brake), (None, None));
    }
    assert!(ride.writes().is_empty());
}
