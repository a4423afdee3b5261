//! The holds of a session as they are written, each with what was ridden of it, and a step up or down of one.

use super::Wish;
use super::ground::Ground;
use crate::plan::edit::{Edit, Spot};
use crate::plan::{Block, Kind, Load, Plan, Target, words};
use crate::review::Review;
use crate::review::blocks::BlockResult;
use crate::review::figures::mean;
use crate::review::suggest::Advice;

/// One step, in effort: where the brake holds watts, up and down, and where the rider finds the load (common practice, no
/// source; at effort 7 these are about 2, 3 and 5 % of the load).
const EFFORT_UP: f64 = 0.2;
const EFFORT_DOWN: f64 = 0.3;
const EFFORT_FELT: f64 = 0.5;
/// One step of shares of threshold and of watts, up and down (common practice, no source).
const SHARE_UP: f64 = 0.02;
const SHARE_DOWN: f64 = 0.03;
/// A hold is not brought below this effort, or a third of threshold: it would be a recovery.
const LEAST_EFFORT: f64 = 3.0;
const LEAST_SHARE: f64 = 0.33;
/// A set keeps so many repeats at least.
const LEAST_REPEATS: u32 = 2;
/// One repeat more is of a set with so many at least: of two it would be half as much again (common practice, no source).
const LEAST_FOR_MORE: u32 = 3;

/// A hold as it is written, with every time that it was ridden.
pub(super) struct Hold<'r> {
    pub block: &'r Block,
    pub spot: Spot,
    pub ridden: Vec<&'r BlockResult>,
}

/// The written block that was ridden, with its place; none where nobody knows it.
pub(super) fn of_written<'w, 's>(
    result: &BlockResult,
    written: &'w Plan,
    spots: &'s [Spot],
    fitted: bool,
) -> Option<(&'w Block, &'s Spot)> {
    let number = if fitted {
        result.written_block?
    } else {
        result.block
    };
    let index = usize::try_from(number).ok()?.checked_sub(1)?;
    Some((written.blocks.get(index)?, spots.get(index)?))
}

/// The holds of a session, in the order in which they are first ridden.
pub(super) fn holds<'r>(
    review: &'r Review,
    written: &'r Plan,
    spots: &[Spot],
    fitted: bool,
) -> Vec<Hold<'r>> {
    let mut holds: Vec<Hold<'r>> = Vec::new();
    for result in &review.blocks {
        let Some((block, spot)) = of_written(result, written, spots, fitted) else {
            continue;
        };
        if block.kind != Kind::Hold || !result.whole() {
            continue;
        }
        match holds.iter_mut().find(|hold| hold.spot == *spot) {
            Some(hold) => hold.ridden.push(result),
            None => holds.push(Hold {
                block,
                spot: spot.clone(),
                ridden: vec![result],
            }),
        }
    }
    holds
}

impl Hold<'_> {
    /// By how much it was rated above what was planned, mean; none where it was not rated.
    pub(super) fn rated_off(&self) -> Option<f64> {
        let ridden = self.ridden.iter();
        mean(ridden.filter_map(|block| Some(block.rating? - block.effort?)))
    }

    /// The set that it stands in, where that can be ridden once more or less: at the top, of holds and recoveries alone.
    fn set(&self, ground: &Ground<'_>) -> Option<(Vec<usize>, u32)> {
        let repeats = self.spot.repeats?;
        let (_, set) = self.spot.place.split_last()?;
        (set.len() == 1 && ground.is_plain_set(set)).then(|| (set.to_vec(), repeats))
    }

    /// From its first repeat to its last, by a figure of each; none where it stands in no set, or either is not known. Only
    /// what is written in one place is compared, so that nothing is read into sets that happen to have the same name.
    pub(super) fn moved_over_repeats(
        &self,
        figure: impl Fn(&BlockResult) -> Option<f64>,
    ) -> Option<(f64, f64)> {
        self.spot.repeats?;
        match self.ridden.as_slice() {
            [first, .., last] => figure(first).zip(figure(last)),
            _ => None,
        }
    }

    fn repeats(&self, ground: &Ground<'_>, more: bool, why: &Advice) -> Option<Wish> {
        let (place, repeats) = self.set(ground)?;
        let now = if more {
            repeats.checked_add(1).filter(|now| *now > LEAST_FOR_MORE)
        } else {
            repeats.checked_sub(1).filter(|now| *now >= LEAST_REPEATS)
        };
        Some(Wish {
            place,
            edit: Edit::Repeats(now?),
            block: say!("The set of {name}", name = &self.block.name),
            was: format!("{repeats}"),
            why: why.words(),
        })
    }

    /// One repeat less of its set.
    pub(super) fn fewer(&self, ground: &Ground<'_>, why: &Advice) -> Option<Wish> {
        self.repeats(ground, false, why)
    }

    /// One repeat more of its set; none where it has too few for that to be a small step.
    pub(super) fn once_more(&self, ground: &Ground<'_>, why: &Advice) -> Option<Wish> {
        self.repeats(ground, true, why)
    }

    /// A step less of its load; none where it has no load that can be less, or is as easy as a hold can be.
    pub(super) fn lower(&self, ground: &Ground<'_>, why: &Advice) -> Option<Wish> {
        let less = word!("Common practice: half an effort less, until it is held.");
        let why = self.felt(ground, why, less);
        self.moved(&why, |load| down(load, ground.by_effort))
    }

    /// A step more of its load; none where it has no load that can be more.
    pub(super) fn higher(&self, ground: &Ground<'_>, why: &Advice) -> Option<Wish> {
        let more = word!("Common practice: half an effort more.");
        let why = self.felt(ground, why, more);
        self.moved(&why, |load| up(load, ground.by_effort))
    }

    /// The rule as it reads where the rider finds an effort: its steps are half an effort and no per cent.
    fn felt(&self, ground: &Ground<'_>, why: &Advice, step: &'static str) -> Advice {
        let effort = matches!(self.block.target.greatest(), Some(Load::Effort(_)));
        if ground.by_effort && effort {
            why.with(step)
        } else {
            why.clone()
        }
    }

    fn moved(&self, why: &Advice, step: impl Fn(Load) -> Option<Load>) -> Option<Wish> {
        let target = match self.block.target {
            Target::Steady(load) => Target::Steady(step(load)?),
            Target::Line(from, to) => Target::Line(step(from)?, step(to)?),
            Target::None => return None,
        };
        Some(Wish {
            place: self.spot.place.clone(),
            edit: Edit::Target(target),
            block: self.block.name.clone(),
            was: words::target(self.block.target),
            why: why.words(),
        })
    }
}

/// To so many steps of one, without the dust of binary fractions.
fn rounded(value: f64, steps: f64) -> f64 {
    (value * steps).round() / steps
}

fn up(load: Load, by_effort: bool) -> Option<Load> {
    let value = load.value();
    let more = match load {
        Load::Effort(_) => {
            let step = if by_effort { EFFORT_FELT } else { EFFORT_UP };
            rounded(value + step, 10.0)
        }
        Load::Threshold(_) => {
            rounded(value * (1.0 + SHARE_UP), 100.0).max(rounded(value + 0.01, 100.0))
        }
        Load::Power(_) => rounded(value * (1.0 + SHARE_UP), 1.0).max(rounded(value + 1.0, 1.0)),
        // The rider makes the watts against it: there is no knowing what a step comes to.
        Load::Level(_) | Load::Slope(_) => return None,
    };
    (more > value).then(|| load.with_value(more))
}

fn down(load: Load, by_effort: bool) -> Option<Load> {
    let value = load.value();
    let (less, least) = match load {
        Load::Effort(_) => {
            let step = if by_effort { EFFORT_FELT } else { EFFORT_DOWN };
            (rounded(value - step, 10.0), LEAST_EFFORT)
        }
        Load::Threshold(_) => {
            let less = rounded(value * (1.0 - SHARE_DOWN), 100.0);
            (less.min(rounded(value - 0.01, 100.0)), LEAST_SHARE)
        }
        Load::Power(_) => {
            let less = rounded(value * (1.0 - SHARE_DOWN), 1.0);
            (less.min(rounded(value - 1.0, 1.0)), 1.0)
        }
        Load::Level(_) | Load::Slope(_) => return None,
    };
    (less < value && less >= least).then(|| load.with_value(less))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::units::{Effort, Fraction, Grade, Watts};

    #[test]
    fn a_step_is_small_and_as_a_hand_would_write_it() {
        let effort = |value| Load::Effort(Effort(value));
        let share = |value| Load::Threshold(Fraction(value));
        let watts = |value| Load::Power(Watts(value));
        // By hand: 0.2 and 0.3 of effort, 2 and 3 % of 0.88 are 0.8976 and 0.8536, of 250 W 255 and 242.5.
        for (load, more, less) in [
            (effort(7.5), effort(7.7), effort(7.2)),
            (share(0.88), share(0.9), share(0.85)),
            (watts(250.0), watts(255.0), watts(243.0)),
            (watts(20.0), watts(21.0), watts(19.0)),
        ] {
            assert_eq!(up(load, false), Some(more));
            assert_eq!(down(load, false), Some(less));
        }
        assert_eq!(up(effort(7.0), true), Some(effort(7.5)));
        assert_eq!(down(effort(7.0), true), Some(effort(6.5)));
        assert_eq!(down(effort(3.2), false), None, "that would be a recovery");
        for load in [Load::Level(Fraction(0.3)), Load::Slope(Grade(4.0))] {
            assert_eq!((up(load, false), down(load, true)), (None, None));
        }
    }
}
