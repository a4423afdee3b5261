//! Sessions: from a file's text to a [`Plan`] and every problem in it with its line.

mod block;
mod builtin;
mod cue;
pub mod edit;
pub mod fields;
pub mod fit;
mod format;
mod literal;
mod model;
mod read;
mod timing;
mod unroll;
mod warn;
pub mod words;
mod write;

pub use crate::toml_table::{Problem, Severity};
pub use builtin::{block_in_english, builtin, builtin_in, is_builtin, name_in_english};
pub use cue::{FIELD_DOCS, Figures, fill, written};
pub use format::{session_keys, session_schema};
pub use model::*;
pub use read::{Reading, read, read_bytes};
pub use timing::{Moment, TimedCue, Timing};
pub use warn::speaking_time;
