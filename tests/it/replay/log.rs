//! Recordings on the disk, replayed from their logs alone: whole, killed, with a bound, a gap, or one after another.

use std::fs;
use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;
use stillroad::cli::replay::{replay, report};
use stillroad::engine::Command;
use stillroad::engine::replay::{LogEnd, Replayed};
use stillroad::record::log::{Chain, LogItem, LogReader};
use stillroad::record::{InputLine, encode_header};
use stillroad::ride::RideMode;
use stillroad::store::disk::RealDisk;
use stillroad::store::recording::Recording;
use stillroad::store::{Bounds, RideWriter};

use super::eventful_ride;
use crate::world::{Fake, Knobs, Ride, rider, session};

/// A writer with a folder that is removed at the end.
pub(super) fn writer(home: &Path, bounds: Bounds) -> RideWriter {
    RideWriter::with_disk(home, Box::new(RealDisk), TimeZone::UTC, bounds)
}

/// What a ride kept, in folders of their own, in the order of their names.
pub(super) fn recorded(ride: &Ride, home: &Path) -> Vec<PathBuf> {
    let mut writer = writer(home, Bounds::default());
    for (_, kept) in ride.kept() {
        writer.take(kept);
        // As beside a real ride: a folder has its name before the next ride begins.
        if writer.due() {
            writer.tick();
        }
    }
    assert!(writer.finish());
    folders(home)
}

fn folders(home: &Path) -> Vec<PathBuf> {
    let mut folders: Vec<_> = fs::read_dir(home)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    folders.sort();
    folders
}

pub(super) fn replayed(place: &Path) -> Replayed {
    replay(&Recording::open(place).unwrap(), |_| {}).unwrap()
}

/// A ride of half a minute with a hold and a pause.
pub(super) fn short_ride() -> Ride {
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"0:12\"\neffort = [2, 5]\n\
         [[block]]\nkind = \"hold\"\ntime = \"0:15\"\neffort = 7\n",
    );
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(12.0);
    ride.command(Command::Pause);
    ride.to(14.0);
    ride.command(Command::Resume);
    ride.to_the_end(90.0);
    ride
}

fn nothing_differs(replayed: &Replayed) {
    let (text, well) = report("the ride", replayed);
    assert!(well && replayed.differences.count == 0, "{text}");
}

#[test]
fn a_recording_replays_to_the_last_row_event_and_request() {
    let home = tempfile::tempdir().unwrap();
    let folders = recorded(&eventful_ride(), home.path());
    let replayed = replayed(&folders[0]);
    nothing_differs(&replayed);
    assert_eq!(replayed.end, LogEnd::Closed);
    let [rows, events, _] = replayed.lines;
    assert!(
        rows > 270 && events > 100 && replayed.requests > 100,
        "{replayed:?}"
    );
    // The file's last event closes the recording, behind the last word of the trainer.
    let events = fs::read_to_string(folders[0].join("events.csv")).unwrap();
    let words: Vec<_> = events
        .lines()
        .filter_map(|line| line.split(',').nth(3))
        .collect();
    assert_eq!(words.last(), Some(&"recording-closed"));
    let end = words.iter().position(|word| *word == "end").unwrap();
    assert!(words[end..].contains(&"released"), "{words:?}");
}

#[test]
fn a_killed_ride_replays_to_where_its_log_ends_and_says_so() {
    let home = tempfile::tempdir().unwrap();
    let mut writer = writer(home.path(), Bounds::default());
    let kept = short_ride().kept();
    for (_, kept) in kept.iter().take(kept.len() * 2 / 3) {
        writer.take(kept.clone());
    }
    writer.tick();
    // Killed: nothing closes the files.
    std::mem::forget(writer);
    let folder = &folders(home.path())[0];
    let replayed = replayed(folder);
    nothing_differs(&replayed);
    assert!(
        matches!(replayed.end, LogEnd::Open(line) if line > 100),
        "{:?}",
        replayed.end
    );
    assert!(replayed.lines[0] > 5);
    assert!(report("it", &replayed).0.contains("the program was killed"));
}

#[test]
fn a_full_log_and_a_gap_end_the_replay_there_and_say_so() {
    let kept = short_ride().kept();
    let home = tempfile::tempdir().unwrap();
    let whole = recorded(&short_ride(), home.path());
    let size = fs::metadata(whole[0].join("raw.csv")).unwrap().len();
    let home = tempfile::tempdir().unwrap();
    let bounds = Bounds {
        raw_file: size * 2 / 3,
        ..Bounds::default()
    };
    let mut small = writer(home.path(), bounds);
    for (_, kept) in &kept {
        small.take(kept.clone());
    }
    assert!(small.finish());
    let full = replayed(&folders(home.path())[0]);
    nothing_differs(&full);
    assert!(matches!(full.end, LogEnd::Full(_)), "{:?}", full.end);
    let whole = fs::read_to_string(folders(home.path())[0].join("samples.csv")).unwrap();
    assert!(full.lines[0] > 3 && full.lines[0] < whole.lines().count() - 1);

    let home = tempfile::tempdir().unwrap();
    let mut busy = writer(home.path(), Bounds::default());
    for (at, (_, thing)) in kept.iter().enumerate() {
        if at == kept.len() / 2 {
            busy.gap(3);
        }
        busy.take(thing.clone());
    }
    assert!(busy.finish());
    let gap = replayed(&folders(home.path())[0]);
    nothing_differs(&gap);
    assert!(matches!(gap.end, LogEnd::Gap(_)), "{:?}", gap.end);
}

#[test]
fn rides_of_one_run_are_replayed_from_all_their_logs() {
    three_rides_apart_by(70.0);
}

#[test]
fn rides_of_one_run_begun_at_once_are_replayed_from_all_their_logs() {
    three_rides_apart_by(2.0);
}

fn three_rides_apart_by(seconds: f64) {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"0:10\"\neffort = 6\n");
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to_the_end(60.0);
    ride.pass(seconds);
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    ride.pass(1.0);
    ride.command(Command::Start);
    ride.to_the_end(300.0);
    ride.pass(seconds);
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    ride.pass(1.0);
    ride.command(Command::Start);
    ride.to_the_end(600.0);
    let home = tempfile::tempdir().unwrap();
    let folders = recorded(&ride, home.path());
    assert_eq!(folders.len(), 3);
    for folder in &folders {
        let replayed = replayed(folder);
        nothing_differs(&replayed);
        assert_eq!((&replayed.end, replayed.lines[0]), (&LogEnd::Closed, 10));
    }
    // Without the first, or with another in its place, the second cannot be the same ride.
    let log = folders[0].join("raw.csv");
    let text = fs::read_to_string(&log).unwrap();
    let cut = text.lines().count() * 3 / 4;
    let short: String = text
        .lines()
        .take(cut)
        .map(|line| format!("{line}\n"))
        .collect();
    fs::write(&log, short).unwrap();
    assert!(replayed(&folders[1]).differences.count > 0);
    assert!(replayed(&folders[2]).differences.count > 0);
    fs::remove_dir_all(&folders[0]).unwrap();
    let alone = replayed(&folders[1]);
    assert!(matches!(alone.end, LogEnd::Unusable(_)), "{:?}", alone.end);
    assert!(alone.differences.count > 0);
}

#[test]
fn a_log_that_is_said_to_go_on_from_itself_or_in_a_circle_is_walked_once() {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"0:10\"\neffort = 6\n");
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to_the_end(60.0);
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    ride.pass(1.0);
    ride.command(Command::Start);
    ride.to_the_end(300.0);
    let home = tempfile::tempdir().unwrap();
    let folder = recorded(&ride, home.path()).remove(1);
    let bytes = fs::read(folder.join("raw.csv")).unwrap();
    let name = |path: &Path| path.file_name().unwrap().to_str().unwrap().to_owned();
    let goes_on_from = |other: &str| {
        rewritten(&bytes, |line| {
            if line.input == "follows" {
                line.content = format!("{{\"ride\":\"{other}\",\"check\":\"00000000\"}}");
            }
        })
    };
    let told = |folder: &Path| {
        let replayed = replayed(folder);
        assert!(
            matches!(replayed.end, LogEnd::Unusable(_)),
            "{:?}",
            replayed.end
        );
        report("it", &replayed).0
    };
    fs::write(folder.join("raw.csv"), goes_on_from(&name(&folder))).unwrap();
    let text = told(&folder);
    assert_eq!(
        text.matches("goes on from this one itself").count(),
        1,
        "{text}"
    );
    // Three that go on from one another.
    let others = ["second", "third"].map(|name| home.path().join(name));
    for other in &others {
        fs::create_dir(other).unwrap();
    }
    fs::write(folder.join("raw.csv"), goes_on_from("second")).unwrap();
    fs::write(others[0].join("raw.csv"), goes_on_from("third")).unwrap();
    fs::write(others[1].join("raw.csv"), goes_on_from(&name(&folder))).unwrap();
    let text = told(&folder);
    assert_eq!(
        text.matches("goes on from this one itself").count(),
        1,
        "{text}"
    );
}

/// The log with each line changed and all checks right again, as another program would have written it.
pub(super) fn rewritten(log: &[u8], mut change: impl FnMut(&mut InputLine)) -> Vec<u8> {
    let mut out = Vec::new();
    encode_header::<InputLine>(&mut out).unwrap();
    let mut chain = Chain::begin();
    let mut reader = LogReader::new(log);
    while let Some(item) = reader.next_item().unwrap() {
        let LogItem::Line { mut line, .. } = item else {
            panic!("{item:?}");
        };
        change(&mut line);
        out.extend(chain.encode(&line));
    }
    out
}

#[test]
fn another_version_and_another_format_are_named_and_tried() {
    let home = tempfile::tempdir().unwrap();
    let log = recorded(&short_ride(), home.path())[0].join("raw.csv");
    let bytes = fs::read(&log).unwrap();
    let same = rewritten(&bytes, |_| {});
    assert_eq!(same, bytes);
    let newer = rewritten(&bytes, |line| {
        if line.input == "head" {
            line.content = line
                .content
                .replace("\"log\":1", "\"log\":7,\"more\":[]")
                .replace("stillroad 0", "stillroad 9");
        }
    });
    fs::write(&log, newer).unwrap();
    // Its name stands in both files, or one of them was changed.
    assert_eq!(replayed(log.parent().unwrap()).differences.count, 1);
    let about = log.with_file_name("ride.toml");
    let ours = fs::read_to_string(&about).unwrap();
    fs::write(&about, ours.replace("stillroad 0", "stillroad 9")).unwrap();
    let tried = replayed(log.parent().unwrap());
    nothing_differs(&tried);
    let remarks = tried.differences.remarks.join("\n");
    assert!(
        remarks.contains("of format 7") && remarks.contains("stillroad 9."),
        "{remarks}"
    );
    // A log from before there were heads.
    let text = String::from_utf8(bytes).unwrap();
    let old: String = text
        .lines()
        .filter(|line| !line.contains(",head,") && !line.contains(",asked,"))
        .map(|line| format!("{}\n", line.rsplit_once(',').unwrap().0))
        .collect();
    fs::write(&log, old).unwrap();
    let (text, well) = report("it", &replayed(log.parent().unwrap()));
    assert!(!well && text.contains("cannot be replayed"), "{text}");
}

#[test]
fn a_log_whose_checks_are_right_and_whose_command_is_another_is_told() {
    let home = tempfile::tempdir().unwrap();
    let log = recorded(&short_ride(), home.path())[0].join("raw.csv");
    let mut number = 1;
    let mut at = 0;
    let forged = rewritten(&fs::read(&log).unwrap(), |line| {
        number += 1;
        if line.input == "asked" && line.content.contains("[5,") && at == 0 {
            at = number;
            line.content = line.content.replace("[5,", "[5,1");
        }
    });
    assert!(at > 0);
    fs::write(&log, forged).unwrap();
    let told = replayed(log.parent().unwrap()).differences;
    assert_eq!(told.count, 1, "{told:?}");
    assert_eq!(told.told[0].line, Some(at));
}
