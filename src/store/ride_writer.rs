//! Keeps a ride: takes what happened, in order, and brings it to a folder of its own once a second.
//!
//! It has no thread and no clock: [`take`](RideWriter::take) never touches the disk, [`tick`](RideWriter::tick) does.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;

use super::disk::{Disk, RealDisk};
use super::raw_log::Early;
use super::record_report::{Bounds, RecordReport};
use super::ride_folder::{Before, Ride};
use super::trouble::TroubleKind;
use crate::record::log::word;
use crate::record::{GoesOn, InputLine, Kept, RawLine, RideStart};

/// So many finished rides may wait for a disk in trouble; a further one drives the oldest out, and that is said.
const MOST_WAITING: usize = 4;

/// So many reports may wait to be fetched; further ones are dropped.
const MOST_REPORTS: usize = 256;

/// So many events before a ride are held for it; further ones are counted with the raw lines.
const MOST_EVENTS_BEFORE: usize = 1024;

/// Keeps rides, one after another.
pub struct RideWriter {
    rides: PathBuf,
    disk: Box<dyn Disk>,
    zone: TimeZone,
    bounds: Bounds,
    before: Before,
    current: Option<Ride>,
    waiting: Vec<Ride>,
    reports: Vec<RecordReport>,
    troubles: BTreeSet<TroubleKind>,
    /// The core's clock at the first raw line since the last tick.
    first_raw_us: Option<u64>,
    taken_since_tick: u32,
    /// So many seconds in a row nothing came.
    silent_s: u32,
    due: bool,
    /// Another ride was chosen: the next input is its own. What was asked for with the choice stands with it.
    left: bool,
}

impl RideWriter {
    /// Keeps rides in folders inside `rides` on this computer's disk, named by its local time.
    pub fn new(rides: &Path) -> Self {
        Self::with_disk(
            rides,
            Box::new(RealDisk),
            TimeZone::system(),
            Bounds::default(),
        )
    }

    /// The same with another disk, time zone and bounds.
    pub fn with_disk(rides: &Path, disk: Box<dyn Disk>, zone: TimeZone, bounds: Bounds) -> Self {
        Self {
            rides: rides.to_owned(),
            disk,
            zone,
            bounds,
            before: Before::default(),
            current: None,
            waiting: Vec::new(),
            reports: Vec::new(),
            troubles: BTreeSet::new(),
            first_raw_us: None,
            taken_since_tick: 0,
            silent_s: 0,
            due: false,
            left: false,
        }
    }

    /// Takes one thing to keep. Touches memory only.
    ///
    /// Before [`Kept::Begin`] raw lines and events are held; there can be no rows or notes yet, and they are dropped. For
    /// six seconds of the core's clock after [`Kept::End`] everything still goes to the ride that ended; then it is closed,
    /// raw lines and events are held for the next one, and notes alone still go to it.
    pub fn take(&mut self, kept: Kept) {
        self.taken_since_tick += 1;
        // Should nothing else make a flush due, a few hundred things do.
        self.due |= self.taken_since_tick >= 512;
        match kept {
            Kept::Begin(start) => self.begin(*start),
            Kept::GoOn(goes_on) => self.go_on(goes_on),
            Kept::Raw(line) => self.raw(line),
            Kept::Row(row) => {
                self.due = true;
                if let Some(ride) = self.open() {
                    ride.row(&row);
                }
            }
            Kept::Event(event) => {
                if let Some(ride) = self.open() {
                    ride.event(event.into());
                } else if self.before.events.len() < MOST_EVENTS_BEFORE {
                    self.before.events.push(event.into());
                } else {
                    self.before.dropped += 1;
                }
            }
            Kept::Note(note) => {
                self.due = true;
                if let Some(ride) = &mut self.current {
                    ride.note(&note.into());
                }
            }
            Kept::End(finish) => {
                self.due = true;
                if let Some(ride) = &mut self.current {
                    ride.end(finish.key());
                }
            }
            Kept::Left => self.left = true,
        }
    }

    /// Notes that so many things were lost on their way to the writer.
    pub fn gap(&mut self, lost: u64) {
        self.due = true;
        match self.open() {
            Some(ride) => ride.lose(lost),
            None => self.before.early.lose(lost),
        }
        self.trouble(
            TroubleKind::Gap,
            say!(
                "{lost} lines of the recording were lost because the disk was too slow. The ride goes on, and the \
                 gap is noted in events.csv. Close other programs that use the disk.",
                lost
            ),
        );
    }

    /// Whether a [`tick`](Self::tick) is due: a second has been ridden or has passed on the core's clock, or something
    /// came that should not wait.
    pub fn due(&self) -> bool {
        self.due
    }

    /// Whether everything taken is safe on the disk.
    pub fn settled(&self) -> bool {
        self.waiting.is_empty()
            && self.troubles.is_empty()
            && self.current.as_ref().is_none_or(Ride::settled)
    }

    /// Brings everything to the disk and syncs it. Where the disk fails it is all kept in memory for the next tick.
    ///
    /// Beside a real clock: once a second, and once more after a whole second of silence. In virtual time a call at the
    /// end is enough for whole files, though one each few thousand rows keeps less in memory.
    pub fn tick(&mut self) {
        self.due = false;
        self.taken_since_tick = 0;
        self.first_raw_us = None;
        let mut failed = None;
        for ride in self.waiting.iter_mut().chain(&mut self.current) {
            match ride.flush(self.disk.as_mut(), &self.rides) {
                Ok(()) => ride.report(&mut self.reports),
                Err(error) => failed = Some(error),
            }
        }
        self.waiting.retain(|ride| !ride.settled());
        match failed {
            Some(error) => {
                let kind = TroubleKind::of(&error);
                let sentence = kind.sentence(&self.rides, &error);
                if self.trouble(kind, sentence.clone())
                    && let Some(ride) = &mut self.current
                {
                    ride.own_event("disk-trouble", sentence);
                }
            }
            None if !self.troubles.is_empty() => {
                self.troubles.clear();
                self.reports.push(RecordReport::Recovered);
                if let Some(ride) = &mut self.current {
                    ride.say_dropped();
                    // What was just said is written with the next tick.
                    self.due = true;
                }
            }
            None => {}
        }
        self.reports.truncate(MOST_REPORTS);
    }

    /// A second went by in which nothing came. A ride that has ended is closed after six of them: its core is at rest.
    pub fn silence(&mut self) {
        self.silent_s += 1;
        if self.silent_s > 6 {
            self.close();
        }
    }

    /// Closes a ride that has ended; what comes now is held for the next one.
    fn close(&mut self) {
        let Some(ride) = self.current.as_mut().filter(|ride| ride.lingers()) else {
            return;
        };
        ride.close();
        let (at_us, follows) = ride.followed();
        self.before.early = Early::after(at_us, &follows);
        self.due = true;
    }

    /// The ride that is recorded.
    fn open(&mut self) -> Option<&mut Ride> {
        self.current.as_mut().filter(|ride| !ride.ended)
    }

    /// The program ends: a ride that is still open is closed as cut off, and everything is brought to the disk if it
    /// takes it. Gives whether all is safe; where it is not, a later [`tick`](Self::tick) tries again.
    pub fn finish(&mut self) -> bool {
        if let Some(ride) = self.open() {
            ride.end("cut-off");
        }
        self.close();
        self.tick();
        if self.due {
            self.tick();
        }
        self.settled()
    }

    /// Leaves a ride as a killed program does, with all that was taken: for one that is recorded again in its parts.
    pub fn leave_open(&mut self) {
        self.tick();
        self.current = None;
        self.before = Before::default();
    }

    /// The rows that are in memory only.
    pub fn rows_at_risk(&self) -> u64 {
        self.waiting
            .iter()
            .chain(&self.current)
            .map(|ride| ride.rows - ride.safe_rows)
            .sum()
    }

    /// What there is to tell since the last call, in order.
    pub fn reports(&mut self) -> Vec<RecordReport> {
        std::mem::take(&mut self.reports)
    }

    fn begin(&mut self, start: RideStart) {
        self.make_room();
        let before = std::mem::take(&mut self.before);
        self.current = Some(Ride::new(&start, before, &self.zone, &self.bounds));
    }

    fn go_on(&mut self, goes_on: Box<GoesOn>) {
        self.make_room();
        let before = std::mem::take(&mut self.before);
        self.current = Some(Ride::going_on(goes_on, before, &self.zone, &self.bounds));
    }

    /// The ride that is recorded is over: it waits for the disk where that has not taken all of it.
    fn make_room(&mut self) {
        self.due = true;
        if let Some(ride) = self.open() {
            ride.end("cut-off");
        }
        self.close();
        if let Some(earlier) = self.current.take() {
            if !earlier.settled() || !earlier.closed {
                self.waiting.push(earlier);
            }
            if self.waiting.len() > MOST_WAITING {
                let lost = self.waiting.remove(0);
                self.reports.push(RecordReport::Trouble(say!(
                    "The ride “{name}” was lost: {rows} of its rows waited for a disk that takes nothing.",
                    name = lost.name,
                    rows = lost.rows - lost.safe_rows
                )));
            }
        }
    }

    fn raw(&mut self, line: RawLine) {
        let first = *self.first_raw_us.get_or_insert(line.at_us);
        self.due |= line.at_us.saturating_sub(first) >= 1_000_000;
        self.silent_s = 0;
        let left = self.left && line.input != word::ASKED;
        if left
            || self
                .current
                .as_ref()
                .is_some_and(|ride| ride.is_over(line.at_us))
        {
            self.left = false;
            self.close();
        }
        let line = InputLine::from(line);
        let (most, memory) = (self.bounds.raw_before, self.bounds.raw_memory / 2);
        match self.open() {
            Some(ride) => ride.raw(&line),
            None => self.before.early.push(&line, most, memory),
        }
    }

    /// Reports a trouble where its kind is new, and says whether it was.
    fn trouble(&mut self, kind: TroubleKind, sentence: String) -> bool {
        let new = self.troubles.insert(kind);
        if new {
            self.reports.push(RecordReport::Trouble(sentence));
        }
        new
    }
}

impl Drop for RideWriter {
    /// A writer that is dropped while a ride is open still brings it to the disk, if the disk takes it.
    fn drop(&mut self) {
        if !self.settled() || self.current.as_ref().is_some_and(|ride| !ride.ended) {
            self.finish();
        }
    }
}
