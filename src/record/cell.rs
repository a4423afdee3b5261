//! What stands in one cell: how each sort of value is written and read back, and the guard for text.

use std::borrow::Cow;

/// The sort of value that a column holds; it settles how a cell is written, read and described.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// A whole number, 0 or more.
    Whole,
    /// A number with this many decimals.
    Decimal(usize),
    /// A moment in UTC by RFC 3339, with milliseconds: `2026-11-24T18:30:05.000Z`.
    Time,
    /// `true` or `false`.
    Flag,
    /// One of these words.
    Word(&'static [&'static str]),
    /// Free text, guarded.
    Text,
}

/// One value on its way into a cell or out of one.
#[derive(Clone, Debug, PartialEq)]
pub enum Value<'a> {
    /// An empty cell.
    Missing,
    /// For [`Sort::Whole`].
    Whole(u64),
    /// For [`Sort::Decimal`].
    Number(f64),
    /// For [`Sort::Time`]: milliseconds since 1970-01-01T00:00:00Z.
    Time(i64),
    /// For [`Sort::Flag`].
    Flag(bool),
    /// For [`Sort::Word`] and [`Sort::Text`].
    Text(Cow<'a, str>),
}

impl<'a> Value<'a> {
    /// A number, or an empty cell where there is none.
    pub fn number(value: Option<f64>) -> Self {
        value.map_or(Self::Missing, Self::Number)
    }

    /// A text or word.
    pub fn text(text: &'a str) -> Self {
        Self::Text(Cow::Borrowed(text))
    }

    /// The number of a decimal column; none for an empty cell.
    pub fn as_number(&self) -> Option<f64> {
        match self {
            Self::Number(number) => Some(*number),
            _ => None,
        }
    }

    /// The number of a whole column; 0 for an empty cell.
    pub fn as_whole(&self) -> u64 {
        match self {
            Self::Whole(whole) => *whole,
            _ => 0,
        }
    }

    /// The moment of a time column, milliseconds since 1970; 0 for an empty cell.
    pub fn as_time(&self) -> i64 {
        match self {
            Self::Time(millis) => *millis,
            _ => 0,
        }
    }

    /// The text of a word or text column; empty for an empty cell.
    pub fn as_text(&self) -> &str {
        match self {
            Self::Text(text) => text,
            _ => "",
        }
    }

    /// What a flag column says; none for an empty cell.
    pub fn as_flag(&self) -> Option<bool> {
        match self {
            Self::Flag(flag) => Some(*flag),
            _ => None,
        }
    }
}

impl Sort {
    /// The sort as the documentation names it.
    pub fn describe(self) -> String {
        match self {
            Self::Whole => "whole number".to_owned(),
            Self::Decimal(0) => "number without decimals".to_owned(),
            Self::Decimal(1) => "number, 1 decimal".to_owned(),
            Self::Decimal(decimals) => format!("number, {decimals} decimals"),
            Self::Time => "time in UTC, RFC 3339, milliseconds".to_owned(),
            Self::Flag => "`true` or `false`".to_owned(),
            Self::Word(words) => words
                .iter()
                .map(|word| format!("`{word}`"))
                .collect::<Vec<_>>()
                .join(", "),
            Self::Text => "text".to_owned(),
        }
    }

    /// The cell for a value. A number that is not finite, and a moment that no calendar has, become an empty cell.
    pub fn write(self, value: &Value<'_>) -> String {
        match value {
            Value::Missing => String::new(),
            Value::Whole(whole) => whole.to_string(),
            Value::Number(number) => write_number(
                *number,
                match self {
                    Self::Decimal(decimals) => decimals,
                    _ => 3,
                },
            ),
            Value::Time(millis) => write_time(*millis),
            Value::Flag(flag) => flag.to_string(),
            Value::Text(text) if self == Self::Text => guard(text),
            Value::Text(word) => word.clone().into_owned(),
        }
    }

    /// The value of a cell.
    ///
    /// # Errors
    /// A few words on what is wrong with the cell, to follow the column's name.
    pub fn read(self, cell: &str) -> Result<Value<'_>, String> {
        if cell.is_empty() {
            return Ok(Value::Missing);
        }
        match self {
            Self::Whole => cell
                .parse()
                .map(Value::Whole)
                .map_err(|_| format!("{} is not a whole number", quoted(cell))),
            Self::Decimal(_) => match cell.parse::<f64>() {
                Ok(number) if number.is_finite() => Ok(Value::Number(number)),
                _ => Err(format!("{} is not a number", quoted(cell))),
            },
            Self::Time => cell
                .parse::<jiff::Timestamp>()
                .map(|moment| Value::Time(moment.as_millisecond()))
                .map_err(|_| {
                    format!(
                        "{} is not a time such as 2026-11-24T18:30:05.000Z",
                        quoted(cell)
                    )
                }),
            Self::Flag => match cell {
                // Spreadsheets and pandas write them back with capitals.
                "true" | "True" | "TRUE" => Ok(Value::Flag(true)),
                "false" | "False" | "FALSE" => Ok(Value::Flag(false)),
                _ => Err(format!("{} is neither true nor false", quoted(cell))),
            },
            Self::Word(words) if words.contains(&cell) => Ok(Value::text(cell)),
            Self::Word(words) => Err(format!("{} is none of {}", quoted(cell), words.join(", "))),
            Self::Text => Ok(Value::Text(unguard(cell))),
        }
    }
}

/// A cell in quotes, cut after forty letters, for a sentence.
fn quoted(cell: &str) -> String {
    let mut letters = cell.chars();
    let start: String = letters.by_ref().take(40).collect();
    if letters.next().is_some() {
        format!("“{start}…”")
    } else {
        format!("“{start}”")
    }
}

fn write_number(number: f64, decimals: usize) -> String {
    if !number.is_finite() {
        return String::new();
    }
    let cell = format!("{number:.decimals$}");
    // −0.04 W with one decimal is 0.0 and not -0.0.
    match cell.strip_prefix('-') {
        Some(rest) if !rest.contains(|c: char| ('1'..='9').contains(&c)) => rest.to_owned(),
        _ => cell,
    }
}

/// A moment by RFC 3339 with milliseconds; empty where no calendar has it.
pub fn write_time(millis: i64) -> String {
    jiff::Timestamp::from_millisecond(millis).map_or_else(|_| String::new(), |t| format!("{t:.3}"))
}

/// Spreadsheets take a cell that begins with one of these for a formula and run it (OWASP, "CSV injection").
/// The line breaks stand with the carriage return, as it and they become the same letter in the cell.
const FORMULA_STARTS: [char; 8] = ['=', '+', '-', '@', '\t', '\r', '\n', '\u{2028}'];

/// Apostrophes in front do not count: text that has its own gets one more, so that taking one off is always right.
fn is_formula_behind_apostrophes(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(FORMULA_STARTS)
}

/// Makes text safe for a cell: a line break becomes U+2028 so that a line of the file is always one record, a zero
/// byte becomes U+FFFD, and text that would be run as a formula gets an apostrophe in front.
fn guard(text: &str) -> String {
    let looks_like_formula = is_formula_behind_apostrophes(text);
    let mut cell = String::with_capacity(text.len() + 1);
    if looks_like_formula {
        cell.push('\'');
    }
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '\r' => {
                letters.next_if_eq(&'\n');
                cell.push('\u{2028}');
            }
            '\n' => cell.push('\u{2028}'),
            '\0' => cell.push('\u{FFFD}'),
            other => cell.push(other),
        }
    }
    cell
}

/// The inverse of [`guard`], but for the exact sort of line break and for zero bytes.
fn unguard(cell: &str) -> Cow<'_, str> {
    let text = match cell.strip_prefix('\'') {
        Some(rest) if is_formula_behind_apostrophes(rest) => rest,
        _ => cell,
    };
    if text.contains('\u{2028}') {
        Cow::Owned(text.replace('\u{2028}', "\n"))
    } else {
        Cow::Borrowed(text)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn text_that_begins_like_a_formula_is_guarded_and_comes_back() {
        // The six starts are those of OWASP's page on CSV injection.
        for text in ["=1+1", "+1", "-1", "@SUM(A1)", "\ttab", "'=x", "''+y"] {
            let cell = Sort::Text.write(&Value::text(text));
            assert_eq!(cell, format!("'{text}"));
            assert_eq!(Sort::Text.read(&cell).unwrap(), Value::text(text));
        }
        for text in ["'tis", "a=b", "5 - 3", "Ünder", "a'"] {
            assert_eq!(Sort::Text.write(&Value::text(text)), text);
            assert_eq!(Sort::Text.read(text).unwrap(), Value::text(text));
        }
        for (text, guarded) in [("\rx", "'\u{2028}x"), ("'\nx", "''\u{2028}x")] {
            let cell = Sort::Text.write(&Value::text(text));
            assert_eq!(cell, guarded);
            let back = text.replace('\r', "\n");
            assert_eq!(Sort::Text.read(&cell).unwrap(), Value::text(&back));
        }
    }

    #[test]
    fn a_line_break_does_not_end_the_record() {
        let cell = Sort::Text.write(&Value::text("one\r\ntwo\nthree\rfour"));
        assert_eq!(cell, "one\u{2028}two\u{2028}three\u{2028}four");
        assert_eq!(
            Sort::Text.read(&cell).unwrap(),
            Value::text("one\ntwo\nthree\nfour")
        );
        assert_eq!(Sort::Text.write(&Value::text("a\0b")), "a\u{FFFD}b");
    }

    #[test]
    fn numbers_have_their_decimals_and_no_guard() {
        let write = |number, decimals| Sort::Decimal(decimals).write(&Value::Number(number));
        assert_eq!(write(-5.0, 0), "-5");
        assert_eq!(write(-5.04, 1), "-5.0");
        assert_eq!(write(-0.04, 1), "0.0");
        assert_eq!(write(-0.0, 0), "0");
        assert_eq!(write(86.25, 2), "86.25");
        assert_eq!(write(f64::NAN, 1), "");
        assert_eq!(write(f64::INFINITY, 1), "");
        assert_eq!(Sort::Decimal(1).read("-5").unwrap(), Value::Number(-5.0));
    }

    #[test]
    fn what_is_no_value_is_refused_in_words() {
        let refused = |sort: Sort, cell| sort.read(cell).unwrap_err();
        for cell in ["inf", "NaN", "-inf", "12,5", "0x10", "’5"] {
            assert_eq!(
                refused(Sort::Decimal(1), cell),
                format!("“{cell}” is not a number")
            );
        }
        assert!(refused(Sort::Whole, "-1").contains("not a whole number"));
        assert!(refused(Sort::Whole, "1.5").contains("not a whole number"));
        assert!(refused(Sort::Time, "yesterday").contains("is not a time"));
        assert!(refused(Sort::Flag, "yes").contains("neither true nor false"));
        assert_eq!(
            refused(Sort::Word(&["one", "two"]), "three"),
            "“three” is none of one, two"
        );
        assert!(refused(Sort::Whole, &"9".repeat(300)).len() < 200);
    }

    #[test]
    fn a_time_is_written_by_rfc_3339() {
        // 1 000 000 000 s after 1970 is 2001-09-09T01:46:40Z (a widely published date).
        assert_eq!(write_time(1_000_000_000_007), "2001-09-09T01:46:40.007Z");
        // RFC 3339, section 5.8, first example.
        assert_eq!(
            Sort::Time.read("1985-04-12T23:20:50.52Z").unwrap(),
            Value::Time(482_196_050_520)
        );
        // Section 5.8: "1996-12-19T16:39:57-08:00" is "1996-12-20T00:39:57Z".
        assert_eq!(
            Sort::Time.read("1996-12-19T16:39:57-08:00").unwrap(),
            Sort::Time.read("1996-12-20T00:39:57Z").unwrap()
        );
        assert_eq!(write_time(i64::MAX), "");
    }
}
