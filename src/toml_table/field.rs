//! What a format's table of fields is made of.

use crate::units::Legal;

/// Where a key may stand, named as in a sentence: "a block".
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Place(pub &'static str);

/// What sort of value a key takes, with its bounds.
#[derive(Clone, Copy, Debug)]
pub enum Sort {
    /// Text of at most so many characters; runs of blanks and line ends become one blank.
    Text(usize),
    /// One of these words.
    Word(&'static [&'static str]),
    /// Any of these words, each once.
    Words(&'static [&'static str]),
    /// A length of time as a clock shows it, in quotes; the bounds are in seconds.
    Clock(Legal),
    /// A length of time, or this word.
    ClockOr(Legal, &'static str),
    /// A number.
    Number(Legal),
    /// A whole number.
    Whole(Legal),
    /// A number, or a list of two: from the first to the second.
    Line(Legal),
    /// A number, or a list of two of which the second is not the lesser.
    Band(Legal),
    /// Exactly so many numbers.
    Numbers(Legal, usize),
    /// A list of whole numbers, each once: one at least, so many at most.
    Wholes(Legal, usize),
    /// True or false.
    Flag,
    /// Tables that repeat, `[[key]]`, each in one of these places.
    Tables(&'static [Place]),
}

/// One key of a format.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// The key as written.
    pub key: &'static str,
    /// Where it may stand.
    pub places: &'static [Place],
    /// What it takes.
    pub sort: Sort,
    /// Whether it must be given wherever it may stand.
    pub required: bool,
    /// What it means, in a sentence or two, for the format's page and the schema.
    pub doc: &'static str,
    /// A good value as written in a file.
    pub example: &'static str,
    /// Other words that people write for it.
    pub mistaken_for: &'static [&'static str],
}

/// The fields that may stand in a place, in the table's order.
pub fn fields_at(fields: &'static [Field], place: Place) -> impl Iterator<Item = &'static Field> {
    fields
        .iter()
        .filter(move |field| field.places.contains(&place))
}
