//! The program itself, as it is started by hand: which file a name means, and how it ends.

use std::fs;

use crate::program::{printed, stillroad};
use serde_json::Value;

const SESSION: &str = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n[[block]]\nkind = \"warm-up\"\ntime = \"10:00\"\neffort = [2, 4]\n[[block]]\nkind = \"cool-down\"\ntime = \"5:00\"\neffort = 2\n";

#[test]
fn every_file_is_looked_over_whatever_the_one_before_it_is() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    fs::create_dir(here.join("folder.toml")).unwrap();
    fs::write(here.join("good.toml"), SESSION).unwrap();
    let files = ["folder.toml", "nowhere.toml", "good.toml"];

    let ended = stillroad(here, &["check", "folder.toml", "nowhere.toml", "good.toml"]);
    assert_eq!(ended.status.code(), Some(1));
    let text = printed(&ended);
    let line = |start: &str| text.lines().find(|line| line.starts_with(start)).unwrap();
    assert!(line("folder.toml: ").contains("is a folder, not a session file"));
    assert!(!line("folder.toml: ").contains("Built-in"));
    let nowhere = line("nowhere.toml: ");
    assert!(nowhere.contains("There is no session file at"));
    assert!(nowhere.contains("first-ride"), "{nowhere}");
    assert_eq!(line("good.toml: "), "good.toml: no problems");

    let ended = stillroad(here, &[&["check", "--json"][..], &files].concat());
    assert_eq!(ended.status.code(), Some(1));
    let report: Value = serde_json::from_str(&printed(&ended)).unwrap();
    assert_eq!(report["ok"], false);
    for (place, file) in files.iter().enumerate() {
        let told = &report["files"][place];
        assert_eq!(told["file"], *file);
        assert_eq!(told["trouble"].is_string(), place < 2, "{told}");
        assert_eq!(told["session"].is_object(), place == 2, "{told}");
    }
    assert_eq!(
        stillroad(here, &["check", "good.toml"]).status.code(),
        Some(0)
    );
}

/// A plain file goes before a built-in session, which goes before one of the user's folder; folders count for nothing.
#[test]
fn what_a_name_means() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    let own = here.join("kept/sessions");
    fs::create_dir_all(&own).unwrap();
    fs::write(own.join("pier.toml"), SESSION).unwrap();
    fs::write(own.join("first-ride.toml"), SESSION).unwrap();
    fs::create_dir(here.join("first-ride")).unwrap();
    fs::create_dir(here.join("pier")).unwrap();
    fs::write(here.join("recovery-spin"), SESSION).unwrap();
    let first_line = |name: &str| {
        let ended = stillroad(here, &["check", name]);
        assert_eq!(ended.status.code(), Some(0), "{name}: {}", printed(&ended));
        printed(&ended).lines().next().unwrap().to_owned()
    };
    assert_eq!(first_line("first-ride"), "To the quay and back");
    assert_eq!(first_line("pier"), "Pier");
    assert_eq!(first_line("recovery-spin"), "Pier");
    // A path is a path and no name: nothing is looked for in the user's folder.
    let ended = stillroad(here, &["check", "../sessions/pier"]);
    assert_eq!(ended.status.code(), Some(1));
    assert!(printed(&ended).contains("There is no session file at ../sessions/pier"));
}

#[test]
fn an_empty_rider_file_can_be_used_and_a_relative_home_is_shown_whole() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path().canonicalize().unwrap();
    fs::write(here.join("rider.toml"), "").unwrap();
    let ended = stillroad(&here, &["check", "first-ride", "--rider", "rider.toml"]);
    assert_eq!(ended.status.code(), Some(0));
    // The cautious rider's caps.
    let words = printed(&ended);
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("threshold 120 W, held to 200 W at most, 300 W in sprints"),
        "{words}"
    );
    let places = printed(&stillroad(&here, &["where"]));
    let sessions = here.join("kept").join("sessions");
    assert!(
        places.contains(&format!("sessions  {}\n", sessions.display())),
        "{places}"
    );
}

#[test]
fn fit_offers_the_step_back_towards_full_recoveries() {
    let home = tempfile::tempdir().unwrap();
    let data = home.path().join("kept").join("memory.toml");
    fs::create_dir(home.path().join("kept")).unwrap();
    let said = |arguments: &[&str]| printed(&stillroad(home.path(), arguments));
    let places = said(&["where"]);
    assert!(places.contains("memory.toml"), "{places}");
    // By the name in the file of the session.
    let memory =
        "version = 1\n[[eased]]\nsession = \"Four times to the light\"\nrecoveries = \"HOW\"\n";
    for (how, offered) in [
        (
            "easier",
            "Last time with easier recoveries; half-way today?",
        ),
        (
            "half-way",
            "Last time half-way back to the full recoveries; full today?",
        ),
    ] {
        fs::write(&data, memory.replace("HOW", how)).unwrap();
        let told = said(&["fit", "steady-repeats", "--minutes", "40"]);
        assert!(told.contains(offered), "{told}");
        assert!(
            told.contains("Lee of the wall") && !told.contains("Recoveries"),
            "{told}"
        );
        let told = said(&["fit", "steady-repeats", "--easier-recoveries"]);
        assert!(!told.contains("Last time"), "{told}");
        assert!(!said(&["fit", "recovery-spin"]).contains("Last time"));
    }
}

#[test]
fn a_cue_sheet_replaces_nothing_unasked() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    fs::write(here.join("pier.toml"), SESSION).unwrap();
    fs::write(here.join("sheet.html"), "mine").unwrap();
    let sheet = ["cue-sheet", "pier.toml", "--out", "sheet.html"];
    let ended = stillroad(here, &sheet);
    assert_eq!(ended.status.code(), Some(1));
    let said = String::from_utf8(ended.stderr).unwrap();
    assert!(said.contains("is there already"), "{said}");
    assert!(said.contains("--replace"), "{said}");
    assert_eq!(fs::read_to_string(here.join("sheet.html")).unwrap(), "mine");
    let ended = stillroad(here, &[&sheet[..], &["--replace"]].concat());
    assert_eq!(ended.status.code(), Some(0));
    assert!(
        fs::read_to_string(here.join("sheet.html"))
            .unwrap()
            .contains("Pier")
    );
    let ended = stillroad(here, &["cue-sheet", "pier.toml", "--out", "other.html"]);
    assert_eq!(ended.status.code(), Some(0));
}

#[test]
fn what_cannot_be_joined_heard_or_recorded_is_a_sentence() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    let cues = "cue = [{ at = \"0:30\", kind = \"do\", say = \"Easy.\" }, { at = \"1:00\", kind = \"do\", say = \"{left} left.\" }]\n";
    fs::write(here.join("pier.toml"), format!("{SESSION}{cues}")).unwrap();
    let refused = |arguments: &[&str], words: &str| {
        let ended = stillroad(here, arguments);
        assert_ne!(ended.status.code(), Some(0), "{arguments:?}");
        let said = String::from_utf8(ended.stderr).unwrap();
        assert!(said.contains(words), "{arguments:?}: {said}");
    };
    let ride = [
        "ride",
        "pier.toml",
        "--trainer",
        "practice",
        "--pace",
        "max",
    ];
    let with = |more: &[&'static str]| [&ride[..], more].concat();
    refused(&with(&["--sound"]), "nothing can be heard");
    refused(&with(&["--join", "15"]), "cannot be joined at 15:00");
    refused(&with(&["--join", "soon"]), "write the minute");
    refused(&with(&["--at", "25:00"]), "as 18:30");
    refused(
        &with(&["--at", "18:30", "--join", "3"]),
        "cannot be used with",
    );
    refused(
        &["ride", "three-minutes", "--join", "3", "--pace", "max"],
        "its own clock",
    );
    refused(&["record-cue", "pier.toml", "7"], "there is no cue 7");
    refused(
        &["record-cue", "pier.toml", "2", "--seconds", "1"],
        "figures that change",
    );
    refused(&["record-cue", "pier.toml", "1"], "--seconds");
    let listed = printed(&stillroad(here, &["cues", "pier.toml"]));
    assert!(listed.contains("Pier: 2 cues."), "{listed}");
    assert!(listed.contains("spoken: its figures change"), "{listed}");
}

#[test]
fn a_session_is_joined_at_a_minute_and_its_rows_begin_there() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    fs::write(here.join("pier.toml"), SESSION).unwrap();
    let arguments = [
        "ride",
        "pier.toml",
        "--trainer",
        "practice",
        "--pace",
        "max",
        "--join",
        "12:30",
        "--out",
        "rides",
    ];
    let ended = stillroad(here, &arguments);
    assert_eq!(ended.status.code(), Some(0));
    assert!(
        printed(&ended).contains("2:30 ridden"),
        "{}",
        printed(&ended)
    );
    let folder = fs::read_dir(here.join("rides"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let samples = fs::read_to_string(folder.join("samples.csv")).unwrap();
    assert_eq!(samples.lines().count(), 151);
    let first: Vec<&str> = samples.lines().nth(1).unwrap().split(',').collect();
    assert_eq!(first[0], "1");
    assert!(first[1].starts_with("751"), "{first:?}");
    // The whole log rides again to the same rows, and the review has nothing to complain of.
    let folder = folder.display().to_string();
    assert_eq!(stillroad(here, &["replay", &folder]).status.code(), Some(0));
    assert_eq!(stillroad(here, &["review", &folder]).status.code(), Some(0));
}
