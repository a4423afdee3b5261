//! The sessions that come with the program, in each of its languages.

use crate::text::{self, Language};

/// A built-in session: its file's stem, which is the same in every language, and its text.
type BuiltIn = (&'static str, &'static str);

/// The session of a file in the folder of a language.
macro_rules! session {
    ($folder:literal, $stem:literal) => {
        (
            $stem,
            include_str!(concat!("../../sessions/", $folder, $stem, ".toml")),
        )
    };
}

/// All sessions of a language. First rides come first, tests last.
macro_rules! sessions {
    ($folder:literal) => {
        &[
            session!($folder, "first-ride"),
            session!($folder, "second-week"),
            session!($folder, "short-day"),
            session!($folder, "recovery-spin"),
            session!($folder, "cadence-stairs"),
            session!($folder, "steady-repeats"),
            session!($folder, "ladder"),
            session!($folder, "around-threshold"),
            session!($folder, "slow-climbs"),
            session!($folder, "long-endurance"),
            session!($folder, "hard-sprints"),
            session!($folder, "group-ride"),
            session!($folder, "step-test"),
            session!($folder, "three-minutes"),
        ]
    };
}

const ENGLISH: &[BuiltIn] = sessions!("");
const GERMAN: &[BuiltIn] = sessions!("german/");

/// Each built-in session in the language of whoever asks: its file's stem, and its text.
pub fn builtin() -> &'static [BuiltIn] {
    builtin_in(text::language())
}

/// Each built-in session in a language.
pub const fn builtin_in(language: Language) -> &'static [BuiltIn] {
    match language {
        Language::English => ENGLISH,
        Language::German => GERMAN,
    }
}

/// Whether this is the text of the built-in session of this stem, in whatever language.
pub fn is_builtin(stem: &str, text: &str) -> bool {
    Language::ALL
        .into_iter()
        .any(|language| builtin_in(language).contains(&(stem, text)))
}

/// The name by which a session is remembered and compared: what a built-in session is called in English where this is its
/// name in another language, so that its rides stay those of one session. Any other name is its own.
pub fn name_in_english(name: &str) -> &str {
    twins(name)
        .and_then(|(_, english)| names(english).next())
        .unwrap_or(name)
}

/// The name by which a block of the session of this name is compared, in the same way.
pub fn block_in_english<'n>(session: &str, block: &'n str) -> &'n str {
    // Twins name the same blocks in the same order, after the session itself.
    twins(session)
        .and_then(|(german, english)| {
            let mut blocks = names(german).zip(names(english)).skip(1);
            blocks.find(|(german, _)| *german == block)
        })
        .map_or(block, |(_, english)| english)
}

/// The texts of the built-in session that has this name in another language than English: that one, and the English.
fn twins(name: &str) -> Option<(&'static str, &'static str)> {
    let mut pairs = GERMAN.iter().zip(ENGLISH);
    let known = pairs.find(|((_, german), _)| names(german).next() == Some(name));
    known.map(|((_, german), (_, english))| (*german, *english))
}

/// The names in a built-in session's text, its own first: found without reading the whole of it.
fn names(text: &'static str) -> impl Iterator<Item = &'static str> {
    let name = |line: &'static str| line.strip_prefix("name = \"")?.strip_suffix('"');
    text.lines().filter_map(name)
}
