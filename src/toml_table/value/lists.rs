//! Lists and tables that repeat.

use toml::de::{DeArray, DeValue};

use super::{Reader, Table, Value};
use crate::toml_table::problem::Problems;
use crate::toml_table::wording::quoted;
use crate::units::Legal;

impl Reader<'_> {
    pub(super) fn words<'v>(
        &self,
        value: &DeValue,
        words: &'static [&'static str],
        problems: &mut Problems,
    ) -> Option<Value<'v>> {
        let Some(list) = value.as_array() else {
            self.wrong_sort(value, word!("a list of words"), problems);
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
                    say!("{word} stands in this list twice.", word = quoted(word)),
                    word!("Keep one.").to_owned(),
                );
                return None;
            }
            read.push(word);
        }
        Some(Value::Words(read))
    }

    pub(super) fn one_or_two<'v>(
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

    pub(super) fn numbers<'v>(
        &self,
        value: &DeValue,
        legal: Legal,
        count: usize,
        problems: &mut Problems,
    ) -> Option<Value<'v>> {
        let Some(list) = value.as_array() else {
            self.wrong_sort(value, word!("a list of numbers"), problems);
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
            let what = say!(
                "The list of {key} has {found} figures and not {count}.",
                key = self.name(),
                found = list.len(),
                count
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

    pub(super) fn wholes<'v>(
        &self,
        value: &DeValue,
        legal: Legal,
        most: usize,
        problems: &mut Problems,
    ) -> Option<Value<'v>> {
        let Some(list) = value.as_array() else {
            self.wrong_sort(value, word!("a list of whole numbers"), problems);
            return None;
        };
        if list.is_empty() || list.len() > most {
            let what = say!(
                "The list of {key} has {found} figures; from one to {most} may stand there.",
                key = self.name(),
                found = list.len(),
                most
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
                    say!(
                        "{number} stands in the list of {key} twice.",
                        number,
                        key = self.name()
                    ),
                    word!("Keep one.").to_owned(),
                );
                return None;
            }
            read.push(number);
        }
        Some(Value::Numbers(read))
    }

    pub(super) fn tables<'v>(
        &self,
        value: &'v DeValue<'v>,
        problems: &mut Problems,
    ) -> Option<Vec<Table<'v>>> {
        let key = self.field.key;
        let Some(list) = value.as_array() else {
            let what = if value.is_table() {
                say!(
                    "[{key}] stands in single brackets, so that there could be only one.",
                    key
                )
            } else {
                say!(
                    "{key} is a heading, and this is a value.",
                    key = self.name()
                )
            };
            self.fault(
                problems,
                what,
                say!(
                    "Write {heading} on a line of its own.",
                    heading = self.field.example
                ),
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
                        say!(
                            "{key} is a list of tables, and this is a value.",
                            key = self.name()
                        ),
                        say!(
                            "Write {heading} on a line of its own.",
                            heading = self.field.example
                        ),
                    );
                    return None;
                }
            }
        }
        Some(tables)
    }
}
