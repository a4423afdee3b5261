//! The session as it was written, where the one that was ridden was fitted to the day.

use serde::Serialize;

use super::words::{clock, plain};
use crate::plan::fit::left_out;
use crate::plan::{self, Block, Plan};
use crate::record::{FittedFrom, RideStart};
use crate::text::translated;

/// The written session beside the ridden one.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    plan: Plan,
    /// Which of its blocks, from 1, each ridden one is.
    blocks: Vec<u32>,
}

impl Written {
    /// From a recording; none where its text cannot be read or does not go with the session that was ridden.
    pub fn of(fitted: &FittedFrom, ridden: Option<&Plan>) -> Option<Self> {
        let plan = plan::read(&fitted.fitting.written).plan?;
        let blocks = fitted.fitting.blocks.clone();
        let known = |number: &u32| *number > 0 && *number as usize <= plan.blocks.len();
        let fits = blocks.len() == ridden?.blocks.len() && blocks.iter().all(known);
        fits.then_some(Self { plan, blocks })
    }

    /// The number, from 1, of the written block that the ridden one of this index is.
    pub fn number(&self, index: usize) -> Option<u32> {
        self.blocks.get(index).copied()
    }

    /// The written block itself.
    pub fn block(&self, index: usize) -> Option<&Block> {
        let number = usize::try_from(self.number(index)?).ok()?;
        self.plan.blocks.get(number.checked_sub(1)?)
    }
}

/// How the session was fitted to the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FittedResult {
    /// What was wished for, in words.
    pub wish: String,
    /// The length of the session as it was written, s; none where it cannot be read.
    pub written_s: Option<f64>,
    /// What was changed, a sentence each.
    pub changes: Vec<String>,
    /// The blocks that fell away: "Causeway 3 and 4 of 4".
    pub left_out: Vec<String>,
}

impl FittedResult {
    /// Of a recording; none where the session was ridden as it was written.
    pub fn of(start: &RideStart, written: Option<&Written>) -> Option<Self> {
        let fitted = start.fitted.as_ref()?;
        Some(Self {
            wish: fitted.fitting.wish.to_string(),
            written_s: written.map(|written| written.plan.length().seconds()),
            changes: fitted.changes.clone(),
            left_out: written
                .map_or_else(Vec::new, |written| left_out(&written.plan, &written.blocks)),
        })
    }

    /// In words, one paragraph.
    pub fn sentence(&self) -> String {
        let long = self.written_s.map_or_else(String::new, |written| {
            say!(
                "; it is {length} long as it was written",
                length = clock(written)
            )
        });
        let mut text = say!(
            "The session was fitted to the day ({wish}){long}.",
            wish = translated(&plain(&self.wish)),
            long
        );
        for change in &self.changes {
            text += &format!(" {}", translated(&plain(change)));
        }
        if !self.left_out.is_empty() {
            text += &say!(
                " Not ridden of it: {blocks}.",
                blocks = plain(&self.left_out.join("; "))
            );
        }
        text
    }
}
