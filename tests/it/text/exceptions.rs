//! Words in the sources that no reader is to have in their language, and why.

/// A file or folder, and those of its literals that are meant: all of them where none is named, by their
/// beginning.
pub struct Exception {
    pub file: &'static str,
    pub only: &'static [&'static str],
    pub why: &'static str,
}

const fn all(file: &'static str, why: &'static str) -> Exception {
    Exception {
        file,
        only: &[],
        why,
    }
}

const fn only(file: &'static str, only: &'static [&'static str], why: &'static str) -> Exception {
    Exception { file, only, why }
}

const COMPARED: &str = "compared, and drawn elsewhere";
const PAGES: &str = "makes the documents and schemas, which are English";
const EXAMPLE: &str = "an example in the documents and schemas";
const OPTIONS: &str = "becomes a part of what clap says of a mistake";
const STYLE: &str = "how a page looks";
const NAME: &str = "a name inside the program";

pub const EXCEPTIONS: &[Exception] = &[
    all("src/gatt/", "the standard's own names"),
    all("src/record/cell.rs", PAGES),
    all("src/record/columns.rs", PAGES),
    all("src/record/lines.rs", PAGES),
    all(
        "src/record/package.rs",
        "a data package is read by programs",
    ),
    all("src/record/table.rs", PAGES),
    all("src/toml_table/page.rs", PAGES),
    all(
        "src/toml_table/document.rs",
        "what the library of TOML says, to be told from one another",
    ),
    all("src/plan/format.rs", PAGES),
    all("src/ui/keys/page.rs", PAGES),
    all("src/ui/settings/fields.rs", PAGES),
    all("src/ui/theme.rs", "names of contrasts, for tests"),
    all("src/cli/language.rs", OPTIONS),
    only(
        "src/device/radio/failure.rs",
        &[
            "Read not permitted",
            "Write not permitted",
            "Invalid offset",
            "Invalid Length",
            "Not connected",
            "disconnected from message bus without replying",
            "Not paired",
            "Not Paired",
            "ATT error: 0x",
            "Failed to connect to socket",
            "already in progress",
            "Connection is closed",
        ],
        "what the system says, to be told from one another",
    ),
    only(
        "src/plan/fields.rs",
        &[
            "\"Harbour road repeats\"",
            "\"Steady work just under threshold, four times.\"",
            "\"The lamp keeper\"",
            "\"Up to the lamp\"",
            "\"Lamp keeper\"",
            "\"{left} to go, then {next.time} at {next.effort}.\"",
        ],
        EXAMPLE,
    ),
    only(
        "src/rider/fields.rs",
        &["\"Lamp keeper\"", "A Stillroad rider"],
        EXAMPLE,
    ),
    only(
        "src/plan/fit.rs",
        &["# Fitted to the day from", "{FITTED_FROM} "],
        "a comment in a session file that is looked for again",
    ),
    only(
        "src/store/ride_list.rs",
        &["stillroad rides 2"],
        "the head of a file",
    ),
    only(
        "src/sound/voice.rs",
        &[
            "Umdrehungen pro Minute",
            "Schläge pro Minute",
            "Kilometer pro Stunde",
        ],
        "how the German voice says a unit",
    ),
    only("src/sound/voice.rs", &["voice's words"], NAME),
    only("src/app/left_open.rs", &["left open"], NAME),
    only("src/ui/fonts.rs", &["scripts with a font"], NAME),
    only("src/ui/rooms/write/text.rs", &["session text"], NAME),
    only(
        "src/review/strip.rs",
        &["ink above", "ink below"],
        "classes of a drawing",
    ),
    only("src/ui/keys.rs", &["by hand"], COMPARED),
    only(
        "src/ui/rooms/ride/draw.rs",
        &["below the band", "above the band"],
        COMPARED,
    ),
    only(
        "src/ui/rooms/ride/say.rs",
        &["stand still", "built up"],
        COMPARED,
    ),
    only("src/ui/widgets/figure.rs", &["Heart rate"], COMPARED),
    only(
        "src/cli/fit.rs",
        &["a longer warm-up is a whole number of minutes, as +5"],
        OPTIONS,
    ),
    only(
        "src/cli/ride/options.rs",
        &[
            "a pace is real, max, or a whole number from 1 to 100",
            "write the minute, as 12, or minutes and seconds, as 12:30",
        ],
        OPTIONS,
    ),
    only("src/lead/sheet.rs", &["\n@page {"], STYLE),
    only("src/review/over/class_sheet.rs", &["\n@page {"], STYLE),
    only("src/review/page.rs", &["\n@page {"], STYLE),
    only("src/review/picture.rs", &["text { font-family"], STYLE),
];

/// Entries that are the same in both languages, rightly.
pub const THE_SAME: &[&str] = &[];
