//! Which blocks are beyond a rider, and what would make them possible: a lower target, longer recoveries, fewer repeats.

use super::{Beyond, Second, balance, seconds};
use crate::plan::{Kind, Plan};
use crate::rider::Rider;
use crate::text::{self, Language};
use crate::time::Span;

/// Recoveries are tried longer in such steps, and up to so much (common practice, no source).
const STEP: Span = Span::from_seconds(15);
const MOST_STEPS: u64 = 40;
/// So many names at most are gone into: each costs some passes over the session.
const MOST_NAMES: usize = 12;
/// A target that would have to be lower than this share of what is written is no way: it is another session.
const LEAST_SHARE: f64 = 0.5;

/// The blocks in which the balance falls below nothing while more than threshold is asked, by name.
pub(super) fn beyond(plan: &Plan, rider: &Rider, seconds: &[Second], left: &[f64]) -> Vec<Beyond> {
    let mut found: Vec<Beyond> = Vec::new();
    for (at, (second, &left_j)) in seconds.iter().zip(left).enumerate() {
        let above = second.watts.is_some_and(|watts| watts > rider.threshold.0);
        let Some(block) = plan.blocks.get(second.block) else {
            continue;
        };
        if left_j >= 0.0 || !above {
            continue;
        }
        let place = match found.iter().position(|one| one.name == block.name) {
            Some(place) => place,
            None if found.len() < MOST_NAMES => {
                found.push(Beyond {
                    name: block.name.clone(),
                    blocks: Vec::new(),
                    of: named(plan, &block.name).count(),
                    left_j: 0.0,
                    at_s: 0,
                    ways: Vec::new(),
                });
                found.len() - 1
            }
            None => continue,
        };
        let one = &mut found[place];
        if one.blocks.last() != Some(&second.block) {
            one.blocks.push(second.block);
        }
        if left_j < one.left_j {
            (one.left_j, one.at_s) = (left_j, at as u64 + 1);
        }
    }
    for one in &mut found {
        one.ways = fewer(plan, one).into_iter().collect();
    }
    found
}

/// Looks for every way.
pub(super) fn find(plan: &Plan, rider: &Rider, beyond: &mut [Beyond]) {
    for one in beyond {
        one.ways = [
            lower(plan, rider, &one.name),
            longer(plan, rider, &one.name),
            fewer(plan, one),
        ]
        .into_iter()
        .flatten()
        .collect();
    }
}

/// A way in English, whoever reads: programs read it too, and it is put into other words where it is shown.
fn way(told: impl FnOnce() -> String) -> String {
    text::within(Language::English, told)
}

fn named<'p>(plan: &'p Plan, name: &'p str) -> impl Iterator<Item = usize> + 'p {
    let blocks = plan.blocks.iter().enumerate();
    blocks
        .filter(move |(_, block)| block.name == name)
        .map(|(index, _)| index)
}

/// Whether the blocks of a name can be ridden as these seconds ask.
fn possible(plan: &Plan, rider: &Rider, seconds: &[Second], name: &str) -> bool {
    let left = balance(seconds, rider);
    seconds.iter().zip(left).all(|(second, left)| {
        let meant = plan
            .blocks
            .get(second.block)
            .is_some_and(|block| block.name == name);
        !meant || left >= 0.0
    })
}

/// The same blocks at fewer watts, all of them alike.
fn lower(plan: &Plan, rider: &Rider, name: &str) -> Option<String> {
    let written = seconds(plan, rider);
    let eased = |share: f64| -> Vec<Second> {
        let ease = |second: &Second| {
            let meant = plan
                .blocks
                .get(second.block)
                .is_some_and(|block| block.name == name);
            Second {
                watts: second
                    .watts
                    .map(|watts| if meant { watts * share } else { watts }),
                ..*second
            }
        };
        written.iter().map(ease).collect()
    };
    let (mut can, mut cannot) = (LEAST_SHARE, 1.0);
    if !possible(plan, rider, &eased(can), name) {
        return None;
    }
    for _ in 0..20 {
        let middle = f64::midpoint(can, cannot);
        if possible(plan, rider, &eased(middle), name) {
            can = middle;
        } else {
            cannot = middle;
        }
    }
    let most = |seconds: &[Second]| {
        let meant = seconds.iter().filter(|second| {
            plan.blocks
                .get(second.block)
                .is_some_and(|block| block.name == name)
        });
        meant.filter_map(|second| second.watts).fold(0.0, f64::max)
    };
    // Rounded down: a watt more would be one too many. The hair keeps a whole figure whole, which is found from below.
    let watts = (most(&eased(can)) + 1e-3).floor();
    Some(way(|| {
        say!(
            "at {watts:.0} W in place of {written:.0} W",
            watts,
            written = most(&written)
        )
    }))
}

/// Every recovery before the last of them longer.
fn longer(plan: &Plan, rider: &Rider, name: &str) -> Option<String> {
    let last = named(plan, name).last()?;
    let mut longer = plan.clone();
    let before = |index: usize, kind: Kind| index < last && kind == Kind::Recovery;
    if !plan
        .blocks
        .iter()
        .enumerate()
        .any(|(index, block)| before(index, block.kind))
    {
        return None;
    }
    for step in 1..=MOST_STEPS {
        for (index, block) in longer.blocks.iter_mut().enumerate() {
            if before(index, block.kind) {
                block.length += STEP;
            }
        }
        if possible(&longer, rider, &seconds(&longer, rider), name) {
            let more = STEP * step;
            return Some(way(|| say!("with each recovery {more} longer", more)));
        }
    }
    None
}

/// Only those that come before the first that is beyond.
fn fewer(plan: &Plan, one: &Beyond) -> Option<String> {
    let first = *one.blocks.first()?;
    let can = named(plan, &one.name)
        .filter(|&index| index < first)
        .count();
    if can == 0 {
        return None;
    }
    let of = one.of;
    Some(way(|| match can {
        1 => say!("once in place of {of} times", of),
        _ => say!("{can} times in place of {of}", can, of),
    }))
}
