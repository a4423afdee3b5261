//! Where in a session a place of the text is: under which heading, beside which keys.

use std::ops::Range;

use crate::plan::fields::{BLOCK, CUE, INNER_SET, SESSION, SET};
use crate::toml_table::Place;

/// Blocks may stand in sets, and those in sets; no deeper.
pub const DEEPEST: usize = 3;

/// What is known of a place of the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Here {
    /// What the table is that it stands in: "a block".
    pub place: Place,
    /// How many blocks deep: 0 before the first heading, 1 under `[[block]]` or `[[block.cue]]`.
    pub depth: usize,
    /// The keys of this table on other lines.
    pub written: Vec<String>,
    /// The bytes of its line, without the line's end.
    pub line: Range<usize>,
}

/// The names of a heading, parted at its dots; nothing where the line is none.
fn heading(line: &str) -> Option<Vec<&str>> {
    let names = line.trim().strip_prefix('[')?;
    let names = names.trim_start_matches('[');
    let names = names.split(']').next().unwrap_or_default();
    Some(names.split('.').map(str::trim).collect())
}

/// The key of a line that gives one a value.
pub(super) fn key_of(line: &str) -> Option<&str> {
    let (key, _) = line.split_once('=')?;
    let key = key.trim();
    let plain = |letter: char| letter.is_alphanumeric() || matches!(letter, '_' | '-');
    (!key.is_empty() && key.chars().all(plain)).then_some(key)
}

/// Where a byte of the text is. A byte past the end, or inside a character, is moved back.
pub fn here(text: &str, at: usize) -> Here {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    let start = text[..at].rfind('\n').map_or(0, |end| end + 1);
    let end = text[at..].find('\n').map_or(text.len(), |more| at + more);
    let mut written = Vec::new();
    let mut names = Vec::new();
    // Upwards to the heading, then downwards to the next one.
    for line in text[..start].lines().rev() {
        if let Some(found) = heading(line) {
            names = found;
            break;
        }
        written.extend(key_of(line).map(str::to_owned));
    }
    written.reverse();
    for line in text[end..].lines().skip(1) {
        if heading(line).is_some() {
            break;
        }
        written.extend(key_of(line).map(str::to_owned));
    }
    let depth = names.iter().filter(|name| **name == "block").count();
    let repeats = written.iter().any(|key| key == "repeat");
    let place = match (names.last(), depth) {
        (None, _) | (_, 0) => SESSION,
        (Some(&"cue"), _) => CUE,
        (_, 1) if repeats => SET,
        (_, 2) if repeats => INNER_SET,
        _ => BLOCK,
    };
    Here {
        place,
        depth: depth.min(DEEPEST),
        written,
        line: start..end,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "format = 1\nname = \"a = b\"\n\n[[block]]\nrepeat = 3\n\n[[block.block]]\nkind = \"hold\"\n\ntime = \"1:00\"\n[[block.block.cue]]\nat = \"0:10\"\n";

    #[test]
    fn a_place_is_told_by_the_heading_above_and_the_keys_around() {
        for (piece, place, depth, written) in [
            ("format", SESSION, 0, vec!["name"]),
            ("repeat", SET, 1, vec![]),
            ("kind", BLOCK, 2, vec!["time"]),
            ("time", BLOCK, 2, vec!["kind"]),
            ("at = \"0", CUE, 2, vec![]),
        ] {
            // The set's own line is not among its keys while the cursor is on it; that it is one shows from below.
            let at = TEXT.find(piece).unwrap_or_default();
            let found = here(TEXT, at);
            let expected = if piece == "repeat" { BLOCK } else { place };
            assert_eq!((found.place, found.depth), (expected, depth), "{piece}");
            assert_eq!(found.written, written, "{piece}");
        }
        let under = TEXT.find("repeat = 3\n").unwrap_or_default() + "repeat = 3\n".len();
        assert_eq!(here(TEXT, under).place, SET);
    }

    #[test]
    fn any_byte_of_any_text_is_somewhere() {
        let text = "ä[[blo\n[[\n]]\n=é";
        for at in 0..40 {
            let found = here(text, at);
            assert!(found.line.end <= text.len());
        }
        assert_eq!(here("", 9).line, 0..0);
    }
}
