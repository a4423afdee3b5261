//! One value, read as its field asks for.

use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

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
                let what = format!("{} begins with its higher figure.", reader.name());
                reader.fault(
                    problems,
                    what,
                    format!("Write {} = [{high}, {low}].", field.key),
                );
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
        format!(
            "Write for instance {} = {}.",
            self.field.key, self.field.example
        )
    }

    fn fault(&self, problems: &mut Problems, what: String, instead: String) {
        problems.error(self.at, what, instead);
    }

    fn wrong_sort(&self, value: &DeValue, wanted: &str, problems: &mut Problems) {
        let found = match value {
            DeValue::String(_) => "text in quotes",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or a time of day",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        let what = format!("{} takes {wanted}, and this is {found}.", self.name());
        self.fault(problems, what, self.example());
    }

    fn text(&self, value: &DeValue, most: usize, problems: &mut Problems) -> Option<String> {
        let Some(written) = value.as_str() else {
            self.wrong_sort(value, "text in quotes", problems);
            return None;
        };
        let text = written
            .split(['\n', '\r', '\t', ' '])
            .filter(|piece| !piece.is_empty());
        let text = text.collect::<Vec<_>>().join(" ");
        let count = text.chars().count();
        if let Some(bad) = text.chars().find(|&c| is_unsafe(c)) {
            let what = format!(
                "{} holds the hidden character U+{:04X}, which could make it show other than it reads.",
                self.name(),
                u32::from(bad)
            );
            self.fault(problems, what, "Take it out.".to_owned());
            None
        } else if count == 0 {
            self.fault(
                problems,
                format!("{} is empty.", self.name()),
                self.example(),
            );
            None
        } else if count > most {
            let what = format!(
                "{} is {count} characters long; {most} is the most.",
                self.name()
            );
            self.fault(problems, what, "Make it shorter.".to_owned());
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
            self.wrong_sort(value, "a word in quotes", problems);
            return None;
        };
        if let Some(&word) = words.iter().find(|&&word| word == written) {
            return Some(word);
        }
        let instead = match nearest(written, words.iter().copied()) {
            Some(near) if words.len() > MOST_LISTED => {
                format!("Write \"{near}\" if that is meant; the format's page lists all.")
            }
            None if words.len() > MOST_LISTED => "The format's page lists all words.".to_owned(),
            Some(near) => format!(
                "Write \"{near}\" if that is meant; known are {}.",
                one_of(words)
            ),
            None => format!("Write one of {}.", one_of(words)),
        };
        let what = format!(
            "{} does not know the word {}.",
            self.name(),
            quoted(written)
        );
        self.fault(problems, what, instead);
        None
    }

    fn words<'v>(
        &self,
        value: &DeValue,
        words: &'static [&'static str],
        problems: &mut Problems,
    ) -> Option<Value<'v>> {
        let Some(list) = value.as_array() else {
            self.wrong_sort(value, "a list of words", problems);
            return None;
        };
        let mut read = Vec::new();
        for item in list.iter().take(words.len() + 1) {
            let reader = Reader {
                at: item.span().start,
                ..*self
            };
            let word = reader.word(item.get_ref(), words, problems)?;
            if read.contains(&word) {
                reader.fault(
                    problems,
                    format!("{} stands in this list twice.", quoted(word)),
                    "Keep one.".to_owned(),
                );
                return None;
            }
            read.push(word);
        }
        Some(Value::Words(read))
    }

    fn clock(&self, value: &DeValue, legal: Legal, problems: &mut Problems) -> Option<Span> {
        let span = match value {
            DeValue::String(text) => match clock_from(text) {
                Ok(span) => span,
                Err(instead) => {
                    let what =
                        format!("{} is not a length of time: {}.", self.name(), quoted(text));
                    self.fault(problems, what, instead);
                    return None;
                }
            },
            // TOML reads 10:00 without quotes as ten in the morning.
            DeValue::Datetime(_) => {
                let what = format!(
                    "{} stands without quotes, so that it reads as a time of day.",
                    self.name()
                );
                self.fault(
                    problems,
                    what,
                    format!("Write {} = \"{}\".", self.field.key, self.written),
                );
                return None;
            }
            DeValue::Integer(_) | DeValue::Float(_) => {
                let what = format!(
                    "{} is a bare number, and it is not said of what.",
                    self.name()
                );
                self.fault(
                    problems,
                    what,
                    format!(
                        "Write minutes and seconds in quotes: {} = {}.",
                        self.field.key, self.field.example
                    ),
                );
                return None;
            }
            _ => {
                self.wrong_sort(value, "a length of time in quotes", problems);
                return None;
            }
        };
        if legal.check(span.seconds()).is_ok() {
            return Some(span);
        }
        let bound = Span::from_seconds_f64;
        let what = format!(
            "{} of {span} is outside {} to {}.",
            a_capital(legal.what),
            bound(legal.least),
            bound(legal.most)
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
                        format!(
                            "Write it as a share: {} = {}.",
                            self.field.key,
                            number / 100.0
                        )
                    }
                    Ok(number) => {
                        format!("Write it without quotes: {} = {number}.", self.field.key)
                    }
                    Err(_) => self.example(),
                };
                self.fault(
                    problems,
                    format!(
                        "{} takes a number, and this is text in quotes.",
                        self.name()
                    ),
                    instead,
                );
                return None;
            }
            _ => {
                self.wrong_sort(value, "a number", problems);
                return None;
            }
        };
        match legal.check(number) {
            Ok(number) => Some(number),
            Err(error) => {
                let share =
                    legal.most <= 3.0 && number > legal.most && legal.check(number / 100.0).is_ok();
                let instead = if share {
                    format!("{number} % is written as {}.", number / 100.0)
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
        let what = format!(
            "{} takes a whole number, and this is {number}.",
            self.name()
        );
        self.fault(problems, what, self.example());
        None
    }

    fn one_or_two<'v>(
        &self,
        value: &DeValue,
        legal: Legal,
        problems: &mut Problems,
    ) -> Option<Value<'v>> {
        let Some(list) = value.as_array() else {
            return self.number(value, legal, problems).map(Value::Number);
        };
        match self.list(list, legal, 2, problems)?.as_slice() {
            &[first, second] => Some(Value::Pair(first, second)),
            _ => None,
        }
    }

    fn numbers<'v>(
        &self,
        value: &DeValue,
        legal: Legal,
        count: usize,
        problems: &mut Problems,
    ) -> Option<Value<'v>> {
        let Some(list) = value.as_array() else {
            self.wrong_sort(value, "a list of numbers", problems);
            return None;
        };
        self.list(list, legal, count, problems).map(Value::Numbers)
    }

    fn list(
        &self,
        list: &DeArray,
        legal: Legal,
        count: usize,
        problems: &mut Problems,
    ) -> Option<Vec<f64>> {
        if list.len() != count {
            let what = format!(
                "The list of {} has {} figures and not {count}.",
                self.name(),
                list.len()
            );
            self.fault(problems, what, self.example());
            return None;
        }
        let read: Vec<_> = list
            .iter()
            .map(|item| {
                Reader {
                    at: item.span().start,
                    ..*self
                }
                .number(item.get_ref(), legal, problems)
            })
            .collect();
        read.into_iter().collect()
    }

    fn wholes<'v>(
        &self,
        value: &DeValue,
        legal: Legal,
        most: usize,
        problems: &mut Problems,
    ) -> Option<Value<'v>> {
        let Some(list) = value.as_array() else {
            self.wrong_sort(value, "a list of whole numbers", problems);
            return None;
        };
        if list.is_empty() || list.len() > most {
            let what = format!(
                "The list of {} has {} figures; from one to {most} may stand there.",
                self.name(),
                list.len()
            );
            self.fault(problems, what, self.example());
            return None;
        }
        let mut read = Vec::new();
        for item in list.iter() {
            let reader = Reader {
                at: item.span().start,
                ..*self
            };
            let number = reader.whole(item.get_ref(), legal, problems)?;
            if read.contains(&number) {
                reader.fault(
                    problems,
                    format!("{number} stands in the list of {} twice.", self.name()),
                    "Keep one.".to_owned(),
                );
                return None;
            }
            read.push(number);
        }
        Some(Value::Numbers(read))
    }

    fn flag(&self, value: &DeValue, problems: &mut Problems) -> Option<bool> {
        if value.as_bool().is_none() {
            self.wrong_sort(value, "true or false without quotes", problems);
        }
        value.as_bool()
    }

    fn tables<'v>(
        &self,
        value: &'v DeValue<'v>,
        problems: &mut Problems,
    ) -> Option<Vec<Table<'v>>> {
        let key = self.field.key;
        let Some(list) = value.as_array() else {
            let what = if value.is_table() {
                format!("[{key}] stands in single brackets, so that there could be only one.")
            } else {
                format!("{} is a heading, and this is a value.", self.name())
            };
            self.fault(
                problems,
                what,
                format!("Write {} on a line of its own.", self.field.example),
            );
            return None;
        };
        let mut tables = Vec::new();
        for item in list {
            let at = item.span().start;
            match item.get_ref().as_table() {
                Some(entries) => tables.push(Table { at, entries }),
                None => {
                    let reader = Reader { at, ..*self };
                    reader.fault(
                        problems,
                        format!("{} is a list of tables, and this is a value.", self.name()),
                        format!("Write {} on a line of its own.", self.field.example),
                    );
                    return None;
                }
            }
        }
        Some(tables)
    }
}
