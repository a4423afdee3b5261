//! The slope of a three-minute test, settled while the legs still turn slowly.

use std::sync::Arc;

use stillroad::plan;
use stillroad::ride::RideMode;

use crate::world::{Fake, Knobs, Ride};

/// Where the three minutes begin in their session, and where the ride's second nought lies, seconds.
const STORM: f64 = 960.0;
const START: f64 = 5.0;

#[test]
fn the_cap_bounds_it_at_the_speed_of_the_test() {
    let (_, text) = plan::builtin()
        .iter()
        .find(|(key, _)| *key == "three-minutes")
        .unwrap();
    let plan = Arc::new(plan::read(text).plan.unwrap());
    let text =
        "name = \"Trial\"\nthreshold = 240\npower_cap = 240\nsprint_cap = 240\nw_prime = 20000\n";
    let rider = stillroad::rider::read(text).0.unwrap();
    // Slopes alone, and 6 m/s.
    let fake = Fake::new(Knobs {
        offers_power: false,
        power_range: None,
        offers_levels: false,
        slopes: true,
        cadence: 60.0,
        ..Knobs::default()
    });
    let mut ride = Ride::on(&fake, &plan, &rider, RideMode::TargetPower);
    ride.start();
    ride.to(START + STORM + 10.0);
    // Op 11, wind, then the slope in hundredths of a per cent.
    let writes = ride.writes();
    let (_, last) = writes.iter().rfind(|(_, bytes)| bytes[0] == 0x11).unwrap();
    let slope = f64::from(i16::from_le_bytes([last[3], last[4]])) / 100.0;
    // Martin et al. 1998: 85 kg, Crr .004, ρCdA .51. 240 W at 5.5 m a turn and 90 rpm, 8.25 m/s, are 29.091 N; less
    // 17.356 N of air and 3.334 N of rolling 8.401 N are left for the slope of 833.565 N: 1.008 %. Critical power, 252 W,
    // would be 1.18 %.
    assert!((0.9..=1.01).contains(&slope), "{slope}");
}
