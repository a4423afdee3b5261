//! Setting up a link: rows C13, C14, C16, C25, C28, C56 and C64. Sections are those of the Fitness Machine Profile 1.0 (P)
//! and Service 1.0.1 (S).

use stillroad::engine::Role;
use stillroad::ride::RideMode;

use super::peripheral::{
    LEVEL_RANGE, POWER_RANGE, Peripheral, STATUS, TRAINING_STATUS, asked, asked_since, riding,
    riding_of, row, using, writes_since,
};
use crate::world::{at, session};

/// Everything in its order: values, then subscriptions, the control point's last, and only then op 00.
const SET_UP: [&str; 9] = [
    "connect",
    "read 2acc",
    "read 2ad8",
    "read 2ad6",
    "subscribe 2ad3",
    "subscribe 2ada",
    "subscribe 2ad2",
    "subscribe 2ad9",
    "write 00",
];

/// P 4.4.7, 4.4.8, 4.4.14, 4.4.15.
#[test]
fn c16_c25_c28_c56_everything_is_subscribed_to_before_the_first_write() {
    let ride = using(&Peripheral::trainer(), Role::Trainer);
    assert_eq!(asked(&ride)[..9], SET_UP);
    // The subscription is acknowledged before the write leaves: the answer takes 20 ms.
    let at_of = |word: &str| {
        let all = ride.requests();
        let place = asked(&ride).iter().position(|each| each == word).unwrap();
        all[place].0
    };
    let waited = at_of("write 00").since(at_of("subscribe 2ad9"));
    assert!(waited.seconds() >= 0.02, "{waited:?}");
    // What is not there is not asked for, and nothing is the worse for it.
    let bare = Peripheral::trainer()
        .without(TRAINING_STATUS)
        .without(STATUS);
    let ride = riding(&bare);
    let asked = asked(&ride);
    assert!(
        !asked
            .iter()
            .any(|word| word.ends_with("2ad3") || word.ends_with("2ada"))
    );
    assert_eq!(asked.last().unwrap(), "write 059600");
}

/// P 4.4, and the Core's rule that a machine without a bond forgets its subscriptions.
#[test]
fn c16_c64_a_new_link_is_set_up_as_the_first_was() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    let from = ride.now();
    trainer.drop_link(&mut ride);
    ride.pass(30.0);
    let again = asked_since(&ride, from);
    assert_eq!(again[..9], SET_UP);
    // Then the lowest load, and the target of before in the end.
    let writes = writes_since(&ride, from);
    assert_eq!(writes[..3], ["00", "07", "050000"]);
    assert_eq!(writes.last().unwrap(), "059600");
}

/// P 4.4.9 to 13: 50 to 400 W by 5. Asked for 37, 203 and 900 W.
#[test]
fn c13_targets_stay_within_the_range_and_on_its_step() {
    let trainer = Peripheral::trainer().reading(POWER_RANGE, "320090010500");
    let plan = session(
        "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 37\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 203\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 900\n",
    );
    let strong =
        "name = \"Trial\"\nthreshold = 350\npower_cap = 1000\nsprint_cap = 1200\nw_prime = 20000\n";
    let strong = stillroad::rider::read(strong).0.unwrap();
    let mut ride = riding_of(&trainer, &plan, &strong, RideMode::TargetPower);
    let standing = |ride: &crate::world::Ride, second: f64| {
        let until = ride
            .watts()
            .into_iter()
            .rfind(|(moment, _)| *moment <= at(second));
        until.map(|(_, watts)| watts)
    };
    ride.to(185.0);
    // Seconds 60, 120 and 180 of the ride, shortly before each block's end.
    assert_eq!(standing(&ride, 62.0), Some(50));
    // Between two steps the lower one: a cap may not be exceeded by rounding.
    assert_eq!(standing(&ride, 122.0), Some(200));
    assert_eq!(standing(&ride, 184.0), Some(400));
    for (_, watts) in ride.watts() {
        assert!((50..=400).contains(&watts) && watts % 5 == 0, "{watts} W");
    }
}

/// S table 4.1: target bits 2, 3 and 13 are set, and a range is missing. Without that of power, power is still taken, since
/// its bit promises it, under the rider's caps alone; without that of levels, levels are not used.
#[test]
fn c14_a_missing_range_is_said_and_the_other_targets_work() {
    let ride = using(&Peripheral::trainer().without(POWER_RANGE), Role::Trainer);
    assert!(
        ride.notice().contains("does not say which powers"),
        "{}",
        ride.notice()
    );
    let ride = riding(&Peripheral::trainer().without(POWER_RANGE));
    assert!(ride.happened("trainer-unclear"));
    assert_eq!(ride.watts().last().unwrap().1, 150);

    let ride = using(&Peripheral::trainer().without(LEVEL_RANGE), Role::Trainer);
    assert!(
        ride.notice()
            .contains("does not say which resistance levels"),
        "{}",
        ride.notice()
    );
    let ride = riding(&Peripheral::trainer().without(LEVEL_RANGE));
    assert_eq!(ride.watts().last().unwrap().1, 150);
    assert!(
        !writes_since(&ride, at(0.0))
            .iter()
            .any(|write| write.starts_with("04"))
    );
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert!(!riding(&Peripheral::trainer()).happened("trainer-unclear"));
}

crate::conformance::trials![
    c16_c25_c28_c56_everything_is_subscribed_to_before_the_first_write,
    c16_c64_a_new_link_is_set_up_as_the_first_was,
    c13_targets_stay_within_the_range_and_on_its_step,
    c14_a_missing_range_is_said_and_the_other_targets_work,
];
