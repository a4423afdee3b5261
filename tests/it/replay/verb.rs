//! `stillroad replay` and `stillroad export` as they are started by hand: what they print, and how they end.

use std::fs;

use super::log::{recorded, short_ride};
use crate::program::{printed, stillroad};

#[test]
fn a_replay_ends_with_0_where_all_is_the_same_and_with_1_where_anything_differs() {
    let home = tempfile::tempdir().unwrap();
    let here = home.path();
    fs::rename(
        recorded(&short_ride(), &here.join("rides")).remove(0),
        here.join("ride"),
    )
    .unwrap();
    let ended = stillroad(here, &["replay", "ride"]);
    assert_eq!(ended.status.code(), Some(0), "{}", printed(&ended));
    assert!(
        printed(&ended).contains("Nothing differs"),
        "{}",
        printed(&ended)
    );

    // At a pace the ride is shown as it goes.
    let ended = stillroad(here, &["replay", "ride", "--pace", "20"]);
    assert_eq!(ended.status.code(), Some(0));
    let text = printed(&ended);
    // The session is 27 seconds long.
    assert!(text.contains(" of 0:27  "), "{text}");

    let ended = stillroad(here, &["export", "ride", "--to", "ride.zip"]);
    assert_eq!(ended.status.code(), Some(0), "{}", printed(&ended));
    assert_eq!(
        stillroad(here, &["replay", "ride.zip"]).status.code(),
        Some(0)
    );
    let again = stillroad(here, &["export", "ride", "--to", "ride.zip"]);
    assert_eq!(again.status.code(), Some(1));

    let rows = here.join("ride/samples.csv");
    let text = fs::read_to_string(&rows).unwrap();
    let changed = text.replacen("warm-up", "cool-down", 1);
    fs::write(&rows, changed).unwrap();
    let ended = stillroad(here, &["replay", "ride"]);
    assert_eq!(ended.status.code(), Some(1));
    assert!(
        printed(&ended).contains("samples.csv, line 2, kind: kept cool-down, replayed warm-up"),
        "{}",
        printed(&ended)
    );

    for arguments in [
        &["replay", "nowhere"][..],
        &["export", "nowhere", "--to", "x.zip"],
    ] {
        let ended = stillroad(here, arguments);
        assert_eq!(ended.status.code(), Some(1));
        let said = String::from_utf8(ended.stderr).unwrap();
        assert!(said.contains("There is no recording at nowhere"), "{said}");
    }
}
