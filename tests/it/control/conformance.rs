//! Rows C28 to C52 of the project's checklist, as far as a machine without a link can show them. Sections are those of
//! the Bluetooth SIG's Fitness Machine Profile 1.0 (P) and Service 1.0.1 (S).

use stillroad::control::{ControlEvent, Loss, Refusal, ResistanceForm, Sort, WriteFailure};
use stillroad::gatt::control_point::ResultCode;
use stillroad::units::{BrakeTarget, Grade};

use super::{Bench, abilities, level, usual, watts};

fn refused(target: BrakeTarget, result: ResultCode) -> ControlEvent {
    ControlEvent::TargetRefused {
        target,
        why: Refusal::Result(result),
    }
}

/// P 4.4.14, S 4.16.2.
#[test]
fn c30_nothing_but_the_request_before_control() {
    let mut bench = Bench::new(usual());
    bench.want(watts(200.0));
    bench.take("00", 5);
    // Asked again after 1, 5 and 15 s, and then no more.
    for pause in [1.0, 5.0, 15.0] {
        bench.pass(pause - 0.01);
        assert_eq!(bench.sent(), "");
        assert_eq!(bench.events(), []);
        bench.pass(0.02);
        bench.take("00", 5);
    }
    assert_eq!(bench.events(), [ControlEvent::Refused]);
    bench.pass(3600.0);
    assert_eq!(bench.sent(), "");
    // The rider asks.
    bench.machine.ask_again(bench.now);
    bench.take("00", 1);
    assert_eq!(bench.events(), [ControlEvent::Granted]);
    bench.take("07", 1);
    assert_eq!(bench.sent(), "05c800");
}

/// C8, C10: a trainer that takes no targets is not asked for control.
#[test]
fn c10_no_control_is_asked_for_where_there_is_nothing_to_set() {
    let mut bench = Bench::new(abilities("0240000000000000", "", ""));
    bench.want(watts(200.0));
    bench.release();
    bench.machine.ask_again(bench.now);
    bench.pass(60.0);
    assert_eq!(bench.sent(), "");
    let turned_away = ControlEvent::TargetRefused {
        target: watts(200.0),
        why: Refusal::NotOffered,
    };
    assert_eq!(bench.events(), [turned_away, ControlEvent::ReleaseRefused]);
}

/// P 4.4.14.2.1, S 4.16.2.1.
#[test]
fn c31_a_grant_ends_with_the_link_and_with_a_reset() {
    let mut bench = Bench::granted(usual());
    bench.status("01");
    assert_eq!(bench.events(), [ControlEvent::Lost(Loss::Reset)]);
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "");
    bench.pass(1.0);
    bench.take("00", 1);
    bench.take("07", 1);
    bench.take("05c800", 1);

    bench.machine.link_down(bench.now);
    assert!(!bench.machine.granted());
    bench.want(watts(210.0));
    assert_eq!(bench.sent(), "");
    bench.machine.link_up(bench.now, usual());
    assert_eq!(bench.sent(), "00");
}

/// P 4.4.14, S 4.16.3.
#[test]
fn c32_one_at_a_time_and_the_newest_next() {
    let mut bench = Bench::granted(usual());
    let mut sent = Vec::new();
    // Twenty targets a second against a trainer that answers after two.
    bench.want(watts(100.0));
    for step in 0..200 {
        let write = bench.sent();
        if !write.is_empty() {
            sent.push((step, write));
            bench.written();
        }
        if step % 40 == 39 {
            bench.indicated("800501");
        }
        bench.pass(0.05);
        bench.want(watts(101.0 + f64::from(step)));
    }
    // 100 W at once; then, whenever an answer frees the way, what is newest then: 139 W, set
    // in step 38, when step 39 brings the answer, and so on.
    let expected = [(0, 100), (40, 139), (80, 179), (120, 219), (160, 259)];
    let expected: Vec<_> = expected
        .map(|(step, watts): (i32, u16)| {
            let [low, high] = watts.to_le_bytes();
            (step, format!("05{low:02x}{high:02x}"))
        })
        .into();
    assert_eq!(sent, expected);
}

#[test]
fn at_most_four_targets_a_second() {
    let mut bench = Bench::granted(usual());
    let mut sent = 0;
    for step in 0..100 {
        bench.want(watts(100.0 + f64::from(step) * 5.0));
        if !bench.sent().is_empty() {
            sent += 1;
            bench.written();
            bench.indicated("800501");
        }
        bench.pass(0.05);
    }
    // Five seconds: 0.00, 0.25, … 4.75.
    assert_eq!(sent, 20);
}

#[test]
fn a_change_under_two_watts_waits_until_it_stands_still() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    bench.take("05c800", 1);
    bench.pass(10.0);
    bench.want(watts(201.0));
    assert_eq!(bench.sent(), "");
    bench.pass(0.24);
    assert_eq!(bench.sent(), "");
    bench.pass(0.02);
    bench.take("05c900", 1);
    bench.pass(10.0);
    // Two watts are worth a command at once; the same value is worth none.
    bench.want(watts(203.0));
    bench.take("05cb00", 1);
    bench.pass(10.0);
    bench.want(watts(203.0));
    bench.pass(10.0);
    assert_eq!(bench.sent(), "");
    // Back and forth within the quarter of a second is no change.
    bench.want(watts(204.0));
    bench.pass(0.2);
    bench.want(watts(203.0));
    bench.pass(10.0);
    assert_eq!(bench.sent(), "");
}

/// P 4.4.14.2.
#[test]
fn c33_success_comes_from_the_indication() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    assert_eq!(bench.events(), []);
    assert_eq!(bench.machine.last_taken(), None);
    assert!(bench.machine.in_flight());
    bench.indicated("800504");
    assert_eq!(bench.events(), [refused(watts(200.0), ResultCode::Failed)]);
    assert_eq!(bench.machine.last_taken(), None);
    // Not at once again, but not never.
    bench.pass(4.9);
    assert_eq!(bench.sent(), "");
    bench.pass(0.2);
    bench.take("05c800", 1);
    assert_eq!(bench.events(), [ControlEvent::Taken(watts(200.0))]);
    assert_eq!(bench.machine.last_taken(), Some(watts(200.0)));
}

/// P 4.4.14.3.
#[test]
fn c34_thirty_seconds_from_the_write_response() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.pass(2.0);
    bench.written();
    bench.pass(29.0);
    bench.status("08c800");
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::Taken(watts(200.0))]);

    bench.want(watts(220.0));
    assert_eq!(bench.sent(), "05dc00");
    bench.pass(2.0);
    bench.written();
    for _ in 0..29 {
        bench.pass(1.0);
        bench.status("1402");
    }
    assert_eq!(bench.events(), []);
    bench.pass(1.0);
    assert_eq!(bench.events(), [ControlEvent::TimedOut]);
    assert!(bench.machine.timed_out());
}

/// P 4.4.14.3.
#[test]
fn c35_after_a_time_out_nothing_more_on_that_link() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    bench.pass(30.0);
    assert_eq!(bench.events(), [ControlEvent::TimedOut]);
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::LateAnswer]);
    assert_eq!(bench.machine.last_taken(), None);
    bench.want(watts(150.0));
    bench.release();
    bench.machine.start(bench.now);
    bench.machine.stop(bench.now);
    bench.machine.ask_again(bench.now);
    bench.pass(600.0);
    assert_eq!((bench.sent().as_str(), bench.events()), ("", vec![]));
    // C36: on the next link the release comes first, then the target anew.
    bench.machine.link_down(bench.now);
    bench.machine.link_up(bench.now, usual());
    bench.take("00", 1);
    bench.want(watts(150.0));
    bench.take("07", 1);
    bench.take("050000", 1);
    bench.pass(0.25);
    bench.take("059600", 1);
}

#[test]
fn a_write_that_is_never_acknowledged_times_out_too() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.pass(30.0);
    assert_eq!(bench.events(), [ControlEvent::TimedOut]);
    bench.written();
    assert_eq!(bench.sent(), "");
}

/// A trainer that wants to be paired leaves the first write without an answer where nobody can pair: asking again on
/// every new link would only lose the link again and again, and its figures with it.
#[test]
fn control_that_is_not_acknowledged_is_asked_for_again_only_by_the_rider() {
    let mut bench = Bench::new(usual());
    assert_eq!(bench.sent(), "00");
    bench
        .machine
        .written(bench.now, Err(WriteFailure::TimedOut));
    assert_eq!(bench.events(), [ControlEvent::Unacknowledged]);
    bench.machine.link_down(bench.now);
    bench.machine.link_up(bench.now, usual());
    bench.want(watts(200.0));
    bench.pass(600.0);
    assert_eq!((bench.sent().as_str(), bench.events()), ("", vec![]));
    bench.machine.ask_again(bench.now);
    assert_eq!(bench.sent(), "00");
    // The same by this machine's own clock; and another trainer is asked at once.
    bench.pass(30.0);
    assert_eq!(bench.events(), [ControlEvent::Unacknowledged]);
    bench.machine.other_trainer(bench.now);
    bench.machine.link_up(bench.now, usual());
    assert_eq!(bench.sent(), "00");
}

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

/// S 4.16.1: over a whole ride nothing but the ops and parameters that the standard names.
#[test]
fn c47_c48_a_whole_ride_in_octets() {
    let mut bench = Bench::granted(usual());
    for (target, hex) in [
        (watts(250.0), "05fa00"),
        (level(12.0), "0478"),
        (BrakeTarget::Slope(Grade(-3.25)), "110000bbfe2833"),
        (watts(90.0), "055a00"),
    ] {
        bench.want(target);
        bench.take(hex, 1);
        // C49: only the newest sort counts as active.
        assert_eq!(bench.machine.last_taken(), Some(target));
        bench.pass(1.0);
    }
    bench.release();
    bench.take("050000", 1);
    bench.machine.stop(bench.now);
    bench.take("0801", 1);
    bench.pass(60.0);
    assert_eq!(bench.sent(), "");
    // C51: another ride on the same link begins with a start.
    bench.want(watts(100.0));
    bench.take("07", 1);
    bench.take("056400", 1);
}

/// S 4.16.2.5: a level is an octet, a word where the range needs one, and a word after an octet was refused.
#[test]
fn c48_the_width_of_a_level_is_found_out_once() {
    let wide = abilities("0240000004000000", "", "0a0040010a00");
    assert_eq!(wide.resistance_form, ResistanceForm::Word);
    let mut bench = Bench::granted(wide);
    bench.want(level(12.0));
    bench.take("047800", 1);

    let narrow = abilities("0240000004000000", "", "0ac801");
    let mut bench = Bench::granted(narrow.clone());
    bench.want(level(12.0));
    bench.take("0478", 3);
    assert_eq!(bench.events(), []);
    bench.pass(0.25);
    bench.take("047800", 1);
    assert_eq!(bench.events(), [ControlEvent::Taken(level(12.0))]);
    bench.pass(1.0);
    bench.want(level(8.0));
    bench.take("045000", 1);
    // Remembered for the next link.
    bench.machine.link_down(bench.now);
    bench.machine.link_up(bench.now, narrow.clone());
    bench.take("00", 1);
    bench.take("07", 1);
    bench.take("040a00", 1);

    // Refused in both widths: the value is at fault, and later ones are octets again.
    let mut bench = Bench::granted(narrow);
    bench.want(level(12.0));
    bench.take("0478", 3);
    bench.pass(0.25);
    bench.take("047800", 3);
    assert_eq!(
        bench.events(),
        [refused(level(12.0), ResultCode::InvalidParameter)]
    );
    bench.pass(1.0);
    bench.want(level(8.0));
    bench.take("0450", 1);
}

/// S 4.16.2.5 has an octet, 4.9 a range of signed words: a trainer may hold to both, and then its range ends at 25.5.
#[test]
fn c48_a_word_that_is_refused_is_tried_as_an_octet() {
    let wide = abilities("0240000004000000", "", "0000e8030a00");
    let mut bench = Bench::granted(wide.clone());
    bench.want(level(12.0));
    bench.take("047800", 3);
    assert_eq!(bench.events(), []);
    bench.pass(0.25);
    bench.take("0478", 1);
    assert_eq!(bench.events(), [ControlEvent::Taken(level(12.0))]);
    assert!(bench.machine.abilities().accepts(level(25.0)));
    assert!(!bench.machine.abilities().accepts(level(26.0)));
    bench.pass(1.0);
    bench.want(level(8.0));
    bench.take("0450", 1);

    // A value that no octet holds is at fault itself, and so is one that is refused in both widths.
    let mut bench = Bench::granted(wide.clone());
    bench.want(level(30.0));
    bench.take("042c01", 3);
    assert_eq!(
        bench.events(),
        [refused(level(30.0), ResultCode::InvalidParameter)]
    );
    let mut bench = Bench::granted(wide);
    bench.want(level(12.0));
    bench.take("047800", 3);
    bench.pass(0.25);
    bench.take("0478", 3);
    assert_eq!(
        bench.events(),
        [refused(level(12.0), ResultCode::InvalidParameter)]
    );
    bench.pass(1.0);
    bench.want(level(8.0));
    bench.take("045000", 1);
}

/// C13: what is out of range or off its step is refused here, and never brought into range.
#[test]
fn c13_a_target_outside_the_range_is_refused_and_not_changed() {
    let mut bench = Bench::granted(abilities("0240000008000000", "320090010500", ""));
    for target in [
        watts(37.0),
        watts(203.0),
        watts(900.0),
        watts(f64::NAN),
        watts(-5.0),
    ] {
        bench.want(target);
        assert_eq!(bench.sent(), "");
        let events = bench.events();
        assert!(
            matches!(
                events[..],
                [ControlEvent::TargetRefused {
                    why: Refusal::OutsideRange,
                    ..
                }]
            ),
            "{target:?}: {events:?}"
        );
    }
    bench.want(watts(50.0));
    bench.take("053200", 1);
    bench.pass(1.0);
    // Said once, however often it is asked.
    for _ in 0..10 {
        bench.want(watts(900.0));
    }
    assert_eq!(bench.events().len(), 2);
}

/// The answer may come before the write response; it counts, and the next write still waits for the response.
#[test]
fn an_answer_before_the_write_response_counts() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::Taken(watts(200.0))]);
    bench.pass(1.0);
    bench.want(watts(250.0));
    assert_eq!(bench.sent(), "");
    bench.written();
    assert_eq!(bench.sent(), "05fa00");
    bench.written();
    bench.indicated("800501");
    assert_eq!(bench.machine.last_taken(), Some(watts(250.0)));
}
