//! Rules for a client of a fitness machine, each test named by its row in the project's checklist. The rows stand on
//! the Bluetooth SIG's Fitness Machine Profile 1.0 (P) and Service 1.0.1 (S); the section is given beside each.
//! Expected values are reckoned by hand from the field tables.

use approx::assert_relative_eq;
use stillroad::gatt::fitness_machine::Training;
use stillroad::gatt::{
    FitnessMachineFeature, IndoorBikeData, MachineAdvertisement, PowerRange, RecordJoiner,
    Resistance, ResistanceRange, TrainingStatus,
};
use stillroad::units::{Bpm, BrakeRange, Level, Metres, MetresPerSecond, Rpm, Watts};

use super::octets;

fn bike(hex: &str) -> IndoorBikeData {
    IndoorBikeData::decode(&octets(hex)).unwrap()
}

/// The table of indoor bike records: Fitness Machine Service 1.0, 4.9.
#[test]
fn indoor_bike_records_of_the_table() {
    assert_eq!(
        bike("0000990c"),
        IndoorBikeData {
            speed: Some(3225),
            ..Default::default()
        }
    );
    let usual = IndoorBikeData {
        speed: Some(3225),
        cadence: Some(181),
        power: Some(253),
        ..Default::default()
    };
    assert_eq!(bike("4400990cb500fd00"), usual);
    assert_relative_eq!(usual.speed().unwrap().kmh(), 32.25, epsilon = 1e-9);
    assert_eq!(usual.cadence(), Some(Rpm(90.5)));
    assert_eq!(usual.power(), Some(Watts(253.0)));

    let with_heart = IndoorBikeData {
        heart_rate: Some(152),
        ..usual
    };
    assert_eq!(bike("4402990cb500fd0098"), with_heart);
    assert_eq!(with_heart.heart_rate(), Some(Bpm(152.0)));
    assert_eq!(bike("4402990cb500fd0000").heart_rate(), None);

    assert_eq!(
        bike("4500b500fd00"),
        IndoorBikeData {
            speed: None,
            ..usual
        }
    );
    assert!(bike("4500b500fd00").more_data());
    assert!(!usual.more_data());

    for (hex, level) in [
        ("6402990cb5000cfd0098", Resistance::Octet(12)),
        ("6402990cb5000c00fd0098", Resistance::Word(12)),
    ] {
        assert_eq!(
            bike(hex),
            IndoorBikeData {
                resistance: Some(level),
                ..with_heart
            }
        );
        assert_eq!(level.level(), Level(1.2));
    }
    let energy = bike("4401990cb500fd00d40066030e").energy.unwrap();
    assert_eq!(energy.total_kcal(), Some(212));
    assert_eq!(energy.kcal_per_hour(), Some(870));
    assert_eq!(energy.kcal_per_minute(), Some(14));
    assert_eq!(bike("4400990cb500fbff").power(), Some(Watts(-5.0)));

    for (hex, field, needed) in [
        ("4400dc05b400fa", "instantaneous power", 8),
        ("4400", "instantaneous speed", 4),
        ("44", "flags", 2),
        ("", "flags", 2),
    ] {
        let error = IndoorBikeData::decode(&octets(hex)).unwrap_err();
        assert_eq!(error.field(), field, "{hex}");
        assert!(
            error
                .to_string()
                .contains(&format!("needs {needed} octets")),
            "{error}"
        );
    }
}

#[test]
fn a_record_made_from_units_is_rounded_and_held_within_its_fields() {
    let record = IndoorBikeData::default()
        .with_speed(MetresPerSecond::from_kmh(32.25))
        .with_cadence(Rpm(90.5))
        .with_power(Watts(253.4));
    assert_eq!(record.encode(), octets("4400990cb500fd00"));
    let wild = IndoorBikeData::default()
        .with_speed(MetresPerSecond(1e9))
        .with_cadence(Rpm(-3.0))
        .with_power(Watts(f64::NAN))
        .with_distance(Metres(1e9));
    assert_eq!(wild.encode(), octets("5400ffff0000ffffff0000"));
}

/// P 4.4.7, S 4.9.1.1.
#[test]
fn c17_fields_by_flags_alone() {
    // Each flag alone, its field filled with ones, and *More Data* so that no speed comes in between.
    let sizes = [2, 2, 2, 3, 1, 2, 2, 5, 1, 1, 2, 2];
    for (bit, size) in (1..).zip(sizes) {
        let mut bytes = (1_u16 << bit | 1).to_le_bytes().to_vec();
        bytes.extend(vec![0x11; size]);
        let found = IndoorBikeData::decode(&bytes).unwrap();
        let present = [
            found.average_speed.is_some(),
            found.cadence.is_some(),
            found.average_cadence.is_some(),
            found.distance.is_some(),
            found.resistance.is_some(),
            found.power.is_some(),
            found.average_power.is_some(),
            found.energy.is_some(),
            found.heart_rate.is_some(),
            found.metabolic_equivalent.is_some(),
            found.elapsed.is_some(),
            found.remaining.is_some(),
        ];
        for (other, present) in (1..).zip(present) {
            assert_eq!(present, other == bit, "flag {bit}, field {other}");
        }
        assert_eq!(found.speed, None);
    }
}

/// P 4.4.7, S 4.19.
#[test]
fn c18_parts_are_joined_into_one_record() {
    let mut joiner = RecordJoiner::default();
    assert_eq!(joiner.put(bike("4500b500fd00")), None);
    let whole = joiner.put(bike("0000990c")).unwrap();
    assert_eq!(whole, bike("4400990cb500fd00"));
    // Nothing of it is left for the next record.
    assert_eq!(joiner.put(bike("0000990c")), Some(bike("0000990c")));
}

/// S 4.18.
#[test]
fn c19_an_unfinished_record_is_dropped_with_the_link() {
    let mut joiner = RecordJoiner::default();
    assert_eq!(joiner.put(bike("4500b500fd00")), None);
    joiner.clear();
    let after = joiner.put(bike("0000990c")).unwrap();
    assert_eq!(
        (after.cadence, after.power, after.speed),
        (None, None, Some(3225))
    );
}

/// P 4.4.7.
#[test]
fn c20_reserved_flags_and_what_follows_are_ignored() {
    assert_eq!(bike("00e0990cabcd"), bike("0000990c"));
}

/// P 4.4.7.
#[test]
fn c21_surplus_octets_are_ignored() {
    assert_eq!(bike("0000990cffff"), bike("0000990c"));
}

/// P 4.4.7, S 4.9.1.10 to 12.
#[test]
fn c22_energy_that_is_not_available_is_no_number() {
    let record = bike("0001990cffffffffff");
    let energy = record.energy.unwrap();
    assert_eq!(energy.total_kcal(), None);
    assert_eq!(energy.kcal_per_hour(), None);
    assert_eq!(energy.kcal_per_minute(), None);
    assert_eq!(record.speed, Some(3225));
}

/// P 4.4.1.
#[test]
fn c11_reserved_feature_bits_are_ignored() {
    let plain = FitnessMachineFeature::decode(&octets("0240000008000000")).unwrap();
    let noisy = FitnessMachineFeature::decode(&octets("0240feff0800feff")).unwrap();
    for feature in [plain, noisy] {
        assert!(feature.takes(FitnessMachineFeature::POWER_TARGET));
        assert!(!feature.takes(FitnessMachineFeature::SIMULATION));
        assert!(!feature.takes(FitnessMachineFeature::RESISTANCE_TARGET));
        assert!(feature.measures(FitnessMachineFeature::CADENCE));
        assert!(feature.measures(FitnessMachineFeature::POWER_MEASUREMENT));
        assert!(!feature.measures(FitnessMachineFeature::HEART_RATE));
    }
}

/// P 5.1.4, 5.2.2; S 3.1.
#[test]
fn c2_c3_c4_service_data_of_an_advertisement() {
    for (hex, available, bike) in [
        ("012000", true, true),
        ("002000", false, true),
        ("010100", true, false),
        ("012100", true, true),
        ("ffffe0", true, true),
        ("fe1fff", false, false),
        ("01200077", true, true),
    ] {
        let data = MachineAdvertisement::decode(&octets(hex)).unwrap();
        assert_eq!(data.is_available(), available, "{hex}");
        assert_eq!(data.is_indoor_bike(), bike, "{hex}");
    }
    assert_eq!(
        MachineAdvertisement::indoor_bike(true).encode(),
        octets("012000")
    );
    assert_eq!(
        MachineAdvertisement::decode(&octets("0120"))
            .unwrap_err()
            .field(),
        "fitness machine type"
    );
}

/// S 4.13, 4.14.
#[test]
fn c13_ranges_in_the_units_of_targets() {
    let power = PowerRange::decode(&octets("320090010500")).unwrap();
    assert_eq!(
        power.range(),
        BrakeRange {
            least: 50.0,
            most: 400.0,
            step: 5.0
        }
    );
    assert_eq!(
        PowerRange::decode(&octets("0000e8030100")).unwrap().range(),
        BrakeRange {
            least: 0.0,
            most: 1000.0,
            step: 1.0
        }
    );
    let words = ResistanceRange::decode(&octets("0a0040010a00")).unwrap();
    assert_eq!(
        words.range(),
        BrakeRange {
            least: 1.0,
            most: 32.0,
            step: 1.0
        }
    );
    assert_eq!(words.raw_most(), 320);
    let narrow = ResistanceRange::decode(&octets("0ac80a")).unwrap();
    assert_eq!(
        narrow.range(),
        BrakeRange {
            least: 1.0,
            most: 20.0,
            step: 1.0
        }
    );
    assert_eq!(narrow.raw_most(), 200);
    for hex in ["", "0a", "0ac8", "0a004001", "0a0040010a"] {
        assert!(ResistanceRange::decode(&octets(hex)).is_err(), "{hex}");
    }
}

/// P 4.4.8.
#[test]
fn c26_training_status_with_reserved_flags_and_values() {
    let status = TrainingStatus::decode(&octets("fc7f41")).unwrap();
    assert_eq!(status.status, Training::Other(0x7F));
    assert_eq!(status.status.words(), "unknown");
    assert_eq!(status.text, None);
    let cut = TrainingStatus::decode(&octets("020c4879")).unwrap();
    assert_eq!(cut.status, Training::WattControl);
    assert_eq!(
        (cut.text.as_deref(), cut.text_goes_on),
        (Some(&b"Hy"[..]), true)
    );
}

crate::conformance::trials![
    c17_fields_by_flags_alone,
    c18_parts_are_joined_into_one_record,
    c19_an_unfinished_record_is_dropped_with_the_link,
    c20_reserved_flags_and_what_follows_are_ignored,
    c21_surplus_octets_are_ignored,
    c22_energy_that_is_not_available_is_no_number,
    c11_reserved_feature_bits_are_ignored,
    c2_c3_c4_service_data_of_an_advertisement,
    c13_ranges_in_the_units_of_targets,
    c26_training_status_with_reserved_flags_and_values,
];
