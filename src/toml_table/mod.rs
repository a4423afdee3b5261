//! TOML written by hand: read against one table of fields, with every problem worded and placed.
//!
//! A format is a list of [`Field`]s. The same list reads a file ([`read_table`]), finds the nearest known key for an
//! unknown one, and makes the JSON Schema ([`schema`]) and the table of keys in the format's page ([`page`]), so that
//! these cannot drift apart.

mod clock;
mod document;
mod field;
pub mod page;
mod place;
mod problem;
pub mod schema;
mod value;
mod values;
mod wording;

pub use clock::{clock_from, time_of_day};
pub use document::{decode, parse};
pub use field::{Field, Place, Sort, fields_at};
pub use place::{ValuePlace, value_place};
pub use problem::{MOST_PROBLEMS, Problem, Problems, Severity};
pub use value::{Table, Value};
pub use values::{Values, read_table};
pub use wording::{a_capital, nearest, one_of, quoted};

/// The greatest size of a file, bytes.
pub const MOST_BYTES: usize = 256 * 1024;
