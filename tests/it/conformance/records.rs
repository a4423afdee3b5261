//! Records of data in a ride: rows C17 to C24 and C26. Octets are put together by hand from the Fitness Machine Service
//! 1.0.1, 4.9 and 4.10 (S); P is the Profile 1.0.

use stillroad::device::Request;
use stillroad::ride::{Mode, Reading, RideMode};
use stillroad::units::{Rpm, Watts};

use super::peripheral::{BIKE_DATA, Peripheral, TRAINING_STATUS, hold, riding, riding_of, row};
use crate::gatt::octets;
use crate::world::{Ride, at, rider};

/// P 4.4.7, S 4.19: the machine sends two parts each time, the second with the speed.
#[test]
fn c17_c18_c19_parts_are_joined_and_a_part_does_not_outlive_its_link() {
    let trainer = Peripheral::trainer();
    trainer.state().report.clear();
    let mut ride = riding(&trainer);
    assert_eq!(ride.snapshot().power, Reading::NeverSeen);
    trainer.notify(&mut ride, BIKE_DATA, "4500b500fd00");
    assert_eq!(ride.snapshot().power, Reading::NeverSeen, "half a record");
    trainer.notify(&mut ride, BIKE_DATA, "0000990c");
    let now = ride.snapshot();
    assert_eq!(now.power.fresh(), Some(Watts(253.0)));
    assert_eq!(now.cadence.fresh(), Some(Rpm(90.5)));
    assert!((now.speed.fresh().unwrap().kmh() - 32.25).abs() < 1e-9);

    trainer.notify(&mut ride, BIKE_DATA, "4500b500fd00");
    trainer.drop_link(&mut ride);
    ride.pass(10.0);
    trainer.notify(&mut ride, BIKE_DATA, "0000990c");
    let now = ride.snapshot();
    assert_eq!((now.power.fresh(), now.cadence.fresh()), (None, None));
    assert!(now.speed.fresh().is_some());
}

/// P 4.4.7: flags 13 to 15 with something behind; then a known record with something behind.
#[test]
fn c20_c21_reserved_flags_and_surplus_octets_do_no_harm() {
    for hex in ["00e0990cabcd", "0000990cffff"] {
        let trainer = Peripheral::trainer();
        trainer.state().report = octets(hex);
        let ride = riding(&trainer);
        assert!(
            (ride.snapshot().speed.fresh().unwrap().kmh() - 32.25).abs() < 1e-9,
            "{hex}"
        );
        assert_eq!(row(&ride).bad_records, 0, "{hex}");
    }
}

/// P 4.4.7, S 4.9.1.10 to 12: total FFFF, an hour FFFF, a minute FF, for as long as the ride lasts.
#[test]
fn c22_energy_that_is_not_available_disturbs_nothing() {
    let trainer = Peripheral::trainer();
    trainer.state().report = octets("4401990caa006400ffffffffff");
    let ride = riding(&trainer);
    assert_eq!(row(&ride).bad_records, 0);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert_eq!(ride.watts().last().unwrap().1, 150);
    assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0);
}

/// S 4.9.1, 4.18. A figure is fresh for three seconds; the rest are the program's own rules.
#[test]
fn c23_what_is_not_heard_is_old_and_a_gap_stays_a_gap() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    trainer.state().report.clear();
    ride.pass(5.0);
    let stale = ride.snapshot();
    assert!(
        matches!(stale.power, Reading::Stale(_)),
        "{:?}",
        stale.power
    );
    assert_eq!(row(&ride).live, "");
    trainer.state().report = octets("4400990caa006400");
    ride.pass(5.0);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");

    let lost = ride.now();
    trainer.state().away = true;
    trainer.drop_link(&mut ride);
    ride.pass(20.0);
    trainer.state().away = false;
    ride.pass(40.0);
    let rows = ride.rows();
    let first = (lost.0 / 1_000_000 - 5) as usize;
    assert!(rows[first - 2].power.is_some());
    assert!(
        rows[first + 1..first + 20]
            .iter()
            .all(|row| row.power.is_none())
    );
    assert!(rows.last().unwrap().power.is_some());
    let seconds: Vec<u64> = rows.iter().map(|row| row.ridden_s).collect();
    assert_eq!(
        seconds,
        (1..=rows.len() as u64).collect::<Vec<_>>(),
        "each second once"
    );
}

/// S 4.2, 4.16.2.8: elapsed time (flag 11) that jumps and runs back.
#[test]
fn c24_the_machines_elapsed_time_does_not_move_the_rides_clock() {
    let trainer = Peripheral::trainer();
    let mut ride = riding_of(&trainer, &hold(), &rider(), RideMode::TargetPower);
    for (second, elapsed) in [
        (10.0, "0a00"),
        (20.0, "ffff"),
        (30.0, "0000"),
        (40.0, "1027"),
    ] {
        trainer.state().report = octets(&format!("4408990caa006400{elapsed}"));
        ride.to(5.0 + second);
        let now = ride.snapshot();
        assert_eq!(
            (now.session.seconds(), now.ridden.seconds()),
            (second, second)
        );
    }
    assert_eq!(ride.rows().len(), 40);
    assert_eq!(row(&ride).bad_records, 0);
}

/// P 4.4.8: reserved flags, a reserved value, surplus octets, a value of none.
#[test]
fn c26_training_status_of_any_kind_disturbs_nothing() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    let before = ride.writes();
    for hex in [
        "fc7f41",
        "0010",
        "00ff",
        "010c526964",
        "000d414243",
        "",
        "00",
    ] {
        trainer.notify(&mut ride, TRAINING_STATUS, hex);
    }
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(ride.writes(), before);
    ride.to(60.0);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert_eq!(ride.rows().len(), (at(60.0).0 / 1_000_000 - 5) as usize);
}

/// P 4.4.8, S 4.10.1.1: a text of sixty octets comes cut off, is read, and shown whole; what it could do to a screen goes.
#[test]
fn c27_a_long_training_status_text_is_read_and_shown_whole() {
    const TEXT: &str = "Warming up: ride ten minutes before a calibration, please. ";
    let hex: String = TEXT.bytes().map(|octet| format!("{octet:02x}")).collect();
    assert_eq!(TEXT.len() + 1, 60);
    // A bell in it, which no screen should ring.
    let whole = format!("020c{hex}07");
    let trainer = Peripheral::trainer().reading(TRAINING_STATUS, &whole);
    let mut ride = riding(&trainer);
    let from = ride.now();
    let reads = |ride: &Ride| {
        let asked = ride.requests().into_iter().filter(|(at, _)| *at >= from);
        asked
            .filter(|(_, what)| matches!(what, Request::Read(..)))
            .count()
    };
    // Eighteen octets of it fit into a notification (MTU of 23).
    trainer.notify(&mut ride, TRAINING_STATUS, &whole[..40]);
    ride.pass(1.0);
    assert_eq!(reads(&ride), 1);
    assert!(ride.notice().contains(TEXT.trim()), "{}", ride.notice());
    assert!(!ride.notice().contains('\u{7}'));
    let kept = ride.events();
    let kept = kept.iter().filter(|event| event.what == "trainer-says");
    assert!(
        kept.clone().count() == 1 && kept.clone().all(|event| event.detail.contains(TEXT.trim()))
    );
    // A short one is whole as it comes; the same again, or none, is nothing new.
    for (hex, count) in [
        ("010c526964", 2),
        ("010c526964", 2),
        ("000c", 2),
        ("010c", 2),
    ] {
        trainer.notify(&mut ride, TRAINING_STATUS, hex);
        ride.pass(0.5);
        let kept = ride.events();
        let kept = kept.iter().filter(|event| event.what == "trainer-says");
        assert_eq!(kept.count(), count, "{hex}");
    }
    assert_eq!(reads(&ride), 1);
    // One that always has more to say is not asked for ever.
    for _ in 0..100 {
        trainer.notify(&mut ride, TRAINING_STATUS, &whole[..40]);
        ride.pass(0.1);
    }
    assert!(reads(&ride) <= 20, "{}", reads(&ride));
    assert_eq!(ride.mode(), Mode::Riding);
}

crate::conformance::trials![
    c17_c18_c19_parts_are_joined_and_a_part_does_not_outlive_its_link,
    c20_c21_reserved_flags_and_surplus_octets_do_no_harm,
    c22_energy_that_is_not_available_disturbs_nothing,
    c23_what_is_not_heard_is_old_and_a_gap_stays_a_gap,
    c24_the_machines_elapsed_time_does_not_move_the_rides_clock,
    c26_training_status_of_any_kind_disturbs_nothing,
    c27_a_long_training_status_text_is_read_and_shown_whole,
];
