//! A ride run again from its raw log: the same core is fed each input with its moment, and what comes of it is compared
//! with what was kept. A log is bytes from anywhere: whatever stands in it, this reports and does not panic.

mod end;
mod parts;

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::device::Request;
use crate::engine::core::Core;
use crate::engine::input::{Input, Output, request_to_raw};
use crate::engine::snapshot::Snapshot;
use crate::record::compare::{Differences, NOTHING, Tail, compare_table, compare_text};
use crate::record::log::{Head, LOG_FORMAT, LogItem, PROGRAM, part_file, word};
use crate::record::{
    EventLine, InputLine, Kept, NoteLine, RideStart, Row, Table, encode, ride_toml,
};
use crate::ride::Finish;
use crate::time::Instant;

/// A log whose clock stands beyond this is damaged: a hundred years, microseconds.
const LAST_MOMENT: u64 = 100 * 366 * 86_400 * 1_000_000;

/// Words of `events.csv` that the writer adds by itself, for reasons that are not in the log.
const WRITERS_OWN: [&str; 4] = [
    "recording-gap",
    "recording-torn",
    "raw-stopped",
    "disk-trouble",
];

/// Whether an event of this word is the writer's own, which no replay gives.
pub fn is_the_writers_own(what: &str) -> bool {
    WRITERS_OWN.contains(&what)
}

/// Where the log ended, which is as far as a replay goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LogEnd {
    /// Without its closing line, behind this line of the file: the program was killed, or the log cut off.
    Open(u64),
    /// It was closed with the recording.
    Closed,
    /// It had its full size at this line; the ride went on.
    Full(u64),
    /// At this line inputs are missing: from there on no replay is exact.
    Gap(u64),
    /// It cannot be replayed from here on, and why.
    Unusable(String),
    /// The core failed on the input of this line.
    Failed(u64),
}

/// The files of a recording that a replay is compared with, as bytes; none where one is missing.
#[derive(Clone, Debug, Default)]
pub struct KeptFiles {
    /// `ride.toml`.
    pub ride: Option<Vec<u8>>,
    /// `session.toml`.
    pub session: Option<Vec<u8>>,
    /// `written.toml`; only of a session that was fitted.
    pub written: Option<Vec<u8>>,
    /// `rider.toml`.
    pub rider: Option<Vec<u8>>,
    /// `samples.csv`.
    pub samples: Option<Vec<u8>>,
    /// `events.csv`.
    pub events: Option<Vec<u8>>,
    /// `notes.csv`.
    pub notes: Option<Vec<u8>>,
}

/// A replay under way.
pub struct Replay {
    core: Option<Core>,
    /// What the core has asked for and the log not yet. Bounded by what a core puts out for one input.
    asked: VecDeque<Request>,
    /// Whether the lines are of the recording itself and not of one that it goes on from.
    own: bool,
    /// Which part of the ride the lines are of, from 1, and what the parts before it gave.
    part: u32,
    begins: parts::Begins,
    at_us: u64,
    number: u64,
    end: Option<LogEnd>,
    start: Option<Box<RideStart>>,
    /// The program that wrote the log, which wrote the other files too.
    program: String,
    finish: Option<Finish>,
    /// Ridden and session time and the wall clock of the newest row or event, as the writer marks its own.
    mark: (f64, f64, i64),
    samples: Vec<String>,
    events: Vec<String>,
    notes: Vec<String>,
    inputs: u64,
    requests: u64,
    differences: Differences,
}

/// What came of a replay.
#[derive(Clone, Debug, PartialEq)]
pub struct Replayed {
    /// How far the log goes.
    pub end: LogEnd,
    /// Inputs that were handled.
    pub inputs: u64,
    /// Requests to devices that were compared.
    pub requests: u64,
    /// Rows, events and notes that came of it.
    pub lines: [usize; 3],
    /// What is not the same.
    pub differences: Differences,
}

impl Default for Replay {
    fn default() -> Self {
        Self {
            core: None,
            asked: VecDeque::new(),
            own: true,
            part: 1,
            begins: parts::Begins::default(),
            at_us: 0,
            number: 0,
            end: None,
            start: None,
            program: PROGRAM.to_owned(),
            finish: None,
            mark: (0.0, 0.0, 0),
            samples: Vec::new(),
            events: Vec::new(),
            notes: Vec::new(),
            inputs: 0,
            requests: 0,
            differences: Differences::default(),
        }
    }
}

impl Replay {
    /// The moment of the newest line.
    pub const fn at(&self) -> Instant {
        Instant(self.at_us)
    }

    /// The picture now; none before the log's head.
    pub fn snapshot(&self) -> Option<Snapshot> {
        self.core.as_ref().map(|core| core.snapshot(self.at()))
    }

    /// How the ride has gone so far: its differences.
    pub const fn differences(&self) -> &Differences {
        &self.differences
    }

    /// Takes a line of the log of a ride before, which the recording's own goes on from. `file` names it. False where
    /// nothing more of it is wanted.
    pub fn before(&mut self, file: &str, item: LogItem) -> bool {
        self.own = false;
        if let LogItem::Line { line, .. } = &item
            && line.input == word::FOLLOWS
        {
            self.goes_on_from_closed();
        }
        self.item(file, item)
    }

    /// Takes a line of the recording's own log. False where nothing more of it is wanted.
    pub fn line(&mut self, item: LogItem) -> bool {
        if !self.own {
            self.own = true;
            self.goes_on_from_closed();
        }
        let file = part_file(self.part);
        self.item(&file, item)
    }

    fn item(&mut self, file: &str, item: LogItem) -> bool {
        match (&self.end, &item) {
            (Some(LogEnd::Closed), LogItem::Line { number, line, .. }) => {
                let says = format!("{} {}", line.input, line.content);
                self.differ(
                    file,
                    *number,
                    &says,
                    entry!("nothing after the closing line"),
                );
                return true;
            }
            (None | Some(LogEnd::Closed), _) => {}
            (Some(_), _) => return false,
        }
        match item {
            LogItem::Bad { number, says } => {
                self.number = number;
                let says = kept!("a line that cannot be read ({says})");
                self.differ(file, number, &says, entry!("one that can"));
            }
            LogItem::Torn { number } => {
                self.number = number;
                self.differences.remark(kept!(
                    "{file}, line {number}: the file was cut off inside this line, its last."
                ));
            }
            LogItem::Line {
                number,
                line,
                sound,
            } => {
                self.number = number;
                if !sound {
                    self.differ(
                        file,
                        number,
                        entry!("a check that does not fit this line and the one before"),
                        entry!("one that does"),
                    );
                }
                if let Some(end) = self.take(file, number, &line) {
                    self.end = Some(end);
                }
            }
        }
        self.end
            .as_ref()
            .is_none_or(|end| matches!(end, LogEnd::Closed))
    }

    fn take(&mut self, file: &str, number: u64, line: &InputLine) -> Option<LogEnd> {
        if line.at_us > LAST_MOMENT || line.at_us < self.at_us {
            let says = kept!("the moment {at}", at = line.at_us);
            let other = kept!("one not before {at}", at = self.at_us);
            self.differ(file, number, &says, &other);
        }
        self.at_us = self.at_us.max(line.at_us.min(LAST_MOMENT));
        match &*line.input {
            word::HEAD => return self.head(file, number, &line.content),
            // Whoever feeds the lines has opened the log before this one first.
            word::FOLLOWS if self.core.is_some() => return None,
            word::FOLLOWS => {
                return Some(LogEnd::Unusable(
                    entry!("It goes on from the log of a ride before, which is not here.")
                        .to_owned(),
                ));
            }
            _ if self.core.is_none() => {
                return Some(LogEnd::Unusable(
                    entry!(
                        "Its first line does not say what the program began with: it is damaged, or of a program that \
                         wrote no such line."
                    )
                        .to_owned(),
                ));
            }
            word::GAP => return Some(LogEnd::Gap(number)),
            word::STOPPED => return Some(LogEnd::Full(number)),
            word::CLOSED => {
                self.settle_asked(file, number);
                return Some(LogEnd::Closed);
            }
            word::ASKED => self.compare_asked(file, number, &line.content),
            _ => {
                self.settle_asked(file, number);
                match Input::from_raw(&line.input, &line.content) {
                    Ok(input) => {
                        // What was written would be written again: a space more in its JSON is a changed line too.
                        let again = input.to_raw(Instant(line.at_us));
                        if again.input != line.input {
                            self.differ(file, number, &line.input, again.input);
                        }
                        return self.handle(number, input);
                    }
                    Err(why) => {
                        let says = format!("{} {} ({why})", line.input, line.content);
                        self.differ(file, number, &says, entry!("an input that can be read"));
                    }
                }
            }
        }
        None
    }

    fn head(&mut self, file: &str, number: u64, content: &str) -> Option<LogEnd> {
        // A ride before this one may have been in parts.
        if self.core.is_some() && self.own {
            self.differ(file, number, entry!("a second head"), NOTHING);
            return None;
        }
        let head: Head = match serde_json::from_str(content) {
            Ok(head) => head,
            Err(why) => {
                return Some(LogEnd::Unusable(kept!(
                    "Its first line cannot be read ({why})."
                )));
            }
        };
        if head.log != LOG_FORMAT {
            self.differences.remark(kept!(
                "The log is of format {format}, this program writes format {ours}: it is replayed as far as it is understood.",
                format = head.log,
                ours = LOG_FORMAT
            ));
        }
        if head.program != PROGRAM {
            self.differences.remark(kept!(
                "The log was written by {program}, this is {ours}: where the two behave differently there will be differences.",
                program = head.program,
                ours = PROGRAM
            ));
        }
        self.program = head.program;
        let mut core = Core::new(head.epoch_ms);
        if !head.leads {
            core.without_lead();
        }
        self.core = Some(core);
        None
    }

    fn handle(&mut self, number: u64, input: Input) -> Option<LogEnd> {
        let now = self.at();
        self.inputs += 1;
        let core = self.core.as_mut()?;
        // A recording of a failure is what this is for: the failure comes again, and is told.
        let handled = catch_unwind(AssertUnwindSafe(|| core.handle(now, input)));
        if handled.is_err() {
            self.core = None;
            return Some(LogEnd::Failed(number));
        }
        while let Some(output) = self.core.as_mut().and_then(Core::poll_output) {
            match output {
                Output::Request(request) => self.asked.push_back(request),
                Output::Kept(kept) if self.own => self.keep(kept),
                Output::Kept(_) | Output::Remember(_) | Output::Done => {}
            }
        }
        None
    }

    fn keep(&mut self, kept: Kept) {
        match kept {
            Kept::Begin(start) => {
                self.mark = (0.0, 0.0, start.utc_ms);
                self.start = Some(start);
            }
            Kept::GoOn(goes_on) => self.goes_on(*goes_on),
            Kept::Row(row) if self.start.is_some() => {
                self.mark = (row.ridden_s as f64, row.plan_s, row.utc_ms);
                self.samples.push(text(&*row));
            }
            Kept::Event(event) => {
                self.mark = (event.ridden_s, event.plan_s, event.utc_ms);
                self.events.push(text(&EventLine::from(event)));
            }
            Kept::Note(note) if self.start.is_some() => {
                self.notes.push(text(&NoteLine::from(note)));
            }
            Kept::End(finish) => self.finish = Some(finish),
            Kept::Row(_) | Kept::Note(_) | Kept::Raw(_) | Kept::Left => {}
        }
    }

    fn compare_asked(&mut self, file: &str, number: u64, content: &str) {
        self.requests += 1;
        let again = self.asked.pop_front();
        let again = again.map(|request| request_to_raw(&request, self.at()).content);
        if again.as_deref() != Some(content) {
            self.differ(file, number, content, again.as_deref().unwrap_or(NOTHING));
        }
    }

    /// What was asked for since the last input and does not stand in the log before this line.
    fn settle_asked(&mut self, file: &str, number: u64) {
        while let Some(request) = self.asked.pop_front() {
            let again = request_to_raw(&request, self.at()).content;
            self.differ(file, number, NOTHING, &again);
        }
    }

    fn differ(&mut self, file: &str, number: u64, kept: &str, replayed: &str) {
        self.differences.line(file, Some(number), kept, replayed);
    }

    /// The log is over: compares all that came of it with what was kept.
    pub fn finish(mut self, kept: &KeptFiles) -> Replayed {
        let end = self.end.take().unwrap_or(LogEnd::Open(self.number));
        let events = kept.events.as_deref().unwrap_or_default();
        // Closed by a later run, which had no log to close.
        let later = b",recording-closed,closed-later";
        let was_closed = events.split(|byte| *byte == b'\n').any(|line| {
            line.windows(18).any(|word| word == b",recording-closed,") && !line.ends_with(later)
        });
        self.tell_end(&end, was_closed);
        parts::fill_all(&mut self, kept);
        // The log is written first: killed between, it is closed and the tables lack what came at the very end.
        let rows = kept.samples.as_deref().unwrap_or_default();
        let between = end == LogEnd::Closed
            && !was_closed
            && self.lacks_little(&self.events, events)
            && self.lacks_little(&self.samples, rows);
        let closed = end == LogEnd::Closed && !between;
        if between {
            self.differences.remark(
                entry!(
                    "The log was closed and the recording was not: the program was killed between."
                )
                .to_owned(),
            );
        }
        if closed {
            let line = self.closing_line();
            self.events.push(line);
        }
        let tail = if closed { Tail::None } else { Tail::Either };
        let notes = if closed { Tail::Kept } else { Tail::Either };
        let own = |cell: &dyn Fn(&str) -> String| {
            let what = cell("what");
            WRITERS_OWN.contains(&what.as_str()) || (!closed && what == "recording-closed")
        };
        let none = |_: &dyn Fn(&str) -> String| false;
        let into = &mut self.differences;
        let written = self.start.as_ref().and_then(|start| start.fitted.as_ref());
        let written = written.map(|fitted| fitted.fitting.written.clone());
        match (&kept.written, &written) {
            (Some(bytes), Some(again)) => compare_text("written.toml", bytes, again, into),
            (None, Some(_)) => {
                into.line("written.toml", None, entry!("no such file"), entry!("one"));
            }
            (Some(_), None) if self.start.is_some() => {
                into.line(
                    "written.toml",
                    None,
                    entry!("a session that was fitted"),
                    NOTHING,
                );
            }
            (_, None) => {}
        }
        for (file, bytes) in [
            ("ride.toml", &kept.ride),
            ("session.toml", &kept.session),
            ("rider.toml", &kept.rider),
            (Row::FILE, &kept.samples),
            (EventLine::FILE, &kept.events),
            (NoteLine::FILE, &kept.notes),
        ] {
            let Some(bytes) = bytes else {
                into.line(file, None, entry!("no such file"), entry!("one"));
                continue;
            };
            match (file, &self.start) {
                (Row::FILE, _) => compare_table::<Row>(bytes, &self.samples, tail, none, into),
                (EventLine::FILE, _) => {
                    compare_table::<EventLine>(bytes, &self.events, tail, own, into);
                }
                (NoteLine::FILE, _) => {
                    compare_table::<NoteLine>(bytes, &self.notes, notes, none, into);
                }
                (_, Some(start)) => {
                    let again = match file {
                        "ride.toml" => {
                            ride_toml::write_as(start, &self.program).unwrap_or_default()
                        }
                        "session.toml" => start.session_text.to_string(),
                        _ => start.rider_text.to_string(),
                    };
                    compare_text(file, bytes, &again, into);
                }
                (_, None) if closed => {
                    into.line(file, None, entry!("the start of a ride"), NOTHING);
                }
                (_, None) => {}
            }
        }
        Replayed {
            lines: [self.samples.len(), self.events.len(), self.notes.len()],
            end,
            inputs: self.inputs,
            requests: self.requests,
            differences: self.differences,
        }
    }
}

/// A record as its line, without the line end.
fn text<T: Table>(record: &T) -> String {
    let mut line = Vec::with_capacity(128);
    // Writing to memory cannot fail, and what is written is text.
    let _ = encode(record, &mut line);
    line.pop();
    String::from_utf8_lossy(&line).into_owned()
}
