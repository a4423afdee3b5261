//! Octets of the control point and of status, each test named by its row in the project's checklist. Sections are those
//! of the Bluetooth SIG's Fitness Machine Profile 1.0 (P) and Service 1.0.1 (S).

use stillroad::gatt::control_point::{
    Halt, Request, Response, ResultCode, Simulation, SpinDown, SpinDownSpeeds,
};
use stillroad::gatt::status::SpinDownStatus;
use stillroad::gatt::{Resistance, Status};
use stillroad::units::{BrakeTarget, Grade, Level, Watts};

use super::octets;

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

crate::conformance::trials![
    c46_only_result_01_is_success,
    c48_parameters_have_their_exact_sizes,
    c52_simulation_has_all_four_parameters,
    c53_spin_down_speeds_low_first,
    c54_ignoring_a_spin_down_succeeds_without_parameters,
    c55_the_spin_down_request_is_status_14_and_13_is_the_wheel,
    c57_every_status_with_its_parameters,
    c60_targets_of_others_are_told_as_targets,
];
