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
                .map_err(|_| kept!("{cell} is not a whole number", cell = quoted(cell))),
            Self::Decimal(_) => match plain_number(cell).map_or_else(|| cell.parse(), Ok) {
                Ok(number) if number.is_finite() => Ok(Value::Number(number)),
                _ => Err(kept!("{cell} is not a number", cell = quoted(cell))),
            },
            Self::Time => plain_time(cell)
                .or_else(|| Some(cell.parse::<jiff::Timestamp>().ok()?.as_millisecond()))
                .map(Value::Time)
                .ok_or_else(|| {
                    kept!(
                        "{cell} is not a time such as 2026-11-24T18:30:05.000Z",
                        cell = quoted(cell)
                    )
                }),
            Self::Flag => match cell {
                // Spreadsheets and pandas write them back with capitals.
                "true" | "True" | "TRUE" => Ok(Value::Flag(true)),
                "false" | "False" | "FALSE" => Ok(Value::Flag(false)),
                _ => Err(kept!(
                    "{cell} is neither true nor false",
                    cell = quoted(cell)
                )),
            },
            Self::Word(words) if words.contains(&cell) => Ok(Value::text(cell)),
            Self::Word(words) => Err(kept!(
                "{cell} is none of {words}",
                cell = quoted(cell),
                words = words.join(", ")
            )),
            Self::Text => Ok(Value::Text(unguard(cell))),
        }
    }
}

/// The powers of ten that a binary fraction holds exactly and that fifteen digits can need.
const TENS: [f64; 16] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

/// A number as this program writes it: digits, perhaps with a minus and a point, fifteen digits at most. Digits and power of
/// ten are then exact, and their quotient is the nearest number there is, as every right reader gives it (Clinger 1990, "How
/// to read floating point numbers accurately"). None for every other text, which goes the long way.
fn plain_number(cell: &str) -> Option<f64> {
    let (negative, text) = match cell.strip_prefix('-') {
        Some(text) => (true, text),
        None => (false, cell),
    };
    // Fifteen digits and the point.
    if text.len() > 16 {
        return None;
    }
    let (mut digits, mut count, mut point) = (0_u64, 0, None);
    for byte in text.bytes() {
        match byte {
            b'0'..=b'9' => {
                digits = digits * 10 + u64::from(byte - b'0');
                count += 1;
            }
            b'.' if point.is_none() => point = Some(count),
            _ => return None,
        }
    }
    if !(1..=15).contains(&count) {
        return None;
    }
    let number = digits as f64 / TENS[count - point.unwrap_or(count)];
    Some(if negative { -number } else { number })
}

/// Milliseconds since 1970 of a moment as this program writes it, `2026-11-24T18:30:05.000Z`. None for every other text,
/// which goes the long way.
fn plain_time(cell: &str) -> Option<i64> {
    let bytes: &[u8; 24] = cell.as_bytes().try_into().ok()?;
    let marks = [
        (4, b'-'),
        (7, b'-'),
        (10, b'T'),
        (13, b':'),
        (16, b':'),
        (19, b'.'),
        (23, b'Z'),
    ];
    if marks.iter().any(|(place, mark)| bytes[*place] != *mark) {
        return None;
    }
    let number = |from: usize, to: usize| {
        bytes[from..to].iter().try_fold(0_i64, |sum, byte| {
            byte.is_ascii_digit()
                .then(|| sum * 10 + i64::from(byte - b'0'))
        })
    };
    let (year, month, day) = (number(0, 4)?, number(5, 7)?, number(8, 10)?);
    let (hour, minute, second) = (number(11, 13)?, number(14, 16)?, number(17, 19)?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 => 28 + i64::from(leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    if !(1..=days).contains(&day) || hour > 23 || minute > 59 || second > 59 {
        return None;
    }
    // Years are counted from March, so that a leap day is the last of one: 153 days in five months, 146,097 in 400 years
    // (the Gregorian calendar; 1970-01-01 is day 719,468 from 0000-03-01).
    let (year, month) = if month > 2 {
        (year, month - 3)
    } else {
        (year - 1, month + 9)
    };
    let (age, year) = (year.div_euclid(400), year.rem_euclid(400));
    let of_year = (153 * month + 2) / 5 + day - 1;
    let days = age * 146_097 + year * 365 + year / 4 - year / 100 + of_year - 719_468;
    let seconds = ((days * 24 + hour) * 60 + minute) * 60 + second;
    Some(seconds * 1000 + number(20, 23)?)
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
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// The short way gives, to the last bit, what the standard library reads.
        #[test]
        fn plain_numbers_are_those_of_the_library(cell in "-?[0-9]{0,10}[.]?[0-9]{0,8}", odd in "[-+.0-9eE_ ]{0,9}") {
            for cell in [cell, odd] {
                if let Some(number) = plain_number(&cell) {
                    let library: Result<f64, _> = cell.parse();
                    prop_assert_eq!(library.map(f64::to_bits), Ok(number.to_bits()), "{}", cell);
                }
            }
        }

        /// And what the calendar's library reads.
        #[test]
        fn plain_times_are_those_of_the_library(
            millis in -62_167_219_200_000_i64..253_402_300_799_999,
            odd in "[0-9]{3}[0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-6][0-9]:[0-6][0-9][.,][0-9]{3}[Zz]",
        ) {
            prop_assert_eq!(plain_time(&write_time(millis)), Some(millis));
            if let Some(found) = plain_time(&odd) {
                let library: jiff::Timestamp = odd.parse().unwrap();
                prop_assert_eq!(library.as_millisecond(), found, "{}", odd);
            }
        }
    }

    #[test]
    fn what_is_not_plain_goes_the_long_way() {
        for cell in [
            "",
            "-",
            ".",
            "+5",
            "1e3",
            "1 ",
            "1.2.3",
            "1234567890123456",
            "--5",
        ] {
            assert_eq!(plain_number(cell), None, "{cell}");
        }
        // By the calendar 2000 was a leap year, 1900 and 2023 were none; the last is a leap second.
        for (cell, plain) in [
            ("2000-02-29T00:00:00.000Z", true),
            ("1900-02-29T00:00:00.000Z", false),
            ("2023-02-29T00:00:00.000Z", false),
            ("2026-04-31T00:00:00.000Z", false),
            ("2026-13-01T00:00:00.000Z", false),
            ("2026-11-24T24:00:00.000Z", false),
            ("2026-11-24 18:30:05.000Z", false),
            ("2026-11-24T18:30:05.00Z", false),
            ("2016-12-31T23:59:60.000Z", false),
        ] {
            assert_eq!(plain_time(cell).is_some(), plain, "{cell}");
        }
    }

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
