//! Answers that differ from what a trainer says of itself: widths that it does not take, requests that it leaves
//! without an answer.

use stillroad::control::ControlEvent;
use stillroad::gatt::control_point::ResultCode;

use super::{Bench, abilities, level, refused, usual, watts};
use stillroad::control::WriteFailure;

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
