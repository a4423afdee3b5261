//! The rules by which the next session asks for less, or gives more rest. Common practice all of them, no source.

use super::Wish;
use super::ground::Ground;
use super::holds::Hold;
use crate::plan::Kind;
use crate::plan::edit::Edit;
use crate::review::blocks::BlockResult;
use crate::review::figures::mean;
use crate::review::suggest::{RATED_OFF, eased, rated, sagged, sagging};
use crate::review::words::{number, plain};
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

/// What the ride asks for, the weightiest first; nothing where there was no strain.
pub(super) fn wishes(ground: &Ground<'_>) -> Vec<Wish> {
    let mut wishes: Vec<Wish> = Vec::new();
    let lessened = [
        rated_high(ground),
        made_easier(ground),
        cadence_sagged(ground),
        not_held(ground),
    ];
    for (hold, wish) in lessened.into_iter().flatten() {
        // A hold is made less of once: by its own load, or by the repeats of its set.
        let known = wishes.iter().any(|other| {
            hold.spot.place.starts_with(&other.place) || other.place.starts_with(&wish.place)
        });
        if !known {
            wishes.push(wish);
        }
    }
    wishes.extend(power_faded(ground));
    let sprints = sprints_faded(ground);
    let other = |wish: &Wish| wishes.iter().all(|other| other.place != wish.place);
    if let Some(wish) = sprints.filter(other) {
        wishes.push(wish);
    }
    wishes
}

type Lessened<'g, 'r> = Vec<(&'g Hold<'r>, Wish)>;

/// Holds that were rated well above what was planned: a step less for those that were, the furthest off first.
fn rated_high<'g, 'r>(ground: &'g Ground<'r>) -> Lessened<'g, 'r> {
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
        .filter_map(|(_, hold)| Some((hold, hold.lower(ground, &why)?)))
        .collect()
}

/// A load that was made easier on the way: a repeat less where that came late in a set, else a step less.
fn made_easier<'g, 'r>(ground: &'g Ground<'r>) -> Lessened<'g, 'r> {
    let Some(why) = eased(ground.review) else {
        return Vec::new();
    };
    let lessened = ground.holds.iter().filter_map(|hold| {
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
        Some((hold, fewer.or_else(|| hold.lower(ground, &why))?))
    });
    lessened.collect()
}

/// A cadence that sagged over the repeats of a held set: one repeat less, else a step less.
fn cadence_sagged<'g, 'r>(ground: &'g Ground<'r>) -> Lessened<'g, 'r> {
    let (Some((set, _)), Some(why)) = (sagging(ground.review), sagged(ground.review)) else {
        return Vec::new();
    };
    let mut holds = ground.holds.iter();
    let hold = holds.find(|hold| hold.block.name == set.name && hold.spot.repeats.is_some());
    let lessened = hold.and_then(|hold| {
        let wish = hold.fewer(ground, &why);
        Some((hold, wish.or_else(|| hold.lower(ground, &why))?))
    });
    lessened.into_iter().collect()
}

/// Holds whose watts the rider makes in target-power mode and that lay under their lane: a step less.
fn not_held<'g, 'r>(ground: &'g Ground<'r>) -> Lessened<'g, 'r> {
    if ground.by_effort {
        return Vec::new();
    }
    let lessened = ground.holds.iter().filter_map(|hold| {
        let free = hold.ridden.iter().filter(|block| !block.held);
        let under = mean(free.filter_map(|block| {
            let lane = block.fitted.mean_w.filter(|lane| *lane > 0.0)?;
            Some(1.0 - block.power_w? / lane)
        }))
        .filter(|under| *under >= NOT_HELD)?;
        let why = format!(
            "{} was ridden {} % under its lane. Common practice: 2 to 4 % off, until it is held.",
            plain(&hold.block.name),
            number(Some(under * 100.0), 0)
        );
        Some((hold, hold.lower(ground, &why)?))
    });
    lessened.collect()
}

/// Power that faded over the repeats of a set whose watts the rider makes: a longer recovery.
fn power_faded(ground: &Ground<'_>) -> Option<Wish> {
    let sets = ground.review.sets.iter();
    let mut free = sets.filter(|set| set.kind == Kind::Hold && !set.held);
    free.find_map(|set| {
        let power = set.figure("power")?;
        let first = power.values.first().copied().flatten()?;
        let fade = -power.change? / first.max(1.0);
        let mut holds = ground.holds.iter();
        let hold = holds.find(|hold| hold.block.name == set.name && hold.spot.repeats.is_some())?;
        let why = format!(
            "Power fell by {} % from the first {} to the last. Common practice: longer recoveries, until it stays.",
            number(Some(fade * 100.0), 0),
            plain(&set.name)
        );
        (fade >= FADED)
            .then(|| longer(ground, &hold.spot.place, &why))
            .flatten()
    })
}

/// Sprints that faded from the first to the last: a longer recovery between them.
fn sprints_faded(ground: &Ground<'_>) -> Option<Wish> {
    let mut sprints = ground.written.blocks.iter().zip(&ground.spots);
    let (_, spot) =
        sprints.find(|(block, spot)| block.kind == Kind::Sprint && spot.repeats.is_some())?;
    let each = ground.review.sprints.each.iter();
    let means: Vec<f64> = each
        .filter(|sprint| sprint.whole)
        .filter_map(|sprint| sprint.mean_w)
        .collect();
    let (first, last) = match means.as_slice() {
        [first, .., last] if *first > 0.0 => (*first, *last),
        _ => return None,
    };
    let fade = 1.0 - last / first;
    let why = format!(
        "Mean power fell by {} % from the first sprint to the last. Common practice: longer recoveries between sprints.",
        number(Some(fade * 100.0), 0)
    );
    (fade >= SPRINTS_FADED)
        .then(|| longer(ground, &spot.place, &why))
        .flatten()
}

/// The longest recovery in the set of a block, half a minute longer.
fn longer(ground: &Ground<'_>, place: &[usize], why: &str) -> Option<Wish> {
    let (_, set) = place.split_last()?;
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
        why: why.to_owned(),
    })
}
