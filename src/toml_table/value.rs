//! One value, read as its field asks for.

mod lists;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::clock::clock_from;
use super::field::{Field, Sort};
use super::problem::Problems;
use super::wording::{a_capital, is_unsafe, nearest, one_of, quoted};
use crate::time::Span;
use crate::units::Legal;

/// Of words more than so many a problem does not list all.
pub(super) const MOST_LISTED: usize = 20;

/// A table within a file, and the byte at which it begins.
#[derive(Clone, Copy, Debug)]
pub struct Table<'v> {
    /// Where its heading stands.
    pub at: usize,
    /// Its entries.
    pub entries: &'v DeTable<'v>,
}

/// A value that is of its field's sort and within its bounds.
#[derive(Clone, Debug)]
pub enum Value<'v> {
    /// Text, safe to show.
    Text(String),
    /// The word as the field's table has it.
    Word(&'static str),
    /// Words as the field's table has them.
    Words(Vec<&'static str>),
    /// A length of time.
    Clock(Span),
    /// A number.
    Number(f64),
    /// Two numbers.
    Pair(f64, f64),
    /// A list of numbers.
    Numbers(Vec<f64>),
    /// True or false.
    Flag(bool),
    /// Tables in the order of the file.
    Tables(Vec<Table<'v>>),
}

/// Reads one value as its field asks for; what is wrong with it becomes a problem.
pub(super) fn read_value<'v>(
    field: &'static Field,
    value: &'v Spanned<DeValue<'v>>,
    problems: &mut Problems,
) -> Option<Value<'v>> {
    let reader = Reader {
        field,
        at: value.span().start,
        written: problems.text().get(value.span()).unwrap_or(""),
    };
    let value = value.get_ref();
    match field.sort {
        Sort::Text(most) => reader.text(value, most, problems).map(Value::Text),
        Sort::Word(words) => reader.word(value, words, problems).map(Value::Word),
        Sort::Words(words) => reader.words(value, words, problems),
        Sort::Clock(legal) => reader.clock(value, legal, problems).map(Value::Clock),
        Sort::ClockOr(legal, word) => match value.as_str() {
            Some(text) if text == word => Some(Value::Word(word)),
            _ => reader.clock(value, legal, problems).map(Value::Clock),
        },
        Sort::Number(legal) => reader.number(value, legal, problems).map(Value::Number),
        Sort::Whole(legal) => reader.whole(value, legal, problems).map(Value::Number),
        Sort::Line(legal) => reader.one_or_two(value, legal, problems),
        Sort::Band(legal) => match reader.one_or_two(value, legal, problems) {
            Some(Value::Pair(low, high)) if low > high => {
                let what = say!("{key} begins with its higher figure.", key = reader.name());
                let given = format!("{} = [{high}, {low}]", field.key);
                reader.fault(problems, what, say!("Write {given}.", given));
                None
            }
            read => read,
        },
        Sort::Numbers(legal, count) => reader.numbers(value, legal, count, problems),
        Sort::Wholes(legal, most) => reader.wholes(value, legal, most, problems),
        Sort::Flag => reader.flag(value, problems).map(Value::Flag),
        Sort::Tables(_) => reader.tables(value, problems).map(Value::Tables),
    }
}

struct Reader<'r> {
    field: &'static Field,
    at: usize,
    /// The value as the file has it.
    written: &'r str,
}

impl Reader<'_> {
    fn name(&self) -> String {
        quoted(self.field.key)
    }

    fn example(&self) -> String {
        // One figure, so that a decimal keeps its point: it goes into a file.
        say!(
            "Write for instance {given}.",
            given = format!("{} = {}", self.field.key, self.field.example)
        )
    }

    fn fault(&self, problems: &mut Problems, what: String, instead: String) {
        problems.error(self.at, what, instead);
    }

    fn wrong_sort(&self, value: &DeValue, wanted: &str, problems: &mut Problems) {
        let found = match value {
            DeValue::String(_) => word!("text in quotes"),
            DeValue::Integer(_) | DeValue::Float(_) => word!("a number"),
            DeValue::Boolean(_) => word!("true or false"),
            DeValue::Datetime(_) => word!("a date or a time of day"),
            DeValue::Array(_) => word!("a list"),
            DeValue::Table(_) => word!("a table"),
        };
        let what = say!(
            "{key} takes {wanted}, and this is {found}.",
            key = self.name(),
            wanted,
            found
        );
        self.fault(problems, what, self.example());
    }

    fn text(&self, value: &DeValue, most: usize, problems: &mut Problems) -> Option<String> {
        let Some(written) = value.as_str() else {
            self.wrong_sort(value, word!("text in quotes"), problems);
            return None;
        };
        let text = written
            .split(['\n', '\r', '\t', ' '])
            .filter(|piece| !piece.is_empty());
        let text = text.collect::<Vec<_>>().join(" ");
        let count = text.chars().count();
        if let Some(bad) = text.chars().find(|&c| is_unsafe(c)) {
            let what = say!(
                "{key} holds the hidden character {hidden}, which could make it show other than it reads.",
                key = self.name(),
                hidden = format!("U+{:04X}", u32::from(bad))
            );
            self.fault(problems, what, word!("Take it out.").to_owned());
            None
        } else if count == 0 {
            self.fault(
                problems,
                say!("{key} is empty.", key = self.name()),
                self.example(),
            );
            None
        } else if count > most {
            let what = say!(
                "{key} is {count} characters long; {most} is the most.",
                key = self.name(),
                count,
                most
            );
            self.fault(problems, what, word!("Make it shorter.").to_owned());
            None
        } else {
            Some(text)
        }
    }

    fn word(
        &self,
        value: &DeValue,
        words: &'static [&'static str],
        problems: &mut Problems,
    ) -> Option<&'static str> {
        let Some(written) = value.as_str() else {
            self.wrong_sort(value, word!("a word in quotes"), problems);
            return None;
        };
        if let Some(&word) = words.iter().find(|&&word| word == written) {
            return Some(word);
        }
        let instead = match nearest(written, words.iter().copied()) {
            Some(near) if words.len() > MOST_LISTED => {
                say!(
                    "Write \"{near}\" if that is meant; the format's page lists all.",
                    near
                )
            }
            None if words.len() > MOST_LISTED => {
                word!("The format's page lists all words.").to_owned()
            }
            Some(near) => say!(
                "Write \"{near}\" if that is meant; known are {words}.",
                near,
                words = one_of(words)
            ),
            None => say!("Write one of {words}.", words = one_of(words)),
        };
        let what = say!(
            "{key} does not know the word {word}.",
            key = self.name(),
            word = quoted(written)
        );
        self.fault(problems, what, instead);
        None
    }

    fn clock(&self, value: &DeValue, legal: Legal, problems: &mut Problems) -> Option<Span> {
        let span = match value {
            DeValue::String(text) => match clock_from(text) {
                Ok(span) => span,
                Err(instead) => {
                    let what = say!(
                        "{key} is not a length of time: {written}.",
                        key = self.name(),
                        written = quoted(text)
                    );
                    self.fault(problems, what, instead);
                    return None;
                }
            },
            // TOML reads 10:00 without quotes as ten in the morning.
            DeValue::Datetime(_) => {
                let what = say!(
                    "{key} stands without quotes, so that it reads as a time of day.",
                    key = self.name()
                );
                let given = format!("{} = \"{}\"", self.field.key, self.written);
                self.fault(problems, what, say!("Write {given}.", given));
                return None;
            }
            DeValue::Integer(_) | DeValue::Float(_) => {
                let what = say!(
                    "{key} is a bare number, and it is not said of what.",
                    key = self.name()
                );
                self.fault(
                    problems,
                    what,
                    say!(
                        "Write minutes and seconds in quotes: {given}.",
                        given = format!("{} = {}", self.field.key, self.field.example)
                    ),
                );
                return None;
            }
            _ => {
                self.wrong_sort(value, word!("a length of time in quotes"), problems);
                return None;
            }
        };
        if legal.check(span.seconds()).is_ok() {
            return Some(span);
        }
        let bound = Span::from_seconds_f64;
        let what = say!(
            "{what} of {value} is outside {least} to {most}.",
            what = a_capital(crate::text::word(legal.what)),
            value = span,
            least = bound(legal.least),
            most = bound(legal.most)
        );
        self.fault(problems, what, self.example());
        None
    }

    fn number(&self, value: &DeValue, legal: Legal, problems: &mut Problems) -> Option<f64> {
        let number = match value {
            DeValue::Integer(whole) => i64::from_str_radix(whole.as_str(), whole.radix())
                .map_or(f64::INFINITY, |n| n as f64),
            DeValue::Float(float) => float.as_str().parse().unwrap_or(f64::NAN),
            DeValue::String(text) => {
                let bare = text.trim().trim_end_matches('%').trim();
                let instead = match bare.parse::<f64>() {
                    Ok(number) if text.contains('%') && legal.most <= 3.0 => {
                        say!(
                            "Write it as a share: {given}.",
                            given = format!("{} = {}", self.field.key, number / 100.0)
                        )
                    }
                    Ok(number) => {
                        say!(
                            "Write it without quotes: {given}.",
                            given = format!("{} = {number}", self.field.key)
                        )
                    }
                    Err(_) => self.example(),
                };
                self.fault(
                    problems,
                    say!(
                        "{key} takes a number, and this is text in quotes.",
                        key = self.name()
                    ),
                    instead,
                );
                return None;
            }
            _ => {
                self.wrong_sort(value, word!("a number"), problems);
                return None;
            }
        };
        match legal.check(number) {
            Ok(number) => Some(number),
            Err(error) => {
                let share =
                    legal.most <= 3.0 && number > legal.most && legal.check(number / 100.0).is_ok();
                let instead = if share {
                    // With its full stop it keeps its point: it goes into a file.
                    let share = format!("{}.", number / 100.0);
                    say!("{number} % is written as {share}", number, share)
                } else {
                    self.example()
                };
                self.fault(
                    problems,
                    format!("{}.", a_capital(&error.to_string())),
                    instead,
                );
                None
            }
        }
    }

    fn whole(&self, value: &DeValue, legal: Legal, problems: &mut Problems) -> Option<f64> {
        let number = self.number(value, legal, problems)?;
        if number.fract() == 0.0 {
            return Some(number);
        }
        let what = say!(
            "{key} takes a whole number, and this is {number}.",
            key = self.name(),
            number
        );
        self.fault(problems, what, self.example());
        None
    }

    fn flag(&self, value: &DeValue, problems: &mut Problems) -> Option<bool> {
        if value.as_bool().is_none() {
            self.wrong_sort(value, word!("true or false without quotes"), problems);
        }
        value.as_bool()
    }
}
