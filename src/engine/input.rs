//! What goes into the core and what comes out; every input can be written as one line and read back.

use serde::{Deserialize, Serialize};

use crate::device::{Event, Request};
use crate::engine::command::Command;
use crate::memory::Memory;
use crate::record::log::{json, word};
use crate::record::{Kept, RawLine};
use crate::time::{Instant, Span};

/// Everything that can happen to a ride.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Input {
    /// Time has passed: a deadline of [`Core::poll_timeout`](super::core::Core::poll_timeout) is due.
    Wake,
    /// The screen or the command line asks for something.
    Command(Command),
    /// A backend reports something.
    Device(Event),
    /// The computer slept for so long, by the wall clock, while the monotonic clock stood.
    Slept(Span),
    /// The writer reports something.
    Recorder(Recorder),
    /// What earlier rides left, before anything else.
    Remembered(#[serde(with = "as_toml")] Box<Memory>),
    /// So many seconds the rider's clock on the wall is ahead of UTC, behind where negative: with it a day ends at the
    /// rider's own midnight. Told before anything that depends on the day; without it days are those of UTC.
    Zone(i32),
}

/// What the writer reports.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Recorder {
    /// The ride's folder was made; as text.
    Began(String),
    /// The folder cannot be written; a sentence. What is to be kept waits in memory.
    Trouble(String),
    /// Everything that waited is on the disk.
    Recovered,
    /// So many entries found the queue full and were not kept.
    Dropped(u64),
    /// The ride is on the disk in this folder, and its files are closed.
    Closed(String),
    /// What is remembered between rides could not be saved; a sentence.
    Forgotten(String),
}

/// What the core wants done.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// For a backend.
    Request(Request),
    /// For the writer.
    Kept(Kept),
    /// What is to be remembered has changed: the whole of it, to be kept.
    Remember(Box<Memory>),
    /// Everything is let go: the loop may end.
    Done,
}

impl Input {
    /// The word for its sort in `raw.csv`.
    const fn word(&self) -> &'static str {
        match self {
            Self::Wake => "wake",
            Self::Command(_) => "command",
            Self::Device(_) => "device",
            Self::Slept(_) => "slept",
            Self::Recorder(_) => "recorder",
            Self::Remembered(_) => "remembered",
            Self::Zone(_) => "zone",
        }
    }

    /// As a line of `raw.csv`.
    pub fn to_raw(&self, now: Instant) -> RawLine {
        let content = match self {
            Self::Wake => String::new(),
            _ => json(self),
        };
        RawLine {
            at_us: now.0,
            input: self.word(),
            content,
        }
    }

    /// From the word and the content of a line of `raw.csv`.
    ///
    /// # Errors
    /// A sentence where the line cannot be read.
    pub fn from_raw(word: &str, content: &str) -> Result<Self, String> {
        if word == "wake" {
            return Ok(Self::Wake);
        }
        serde_json::from_str(content)
            .map_err(|error| kept!("a raw line of sort {word} cannot be read: {error}"))
    }
}

/// A request of the core as a line of `raw.csv`, to be compared by a replay.
pub fn request_to_raw(request: &Request, now: Instant) -> RawLine {
    RawLine {
        at_us: now.0,
        input: word::ASKED,
        content: json(request),
    }
}

/// What is remembered stands in a log as in its own file: JSON has neither its moments nor all of its numbers.
mod as_toml {
    use serde::{Deserialize, Deserializer, Serializer, de, ser};

    use crate::memory::Memory;

    pub(super) fn serialize<S: Serializer>(memory: &Memory, out: S) -> Result<S::Ok, S::Error> {
        let text = toml::to_string(memory).map_err(ser::Error::custom)?;
        out.serialize_str(&text)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Box<Memory>, D::Error> {
        let text = String::deserialize(from)?;
        toml::from_str(&text)
            .map(Box::new)
            .map_err(de::Error::custom)
    }
}
