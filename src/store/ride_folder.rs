//! One ride's folder and the files in it.

use std::io;
use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;

use super::disk::{Disk, Hold};
use super::left_open::{is_closed, torn_says};
use super::raw_log::{Early, Logged, RawLog};
use super::record_report::{Bounds, RecordReport};
use super::ride_file::{Pushed, RideFile};
use super::trouble::TroubleKind;
use crate::record::log::Follows;
use crate::record::{
    EventLine, GoesOn, InputLine, NoteLine, RideStart, Row, Table, encode, encode_header, package,
    ride_toml, slug::slug,
};

/// The place in time of the newest thing taken, for the writer's own events.
#[derive(Clone, Copy, Default)]
struct Mark {
    ridden_s: f64,
    plan_s: f64,
    utc_ms: i64,
}

/// So long after its end a ride is still recorded, microseconds: a load goes in two steps, the trainer has three seconds
/// to answer the release, and the links have two more to close.
const LINGERS_US: u64 = 6_000_000;

/// What came before a ride.
#[derive(Default)]
pub(super) struct Before {
    pub(super) events: Vec<EventLine>,
    pub(super) early: Early,
    /// Events that found no room.
    pub(super) dropped: u64,
}

/// A record as a line of its file.
pub(super) fn bytes<T: Table>(record: &T) -> Vec<u8> {
    let mut line = Vec::with_capacity(128);
    // Writing to memory cannot fail, and the names of columns and cells are text.
    let _ = encode(record, &mut line);
    line
}

pub(super) fn header<T: Table>() -> Vec<u8> {
    let mut line = Vec::with_capacity(128);
    // As above.
    let _ = encode_header::<T>(&mut line);
    line
}

/// One ride and its files.
pub(super) struct Ride {
    pub(super) name: String,
    folder: Option<PathBuf>,
    /// Keeps other programs from the folder until the ride is closed.
    hold: Option<Hold>,
    /// The recording that this goes on in, until it is open.
    goes_on: Option<Box<GoesOn>>,
    names_synced: bool,
    texts: Vec<RideFile>,
    samples: RideFile,
    events: RideFile,
    notes: RideFile,
    raw: RawLog,
    pub(super) rows: u64,
    pub(super) safe_rows: u64,
    told_rows: u64,
    told_began: bool,
    /// How it ended, and the moment of the newest raw line then: the last release is still to come.
    ending: Option<(&'static str, u64)>,
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
        let mut ride = Self::with(folder_name(start, zone), mark, before.early, 1, bounds);
        ride.begin(start);
        ride.take_before(mark, before.events, before.dropped);
        ride
    }

    /// One that goes on in the recording in which it began.
    pub(super) fn going_on(
        goes_on: Box<GoesOn>,
        before: Before,
        zone: &TimeZone,
        bounds: &Bounds,
    ) -> Self {
        let mark = Mark {
            ridden_s: goes_on.kept.rows as f64,
            plan_s: goes_on.plan_s,
            utc_ms: goes_on.start.utc_ms,
        };
        let name = folder_name(&goes_on.start, zone);
        let mut ride = Self::with(name, mark, before.early, goes_on.part, bounds);
        ride.goes_on = Some(goes_on);
        ride.take_before(mark, before.events, before.dropped);
        ride
    }

    fn with(name: String, mark: Mark, early: Early, part: u32, bounds: &Bounds) -> Self {
        let table = |name, memory| RideFile::new(name, memory, u64::MAX);
        Self {
            name,
            folder: None,
            hold: None,
            goes_on: None,
            names_synced: false,
            texts: Vec::new(),
            samples: table(Row::FILE, bounds.row_memory),
            events: table(EventLine::FILE, bounds.other_memory),
            notes: table(NoteLine::FILE, bounds.other_memory),
            raw: RawLog::new(early, part, bounds.raw_memory, bounds.raw_file),
            rows: 0,
            safe_rows: 0,
            told_rows: 0,
            told_began: false,
            ending: None,
            ended: false,
            closed: false,
            mark,
            said_dropped: 0,
        }
    }

    /// A recording of its own: what was known at the start, and a header line before each table.
    fn begin(&mut self, start: &RideStart) {
        let (about, unwritable) = match ride_toml::write(start) {
            Ok(about) => (about, None),
            Err(error) => (String::new(), Some(error.to_string())),
        };
        let package = package::write(start);
        let texts: [(_, &str); 4] = [
            ("ride.toml", &about),
            ("session.toml", &start.session_text),
            ("rider.toml", &start.rider_text),
            (package::FILE, &package),
        ];
        let written = start.fitted.as_ref();
        let written = written.map(|fitted| ("written.toml", &*fitted.fitting.written));
        for (name, text) in texts.into_iter().chain(written) {
            let mut file = RideFile::new(name, usize::MAX, u64::MAX);
            file.push(text.as_bytes());
            self.texts.push(file);
        }
        self.samples.begin_with(&header::<Row>());
        self.events.begin_with(&header::<EventLine>());
        self.notes.begin_with(&header::<NoteLine>());
        if let Some(problem) = unwritable {
            self.own_event("recording-gap", problem);
        }
    }

    /// What came before the ride. `dropped` events of it found no room.
    fn take_before(&mut self, mark: Mark, events: Vec<EventLine>, dropped: u64) {
        let dropped = dropped + self.raw.lost();
        for event in events {
            self.event(event);
        }
        self.mark = mark;
        if dropped > 0 {
            self.own_event(
                "recording-gap",
                kept!(
                    "{dropped} inputs and events before the start were not kept: there were too many"
                ),
            );
        }
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

    pub(super) fn raw(&mut self, line: &InputLine) {
        if self.raw.push(line) == Logged::Full {
            self.own_event(
                "raw-stopped",
                entry!("raw.csv has its full size; rows, events and notes go on").to_owned(),
            );
        }
    }

    /// So many things never came, and raw lines among them as far as anybody knows.
    pub(super) fn lose(&mut self, lost: u64) {
        self.raw.lose(lost);
        self.own_event(
            "recording-gap",
            kept!("{lost} things were not recorded because the writer was busy"),
        );
    }

    /// The ride is over. What the trainer makes of its last release still belongs to it: see [`is_over`](Self::is_over).
    pub(super) fn end(&mut self, word: &'static str) {
        self.ending.get_or_insert((word, self.raw.at_us()));
    }

    /// Whether a raw line of this moment comes too late to belong to it.
    pub(super) fn is_over(&self, at_us: u64) -> bool {
        let after = |(_, end): (&str, u64)| at_us.saturating_sub(end) > LINGERS_US;
        self.ended || self.ending.is_some_and(after)
    }

    /// Closes the recording of a ride that has ended: nothing but notes comes after this.
    pub(super) fn close(&mut self) {
        if let Some((word, _)) = self.ending.filter(|_| !self.ended) {
            self.say_dropped();
            self.raw.close();
            self.own_event("recording-closed", word.to_owned());
            self.ended = true;
        }
    }

    /// Whether it has ended and waits to be closed.
    pub(super) const fn lingers(&self) -> bool {
        self.ending.is_some() && !self.ended
    }

    /// For the log that goes on from here.
    pub(super) fn followed(&self) -> (u64, Follows) {
        let name = self.folder.as_ref().and_then(|folder| folder.file_name());
        let ride = name.map_or_else(|| self.name.clone(), |name| name.to_string_lossy().into());
        let check = self.raw.check().to_owned();
        (self.raw.at_us(), Follows { ride, check })
    }

    /// An event for what was dropped since this was last said because memory was full.
    pub(super) fn say_dropped(&mut self) {
        let dropped: u64 = [&self.samples, &self.events, &self.notes, &self.raw.file]
            .iter()
            .map(|file| file.dropped)
            .sum();
        if dropped > self.said_dropped {
            let detail = kept!(
                "{lines} lines were not kept because memory for them was full: {rows} rows, {events} events, {notes} notes, \
                 {inputs} raw inputs so far",
                lines = dropped - self.said_dropped,
                rows = self.samples.dropped,
                events = self.events.dropped,
                notes = self.notes.dropped,
                inputs = self.raw.file.dropped
            );
            self.said_dropped = dropped;
            self.own_event("recording-gap", detail);
        }
    }

    pub(super) fn settled(&self) -> bool {
        self.names_synced
            && self.texts.iter().all(RideFile::settled)
            && [&self.samples, &self.events, &self.notes, &self.raw.file]
                .iter()
                .all(|file| file.settled())
    }

    pub(super) fn flush(&mut self, disk: &mut dyn Disk, rides: &Path) -> io::Result<()> {
        self.open_to_go_on(disk, rides)?;
        let folder = match &self.folder {
            Some(folder) => folder.clone(),
            None => {
                let made = make_folder(disk, rides, &self.name)?;
                // Without a lock the ride is kept all the same.
                self.hold = disk.hold(&made).ok();
                self.folder.insert(made).clone()
            }
        };
        // Each file gets its chance: a bound on one must not hold back the rows.
        let mut outcome = Ok(());
        for file in &mut self.texts {
            outcome = outcome.and(file.flush(disk, &folder));
        }
        // The log first: after a kill it then tells of every row that is there, and a replay gives them all.
        let logged = self.raw.file.flush(disk, &folder);
        if matches!(&logged, Err(error) if TroubleKind::of(error) == TroubleKind::Full) {
            // The log is many times as large as the rows, and they can be read without it: the last room is theirs.
            self.raw.file.give_back();
        }
        outcome = outcome.and(logged);
        for file in [&mut self.samples, &mut self.events, &mut self.notes] {
            outcome = outcome.and(file.flush(disk, &folder));
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

    /// Opens the recording that this goes on in. Where another program writes it, or it is gone, what comes becomes a
    /// recording of its own.
    fn open_to_go_on(&mut self, disk: &mut dyn Disk, rides: &Path) -> io::Result<()> {
        let Some(goes_on) = self.goes_on.take() else {
            return Ok(());
        };
        match self.open_all(disk, &rides.join(&goes_on.ride)) {
            Ok(()) => Ok(()),
            Err(error)
                if matches!(
                    error.kind(),
                    io::ErrorKind::WouldBlock
                        | io::ErrorKind::NotFound
                        | io::ErrorKind::AlreadyExists
                        | io::ErrorKind::Unsupported
                ) =>
            {
                self.hold = None;
                self.raw.file.rename(InputLine::FILE);
                self.begin(&goes_on.start);
                let detail = kept!(
                    "{ride} could not be gone on with ({error}): what was ridden after it is a recording of its own",
                    ride = goes_on.ride
                );
                self.own_event("recording-gap", detail);
                Ok(())
            }
            Err(error) => {
                self.goes_on = Some(goes_on);
                Err(error)
            }
        }
    }

    fn open_all(&mut self, disk: &mut dyn Disk, folder: &Path) -> io::Result<()> {
        if self.hold.is_none() {
            self.hold = Some(disk.hold(folder)?);
        }
        if is_closed(folder) {
            // Since it was chosen another program has closed it.
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        // First what can be refused: nothing is added to a recording that is not taken up.
        self.raw.file.create(disk, folder)?;
        let mut torn = Vec::new();
        for (file, name, header) in [
            (&mut self.samples, Row::FILE, header::<Row>()),
            (&mut self.events, EventLine::FILE, header::<EventLine>()),
            (&mut self.notes, NoteLine::FILE, header::<NoteLine>()),
        ] {
            let tail = file.open_to_add(disk, folder, &header)?;
            if !tail.is_empty() {
                torn.push((name, tail));
            }
        }
        for (name, tail) in torn {
            let detail = torn_says(name, &String::from_utf8_lossy(&tail));
            self.own_event("recording-torn", detail);
        }
        self.folder = Some(folder.to_owned());
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
            self.hold = None;
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
