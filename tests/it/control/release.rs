//! The release: first in the queue, the lowest load that this trainer accepts, and said when it is not confirmed.

use stillroad::control::ControlEvent;
use stillroad::units::{BrakeTarget, Grade};

use super::{Bench, abilities, usual, watts};

#[test]
fn a_release_jumps_the_queue_and_knows_no_pace() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    bench.want(watts(300.0));
    bench.release();
    assert!(bench.machine.releasing());
    assert_eq!(bench.sent(), "");
    bench.indicated("800501");
    // Ten milliseconds after the target, and before the one that waited, which is forgotten.
    bench.take("050000", 1);
    assert_eq!(
        bench.events(),
        [ControlEvent::Taken(watts(200.0)), ControlEvent::Released]
    );
    assert!(bench.machine.released());
    assert_eq!(bench.machine.last_taken(), Some(watts(0.0)));
    bench.pass(60.0);
    assert_eq!(bench.sent(), "");
    // Asked for again it is not sent again; a new target ends it.
    bench.release();
    assert_eq!(bench.sent(), "");
    bench.want(watts(100.0));
    assert_eq!(bench.sent(), "056400");
    assert!(!bench.machine.released());
}

/// A target that the trainer turned back as busy (FE), or for want of a subscription (FD), is not written again once a
/// release was asked for.
#[test]
fn a_release_goes_before_a_target_that_was_turned_back_meanwhile() {
    for code in [0xFD, 0xFE] {
        let mut bench = Bench::granted(usual());
        bench.want(watts(200.0));
        assert_eq!(bench.sent(), "05c800");
        bench.release();
        bench.write_fails(code);
        bench.take("050000", 1);
        assert_eq!(bench.events().last(), Some(&ControlEvent::Released));
        bench.pass(60.0);
        assert_eq!(bench.sent(), "");
    }
}

#[test]
fn the_release_is_the_lowest_load_of_this_trainer() {
    for (feature, power, resistance, expected) in [
        ("024000000c200000", "320090010500", "0ac801", "053200"),
        ("0240000004200000", "", "0ac801", "040a"),
        ("0240000004000000", "", "0a0040010a00", "040a00"),
        ("0240000008000000", "", "", "050000"),
    ] {
        let mut bench = Bench::granted(abilities(feature, power, resistance));
        bench.release();
        bench.take(expected, 1);
        assert_eq!(bench.events(), [ControlEvent::Released]);
    }
    // Never a slope of 0. A trainer of slopes alone is let off by the steepest descent: −10 % is −1000 hundredths, 18 fc.
    let mut bench = Bench::granted(abilities("0240000000200000", "", ""));
    bench.want(BrakeTarget::Slope(Grade(2.0)));
    bench.take("110000c8002833", 1);
    bench.events();
    bench.release();
    bench.take("11000018fc2833", 1);
    assert_eq!(bench.events(), [ControlEvent::Released]);
    assert!(bench.machine.released());
}

#[test]
fn a_refused_power_falls_to_the_lowest_level() {
    for result in [2, 3, 4, 7] {
        let mut bench = Bench::granted(usual());
        bench.release();
        bench.take("050000", result);
        bench.take("040a", 1);
        assert_eq!(
            bench.events().last(),
            Some(&ControlEvent::Released),
            "result {result}"
        );
        assert!(bench.machine.released());
    }
    let mut bench = Bench::granted(usual());
    bench.release();
    assert_eq!(bench.sent(), "050000");
    bench.write_fails(0x0E);
    bench.take("040a", 1);
}

#[test]
fn a_release_refused_altogether_is_said_and_tried_again() {
    let mut bench = Bench::granted(usual());
    bench.release();
    for round in 0..6 {
        bench.take("050000", 4);
        bench.take("040a", 4);
        let events = bench.events();
        assert_eq!(
            events.contains(&ControlEvent::ReleaseRefused),
            round == 0,
            "round {round}"
        );
        bench.pass(2.0);
    }
    assert_eq!(bench.sent(), "");
    // Pedals again: a target ends the attempts.
    bench.release();
    bench.take("050000", 4);
    bench.take("040a", 4);
    bench.want(watts(100.0));
    bench.pass(0.25);
    bench.take("056400", 1);
    bench.pass(10.0);
    assert_eq!(bench.sent(), "");
}

#[test]
fn what_was_taken_before_a_release_that_fails_is_no_figure_any_more() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    bench.take("05c800", 1);
    assert_eq!(bench.machine.last_taken(), Some(watts(200.0)));
    assert!(bench.machine.lowers(watts(150.0)));
    bench.release();
    bench.take("050000", 4);
    assert_eq!(bench.machine.last_taken(), None);
    assert!(!bench.machine.lowers(watts(150.0)));
    bench.take("040a", 1);
    let released = bench.machine.last_taken();
    assert!(released.is_some_and(|target| target != watts(200.0)));
}

/// A trainer that echoes each command by its status: the echo of what was taken just before the release is no other's.
#[test]
fn an_echo_behind_a_release_is_not_taken_for_anothers_target() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    bench.take("05c800", 1);
    bench.events();
    bench.release();
    assert_eq!(bench.sent(), "050000");
    bench.status("08c800");
    assert_eq!(bench.events(), []);
    assert_eq!(bench.machine.last_taken(), None, "an echo proves nothing");
    bench.status("089600");
    assert_eq!(
        bench.events(),
        [ControlEvent::ChangedElsewhere(watts(150.0))]
    );
}

#[test]
fn a_release_without_an_answer_is_said_after_one_second() {
    let mut bench = Bench::granted(usual());
    bench.release();
    assert_eq!(bench.sent(), "050000");
    bench.pass(0.05);
    bench.written();
    bench.pass(0.94);
    assert_eq!(bench.events(), []);
    bench.pass(0.02);
    assert_eq!(bench.events(), [ControlEvent::ReleaseUnanswered]);
    bench.pass(5.0);
    bench.indicated("800501");
    assert_eq!(bench.events(), [ControlEvent::Released]);

    // Behind a command that is not answered the rider hears of it just as soon.
    bench.want(watts(200.0));
    assert_eq!(bench.sent(), "05c800");
    bench.written();
    bench.pass(3.0);
    bench.release();
    bench.pass(1.0);
    assert_eq!(bench.events(), [ControlEvent::ReleaseUnanswered]);
    // And once only, though everything times out.
    bench.pass(60.0);
    assert_eq!(bench.events(), [ControlEvent::TimedOut]);
}

#[test]
fn a_link_lost_under_a_release_is_said_and_the_release_comes_first_on_return() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(200.0));
    bench.take("05c800", 1);
    bench.events();
    bench.release();
    assert_eq!(bench.sent(), "050000");
    bench.machine.link_down(bench.now);
    assert_eq!(bench.events(), [ControlEvent::ReleaseUnanswered]);
    bench.machine.link_up(bench.now, usual());
    bench.want(watts(250.0));
    bench.take("00", 1);
    bench.take("07", 1);
    assert_eq!(bench.sent(), "050000");
    bench.pass(1.0);
    assert_eq!(
        bench.events(),
        [ControlEvent::Granted, ControlEvent::ReleaseUnanswered]
    );
}

#[test]
fn a_release_before_control_waits_for_it() {
    let mut bench = Bench::new(usual());
    bench.release();
    bench.take("00", 5);
    bench.pass(1.0);
    bench.take("00", 1);
    bench.take("07", 1);
    bench.take("050000", 1);
    assert_eq!(
        bench.events(),
        [ControlEvent::Granted, ControlEvent::Released]
    );
}

#[test]
fn a_release_answered_with_05_is_done_once_control_is_back() {
    let mut bench = Bench::granted(usual());
    bench.machine.stop(bench.now);
    bench.take("050000", 5);
    bench.pass(1.0);
    bench.take("00", 1);
    bench.take("07", 1);
    bench.take("050000", 1);
    bench.take("0801", 1);
    assert_eq!(bench.events().last(), Some(&ControlEvent::Stopped));
}

#[test]
fn a_target_that_a_busy_trainer_turned_back_gives_way_to_the_release() {
    let mut bench = Bench::granted(usual());
    bench.want(watts(300.0));
    assert_eq!(bench.sent(), "052c01");
    bench.write_fails(0xFE);
    bench.release();
    bench.take("050000", 1);
    bench.pass(60.0);
    assert_eq!(bench.sent(), "");
}

#[test]
fn a_target_that_is_turned_back_after_the_release_was_asked_for_is_not_written_again() {
    for code in [0xFE, 0xFD] {
        let mut bench = Bench::granted(usual());
        bench.want(watts(300.0));
        assert_eq!(bench.sent(), "052c01");
        bench.release();
        bench.write_fails(code);
        bench.take("050000", 1);
        bench.pass(60.0);
        assert_eq!(bench.sent(), "");
    }
}

#[test]
fn a_stop_that_is_turned_back_gives_way_to_a_release_asked_for_meanwhile() {
    let mut bench = Bench::granted(usual());
    bench.machine.stop(bench.now);
    bench.take("050000", 3);
    bench.take("040a", 4);
    bench.want(watts(100.0));
    assert_eq!(bench.sent(), "0801");
    bench.release();
    bench.write_fails(0xFE);
    bench.pass(2.0);
    bench.take("050000", 1);
    bench.take("0801", 1);
}
