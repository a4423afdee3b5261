//! Requests that a trainer leaves without an answer.

use stillroad::control::{ControlEvent, WriteFailure};

use super::{Bench, usual, watts};

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
