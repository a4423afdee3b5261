//! What the next ride could try: plain, few, each from common practice and marked as such. Nothing here is medical.

use super::Review;
use super::blocks::BlockResult;
use super::repeats::SetResult;
use super::words::{change, plain};
use crate::plan::Kind;

/// So many suggestions at most.
const MOST: usize = 3;
/// A rating this far from the planned effort is worth a word.
pub(super) const RATED_OFF: f64 = 1.0;
/// Cadence that sags by so much from the first repeat to the last, rpm.
pub(super) const SAGS: f64 = 4.0;
/// A recovery this far above its lane, W and share.
const TOO_HARD_W: f64 = 10.0;
const TOO_HARD: f64 = 0.10;
/// An overshoot of this share of the lane.
const OVERSHOT: f64 = 0.10;

/// What was seen, and what is commonly done then.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Advice {
    pub(super) seen: String,
    pub(super) practice: &'static str,
}

impl Advice {
    /// Both, each a sentence of its own.
    pub(super) fn words(&self) -> String {
        format!("{} {}", self.seen, self.practice)
    }

    /// The same with another practice that follows from what was seen.
    pub(super) fn with(&self, practice: &'static str) -> Self {
        Self {
            seen: self.seen.clone(),
            practice,
        }
    }
}

/// A few suggestions; none where nothing asks for one.
pub fn suggestions(review: &Review) -> Vec<String> {
    let told = [
        rated(review),
        sagged(review),
        eased(review),
        overshot(review),
        recoveries(review),
    ];
    let told = told.into_iter().flatten().take(MOST);
    told.map(|advice| advice.words()).collect()
}

fn holds(review: &Review) -> impl Iterator<Item = &BlockResult> {
    let holds = review.blocks.iter();
    holds.filter(|block| block.kind == Kind::Hold && block.whole())
}

/// By how much the holds were rated above what was planned, mean; none where none was rated.
pub(super) fn rated_off(review: &Review) -> Option<f64> {
    let off = holds(review).filter_map(|block| Some(block.rating? - block.effort?));
    super::figures::mean(off)
}

/// What ratings well off the plan suggest.
pub(super) fn rated(review: &Review) -> Option<Advice> {
    let mean = rated_off(review)?;
    if mean >= RATED_OFF {
        Some(Advice {
            seen: say!(
                "Holds were rated {points} above what was planned.",
                points = change(Some(mean), 1).trim_start_matches('+')
            ),
            practice: word!("Common practice: take 2 to 4 % off their load next time."),
        })
    } else if mean <= -RATED_OFF {
        Some(Advice {
            seen: say!(
                "Holds were rated {points} below what was planned.",
                points = change(Some(mean), 1).trim_start_matches('−')
            ),
            practice: word!("Common practice: add 2 % to their load next time."),
        })
    } else {
        None
    }
}

/// The first set in which cadence sagged from the first repeat to the last, and by how much, rpm.
fn sagging(review: &Review) -> Option<(&SetResult, f64)> {
    let sets = review.sets.iter();
    let mut held = sets.filter(|set| set.kind == Kind::Hold && set.held);
    held.find_map(|set| {
        let sag = set
            .figure(entry!("cadence"))?
            .change
            .filter(|sag| *sag <= -SAGS)?;
        Some((set, sag))
    })
}

/// What a cadence that sags suggests.
fn sagged(review: &Review) -> Option<Advice> {
    let (set, sag) = sagging(review)?;
    Some(sags(&set.name, sag))
}

/// In words: by how much cadence moved over the repeats of a block, rpm, and what is commonly done then.
pub(super) fn sags(name: &str, sag: f64) -> Advice {
    Advice {
        seen: say!(
            "Cadence went {change} rpm from the first {name} to the last.",
            change = change(Some(sag), 0),
            name = plain(name)
        ),
        practice: word!("Common practice: one repeat less, or 2 to 4 % off, until it stays."),
    }
}

/// What a load that was made easier suggests.
pub(super) fn eased(review: &Review) -> Option<Advice> {
    let eased = review
        .blocks
        .iter()
        .filter(|block| block.helps.any())
        .count();
    (eased > 0).then(|| Advice {
        seen: word!("The load was made easier on the way.").to_owned(),
        practice: word!("Common practice: begin the same session a step lower, or cut one repeat."),
    })
}

fn overshot(review: &Review) -> Option<Advice> {
    let over = holds(review).find(|block| {
        let lane = block.fitted.mean_w.unwrap_or(f64::INFINITY);
        !block.held
            && block
                .overshoot_w
                .is_some_and(|over| over >= lane * OVERSHOT)
    })?;
    Some(Advice {
        seen: say!("{name} began above its lane.", name = plain(&over.title())),
        practice: word!("Common practice: build up over ten seconds, then hold."),
    })
}

fn recoveries(review: &Review) -> Option<Advice> {
    let hard = review.recoveries.iter().find(|one| {
        let block = review.blocks.iter().find(|block| block.block == one.block);
        let lane = block.and_then(|block| block.fitted.mean_w).unwrap_or(0.0);
        one.over_lane_w
            .is_some_and(|over| over > TOO_HARD_W.max(lane * TOO_HARD))
    })?;
    Some(Advice {
        seen: say!(
            "{name} was ridden above what was asked for today.",
            name = plain(&hard.name)
        ),
        practice: word!("Common practice: recoveries are ridden, and easily."),
    })
}
