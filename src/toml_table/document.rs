//! From bytes to a table, keeping on after broken lines.

use toml::de::DeTable;

use super::MOST_BYTES;
use super::problem::{Problem, Problems, Severity};
use super::wording::quoted;

/// After so many broken lines the rest of a file is not looked at: each costs a pass over the text.
const MOST_PASSES: usize = 25;

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
        let what = format!(
            "The file is {} KiB long; {} KiB is the most.",
            bytes.len().div_ceil(1024),
            MOST_BYTES / 1024
        );
        return refuse(1, what, "Choose a smaller file.");
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let what = "The file is written in UTF-16.".to_owned();
        return refuse(1, what, "Save it as UTF-8.");
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if let Some(at) = bytes.iter().position(|&byte| byte == 0) {
        let line = 1 + bytes[..at].iter().filter(|&&byte| byte == b'\n').count();
        let what = "The file is not text: it holds a zero byte.".to_owned();
        return refuse(line, what, "Choose a text file that ends in .toml.");
    }
    std::str::from_utf8(bytes).or_else(|error| {
        let before = &bytes[..error.valid_up_to()];
        let line = 1 + before.iter().filter(|&&byte| byte == b'\n').count();
        let what = "This line is not UTF-8 text.".to_owned();
        refuse(line, what, "Save the file as UTF-8.")
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
            if fault.stops && blanked.is_none() {
                blanked = Some(problems.line_of(fault.at));
                // What follows a line that stops the reader is a string of false alarms.
                break;
            }
        }
        match blanked {
            // A line that was blanked before cannot be the fault again; the bound is for faults across lines.
            Some((start, end)) if pass < MOST_PASSES && !mended[start..end].trim().is_empty() => {
                let line = &mended[start..end];
                lost_keys.push(line.split('=').next().unwrap_or("").trim().to_owned());
                // Blanks of the same length keep every later byte in its place.
                mended.replace_range(start..end, &" ".repeat(end - start));
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
    /// Whether the reader loses its way here, so that the line has to be left out to read the rest.
    stops: bool,
}

impl Fault {
    fn of(message: &str, at: usize, problems: &Problems, text: &str) -> Self {
        let fault = |at, what: &str, instead: &str, stops| Self {
            at,
            what: what.to_owned(),
            instead: instead.to_owned(),
            stops,
        };
        if message.starts_with("duplicate key") {
            let rest = text.get(at..).unwrap_or("");
            let key: String = rest
                .chars()
                .take_while(|c| c.is_alphanumeric() || matches!(c, '_' | '-'))
                .collect();
            let what = format!("The key {} stands here a second time.", quoted(&key));
            return fault(at, &what, "Keep one of them.", false);
        }
        if message.starts_with("string values must be quoted") {
            let instead = "Put it in double quotes, as in kind = \"hold\".";
            return fault(at, "Words must stand in quotes.", instead, false);
        }
        if message.contains("array element")
            || message.contains("in array")
            || message == "unclosed array, expected `]`"
        {
            let opened = opened_before(at, problems, text);
            let instead = "Close it on its line, as in effort = [2, 4].";
            return fault(
                opened,
                "A list that is opened here is not closed as it should be.",
                instead,
                true,
            );
        }
        if message.starts_with("key with no value") {
            let instead = "Write a key, an equals sign and a value, as in time = \"10:00\".";
            return fault(at, "This line has a key and no value.", instead, true);
        }
        if message.starts_with("invalid basic string") {
            let instead = "End the text with a double quote on the same line.";
            return fault(
                at,
                "A text that is opened on this line is not closed.",
                instead,
                false,
            );
        }
        if message.starts_with("unclosed") && message.contains("table") {
            let instead = "Write [[block]] with two brackets on either side.";
            return fault(
                at,
                "The brackets of this heading are not closed.",
                instead,
                true,
            );
        }
        let what = format!("This line is not TOML: {message}.");
        let instead = "Write key = value; texts and times stand in double quotes.";
        fault(at, &what, instead, message.contains("expected"))
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
