//! What is made of a recording after the ride: handed over, noted on; and two programs that keep rides in one folder.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use stillroad::cli::replay::{replay, report};
use stillroad::store::disk::{Disk, RealDisk};
use stillroad::store::read_ride;
use stillroad::store::recording::Recording;

mod said;

fn stillroad(home: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillroad"));
    command
        .args(arguments)
        .current_dir(home)
        .env("STILLROAD_HOME", "kept")
        .env("LC_ALL", "C")
        .env_remove("LANGUAGE")
        .stdin(Stdio::null());
    command
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&[output.stdout.clone(), output.stderr.clone()].concat()).into_owned()
}

fn well(home: &Path, arguments: &[&str]) -> String {
    let output = stillroad(home, arguments).output().unwrap();
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    said(&output)
}

fn refused(home: &Path, arguments: &[&str], words: &str) {
    let output = stillroad(home, arguments).output().unwrap();
    let said = said(&output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains(words), "{said}");
}

const SESSION: &str = "format = 1\nname = \"Hills with Ottilie\"\npurpose = \"To be sent.\"\n\
    [[block]]\nkind = \"warm-up\"\ntime = \"0:40\"\neffort = [2, 5]\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\n";

/// A heart over its ceiling eases the load, so that events tell of it too.
const RIDER: &str = "name = \"Ottilie Quast\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n\
    age = 43\nmax_heart_rate = 191\nheart_rate_ceiling = 182\n";

/// A ride of a hundred seconds with a heart strap, and its folder.
fn ridden(home: &Path) -> PathBuf {
    fs::write(home.join("s.toml"), SESSION).unwrap();
    fs::write(home.join("r.toml"), RIDER).unwrap();
    well(
        home,
        &[
            "ride", "s.toml", "--rider", "r.toml", "--heart", "practice", "--pace", "max", "--out",
            "rides",
        ],
    );
    folders(&home.join("rides")).remove(0)
}

fn folders(rides: &Path) -> Vec<PathBuf> {
    let mut folders: Vec<_> = fs::read_dir(rides)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    folders.sort();
    folders
}

fn text(recording: &Recording, file: &str) -> String {
    let bytes = recording.bytes(file).unwrap();
    String::from_utf8(bytes.unwrap_or_default()).unwrap()
}

const FILES: [&str; 8] = [
    "ride.toml",
    "session.toml",
    "rider.toml",
    "samples.csv",
    "events.csv",
    "notes.csv",
    "raw.csv",
    "datapackage.json",
];

#[test]
fn a_ride_is_handed_over_as_it_is() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let ride = folder.to_str().unwrap();
    well(home.path(), &["hand-over", ride, "--to", "a.zip"]);
    let made = Recording::open(&home.path().join("a.zip")).unwrap();
    for file in FILES {
        assert_eq!(
            text(&made, file),
            fs::read_to_string(folder.join(file)).unwrap(),
            "{file}"
        );
    }
    let (says, well_replayed) = report("it", &replay(&made, |_| {}).unwrap());
    assert!(well_replayed, "{says}");
    refused(
        home.path(),
        &["hand-over", ride, "--to", "a.zip"],
        "cannot be written",
    );
    refused(
        home.path(),
        &["hand-over", "nowhere", "--to", "b.zip"],
        "There is no recording at nowhere",
    );
    fs::create_dir(home.path().join("empty")).unwrap();
    refused(
        home.path(),
        &["hand-over", "empty", "--to", "b.zip"],
        "is no recording",
    );
}

#[test]
fn a_coach_reviews_the_file_that_was_handed_over_as_it_came() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let ride = folder.to_str().unwrap();
    well(home.path(), &["hand-over", ride, "--to", "a.zip"]);
    for verb in [&["review"][..], &["review", "--json"]] {
        let of = |recording| well(home.path(), &[verb, &[recording]].concat());
        let told = of("a.zip");
        assert!(told.contains("Hills with Ottilie"), "{told}");
        assert_eq!(told, of(ride));
    }
    let compared = well(home.path(), &["compare", "a.zip", ride]);
    assert!(
        compared.matches("Hills with Ottilie").count() > 1,
        "{compared}"
    );
    let (sent, kept) = (read_ride(&home.path().join("a.zip")), read_ride(&folder));
    let (sent, kept) = (sent.unwrap(), kept.unwrap());
    assert_eq!((sent.rows, sent.events), (kept.rows, kept.events));
    assert_eq!((sent.start, sent.notes), (kept.start, kept.notes));
    assert_eq!((sent.finish, sent.problems), (kept.finish, kept.problems));

    // Without the heart rate there is no log, which is said of the file as of a folder.
    well(
        home.path(),
        &["hand-over", ride, "--to", "b.zip", "--without-heart-rate"],
    );
    let told = well(home.path(), &["review", "b.zip"]);
    assert!(told.contains("There is no raw.csv in"), "{told}");

    // Nothing is added to what was sent, and what is no ride is no ride.
    let before = fs::read(home.path().join("a.zip")).unwrap();
    refused(
        home.path(),
        &["note", "a.zip", "Well ridden"],
        "with --to, for whoever has the ride",
    );
    assert_eq!(fs::read(home.path().join("a.zip")).unwrap(), before);
    fs::write(home.path().join("torn.zip"), &before[..before.len() / 2]).unwrap();
    refused(
        home.path(),
        &["review", "torn.zip"],
        "torn.zip is no recording",
    );
    refused(home.path(), &["review", "s.toml"], "s.toml is no recording");
}

#[test]
fn a_name_that_is_taken_out_stands_nowhere() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let ride = folder.to_str().unwrap();
    well(home.path(), &["note", ride, "Ottilie was tired"]);
    well(
        home.path(),
        &["hand-over", ride, "--to", "b.zip", "--without-name"],
    );
    let made = Recording::open(&home.path().join("b.zip")).unwrap();
    for file in FILES {
        let text = text(&made, file).to_lowercase();
        assert!(!text.is_empty(), "{file}");
        assert!(
            !text.contains("ottilie") && !text.contains("quast"),
            "{file}: {text}"
        );
    }
    // The day and every figure stay.
    let same = |file: &str| {
        assert_eq!(
            text(&made, file),
            fs::read_to_string(folder.join(file)).unwrap()
        )
    };
    same("samples.csv");
    let (says, well_replayed) = report("it", &replay(&made, |_| {}).unwrap());
    assert!(well_replayed, "{says}");
}

#[test]
fn a_heart_rate_that_is_taken_out_stands_nowhere() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let before = read_ride(&folder).unwrap();
    assert!(
        before
            .rows
            .iter()
            .filter(|row| row.heart_rate.is_some())
            .count()
            > 80
    );
    let ride = folder.to_str().unwrap();
    well(
        home.path(),
        &["hand-over", ride, "--to", "c.zip", "--without-heart-rate"],
    );
    let made = Recording::open(&home.path().join("c.zip")).unwrap();
    assert!(made.bytes("raw.csv").unwrap().is_none());
    assert!(!text(&made, "datapackage.json").contains("raw.csv"));
    let rows: Vec<Vec<String>> = text(&made, "samples.csv")
        .lines()
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect();
    let column = |name: &str| rows[0].iter().position(|cell| cell == name).unwrap();
    for row in &rows[1..] {
        assert_eq!(
            (
                &*row[column("heart_rate_bpm")],
                &*row[column("heart_rate_from")]
            ),
            ("", "")
        );
        assert!(!row[column("power_w")].is_empty() || row[column("ridden_s")].len() < 2);
    }
    assert_eq!(rows.len(), before.rows.len() + 1);
    for file in ["ride.toml", "rider.toml", "events.csv", "notes.csv"] {
        let text = text(&made, file);
        assert!(!text.to_lowercase().contains("heart"), "{file}: {text}");
        if file.ends_with(".toml") {
            for figure in ["= 43", "= 191", "= 182"] {
                assert!(!text.contains(figure), "{file}: {text}");
            }
        }
    }
    // What is no heart's is there as it was.
    assert!(text(&made, "events.csv").contains(",target,"));
    assert!(text(&made, "ride.toml").contains("Ottilie Quast"));
}

#[test]
fn a_word_of_the_coach_comes_back_and_is_added() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let ride = folder.to_str().unwrap();
    let before = fs::read(folder.join("notes.csv")).unwrap();
    well(home.path(), &["hand-over", ride, "--to", "a.zip"]);
    well(
        home.path(),
        &[
            "note",
            "a.zip",
            "=Half a gear harder",
            "--from",
            "coach",
            "--block",
            "2",
            "--to",
            "word.csv",
        ],
    );
    refused(
        home.path(),
        &["note", "a.zip", "x", "--from", "coach", "--to", "word.csv"],
        "cannot be written",
    );
    let taken = well(home.path(), &["note", ride, "--take", "word.csv"]);
    assert!(taken.contains("1 notes are added"), "{taken}");
    let again = well(home.path(), &["note", ride, "--take", "word.csv"]);
    assert!(
        again.contains("0 notes are added") && again.contains("1 were in it already"),
        "{again}"
    );
    well(home.path(), &["note", ride, "Fan was off"]);
    let after = fs::read(folder.join("notes.csv")).unwrap();
    assert!(after.starts_with(&before));
    let notes = read_ride(&folder).unwrap().notes;
    let told: Vec<_> = notes
        .iter()
        .map(|note| (&*note.what, note.block, &*note.text))
        .collect();
    assert_eq!(
        told,
        [
            ("coach", Some(2), "=Half a gear harder"),
            ("remark", None, "Fan was off")
        ]
    );
    // What was added after the ride is no difference of its replay.
    well(home.path(), &["replay", ride]);

    refused(home.path(), &["note", ride, "  "], "A note is some words");
    refused(home.path(), &["note", "nowhere", "x"], "no ride.toml");
    refused(
        home.path(),
        &["note", ride, "--take", "s.toml"],
        "holds no note",
    );
    refused(
        home.path(),
        &["note", ride, "--take", "nowhere.csv"],
        "cannot be read",
    );
    let held = RealDisk.hold(&folder).unwrap();
    refused(
        home.path(),
        &["note", ride, "x"],
        "is being written by a program now",
    );
    drop(held);
}

#[test]
fn two_programs_keep_their_rides_in_one_folder() {
    let home = tempfile::tempdir().unwrap();
    fs::write(home.path().join("s.toml"), SESSION).unwrap();
    let start = |seed: &str| {
        stillroad(
            home.path(),
            &[
                "ride",
                "s.toml",
                "--trainer",
                "practice",
                "--pace",
                "50",
                "--out",
                "rides",
                "--seed",
                seed,
            ],
        )
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
    };
    let programs = [start("1"), start("2"), start("3")];
    for mut program in programs {
        assert!(program.wait().unwrap().success());
    }
    let folders = folders(&home.path().join("rides"));
    assert_eq!(folders.len(), 3, "{folders:?}");
    for folder in folders {
        let ride = read_ride(&folder).unwrap();
        assert!(ride.problems.is_empty(), "{:?}", ride.problems);
        assert_eq!(
            (ride.rows.len(), ride.finish.as_deref()),
            (100, Some("completed"))
        );
        well(home.path(), &["replay", folder.to_str().unwrap()]);
    }
}
