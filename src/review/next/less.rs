//! The rules by which the next session asks for less, or gives more rest. Common practice all of them, no source.

use super::Wish;
use super::ground::Ground;
use super::holds::Hold;
use crate::plan::edit::{Edit, Place, Spot};
use crate::plan::{Block, Kind};
use crate::review::blocks::BlockResult;
use crate::review::figures::mean;
use crate::review::suggest::{Advice, RATED_OFF, SAGS, eased, rated, sags};
use crate::review::words::{number, plain};
use crate::ride::RideMode;
use crate::time::Span;

/// A hold whose watts the rider makes was not held where its power lies further under its lane than this share.
const NOT_HELD: f64 = 0.09;
/// Power faded over a set whose watts the rider makes where the last repeat has less than the first by this share.
const FADED: f64 = 0.05;
/// Sprints faded where the last has less than the first by this share.
const SPRINTS_FADED: f64 = 0.10;
/// A recovery becomes so much longer, and never longer than the most.
const LONGER: Span = Span::from_seconds(30);
const LONGEST: Span = Span::from_seconds(600);

/// Strain that a ride shows. It speaks against more whether or not anything can be changed.
pub(super) struct Strain {
    /// What was seen, and what is commonly done then.
    pub seen: Advice,
    /// The hold that it is of; none where a rest would mend it.
    hold: Option<Place>,
    /// The change that mends it; none where one value of the text cannot.
    wish: Option<Wish>,
}

impl Strain {
    fn of(hold: &Hold<'_>, seen: Advice, wish: Option<Wish>) -> Self {
        Self {
            seen,
            hold: Some(hold.spot.place.clone()),
            wish,
        }
    }

    /// Strain after which the rest around a block becomes longer.
    fn of_rest(ground: &Ground<'_>, spot: &Spot, seen: Advice) -> Self {
        Self {
            wish: longer(ground, spot, &seen),
            seen,
            hold: None,
        }
    }
}

/// The strain that a ride shows, the weightiest first.
pub(super) fn strains(ground: &Ground<'_>) -> Vec<Strain> {
    let all = [
        rated_high(ground),
        made_easier(ground),
        cadence_sagged(ground),
        not_held(ground),
        power_faded(ground),
        sprints_faded(ground),
    ];
    all.into_iter().flatten().collect()
}

/// What could be changed for it, the weightiest first.
pub(super) fn wishes(strains: &[Strain]) -> Vec<Wish> {
    let mut wishes: Vec<Wish> = Vec::new();
    for strain in strains {
        let Some(wish) = &strain.wish else {
            continue;
        };
        // A hold is made less of once, by its own load or by the repeats of its set, and a rest longer once.
        let known = wishes.iter().any(|other| match &strain.hold {
            Some(hold) => hold.starts_with(&other.place) || other.place.starts_with(&wish.place),
            None => other.place == wish.place,
        });
        if !known {
            wishes.push(wish.clone());
        }
    }
    wishes
}

/// Holds that were rated well above what was planned: a step less for those that were, the furthest off first.
fn rated_high(ground: &Ground<'_>) -> Vec<Strain> {
    let mean = crate::review::suggest::rated_off(ground.review);
    let (Some(why), true) = (
        rated(ground.review),
        mean.is_some_and(|off| off >= RATED_OFF),
    ) else {
        return Vec::new();
    };
    let mut off: Vec<(f64, &Hold<'_>)> = ground
        .holds
        .iter()
        .filter_map(|hold| Some((hold.rated_off()?, hold)))
        .filter(|(off, _)| *off >= RATED_OFF)
        .collect();
    off.sort_by(|(one, _), (other, _)| other.total_cmp(one));
    off.into_iter()
        .map(|(_, hold)| Strain::of(hold, why.clone(), hold.lower(ground, &why)))
        .collect()
}

/// A load that was made easier on the way: a repeat less where that came late in a set, else a step less.
fn made_easier(ground: &Ground<'_>) -> Vec<Strain> {
    let Some(why) = eased(ground.review) else {
        return Vec::new();
    };
    let strains = ground.holds.iter().filter_map(|hold| {
        let mut eased = hold
            .ridden
            .iter()
            .filter(|block| block.helps.any())
            .peekable();
        eased.peek()?;
        let late = |block: &&BlockResult| {
            let place = block.repeat.zip(block.of);
            place.is_some_and(|(repeat, of)| 2 * repeat > of)
        };
        let fewer = if eased.all(late) {
            hold.fewer(ground, &why)
        } else {
            None
        };
        let wish = fewer.or_else(|| hold.lower(ground, &why));
        Some(Strain::of(hold, why.clone(), wish))
    });
    strains.collect()
}

/// A cadence that sagged over the repeats of a held set: one repeat less, else a step less.
fn cadence_sagged(ground: &Ground<'_>) -> Vec<Strain> {
    let held = ground
        .holds
        .iter()
        .filter(|hold| hold.ridden.iter().all(|block| block.held));
    let strains = held.filter_map(|hold| {
        let (first, last) = hold.moved_over_repeats(|block| block.cadence.mean_rpm)?;
        let sag = last - first;
        (sag <= -SAGS).then(|| {
            let why = sags(&hold.block.name, sag);
            let wish = hold.fewer(ground, &why);
            let wish = wish.or_else(|| hold.lower(ground, &why));
            Strain::of(hold, why, wish)
        })
    });
    strains.collect()
}

/// Holds whose watts the rider makes in target-power mode and that lay under their lane: a step less.
fn not_held(ground: &Ground<'_>) -> Vec<Strain> {
    let strains = ground.holds.iter().filter_map(|hold| {
        let free = hold
            .ridden
            .iter()
            .filter(|block| block.mode == RideMode::TargetPower && !block.held);
        let under = mean(free.filter_map(|block| {
            let lane = block.fitted.mean_w.filter(|lane| *lane > 0.0)?;
            Some(1.0 - block.power_w? / lane)
        }))
        .filter(|under| *under >= NOT_HELD)?;
        let why = Advice {
            seen: say!(
                "{name} was ridden {share} % under its lane.",
                name = plain(&hold.block.name),
                share = number(Some(under * 100.0), 0)
            ),
            practice: word!("Common practice: 2 to 4 % off, until it is held."),
        };
        let wish = hold.lower(ground, &why);
        Some(Strain::of(hold, why, wish))
    });
    strains.collect()
}

/// Power that faded over the repeats of a set whose watts the rider makes: a longer recovery.
fn power_faded(ground: &Ground<'_>) -> Vec<Strain> {
    let free = ground
        .holds
        .iter()
        .filter(|hold| hold.ridden.iter().any(|block| !block.held));
    let strains = free.filter_map(|hold| {
        let (first, last) = hold.moved_over_repeats(|block| block.power_w)?;
        let fade = (first - last) / first.max(1.0);
        (fade >= FADED).then(|| {
            let why = Advice {
                seen: say!(
                    "Power fell by {share} % from the first {name} to the last.",
                    share = number(Some(fade * 100.0), 0),
                    name = plain(&hold.block.name)
                ),
                practice: word!("Common practice: longer recoveries, until it stays."),
            };
            Strain::of_rest(ground, &hold.spot, why)
        })
    });
    strains.collect()
}

/// Sprints that are ridden one after the other, with what each was ridden at.
struct Series<'g> {
    block: &'g Block,
    spot: &'g Spot,
    means_w: Vec<f64>,
}

impl Series<'_> {
    /// Whether a sprint belongs to it: it is the same one again, or of the same sort where each is written out.
    fn goes_on_with(&self, block: &Block, spot: &Spot) -> bool {
        let alone = self.spot.repeats.is_none() && spot.repeats.is_none();
        let sort = |block: &Block| (block.length, block.target, block.brake, block.position);
        self.spot == spot || (alone && sort(self.block) == sort(block))
    }
}

/// Sprints that faded from the first to the last, each set by itself: a longer recovery between them.
fn sprints_faded(ground: &Ground<'_>) -> Vec<Strain> {
    let mut series: Vec<Series<'_>> = Vec::new();
    let ridden = ground.review.blocks.iter();
    let ridden = ridden.filter(|block| block.kind == Kind::Sprint);
    for (result, sprint) in ridden.zip(&ground.review.sprints.each) {
        let Some(mean_w) = sprint.mean_w.filter(|_| sprint.whole) else {
            continue;
        };
        let Some((block, spot)) = ground.of_written(result) else {
            continue;
        };
        match series.iter_mut().find(|one| one.goes_on_with(block, spot)) {
            Some(one) => one.means_w.push(mean_w),
            None => series.push(Series {
                block,
                spot,
                means_w: vec![mean_w],
            }),
        }
    }
    let strains = series.iter().filter_map(|one| {
        let fade = match one.means_w.as_slice() {
            [first, .., last] if *first > 0.0 => 1.0 - last / first,
            _ => return None,
        };
        (fade >= SPRINTS_FADED).then(|| {
            let why = Advice {
                seen: say!(
                    "Mean power fell by {share} % from the first sprint to the last.",
                    share = number(Some(fade * 100.0), 0)
                ),
                practice: word!("Common practice: longer recoveries between sprints."),
            };
            Strain::of_rest(ground, one.spot, why)
        })
    });
    strains.collect()
}

/// The longest recovery in the set of a block, half a minute longer; none where it stands in no set.
fn longer(ground: &Ground<'_>, around: &Spot, why: &Advice) -> Option<Wish> {
    around.repeats?;
    let (_, set) = around.place.split_last()?;
    let blocks = ground.written.blocks.iter().zip(&ground.spots);
    let (block, spot) = blocks
        .filter(|(block, spot)| {
            let around = spot.place.split_last().map(|(_, around)| around);
            block.kind == Kind::Recovery && around == Some(set)
        })
        .max_by_key(|(block, _)| block.length)?;
    let length = block.length + LONGER;
    (length <= LONGEST).then(|| Wish {
        place: spot.place.clone(),
        edit: Edit::Length(length),
        block: block.name.clone(),
        was: block.length.to_string(),
        why: why.words(),
    })
}
