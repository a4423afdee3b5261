//! The file of settings: every key, what it takes and what it means.

use crate::toml_table::{Field, Place, Sort};
use crate::ui::keys::names::WORDS;
use crate::units::Legal;

/// The whole file.
pub const SETTINGS: Place = Place(entry!("a file of settings"));

/// The diagonal of a screen: from a telephone's to a wall's.
pub const DIAGONAL: Legal = Legal {
    what: entry!("a screen's diagonal"),
    unit: "mm",
    least: 150.0,
    most: 3000.0,
};

/// From the eyes to the screen.
pub const DISTANCE: Legal = Legal {
    what: entry!("a distance from the screen"),
    unit: "mm",
    least: 300.0,
    most: 5000.0,
};

/// The size of text.
pub const TEXT_SIZE: Legal = Legal {
    what: entry!("a size of text"),
    unit: "%",
    least: 100.0,
    most: 200.0,
};

/// The grounds, in the file's words.
pub const GROUNDS: &[&str] = &["dark", "paper"];

/// The languages, in the file's words: the system's, and their codes after ISO 639-1.
pub const LANGUAGES: &[&str] = &["system", "en", "de"];

const PLAIN: Field = Field {
    key: "",
    places: &[SETTINGS],
    sort: Sort::Flag,
    required: false,
    doc: "",
    example: "",
    mistaken_for: &[],
};

const fn keys(key: &'static str, doc: &'static str, example: &'static str) -> Field {
    Field {
        key,
        sort: Sort::Words(&WORDS),
        doc,
        example,
        ..PLAIN
    }
}

const fn heard(key: &'static str, doc: &'static str, example: &'static str) -> Field {
    Field {
        key,
        doc,
        example,
        ..PLAIN
    }
}

/// The table.
pub const FIELDS: &[Field] = &[
    Field {
        key: "diagonal_mm",
        sort: Sort::Number(DIAGONAL),
        doc: "The diagonal of the screen's picture, millimetres. Asked for in Prepare if left out.",
        example: "344",
        mistaken_for: &["diagonal", "screen", "inches"],
        ..PLAIN
    },
    Field {
        key: "distance_mm",
        sort: Sort::Number(DISTANCE),
        doc: "From the rider's eyes to the screen, millimetres. Asked for in Prepare if left out.",
        example: "1500",
        mistaken_for: &["distance"],
        ..PLAIN
    },
    Field {
        key: "text_size",
        sort: Sort::Whole(TEXT_SIZE),
        doc: "The size of text, per cent of the usual. 100 if left out.",
        example: "125",
        mistaken_for: &["font_size", "zoom"],
        ..PLAIN
    },
    Field {
        key: "language",
        sort: Sort::Word(LANGUAGES),
        doc: "The language of the screen and of what is spoken. `system`, as the system is set to, if left out.",
        example: "\"de\"",
        mistaken_for: &["locale", "lang"],
        ..PLAIN
    },
    Field {
        key: "ground",
        sort: Sort::Word(GROUNDS),
        doc: "What is drawn on. `dark` if left out.",
        example: "\"paper\"",
        mistaken_for: &["theme", "background"],
        ..PLAIN
    },
    Field {
        key: "reduced_motion",
        sort: Sort::Flag,
        doc: "Whether what moves for its own sake stands still. False if left out.",
        example: "true",
        mistaken_for: &["motion"],
        ..PLAIN
    },
    heard(
        "sound",
        "Whether anything is heard at all. True if left out.",
        "false",
    ),
    heard(
        "sound_ticks",
        "Ticks in the five last seconds of a block. True if left out.",
        "false",
    ),
    heard(
        "sound_tones",
        "Tones at a minute, thirty and ten seconds to go, and on the beat. True if left out.",
        "false",
    ),
    heard(
        "say_do",
        "Cues that say what to do are spoken. True if left out.",
        "false",
    ),
    heard(
        "say_feel",
        "Cues that say what it feels like are spoken. True if left out.",
        "false",
    ),
    heard(
        "say_why",
        "Cues that say why are spoken. True if left out.",
        "false",
    ),
    heard(
        "say_cheer",
        "Cues that are company are spoken. True if left out.",
        "false",
    ),
    heard(
        "say_next",
        "What comes next is spoken, where no cue says it. True if left out.",
        "false",
    ),
    heard(
        "coach_notes",
        "Notes from the numbers are spoken. True if left out.",
        "false",
    ),
    heard(
        "pulse_tick",
        "A tick at the planned cadence, where none is measured. False if left out.",
        "true",
    ),
    keys(
        "key_brake_off",
        "What lets the brake off, in every state; escape always does so too.",
        "[\"escape\", \"f12\"]",
    ),
    keys(
        "key_less",
        "What is less, or back: the first of the three buttons.",
        "[\"down\", \"page_up\"]",
    ),
    keys(
        "key_yes",
        "What is yes, the second button, and opens the choices.",
        "[\"enter\", \"period\"]",
    ),
    keys(
        "key_more",
        "What is more, or on: the third button.",
        "[\"up\", \"page_down\"]",
    ),
    keys(
        "key_pause",
        "What pauses, and goes on again, at one press.",
        "[\"space\"]",
    ),
    keys(
        "key_ease",
        "What takes ten per cent off the rest of this block.",
        "[\"e\"]",
    ),
    keys(
        "key_stretch",
        "What gives thirty seconds more of this block.",
        "[\"plus\", \"equals\"]",
    ),
    keys(
        "key_cut",
        "What leaves out the next block that may be cut.",
        "[\"c\"]",
    ),
    keys(
        "key_skip",
        "What skips the rest of this block, at the second press.",
        "[\"right\"]",
    ),
    keys(
        "key_undo",
        "What takes back the last skip, stretch or cut.",
        "[\"u\"]",
    ),
    keys(
        "key_mode",
        "What changes between watts and effort.",
        "[\"m\"]",
    ),
    keys(
        "key_gear",
        "What notes the gear that is ridden, where the rider shifts.",
        "[\"n\"]",
    ),
    keys(
        "key_mark",
        "What marks this moment, to talk about it after the ride.",
        "[\"k\"]",
    ),
    keys(
        "key_why",
        "What says in words why this load stands, and leaves that again.",
        "[\"w\"]",
    ),
    keys(
        "key_no_answer",
        "What gives a question no answer.",
        "[\"backspace\"]",
    ),
    keys(
        "key_end",
        "What ends the ride, at the second press.",
        "[\"q\"]",
    ),
    keys(
        "key_lead",
        "What shows the page to lead from, and leaves it again.",
        "[\"l\"]",
    ),
    keys(
        "key_television",
        "What opens the window for a television, and closes it again.",
        "[\"v\"]",
    ),
    keys(
        "key_sound",
        "What mutes all sound, and lets it be heard again.",
        "[\"x\"]",
    ),
    keys(
        "key_ground",
        "What changes between dark and paper.",
        "[\"g\"]",
    ),
    keys(
        "key_settings",
        "What opens the settings, before a ride.",
        "[\"s\"]",
    ),
    keys(
        "key_write",
        "What opens the room in which sessions are written, before a ride.",
        "[\"t\"]",
    ),
    keys(
        "key_review",
        "What opens the room in which rides are looked at, before and after a ride.",
        "[\"r\"]",
    ),
    keys(
        "key_left_open",
        "What opens the page of a ride that was left open, before a ride.",
        "[\"o\"]",
    ),
    keys(
        "key_next_session",
        "What opens the next session that a ride proposes, where that ride is looked at.",
        "[\"p\"]",
    ),
];

/// The JSON Schema of a file of settings.
pub fn settings_schema() -> serde_json::Value {
    crate::toml_table::schema::schema("The settings of Stillroad", FIELDS, SETTINGS)
}

/// The table of keys for the format's page, as Markdown.
pub fn settings_keys() -> String {
    crate::toml_table::page::keys(FIELDS, &[SETTINGS])
}
