//! What is said after the ride of marks, and of how the day was.

use std::fs;

use stillroad::store::read_ride;
use stillroad::store::recording::Recording;

use super::{refused, ridden, stillroad, text, well};

/// Words of a mark and how the day was: kept where they can be, refused in a sentence where not, and then nothing is kept.
#[test]
fn marks_and_the_day_are_spoken_of_after_the_ride() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let ride = folder.to_str().unwrap();
    refused(
        home.path(),
        &["note", ride, "The knee", "--mark", "1"],
        "no moment of it was marked",
    );
    // Two moments as a ride keeps them.
    let events = fs::read_to_string(folder.join("events.csv")).unwrap();
    let marks = "41.300,41.300,2026-01-01T00:00:41.300Z,mark,1\n60.000,60.000,2026-01-01T00:01:00.000Z,mark,2\n";
    fs::write(folder.join("events.csv"), events + marks).unwrap();
    let before = fs::read(folder.join("notes.csv")).unwrap();

    for (arguments, words) in [
        (
            &["The knee", "--mark", "3"][..],
            "The ride has no mark 3: its marks are 1 to 2. Nothing was kept",
        ),
        (&["The knee", "--mark", "0"], "The ride has no mark 0"),
        (
            &["--room", "80"],
            "A room's temperature of 80 °C is outside -10 to 50 °C, so nothing was kept.",
        ),
        (&["--room", "-11"], "A room's temperature of -11 °C"),
        (&["--room", "NaN"], "A room's temperature of NaN"),
        (
            &["--sleep", "25"],
            "A night's sleep of 25 h is outside 0 to 24 h",
        ),
        (&["--sleep", "-1"], "A night's sleep of -1 h"),
        (
            &["--soreness", "11"],
            "A soreness of 11 is outside 0 to 10, so nothing was kept.",
        ),
        (&["--paused", "  "], "A note is some words"),
        (&["--ended-early", ""], "A note is some words"),
        (
            &["--fan", "low", "--from", "coach"],
            "the rider's own to say",
        ),
        // One that cannot be keeps the others out as well.
        (
            &["All well", "--fan", "low", "--soreness", "12"],
            "A soreness of 12",
        ),
        (&["The knee", "--mark", "9", "--fan", "low"], "no mark 9"),
    ] {
        let all: Vec<&str> = ["note", ride].iter().chain(arguments).copied().collect();
        refused(home.path(), &all, words);
        assert_eq!(
            fs::read(folder.join("notes.csv")).unwrap(),
            before,
            "{arguments:?}"
        );
    }
    // What makes no sense together is told by the command line itself, with 2.
    for arguments in [
        &["--fan", "gale"][..],
        &["--room", "warm"],
        &["--mark", "1"],
        &["x", "--mark", "1", "--block", "2"],
        &["--fan", "low", "--to", "f.csv"],
        &["--fan", "low", "--take", "f.csv"],
        &[],
    ] {
        let all: Vec<&str> = ["note", ride].iter().chain(arguments).copied().collect();
        let output = stillroad(home.path(), &all).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    }

    well(home.path(), &["note", ride, "The knee", "--mark", "2"]);
    let told = well(
        home.path(),
        &[
            "note",
            ride,
            "All well",
            "--fan",
            "low",
            "--room",
            "-2.5",
            "--sleep",
            "6.5",
            "--soreness",
            "4",
            "--paused",
            "The door",
            "--ended-early",
            "Cramp",
        ],
    );
    assert!(told.contains("7 notes are added"), "{told}");
    well(home.path(), &["note", ride, "--room", "19"]);
    // The file grew and nothing in it changed.
    let after = fs::read(folder.join("notes.csv")).unwrap();
    assert!(after.starts_with(&before));
    let notes = read_ride(&folder).unwrap().notes;
    let told: Vec<_> = notes
        .iter()
        .map(|note| (&*note.what, &*note.text))
        .collect();
    assert_eq!(
        told,
        [
            ("mark-2", "The knee"),
            ("fan", "low"),
            ("room", "-2.5"),
            ("sleep", "6.5"),
            ("soreness", "4"),
            ("paused", "The door"),
            ("ended-early", "Cramp"),
            ("remark", "All well"),
            ("room", "19"),
        ]
    );
    let review = well(home.path(), &["review", ride]);
    let flat = review.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "Said and noted",
        "The day: the fan low, 19 °C in the room, 6.5 h of sleep, soreness 4 out of ten.",
        "Why the clock stood: “The door”",
        "Why it was ended early: “Cramp”",
        "Rider: “The knee”",
        "Rider, on the session: “All well”",
    ] {
        assert!(flat.contains(words), "{words}: {review}");
    }
}

/// The coach speaks of a mark of a file that was sent; what is the rider's own is not taken in from one.
#[test]
fn a_word_about_a_mark_comes_back() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let ride = folder.to_str().unwrap();
    let events = fs::read_to_string(folder.join("events.csv")).unwrap();
    let unmarked = events.clone();
    let mark = "41.300,41.300,2026-01-01T00:00:41.300Z,mark,1\n";
    fs::write(folder.join("events.csv"), events + mark).unwrap();
    well(home.path(), &["hand-over", ride, "--to", "a.zip"]);
    let of = |number: &'static str, to: &'static str| {
        [
            "note", "a.zip", "Sit back", "--from", "coach", "--mark", number, "--to", to,
        ]
    };
    refused(home.path(), &of("2", "word.csv"), "its marks are 1 to 1");
    assert!(!home.path().join("word.csv").exists());
    well(home.path(), &of("1", "word.csv"));
    // The ride of another evening has no such moment.
    fs::write(folder.join("events.csv"), unmarked.clone()).unwrap();
    refused(
        home.path(),
        &["note", ride, "--take", "word.csv"],
        "no moment of it was marked",
    );
    fs::write(folder.join("events.csv"), unmarked + mark).unwrap();
    well(home.path(), &["note", ride, "--take", "word.csv"]);
    let notes = read_ride(&folder).unwrap().notes;
    assert_eq!(
        (&*notes[0].what, &*notes[0].text),
        ("coach-mark-1", "Sit back")
    );
    for line in ["fan,,low", "room,,20", "room,,900"] {
        let text = format!("utc,block,what,rating,text\n2026-01-01T00:00:00.000Z,,{line}\n");
        fs::write(home.path().join("day.csv"), text).unwrap();
        refused(
            home.path(),
            &["note", ride, "--take", "day.csv"],
            "the rider's own to say",
        );
    }
    assert_eq!(read_ride(&folder).unwrap().notes.len(), 1);
}

/// Words of the rider can name people, so that a file without a name has none of them, nor how the day was.
#[test]
fn what_was_said_afterwards_stays_with_the_rider() {
    let home = tempfile::tempdir().unwrap();
    let folder = ridden(home.path());
    let ride = folder.to_str().unwrap();
    well(
        home.path(),
        &[
            "note",
            ride,
            "Ottilie was tired",
            "--paused",
            "Ottilie Quast at the door",
            "--ended-early",
            "Left with Ottilie",
            "--room",
            "17.25",
            "--fan",
            "high",
        ],
    );
    well(
        home.path(),
        &["hand-over", ride, "--to", "b.zip", "--without-name"],
    );
    well(home.path(), &["export", ride, "--to", "c.zip"]);
    for zip in ["b.zip", "c.zip"] {
        let made = Recording::open(&home.path().join(zip)).unwrap();
        let notes = text(&made, "notes.csv");
        for word in ["Ottilie", "Quast", "door", "17.25", "fan", "room"] {
            assert!(!notes.contains(word), "{zip}: {notes}");
        }
    }
    // As it is, it is all there.
    well(home.path(), &["hand-over", ride, "--to", "d.zip"]);
    let made = Recording::open(&home.path().join("d.zip")).unwrap();
    let notes = text(&made, "notes.csv");
    assert!(notes.contains("Ottilie Quast at the door") && notes.contains("17.25"));
}
