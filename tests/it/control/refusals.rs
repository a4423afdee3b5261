//! Errors and refusals: rows C38 to C46 of the project's checklist. Sections are those of the Bluetooth SIG's Fitness
//! Machine Profile 1.0 (P) and Service 1.0.1 (S).

use stillroad::control::{ControlEvent, Refusal, Sort, WriteFailure};
use stillroad::gatt::control_point::ResultCode;
use stillroad::units::{BrakeTarget, Grade};

use super::{Bench, refused, usual, watts};

/// P 4.4.14.3, S 4.16.4.
#[test]
fn c38_an_error_on_the_write_starts_nothing() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.write_fails(0x0E);
    assert!(!bench.machine.in_flight());
    bench.pass(1.0);
    bench.take("05c800", 1);
    assert_eq!(
        bench.events().last(),
        Some(&ControlEvent::Taken(watts(200.0)))
    );
    bench.pass(60.0);
    assert!(!bench.machine.timed_out());
}

/// P 4.7.
#[test]
fn c39_busy_is_waited_out_twice() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    for _ in 0..2 {
        bench.write_fails(0xFE);
        bench.pass(0.19);
        assert_eq!(bench.sent(), "");
        bench.pass(0.02);
        assert_eq!(bench.sent(), "05c800");
    }
    bench.written();
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::Taken(watts(200.0))]);
    bench.pass(1.0);
    bench.want(watts(250.0));
    for _ in 0..3 {
        assert_eq!(bench.sent(), "05fa00");
        bench.write_fails(0xFE);
        bench.pass(0.2);
    }
    let why = Refusal::Write(WriteFailure::Att(0xFE));
    assert_eq!(
        bench.events(),
        [ControlEvent::TargetRefused {
            target: watts(250.0),
            why
        }]
    );
    assert_eq!(bench.machine.last_taken(), Some(watts(200.0)));
}

/// P 4.7.
#[test]
fn c40_a_forgotten_subscription_is_renewed_and_the_write_retried_once() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.write_fails(0xFD);
    assert_eq!(bench.events(), [ControlEvent::SubscribeAgain]);
    bench.pass(3.0);
    assert_eq!(bench.sent(), "");
    bench.machine.subscribed(bench.now, Ok(()));
    assert_eq!(bench.sent(), "05c800");
    bench.write_fails(0xFD);
    let why = Refusal::Write(WriteFailure::Att(0xFD));
    assert_eq!(
        bench.events(),
        [ControlEvent::TargetRefused {
            target: watts(200.0),
            why
        }]
    );
    // A caller that never subscribes does not block the machine for ever.
    bench.pass(1.0);
    assert_eq!(bench.sent(), "05c800");
    bench.write_fails(0xFD);
    bench.pass(10.0);
    assert!(!bench.machine.in_flight());
}

/// S 4.16.4.
#[test]
fn c41_other_errors_end_that_command_only() {
    for code in [0x03, 0x0D, 0x0E, 0xFC, 0x05, 0x0F, 0x80] {
        let mut bench = Bench::granted(usual());
        bench.want(watts(200.0));
        assert_eq!(bench.sent(), "05c800");
        bench.write_fails(code);
        let events = bench.events();
        assert!(
            matches!(
                events[..],
                [ControlEvent::TargetRefused {
                    why: Refusal::Write(_),
                    ..
                }]
            ),
            "{code:02X}: {events:?}"
        );
        bench.pass(0.25);
        bench.want(watts(210.0));
        bench.take("05d200", 1);
        assert_eq!(bench.events(), [ControlEvent::Taken(watts(210.0))]);
    }
}

/// P 4.7, S 4.16.2.22.
#[test]
fn c42_an_unsupported_sort_is_withdrawn_and_the_rest_goes_on() {
    let mut bench = Bench::granted(usual());
    let slope = BrakeTarget::Slope(Grade(5.5));
    bench.want(slope);
    bench.take("11000026022833", 2);
    assert_eq!(bench.events(), [ControlEvent::SortUnsupported(Sort::Slope)]);
    assert!(!bench.machine.takes(Sort::Slope));
    assert!(bench.machine.takes(Sort::Power));
    bench.pass(60.0);
    bench.want(slope);
    assert_eq!(bench.sent(), "");
    let turned_away = ControlEvent::TargetRefused {
        target: slope,
        why: Refusal::NotOffered,
    };
    assert_eq!(bench.events(), [turned_away]);
    bench.want(watts(200.0));
    bench.take("05c800", 1);
    assert_eq!(bench.events(), [ControlEvent::Taken(watts(200.0))]);
}

/// P 4.7.
#[test]
fn c43_a_refused_value_is_not_repeated() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(180.0));
    bench.take("05b400", 1);
    bench.pass(1.0);
    bench.want(watts(900.0));
    bench.take("058403", 3);
    assert_eq!(
        bench.events(),
        [
            ControlEvent::Taken(watts(180.0)),
            refused(watts(900.0), ResultCode::InvalidParameter)
        ]
    );
    for _ in 0..100 {
        bench.pass(1.0);
        bench.want(watts(900.0));
        assert_eq!(bench.sent(), "");
    }
    assert_eq!(bench.machine.last_taken(), Some(watts(180.0)));
    bench.want(watts(400.0));
    bench.take("059001", 1);
    bench.pass(1.0);
    bench.want(watts(900.0));
    assert_eq!(bench.sent(), "");
}

/// P 4.7, S 4.16.2.22.
#[test]
fn c44_start_when_running_and_stop_when_stopped_fail_harmlessly() {
    let mut bench = Bench::new(usual());
    bench.take("00", 1);
    bench.take("07", 4);
    bench.want(watts(200.0));
    bench.take("05c800", 1);
    bench.machine.stop(bench.now);
    bench.take("050000", 1);
    bench.take("0801", 4);
    assert_eq!(
        bench.events(),
        [
            ControlEvent::Granted,
            ControlEvent::Taken(watts(200.0)),
            ControlEvent::Released,
            ControlEvent::Stopped
        ]
    );
    // A trainer that does not know op 07 is none the worse.
    let mut bench = Bench::new(usual());
    bench.take("00", 1);
    bench.take("07", 2);
    bench.want(watts(200.0));
    bench.take("05c800", 1);
}

/// S 4.16.2.22.
#[test]
fn c46_nothing_but_a_matching_success_is_success() {
    for answer in ["800500", "800506", "8005ff"] {
        let mut bench = Bench::granted(usual());
        bench.want(watts(200.0));
        assert_eq!(bench.sent(), "05c800");
        bench.written();
        bench.indicated(answer);
        let events = bench.events();
        assert_eq!(events[0], ControlEvent::BadAnswer, "{answer}");
        assert!(
            matches!(events[1], ControlEvent::TargetRefused { .. }),
            "{answer}"
        );
        assert_eq!(bench.machine.last_taken(), None);
        assert!(!bench.machine.in_flight());
    }
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    for answer in ["", "80", "8005", "800401", "050501", "800001"] {
        bench.indicated(answer);
        assert_eq!(bench.events(), [ControlEvent::BadAnswer], "{answer}");
        assert!(bench.machine.in_flight(), "{answer}");
    }
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::Taken(watts(200.0))]);
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::LateAnswer]);
}

crate::conformance::trials![
    c38_an_error_on_the_write_starts_nothing,
    c39_busy_is_waited_out_twice,
    c40_a_forgotten_subscription_is_renewed_and_the_write_retried_once,
    c41_other_errors_end_that_command_only,
    c42_an_unsupported_sort_is_withdrawn_and_the_rest_goes_on,
    c43_a_refused_value_is_not_repeated,
    c44_start_when_running_and_stop_when_stopped_fail_harmlessly,
    c46_nothing_but_a_matching_success_is_success,
];
