//! A session's text while it is written: what it says so far, what is wrong with it, what may come next, and how it was
//! before. No window, no file, no clock.

mod complete;
pub mod draft;
mod editor;
mod here;
mod history;
mod in_language;
pub mod inks;
mod templates;

pub use complete::{Candidate, Completion, about, candidates};
pub use editor::{Editor, Origin};
pub use here::{Here, here};
pub use history::{History, MOST_KEPT, MOST_STEPS};
pub use templates::{TEMPLATES, Template};

/// The most bytes that a text may have: a session file of more would not be read.
pub const MOST_BYTES: usize = crate::toml_table::MOST_BYTES;

/// The byte at which a character of a text stands; its end for one past the last.
pub fn byte_of(text: &str, character: usize) -> usize {
    text.char_indices()
        .nth(character)
        .map_or(text.len(), |(at, _)| at)
}

/// The character that stands at a byte of a text. A byte inside a character counts as that character's.
pub fn character_of(text: &str, byte: usize) -> usize {
    text.char_indices()
        .take_while(|(at, letter)| at + letter.len_utf8() <= byte)
        .count()
}
