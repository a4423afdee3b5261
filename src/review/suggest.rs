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

/// A few suggestions; none where nothing asks for one.
pub fn suggestions(review: &Review) -> Vec<String> {
    let told = [
        rated(review),
        sagged(review),
        eased(review),
        overshot(review),
        recoveries(review),
    ];
    told.into_iter().flatten().take(MOST).collect()
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
pub(super) fn rated(review: &Review) -> Option<String> {
    let mean = rated_off(review)?;
    if mean >= RATED_OFF {
        Some(format!(
            "Holds were rated {} above what was planned. Common practice: take 2 to 4 % off their load next time.",
            change(Some(mean), 1).trim_start_matches('+')
        ))
    } else if mean <= -RATED_OFF {
        Some(format!(
            "Holds were rated {} below what was planned. Common practice: add 2 % to their load next time.",
            change(Some(mean), 1).trim_start_matches('−')
        ))
    } else {
        None
    }
}

/// The first set in which cadence sagged from the first repeat to the last, and by how much, rpm.
fn sagging(review: &Review) -> Option<(&SetResult, f64)> {
    let sets = review.sets.iter();
    let mut held = sets.filter(|set| set.kind == Kind::Hold && set.held);
    held.find_map(|set| {
        let sag = set.figure("cadence")?.change.filter(|sag| *sag <= -SAGS)?;
        Some((set, sag))
    })
}

/// What a cadence that sags suggests.
fn sagged(review: &Review) -> Option<String> {
    let (set, sag) = sagging(review)?;
    Some(sags(&set.name, sag))
}

/// In words: by how much cadence moved over the repeats of a block, rpm, and what is commonly done then.
pub(super) fn sags(name: &str, sag: f64) -> String {
    format!(
        "Cadence went {} rpm from the first {} to the last. Common practice: one repeat less, or 2 to 4 % off, until it \
         stays.",
        change(Some(sag), 0),
        plain(name)
    )
}

/// What a load that was made easier suggests.
pub(super) fn eased(review: &Review) -> Option<String> {
    let eased = review
        .blocks
        .iter()
        .filter(|block| block.helps.any())
        .count();
    (eased > 0).then(|| {
        "The load was made easier on the way. Common practice: begin the same session a step lower, or cut one repeat."
            .to_owned()
    })
}

fn overshot(review: &Review) -> Option<String> {
    let over = holds(review).find(|block| {
        let lane = block.fitted.mean_w.unwrap_or(f64::INFINITY);
        !block.held
            && block
                .overshoot_w
                .is_some_and(|over| over >= lane * OVERSHOT)
    })?;
    Some(format!(
        "{} began above its lane. Common practice: build up over ten seconds, then hold.",
        plain(&over.title())
    ))
}

fn recoveries(review: &Review) -> Option<String> {
    let hard = review.recoveries.iter().find(|one| {
        let block = review.blocks.iter().find(|block| block.block == one.block);
        let lane = block.and_then(|block| block.fitted.mean_w).unwrap_or(0.0);
        one.over_lane_w
            .is_some_and(|over| over > TOO_HARD_W.max(lane * TOO_HARD))
    })?;
    Some(format!(
        "{} was ridden above what was asked for today. Common practice: recoveries are ridden, and easily.",
        plain(&hard.name)
    ))
}
