//! A ride whose program was killed goes on in its own recording, at the second at which it was cut off.
//!
//! A kill is tried as what it leaves: the folder as it stands at that moment, copied. Real processes are killed by
//! `tests/kill/run`.

use std::fs;
use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;
use proptest::prelude::*;
use stillroad::cli::export::export;
use stillroad::cli::replay::{replay, report};
use stillroad::device::DeviceId;
use stillroad::device::practice::{self, Practice, PracticeConfig};
use stillroad::engine::replay::LogEnd;
use stillroad::engine::take_up::TakeUp;
use stillroad::engine::{Command, Role};
use stillroad::plan::Plan;
use stillroad::record::Kept;
use stillroad::ride::RideMode;
use stillroad::store::disk::{Disk, LOCK, RealDisk};
use stillroad::store::recording::Recording;
use stillroad::store::{Bounds, RideRead, RideWriter, left_open, read_ride};

use crate::world::{Ride, rider, session, tap};

mod load;
mod marks;
mod reviewed;
mod run;
mod window;

fn plan() -> std::sync::Arc<Plan> {
    session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\neffort = [2, 5]\n\
         [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\ncadence = [80, 90]\nstretch = true\n\
         [[block]]\nkind = \"recovery\"\ntime = \"0:40\"\neffort = 3\ncut = true\n\
         [[block]]\nkind = \"hold\"\ntime = \"0:40\"\neffort = 6\n\
         [[block]]\nkind = \"cool-down\"\ntime = \"0:30\"\neffort = [3, 1]\n",
    )
}

fn writer(rides: &Path) -> RideWriter {
    RideWriter::with_disk(rides, Box::new(RealDisk), TimeZone::UTC, Bounds::default())
}

/// Rides for so many seconds, with what the hand does at which of them.
fn ridden(hand: &[(f64, Command)], seconds: f64) -> Ride {
    let mut ride = Ride::practice(
        PracticeConfig::default(),
        &plan(),
        &rider(),
        RideMode::TargetPower,
    );
    ride.start();
    for (second, command) in hand {
        ride.to(5.0 + second);
        ride.command(command.clone());
    }
    ride.to(5.0 + seconds);
    ride
}

/// The same, and the folder as a kill leaves it.
fn killed(home: &Path, seconds: f64, hand: &[(f64, Command)]) -> PathBuf {
    let ride = ridden(hand, seconds);
    let mut writer = writer(&home.join("first"));
    for (_, kept) in ride.kept() {
        writer.take(kept);
    }
    writer.tick();
    as_it_stands(&home.join("first"), &home.join("rides"))
}

/// Copies the one ride's folder, with everything in it that a kill leaves.
fn as_it_stands(from: &Path, to: &Path) -> PathBuf {
    let folder = fs::read_dir(from).unwrap().next().unwrap().unwrap().path();
    let copy = to.join(folder.file_name().unwrap());
    fs::create_dir_all(&copy).unwrap();
    for file in fs::read_dir(&folder).unwrap() {
        let file = file.unwrap();
        fs::copy(file.path(), copy.join(file.file_name())).unwrap();
    }
    copy
}

fn take_up(folder: &Path) -> Result<TakeUp, String> {
    let left = left_open::open(folder)?;
    let ride = &left.ride;
    TakeUp::of(
        &left.name,
        left.part,
        &ride.start,
        &ride.rows,
        &ride.events,
        &ride.notes,
    )
}

/// Goes on with it in a program that was started anew, for so many seconds or to the end.
fn gone_on(folder: &Path, seconds: Option<f64>) -> Ride {
    let mut ride = Ride::new(vec![tap(Practice::new(PracticeConfig::default()))]);
    ride.command(take_up(folder).unwrap().command());
    for (role, id) in [
        (Role::Trainer, practice::TRAINER),
        (Role::Heart, practice::HEART),
    ] {
        ride.command(Command::Use(role, Some(DeviceId::new(id))));
    }
    ride.to(5.0);
    ride.command(Command::Start);
    match seconds {
        Some(seconds) => ride.to(5.0 + seconds),
        None => ride.to_the_end(900.0),
    }
    ride
}

fn written(ride: &Ride, rides: &Path) -> RideWriter {
    let mut writer = writer(rides);
    for (_, kept) in ride.kept() {
        writer.take(kept);
    }
    writer
}

fn finished(folder: &Path) -> RideRead {
    let ride = gone_on(folder, None);
    assert!(written(&ride, folder.parent().unwrap()).finish());
    read_ride(folder).unwrap()
}

/// One row a second, from the first to the last.
fn every_second_has_a_row(ride: &RideRead, last: u64) {
    let seconds: Vec<u64> = ride.rows.iter().map(|row| row.ridden_s).collect();
    assert_eq!(seconds, (1..=last).collect::<Vec<_>>());
}

fn replays(folder: &Path) {
    let replayed = replay(&Recording::open(folder).unwrap(), |_| {}).unwrap();
    let (text, well) = report("the ride", &replayed);
    assert!(well, "{text}");
    assert_eq!(replayed.end, LogEnd::Closed, "{text}");
}

fn count(ride: &RideRead, what: &str) -> usize {
    ride.events
        .iter()
        .filter(|event| event.what == what)
        .count()
}

#[test]
fn a_killed_ride_goes_on_to_its_end_in_its_own_recording() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 83.4, &[]);
    let before = read_ride(&folder).unwrap();
    assert_eq!((before.rows.len(), before.finish), (83, None));
    assert_eq!(
        left_open::find(&home.path().join("rides")),
        vec![folder.clone()]
    );
    let raw = fs::read(folder.join("raw.csv")).unwrap();

    let whole = finished(&folder);
    assert!(whole.problems.is_empty(), "{:?}", whole.problems);
    // The session is 230 s long.
    every_second_has_a_row(&whole, 230);
    assert_eq!(whole.finish.as_deref(), Some("completed"));
    for (what, times) in [
        ("start", 1),
        ("taken-up", 1),
        ("recording-closed", 1),
        ("end", 1),
    ] {
        assert_eq!(count(&whole, what), times, "{what}");
    }
    // What was kept before stands as it was.
    assert_eq!(whole.rows[..83], before.rows[..]);
    assert_eq!(whole.events[..before.events.len()], before.events[..]);
    assert_eq!(fs::read(folder.join("raw.csv")).unwrap(), raw);
    assert!(folder.join("raw-2.csv").is_file());
    // The session's clock, distance and estimate go on from where they were.
    for pair in whole.rows.windows(2) {
        assert!(
            (pair[1].plan_s - pair[0].plan_s - 1.0).abs() < 0.002,
            "{pair:?}"
        );
        if let (Some(a), Some(b)) = (pair[0].distance, pair[1].distance) {
            assert!(b.0 >= a.0 && b.0 - a.0 < 25.0, "{pair:?}");
        }
    }
    // Nobody has it, nothing waits, and it is offered no more.
    assert!(!folder.join(LOCK).exists());
    assert!(left_open::find(&home.path().join("rides")).is_empty());
    replays(&folder);
}

#[test]
fn what_the_hand_did_before_the_kill_still_counts() {
    let home = tempfile::tempdir().unwrap();
    let hand = [
        (20.0, Command::Trim(3)),
        // The warm-up is left at 40 s.
        (39.0, Command::Skip),
        (40.0, Command::Skip),
        (50.0, Command::Stretch),
        (60.0, Command::Stretch),
        (62.0, Command::Undo),
        (70.0, Command::Cut),
        (75.0, Command::Trim(-1)),
    ];
    let folder = killed(home.path(), 80.0, &hand);
    let whole = finished(&folder);
    // 40 s of warm-up, 60 s and 30 s more of the hold, no recovery, 40 s and 30 s: reckoned by hand.
    every_second_has_a_row(&whole, 200);
    let kinds: Vec<u32> = whole.rows.iter().map(|row| row.block).collect();
    assert_eq!(kinds.iter().filter(|block| **block == 2).count(), 90);
    assert!(!kinds.contains(&3));
    // What is asked for is what a ride that was never killed asks for, trims and all.
    let unbroken = ridden(&hand, 300.0).rows();
    assert_eq!(unbroken.len(), 200);
    for (row, same) in whole.rows.iter().zip(&unbroken) {
        assert_eq!((row.block, row.kind), (same.block, same.kind));
        // As they were kept: two decimals.
        let (effort, other) = (row.effort.unwrap().0, same.effort.unwrap().0);
        assert!((effort - other).abs() < 0.006, "{row:?} {same:?}");
        assert!((row.plan_s - same.plan_s).abs() < 0.002, "{row:?} {same:?}");
        let (lane, other) = (row.lane.unwrap().0, same.lane.unwrap().0);
        assert!((lane - other).abs() < 0.06, "{row:?} {same:?}");
    }
    replays(&folder);
}

#[test]
fn a_ride_is_killed_twice_and_goes_on_twice() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 50.0, &[]);
    let second = gone_on(&folder, Some(60.3));
    let mut writer = written(&second, &home.path().join("rides"));
    writer.tick();
    let folder = as_it_stands(&home.path().join("rides"), &home.path().join("again"));
    let whole = finished(&folder);
    every_second_has_a_row(&whole, 230);
    assert_eq!(count(&whole, "taken-up"), 2);
    assert!(folder.join("raw-3.csv").is_file());
    replays(&folder);
}

#[test]
fn a_ride_in_two_parts_is_exported_as_one_and_replays() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 70.7, &[]);
    finished(&folder);
    let zip = home.path().join("ride.zip");
    export(&Recording::open(&folder).unwrap(), &zip, false).unwrap();
    let made = Recording::open(&zip).unwrap();
    assert!(made.bytes("raw-2.csv").unwrap().is_some());
    let rows = made.bytes("samples.csv").unwrap().unwrap();
    assert_eq!(rows.iter().filter(|byte| **byte == b'\n').count(), 231);
    let replayed = replay(&made, |_| {}).unwrap();
    let (text, well) = report("the export", &replayed);
    assert!(well, "{text}");
}

#[test]
fn a_kill_between_the_end_of_the_log_and_that_of_the_tables_replays() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 100.0, &[]);
    let mut ride = gone_on(&folder, None);
    ride.pass(10.0);
    assert!(written(&ride, &home.path().join("rides")).finish());
    replays(&folder);
    let cut = |file: &str, lines: usize| {
        let path = folder.join(file);
        let text = fs::read_to_string(&path).unwrap();
        let kept = text.lines().count() - lines;
        let left: String = text.split_inclusive('\n').take(kept).collect();
        fs::write(path, left).unwrap();
    };
    let differs = || {
        let recording = Recording::open(&folder).unwrap();
        !report("the ride", &replay(&recording, |_| {}).unwrap()).1
    };
    cut("samples.csv", 1);
    assert!(differs(), "a closed recording without its last row");
    cut("events.csv", 1);
    replays(&folder);
    let rows = fs::read(folder.join("samples.csv")).unwrap();
    cut("samples.csv", 5);
    assert!(differs(), "five seconds are more than one writing");
    fs::write(folder.join("samples.csv"), rows).unwrap();
    // What is left must still be what the log gives.
    let path = folder.join("events.csv");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace(",target,", ",tarnet,")).unwrap();
    assert!(differs(), "another word");
}

#[test]
fn what_cannot_be_gone_on_with_is_refused_in_a_sentence() {
    let home = tempfile::tempdir().unwrap();
    let says = |folder: &Path, words: &str| {
        let why = take_up(folder).unwrap_err();
        assert!(why.contains(words), "{why}");
    };
    // Another program writes it.
    let folder = killed(home.path(), 30.0, &[]);
    let hold = RealDisk.hold(&folder).unwrap();
    says(&folder, "another program");
    assert!(
        left_open::close(&folder, 0)
            .unwrap_err()
            .contains("another program")
    );
    assert!(left_open::find(&home.path().join("rides")).is_empty());
    drop(hold);
    assert!(take_up(&folder).is_ok());
    // Its files have other columns.
    let rows = fs::read_to_string(folder.join("samples.csv")).unwrap();
    fs::write(
        folder.join("samples.csv"),
        rows.replacen("power_w", "watts", 1),
    )
    .unwrap();
    says(&folder, "samples.csv has other columns");
    fs::write(folder.join("samples.csv"), &rows).unwrap();
    // Not a second of it was kept.
    let header = rows.lines().next().unwrap();
    fs::write(folder.join("samples.csv"), format!("{header}\n")).unwrap();
    says(&folder, "before a second of it was kept");
    fs::write(folder.join("samples.csv"), &rows).unwrap();
    // Its session is none.
    let text = fs::read_to_string(folder.join("session.toml")).unwrap();
    fs::write(folder.join("session.toml"), "name = 3").unwrap();
    says(&folder, "its session cannot be read");
    // Its caps are torn away: nobody rides on above them.
    let own = fs::read_to_string(folder.join("rider.toml")).unwrap();
    let torn: String = own.split_inclusive('\n').take(2).collect();
    for damaged in ["", &*torn] {
        fs::write(folder.join("rider.toml"), damaged).unwrap();
        fs::write(folder.join("session.toml"), &text).unwrap();
        says(&folder, "rider.toml is damaged");
    }
    fs::write(folder.join("rider.toml"), own).unwrap();
    // A test proves nothing in parts.
    let (_, test) = stillroad::plan::builtin()
        .iter()
        .find(|(key, _)| *key == "three-minutes")
        .unwrap();
    fs::write(folder.join("session.toml"), test).unwrap();
    says(&folder, "threshold test");
    fs::write(folder.join("session.toml"), text).unwrap();
    // A table that cannot be added to would lose all that is ridden.
    let notes = fs::read(folder.join("notes.csv")).unwrap();
    fs::remove_file(folder.join("notes.csv")).unwrap();
    fs::create_dir(folder.join("notes.csv")).unwrap();
    says(&folder, "notes.csv cannot be added to");
    fs::remove_dir(folder.join("notes.csv")).unwrap();
    fs::write(folder.join("notes.csv"), notes).unwrap();
    fs::write(
        folder.join("samples.csv"),
        rows.clone() + &"\0".repeat(3 << 20),
    )
    .unwrap();
    says(&folder, "samples.csv cannot be added to");
    fs::write(folder.join("samples.csv"), &rows).unwrap();
    // It is closed, and was ridden to its end.
    finished(&folder);
    says(&folder, "was closed when it ended");
    assert!(
        left_open::close(&folder, 0)
            .unwrap_err()
            .contains("closed already")
    );
}

#[test]
fn a_recording_is_closed_later_by_a_line_and_nothing_else() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 30.0, &[]);
    let names = [
        "samples.csv",
        "events.csv",
        "notes.csv",
        "raw.csv",
        "ride.toml",
    ];
    let read = |name: &str| fs::read(folder.join(name)).unwrap();
    let before: Vec<_> = names.iter().map(|name| read(name)).collect();
    left_open::close(&folder, 1_800_000_000_000).unwrap();
    for (name, before) in names.iter().zip(&before) {
        let after = read(name);
        if *name == "events.csv" {
            let added = after.strip_prefix(&before[..]).unwrap();
            let added = String::from_utf8(added.to_vec()).unwrap();
            // 1,800,000,000 s after the epoch (`date -u -d @1800000000`).
            assert_eq!(
                added,
                "30.000,30.000,2027-01-15T08:00:00.000Z,recording-closed,closed-later\n"
            );
        } else {
            assert_eq!(after, *before, "{name}");
        }
    }
    assert_eq!(
        read_ride(&folder).unwrap().finish.as_deref(),
        Some("closed-later")
    );
    assert!(left_open::find(&home.path().join("rides")).is_empty());
    let replayed = replay(&Recording::open(&folder).unwrap(), |_| {}).unwrap();
    let (text, well) = report("the ride", &replayed);
    assert!(well, "{text}");
}

#[test]
fn a_ride_that_another_program_closes_meanwhile_becomes_a_recording_of_its_own() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 60.0, &[]);
    let ride = gone_on(&folder, None);
    left_open::close(&folder, 0).unwrap();
    let before = fs::read(folder.join("samples.csv")).unwrap();
    assert!(written(&ride, &home.path().join("rides")).finish());
    assert_eq!(fs::read(folder.join("samples.csv")).unwrap(), before);
    assert_eq!(fs::read_dir(home.path().join("rides")).unwrap().count(), 2);
}

#[test]
fn a_ride_that_another_program_took_up_first_becomes_a_recording_of_its_own() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 60.0, &[]);
    let files = |folder: &Path| {
        ["samples.csv", "events.csv", "raw.csv"].map(|name| fs::read(folder.join(name)).unwrap())
    };
    let before = files(&folder);
    let ride = gone_on(&folder, None);
    // Between the choice and the first turn of the pedals another program takes it.
    let hold = RealDisk.hold(&folder).unwrap();
    assert!(written(&ride, &home.path().join("rides")).finish());
    drop(hold);
    assert_eq!(files(&folder), before);
    assert!(!folder.join("raw-2.csv").exists());
    let own = fs::read_dir(home.path().join("rides"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| *path != folder)
        .unwrap();
    let read = read_ride(&own).unwrap();
    assert_eq!((read.rows[0].ridden_s, read.rows.len()), (61, 170));
    assert!(read.problems.is_empty(), "{:?}", read.problems);
    assert_eq!(count(&read, "recording-gap"), 1);
    replays(&own);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    /// Each file was synced by itself, so a loss of power cuts each off elsewhere within the last seconds, and anywhere
    /// inside of a line.
    #[test]
    fn a_recording_that_was_cut_off_anywhere_goes_on(
        seconds in 20.0..200.0f64,
        cuts in prop::array::uniform4(0usize..2_000),
    ) {
        let home = tempfile::tempdir().unwrap();
        let folder = killed(home.path(), seconds, &[]);
        let mut whole_lines = Vec::new();
        let mut torn = 0;
        for (name, cut) in ["samples.csv", "events.csv", "notes.csv", "raw.csv"].iter().zip(cuts) {
            let path = folder.join(name);
            let mut bytes = fs::read(&path).unwrap();
            let header = bytes.iter().position(|byte| *byte == b'\n').unwrap() + 1;
            bytes.truncate(bytes.len().saturating_sub(cut).max(header));
            let lines = bytes.iter().rposition(|byte| *byte == b'\n').unwrap() + 1;
            if *name != "raw.csv" {
                torn += usize::from(lines < bytes.len());
                whole_lines.push((path.clone(), bytes[..lines].to_vec()));
            }
            fs::write(&path, bytes).unwrap();
        }
        let before = read_ride(&folder).unwrap();
        let whole = finished(&folder);
        prop_assert!(whole.problems.is_empty(), "{:?}", whole.problems);
        every_second_has_a_row(&whole, 230);
        prop_assert_eq!(&whole.rows[..before.rows.len()], &before.rows[..]);
        for (path, lines) in whole_lines {
            prop_assert!(fs::read(&path).unwrap().starts_with(&lines), "{}", path.display());
        }
        prop_assert_eq!(count(&whole, "recording-torn"), torn);
        replays(&folder);
    }
}
