//! Recordings of rides over a real Bluetooth stack, kept as files: the core must still do what it did then, to the row,
//! the event and the octet. How they are renewed stands in `tests/data/recordings/README.md`.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use stillroad::cli::export::export;
use stillroad::cli::replay::{replay, report};
use stillroad::engine::replay::{LogEnd, Replayed};
use stillroad::record::log::LogReader;
use stillroad::store::recording::Recording;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/recordings")
}

/// A kept recording, replayed.
pub(crate) fn replayed(name: &str) -> Replayed {
    let recording = Recording::open(&folder().join(format!("{name}.zip"))).unwrap();
    replay(&recording, |_| {}).unwrap()
}

/// The check of the last line of its log.
fn check(name: &str) -> String {
    let recording = Recording::open(&folder().join(format!("{name}.zip"))).unwrap();
    let mut reader = LogReader::new(recording.lines("raw.csv").unwrap().unwrap());
    while reader.next_item().unwrap().is_some() {}
    reader.check().to_owned()
}

/// The names and checks of the table in the README.
fn listed() -> BTreeMap<String, String> {
    let page = fs::read_to_string(folder().join("README.md")).unwrap();
    let cells = |line: &str| -> Option<(String, String)> {
        let mut cells = line.strip_prefix("| `")?.split('|').map(str::trim);
        let name = cells.next()?.trim_end_matches('`').to_owned();
        let check = cells.next()?.trim_matches('`').to_owned();
        let rest: Vec<_> = cells.map(str::to_owned).collect();
        assert!(
            rest.iter().filter(|cell| !cell.is_empty()).count() >= 2,
            "{name}: no reason is given"
        );
        Some((name, check))
    };
    page.lines().filter_map(cells).collect()
}

#[test]
fn every_kept_recording_replays_exactly() {
    let listed = listed();
    let mut found: Vec<_> = fs::read_dir(folder())
        .unwrap()
        .filter_map(|entry| {
            Some(
                entry
                    .unwrap()
                    .file_name()
                    .to_str()?
                    .strip_suffix(".zip")?
                    .to_owned(),
            )
        })
        .collect();
    found.sort();
    assert_eq!(
        found,
        listed.keys().cloned().collect::<Vec<_>>(),
        "the table and the files"
    );
    for name in found {
        let replayed = replayed(&name);
        let (text, well) = report(&name, &replayed);
        assert!(well && replayed.end == LogEnd::Closed, "{text}");
        assert!(replayed.lines[0] > 5 && replayed.requests > 3, "{text}");
        // A file that was renewed has another check, so that nobody renews one without a word.
        assert_eq!(
            check(&name),
            listed[&name],
            "{name}: the check in the table"
        );
    }
}

/// Of the two shapes in which rows were written each is kept, and both are read.
#[test]
fn recordings_of_before_rows_said_whose_their_figures_are_are_read_and_replayed() {
    use stillroad::record::{Row, decode};
    for (name, before) in [("split", true), ("sensors", false)] {
        let remarks = replayed(name).differences.remarks;
        let told = remarks
            .iter()
            .any(|words| words.contains("before there were the columns"));
        assert_eq!(told, before, "{name}: {remarks:?}");
        let recording = Recording::open(&folder().join(format!("{name}.zip"))).unwrap();
        let samples = recording.bytes("samples.csv").unwrap().unwrap();
        let read = decode::<Row>(samples.as_slice()).unwrap();
        assert!(read.problems.is_empty() && read.records.len() > 5, "{name}");
        for row in read.records {
            let told = row.power_from.is_some();
            assert_eq!(told, row.power.is_some() && !before, "{name}: {row:?}");
        }
    }
}

/// Rides the inputs of each recording that differs again and keeps what comes of it, with the reason in the table.
#[test]
#[ignore = "overwrites recordings: set STILLROAD_RENEW to the reason, after reading what `stillroad replay` says of them"]
fn renew_what_differs() {
    let reason = std::env::var("STILLROAD_RENEW").expect("STILLROAD_RENEW says why");
    assert!(
        reason.split_whitespace().count() >= 4 && !reason.contains(['|', '\n']),
        "a reason is a sentence: {reason}"
    );
    for name in listed().keys() {
        let differs = replayed(name);
        if differs.differences.count == 0 {
            continue;
        }
        println!("{}", report(name, &differs).0);
        let (path, new) = (
            folder().join(format!("{name}.zip")),
            folder().join(format!("{name}.new.zip")),
        );
        export(&Recording::open(&path).unwrap(), &new, true).unwrap();
        fs::rename(&new, &path).unwrap();
        let page = folder().join("README.md");
        let text = fs::read_to_string(&page).unwrap();
        let line = text
            .lines()
            .find(|line| line.starts_with(&format!("| `{name}` |")))
            .unwrap();
        let happens = line.split('|').nth(3).unwrap().trim();
        let now = format!("| `{name}` | `{}` | {happens} | {reason} |", check(name));
        fs::write(&page, text.replace(line, &now)).unwrap();
    }
}
