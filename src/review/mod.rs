//! The review of a ride: pure functions from a recording to what it tells.
//!
//! [`review`] reckons everything once; the words of the command line, its JSON, the table for a spreadsheet and the page
//! to print are all made from the same [`Review`]. What was not measured is none, never zero.

pub mod bests;
pub mod blocks;
pub mod chart;
pub mod csv_table;
pub mod figures;
pub mod fitted;
mod heading;
pub mod layers;
pub mod missing;
pub mod next;
pub mod over;
pub mod page;
pub mod picture;
pub mod raw;
pub mod recoveries;
pub mod repeats;
pub mod said;
pub mod series;
pub mod sprints;
pub mod strip;
pub mod suggest;
pub mod tables;
pub mod whole;
pub mod words;

use serde::Serialize;

use crate::plan::{self, Block, Plan};
use crate::record::{EventLine, InputLine, NoteLine, RideStart, Row, cell};
use crate::ride::RideMode;
use crate::rider::{self, Rider};

/// The version of the shape of the JSON. It goes up where a reader of an older shape could be misled; keys may be added
/// without.
pub const VERSION: u32 = 1;

/// A ride as it was recorded.
#[derive(Clone, Copy, Debug)]
pub struct Recording<'r> {
    /// What was known at the start.
    pub start: &'r RideStart,
    /// How it ended; none where the program was killed.
    pub finish: Option<&'r str>,
    /// The ridden seconds.
    pub rows: &'r [Row],
    /// What happened.
    pub events: &'r [EventLine],
    /// Ratings and remarks.
    pub notes: &'r [NoteLine],
    /// The raw inputs; empty where they are not at hand.
    pub raw: &'r [InputLine],
    /// What was wrong with the files, each in a sentence.
    pub problems: &'r [String],
}

/// What was asked for: the session and the rider as they were kept beside the ride.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The session as it was ridden; none where its text cannot be read.
    pub plan: Option<Plan>,
    /// The session as it was written, where that is another one; inside, none where it cannot be read.
    pub written: Option<Option<fitted::Written>>,
    /// The rider; none where their text cannot be read.
    pub rider: Option<Rider>,
}

impl Asked {
    /// From the texts of a recording.
    pub fn of(start: &RideStart) -> Self {
        // A first start has no rider's file; the cautious figures were used then.
        let rider = rider::read(&start.rider_text).0;
        // The figures that the ride used stand in its own file; they go before those of a text.
        let rider = rider.map(|rider| Rider {
            threshold: start.threshold,
            power_cap: start.power_cap,
            sprint_cap: start.sprint_cap,
            ..rider
        });
        let plan = plan::read(&start.session_text).plan;
        let written = start.fitted.as_ref();
        Self {
            written: written.map(|fitted| fitted::Written::of(fitted, plan.as_ref())),
            plan,
            rider,
        }
    }

    /// What was written for the block of this index of the session ridden.
    pub fn written_block(&self, index: usize) -> Option<&Block> {
        match &self.written {
            Some(written) => written.as_ref()?.block(index),
            None => self.plan.as_ref()?.blocks.get(index),
        }
    }
}

/// The review of one ride.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Review {
    /// The session's name.
    pub session: String,
    /// The moment of the start, RFC 3339, UTC.
    pub started: String,
    /// The rider's name.
    pub rider: String,
    /// Who set the load at the start.
    pub mode: RideMode,
    /// Threshold power on the day, W.
    pub threshold_w: f64,
    /// Whether any device was a model and no machine.
    pub simulated: bool,
    /// How the session was fitted to the day; none where it was ridden as it was written.
    pub fitted: Option<fitted::FittedResult>,
    /// The whole ride.
    pub ride: whole::Whole,
    /// Each block as it was ridden.
    pub blocks: Vec<blocks::BlockResult>,
    /// The repeats of each set side by side.
    pub sets: Vec<repeats::SetResult>,
    /// The sprints.
    pub sprints: sprints::Sprints,
    /// The recoveries.
    pub recoveries: Vec<recoveries::RecoveryResult>,
    /// What was said and noted: marks, remarks, how the day was.
    pub said: said::Said,
    /// What is missing or was wrong, in sentences.
    pub missing: Vec<String>,
}

/// Reviews a ride.
pub fn review(recording: &Recording<'_>) -> Review {
    let asked = Asked::of(recording.start);
    let reports = raw::reports(recording.raw, recording.events, recording.start);
    let blocks = blocks::blocks(recording, &asked);
    let whole = whole::whole(recording, &asked, &blocks);
    let sprints = sprints::sprints(recording, &reports, &blocks);
    let said = said::said(recording, &blocks);
    let mut missing = missing::missing(recording, &asked, &whole, &sprints);
    missing.extend(said::unreadable(&said));
    let start = recording.start;
    Review {
        session: start.session.clone(),
        started: cell::write_time(start.utc_ms),
        rider: start.rider.clone(),
        mode: start.mode,
        threshold_w: start.threshold.0,
        simulated: start.devices.iter().any(|device| device.3),
        fitted: fitted::FittedResult::of(start, asked.written.as_ref().and_then(Option::as_ref)),
        sets: repeats::sets(&blocks),
        recoveries: recoveries::recoveries(recording.rows, &blocks),
        sprints,
        said,
        ride: whole,
        blocks,
        missing,
    }
}
