//! The verb itself, on rides that the program rode.

use std::fs;
use std::path::{Path, PathBuf};

use crate::program::{printed, stillroad};
use serde_json::Value;

/// The folder of a ride in `kept/rides`.
fn ride(here: &Path, session: &str) -> PathBuf {
    let text = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\n\
                effort = [2, 4]\n[[block]]\nkind = \"hold\"\ntime = \"3:00\"\neffort = 7\n[[block]]\nkind = \"cool-down\"\n\
                time = \"1:00\"\neffort = 2\n";
    fs::write(here.join(session), text).unwrap();
    let ended = stillroad(
        here,
        &["ride", session, "--pace", "max", "--heart", "practice"],
    );
    assert_eq!(ended.status.code(), Some(0), "{}", printed(&ended));
    let mut rides = fs::read_dir(here.join("kept/rides")).unwrap();
    rides.next().unwrap().unwrap().path()
}

#[test]
fn a_ride_is_reviewed_by_its_folder_or_its_name_and_in_every_form() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    let folder = ride(here, "pier.toml");
    let by_folder = stillroad(here, &["review", folder.to_str().unwrap()]);
    assert_eq!(by_folder.status.code(), Some(0));
    let text = printed(&by_folder);
    assert!(text.starts_with("Pier\n"), "{text}");
    assert!(
        text.contains("Ridden to the end: 6:00 of a session of 6:00."),
        "{text}"
    );
    // A report for a terminal of a hundred characters.
    let widest = text.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(100), "{widest:?}\n{text}");
    let name = folder.file_name().unwrap().to_str().unwrap();
    let by_name = stillroad(
        here,
        &["review", name, "--html", "page.html", "--csv", "blocks.csv"],
    );
    assert_eq!(printed(&by_name), text);
    assert!(
        fs::read_to_string(here.join("page.html"))
            .unwrap()
            .contains("</html>")
    );
    assert_eq!(
        fs::read_to_string(here.join("blocks.csv"))
            .unwrap()
            .lines()
            .count(),
        4
    );
    let json = stillroad(here, &["review", name, "--json"]);
    let json: Value = serde_json::from_str(&printed(&json)).unwrap();
    assert_eq!(json["version"], 1);
    assert_eq!(json["rides"][0]["ride"]["ridden_s"], 360);
    assert_eq!(json["rides"][0]["ride"]["rating"], Value::Null);
}

#[test]
fn what_cannot_be_opened_is_said_and_the_others_are_reviewed() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    let folder = ride(here, "pier.toml");
    let nowhere = stillroad(here, &["review", "no-such-ride"]);
    assert_eq!(nowhere.status.code(), Some(1));
    let sentence = String::from_utf8(nowhere.stderr).unwrap();
    assert!(sentence.contains("no-such-ride"), "{sentence}");
    // Nothing but the start was kept, and a damaged file beside it.
    let bare = here.join("bare");
    fs::create_dir(&bare).unwrap();
    fs::copy(folder.join("ride.toml"), bare.join("ride.toml")).unwrap();
    fs::write(bare.join("samples.csv"), "\u{0}\u{1}nothing").unwrap();
    let both = ["review", "bare", folder.to_str().unwrap(), "no-such-ride"];
    let ended = stillroad(here, &both);
    assert_eq!(
        ended.status.code(),
        Some(1),
        "one of them could not be opened"
    );
    let text = printed(&ended);
    assert!(text.contains("nothing to review"), "{text}");
    assert!(text.contains("samples.csv"), "and what was wrong: {text}");
    assert!(text.contains("Ridden to the end: 6:00"), "{text}");
    assert!(text.contains("no-such-ride was not reviewed"), "{text}");
    // A page that cannot be written is no silent loss.
    let ended = stillroad(
        here,
        &[
            "review",
            folder.to_str().unwrap(),
            "--html",
            "bare",
            "--replace",
        ],
    );
    assert_eq!(ended.status.code(), Some(1));
    let sentence = String::from_utf8(ended.stderr).unwrap();
    assert!(sentence.contains("cannot be saved"), "{sentence}");
    // Nothing is replaced unasked, least of all the recording itself.
    let samples = folder.join("samples.csv");
    let before = fs::read(&samples).unwrap();
    for option in ["--html", "--csv"] {
        let named = [
            "review",
            folder.to_str().unwrap(),
            option,
            samples.to_str().unwrap(),
        ];
        let ended = stillroad(here, &named);
        assert_eq!(ended.status.code(), Some(1));
        let sentence = String::from_utf8(ended.stderr).unwrap();
        assert!(sentence.contains("is there already"), "{sentence}");
        assert_eq!(fs::read(&samples).unwrap(), before);
    }
}
