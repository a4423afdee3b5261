//! Rules for a client of heart straps, power meters and speed and cadence sensors, each test named by its row in the
//! project's checklist (Bluetooth SIG, Heart Rate Service 1.0 (H), and the definitions of Cycling Power (CP, D) and of
//! Speed and Cadence (CS)). Expected values are reckoned by hand from the field tables.

use approx::assert_relative_eq;
use stillroad::gatt::heart_rate::Contact;
use stillroad::gatt::{
    CyclingPowerFeature, CyclingPowerMeasurement, HeartRateMeasurement, SpeedAndCadenceMeasurement,
};
use stillroad::units::{Bpm, Watts};

use super::octets;

fn heart(hex: &str) -> HeartRateMeasurement {
    HeartRateMeasurement::decode(&octets(hex)).unwrap()
}

/// H 3.1.
#[test]
fn c74_heart_rate_in_both_widths() {
    for (hex, rate) in [("0048", 72), ("012c01", 300), ("e048", 72)] {
        assert_eq!(heart(hex).rate, rate, "{hex}");
        assert_eq!(heart(hex).shown(), Some(Bpm(f64::from(rate))), "{hex}");
    }
    assert_eq!(
        HeartRateMeasurement::of(Bpm(151.6)).encode(),
        octets("0698")
    );
}

/// H 3.1.1.1.
#[test]
fn c75_contact() {
    assert_eq!(heart("043d").contact, Contact::Lost);
    assert_eq!(heart("043d").shown(), None);
    assert_eq!(heart("063d").contact, Contact::Held);
    assert_eq!(heart("063d").shown(), Some(Bpm(61.0)));
    for hex in ["003d", "023d"] {
        assert_eq!(heart(hex).contact, Contact::NotSupported);
        assert_eq!(heart(hex).shown(), Some(Bpm(61.0)));
    }
    assert_eq!(heart("0000").shown(), None);
}

/// H 3.1.1.3.
#[test]
fn c76_energy_only_where_it_is_sent() {
    assert_eq!(heart("083d2c01").energy, Some(300));
    assert_eq!(heart("003d").energy, None);
    assert_eq!(heart("083dffff").energy, Some(u16::MAX));
}

/// H 3.1.1.4.
#[test]
fn c77_intervals_oldest_first_none_to_many() {
    let record = heart("169894019501");
    assert_eq!(record.rate, 152);
    assert_eq!(record.intervals, [404, 405]);
    let milliseconds: Vec<f64> = record.intervals_ms().collect();
    // 404 / 1024 s and 405 / 1024 s.
    assert_relative_eq!(milliseconds[0], 394.531_25);
    assert_relative_eq!(milliseconds[1], 395.507_812_5);
    assert!(heart("1098").intervals.is_empty());
    assert_eq!(heart("10989401").intervals, [404]);
    assert_eq!(heart("1098940195").intervals, [404]);
    assert_eq!(
        heart(&format!("1098{}", "9401".repeat(9))).intervals,
        [404; 9]
    );
}

/// D: the balance is in half per cents, and of the left pedal only where bit 1 says so.
#[test]
fn c82_balance() {
    let power = |hex: &str| CyclingPowerMeasurement::decode(&octets(hex)).unwrap();
    assert_eq!(power("0300fd0065").left_share_percent(), Some(50.5));
    assert_eq!(power("0100fd0065").balance, Some(101));
    assert_eq!(power("0100fd0065").left_share_percent(), None);
}

/// CP 4.
#[test]
fn c83_power_reserved_flags_and_surplus_octets() {
    let power = CyclingPowerMeasurement::decode(&octets("00e0fd0077")).unwrap();
    assert_eq!(power, CyclingPowerMeasurement::of(Watts(253.0)));
    let crank = CyclingPowerMeasurement::decode(&octets("2000fd0031d43075")).unwrap();
    assert_eq!(crank.power(), Watts(253.0));
    let count = crank.crank.unwrap();
    assert_eq!((count.revolutions, count.time), (54321, 30000));
}

/// D.
#[test]
fn c84_offset_compensation_only_with_its_feature_bit() {
    let feature = |hex: &str| CyclingPowerFeature::decode(&octets(hex)).unwrap();
    assert!(feature("00020000").has(CyclingPowerFeature::OFFSET_COMPENSATION));
    assert!(!feature("fffdffff").has(CyclingPowerFeature::OFFSET_COMPENSATION));
}

/// CS 3.1.
#[test]
fn speed_and_cadence_of_the_table() {
    let record = SpeedAndCadenceMeasurement::decode(&octets("0340e20100409c31d43075")).unwrap();
    let (wheel, crank) = (record.wheel.unwrap(), record.crank.unwrap());
    assert_eq!((wheel.revolutions, wheel.time), (123_456, 40_000));
    assert_eq!((crank.revolutions, crank.time), (54_321, 30_000));
    assert_eq!(record.encode(), octets("0340e20100409c31d43075"));
}

crate::conformance::trials![
    c74_heart_rate_in_both_widths,
    c75_contact,
    c76_energy_only_where_it_is_sent,
    c77_intervals_oldest_first_none_to_many,
    c82_balance,
    c83_power_reserved_flags_and_surplus_octets,
    c84_offset_compensation_only_with_its_feature_bit,
];
