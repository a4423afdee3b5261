//! From bytes to a table, keeping on after broken lines.

use toml::de::DeTable;

use super::MOST_BYTES;
use super::problem::{Problem, Problems, Severity};
use super::wording::quoted;

/// After so many broken lines the rest of a file is not looked at: each costs a pass over the text.
const MOST_PASSES: usize = 25;

/// So many bytes are read over in all these passes together, so that a large file of nonsense is refused at once.
const MOST_READ: usize = 1024 * 1024;

/// The text of a file's bytes: UTF-8, a mark of byte order at its start left out.
///
/// # Errors
/// One problem where the file is too large, or not text.
pub fn decode(bytes: &[u8]) -> Result<&str, Problem> {
    let refuse = |line, what: String, instead: &str| {
        Err(Problem {
            severity: Severity::Error,
            line,
            column: 1,
            what,
            instead: instead.to_owned(),
        })
    };
    if bytes.len() > MOST_BYTES {
        let what = say!(
            "The file is {length} KiB long; {most} KiB is the most.",
            length = bytes.len().div_ceil(1024),
            most = MOST_BYTES / 1024
        );
        return refuse(1, what, word!("Choose a smaller file."));
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let what = word!("The file is written in UTF-16.").to_owned();
        return refuse(1, what, word!("Save it as UTF-8."));
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if let Some(at) = bytes.iter().position(|&byte| byte == 0) {
        let line = 1 + bytes[..at].iter().filter(|&&byte| byte == b'\n').count();
        let what = word!("The file is not text: it holds a zero byte.").to_owned();
        return refuse(line, what, word!("Choose a text file that ends in .toml."));
    }
    std::str::from_utf8(bytes).or_else(|error| {
        let before = &bytes[..error.valid_up_to()];
        let line = 1 + before.iter().filter(|&&byte| byte == b'\n').count();
        let what = word!("This line is not UTF-8 text.").to_owned();
        refuse(line, what, word!("Save the file as UTF-8."))
    })
}

/// Reads a text as TOML and hands its root table on, together with the keys whose lines were broken, so that they are
/// not called missing as well. Broken lines become problems; what can be read in spite of them is handed on.
pub fn parse(
    text: &str,
    problems: &mut Problems,
    then: impl FnOnce(&DeTable, &[String], &mut Problems),
) {
    let mut lost_keys = Vec::new();
    let mut mended = text.to_owned();
    for pass in 0.. {
        let (root, errors) = DeTable::parse_recoverable(&mended);
        let mut blanked = None;
        for error in &errors {
            let at = error.span().map_or(0, |span| span.start);
            let fault = Fault::of(error.message(), at, problems, &mended);
            problems.error(fault.at, fault.what, fault.instead);
            if fault.loses != Loses::Nothing && blanked.is_none() {
                blanked = Some(match fault.loses {
                    Loses::Table => problems.table_of(fault.at),
                    _ => problems.line_of(fault.at),
                });
                // What follows a line that stops the reader is a string of false alarms.
                break;
            }
        }
        match blanked {
            // A line that was blanked before cannot be the fault again; the bound is for faults across lines.
            Some((start, end))
                if pass < MOST_PASSES
                    && pass * text.len() < MOST_READ
                    && !mended[start..end].trim().is_empty() =>
            {
                let line = &mended[start..end];
                lost_keys.push(line.split('=').next().unwrap_or("").trim().to_owned());
                if line.starts_with('[') {
                    lost_keys.push("block".to_owned());
                }
                // Blanks of the same length keep every later byte in its place.
                let blank = |byte| if byte == b'\n' { '\n' } else { ' ' };
                let blanks: String = line.bytes().map(blank).collect();
                mended.replace_range(start..end, &blanks);
            }
            _ => return then(root.get_ref(), &lost_keys, problems),
        }
    }
}

/// A fault in the writing of TOML, worded.
struct Fault {
    at: usize,
    what: String,
    instead: String,
    loses: Loses,
}

/// What has to be left out for the reader to find its way again.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Loses {
    Nothing,
    Line,
    /// A heading with all that stands under it: it would be read as part of the table before.
    Table,
}

impl Fault {
    fn new(at: usize, what: &str, instead: &str, loses: Loses) -> Self {
        Self {
            at,
            what: what.to_owned(),
            instead: instead.to_owned(),
            loses,
        }
    }

    fn of(message: &str, at: usize, problems: &Problems, text: &str) -> Self {
        let (start, end) = problems.line_of(at);
        let line = text.get(start..end).unwrap_or("").trim_start();
        if message.starts_with("duplicate key") {
            return Self::duplicate(line, at, text);
        }
        let in_list = ["array element", "in array", "unclosed array, "];
        if in_list.iter().any(|piece| message.contains(piece)) {
            let what = word!("A list that is opened here is not closed as it should be.");
            let instead = word!("Close it on its line, as in effort = [2, 4].");
            return Self::new(
                opened_before(at, problems, text),
                what,
                instead,
                Loses::Line,
            );
        }
        let (what, instead, loses) = match message {
            _ if message.starts_with("string values must be quoted") => (
                word!("Words must stand in quotes."),
                word!("Put it in double quotes, as in kind = \"hold\"."),
                Loses::Nothing,
            ),
            _ if message.starts_with("key with no value") => (
                word!("This line has a key and no value."),
                word!("Write a key, an equals sign and a value, as in time = \"10:00\"."),
                Loses::Line,
            ),
            _ if message.starts_with("invalid basic string") => (
                word!("A text that is opened on this line is not closed."),
                word!("End the text with a double quote on the same line."),
                Loses::Nothing,
            ),
            _ if message.starts_with("unclosed") && message.contains("table") => (
                word!("The brackets of this heading are not closed."),
                word!("Write [[block]] with two brackets on either side."),
                Loses::Table,
            ),
            _ => {
                let what = say!("This line is not TOML: {message}.", message);
                let instead = word!("Write key = value; texts and times stand in double quotes.");
                return Self::new(at, &what, instead, Loses::Line);
            }
        };
        Self::new(at, what, instead, loses)
    }

    fn duplicate(line: &str, at: usize, text: &str) -> Self {
        let letters = text.get(at..).unwrap_or("").chars();
        let key: String = letters
            .take_while(|c| c.is_alphanumeric() || matches!(c, '_' | '-'))
            .collect();
        // A heading in single brackets would take the place of all those before it that repeat.
        if line.starts_with('[') && !line.starts_with("[[") {
            let heading = line.trim_end();
            let what = say!(
                "The heading {heading} stands in single brackets, so that there could be only one.",
                heading = quoted(heading)
            );
            return Self::new(
                at,
                &what,
                word!("Write [[block]] with two brackets on either side."),
                Loses::Table,
            );
        }
        let what = say!(
            "The key {key} stands here a second time.",
            key = quoted(&key)
        );
        Self::new(at, &what, word!("Keep one of them."), Loses::Nothing)
    }
}

/// The line at or before a byte on which a list was opened and not closed; the byte itself where none is found.
fn opened_before(at: usize, problems: &Problems, text: &str) -> usize {
    let mut from = at;
    // A list of this format fits a line or a few; looking further back would find somebody else's.
    for _ in 0..20 {
        let (start, end) = problems.line_of(from);
        let line = text.get(start..end).unwrap_or("");
        if let Some((_, value)) = line.split_once('=')
            && value.matches('[').count() > value.matches(']').count()
        {
            return start;
        }
        if start == 0 {
            break;
        }
        from = start - 1;
    }
    at
}
