//! The rider file: every key, what it takes and what it means.

use crate::toml_table::{Field, Place, Sort};
use crate::units::{Legal, legal};

/// The whole file.
pub const RIDER: Place = Place(entry!("a rider file"));

/// A share of threshold in the effort map.
pub const MAP_SHARE: Legal = Legal {
    what: entry!("a share of threshold"),
    unit: "",
    least: 0.0,
    most: 2.0,
};

/// The figures that a rider confirms, in the file's order.
pub const CONFIRMED: &[&str] = &["threshold", "power_cap", "sprint_cap", "w_prime"];

/// The word for a clock that never pauses by itself.
pub const NEVER: &str = "never";

/// A bicycle has three chainrings at most.
pub const MOST_CHAINRINGS: usize = 3;

/// The longest cassettes in common use have thirteen sprockets (common practice, no source).
pub const MOST_SPROCKETS: usize = 13;

const PLAIN: Field = Field {
    key: "",
    places: &[RIDER],
    sort: Sort::Flag,
    required: false,
    doc: "",
    example: "",
    mistaken_for: &[],
};

/// The table.
pub const FIELDS: &[Field] = &[
    Field {
        key: "name",
        sort: Sort::Text(80),
        doc: entry!(
            "What the rider is called on the screen and in recordings; `Rider` if left out."
        ),
        example: "\"Lamp keeper\"",
        ..PLAIN
    },
    Field {
        key: "threshold",
        sort: Sort::Number(legal::THRESHOLD),
        doc: entry!(
            "Threshold power, watts: what the rider can hold for about an hour. 120 if left out."
        ),
        example: "180",
        mistaken_for: &["threshold_power", "threshold_watts"],
        ..PLAIN
    },
    Field {
        key: "power_cap",
        sort: Sort::Number(legal::POWER_CAP),
        doc: entry!(
            "No power that the brake holds outside sprints is above this, watts. 200 if left out."
        ),
        example: "260",
        mistaken_for: &["cap", "max_power"],
        ..PLAIN
    },
    Field {
        key: "sprint_cap",
        sort: Sort::Number(legal::SPRINT_CAP),
        doc: entry!(
            "No power that the brake holds in a sprint is above this, watts; not below `power_cap`. 300 if left out."
        ),
        example: "500",
        ..PLAIN
    },
    Field {
        key: "w_prime",
        sort: Sort::Number(legal::W_PRIME),
        doc: entry!("The work above threshold that empties the rider, joules. 12000 if left out."),
        example: "15000",
        ..PLAIN
    },
    Field {
        key: "age",
        sort: Sort::Whole(legal::AGE),
        doc: entry!("Age in years. It never sets a heart-rate ceiling by itself."),
        example: "41",
        ..PLAIN
    },
    Field {
        key: "max_heart_rate",
        sort: Sort::Number(legal::HEART_RATE),
        doc: entry!("Maximal heart rate as it was measured, beats a minute."),
        example: "182",
        mistaken_for: &["max_hr", "heart_rate_max", "hr_max"],
        ..PLAIN
    },
    Field {
        key: "rest_heart_rate",
        sort: Sort::Number(legal::HEART_RATE),
        doc: entry!("Heart rate at rest as it was measured, beats a minute."),
        example: "56",
        mistaken_for: &["resting_heart_rate", "rest_hr", "hr_rest"],
        ..PLAIN
    },
    Field {
        key: "heart_rate_ceiling",
        sort: Sort::Number(legal::HEART_RATE),
        doc: entry!(
            "Above this heart rate the load is eased. None if left out: only the rider sets it."
        ),
        example: "170",
        mistaken_for: &["ceiling", "hr_ceiling"],
        ..PLAIN
    },
    Field {
        key: "pause_after",
        sort: Sort::ClockOr(legal::PAUSE_AFTER_SECONDS, NEVER),
        doc: entry!(
            "How long the pedals may stand still before the clock pauses, or `never`. Twenty seconds if left out."
        ),
        example: "\"0:20\"",
        mistaken_for: &["pause"],
        ..PLAIN
    },
    Field {
        key: "meter_led",
        sort: Sort::Flag,
        doc: entry!(
            "Whether the watts of a separate power meter are held rather than the trainer's own, by a slow correction of a tenth at most. `false` if left out."
        ),
        example: "true",
        mistaken_for: &["by_meter", "hold_by_meter"],
        ..PLAIN
    },
    Field {
        key: "chainrings",
        sort: Sort::Wholes(legal::CHAINRING, MOST_CHAINRINGS),
        doc: entry!(
            "Teeth of the chainrings of the bicycle on the trainer. With them and the sprockets the line about gears can count shifts."
        ),
        example: "[50, 34]",
        mistaken_for: &["chainring", "rings"],
        ..PLAIN
    },
    Field {
        key: "sprockets",
        sort: Sort::Wholes(legal::SPROCKET, MOST_SPROCKETS),
        doc: entry!("Teeth of the sprockets on the trainer, every one of them."),
        example: "[11, 12, 13, 14, 15, 17, 19, 21, 24, 28]",
        mistaken_for: &["cassette", "sprocket", "cogs"],
        ..PLAIN
    },
    Field {
        key: "effort_map",
        sort: Sort::Numbers(MAP_SHARE, 10),
        doc: entry!(
            "What the efforts 0 to 9 mean to this rider, as shares of threshold. The first is 0, and each is at least 0.01 above the one before. Common practice if left out."
        ),
        example: "[0.0, 0.2, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.02]",
        mistaken_for: &["map", "efforts"],
        ..PLAIN
    },
    Field {
        key: "confirmed",
        sort: Sort::Words(CONFIRMED),
        doc: entry!("Which figures somebody has checked; the others are shown with \"check me\"."),
        example: "[\"threshold\", \"power_cap\"]",
        ..PLAIN
    },
];

/// The JSON Schema of a rider file.
pub fn rider_schema() -> serde_json::Value {
    crate::toml_table::schema::schema("A Stillroad rider", FIELDS, RIDER)
}

/// The table of keys for the format's page, as Markdown.
pub fn rider_keys() -> String {
    crate::toml_table::page::keys(FIELDS, &[RIDER])
}
