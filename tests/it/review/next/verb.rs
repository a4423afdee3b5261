//! The verb itself, on a ride's folder made by hand.

use std::fs;
use std::path::Path;

use serde_json::Value;
use stillroad::plan;
use stillroad::record::{EventLine, Table, encode, encode_header, ride_toml};

use super::{Rec, low};
use crate::program::{printed, stillroad};

fn file<T: Table>(records: &[T]) -> Vec<u8> {
    let mut bytes = Vec::new();
    encode_header::<T>(&mut bytes).unwrap();
    for record in records {
        encode(record, &mut bytes).unwrap();
    }
    bytes
}

fn put(here: &Path, kept: &Rec) {
    let folder = here.join("ride");
    fs::create_dir(&folder).unwrap();
    let mut end = kept.events.clone();
    let last = kept.rows.last().unwrap();
    end.push(EventLine {
        ridden_s: last.ridden_s as f64,
        plan_s: last.plan_s,
        utc_ms: last.utc_ms,
        what: "end".into(),
        detail: "completed".into(),
    });
    for (name, bytes) in [
        (
            "ride.toml",
            ride_toml::write(&kept.start).unwrap().into_bytes(),
        ),
        ("session.toml", kept.start.session_text.as_bytes().to_vec()),
        ("rider.toml", kept.start.rider_text.as_bytes().to_vec()),
        ("samples.csv", file(&kept.rows)),
        ("events.csv", file(&end)),
        ("notes.csv", file(&kept.notes)),
    ] {
        fs::write(folder.join(name), bytes).unwrap();
    }
}

#[test]
fn a_next_session_is_told_with_its_forecast_and_written_once() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    put(here, &low());
    let told = stillroad(here, &["next", "ride"]);
    let text = printed(&told);
    assert_eq!(told.status.code(), Some(0), "{text}");
    for words in [
        "Four times to the light next, from a ride of Four times to the light.",
        "Causeway: effort 7.7 in place of effort 7.5.",
        "Common practice: add 2 %",
        "as written   48:00, W′ stays full",
        "as proposed  48:00, W′ stays full",
        "you and your coach decide",
        "Nothing was written.",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let to = ["next", "ride", "--to", "harder.toml"];
    let told = stillroad(here, &to);
    assert_eq!(told.status.code(), Some(0));
    assert!(printed(&told).contains("Written to harder.toml."));
    let written = fs::read_to_string(here.join("harder.toml")).unwrap();
    assert!(plan::read(&written).problems.is_empty());
    assert!(written.contains("\neffort = 7.7\n"));
    assert_eq!(
        stillroad(here, &["check", "harder.toml"]).status.code(),
        Some(0)
    );
    // Nothing is written over.
    fs::write(here.join("harder.toml"), "mine").unwrap();
    let refused = stillroad(here, &to);
    assert_eq!(refused.status.code(), Some(1));
    let sentence = String::from_utf8(refused.stderr).unwrap();
    assert!(sentence.contains("is there already"), "{sentence}");
    assert_eq!(
        fs::read_to_string(here.join("harder.toml")).unwrap(),
        "mine"
    );
    let json: Value =
        serde_json::from_str(&printed(&stillroad(here, &["next", "ride", "--json"]))).unwrap();
    assert_eq!(json["changes"][0]["is"], "effort 7.7");
    assert_eq!(json["unchanged_because"], Value::Null);
    assert_eq!(json["text"], Value::String(written));
    let work = |which: &str| json[which]["asked"]["work_kj"].as_f64().unwrap();
    // Twenty minutes of 3.6 W more, 0.2 of an effort between 7 and 8 at 200 W: 4.3 kJ.
    assert!((work("as_proposed") - work("as_written") - 4.32).abs() < 0.01);
}

#[test]
fn where_nothing_is_proposed_it_says_so_and_writes_nothing() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    let mut kept = low();
    kept.notes.clear();
    put(here, &kept);
    let told = stillroad(here, &["next", "ride"]);
    assert_eq!(told.status.code(), Some(0), "it was answered");
    assert!(printed(&told).contains("No hold was rated"));
    let told = stillroad(here, &["next", "ride", "--to", "copy.toml"]);
    assert_eq!(told.status.code(), Some(1), "a file was asked for");
    assert!(printed(&told).contains("copy.toml was not written."));
    assert!(!here.join("copy.toml").exists());
    let json = printed(&stillroad(here, &["next", "ride", "--json"]));
    let json: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["changes"], Value::Array(Vec::new()));
    let why = json["unchanged_because"].as_str().unwrap();
    assert!(why.contains("No hold was rated"));
    let told = stillroad(here, &["next", "nowhere"]);
    assert_eq!(told.status.code(), Some(1));
    let sentence = String::from_utf8(told.stderr).unwrap();
    assert!(sentence.contains("nowhere"), "{sentence}");
}

/// A name of a file is octets, and not each of them is text that JSON can hold.
#[cfg(unix)]
#[test]
fn a_file_whose_name_is_no_text_is_written_and_told_as_it_is_shown() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt as _;
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    put(here, &low());
    let name = OsStr::from_bytes(b"next-\xff.toml");
    let told = std::process::Command::new(env!("CARGO_BIN_EXE_stillroad"))
        .args(["next", "ride", "--json", "--to"])
        .arg(name)
        .current_dir(here)
        .env("STILLROAD_HOME", "kept")
        .env("LC_ALL", "C")
        .env_remove("LANGUAGE")
        .output()
        .unwrap();
    assert_eq!(told.status.code(), Some(0), "{told:?}");
    let json: Value = serde_json::from_slice(&told.stdout).unwrap();
    assert_eq!(json["written_to"], "next-\u{fffd}.toml");
    assert!(here.join(name).exists());
}
