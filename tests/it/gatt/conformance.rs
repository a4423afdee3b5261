//! Rules for a client, each test named by its row in the project's checklist. The rows stand on the Bluetooth SIG's
//! Fitness Machine Profile 1.0 and Service 1.0.1, Heart Rate Service 1.0, and the definitions of Cycling Power and of
//! Speed and Cadence; the section is given beside each. Expected values are reckoned by hand from the field tables.

use approx::assert_relative_eq;
use stillroad::gatt::control_point::{
    Halt, Request, Response, ResultCode, Simulation, SpinDown, SpinDownSpeeds,
};
use stillroad::gatt::fitness_machine::Training;
use stillroad::gatt::heart_rate::Contact;
use stillroad::gatt::status::SpinDownStatus;
use stillroad::gatt::{
    CyclingPowerFeature, CyclingPowerMeasurement, FitnessMachineFeature, HeartRateMeasurement,
    IndoorBikeData, MachineAdvertisement, PowerRange, RecordJoiner, Resistance, ResistanceRange,
    SpeedAndCadenceMeasurement, Status, TrainingStatus,
};
use stillroad::units::{
    Bpm, BrakeRange, BrakeTarget, Grade, Level, Metres, MetresPerSecond, Rpm, Watts,
};

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

/// S 4.16.2.22.
#[test]
fn c46_only_result_01_is_success() {
    for code in 0..=u8::MAX {
        let response = Response::decode(&[0x80, 0x05, code]).unwrap();
        assert_eq!(
            response.result == ResultCode::Success,
            code == 1,
            "{code:02X}"
        );
        assert_eq!(response.op, 0x05);
    }
    for hex in ["", "80", "8005"] {
        assert!(Response::decode(&octets(hex)).is_err(), "{hex}");
    }
    let error = Response::decode(&octets("050501")).unwrap_err();
    assert_eq!(error.field(), "response code");
    assert!(error.to_string().contains("0x05"), "{error}");
}

/// P 4.4.14.2, S 4.16.
#[test]
fn c48_parameters_have_their_exact_sizes() {
    for (request, hex) in [
        (Request::RequestControl, "00"),
        (Request::Reset, "01"),
        (Request::Speed(2500), "02c409"),
        (Request::Inclination(-15), "03f1ff"),
        (Request::Resistance(Resistance::octet(Level(12.0))), "0478"),
        (Request::Resistance(Resistance::word(Level(32.0))), "044001"),
        (Request::power(Watts(250.0)), "05fa00"),
        (Request::HeartRate(150), "0696"),
        (Request::StartOrResume, "07"),
        (Request::StopOrPause(Halt::Stop), "0801"),
        (Request::StopOrPause(Halt::Pause), "0802"),
        (Request::WheelCircumference(21000), "120852"),
        (Request::SpinDown(SpinDown::Start), "1301"),
        (Request::SpinDown(SpinDown::Ignore), "1302"),
        (Request::Cadence(180), "14b400"),
    ] {
        assert_eq!(request.encode(), octets(hex), "{request:?}");
        assert_eq!(Request::decode(&octets(hex)), Ok(request));
    }
    for hex in [
        "",
        "02c4",
        "03f1",
        "04",
        "05fa",
        "06",
        "08",
        "1100000000ff",
        "12",
        "13",
        "14b4",
    ] {
        // 11 with six octets lacks its last parameter.
        assert!(Request::decode(&octets(hex)).is_err(), "{hex}");
    }
}

/// P 4.4.14.2.18, S T4.20.
#[test]
fn c52_simulation_has_all_four_parameters() {
    let climb = Request::target(BrakeTarget::Slope(Grade(5.5)), false);
    assert_eq!(climb.encode(), octets("11000026022833"));
    let fall = Request::target(BrakeTarget::Slope(Grade(-3.25)), false);
    assert_eq!(fall.encode(), octets("110000bbfe2833"));
    let Ok(Request::Simulation(road)) = Request::decode(&octets("11e803bbfe2833")) else {
        panic!("not a simulation");
    };
    assert_eq!(
        road,
        Simulation {
            wind: 1000,
            grade: -325,
            rolling: 40,
            drag: 51
        }
    );
    assert_eq!(road.grade(), Grade(-3.25));
}

/// P 4.4.14.2.20, S T4.22.
#[test]
fn c53_spin_down_speeds_low_first() {
    let response = Response::decode(&octets("80130120033c0f")).unwrap();
    let speeds = SpinDownSpeeds {
        low: 800,
        high: 3900,
    };
    assert_eq!(response.spin_down_speeds(), Some(speeds));
    assert_eq!(
        Response::spin_down(speeds).encode(),
        octets("80130120033c0f")
    );
    for (hex, status) in [
        ("1404", SpinDownStatus::StopPedalling),
        ("1402", SpinDownStatus::Success),
        ("1403", SpinDownStatus::Error),
    ] {
        assert_eq!(Status::decode(&octets(hex)), Ok(Status::SpinDown(status)));
    }
}

/// S A.3.3.
#[test]
fn c54_ignoring_a_spin_down_succeeds_without_parameters() {
    let response = Response::decode(&octets("801301")).unwrap();
    assert_eq!(response.result, ResultCode::Success);
    assert_eq!(response.spin_down_speeds(), None);
    assert_eq!(
        Response::decode(&octets("801301200300"))
            .unwrap()
            .spin_down_speeds(),
        None
    );
}

/// P 4.4.14.2.20, S T4.26 and T4.27.
#[test]
fn c55_the_spin_down_request_is_status_14_and_13_is_the_wheel() {
    assert_eq!(
        Status::decode(&octets("1401")),
        Ok(Status::SpinDown(SpinDownStatus::Requested))
    );
    assert_eq!(
        Status::decode(&octets("133452")),
        Ok(Status::WheelCircumference(0x5234))
    );
}

/// P 4.4.15, S T4.26.
#[test]
fn c57_every_status_with_its_parameters() {
    let road = Simulation {
        wind: 0,
        grade: 550,
        rolling: 40,
        drag: 51,
    };
    for (hex, status) in [
        ("01", Status::Reset),
        ("0201", Status::StoppedOrPaused(Halt::Stop)),
        ("0202", Status::StoppedOrPaused(Halt::Pause)),
        ("03", Status::StoppedBySafetyKey),
        ("04", Status::StartedOrResumed),
        ("05c409", Status::Speed(2500)),
        ("06f1ff", Status::Inclination(-15)),
        ("077800", Status::Resistance(Resistance::Word(120))),
        ("0778", Status::Resistance(Resistance::Octet(120))),
        ("08c800", Status::Power(200)),
        ("0996", Status::HeartRate(150)),
        ("0a2c01", Status::Energy(300)),
        ("0b2c01", Status::Steps(300)),
        ("0c2c01", Status::Strides(300)),
        ("0da08601", Status::Distance(100_000)),
        ("0e0807", Status::TrainingTime(1800)),
        ("0f01000200", Status::TwoZones([1, 2])),
        ("10010002000300", Status::ThreeZones([1, 2, 3])),
        ("1101000200030004000500", Status::FiveZones([1, 2, 3, 4, 5])),
        ("12000026022833", Status::Simulation(road)),
        ("130852", Status::WheelCircumference(21000)),
        ("1402", Status::SpinDown(SpinDownStatus::Success)),
        ("15b400", Status::Cadence(180)),
        ("ff", Status::ControlLost),
    ] {
        assert_eq!(Status::decode(&octets(hex)), Ok(status.clone()), "{hex}");
        assert_eq!(status.encode(), octets(hex));
    }
    // A time after the spin-down's success (S A.3.1) is surplus.
    assert_eq!(
        Status::decode(&octets("1402b004")),
        Ok(Status::SpinDown(SpinDownStatus::Success))
    );
    for (hex, code) in [("20", 0x20), ("fe", 0xFE), ("00", 0)] {
        assert_eq!(
            Status::decode(&octets(hex)),
            Ok(Status::Other {
                code,
                parameters: Vec::new()
            })
        );
    }
    for hex in [
        "",
        "02",
        "05c4",
        "08c8",
        "0da086",
        "1000",
        "120000260228",
        "13",
        "14",
        "15b4",
    ] {
        assert!(Status::decode(&octets(hex)).is_err(), "{hex}");
    }
}

/// S 4.17.1.
#[test]
fn c60_targets_of_others_are_told_as_targets() {
    let target = |hex: &str| Status::decode(&octets(hex)).unwrap().target();
    assert_eq!(target("08c800"), Some(BrakeTarget::Power(Watts(200.0))));
    assert_eq!(target("077800"), Some(BrakeTarget::Resistance(Level(12.0))));
    assert_eq!(
        target("120000bbfe2833"),
        Some(BrakeTarget::Slope(Grade(-3.25)))
    );
    assert_eq!(target("04"), None);
}

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
