//! The control point and what the machine says of itself, in a ride: rows C29 to C62 as far as the rider sees them. The
//! procedure machine by itself is tried row by row beside it, in `control`. P is the Fitness Machine Profile 1.0, S the
//! Service 1.0.1.

use stillroad::control::SpinDownStage;
use stillroad::engine::{Command, Role};
use stillroad::ride::{Cause, Mode, PauseCause};
use stillroad::time::Span;

use super::peripheral::{
    CONTROL_POINT, FEATURE, Peripheral, STATUS, asked_since, riding, row, using, writes_since,
};
use crate::gatt::octets;
use crate::world::Ride;

/// P 4.4.14, S 4.16.2: op 00 is answered with result 05.
#[test]
fn c30_c45_control_that_is_not_granted_leaves_the_data_and_is_not_flooded() {
    let trainer = Peripheral::trainer();
    trainer.state().answers.insert(0x00, octets("800005"));
    let mut ride = riding(&trainer);
    ride.to(600.0);
    let writes = writes_since(&ride, stillroad::time::Instant::ZERO);
    assert!(writes.iter().all(|write| write == "00"), "{writes:?}");
    // Twice before the ride; when it begins it is asked for anew, at once and after 1, 5 and 15 s.
    assert_eq!(writes.len(), 6);
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert!(ride.happened("control-refused"));
}

/// P 4.4.14.3: thirty seconds without an indication; then the link is closed, made and set up, and the target sent anew.
#[test]
fn c34_c35_c36_a_machine_that_does_not_answer_is_left_and_connected_again() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    trainer.state().silent = true;
    ride.command(Command::Trim(2));
    let from = ride.now();
    ride.pass(29.9);
    let unanswered = writes_since(&ride, from);
    assert_eq!(unanswered.len(), 1, "{unanswered:?}");
    assert_eq!(ride.mode(), Mode::Riding);
    // Status traffic is no answer.
    trainer.notify(&mut ride, STATUS, "08c800");
    ride.pass(0.5);
    assert!(matches!(
        ride.mode(),
        Mode::Degraded {
            cause: Cause::Silent,
            ..
        }
    ));
    assert!(
        ride.notice().contains("thirty seconds"),
        "{}",
        ride.notice()
    );
    trainer.state().silent = false;
    let closed = ride.now();
    ride.pass(30.0);
    let again = asked_since(&ride, from);
    let place = again.iter().position(|word| word == "disconnect").unwrap();
    assert_eq!(again[place + 1], "connect");
    assert_eq!(again[place + 9], "write 00");
    let writes = writes_since(&ride, from);
    assert_eq!(writes[1..4], ["00", "07", "050000"]);
    assert_eq!(writes.last(), unanswered.last());
    assert_eq!(ride.mode(), Mode::Riding);
    assert!(
        ride.rows()
            .iter()
            .rev()
            .take(5)
            .all(|row| row.power.is_some()),
        "{closed:?}"
    );
}

/// S 4.16.2.2: after a reset, by whomever, neither the target nor the grant stands.
#[test]
fn c31_c50_a_reset_forgets_the_target_and_the_grant() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0);
    let from = ride.now();
    trainer.notify(&mut ride, STATUS, "01");
    assert_eq!(ride.snapshot().brake, None);
    assert!(!ride.snapshot().brake_in_hand);
    ride.pass(20.0);
    let writes = writes_since(&ride, from);
    assert_eq!(writes[..3], ["00", "07", "050000"]);
    assert_eq!(writes.last().unwrap(), "059600");
}

/// P 4.4.14.2.20, S table 4.22: 08.00 and 39.00 km/h; then status 14 04, stop, and 14 02, done. 14 03 is an error.
#[test]
fn c53_c54_a_spin_down_is_guided_by_the_speeds_of_its_answer() {
    let begun = || {
        // Target bit 15 is spin-down.
        let trainer = Peripheral::trainer().reading(FEATURE, "024000000ca00000");
        trainer
            .state()
            .answers
            .insert(0x13, octets("80130120033c0f"));
        let mut ride = using(&trainer, Role::Trainer);
        ride.pass(5.0);
        ride.command(Command::SpinDown);
        ride.pass(1.0);
        (trainer, ride)
    };
    let guide = |ride: &Ride| ride.snapshot().spin_down.guide.clone().unwrap();
    let (trainer, mut ride) = begun();
    let (low, high) = guide(&ride).window.unwrap();
    assert!((low.kmh() - 8.0).abs() < 1e-9 && (high.kmh() - 39.0).abs() < 1e-9);
    assert_eq!(
        writes_since(&ride, stillroad::time::Instant::ZERO)
            .last()
            .unwrap(),
        "1301"
    );
    assert_eq!(guide(&ride).stage, SpinDownStage::Speeding);
    trainer.notify(&mut ride, STATUS, "1404");
    assert_eq!(guide(&ride).stage, SpinDownStage::Coasting);
    trainer.notify(&mut ride, STATUS, "1402");
    assert_eq!(guide(&ride).stage, SpinDownStage::Done);

    let (trainer, mut ride) = begun();
    trainer.notify(&mut ride, STATUS, "1403");
    assert!(matches!(guide(&ride).stage, SpinDownStage::Failed(_)));
    ride.command(Command::SpinDown);
    ride.pass(1.0);
    assert_eq!(
        guide(&ride).stage,
        SpinDownStage::Speeding,
        "it may be begun again"
    );

    // An answer without the speeds is no error either.
    let trainer = Peripheral::trainer().reading(FEATURE, "024000000ca00000");
    let mut ride = using(&trainer, Role::Trainer);
    ride.pass(5.0);
    ride.command(Command::SpinDown);
    ride.pass(1.0);
    assert_eq!(guide(&ride).window, None);
    assert!(!guide(&ride).stage.is_over());
}

/// P 4.4.14.2.20 calls the machine's request status 13, S tables 4.26 and 4.27 call it 14; 13 is the wheel's size.
#[test]
fn c55_a_request_for_a_spin_down_is_offered_and_a_wheel_size_is_not_one() {
    let trainer = Peripheral::trainer().reading(FEATURE, "024000000ca00000");
    let mut ride = using(&trainer, Role::Trainer);
    trainer.notify(&mut ride, STATUS, "133452");
    assert!(!ride.snapshot().spin_down.asked_for);
    trainer.notify(&mut ride, STATUS, "1401");
    assert!(ride.snapshot().spin_down.asked_for);
    assert_eq!(
        writes_since(&ride, stillroad::time::Instant::ZERO),
        ["00", "07", "050000"]
    );
}

/// P 4.4.15, S table 4.26 and A.3.1: whatever is neither a halt nor a loss nor a target changes nothing.
#[test]
fn c57_status_of_any_kind_does_no_harm() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    let before = ride.writes();
    let harmless = [
        "05c409",
        "06f1ff",
        "0996",
        "0a2c01",
        "0b2c01",
        "0c2c01",
        "0da08601",
        "0e0807",
        "0f01000200",
        "10010002000300",
        "1101000200030004000500",
        "130852",
        "1402b004",
        "15b400",
        "20",
        "fe",
        "00",
        "",
        "02",
        "08c8",
        "1400ffff",
    ];
    for hex in harmless {
        trainer.notify(&mut ride, STATUS, hex);
        assert_eq!(ride.mode(), Mode::Riding, "{hex}");
    }
    ride.pass(10.0);
    assert_eq!(ride.writes(), before);
    assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0);
}

/// S 4.17.1: the machine's own keys. Op 07 is sent before the load comes back.
#[test]
fn c58_the_machines_stop_pause_safety_key_and_start_are_followed() {
    for halt in ["0202", "0201", "03"] {
        let trainer = Peripheral::trainer();
        let mut ride = riding(&trainer);
        trainer.notify(&mut ride, STATUS, halt);
        assert_eq!(ride.mode(), Mode::Paused(PauseCause::Trainer), "{halt}");
        ride.pass(5.0);
        let ridden = ride.snapshot().ridden;
        assert_eq!(ride.snapshot().brake, None, "{halt}: the brake is let off");
        ride.pass(5.0);
        assert_eq!(ride.snapshot().ridden, ridden, "{halt}");
        trainer.notify(&mut ride, STATUS, "04");
        assert_eq!(ride.mode(), Mode::Riding, "{halt}");
        ride.pass(15.0);
        assert_eq!(
            ride.snapshot().ridden,
            ridden + Span::from_seconds(15),
            "{halt}"
        );
        assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0, "{halt}");
    }
}

/// P 4.4.14.2.1, S 4.17.1: another takes control in mid-ride and keeps it.
#[test]
fn c59_c62_control_that_another_takes_is_left_to_it_and_the_data_goes_on() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    let from = ride.now();
    trainer.state().answers.insert(0x00, octets("800005"));
    trainer.notify(&mut ride, STATUS, "ff");
    assert!(matches!(
        ride.mode(),
        Mode::Degraded {
            cause: Cause::ControlLost,
            ..
        }
    ));
    assert!(ride.notice().contains("took control"), "{}", ride.notice());
    ride.pass(300.0);
    assert_eq!(
        writes_since(&ride, from),
        ["00"],
        "asked for once, and left alone"
    );
    assert_eq!(row(&ride).live, "100 W, 85 rpm");
    assert!(
        ride.rows()
            .iter()
            .all(|row| row.power.is_some() || row.ridden_s < 2)
    );
}

/// S 4.17.1: 200 W by another's hand.
#[test]
fn c60_a_target_that_another_set_is_shown() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    ride.pass(1.0);
    trainer.notify(&mut ride, STATUS, "08c800");
    assert!(ride.notice().contains("200 W"), "{}", ride.notice());
    assert!(ride.happened("changed-elsewhere"));
}

/// S 4.17.1: no status follows a success, and the target counts at once.
#[test]
fn c33_c61_a_target_stands_with_its_indication_and_needs_no_echo() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    ride.command(Command::Trim(5));
    ride.pass(30.0);
    let (at, watts) = *ride.watts().last().unwrap();
    assert_ne!(watts, 150);
    let taken = ride
        .events()
        .into_iter()
        .rfind(|event| event.what == "target")
        .unwrap();
    assert_eq!(taken.detail, format!("{watts} W"));
    // Ridden seconds count from time five; the indication comes 40 ms after the write.
    let late = taken.ridden_s - (at.0 as f64 / 1e6 - 5.0);
    assert!((0.0..0.1).contains(&late), "{late}");
}

/// P 4.4.14.3, S 4.16.4: each error once. The target is written again or said to be refused, and the next one works.
#[test]
fn c38_c39_c40_c41_an_error_on_a_write_costs_that_command_at_most() {
    for code in [0xFE, 0xFD, 0x03, 0x0D, 0x0E, 0xFC] {
        let trainer = Peripheral::trainer();
        let mut ride = riding(&trainer);
        let from = ride.now();
        trainer.state().write_errors = vec![code];
        ride.command(Command::Trim(5));
        ride.pass(40.0);
        let asked = asked_since(&ride, from);
        let renewed = asked.iter().any(|word| word == "subscribe 2ad9");
        assert_eq!(renewed, code == 0xFD, "{code:02X}: {asked:?}");
        assert_eq!(ride.mode(), Mode::Riding, "{code:02X}");
        ride.command(Command::Trim(-5));
        ride.pass(20.0);
        assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0, "{code:02X}");
        assert_eq!(row(&ride).live, "100 W, 85 rpm");
    }
}

/// S 4.16.2.22: answers that are none.
#[test]
fn c46_an_answer_that_is_none_is_no_success_and_no_crash() {
    let trainer = Peripheral::trainer();
    let mut ride = riding(&trainer);
    trainer.state().silent = true;
    ride.command(Command::Trim(5));
    ride.pass(1.0);
    for hex in ["", "80", "8005", "800401", "050501", "ff0501"] {
        trainer.notify(&mut ride, CONTROL_POINT, hex);
        assert_eq!(ride.snapshot().brake.unwrap().value(), 150.0, "{hex}");
    }
    trainer.notify(&mut ride, CONTROL_POINT, "800501");
    assert_ne!(ride.snapshot().brake.unwrap().value(), 150.0);
}

crate::conformance::trials![
    c30_c45_control_that_is_not_granted_leaves_the_data_and_is_not_flooded,
    c34_c35_c36_a_machine_that_does_not_answer_is_left_and_connected_again,
    c31_c50_a_reset_forgets_the_target_and_the_grant,
    c53_c54_a_spin_down_is_guided_by_the_speeds_of_its_answer,
    c55_a_request_for_a_spin_down_is_offered_and_a_wheel_size_is_not_one,
    c57_status_of_any_kind_does_no_harm,
    c58_the_machines_stop_pause_safety_key_and_start_are_followed,
    c59_c62_control_that_another_takes_is_left_to_it_and_the_data_goes_on,
    c60_a_target_that_another_set_is_shown,
    c33_c61_a_target_stands_with_its_indication_and_needs_no_echo,
    c38_c39_c40_c41_an_error_on_a_write_costs_that_command_at_most,
    c46_an_answer_that_is_none_is_no_success_and_no_crash,
];
