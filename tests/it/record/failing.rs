//! A disk that is full, that forgets, or in which nothing can be made.

use std::path::Path;

use stillroad::store::{Bounds, RecordReport};

use super::fault_disk::FaultDisk;
use super::rides::{NAME, events_on, on, rows, rows_on};
use super::{begin, end, kept_row, raw, start};

#[test]
fn a_disk_that_fills_up_anywhere_loses_nothing_once_there_is_room() {
    // Every length of what fits, over the headers and the first rows, so that every file is cut at every place.
    let needed = {
        let disk = FaultDisk::default();
        let mut writer = on(&disk, Bounds::default());
        writer.take(begin());
        for second in 1..=20 {
            writer.take(raw(second * 1_000_000));
            writer.take(kept_row(second));
        }
        writer.tick();
        disk.size()
    };
    assert!(needed > 3000, "{needed}");
    for room in (0..needed).step_by(7) {
        let disk = FaultDisk::default();
        disk.set_room(Some(room));
        let mut writer = on(&disk, Bounds::default());
        writer.take(begin());
        for second in 1..=20 {
            writer.take(raw(second * 1_000_000));
            writer.take(kept_row(second));
            writer.tick();
        }
        let reports = writer.reports();
        let troubles: Vec<_> = reports
            .iter()
            .filter(|report| matches!(report, RecordReport::Trouble(_)))
            .collect();
        assert_eq!(troubles.len(), 1, "said once: {reports:?}");
        assert!(
            matches!(troubles[0], RecordReport::Trouble(text) if text.starts_with("The disk is full"))
        );
        assert!(!writer.settled());
        disk.set_room(None);
        writer.tick();
        let recovered = writer.reports();
        assert!(
            recovered.contains(&RecordReport::Recovered),
            "{recovered:?}"
        );
        assert!(recovered.contains(&RecordReport::Rows(20)), "{recovered:?}");
        writer.take(end());
        assert!(writer.finish());
        assert_eq!(rows_on(&disk), rows(1, 20), "with room for {room}");
        let events = events_on(&disk);
        assert_eq!(events[0].0, "disk-trouble");
        assert_eq!(
            events.last().unwrap(),
            &("recording-closed".to_owned(), "completed".to_owned())
        );
        // A header, twenty inputs, the closing line.
        assert_eq!(disk.text("raw.csv").lines().count(), 22);
        assert_eq!(disk.text("session.toml"), &*start().session_text);
        assert_eq!(disk.folders(), [Path::new("/rides").join(NAME)]);
    }
}

#[test]
fn what_a_failed_sync_threw_away_is_written_again() {
    for failing in 1..12 {
        let disk = FaultDisk::default();
        let mut writer = on(&disk, Bounds::default());
        writer.take(begin());
        writer.take(kept_row(1));
        writer.tick();
        disk.fail_syncs(failing);
        for second in 2..=20 {
            writer.take(raw(second * 1_000_000));
            writer.take(kept_row(second));
            writer.tick();
        }
        writer.take(end());
        assert!(writer.finish());
        assert_eq!(rows_on(&disk), rows(1, 20));
        assert_eq!(disk.text("raw.csv").lines().count(), 21);
        let reports = writer.reports();
        let told =
            |wanted: &RecordReport| reports.iter().filter(|report| *report == wanted).count();
        assert_eq!(told(&RecordReport::Recovered), 1, "{reports:?}");
    }
}

#[test]
fn a_folder_that_cannot_be_made_is_tried_again() {
    for failing in 1..12 {
        let disk = FaultDisk::default();
        disk.fail_creates(failing);
        let mut writer = on(&disk, Bounds::default());
        writer.take(begin());
        for second in 1..=20 {
            writer.take(kept_row(second));
            writer.tick();
        }
        writer.take(end());
        assert!(writer.finish());
        let reports = writer.reports();
        assert!(
            matches!(&reports[0], RecordReport::Trouble(text) if text.contains("may not write there")),
            "{reports:?}"
        );
        assert_eq!(
            reports[1],
            RecordReport::Began(Path::new("/rides").join(NAME))
        );
        assert_eq!(
            reports.last(),
            Some(&RecordReport::Closed(Path::new("/rides").join(NAME), 20))
        );
        assert_eq!(rows_on(&disk), rows(1, 20));
    }
}

#[test]
fn a_log_that_finds_no_room_leaves_the_last_of_it_to_the_rows() {
    let ride = |disk: &FaultDisk, room: Option<usize>| {
        disk.set_room(room);
        let mut writer = on(disk, Bounds::default());
        writer.take(begin());
        for second in 1..=20 {
            for quarter in 0..400 {
                writer.take(raw(second * 1_000_000 + quarter * 2_500));
            }
            writer.take(kept_row(second));
        }
        writer.tick();
        writer
    };
    let ample = FaultDisk::default();
    ride(&ample, None);
    let log = ample.text("raw.csv").len();
    let beside = ample.size() - log;
    assert!(log > 10 * beside, "{log} {beside}");
    // From just enough for all but the log up to one byte less than the log by itself.
    for room in [beside, beside + 1, beside + log / 2, log - 1] {
        let disk = FaultDisk::default();
        let mut writer = ride(&disk, Some(room));
        assert_eq!(rows_on(&disk), rows(1, 20), "with room for {room}");
        assert!(disk.text("raw.csv").is_empty(), "with room for {room}");
        // Nothing of the log is lost where there is room later.
        disk.set_room(None);
        writer.take(end());
        assert!(writer.finish());
        assert_eq!(rows_on(&disk), rows(1, 20));
        assert_eq!(
            disk.text("raw.csv").lines().count(),
            8_002,
            "with room for {room}"
        );
    }
}
