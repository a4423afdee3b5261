//! One ride's folder and the files in it.

use std::io;
use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;

use super::disk::Disk;
use super::record_report::{Bounds, RecordReport};
use super::ride_file::{Pushed, RideFile};
use crate::record::{
    EventLine, InputLine, NoteLine, RideStart, Row, Table, encode, encode_header, ride_toml,
    slug::slug,
};

/// The place in time of the newest thing taken, for the writer's own events.
#[derive(Clone, Copy, Default)]
struct Mark {
    ridden_s: f64,
    plan_s: f64,
    utc_ms: i64,
}

/// What came before a ride, raw lines already in the file's own form.
#[derive(Default)]
pub(super) struct Before {
    pub(super) events: Vec<EventLine>,
    pub(super) lines: Vec<u8>,
    pub(super) count: u64,
    pub(super) dropped: u64,
}

/// A record as a line of its file.
pub(super) fn bytes<T: Table>(record: &T) -> Vec<u8> {
    let mut line = Vec::with_capacity(128);
    // Writing to memory cannot fail, and the names of columns and cells are text.
    let _ = encode(record, &mut line);
    line
}

fn header<T: Table>() -> Vec<u8> {
    let mut line = Vec::with_capacity(128);
    // As above.
    let _ = encode_header::<T>(&mut line);
    line
}

/// One ride and its files.
pub(super) struct Ride {
    pub(super) name: String,
    folder: Option<PathBuf>,
    names_synced: bool,
    texts: Vec<RideFile>,
    samples: RideFile,
    events: RideFile,
    notes: RideFile,
    raw: RideFile,
    raw_stopped: bool,
    pub(super) rows: u64,
    pub(super) safe_rows: u64,
    told_rows: u64,
    told_began: bool,
    pub(super) ended: bool,
    pub(super) closed: bool,
    mark: Mark,
    said_dropped: u64,
}

impl Ride {
    pub(super) fn new(start: &RideStart, before: Before, zone: &TimeZone, bounds: &Bounds) -> Self {
        let mark = Mark {
            utc_ms: start.utc_ms,
            ..Mark::default()
        };
        let text = |name, text: &str| {
            let mut file = RideFile::new(name, usize::MAX, u64::MAX);
            file.push(text.as_bytes());
            file
        };
        let table = |name, header: Vec<u8>, memory, most| {
            let mut file = RideFile::new(name, memory, most);
            file.push(&header);
            file
        };
        let (about, unwritable) = match ride_toml::write(start) {
            Ok(about) => (about, None),
            Err(error) => (String::new(), Some(error.to_string())),
        };
        let mut ride = Self {
            name: folder_name(start, zone),
            folder: None,
            names_synced: false,
            texts: vec![
                text("ride.toml", &about),
                text("session.toml", &start.session_text),
                text("rider.toml", &start.rider_text),
            ],
            samples: table(Row::FILE, header::<Row>(), bounds.row_memory, u64::MAX),
            events: table(
                EventLine::FILE,
                header::<EventLine>(),
                bounds.other_memory,
                u64::MAX,
            ),
            notes: table(
                NoteLine::FILE,
                header::<NoteLine>(),
                bounds.other_memory,
                u64::MAX,
            ),
            raw: table(
                InputLine::FILE,
                header::<InputLine>(),
                bounds.raw_memory,
                bounds.raw_file,
            ),
            raw_stopped: false,
            rows: 0,
            safe_rows: 0,
            told_rows: 0,
            told_began: false,
            ended: false,
            closed: false,
            mark,
            said_dropped: 0,
        };
        if let Some(problem) = unwritable {
            ride.own_event("recording-gap", problem);
        }
        for event in before.events {
            ride.event(event);
        }
        ride.mark = mark;
        if before.dropped > 0 {
            ride.own_event(
                "recording-gap",
                format!(
                    "{} inputs and events before the start were not kept: there were too many",
                    before.dropped
                ),
            );
        }
        if !before.lines.is_empty() {
            ride.raw(&before.lines);
        }
        ride
    }

    pub(super) fn row(&mut self, row: &Row) {
        self.mark = Mark {
            ridden_s: row.ridden_s as f64,
            plan_s: row.plan_s,
            utc_ms: row.utc_ms,
        };
        if self.samples.push(&bytes(row)) == Pushed::Kept {
            self.rows += 1;
        }
    }

    pub(super) fn event(&mut self, event: EventLine) {
        self.mark = Mark {
            ridden_s: event.ridden_s,
            plan_s: event.plan_s,
            utc_ms: event.utc_ms,
        };
        self.events.push(&bytes(&event));
    }

    /// An event of the writer's own, placed at the newest moment that it knows of.
    pub(super) fn own_event(&mut self, what: &'static str, detail: String) {
        let Mark {
            ridden_s,
            plan_s,
            utc_ms,
        } = self.mark;
        self.event(EventLine {
            ridden_s,
            plan_s,
            utc_ms,
            what: what.into(),
            detail,
        });
    }

    pub(super) fn note(&mut self, note: &NoteLine) {
        self.notes.push(&bytes(note));
    }

    pub(super) fn raw(&mut self, lines: &[u8]) {
        if self.raw_stopped {
            self.raw.dropped += 1;
        } else if self.raw.push(lines) == Pushed::FileFull {
            // Once over the bound nothing follows, or a replay would miss inputs in the middle without notice.
            self.raw_stopped = true;
            self.own_event(
                "raw-stopped",
                "raw.csv has its full size; rows, events and notes go on".to_owned(),
            );
        }
    }

    pub(super) fn end(&mut self, word: &'static str) {
        if !self.ended {
            self.say_dropped();
            self.own_event("recording-closed", word.to_owned());
            self.ended = true;
        }
    }

    /// An event for what was dropped since this was last said because memory was full.
    pub(super) fn say_dropped(&mut self) {
        let dropped: u64 = [&self.samples, &self.events, &self.notes, &self.raw]
            .iter()
            .map(|file| file.dropped)
            .sum();
        if dropped > self.said_dropped {
            let detail = format!(
                "{} lines were not kept because memory for them was full: {} rows, {} events, {} notes, {} raw inputs \
                 so far",
                dropped - self.said_dropped,
                self.samples.dropped,
                self.events.dropped,
                self.notes.dropped,
                self.raw.dropped
            );
            self.said_dropped = dropped;
            self.own_event("recording-gap", detail);
        }
    }

    fn files(&mut self) -> impl Iterator<Item = &mut RideFile> {
        self.texts.iter_mut().chain([
            &mut self.samples,
            &mut self.events,
            &mut self.notes,
            &mut self.raw,
        ])
    }

    pub(super) fn settled(&self) -> bool {
        self.names_synced
            && self.texts.iter().all(RideFile::settled)
            && [&self.samples, &self.events, &self.notes, &self.raw]
                .iter()
                .all(|file| file.settled())
    }

    pub(super) fn flush(&mut self, disk: &mut dyn Disk, rides: &Path) -> io::Result<()> {
        let folder = match &self.folder {
            Some(folder) => folder.clone(),
            None => {
                let made = make_folder(disk, rides, &self.name)?;
                self.folder.insert(made).clone()
            }
        };
        // Each file gets its chance: a bound on one must not hold back the rows.
        let mut outcome = Ok(());
        for file in self.files() {
            if let Err(error) = file.flush(disk, &folder)
                && outcome.is_ok()
            {
                outcome = Err(error);
            }
        }
        if self.samples.settled() {
            self.safe_rows = self.rows;
        }
        outcome?;
        if !self.names_synced {
            disk.sync_folder(&folder)?;
            disk.sync_folder(rides)?;
            self.names_synced = true;
        }
        Ok(())
    }

    pub(super) fn report(&mut self, reports: &mut Vec<RecordReport>) {
        let Some(folder) = &self.folder else { return };
        if !self.told_began {
            self.told_began = true;
            reports.push(RecordReport::Began(folder.clone()));
        }
        if self.safe_rows > self.told_rows {
            self.told_rows = self.safe_rows;
            reports.push(RecordReport::Rows(self.safe_rows));
        }
        if self.ended && !self.closed {
            self.closed = true;
            reports.push(RecordReport::Closed(folder.clone(), self.safe_rows));
        }
    }
}

/// `2026-11-24 1830 Steady-with-repeats`, by local time.
fn folder_name(start: &RideStart, zone: &TimeZone) -> String {
    let moment = jiff::Timestamp::from_millisecond(start.utc_ms)
        .unwrap_or(jiff::Timestamp::UNIX_EPOCH)
        .to_zoned_datetime(zone.clone());
    format!(
        "{} {}",
        moment.strftime("%Y-%m-%d %H%M"),
        slug(&start.session)
    )
}

/// Makes the ride's folder, with a number behind its name where it exists.
fn make_folder(disk: &mut dyn Disk, rides: &Path, name: &str) -> io::Result<PathBuf> {
    disk.create_folders(rides)?;
    for number in 1..1000 {
        let folder = if number == 1 {
            rides.join(name)
        } else {
            rides.join(format!("{name}-{number}"))
        };
        match disk.create_folder(&folder) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            other => return other.map(|()| folder),
        }
    }
    Err(io::ErrorKind::AlreadyExists.into())
}
