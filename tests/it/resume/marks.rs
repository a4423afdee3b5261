//! Moments that were marked, in a ride that is gone on with.

use stillroad::cli::export::export;
use stillroad::engine::Command;
use stillroad::record::{EventLine, decode};
use stillroad::store::read_ride;
use stillroad::store::recording::Recording;

use super::{gone_on, killed, replays, take_up, written};

#[test]
fn marks_go_on_counting_after_a_kill_and_are_exported() {
    let home = tempfile::tempdir().unwrap();
    let hand = [(20.0, Command::Mark), (30.5, Command::Mark)];
    let folder = killed(home.path(), 60.0, &hand);
    assert_eq!(take_up(&folder).unwrap().marks(), 2);
    let mut ride = gone_on(&folder, Some(20.0));
    ride.command(Command::Mark);
    ride.to_the_end(900.0);
    assert!(written(&ride, folder.parent().unwrap()).finish());
    replays(&folder);
    let marked = |events: &[EventLine]| -> Vec<(f64, String)> {
        let marks = events.iter().filter(|event| event.what == "mark");
        marks
            .map(|event| (event.ridden_s.floor(), event.detail.clone()))
            .collect()
    };
    let whole = read_ride(&folder).unwrap();
    let told = marked(&whole.events);
    assert_eq!(told[..2], [(20.0, "1".to_owned()), (30.0, "2".to_owned())]);
    // Twenty seconds after the sixtieth.
    assert_eq!(told[2..], [(80.0, "3".to_owned())]);
    // They hold no words, so that a file without a name has them all.
    let zip = home.path().join("ride.zip");
    export(&Recording::open(&folder).unwrap(), &zip, false).unwrap();
    let made = Recording::open(&zip).unwrap();
    let bytes = made.bytes("events.csv").unwrap().unwrap();
    let events = decode::<EventLine>(bytes.as_slice()).unwrap().records;
    assert_eq!(marked(&events), told);
}

/// A file of before, or one that was written in, cannot make the count run wild.
#[test]
fn only_numbers_of_marks_count_on() {
    let line = |what: &'static str, detail: &str| EventLine {
        ridden_s: 1.0,
        plan_s: 1.0,
        utc_ms: 0,
        what: what.into(),
        detail: detail.to_owned(),
    };
    for (what, detail, number) in [
        ("mark", "1", Some(1)),
        ("mark", "999", Some(999)),
        ("mark", "1000", None),
        ("mark", "0", None),
        ("mark", "-1", None),
        ("mark", "2.5", None),
        ("mark", "", None),
        ("mark", "99999999999999999999", None),
        ("skip", "3", None),
    ] {
        assert_eq!(line(what, detail).mark(), number, "{what} {detail}");
    }
}
