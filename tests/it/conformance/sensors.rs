//! Straps, meters and speed sensors through the whole program: rows C74, C75, C77, C79 to C81 and C83. Octets are put together
//! by hand from the published definitions of the characteristics; those of the strap are from memory.

use stillroad::engine::Role;
use stillroad::ride::Reading;
use stillroad::units::{Bpm, Rpm, Watts};

use super::peripheral::{Peripheral, row, using};
use crate::world::Ride;

const HEART_RATE: u16 = 0x2A37;
const POWER: u16 = 0x2A63;
const SPEED_AND_CADENCE: u16 = 0x2A5B;

/// The measurement alone: no control point, no feature, no location.
fn device(service: u16, measurement: u16, role: Role) -> (Peripheral, Ride) {
    let device = Peripheral::having(&[(service, measurement)]);
    let ride = using(&device, role);
    (device, ride)
}

/// 72 in an octet, 300 in a word, 72 with the reserved bits 5 to 7; then no contact, and contact not supported.
#[test]
fn c74_c75_c77_a_heart_rate_is_shown_as_it_is_sent_and_not_without_contact() {
    let (strap, mut ride) = device(0x180D, HEART_RATE, Role::Heart);
    for (hex, shown) in [
        ("0048", Some(72.0)),
        ("012c01", Some(300.0)),
        ("e048", Some(72.0)),
        ("043d", None),
        ("003d", Some(61.0)),
        // Intervals: none, one, nine, and an octet that belongs to none.
        ("103d", Some(61.0)),
        ("103dae03", Some(61.0)),
        ("103dae03ae03ae03ae03ae03ae03ae03ae03ae03", Some(61.0)),
        ("103dae0355", Some(61.0)),
    ] {
        strap.notify(&mut ride, HEART_RATE, hex);
        assert_eq!(ride.snapshot().heart_rate.fresh(), shown.map(Bpm), "{hex}");
    }
    // Its energy's control point is not there, and nothing is written.
    assert_eq!(ride.writes(), []);
}

/// Wheel and crank (flags 03): the wheel's count is 32 bits wide, the crank's 16, both times 16 bits of 1/1024 s. Everything
/// wraps between the two records, which are a second apart: one turn of the crank is 60 rpm, four of the wheel, 2.105 m round,
/// are 8.42 m/s.
#[test]
fn c79_c81_counts_that_wrap_give_no_spike_and_no_control_point_is_needed() {
    let (sensor, mut ride) = device(0x1816, SPEED_AND_CADENCE, Role::Cadence);
    sensor.notify(&mut ride, SPEED_AND_CADENCE, "03fdfffffffffffffffffe");
    assert_eq!(ride.snapshot().cadence, Reading::NeverSeen, "a baseline");
    ride.pass(1.0);
    // Wheel FFFFFFFD + 4 = 1, its time FFFF + 1024 = 03FF; crank FFFF + 1 = 0, its time FEFF + 1024 = 02FF.
    sensor.notify(&mut ride, SPEED_AND_CADENCE, "0301000000ff030000ff02");
    let now = ride.snapshot();
    assert_eq!(now.cadence.fresh(), Some(Rpm(60.0)));
    let speed = now.speed.fresh().unwrap().0;
    assert!((speed - 8.42).abs() < 0.01, "{speed}");
    assert_eq!(ride.writes(), []);
}

/// The wheel's count three lower, at nought, and on a new link.
#[test]
fn c80_a_wheel_count_that_falls_is_no_speed() {
    let (sensor, mut ride) = device(0x1816, SPEED_AND_CADENCE, Role::Cadence);
    // Wheel alone (flags 01): 1000, then 1004 a second later, 1001 another, nought another; times in 1/1024 s.
    let mut greatest = 0.0_f64;
    for hex in [
        "01e80300000004",
        "01ec0300000008",
        "01e90300000010",
        "01000000000014",
        "01040000000018",
    ] {
        sensor.notify(&mut ride, SPEED_AND_CADENCE, hex);
        if let Some(speed) = ride.snapshot().speed.fresh() {
            greatest = greatest.max(speed.0);
        }
        ride.pass(1.0);
    }
    assert!(
        (8.0..9.0).contains(&greatest),
        "{greatest} m/s: four turns a second, and no spike"
    );
    sensor.drop_link(&mut ride);
    ride.pass(5.0);
    sensor.notify(&mut ride, SPEED_AND_CADENCE, "0100e40b540000");
    assert_eq!(
        ride.snapshot().speed.fresh(),
        None,
        "the first record of a link is a baseline"
    );
    assert_eq!(row(&ride).bad_records, 0);
}

/// Flags 13 to 15 set and an octet behind.
#[test]
fn c83_a_meters_power_survives_reserved_flags_and_surplus_octets() {
    let (meter, mut ride) = device(0x1818, POWER, Role::Meter);
    meter.notify(&mut ride, POWER, "00e0fd0077");
    assert_eq!(ride.snapshot().power.fresh(), Some(Watts(253.0)));
    assert_eq!(row(&ride).bad_records, 0);
}

crate::conformance::trials![
    c74_c75_c77_a_heart_rate_is_shown_as_it_is_sent_and_not_without_contact,
    c79_c81_counts_that_wrap_give_no_spike_and_no_control_point_is_needed,
    c80_a_wheel_count_that_falls_is_no_speed,
    c83_a_meters_power_survives_reserved_flags_and_surplus_octets,
];
