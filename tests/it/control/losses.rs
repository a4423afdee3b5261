//! Control that is lost, taken by others or changed by hand: rows C37, C45, C58 to C62 of the project's checklist.

use stillroad::control::{ControlEvent, Loss, Refusal};
use stillroad::gatt::status::SpinDownStatus;

use super::{Bench, level, usual, watts};

/// Fitness Machine Profile 1.0, 4.4.14.3.
#[test]
fn c37_a_link_lost_in_mid_procedure_is_no_success() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    bench.machine.link_down(bench.now);
    let lost = ControlEvent::TargetRefused {
        target: watts(200.0),
        why: Refusal::LinkLost,
    };
    assert_eq!(bench.events(), [lost]);
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::LateAnswer]);
    assert_eq!(bench.machine.last_taken(), None);
    bench.machine.link_up(bench.now, usual());
    bench.take("00", 1);
    bench.want(watts(200.0));
    bench.take("07", 1);
    // The release first, then the target anew.
    bench.take("050000", 1);
    bench.pass(0.25);
    bench.take("05c800", 1);
    assert_eq!(
        bench.events(),
        [
            ControlEvent::Granted,
            ControlEvent::Released,
            ControlEvent::Taken(watts(200.0))
        ]
    );
}

/// Profile 4.7.
#[test]
fn c45_result_05_asks_again_within_limits() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    bench.take("05c800", 5);
    assert_eq!(bench.events(), [ControlEvent::Lost(Loss::NotPermitted)]);
    assert!(!bench.machine.granted());
    bench.pass(1.0);
    bench.take("00", 1);
    bench.want(watts(200.0));
    bench.take("07", 1);
    bench.take("05c800", 1);
    bench.events();

    // A trainer that grants and refuses in turn is not flooded: 1, 5, 15 s, and then no more.
    for pause in [1.0, 5.0, 15.0] {
        bench.pass(1.0);
        bench.want(watts(250.0));
        bench.take("05fa00", 5);
        bench.pass(pause - 0.01);
        assert_eq!(bench.sent(), "");
        bench.pass(0.01);
        bench.take("00", 1);
        bench.take("07", 1);
    }
    bench.events();
    bench.pass(1.0);
    bench.want(watts(250.0));
    bench.take("05fa00", 5);
    assert_eq!(
        bench.events(),
        [
            ControlEvent::Lost(Loss::NotPermitted),
            ControlEvent::Refused
        ]
    );
    bench.pass(3600.0);
    assert_eq!(bench.sent(), "");
}

/// Service 4.17.1.
#[test]
fn c58_the_trainers_own_buttons_are_told() {
    let mut bench = Bench::granted(usual());
    for (hex, event) in [
        ("0201", ControlEvent::TrainerStopped),
        ("0202", ControlEvent::TrainerPaused),
        ("03", ControlEvent::SafetyKey),
        ("04", ControlEvent::TrainerStarted),
        ("1401", ControlEvent::SpinDownAsked),
    ] {
        bench.status(hex);
        assert_eq!(bench.events(), [event], "{hex}");
    }
    for hex in ["133452", "1402", "20", "fe", "05c409", "15b400"] {
        bench.status(hex);
        assert_eq!(bench.events(), [], "{hex}");
    }
    // The rider resumes: op 07 before the next target.
    bench.machine.start(bench.now);
    bench.take("07", 1);
}

/// Profile 4.4.14.2.1.
#[test]
fn c59_c62_withdrawn_control_is_asked_for_once_and_not_fought_for() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    bench.take("05c800", 1);
    bench.events();
    bench.status("ff");
    assert_eq!(bench.events(), [ControlEvent::Lost(Loss::Withdrawn)]);
    bench.want(watts(220.0));
    bench.pass(4.99);
    assert_eq!(bench.sent(), "");
    bench.pass(0.02);
    bench.take("00", 5);
    assert_eq!(bench.events(), [ControlEvent::Refused]);
    bench.pass(3600.0);
    assert_eq!(bench.sent(), "");
    bench.machine.ask_again(bench.now);
    bench.take("00", 1);
    bench.take("07", 1);
    bench.take("05dc00", 1);

    // Granted after the one request, and withdrawn again: the other program keeps it.
    bench.status("ff");
    bench.pass(5.0);
    bench.take("00", 1);
    bench.take("07", 1);
    bench.events();
    bench.status("ff");
    assert_eq!(
        bench.events(),
        [ControlEvent::Lost(Loss::Withdrawn), ControlEvent::Refused]
    );
    bench.pass(3600.0);
    assert_eq!(bench.sent(), "");
}

#[test]
fn a_withdrawal_that_comes_while_a_target_is_in_flight() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    bench.status("ff");
    bench.pass(10.0);
    // The procedure still runs: nothing is written over it.
    assert_eq!(bench.sent(), "");
    bench.indicated("800505");
    assert_eq!(bench.events(), [ControlEvent::Lost(Loss::Withdrawn)]);
    assert_eq!(bench.sent(), "00");
}

#[test]
fn a_command_that_was_turned_back_is_not_written_again_without_control() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.write_fails(0xFE);
    bench.status("ff");
    bench.pass(4.9);
    assert_eq!(bench.sent(), "");
    bench.pass(0.1);
    assert_eq!(bench.sent(), "00");
    // The same where control goes before the trainer says that it is busy.
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.status("ff");
    bench.write_fails(0xFE);
    bench.pass(4.9);
    assert_eq!(bench.sent(), "");
}

/// Service 4.17.1.
#[test]
fn c60_targets_of_others_are_shown_and_not_fought_over() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(250.0));
    bench.take("05fa00", 1);
    bench.events();
    bench.pass(2.0);
    bench.status("08c800");
    assert_eq!(
        bench.events(),
        [ControlEvent::ChangedElsewhere(watts(200.0))]
    );
    assert_eq!(bench.machine.last_taken(), Some(watts(200.0)));
    // Ours again after five seconds, once.
    bench.want(watts(250.0));
    bench.pass(4.9);
    assert_eq!(bench.sent(), "");
    bench.pass(0.2);
    bench.take("05fa00", 1);
    bench.status("077800");
    let events = bench.events();
    assert_eq!(
        events.last(),
        Some(&ControlEvent::ChangedElsewhere(level(12.0)))
    );
    // A newer target of ours need not wait.
    bench.pass(0.3);
    bench.want(watts(260.0));
    bench.take("050401", 1);
}

/// Service 4.17.1.
#[test]
fn c61_no_echo_is_waited_for_and_one_that_comes_is_no_change() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    bench.status("08c800");
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::Taken(watts(200.0))]);
    assert!(!bench.machine.in_flight());
    bench.status("08c800");
    assert_eq!(bench.events(), []);
    assert_eq!(bench.machine.last_taken(), Some(watts(200.0)));
}

#[test]
fn every_event_says_what_happened_what_it_means_and_what_to_do() {
    use stillroad::control::{Sort, WriteFailure};
    use stillroad::gatt::control_point::ResultCode;
    let mut events = vec![
        ControlEvent::Granted,
        ControlEvent::Refused,
        ControlEvent::PairingWanted,
        ControlEvent::Lost(Loss::Withdrawn),
        ControlEvent::Lost(Loss::NotPermitted),
        ControlEvent::Lost(Loss::Reset),
        ControlEvent::Taken(watts(200.0)),
        ControlEvent::SortUnsupported(Sort::Slope),
        ControlEvent::Released,
        ControlEvent::ReleaseUnanswered,
        ControlEvent::ReleaseRefused,
        ControlEvent::Stopped,
        ControlEvent::TimedOut,
        ControlEvent::Unacknowledged,
        ControlEvent::TrainerStopped,
        ControlEvent::TrainerPaused,
        ControlEvent::SafetyKey,
        ControlEvent::TrainerStarted,
        ControlEvent::SpinDownAsked,
        ControlEvent::SpinDownBegun(None),
        ControlEvent::SpinDownRefused(Refusal::NotOffered),
        ControlEvent::SpinDownSaid(SpinDownStatus::Success),
        ControlEvent::SpinDownSaid(SpinDownStatus::Error),
        ControlEvent::SpinDownSaid(SpinDownStatus::StopPedalling),
        ControlEvent::SpinDownSaid(SpinDownStatus::Other(9)),
        ControlEvent::ChangedElsewhere(level(12.0)),
        ControlEvent::LateAnswer,
        ControlEvent::BadAnswer,
        ControlEvent::SubscribeAgain,
    ];
    for why in [
        Refusal::Result(ResultCode::InvalidParameter),
        Refusal::Result(ResultCode::Other(0x77)),
        Refusal::Write(WriteFailure::Att(0x0F)),
        Refusal::Write(WriteFailure::Att(0xFE)),
        Refusal::Write(WriteFailure::Other),
        Refusal::LinkLost,
        Refusal::OutsideRange,
        Refusal::NotOffered,
    ] {
        events.push(ControlEvent::TargetRefused {
            target: watts(240.0),
            why,
        });
    }
    let mut seen = std::collections::HashSet::new();
    for event in events {
        let words = event.to_string();
        assert!(
            words.len() > 40 && words.ends_with('.') && !words.contains('!'),
            "{words}"
        );
        assert!(
            words.matches(['.', ';', ':']).count() >= 2 || event == ControlEvent::Released,
            "{words}"
        );
        assert!(seen.insert(words.clone()), "said twice: {words}");
    }
}

crate::conformance::trials![
    c37_a_link_lost_in_mid_procedure_is_no_success,
    c45_result_05_asks_again_within_limits,
    c58_the_trainers_own_buttons_are_told,
    c59_c62_withdrawn_control_is_asked_for_once_and_not_fought_for,
    c60_targets_of_others_are_shown_and_not_fought_over,
    c61_no_echo_is_waited_for_and_one_that_comes_is_no_change,
];
