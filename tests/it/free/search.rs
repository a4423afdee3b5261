//! The level of a session by effort is looked for where the riding is easy, and stands in every hold.

use stillroad::device::practice::PracticeConfig;
use stillroad::ride::RideMode;

use super::Trial;
use crate::world::{rider, session};

/// A warm-up that is too short to find it, and two holds. Ridden second 0 is time 5.
const SHORT: &str = "[[block]]\nkind = \"warm-up\"\ntime = \"0:30\"\neffort = [3, 4]\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\n\
    [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\neffort = 4\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\n\
    [[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\neffort = 2\n";

/// The levels that were written between two seconds, in tenths as the service has them.
fn levels(trial: &Trial, from: f64, to: f64) -> Vec<(f64, u8)> {
    let writes = trial.ride.writes();
    let level = |bytes: &[u8]| (bytes[0] == 0x04).then(|| bytes[1]);
    writes
        .iter()
        .filter_map(|(at, bytes)| Some((at.seconds(), level(bytes)?)))
        .filter(|(at, _)| (from..to).contains(at))
        .collect()
}

#[test]
fn a_level_that_a_short_warm_up_did_not_find_stands_in_the_hold_and_is_looked_for_in_the_recovery()
{
    let plan = session(SHORT);
    let mut trial = Trial::new(
        PracticeConfig::default(),
        &plan,
        &rider(),
        RideMode::EffortOnly,
    );
    trial.to(270.0);
    // Nothing moves in the six seconds before a beat either, when the gear is chosen against it.
    for (from, to) in [(29.5, 95.0), (149.5, 215.0), (215.0, 269.0)] {
        let moved = levels(&trial, from, to);
        assert!(moved.is_empty(), "{from} to {to}: {moved:?}");
    }
    assert!(levels(&trial, 5.0, 29.0).len() > 1);
    let found = levels(&trial, 95.0, 149.5);
    assert!(found.len() > 2, "{found:?}");
    assert!(
        found.windows(2).all(|pair| pair[1].1 > pair[0].1),
        "{found:?}"
    );
    let said = trial.ride.events();
    let said = said.iter().filter(|event| event.what == "level-not-found");
    assert_eq!(said.count(), 1);
}

#[test]
fn a_warm_up_that_found_it_says_nothing_of_it() {
    let blocks = SHORT.replacen("0:30", "5:00", 1);
    let plan = session(&blocks);
    let mut trial = Trial::new(
        PracticeConfig::default(),
        &plan,
        &rider(),
        RideMode::EffortOnly,
    );
    trial.to(365.0);
    assert!(!trial.ride.happened("level-not-found"));
    assert!(levels(&trial, 299.5, 365.0).is_empty());
}
