//! A ride that another process left behind, whole or killed, opened with the program's own reader.

use std::path::PathBuf;

use stillroad::store::{read_raw, read_ride};

/// `STILLROAD_RIDE` names the ride's folder, `STILLROAD_RIDE_ENDED` how it must have ended: a word of the event
/// `recording-closed`, or `killed` where there may be none.
#[test]
#[ignore = "reads a ride that another process left: set STILLROAD_RIDE and STILLROAD_RIDE_ENDED"]
fn a_ride_from_outside_is_whole() {
    let folder = PathBuf::from(std::env::var("STILLROAD_RIDE").unwrap());
    let ended = std::env::var("STILLROAD_RIDE_ENDED").unwrap();
    let ride = read_ride(&folder).unwrap();
    // Between a write and the next a kill may leave one torn line at the end of a file, which the reader names.
    let allowed = if ended == "killed" { 3 } else { 0 };
    assert!(ride.problems.len() <= allowed, "{:?}", ride.problems);
    assert_eq!(ride.finish.as_deref().unwrap_or("killed"), ended);
    assert!(ride.rows.len() >= 10, "{} rows", ride.rows.len());
    for (at, row) in ride.rows.iter().enumerate() {
        assert_eq!(row.ridden_s, at as u64 + 1);
    }
    let (raw, problems) = read_raw(&folder);
    assert!(problems.len() <= allowed.min(1), "{problems:?}");
    assert!(raw.len() > ride.rows.len(), "{} inputs", raw.len());
    println!(
        "{} rows, {} events, {} inputs",
        ride.rows.len(),
        ride.events.len(),
        raw.len()
    );
}
