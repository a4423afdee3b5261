//! The lines of `events.csv`, `notes.csv` and `raw.csv`, as they are written and as they are read back.

use std::borrow::Cow;

use super::cell::{Sort, Value};
use super::columns::{LONGEST_RIDE_S, bounded};
use super::table::{Column, Table};
use super::{Note, RawLine, RideEvent};
use crate::units::Effort;

/// The word of an event that marks a moment; its detail is the moment's number.
pub const MARK: &str = "mark";

/// So many moments can be marked in a ride, numbered from 1.
pub const MOST_MARKS: u32 = 999;

/// One line of `events.csv`. Unlike [`RideEvent`] its word may be one that this program does not know.
#[derive(Clone, Debug, PartialEq)]
pub struct EventLine {
    /// The ridden time at which it happened, seconds.
    pub ridden_s: f64,
    /// Session time, seconds.
    pub plan_s: f64,
    /// Wall-clock time, milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: i64,
    /// What happened, in a word.
    pub what: Cow<'static, str>,
    /// The rest, in a sentence or a figure.
    pub detail: String,
}

/// One line of `notes.csv`. Unlike [`Note`] its word may be one that this program does not know.
#[derive(Clone, Debug, PartialEq)]
pub struct NoteLine {
    /// Wall-clock time, milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: i64,
    /// The block's number, from 1; none for the whole session.
    pub block: Option<u32>,
    /// A word: `rating`.
    pub what: Cow<'static, str>,
    /// The rating out of ten, where it is one.
    pub rating: Option<Effort>,
    /// Words.
    pub text: String,
}

/// One line of `raw.csv`. Unlike [`RawLine`] its word may be one that this program does not know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputLine {
    /// The core's clock when the input was handled, microseconds.
    pub at_us: u64,
    /// What sort of input.
    pub input: Cow<'static, str>,
    /// Its content, as JSON.
    pub content: String,
    /// The check of the line, eight letters; empty before it is written, and in the logs of older programs.
    pub check: String,
}

impl EventLine {
    /// The number of the moment that it marks, 1 to [`MOST_MARKS`]; none where it marks none, or its number is no such
    /// number.
    pub fn mark(&self) -> Option<u32> {
        let number: u32 = (self.what == MARK)
            .then(|| self.detail.parse().ok())
            .flatten()?;
        (1..=MOST_MARKS).contains(&number).then_some(number)
    }
}

impl From<RideEvent> for EventLine {
    fn from(event: RideEvent) -> Self {
        Self {
            ridden_s: event.ridden_s,
            plan_s: event.plan_s,
            utc_ms: event.utc_ms,
            what: Cow::Borrowed(event.what),
            detail: event.detail,
        }
    }
}

impl From<Note> for NoteLine {
    fn from(note: Note) -> Self {
        Self {
            utc_ms: note.utc_ms,
            block: note.block,
            what: Cow::Borrowed(note.what),
            rating: note.rating,
            text: note.text,
        }
    }
}

impl From<RawLine> for InputLine {
    fn from(line: RawLine) -> Self {
        Self {
            at_us: line.at_us,
            input: Cow::Borrowed(line.input),
            content: line.content,
            check: String::new(),
        }
    }
}

/// A moment, an instant's word or a text, taken straight from a field.
macro_rules! plain_column {
    ($name:literal, Time, $field:ident, $says:literal) => {
        Column {
            name: $name,
            sort: Sort::Time,
            needed: true,
            says: $says,
            get: |line| Value::Time(line.$field),
            set: |line, value| {
                line.$field = value.as_time();
                Ok(())
            },
        }
    };
    ($name:literal, Seconds, $field:ident, $says:literal) => {
        Column {
            name: $name,
            sort: Sort::Decimal(3),
            needed: true,
            says: $says,
            get: |line| Value::Number(line.$field),
            set: |line, value| {
                line.$field = bounded(value, LONGEST_RIDE_S as f64)?.unwrap_or(0.0);
                Ok(())
            },
        }
    };
    ($name:literal, Text, $field:ident, $needed:literal, $says:literal) => {
        Column {
            name: $name,
            sort: Sort::Text,
            needed: $needed,
            says: $says,
            get: |line| Value::text(&line.$field),
            set: |line, value| {
                line.$field = value.as_text().to_owned().into();
                Ok(())
            },
        }
    };
}

impl Table for EventLine {
    const FILE: &'static str = "events.csv";

    const COLUMNS: &'static [Column<Self>] = &[
        plain_column!(
            "ridden_s",
            Seconds,
            ridden_s,
            "Seconds ridden when it happened, pauses left out."
        ),
        plain_column!("plan_s", Seconds, plan_s, "Seconds of the session's clock."),
        plain_column!("utc", Time, utc_ms, "Wall-clock time."),
        plain_column!(
            "what",
            Text,
            what,
            true,
            "What happened, in a word such as `pause` or `skip`."
        ),
        plain_column!(
            "detail",
            Text,
            detail,
            false,
            "The rest, in a sentence or a figure."
        ),
    ];

    fn blank() -> Self {
        Self {
            ridden_s: 0.0,
            plan_s: 0.0,
            utc_ms: 0,
            what: Cow::Borrowed(""),
            detail: String::new(),
        }
    }
}

impl Table for NoteLine {
    const FILE: &'static str = "notes.csv";

    const COLUMNS: &'static [Column<Self>] = &[
        plain_column!("utc", Time, utc_ms, "Wall-clock time."),
        Column {
            name: "block",
            sort: Sort::Whole,
            needed: false,
            says: "The number of the block it is about, from 1; empty for the whole session.",
            get: |line| {
                line.block
                    .map_or(Value::Missing, |block| Value::Whole(u64::from(block)))
            },
            set: |line, value| {
                line.block =
                    match value {
                        Value::Missing => None,
                        other => Some(u32::try_from(other.as_whole()).map_err(|_| {
                            entry!("is larger than any session has blocks").to_owned()
                        })?),
                    };
                Ok(())
            },
        },
        plain_column!(
            "what",
            Text,
            what,
            true,
            "What it is, in a word such as `rating`."
        ),
        Column {
            name: "rating",
            sort: Sort::Decimal(1),
            needed: false,
            says: "How hard it was out of ten, where it is a rating.",
            get: |line| Value::number(line.rating.map(Effort::get)),
            set: |line, value| {
                line.rating = value.as_number().map(Effort);
                Ok(())
            },
        },
        plain_column!("text", Text, text, false, "Words."),
    ];

    fn blank() -> Self {
        Self {
            utc_ms: 0,
            block: None,
            what: Cow::Borrowed(""),
            rating: None,
            text: String::new(),
        }
    }
}

impl Table for InputLine {
    const FILE: &'static str = "raw.csv";

    const COLUMNS: &'static [Column<Self>] = &[
        Column {
            name: "at_us",
            sort: Sort::Whole,
            needed: true,
            says: "The program's own clock when the input was handled, microseconds since it was started.",
            get: |line| Value::Whole(line.at_us),
            set: |line, value| {
                line.at_us = value.as_whole();
                Ok(())
            },
        },
        plain_column!("input", Text, input, true, "What sort of input, in a word."),
        plain_column!("content", Text, content, false, "Its content, as JSON."),
        plain_column!(
            "check",
            Text,
            check,
            false,
            "CRC-32 over the check of the line before (of the first line: over the header line) and this line up to here, eight hexadecimal digits."
        ),
    ];

    fn blank() -> Self {
        Self {
            at_us: 0,
            input: Cow::Borrowed(""),
            content: String::new(),
            check: String::new(),
        }
    }
}
