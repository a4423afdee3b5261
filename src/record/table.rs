//! One table of columns drives the header, the writing, the reading and the documentation of a file.
//!
//! A line of a file is always one record (see [`cell`](super::cell) for line breaks inside text), so a damaged line
//! costs itself and nothing after it.

use std::fmt;
use std::io::{self, BufRead, BufReader, Read, Write};

use super::cell::{Sort, Value};

/// One column of a file whose records are `T`.
pub struct Column<T: 'static> {
    /// Its name in the header, with the unit.
    pub name: &'static str,
    /// What its cells hold.
    pub sort: Sort,
    /// Whether a record without it cannot be used.
    pub needed: bool,
    /// What it means, for the documentation.
    pub says: &'static str,
    /// Takes the value from a record.
    pub get: for<'a> fn(&'a T) -> Value<'a>,
    /// Puts a value into a record; the error is a few words to follow the column's name.
    pub set: fn(&mut T, &Value<'_>) -> Result<(), String>,
}

/// A record that has a file of its own.
pub trait Table: Sized + 'static {
    /// The file's name in a ride's folder.
    const FILE: &'static str;
    /// Its columns, in order.
    const COLUMNS: &'static [Column<Self>];
    /// Columns that files of before do not have: they are read, and replayed, without them.
    const ADDED: &'static [&'static str] = &[];
    /// A record to be filled cell by cell.
    fn blank() -> Self;
}

/// Writes the header line.
///
/// # Errors
/// As `out` gives them.
pub fn encode_header<T: Table>(out: &mut impl Write) -> io::Result<()> {
    write_line(out, T::COLUMNS.iter().map(|column| column.name))
}

/// Writes one record as one line.
///
/// # Errors
/// As `out` gives them.
pub fn encode<T: Table>(record: &T, out: &mut impl Write) -> io::Result<()> {
    write_line(
        out,
        T::COLUMNS
            .iter()
            .map(|column| column.sort.write(&(column.get)(record))),
    )
}

pub(super) fn write_line<C: AsRef<[u8]>>(
    out: &mut impl Write,
    cells: impl Iterator<Item = C>,
) -> io::Result<()> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .buffer_capacity(256)
        .from_writer(out);
    writer.write_record(cells).map_err(io::Error::other)?;
    writer.flush()
}

/// What is wrong with one line of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineProblem {
    /// The line, from 1; the header is line 1.
    pub line: u64,
    /// The column, where it is one cell that is wrong.
    pub field: Option<&'static str>,
    /// What is wrong.
    pub says: String,
}

impl fmt::Display for LineProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (line, says) = (self.line, &self.says);
        f.write_str(&match self.field {
            Some(field) => kept!("line {line}, {field}: {says}"),
            None => kept!("line {line}: {says}"),
        })
    }
}

/// A file read back.
#[derive(Clone, Debug, PartialEq)]
pub struct Decoded<T> {
    /// The records that could be read, in the file's order.
    pub records: Vec<T>,
    /// The bad lines that were skipped: the first [`PROBLEMS_KEPT`] of them.
    pub problems: Vec<LineProblem>,
    /// How many bad lines there were in all.
    pub bad_lines: u64,
    /// The number of the last line where it was cut off before its end and so was dropped.
    pub torn_line: Option<u64>,
}

/// So many bad lines are described one by one; further ones are only counted.
pub const PROBLEMS_KEPT: usize = 100;

/// A longer line is taken for damage and skipped: two mebibytes. A log's longest line holds two sessions of 256 KiB, the
/// written and the fitted one, in which every letter may be escaped.
const LONGEST_LINE: u64 = 2 * 1024 * 1024;

/// Reads a file back. A last line without its line end is torn and dropped; other bad lines are reported and skipped.
///
/// Columns are found by name, so their order does not matter and unknown ones are passed over.
///
/// # Errors
/// Only where `input` itself cannot be read; what was read until then is lost, so read whole files.
pub fn decode<T: Table>(input: impl Read) -> io::Result<Decoded<T>> {
    let mut decoded = Decoded {
        records: Vec::new(),
        problems: Vec::new(),
        bad_lines: 0,
        torn_line: None,
    };
    let mut input = BufReader::with_capacity(64 * 1024, input);
    let mut header: Option<Header> = None;
    // Where the cells of a line end, kept from line to line for its room: one for each comma of the longest line at most.
    let mut ends = Vec::new();
    let mut bytes = Vec::new();
    let mut number = 0;
    loop {
        let read = read_line(&mut input, &mut bytes)?;
        if read == LineRead::End {
            break;
        }
        number += 1;
        if read == LineRead::Torn {
            decoded.torn_line = Some(number);
            break;
        }
        let outcome = match &header {
            _ if read == LineRead::TooLong => Err((
                None,
                entry!("is longer than any line of a recording").to_owned(),
            )),
            Some(known) => known
                .line::<T>(&bytes, &mut ends)
                .map(|record| decoded.records.push(record)),
            None => split(&bytes)
                .and_then(|cells| Header::find::<T>(&cells).map(|found| header = Some(found))),
        };
        if let Err((field, says)) = outcome {
            decoded.bad_lines += 1;
            if decoded.problems.len() < PROBLEMS_KEPT {
                decoded.problems.push(LineProblem {
                    line: number,
                    field,
                    says,
                });
            }
            if header.is_none() {
                // Without its header nothing that follows can be told apart.
                break;
            }
        }
    }
    Ok(decoded)
}

#[derive(PartialEq)]
pub(super) enum LineRead {
    Whole,
    Torn,
    TooLong,
    End,
}

/// Reads up to and with the next line end, of which nothing is left in `bytes`.
pub(super) fn read_line(input: &mut impl BufRead, bytes: &mut Vec<u8>) -> io::Result<LineRead> {
    bytes.clear();
    let mut too_long = false;
    loop {
        let count = input.take(LONGEST_LINE).read_until(b'\n', bytes)?;
        if bytes.last() == Some(&b'\n') {
            bytes.pop();
            // A spreadsheet may have saved it with the other sort of line end.
            if bytes.last() == Some(&b'\r') {
                bytes.pop();
            }
            return Ok(if too_long {
                LineRead::TooLong
            } else {
                LineRead::Whole
            });
        }
        if (count as u64) < LONGEST_LINE {
            return Ok(if count == 0 && !too_long {
                LineRead::End
            } else {
                LineRead::Torn
            });
        }
        too_long = true;
        bytes.clear();
    }
}

pub(super) type CellProblem = (Option<&'static str>, String);

/// The cells of one line.
pub(super) trait Cells {
    /// How many there are.
    fn count(&self) -> usize;
    /// One by its place, from 0.
    fn cell(&self, place: usize) -> Option<&str>;
}

impl Cells for csv::StringRecord {
    fn count(&self) -> usize {
        self.len()
    }

    fn cell(&self, place: usize) -> Option<&str> {
        self.get(place)
    }
}

/// A line whose commas do nothing but part its cells.
struct Plain<'l> {
    text: &'l str,
    /// Where each cell ends.
    ends: &'l [usize],
}

impl<'l> Plain<'l> {
    /// `None` where the whole grammar is needed. `ends` is overwritten.
    fn of(text: &'l str, ends: &'l mut Vec<usize>) -> Option<Self> {
        if !is_plain(text) {
            return None;
        }
        ends.clear();
        let bytes = text.bytes().enumerate();
        ends.extend(bytes.filter(|(_, byte)| *byte == b',').map(|(at, _)| at));
        ends.push(text.len());
        Some(Self { text, ends })
    }
}

impl Cells for Plain<'_> {
    fn count(&self) -> usize {
        self.ends.len()
    }

    fn cell(&self, place: usize) -> Option<&str> {
        let end = *self.ends.get(place)?;
        let before = place
            .checked_sub(1)
            .and_then(|before| self.ends.get(before));
        self.text.get(before.map_or(0, |comma| comma + 1)..end)
    }
}

/// Nearly every line of a recording is plain; a reader by the whole grammar is dear to make for each. All octets are looked
/// at without a way out in between, so that the processor can take many at once.
fn is_plain(text: &str) -> bool {
    let special = |byte: u8| byte == b'"' || byte == b'\r' || byte == b'\n';
    !text.is_empty() && !text.bytes().fold(false, |any, byte| any | special(byte))
}

fn text_of(bytes: &[u8]) -> Result<&str, CellProblem> {
    let text = std::str::from_utf8(bytes).map_err(|_| not_text())?;
    Ok(text.trim_start_matches('\u{FEFF}'))
}

fn not_text() -> CellProblem {
    (None, entry!("is not UTF-8 text").to_owned())
}

pub(super) fn split(bytes: &[u8]) -> Result<csv::StringRecord, CellProblem> {
    let text = text_of(bytes)?;
    if is_plain(text) {
        return Ok(text.split(',').collect());
    }
    by_grammar(text).map_err(|_| not_text())
}

/// The cells of a line by the whole grammar, quotes and all.
fn by_grammar(text: &str) -> csv::Result<csv::StringRecord> {
    let mut cells = csv::StringRecord::new();
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(text.len().max(1))
        .from_reader(text.as_bytes())
        .read_record(&mut cells)?;
    Ok(cells)
}

/// Where each column of the table stands in this file.
pub(super) struct Header {
    places: Vec<Option<usize>>,
    width: usize,
}

impl Header {
    pub(super) fn find<T: Table>(cells: &csv::StringRecord) -> Result<Self, CellProblem> {
        let places: Vec<_> = T::COLUMNS
            .iter()
            .map(|column| cells.iter().position(|cell| cell == column.name))
            .collect();
        let lacking = T::COLUMNS
            .iter()
            .zip(&places)
            .find(|(column, place)| column.needed && place.is_none());
        match lacking {
            Some((column, _)) => Err((
                Some(column.name),
                kept!(
                    "the header has no such column, so {file} cannot be read",
                    file = T::FILE
                ),
            )),
            None => Ok(Self {
                places,
                width: cells.len(),
            }),
        }
    }

    /// The record of a line. `ends` is room that is used again and again.
    fn line<T: Table>(&self, bytes: &[u8], ends: &mut Vec<usize>) -> Result<T, CellProblem> {
        let text = text_of(bytes)?;
        match Plain::of(text, ends) {
            Some(cells) => self.record(&cells),
            None => self.record(&by_grammar(text).map_err(|_| not_text())?),
        }
    }

    pub(super) fn record<T: Table>(&self, cells: &impl Cells) -> Result<T, CellProblem> {
        if cells.count() != self.width {
            return Err((
                None,
                kept!(
                    "has {cells} cells where the header has {columns}",
                    cells = cells.count(),
                    columns = self.width
                ),
            ));
        }
        let mut record = T::blank();
        for (column, place) in T::COLUMNS.iter().zip(&self.places) {
            let cell = place.and_then(|place| cells.cell(place)).unwrap_or("");
            let at_fault = |says| (Some(column.name), says);
            let value = column.sort.read(cell).map_err(at_fault)?;
            if column.needed && value == Value::Missing {
                return Err(at_fault(entry!("is empty").to_owned()));
            }
            (column.set)(&mut record, &value).map_err(at_fault)?;
        }
        Ok(record)
    }
}

/// The table of a file's columns in Markdown, for the page that documents the recording.
pub fn describe<T: Table>() -> String {
    let mut page = String::from("| column | holds | may be empty | meaning |\n|---|---|---|---|\n");
    for column in T::COLUMNS {
        page.push_str(&format!(
            "| `{}` | {} | {} | {} |\n",
            column.name,
            column.sort.describe(),
            if column.needed { "no" } else { "yes" },
            column.says
        ));
    }
    page
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// A plain line split at its commas is what the whole grammar makes of it.
        #[test]
        fn plain_lines_are_those_of_the_grammar(
            text in "[-a-z0-9.,;' \t\u{FEFF}éА]{0,40}",
            quoted in "[a,\"\r\n]{0,12}",
        ) {
            for text in [text, quoted] {
                let trimmed = text.trim_start_matches('\u{FEFF}');
                let found = split(text.as_bytes()).unwrap();
                let by_grammar = by_grammar(trimmed).unwrap();
                let mut ends = vec![7, 7, 7];
                if let Some(plain) = Plain::of(trimmed, &mut ends) {
                    prop_assert_eq!(plain.count(), by_grammar.len());
                    for place in 0..=plain.count() {
                        prop_assert_eq!(plain.cell(place), by_grammar.get(place), "{:?}", text);
                    }
                }
                prop_assert_eq!(found, by_grammar, "{:?}", text);
            }
        }
    }

    #[test]
    fn what_is_no_text_is_refused() {
        assert!(split(&[b'a', 0xff, b',']).is_err());
    }
}
