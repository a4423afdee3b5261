//! The session format: every key, where it may stand, what it takes and what it means.

use crate::text::Language;
use crate::toml_table::{Field, Place, Sort};
use crate::units::{Legal, legal};

/// The whole file.
pub const SESSION: Place = Place(entry!("a session"));
/// A block that is ridden.
pub const BLOCK: Place = Place(entry!("a block"));
/// A block that repeats others.
pub const SET: Place = Place(entry!("a set"));
/// A set within a set.
pub const INNER_SET: Place = Place(entry!("a set within a set"));
/// Something said.
pub const CUE: Place = Place(entry!("a cue"));

/// The version of the format that this program reads.
pub const FORMAT: Legal = Legal {
    what: entry!("a format"),
    unit: "",
    least: 1.0,
    most: 1.0,
};
/// Length of a session or of its main part, seconds.
pub const SESSION_SECONDS: Legal = Legal {
    what: entry!("a session's length"),
    unit: "s",
    least: 1.0,
    most: 21_600.0,
};
/// A cue's place in its block, seconds.
pub const CUE_SECONDS: Legal = Legal {
    what: entry!("a cue's place"),
    unit: "s",
    least: 0.0,
    most: 14_400.0,
};
/// The most blocks after sets were unrolled.
pub const MOST_BLOCKS: u64 = 1_000;
/// The most cues of one block.
pub const MOST_CUES: usize = 40;
const MOST_NAME: usize = 80;
const MOST_PURPOSE: usize = 400;
const MOST_SAY: usize = 300;

/// The words for a block's kind.
pub const KINDS: &[&str] = &["warm-up", "hold", "recovery", "sprint", "cool-down", "free"];
/// The words for how to sit or stand.
pub const POSITIONS: &[&str] = &["seated", "standing", "low", "own-choice"];
/// The words for a cue's kind.
pub const CUE_KINDS: &[&str] = &["do", "feel", "why", "cheer"];
/// The words for the language of a session.
pub const LANGUAGES: &[&str] = &[Language::English.code(), Language::German.code()];
/// The words for whom a session is written.
pub const AUDIENCES: &[&str] = &["everyone", "newcomers"];
/// The words for what a threshold test is.
pub const TESTS: &[&str] = &["step", "three-minutes"];
/// The keys of which a block has one: what it asks for.
pub const TARGETS: &[&str] = &["effort", "threshold", "watts", "level", "slope"];

const PLAIN: Field = Field {
    key: "",
    places: &[BLOCK],
    sort: Sort::Flag,
    required: false,
    doc: "",
    example: "",
    mistaken_for: &[],
};

/// The table.
pub const FIELDS: &[Field] = &[
    Field {
        key: "format",
        places: &[SESSION],
        sort: Sort::Whole(FORMAT),
        required: true,
        doc: entry!("The version of this format; always 1."),
        example: "1",
        mistaken_for: &["version"],
    },
    Field {
        key: "language",
        places: &[SESSION],
        sort: Sort::Word(LANGUAGES),
        doc: entry!(
            "In which language its words are, and with them what is filled into cues: `en` for English, `de` for German; `en` if left out."
        ),
        example: "\"de\"",
        mistaken_for: &["lang", "locale"],
        ..PLAIN
    },
    Field {
        key: "name",
        places: &[SESSION],
        sort: Sort::Text(MOST_NAME),
        required: true,
        doc: entry!("What the session is called."),
        example: "\"Harbour road repeats\"",
        mistaken_for: &["title"],
    },
    Field {
        key: "purpose",
        places: &[SESSION],
        sort: Sort::Text(MOST_PURPOSE),
        required: true,
        doc: entry!("What it is good for, in a sentence or two."),
        example: "\"Steady work just under threshold, four times.\"",
        mistaken_for: &["description"],
    },
    Field {
        key: "author",
        places: &[SESSION],
        sort: Sort::Text(MOST_NAME),
        doc: entry!("Who wrote it."),
        example: "\"The lamp keeper\"",
        mistaken_for: &["coach"],
        ..PLAIN
    },
    Field {
        key: "for",
        places: &[SESSION],
        sort: Sort::Word(AUDIENCES),
        doc: entry!(
            "Whom it is written for; `everyone` if left out. A session for newcomers has no all-out work."
        ),
        example: "\"newcomers\"",
        mistaken_for: &["audience"],
        ..PLAIN
    },
    Field {
        key: "test",
        places: &[SESSION],
        sort: Sort::Word(TESTS),
        doc: entry!(
            "Makes the session a threshold test. `step`: its holds are steps that rise until the rider cannot go on. `three-minutes`: its one sprint is three minutes all out against a resistance that stands. At the end a threshold is proposed."
        ),
        example: "\"step\"",
        ..PLAIN
    },
    Field {
        key: "main",
        places: &[SESSION],
        sort: Sort::Clock(SESSION_SECONDS),
        doc: entry!(
            "What the main part must add up to: every block that is neither warm-up nor cool-down. A check for whoever writes; where it does not add up, that is an error."
        ),
        example: "\"25:00\"",
        ..PLAIN
    },
    Field {
        key: "whole",
        places: &[SESSION],
        sort: Sort::Clock(SESSION_SECONDS),
        doc: entry!("What the whole session must add up to; a check like `main`."),
        example: "\"45:00\"",
        mistaken_for: &["total"],
        ..PLAIN
    },
    Field {
        key: "block",
        places: &[SESSION],
        sort: Sort::Tables(&[BLOCK, SET]),
        required: true,
        doc: entry!("The blocks and sets, in the order in which they are ridden."),
        example: "[[block]]",
        mistaken_for: &["blocks", "interval", "step"],
    },
    Field {
        key: "repeat",
        places: &[SET, INNER_SET],
        sort: Sort::Whole(legal::REPEATS),
        required: true,
        doc: entry!(
            "How often the set's blocks are ridden. A block with this key is a set and has blocks of its own; it is not ridden itself."
        ),
        example: "4",
        mistaken_for: &["repeats", "reps", "times", "count"],
    },
    Field {
        key: "block",
        places: &[SET],
        sort: Sort::Tables(&[BLOCK, INNER_SET]),
        required: true,
        doc: entry!("The blocks of the set. One of them may be a set again; no deeper."),
        example: "[[block.block]]",
        mistaken_for: &["blocks"],
    },
    Field {
        key: "block",
        places: &[INNER_SET],
        sort: Sort::Tables(&[BLOCK]),
        required: true,
        doc: entry!("The blocks of the inner set."),
        example: "[[block.block.block]]",
        mistaken_for: &["blocks"],
    },
    Field {
        key: "kind",
        sort: Sort::Word(KINDS),
        required: true,
        doc: entry!("What the block is for."),
        example: "\"hold\"",
        mistaken_for: &["type"],
        ..PLAIN
    },
    Field {
        key: "name",
        sort: Sort::Text(MOST_NAME),
        doc: entry!("What the block is called on the screen; made from its kind if left out."),
        example: "\"Up to the lamp\"",
        mistaken_for: &["title"],
        ..PLAIN
    },
    Field {
        key: "time",
        sort: Sort::Clock(legal::BLOCK_SECONDS),
        required: true,
        doc: entry!(
            "How long the block is: minutes and seconds, or hours, minutes and seconds, in quotes."
        ),
        example: "\"10:00\"",
        mistaken_for: &["duration", "length", "minutes", "seconds"],
        ..PLAIN
    },
    Field {
        key: "effort",
        sort: Sort::Line(legal::EFFORT),
        doc: entry!(
            "The load as effort out of ten. Above 9 is all out and has no figure in watts."
        ),
        example: "[2, 4]",
        mistaken_for: &["intensity"],
        ..PLAIN
    },
    Field {
        key: "threshold",
        sort: Sort::Line(legal::THRESHOLD_SHARE),
        doc: entry!("The load as a share of the rider's threshold power: 0.88 is 88 per cent."),
        example: "0.88",
        ..PLAIN
    },
    Field {
        key: "watts",
        sort: Sort::Line(legal::POWER),
        doc: entry!("The load in watts, the same for every rider (under their caps)."),
        example: "150",
        mistaken_for: &["power"],
        ..PLAIN
    },
    Field {
        key: "level",
        sort: Sort::Line(legal::LEVEL_SHARE),
        doc: entry!(
            "The brake stands at this share of the trainer's range of resistance, and the rider makes the watts."
        ),
        example: "0.3",
        mistaken_for: &["resistance"],
        ..PLAIN
    },
    Field {
        key: "slope",
        sort: Sort::Line(legal::SLOPE),
        doc: entry!("The brake imitates this slope, per cent, and the rider makes the watts."),
        example: "4.0",
        mistaken_for: &["grade", "gradient", "incline"],
        ..PLAIN
    },
    Field {
        key: "cadence",
        sort: Sort::Band(legal::CADENCE),
        doc: entry!(
            "How fast the legs should turn, revolutions a minute: a figure, or a band from low to high."
        ),
        example: "[80, 90]",
        mistaken_for: &["rpm"],
        ..PLAIN
    },
    Field {
        key: "position",
        sort: Sort::Word(POSITIONS),
        doc: entry!("How to sit or stand; `own-choice` if left out."),
        example: "\"seated\"",
        ..PLAIN
    },
    Field {
        key: "build_up",
        sort: Sort::Clock(legal::BUILD_UP_SECONDS),
        doc: entry!(
            "How long the load builds up at the block's start. If left out: ten seconds in a hold, none in a sprint."
        ),
        example: "\"0:10\"",
        mistaken_for: &["ramp", "buildup"],
        ..PLAIN
    },
    Field {
        key: "brake",
        sort: Sort::Word(&["held", "free"]),
        doc: entry!(
            "In a sprint: whether the brake holds watts, or its level stands before the sprint begins and the rider makes the watts. If left out: free for an all-out sprint of up to fifteen seconds, else held."
        ),
        example: "\"free\"",
        ..PLAIN
    },
    Field {
        key: "stretch",
        doc: entry!(
            "Whether the block may be made longer on the day; true if left out, but false in a sprint."
        ),
        example: "true",
        ..PLAIN
    },
    Field {
        key: "cut",
        doc: entry!("Whether the block may be left out on the day; false if left out."),
        example: "false",
        mistaken_for: &["optional"],
        ..PLAIN
    },
    Field {
        key: "cue",
        sort: Sort::Tables(&[CUE]),
        doc: entry!("What is said or shown during the block."),
        example: "[[block.cue]]",
        mistaken_for: &["cues", "text"],
        ..PLAIN
    },
    Field {
        key: "at",
        places: &[CUE],
        sort: Sort::Clock(CUE_SECONDS),
        doc: entry!(
            "When the cue is due, counted from the block's start. A cue has either this or `before_end`."
        ),
        example: "\"0:30\"",
        mistaken_for: &["time", "start"],
        ..PLAIN
    },
    Field {
        key: "before_end",
        places: &[CUE],
        sort: Sort::Clock(CUE_SECONDS),
        doc: entry!(
            "When the cue is due, counted back from the block's end, wherever that is on the day."
        ),
        example: "\"0:10\"",
        mistaken_for: &["end", "from_end"],
        ..PLAIN
    },
    Field {
        key: "kind",
        places: &[CUE],
        sort: Sort::Word(CUE_KINDS),
        required: true,
        doc: entry!(
            "What the cue is for: what to do, how it should feel, why, or company. Each kind can be muted by itself."
        ),
        example: "\"do\"",
        mistaken_for: &["type"],
    },
    Field {
        key: "speaker",
        places: &[CUE],
        sort: Sort::Text(MOST_NAME),
        doc: entry!("Who says it, where several lead."),
        example: "\"Lamp keeper\"",
        ..PLAIN
    },
    Field {
        key: "say",
        places: &[CUE],
        sort: Sort::Text(MOST_SAY),
        required: true,
        doc: entry!(
            "What is said. Figures that can change on the day are written as fields in braces."
        ),
        example: "\"{left} to go, then {next.time} at {next.effort}.\"",
        mistaken_for: &["text", "message"],
    },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Kind, Position};

    #[test]
    fn the_words_of_the_table_are_those_of_the_model() {
        assert_eq!(KINDS, Kind::ALL.map(Kind::key));
        let positions = [
            Position::Seated,
            Position::Standing,
            Position::Low,
            Position::OwnChoice,
        ];
        assert_eq!(POSITIONS, positions.map(Position::key));
        assert_eq!(LANGUAGES, Language::ALL.map(Language::code));
    }

    #[test]
    fn no_key_stands_twice_in_a_place_and_each_is_explained() {
        for (index, field) in FIELDS.iter().enumerate() {
            assert!(
                field.doc.ends_with('.') && !field.example.is_empty(),
                "{}",
                field.key
            );
            for other in &FIELDS[index + 1..] {
                let shared = field
                    .places
                    .iter()
                    .any(|place| other.places.contains(place));
                assert!(!(field.key == other.key && shared), "{}", field.key);
            }
        }
    }
}
