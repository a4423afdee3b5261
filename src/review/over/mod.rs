//! Over rides: what compares one ride with others.

pub mod brief;
pub mod class_sheet;
pub mod compare;
pub mod compare_tables;
pub mod critical_power;
pub mod learned;
pub mod weeks;

pub use brief::Brief;

use super::Review;
use super::chart::Chart;
use super::next::Next;

/// Everything that can be chosen to be looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Listing {
    /// The rides, the newest first.
    pub rides: Vec<Brief>,
    /// What could not be read, a sentence each.
    pub troubles: Vec<String>,
}

/// One ride, opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// The name of its folder.
    pub key: String,
    /// What it tells.
    pub review: Review,
    /// Its strip.
    pub chart: Chart,
    /// The next session that it proposes, or why none.
    pub next: Next,
}
