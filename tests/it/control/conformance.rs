//! Rows C28 to C37 and C47 to C52 of the project's checklist, as far as a machine without a link can show them. Sections are those of
//! the Bluetooth SIG's Fitness Machine Profile 1.0 (P) and Service 1.0.1 (S).

use stillroad::control::{ControlEvent, Loss, Refusal, ResistanceForm};
use stillroad::gatt::control_point::ResultCode;
use stillroad::units::{BrakeTarget, Grade};

use super::{Bench, abilities, level, refused, usual, watts};

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
    bench.pass(0.49);
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
    // Back and forth within the half second is no change.
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

/// S 4.16.1: over a whole ride nothing but the ops and parameters that the standard names.
#[test]
fn c47_c48_c49_c51_c52_a_whole_ride_in_octets() {
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

crate::conformance::trials![
    c30_nothing_but_the_request_before_control,
    c10_no_control_is_asked_for_where_there_is_nothing_to_set,
    c31_a_grant_ends_with_the_link_and_with_a_reset,
    c32_one_at_a_time_and_the_newest_next,
    c33_success_comes_from_the_indication,
    c34_thirty_seconds_from_the_write_response,
    c35_after_a_time_out_nothing_more_on_that_link,
    c47_c48_c49_c51_c52_a_whole_ride_in_octets,
    c48_the_width_of_a_level_is_found_out_once,
    c48_a_word_that_is_refused_is_tried_as_an_octet,
    c13_a_target_outside_the_range_is_refused_and_not_changed,
];
