//! A ride's raw log on its way to the disk: the chain of its checks, and what it says of its own gaps and end.

use super::ride_file::{Pushed, RideFile};
use super::ride_folder::header;
use crate::record::InputLine;
use crate::record::log::{Chain, Follows, json, own_line, part_file, word};

/// The room that is kept for the last lines of a full file, bytes.
const LAST_LINES: u64 = 128;

/// The lines of a log that has no ride yet, in the file's own form.
pub(super) struct Early {
    chain: Chain,
    lines: Vec<u8>,
    count: u64,
    lost: u64,
}

impl Default for Early {
    /// The first of a run.
    fn default() -> Self {
        Self {
            chain: Chain::begin(),
            lines: Vec::new(),
            count: 0,
            lost: 0,
        }
    }
}

impl Early {
    /// One that goes on from another ride's log.
    pub(super) fn after(at_us: u64, follows: &Follows) -> Self {
        let mut early = Self::default();
        let line = own_line(at_us, word::FOLLOWS, json(follows));
        early.lines.extend(early.chain.encode(&line));
        early
    }

    /// Takes a line. Bounded by `most` lines and `memory` bytes: from then on lines are lost and counted, and the log says
    /// where.
    pub(super) fn push(&mut self, line: &InputLine, most: u64, memory: usize) {
        if self.lost > 0 || self.count >= most || self.lines.len() + line.content.len() > memory {
            // Once one is lost the rest is of no use before the ride: it would only hide where.
            self.lost += 1;
        } else {
            self.lines.extend(self.chain.encode(line));
            self.count += 1;
        }
    }

    /// Notes that so many lines never came.
    pub(super) fn lose(&mut self, lost: u64) {
        self.lost += lost;
    }
}

/// What became of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Logged {
    /// It is kept, or lost and counted.
    Taken,
    /// The file has its full size, and the log has just said so.
    Full,
}

/// The log of a ride.
pub(super) struct RawLog {
    pub(super) file: RideFile,
    chain: Chain,
    /// Lines lost since the last one that was kept.
    lost: u64,
    stopped: bool,
    at_us: u64,
}

impl RawLog {
    /// Under the name of its part of the ride.
    pub(super) fn new(early: Early, part: u32, memory: usize, most: u64) -> Self {
        let mut file = RideFile::new(part_file(part), memory, most);
        file.push(&header::<InputLine>());
        let mut log = Self {
            file,
            chain: early.chain,
            lost: early.lost,
            stopped: false,
            at_us: 0,
        };
        if !early.lines.is_empty() && log.file.push(&early.lines) != Pushed::Kept {
            // A bound smaller than what came before the ride: a log without its beginning is none.
            log.stopped = true;
        }
        log
    }

    /// The newest check.
    pub(super) fn check(&self) -> &str {
        self.chain.last()
    }

    /// The moment of the newest line.
    pub(super) const fn at_us(&self) -> u64 {
        self.at_us
    }

    /// Notes that so many lines never came.
    pub(super) fn lose(&mut self, lost: u64) {
        self.lost += lost;
    }

    /// How many lines were lost since the last one that was kept.
    pub(super) const fn lost(&self) -> u64 {
        self.lost
    }

    pub(super) fn push(&mut self, line: &InputLine) -> Logged {
        self.at_us = line.at_us;
        if self.stopped {
            self.file.dropped += 1;
            return Logged::Taken;
        }
        self.say_lost();
        let longest = (line.content.len() * 2) as u64 + LAST_LINES;
        if self.file.room() < longest {
            // Once over the bound nothing follows, or a replay would miss inputs in the middle without notice.
            self.stopped = true;
            self.file.dropped += 1;
            self.put(&own_line(line.at_us, word::STOPPED, String::new()));
            return Logged::Full;
        }
        if self.lost > 0 || !self.put(line) {
            self.lost += 1;
        }
        Logged::Taken
    }

    /// A line where others are missing.
    fn say_lost(&mut self) {
        if self.lost > 0 {
            let lost = format!("{{\"lost\":{}}}", self.lost);
            if self.put(&own_line(self.at_us, word::GAP, lost)) {
                self.lost = 0;
            }
        }
    }

    /// The last line.
    pub(super) fn close(&mut self) {
        if !self.stopped {
            self.say_lost();
            self.put(&own_line(self.at_us, word::CLOSED, String::new()));
        }
    }

    /// False where it found no room; the chain then hangs on the line before.
    fn put(&mut self, line: &InputLine) -> bool {
        let before = self.chain.clone();
        let bytes = self.chain.encode(line);
        let kept = self.file.push(&bytes) == Pushed::Kept;
        if !kept {
            self.chain = before;
        }
        kept
    }
}
