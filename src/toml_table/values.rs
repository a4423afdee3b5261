//! One table, read against the fields that may stand in its place.

use toml::de::DeTable;

use super::field::{Field, Place, fields_at};
use super::problem::Problems;
use super::value::{Table, Value, read_value};
use super::wording::{nearest, one_of, quoted};
use crate::text::word;
use crate::time::Span;

struct Entry<'v> {
    key: &'static str,
    at: usize,
    value: Option<Value<'v>>,
}

/// What was read of a table.
pub struct Values<'v> {
    /// Where the table begins.
    pub at: usize,
    entries: Vec<Entry<'v>>,
}

/// Reads a table: each known key by its sort, each unknown one a problem with the nearest known, each missing one that
/// is required a problem too, unless its line was broken and is among `lost_keys`.
pub fn read_table<'v>(
    fields: &'static [Field],
    place: Place,
    table: Table<'v>,
    lost_keys: &[String],
    problems: &mut Problems,
) -> Values<'v> {
    let mut entries = Vec::new();
    for (key, value) in table.entries {
        let at = key.span().start;
        match fields_at(fields, place).find(|field| field.key == key.get_ref()) {
            Some(field) => entries.push(Entry {
                key: field.key,
                at: value.span().start,
                value: read_value(field, value, problems),
            }),
            None => unknown_key(fields, place, key.get_ref(), at, table.entries, problems),
        }
    }
    for field in fields_at(fields, place).filter(|field| field.required) {
        let present = entries.iter().any(|entry| entry.key == field.key);
        if !present && !lost_keys.iter().any(|key| key == field.key) {
            let what = say!(
                "{place} has no {key}.",
                place = super::a_capital(word(place.0)),
                key = quoted(field.key)
            );
            let instead = if field.example.starts_with('[') && field.example.ends_with("]]") {
                say!("Add {heading}.", heading = field.example)
            } else {
                let given = format!("{} = {}", field.key, field.example);
                say!("Add for instance {given}.", given)
            };
            problems.error(table.at, what, instead);
        }
    }
    Values {
        at: table.at,
        entries,
    }
}

fn unknown_key(
    fields: &'static [Field],
    place: Place,
    key: &str,
    at: usize,
    entries: &DeTable,
    problems: &mut Problems,
) {
    let here = || fields_at(fields, place);
    let free = |field: &&Field| !entries.contains_key(field.key);
    let meant = here()
        .find(|field| field.mistaken_for.contains(&key))
        .map(|field| field.key);
    let near = meant.or_else(|| nearest(key, here().filter(free).map(|field| field.key)));
    let elsewhere = fields.iter().find(|field| field.key == key);
    let (what, instead) = match (elsewhere, near) {
        (Some(field), _) => (
            say!(
                "{key} does not belong in {place}.",
                key = quoted(key),
                place = word(place.0)
            ),
            say!(
                "It belongs in {places}; move it, or take it out.",
                places = one_of(
                    &field
                        .places
                        .iter()
                        .map(|place| word(place.0))
                        .collect::<Vec<_>>()
                )
            ),
        ),
        (None, Some(near)) => (
            say!(
                "{key} is not a key of {place}.",
                key = quoted(key),
                place = word(place.0)
            ),
            say!("The nearest is `{near}`: write that if it is meant.", near),
        ),
        (None, None) => (
            say!(
                "{key} is not a key of {place}.",
                key = quoted(key),
                place = word(place.0)
            ),
            say!(
                "Its keys are {keys}.",
                keys = one_of(&here().map(|field| field.key).collect::<Vec<_>>())
            ),
        ),
    };
    problems.error(at, what, instead);
}

impl<'v> Values<'v> {
    fn entry(&self, key: &str) -> Option<&Entry<'v>> {
        self.entries.iter().find(|entry| entry.key == key)
    }

    /// Whether the key stands in the file, be its value good or bad.
    pub fn has(&self, key: &str) -> bool {
        self.entry(key).is_some()
    }

    /// Where the key's value stands; where the table begins if the key does not stand there.
    pub fn at(&self, key: &str) -> usize {
        self.entry(key).map_or(self.at, |entry| entry.at)
    }

    /// The value, where it is good.
    pub fn get(&self, key: &str) -> Option<&Value<'v>> {
        self.entry(key).and_then(|entry| entry.value.as_ref())
    }

    /// The text of a key.
    pub fn text(&self, key: &str) -> Option<String> {
        match self.get(key) {
            Some(Value::Text(text)) => Some(text.clone()),
            _ => None,
        }
    }

    /// The word of a key.
    pub fn word(&self, key: &str) -> Option<&'static str> {
        match self.get(key) {
            Some(Value::Word(word)) => Some(word),
            _ => None,
        }
    }

    /// The length of time of a key.
    pub fn clock(&self, key: &str) -> Option<Span> {
        match self.get(key) {
            Some(&Value::Clock(span)) => Some(span),
            _ => None,
        }
    }

    /// The number of a key.
    pub fn number(&self, key: &str) -> Option<f64> {
        match self.get(key) {
            Some(&Value::Number(number)) => Some(number),
            _ => None,
        }
    }

    /// Whether the key says true or false.
    pub fn flag(&self, key: &str) -> Option<bool> {
        match self.get(key) {
            Some(&Value::Flag(flag)) => Some(flag),
            _ => None,
        }
    }

    /// The tables of a key; none where it does not stand there.
    pub fn tables(&self, key: &str) -> &[Table<'v>] {
        match self.get(key) {
            Some(Value::Tables(tables)) => tables,
            _ => &[],
        }
    }
}
