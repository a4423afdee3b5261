//! What a proposal stands on, and when that is too little.

use super::holds::{Hold, holds, of_written};
use super::nothing;
use crate::plan::edit::{Spot, spots};
use crate::plan::{Block, Kind, Plan};
use crate::record::RideStart;
use crate::review::blocks::BlockResult;
use crate::review::{Asked, Review};
use crate::ride::RideMode;
use crate::rider::Rider;

/// A recording that lacks more than this share of its lines tells too little (own choice).
const LACKING: f64 = 0.05;

/// What is known of a ride that tells enough.
pub(super) struct Ground<'r> {
    pub review: &'r Review,
    /// The session as it was written.
    pub written: &'r Plan,
    /// Where each of its blocks is written.
    pub spots: Vec<Spot>,
    /// The rider as they were on the day.
    pub rider: &'r Rider,
    /// Its holds with what was ridden of them.
    pub holds: Vec<Hold<'r>>,
    /// Whether the load was the rider's to find, in every hold: held watts keep the rules of watts.
    pub by_effort: bool,
    fitted: bool,
}

impl<'r> Ground<'r> {
    /// The ground of a ride, or why it is none.
    pub(super) fn of(
        start: &RideStart,
        review: &'r Review,
        asked: &'r Asked,
        written: Option<&'r Plan>,
    ) -> Result<Self, String> {
        let because = |why: &str| Err(nothing(why));
        if review.ride.ridden_s == 0 {
            return because(word!("No second of the ride was kept."));
        }
        let (Some(written), Some(ridden)) = (written, &asked.plan) else {
            return because(word!(
                "The session's own file cannot be read, so no copy of it can be made."
            ));
        };
        if asked.written == Some(None) {
            return because(word!(
                "The session as it was written does not go with the one that was ridden."
            ));
        }
        let Some(rider) = &asked.rider else {
            return because(word!(
                "The rider's own file cannot be read, so nobody knows what a change would come to."
            ));
        };
        if review.simulated {
            return because(word!(
                "This was ridden with practice devices, which say nothing of your legs."
            ));
        }
        if written.test.is_some() {
            return because(word!(
                "A threshold test is ridden the same each time, or its results could not be compared."
            ));
        }
        let lacking = review.ride.missing_rows as f64 / review.ride.ridden_s as f64;
        if lacking > LACKING {
            return because(word!("Too much is missing in the recording."));
        }
        let mut work = ridden
            .blocks
            .iter()
            .enumerate()
            .filter(|(_, block)| block.kind.is_work())
            .peekable();
        if work.peek().is_none() {
            return because(word!("The session has no work that could be more or less."));
        }
        let whole = |index: usize| {
            let mut blocks = review.blocks.iter();
            blocks.any(|block| block.block as usize == index + 1 && block.whole())
        };
        if let Some((_, first)) = work.find(|(index, _)| !whole(*index)) {
            let why = say!(
                "Not all of the work was ridden whole ({block} was not), so the ride does not tell how the session would have gone.",
                block = crate::review::words::plain(&first.name_with_repeat())
            );
            return because(&why);
        }
        let spots = spots(written);
        let fitted = start.fitted.is_some();
        let holds = holds(review, written, &spots, fitted);
        let mut ridden = holds.iter().flat_map(|hold| &hold.ridden);
        let by_effort = if holds.is_empty() {
            review.mode == RideMode::EffortOnly
        } else {
            ridden.all(|block| block.mode == RideMode::EffortOnly)
        };
        let power = review.ride.power.seconds;
        if !by_effort && 2 * power < review.ride.ridden_s {
            return because(word!("Power was not measured for most of the ride."));
        }
        Ok(Self {
            review,
            written,
            spots,
            rider,
            holds,
            by_effort,
            fitted,
        })
    }

    /// The written block that was ridden, with its place.
    pub(super) fn of_written(&self, result: &BlockResult) -> Option<(&Block, &Spot)> {
        of_written(result, self.written, &self.spots, self.fitted)
    }

    /// Whether a set is of holds and recoveries alone, so that one repeat more or less of it is work and its rest.
    pub(super) fn is_plain_set(&self, set: &[usize]) -> bool {
        let blocks = self.written.blocks.iter().zip(&self.spots);
        let mut inside = blocks.filter(|(_, spot)| spot.place.starts_with(set));
        inside.all(|(block, _)| matches!(block.kind, Kind::Hold | Kind::Recovery))
    }
}
