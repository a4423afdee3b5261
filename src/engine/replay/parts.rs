//! A ride in parts: a killed program left it open, a later run went on with it, and each run has a log of its own.
//!
//! A log may reach a moment further than the files beside it, or fall a moment short of them: each was synced by itself.
//! What the next part says was kept is what counts.

use super::{LogEnd, Replay};
use crate::record::compare::{Differences, NOTHING};
use crate::record::log::part_file;
use crate::record::{EventLine, GoesOn, KeptLines, NoteLine, Row, Table};

/// Stands for a line that was kept and is in no log; no line of a table holds a zero byte.
const IN_NO_LOG: &str = "\0";

/// Where the lines of a part begin.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Begins {
    samples: usize,
    events: usize,
    notes: usize,
}

impl Replay {
    /// The log of the next run of the program begins, in which the ride went on.
    pub fn next_part(&mut self) {
        let file = part_file(self.part);
        match self.end.take() {
            Some(LogEnd::Unusable(why)) => {
                self.differ(
                    &file,
                    self.number,
                    &why,
                    entry!("a log that can be replayed"),
                );
            }
            Some(LogEnd::Failed(number)) => {
                self.differ(
                    &file,
                    number,
                    entry!("an input"),
                    entry!("a failure of the program"),
                );
            }
            Some(LogEnd::Gap(number) | LogEnd::Full(number)) => self.differences.remark(kept!(
                "{file} ends at line {number}, before its part of the ride did."
            )),
            Some(LogEnd::Closed | LogEnd::Open(_)) | None => {}
        }
        self.part += 1;
        self.core = None;
        self.asked.clear();
        self.at_us = 0;
        self.number = 0;
        self.finish = None;
        self.begins = Begins {
            samples: self.samples.len(),
            events: self.events.len(),
            notes: self.notes.len(),
        };
    }

    /// The log before was closed; what follows hangs on it.
    pub(super) fn goes_on_from_closed(&mut self) {
        self.number = 0;
        if self.end == Some(LogEnd::Closed) {
            self.end = None;
        }
    }

    /// The ride goes on: of the parts before, that much was kept.
    pub(super) fn goes_on(&mut self, goes_on: GoesOn) {
        self.mark = (
            goes_on.kept.rows as f64,
            goes_on.plan_s,
            goes_on.start.utc_ms,
        );
        if self.part == 1 {
            // It became a recording of its own, since the other could not be gone on with.
            self.start = Some(Box::new(goes_on.start));
            return;
        }
        let KeptLines {
            rows,
            events,
            notes,
        } = goes_on.kept;
        let begins = self.begins;
        cut(&mut self.samples, begins.samples, rows);
        cut(&mut self.events, begins.events, events);
        cut(&mut self.notes, begins.notes, notes);
    }
}

/// Of the lines of the parts before, `kept` stay; what came since then stands behind them.
fn cut(lines: &mut Vec<String>, begins: usize, kept: u64) {
    let since = lines.split_off(begins);
    // A recording is bounded by its files; what a damaged log says is not.
    let kept = usize::try_from(kept).unwrap_or(usize::MAX).min(MOST_LINES);
    lines.resize(kept, IN_NO_LOG.to_owned());
    lines.extend(since);
}

/// More lines than this no table of a recording has: over eleven days, or what is damaged.
const MOST_LINES: usize = 1_000_000;

/// Lines that are in no log are taken as they were kept, and that is said.
pub(super) fn fill<T: Table>(
    kept: &[u8],
    replayed: &mut [String],
    own: impl Fn(&str) -> bool,
    into: &mut Differences,
) {
    if replayed.iter().all(|line| line != IN_NO_LOG) {
        return;
    }
    let text = String::from_utf8_lossy(kept);
    let mut lines = text.lines().skip(1).filter(|line| !own(line));
    let mut filled = 0;
    for line in replayed {
        let as_kept = lines.next();
        if line == IN_NO_LOG {
            *line = as_kept.unwrap_or(NOTHING).to_owned();
            filled += 1;
        }
    }
    into.remark(kept!(
        "{file}: {filled} lines were kept by a run of the program whose log does not reach so far; they are not compared.",
        file = T::FILE
    ));
}

/// Whether a line of `events.csv` is the writer's own.
pub(super) fn is_own(line: &str) -> bool {
    // The word is the fourth cell, and no cell before it is quoted.
    let what = line.split(',').nth(3).unwrap_or_default();
    super::is_the_writers_own(what)
}

/// Fills what is in no log, in all three tables.
pub(super) fn fill_all(replay: &mut Replay, kept: &super::KeptFiles) {
    let into = &mut replay.differences;
    let none = |_: &str| false;
    if let Some(bytes) = &kept.samples {
        fill::<Row>(bytes, &mut replay.samples, none, into);
    }
    if let Some(bytes) = &kept.events {
        fill::<EventLine>(bytes, &mut replay.events, is_own, into);
    }
    if let Some(bytes) = &kept.notes {
        fill::<NoteLine>(bytes, &mut replay.notes, none, into);
    }
}
