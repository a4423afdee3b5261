//! Cues: read from their tables, and filled with the figures of the moment.

use super::fields::{CUE, FIELDS};
use super::model::{Cue, CueField, CueKind, CuePiece, CuePlace, Plan, Repeat, Target};
use super::words;
use crate::text::{Language, within};
use crate::time::Span;
use crate::toml_table::{Problems, Table, nearest, one_of, quoted, read_table};

/// The names of the fields, as written in braces.
const NAMES: [(&str, CueField); 6] = [
    ("left", CueField::Left),
    ("repeat", CueField::Repeat),
    ("repeats", CueField::Repeats),
    ("next.effort", CueField::NextEffort),
    ("next.time", CueField::NextTime),
    ("total.left", CueField::TotalLeft),
];

/// Every field: its name in braces, and what it is filled with.
pub const FIELD_DOCS: [(&str, &str); 6] = [
    (
        "left",
        entry!("the time left in the block, as \"2 minutes 30 seconds\""),
    ),
    ("repeat", entry!("which repeat of its set this is, from 1")),
    ("repeats", entry!("how many repeats the set has today")),
    (
        "next.effort",
        entry!("what the next block asks for, as \"effort 7\", \"all out\" or \"as you like\""),
    ),
    ("next.time", entry!("how long the next block is")),
    ("total.left", entry!("the time left in the whole session")),
];

/// A cue, where it stands in the file, and where its words do.
#[derive(Clone, Debug)]
pub(super) struct ReadCue {
    pub(super) cue: Cue,
    pub(super) at: usize,
    pub(super) say_at: usize,
}

/// Reads one cue's table.
pub(super) fn read_cue(
    table: Table<'_>,
    lost_keys: &[String],
    problems: &mut Problems,
) -> Option<ReadCue> {
    let values = read_table(FIELDS, CUE, table, lost_keys, problems);
    let place = match (values.clock("at"), values.clock("before_end")) {
        (Some(after), None) if !values.has("before_end") => Some(CuePlace::FromStart(after)),
        (None, Some(before)) if !values.has("at") => Some(CuePlace::FromEnd(before)),
        _ if values.has("at") && values.has("before_end") => {
            problems.error(
                values.at("at").max(values.at("before_end")),
                word!("The cue is placed twice, by `at` and by `before_end`."),
                word!("Keep one of them."),
            );
            None
        }
        _ if values.has("at") || values.has("before_end") => None,
        _ => {
            let lost = |key: &str| lost_keys.iter().any(|lost| lost == key);
            if !lost("at") && !lost("before_end") {
                problems.error(
                    table.at,
                    word!("The cue does not say when it is due."),
                    word!("Add at = \"0:30\" from the block's start, or before_end = \"0:10\" from its end."),
                );
            }
            None
        }
    };
    let kind = values.word("kind").map(|word| match word {
        "feel" => CueKind::Feel,
        "why" => CueKind::Why,
        "cheer" => CueKind::Cheer,
        _ => CueKind::Do,
    });
    let say_at = values.at("say");
    let text = values
        .text("say")
        .and_then(|text| pieces(&text, say_at, problems));
    Some(ReadCue {
        cue: Cue {
            place: place?,
            kind: kind?,
            speaker: values.text("speaker"),
            text: text?,
        },
        at: table.at,
        say_at,
    })
}

/// Splits a cue's text at its fields.
fn pieces(text: &str, at: usize, problems: &mut Problems) -> Option<Vec<CuePiece>> {
    let mut pieces = Vec::new();
    let mut rest = text;
    let mut good = true;
    while let Some(brace) = rest.find(['{', '}']) {
        if brace > 0 {
            pieces.push(CuePiece::Text(rest[..brace].to_owned()));
        }
        let Some((name, after)) = rest[brace..]
            .strip_prefix('{')
            .and_then(|inside| inside.split_once('}'))
        else {
            problems.error(
                at,
                word!("A brace in what is said has no partner."),
                say!(
                    "Write a field as {field}; braces stand for nothing else.",
                    field = "{left}"
                ),
            );
            return None;
        };
        match NAMES.iter().find(|(known, _)| *known == name.trim()) {
            Some(&(_, field)) => pieces.push(CuePiece::Field(field)),
            None => {
                good = false;
                let names: Vec<&str> = NAMES.iter().map(|(name, _)| *name).collect();
                let instead = match nearest(name.trim(), names.iter().copied()) {
                    Some(near) => {
                        say!(
                            "Write {field} if that is meant.",
                            field = format!("{{{near}}}")
                        )
                    }
                    None => say!("Fields are {fields}.", fields = one_of(&names)),
                };
                problems.error(
                    at,
                    say!("There is no field {field}.", field = quoted(name)),
                    instead,
                );
            }
        }
        rest = after;
    }
    if !rest.is_empty() {
        pieces.push(CuePiece::Text(rest.to_owned()));
    }
    good.then_some(pieces)
}

/// The figures of the moment for a cue's fields.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// Time left in the block.
    pub left: Span,
    /// Its place in its set.
    pub repeat: Option<Repeat>,
    /// What comes next, and for how long; nothing after the last block.
    pub next: Option<(Target, Span)>,
    /// Time left in the session.
    pub total_left: Span,
}

impl Figures {
    /// The figures so long into a block, as the session was written.
    pub fn planned(plan: &Plan, block: usize, within: Span) -> Self {
        let rest = plan.blocks.get(block..).unwrap_or(&[]);
        let total: Span = rest.iter().map(|block| block.length).sum();
        Self {
            left: rest
                .first()
                .map_or(Span::ZERO, |block| block.length.less(within)),
            repeat: rest.first().and_then(|block| block.repeat),
            next: rest.get(1).map(|block| (block.target, block.length)),
            total_left: total.less(within),
        }
    }
}

/// What a cue says at a moment: its text with its fields filled, in the language of its session whoever reads.
///
/// Times are filled as they are said, since the same words are shown and spoken. A field that means nothing at the
/// moment (the next block after the last) becomes words that are true: "the end" and "no time".
pub fn fill(text: &[CuePiece], figures: &Figures, language: Language) -> String {
    within(language, || filled(text, figures))
}

fn filled(text: &[CuePiece], figures: &Figures) -> String {
    text.iter()
        .map(|piece| match piece {
            CuePiece::Text(text) => text.clone(),
            CuePiece::Field(CueField::Left) => words::spoken(figures.left),
            CuePiece::Field(CueField::Repeat) => {
                figures.repeat.map_or(1, |repeat| repeat.number).to_string()
            }
            CuePiece::Field(CueField::Repeats) => {
                figures.repeat.map_or(1, |repeat| repeat.of).to_string()
            }
            CuePiece::Field(CueField::NextEffort) => figures.next.map_or_else(
                || word!("the end").to_owned(),
                |(target, _)| words::target(target),
            ),
            CuePiece::Field(CueField::NextTime) => figures.next.map_or_else(
                || word!("no time").to_owned(),
                |(_, length)| words::spoken(length),
            ),
            CuePiece::Field(CueField::TotalLeft) => words::spoken(figures.total_left),
        })
        .collect()
}

/// A cue's text as it was written, its fields in braces.
pub fn written(text: &[CuePiece]) -> String {
    text.iter()
        .map(|piece| match piece {
            CuePiece::Text(text) => text.clone(),
            CuePiece::Field(field) => {
                let name = NAMES.iter().find(|(_, known)| known == field);
                format!("{{{}}}", name.map_or("", |(name, _)| name))
            }
        })
        .collect()
}

impl Cue {
    /// When it is due in a block of this length; a cue from the end of a block that is too short for it is due at the
    /// block's start.
    pub fn due(&self, length: Span) -> Span {
        match self.place {
            CuePlace::FromStart(after) => after,
            CuePlace::FromEnd(before) => length.less(before),
        }
    }

    /// Whether its text holds the field.
    pub fn holds(&self, field: CueField) -> bool {
        self.text.contains(&CuePiece::Field(field))
    }
}
