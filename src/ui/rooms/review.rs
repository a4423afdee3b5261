//! The Review room: rides by date, and one ride whole, as a strip with ink, in words, in blocks, in repeats, in curves.
//!
//! Every figure comes from [`crate::review`]; the room only lays it out. What is not known is a dash or is left out, and
//! what is missing is said. In effort-only mode watts appear here and nowhere else.

mod bars;
mod beside;
mod curve;
mod data;
mod draw;
mod layout;
mod over;
mod sets;
mod sheet;
mod strip;
mod tables;

pub use beside::MapShown;
pub use data::{Bar, Curve, Data, Line, Spark, Spread};
pub use draw::room_ui;

use std::sync::Arc;

use crate::plan::name_in_english;
use crate::review::over::compare::Comparison;
use crate::review::over::{Brief, Listing, Opened};
use crate::rider::EffortMap;

/// How one ride is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// What happened, in words.
    #[default]
    Story,
    /// Block by block.
    Blocks,
    /// Repeats side by side.
    Repeats,
    /// Best mean powers as a curve.
    Bests,
    /// Sprints and recoveries.
    Sprints,
    /// What was said and noted: how the day was, marks, remarks.
    Notes,
    /// Beside other rides: the same session before, weeks, the effort map learned.
    Over,
}

impl View {
    /// All, in order.
    pub const ALL: [Self; 7] = [
        Self::Story,
        Self::Blocks,
        Self::Repeats,
        Self::Bests,
        Self::Sprints,
        Self::Notes,
        Self::Over,
    ];

    /// Its name, as an entry.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Story => entry!("What happened"),
            Self::Blocks => entry!("Blocks"),
            Self::Repeats => entry!("Repeats"),
            Self::Bests => entry!("Best means"),
            Self::Sprints => entry!("Sprints, recoveries"),
            Self::Notes => entry!("Notes"),
            Self::Over => entry!("Over rides"),
        }
    }

    /// The one so many places on; it stays at the ends.
    #[must_use]
    pub fn walked(self, by: isize) -> Self {
        let place = Self::ALL.iter().position(|view| *view == self).unwrap_or(0);
        let place = place.saturating_add_signed(by).min(Self::ALL.len() - 1);
        Self::ALL[place]
    }
}

/// Something to be kept of the ride.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// The page to read and to print.
    Page,
    /// The strip as a drawing.
    Picture,
    /// The block table for a spreadsheet.
    Table,
}

/// What the rider wishes.
#[derive(Clone, Debug, PartialEq)]
pub enum Wish {
    /// Back to where the rider came from.
    Leave,
    /// Something kept of the ride of this folder.
    Keep(String, Keep),
    /// The next session of the ride that is open.
    Next,
    /// Text for the clipboard.
    Copy(String),
    /// The learned effort map, for the rider that is chosen in Prepare.
    Adopt(EffortMap),
}

/// What came of the last button.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said {
    /// The words; empty where there are none.
    pub words: String,
    /// Whether something went wrong.
    pub wrong: bool,
}

/// Rides of one session by their folders, side by side, or why they cannot be.
pub type SideBySide = (Vec<String>, Result<Arc<Comparison>, String>);

/// What the room keeps, in or out of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct State {
    /// The rides; none until they were read.
    pub listing: Option<Arc<Listing>>,
    /// Which of them is picked.
    pub picked: usize,
    /// The ride that was opened last. One at a time is kept.
    pub ride: Option<Arc<Opened>>,
    /// The folder that could not be opened, and why.
    pub trouble: Option<(String, String)>,
    /// The rides of one session side by side, with the folders that it is of; or why they cannot be.
    pub over: Option<SideBySide>,
    /// How it is looked at.
    pub view: View,
    /// What came of the last button.
    pub said: Said,
    /// The folder to be picked as soon as the rides are known.
    pub wanted: Option<String>,
}

impl State {
    /// Takes in the rides that there are. The one that was picked stays so.
    pub fn take_listing(&mut self, listing: Listing) {
        let wanted = self.wanted.take().or_else(|| self.picked_key());
        let place = |key: &String| listing.rides.iter().position(|ride| ride.key == *key);
        self.picked = wanted.as_ref().and_then(place).unwrap_or(0);
        self.listing = Some(Arc::new(listing));
    }

    /// The rides that are known.
    pub fn rides(&self) -> &[Brief] {
        self.listing.as_ref().map_or(&[], |listing| &listing.rides)
    }

    /// The folder of the ride that is picked.
    pub fn picked_key(&self) -> Option<String> {
        self.rides().get(self.picked).map(|ride| ride.key.clone())
    }

    /// The folder that is picked and not opened yet.
    pub fn to_open(&self) -> Option<String> {
        let key = self.picked_key()?;
        let known = self.ride.as_ref().is_some_and(|ride| ride.key == key)
            || self
                .trouble
                .as_ref()
                .is_some_and(|(known, _)| *known == key);
        (!known).then_some(key)
    }

    /// The ride that is picked, once it is open.
    pub fn opened(&self) -> Option<&Opened> {
        let key = &self.rides().get(self.picked)?.key;
        self.ride.as_deref().filter(|ride| ride.key == *key)
    }

    /// The picked ride and those of the same session and rider before it, as many as can be seen beside each other.
    pub fn alike(&self) -> Vec<String> {
        const MOST: usize = 4;
        let rides = self.rides().get(self.picked..).unwrap_or(&[]);
        let Some(picked) = rides.first() else {
            return Vec::new();
        };
        // In whichever language a built-in session was ridden.
        let session = name_in_english(&picked.session);
        let same = |ride: &&Brief| name_in_english(&ride.session) == session;
        let alike = rides
            .iter()
            .filter(|ride| same(ride) && ride.rider == picked.rider);
        alike.take(MOST).map(|ride| ride.key.clone()).collect()
    }

    /// The folders that are to be compared and are not yet.
    pub fn to_compare(&self) -> Option<Vec<String>> {
        if self.view != View::Over {
            return None;
        }
        let keys = self.alike();
        let known = self.over.as_ref().is_some_and(|(known, _)| *known == keys);
        (keys.len() > 1 && !known).then_some(keys)
    }

    /// Says what came of a button.
    pub fn say(&mut self, words: impl Into<String>, wrong: bool) {
        self.said = Said {
            words: words.into(),
            wrong,
        };
    }
}
