//! Whole rides through the writer, on a real folder and on a failing disk.

use std::path::Path;

use jiff::tz::TimeZone;
use stillroad::record::{EventLine, Kept, Note, Row, decode};
use stillroad::store::writer::CAPACITY;
use stillroad::store::{Bounds, RecordReport, RideWriter, Writer, read_raw, read_ride};
use stillroad::units::Effort;

use super::fault_disk::FaultDisk;
use super::{START_MS, begin, end, event, kept_row, raw, row, start};

pub(super) const NAME: &str = "2026-11-24 1830 Über-den-Pass-3-8";

pub(super) fn on(disk: &FaultDisk, bounds: Bounds) -> RideWriter {
    RideWriter::with_disk(
        Path::new("/rides"),
        Box::new(disk.clone()),
        TimeZone::UTC,
        bounds,
    )
}

pub(super) fn rows_on(disk: &FaultDisk) -> Vec<Row> {
    let decoded = decode::<Row>(disk.text("samples.csv").as_bytes()).unwrap();
    assert_eq!((decoded.bad_lines, decoded.torn_line), (0, None));
    decoded.records
}

pub(super) fn events_on(disk: &FaultDisk) -> Vec<(String, String)> {
    let decoded = decode::<EventLine>(disk.text("events.csv").as_bytes()).unwrap();
    assert_eq!((decoded.bad_lines, decoded.torn_line), (0, None));
    decoded
        .records
        .into_iter()
        .map(|event| (event.what.into_owned(), event.detail))
        .collect()
}

pub(super) fn rows(from: u64, to: u64) -> Vec<Row> {
    (from..=to).map(row).collect()
}

#[test]
fn a_ride_comes_back_whole() {
    let home = tempfile::tempdir().unwrap();
    let rides = home.path().join("not there yet");
    let (mut sender, reports) = Writer::start(&rides, CAPACITY);
    let note = Note {
        utc_ms: START_MS + 200_000,
        block: None,
        what: "rating",
        rating: Some(Effort(7.0)),
        text: "=hard, but \"good\"\nreally".to_owned(),
    };
    assert!(sender.try_send(raw(1)));
    assert!(sender.try_send(begin()));
    for second in 1..=200 {
        assert!(sender.try_send(raw(second * 1_000_000)));
        assert!(sender.try_send(kept_row(second)));
    }
    assert!(sender.try_send(Kept::Event(event(200, "skip", "-1 block"))));
    assert!(sender.try_send(end()));
    // The last rating is asked for when the ride has ended.
    assert!(sender.try_send(Kept::Note(note.clone())));
    drop(sender);
    let reports: Vec<_> = reports.iter().collect();
    let RecordReport::Began(folder) = &reports[0] else {
        panic!("{reports:?}");
    };
    assert_eq!(
        reports.last(),
        Some(&RecordReport::Closed(folder.clone(), 200))
    );
    let ride = read_ride(folder).unwrap();
    assert_eq!(ride.problems, [""; 0]);
    assert_eq!(ride.start, start());
    assert_eq!(ride.rows, rows(1, 200));
    assert_eq!(ride.notes, [note.into()]);
    assert_eq!(ride.events[0], event(200, "skip", "-1 block").into());
    assert_eq!(
        ride.events[1],
        event(200, "recording-closed", "completed").into()
    );
    assert_eq!(ride.finish.as_deref(), Some("completed"));
    let (inputs, problems) = read_raw(folder);
    assert_eq!(problems, [""; 0]);
    let at: Vec<_> = inputs.iter().map(|input| input.at_us).collect();
    let expected: Vec<_> = std::iter::once(1)
        .chain((1..=200).map(|second| second * 1_000_000))
        // The closing line stands at the moment of the last.
        .chain([200_000_000])
        .collect();
    assert_eq!(at, expected);
    assert_eq!(
        inputs[1].content,
        format!(
            "{{\"notified\":[\"practice:1\",10962,[{}]]}}",
            1_000_000 % 256
        )
    );
}

#[test]
fn a_loop_that_dies_leaves_a_whole_ride() {
    let home = tempfile::tempdir().unwrap();
    let (mut sender, reports) = Writer::start(home.path(), CAPACITY);
    sender.try_send(begin());
    for second in 1..=30 {
        sender.try_send(kept_row(second));
    }
    let died = std::thread::spawn(move || {
        let _sender = sender;
        panic!("this test's loop dies");
    });
    assert!(died.join().is_err());
    let last = reports.iter().last();
    let Some(RecordReport::Closed(folder, 30)) = last else {
        panic!("{last:?}");
    };
    let ride = read_ride(&folder).unwrap();
    assert_eq!(ride.rows, rows(1, 30));
    assert_eq!(ride.finish.as_deref(), Some("cut-off"));
}

#[test]
fn nothing_is_ever_overwritten() {
    let home = tempfile::tempdir().unwrap();
    let mut folders = Vec::new();
    for count in 1..=3 {
        let mut writer = RideWriter::new(home.path());
        writer.take(begin());
        for second in 1..=count {
            writer.take(kept_row(second));
        }
        writer.take(end());
        assert!(writer.finish());
        for report in writer.reports() {
            if let RecordReport::Began(folder) = report {
                folders.push(folder);
            }
        }
    }
    assert_eq!(folders.len(), 3);
    let name = |index: usize| folders[index].file_name().unwrap().to_str().unwrap();
    assert_eq!(name(1), format!("{}-2", name(0)));
    assert_eq!(name(2), format!("{}-3", name(0)));
    for (folder, count) in folders.iter().zip(1..) {
        assert_eq!(read_ride(folder).unwrap().rows, rows(1, count));
    }
}

#[test]
fn the_folder_is_named_by_local_time() {
    // Lord Howe Island keeps +11:00 in November (IANA time zone database).
    let zone = TimeZone::get("Australia/Lord_Howe").unwrap();
    let disk = FaultDisk::default();
    let mut writer = RideWriter::with_disk(
        Path::new("/rides"),
        Box::new(disk.clone()),
        zone,
        Bounds::default(),
    );
    writer.take(begin());
    writer.tick();
    assert_eq!(
        disk.folders(),
        [Path::new("/rides/2026-11-25 0530 Über-den-Pass-3-8")]
    );
}

#[test]
fn a_second_ride_does_not_wait_for_the_first_ones_disk() {
    let disk = FaultDisk::default();
    disk.set_room(Some(100));
    let mut writer = on(&disk, Bounds::default());
    for ride in 1..=2 {
        writer.take(begin());
        writer.take(kept_row(ride));
        writer.take(end());
        writer.tick();
    }
    assert_eq!(writer.rows_at_risk(), 2);
    assert!(!writer.finish());
    disk.set_room(None);
    assert!(writer.finish());
    assert_eq!(writer.rows_at_risk(), 0);
    let closed = writer
        .reports()
        .into_iter()
        .filter(|report| matches!(report, RecordReport::Closed(_, 1)))
        .count();
    assert_eq!(closed, 2);
}

#[test]
fn raw_lines_stop_at_the_size_of_their_file_and_that_is_an_event() {
    let disk = FaultDisk::default();
    let bounds = Bounds {
        raw_file: 1000,
        ..Bounds::default()
    };
    let mut writer = on(&disk, bounds);
    writer.take(begin());
    for second in 1..=100 {
        writer.take(raw(second * 1_000_000));
        writer.take(kept_row(second));
        writer.tick();
    }
    writer.take(end());
    assert!(writer.finish());
    let text = disk.text("raw.csv");
    assert!(text.len() <= 1000 && text.len() > 700, "{}", text.len());
    assert!(text.lines().last().unwrap().contains(",stopped,"), "{text}");
    assert!(text.ends_with('\n'));
    assert_eq!(rows_on(&disk), rows(1, 100));
    let events = events_on(&disk);
    assert_eq!(
        events
            .iter()
            .filter(|event| event.0 == "raw-stopped")
            .count(),
        1
    );
}

#[test]
fn what_comes_before_a_ride_is_bounded_and_the_rest_is_counted() {
    let disk = FaultDisk::default();
    let bounds = Bounds {
        raw_before: 10,
        ..Bounds::default()
    };
    let mut writer = on(&disk, bounds);
    for at in 1..=25 {
        writer.take(raw(at));
    }
    writer.take(Kept::Event(event(0, "connected", "practice")));
    writer.tick();
    assert!(disk.folders().is_empty());
    writer.take(begin());
    writer.take(end());
    assert!(writer.finish());
    let text = disk.text("raw.csv");
    let words: Vec<_> = text
        .lines()
        .filter_map(|line| line.split(',').nth(1))
        .collect();
    assert_eq!(words[0], "input");
    assert_eq!(words[1..11], ["device"; 10]);
    assert_eq!(words[11..], ["gap", "closed"]);
    let events = events_on(&disk);
    assert_eq!(events[0].0, "connected");
    assert_eq!(events[1].0, "recording-gap");
    assert!(events[1].1.starts_with("15 inputs"), "{events:?}");
}

#[test]
fn rows_over_the_bound_of_memory_are_counted() {
    let disk = FaultDisk::default();
    disk.set_room(Some(0));
    let bounds = Bounds {
        row_memory: 2000,
        ..Bounds::default()
    };
    let mut writer = on(&disk, bounds);
    writer.take(begin());
    for second in 1..=100 {
        writer.take(kept_row(second));
    }
    writer.tick();
    disk.set_room(None);
    writer.tick();
    writer.take(end());
    assert!(writer.finish());
    let kept = rows_on(&disk);
    assert_eq!(kept, rows(1, kept.len() as u64));
    let lost = 100 - kept.len();
    let events = events_on(&disk);
    let gap = events
        .iter()
        .find(|event| event.0 == "recording-gap")
        .unwrap();
    assert!(
        gap.1.starts_with(&format!("{lost} lines were not kept")),
        "{gap:?}"
    );
    // And the reader says that seconds are missing only where they are.
    assert!(kept.len() > 10 && lost > 10);
}

#[test]
fn a_tick_is_due_each_second_and_syncs_only_what_changed() {
    let disk = FaultDisk::default();
    let mut writer = on(&disk, Bounds::default());
    assert!(!writer.due() && writer.settled());
    writer.take(begin());
    writer.tick();
    let before = disk.syncs();
    writer.tick();
    assert_eq!(disk.syncs(), before);
    writer.take(raw(100));
    writer.take(raw(1_000_099));
    let within_a_second = writer.due();
    writer.take(raw(1_000_101));
    assert!(!within_a_second && writer.due());
    writer.tick();
    assert_eq!(disk.syncs(), before + 1);
    writer.take(kept_row(1));
    assert!(writer.due());
    writer.tick();
    assert_eq!(disk.syncs(), before + 2);
}

#[test]
fn a_full_queue_is_counted_and_the_count_is_an_event() {
    let disk = FaultDisk::default();
    let mut writer = on(&disk, Bounds::default());
    writer.take(begin());
    writer.gap(37);
    assert!(writer.due());
    writer.tick();
    writer.tick();
    let reports = writer.reports();
    assert!(
        matches!(&reports[0], RecordReport::Trouble(text) if text.starts_with("37 lines")),
        "{reports:?}"
    );
    assert!(reports.contains(&RecordReport::Recovered));
    let events = events_on(&disk);
    assert!(events[0].1.starts_with("37 things"), "{events:?}");
}

#[test]
fn what_comes_in_the_seconds_after_the_end_belongs_to_the_ride_and_it_is_closed_behind_it() {
    let disk = FaultDisk::default();
    let mut writer = on(&disk, Bounds::default());
    writer.take(begin());
    writer.take(raw(1_000_000));
    writer.take(kept_row(1));
    writer.take(end());
    writer.take(raw(2_000_000));
    writer.take(Kept::Event(event(1, "released", "the session is over")));
    writer.tick();
    assert!(!disk.text("events.csv").contains("recording-closed"));
    // Over six seconds after the last line before the end.
    writer.take(raw(7_000_001));
    writer.take(Kept::Event(event(1, "link-lost", "too late for this ride")));
    assert!(writer.due());
    writer.tick();
    let words = |text: String| -> Vec<String> {
        let cells = |line: &str| line.split(',').nth(1).unwrap().to_owned();
        text.lines().skip(1).map(cells).collect()
    };
    assert_eq!(words(disk.text("raw.csv")), ["device", "device", "closed"]);
    let events: Vec<_> = events_on(&disk).into_iter().map(|(what, _)| what).collect();
    assert_eq!(events, ["released", "recording-closed"]);
    let closed = |report: &RecordReport| matches!(report, RecordReport::Closed(_, 1));
    assert!(writer.reports().iter().any(closed));
}

#[test]
fn a_ride_that_has_ended_is_closed_after_seconds_of_silence_too() {
    let disk = FaultDisk::default();
    let mut writer = on(&disk, Bounds::default());
    writer.take(begin());
    writer.take(kept_row(1));
    for _ in 0..20 {
        writer.silence();
    }
    assert!(!disk.folders().iter().any(|folder| folder.ends_with(NAME)));
    writer.take(end());
    writer.take(raw(1));
    for _ in 0..6 {
        writer.silence();
    }
    writer.tick();
    assert!(!disk.text("events.csv").contains("recording-closed"));
    writer.silence();
    writer.tick();
    assert!(
        disk.text("events.csv")
            .contains("recording-closed,completed")
    );
}
