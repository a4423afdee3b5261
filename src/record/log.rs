//! The raw log, `raw.csv`: every input of the core and every request that it made, each line with a check that hangs on
//! the line before it, so that no byte of the log can change unnoticed.

use std::borrow::Cow;
use std::io::{self, BufRead};

use serde::{Deserialize, Serialize};

use super::table::{Header, LineRead, Table, encode, encode_header, read_line, split};
use super::{InputLine, RawLine};

/// The version of the log's own format. It goes up when an older program could not replay a newer log.
pub const LOG_FORMAT: u32 = 1;

/// The program and its version, as it stands in a log's head.
pub const PROGRAM: &str = concat!("stillroad ", env!("CARGO_PKG_VERSION"));

/// The name of the log of a part of a ride, from 1: a ride that was left open and went on has a log for each run of the
/// program, `raw.csv`, `raw-2.csv` and so on.
pub fn part_file(part: u32) -> Cow<'static, str> {
    match part {
        0 | 1 => Cow::Borrowed(InputLine::FILE),
        _ => Cow::Owned(format!("raw-{part}.csv")),
    }
}

/// So many parts a ride has at most.
pub const MOST_PARTS: u32 = 99;

/// The words of the lines that are no inputs.
pub mod word {
    /// The first line: what the core began with.
    pub const HEAD: &str = "head";
    /// A request of the core to a device: an output, kept to be compared.
    pub const ASKED: &str = "asked";
    /// The first line of a second ride of one run: the log that this one goes on from.
    pub const FOLLOWS: &str = "follows";
    /// Lines are missing here.
    pub const GAP: &str = "gap";
    /// The file has its full size: the log ends here, the ride went on.
    pub const STOPPED: &str = "stopped";
    /// The log was closed with the recording; always the last line.
    pub const CLOSED: &str = "closed";
}

/// What the core began with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// The log's format.
    pub log: u32,
    /// The program that wrote it.
    pub program: String,
    /// Wall-clock time at the clock's zero, milliseconds since 1970-01-01T00:00:00Z.
    pub epoch_ms: i64,
    /// Whether rises are sent ahead of their beat.
    pub leads: bool,
}

impl Head {
    /// Of this program.
    pub fn new(epoch_ms: i64, leads: bool) -> Self {
        Self {
            log: LOG_FORMAT,
            program: PROGRAM.to_owned(),
            epoch_ms,
            leads,
        }
    }

    /// As a line of the log.
    pub fn to_raw(&self, at_us: u64) -> RawLine {
        RawLine {
            at_us,
            input: word::HEAD,
            content: json(self),
        }
    }
}

/// The log that another goes on from: of the ride before in the same run of the program.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Follows {
    /// The name of that ride's folder, beside this one's.
    pub ride: String,
    /// The check of that log's last line.
    pub check: String,
}

/// Numbers and texts as JSON. U+2028, which stands for a line break in a cell, is written as an escape.
pub fn json(value: &impl Serialize) -> String {
    // Strings, numbers and lists cannot fail to be written.
    let text = serde_json::to_string(value).unwrap_or_default();
    if text.contains('\u{2028}') {
        text.replace('\u{2028}', "\\u2028")
    } else {
        text
    }
}

/// A line that the writer puts into the log itself.
pub fn own_line(at_us: u64, word: &'static str, content: String) -> InputLine {
    InputLine {
        at_us,
        input: Cow::Borrowed(word),
        content,
        check: String::new(),
    }
}

/// The chain of checks: CRC-32 (ISO 3309) over the check before, in hexadecimal, and the line up to its own check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chain {
    last: String,
}

impl Chain {
    /// Before the first line: hangs on the header line, given without its line end.
    pub fn on(header: &[u8]) -> Self {
        Self {
            last: hex(crc32fast::hash(header)),
        }
    }

    /// Before the first line of a log with this program's own header.
    pub fn begin() -> Self {
        let mut header = Vec::with_capacity(64);
        // Writing to memory cannot fail.
        let _ = encode_header::<InputLine>(&mut header);
        header.pop();
        Self::on(&header)
    }

    /// The check of the newest line.
    pub fn last(&self) -> &str {
        &self.last
    }

    /// The line as it goes into the file, its check filled in.
    pub fn encode(&mut self, line: &InputLine) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(160);
        let bare = InputLine {
            check: String::new(),
            ..line.clone()
        };
        // Writing to memory cannot fail. The last cell is the empty check.
        let _ = encode(&bare, &mut bytes);
        bytes.pop();
        self.last = self.over(&bytes);
        bytes.extend_from_slice(self.last.as_bytes());
        bytes.push(b'\n');
        bytes
    }

    fn over(&self, line: &[u8]) -> String {
        let mut hasher = crc32fast::Hasher::new();
        hasher.update(self.last.as_bytes());
        hasher.update(line);
        hex(hasher.finalize())
    }

    /// Whether a line, without its line end, has the check that it should have. The chain goes on from the check as it
    /// is written, or where the line's own cell is at fault from the one that is right: one changed byte is told once.
    fn verify(&mut self, line: &[u8], before: &mut Option<String>) -> bool {
        let (text, check) = line.split_at(line.len().saturating_sub(CHECK));
        let mut sound = false;
        for base in std::iter::once(self.last.clone()).chain(before.take()) {
            let own = Self { last: base }.over(text);
            if own.as_bytes() == check {
                sound = true;
                break;
            }
            before.get_or_insert(own);
        }
        if sound {
            *before = None;
        }
        self.last = String::from_utf8_lossy(check).into_owned();
        sound
    }
}

/// The letters of a check.
const CHECK: usize = 8;

fn hex(check: u32) -> String {
    format!("{check:08x}")
}

/// One line of a log as it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LogItem {
    /// A line that can be read.
    Line {
        /// Its number in the file, from 1.
        number: u64,
        /// The line.
        line: InputLine,
        /// Whether its check is right: it is what was written, and so is the line before it.
        sound: bool,
    },
    /// A line that cannot be read, and why.
    Bad {
        /// Its number in the file, from 1.
        number: u64,
        /// What is wrong.
        says: String,
    },
    /// The file is cut off inside this line, its last.
    Torn {
        /// Its number in the file, from 1.
        number: u64,
    },
}

/// Reads a log line by line, so that a large one is never in memory as a whole.
pub struct LogReader<R> {
    input: R,
    header: Option<Header>,
    chain: Chain,
    /// The check that the line before should have had, where its own was wrong.
    before: Option<String>,
    number: u64,
    bytes: Vec<u8>,
    over: bool,
}

impl<R: BufRead> LogReader<R> {
    /// Over the bytes of a `raw.csv`.
    pub fn new(input: R) -> Self {
        Self {
            input,
            header: None,
            chain: Chain::on(b""),
            before: None,
            number: 0,
            bytes: Vec::new(),
            over: false,
        }
    }

    /// The check of the newest line, as it is written.
    pub fn check(&self) -> &str {
        self.chain.last()
    }

    /// The next line; none at the end.
    ///
    /// # Errors
    /// As `input` gives them.
    pub fn next_item(&mut self) -> io::Result<Option<LogItem>> {
        if self.over {
            return Ok(None);
        }
        if self.header.is_none() {
            match read_line(&mut self.input, &mut self.bytes)? {
                LineRead::End => return Ok(self.end(None)),
                LineRead::Torn => return Ok(self.end(Some(LogItem::Torn { number: 1 }))),
                LineRead::Whole | LineRead::TooLong => {}
            }
            self.number = 1;
            match split(&self.bytes).and_then(|cells| Header::find::<InputLine>(&cells)) {
                Ok(header) => self.header = Some(header),
                Err((_, says)) => {
                    return Ok(self.end(Some(LogItem::Bad { number: 1, says })));
                }
            }
            self.chain = Chain::on(&self.bytes);
        }
        let read = read_line(&mut self.input, &mut self.bytes)?;
        if read == LineRead::End {
            return Ok(self.end(None));
        }
        self.number += 1;
        let number = self.number;
        if read == LineRead::Torn {
            return Ok(self.end(Some(LogItem::Torn { number })));
        }
        let sound = self.chain.verify(&self.bytes, &mut self.before);
        let line = if read == LineRead::TooLong {
            Err((
                None,
                entry!("is longer than any line of a recording").to_owned(),
            ))
        } else {
            // The header was found above, or this line would not have been reached.
            let header = self.header.as_ref();
            split(&self.bytes).and_then(|cells| match header {
                Some(header) => header.record::<InputLine>(&cells),
                None => Err((None, entry!("stands before the header").to_owned())),
            })
        };
        Ok(Some(match line {
            Ok(line) => LogItem::Line {
                number,
                line,
                sound,
            },
            Err((field, says)) => LogItem::Bad {
                number,
                says: field.map_or(says.clone(), |field| format!("{field}: {says}")),
            },
        }))
    }

    fn end(&mut self, item: Option<LogItem>) -> Option<LogItem> {
        self.over = true;
        item
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// CRC-32 of "123456789" is CBF43926: the check value of the published catalogue of CRCs for CRC-32/ISO-HDLC.
    #[test]
    fn the_check_is_the_standard_one() {
        assert_eq!(Chain::on(b"123456789").last(), "cbf43926");
        assert_eq!(hex(1), "00000001");
    }

    #[test]
    fn a_line_break_of_unicode_in_a_text_comes_back() {
        let text = "one\u{2028}two\nthree";
        let line = own_line(1, word::GAP, json(&text));
        let mut log = Vec::new();
        encode_header::<InputLine>(&mut log).unwrap();
        log.extend(Chain::begin().encode(&line));
        let mut reader = LogReader::new(log.as_slice());
        let Some(LogItem::Line { line, sound, .. }) = reader.next_item().unwrap() else {
            panic!("no line");
        };
        assert!(sound);
        assert_eq!(serde_json::from_str::<String>(&line.content).unwrap(), text);
    }
}
