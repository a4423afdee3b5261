//! Across repeats: how each figure of a set moves from its first block to its last.

use serde::Serialize;

use super::blocks::BlockResult;
use crate::plan::Kind;

/// One figure over the repeats of a set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moved {
    /// What it is, in a word or two.
    pub figure: &'static str,
    /// Its unit; empty where it has none.
    pub unit: &'static str,
    /// Its value in each repeat, in order; none where it is not known.
    pub values: Vec<Option<f64>>,
    /// The last less the first; none where either is not known.
    pub change: Option<f64>,
}

/// The repeats of one block.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetResult {
    /// The block's name.
    pub name: String,
    /// What it is for.
    pub kind: Kind,
    /// Whether the brake held watts in all of them.
    pub held: bool,
    /// How many repeats the session has.
    pub of: u32,
    /// The repeats that were ridden whole, from 1: only these are compared.
    pub repeats: Vec<u32>,
    /// The repeats that were begun and not ridden whole.
    pub in_part: Vec<u32>,
    /// The figures of which any is known.
    pub figures: Vec<Moved>,
}

impl SetResult {
    /// A figure by its name.
    pub fn figure(&self, name: &str) -> Option<&Moved> {
        self.figures.iter().find(|moved| moved.figure == name)
    }
}

type Figure = (&'static str, &'static str, fn(&BlockResult) -> Option<f64>);

const FIGURES: [Figure; 14] = [
    (entry!("lane"), "W", |b| b.fitted.mean_w),
    (entry!("power"), "W", |b| b.power_w),
    (entry!("in the lane"), "%", |b| {
        b.fitted.share().map(|share| share * 100.0)
    }),
    (entry!("time to settle"), "s", |b| b.settle_s.map(f64::from)),
    (entry!("overshoot"), "W", |b| b.overshoot_w),
    (entry!("unevenness"), "%", |b| {
        b.unevenness.map(|share| share * 100.0)
    }),
    (entry!("cadence"), "rpm", |b| b.cadence.mean_rpm),
    (entry!("change of cadence"), "rpm", |b| b.fade?.cadence_rpm),
    (entry!("change of power"), "W", |b| b.fade?.power_w),
    (entry!("change of torque"), "Nm", |b| b.fade?.torque_nm),
    (entry!("heart rate at start"), "bpm", |b| b.heart.start_bpm),
    (entry!("heart rate at end"), "bpm", |b| b.heart.end_bpm),
    (entry!("rating"), "", |b| b.rating),
    (entry!("estimated W′ left"), "kJ", |b| {
        b.w_left_j.map(|left| left / 1000.0)
    }),
];

/// The sets of a ride: blocks of the same name and kind that the session repeats, each ridden once or more.
pub fn sets(blocks: &[BlockResult]) -> Vec<SetResult> {
    let mut sets: Vec<SetResult> = Vec::new();
    for (index, block) in blocks.iter().enumerate() {
        let Some(of) = block.of.filter(|of| *of > 1) else {
            continue;
        };
        let same = |other: &&BlockResult| {
            other.name == block.name && other.kind == block.kind && other.of == block.of
        };
        if blocks[..index].iter().any(|other| same(&other)) {
            continue;
        }
        let all: Vec<&BlockResult> = blocks.iter().filter(same).collect();
        let (whole, part): (Vec<&BlockResult>, Vec<&BlockResult>) =
            all.into_iter().partition(|block| block.whole());
        let number = |block: &&BlockResult| block.repeat.unwrap_or(0);
        sets.push(SetResult {
            name: block.name.clone(),
            kind: block.kind,
            held: whole.iter().all(|block| block.held),
            of,
            repeats: whole.iter().map(number).collect(),
            in_part: part.iter().map(number).collect(),
            figures: FIGURES
                .iter()
                .filter_map(|figure| moved(figure, &whole))
                .collect(),
        });
    }
    sets
}

fn moved((figure, unit, of): &Figure, blocks: &[&BlockResult]) -> Option<Moved> {
    let values: Vec<Option<f64>> = blocks.iter().map(|block| of(block)).collect();
    if values.iter().all(Option::is_none) {
        return None;
    }
    let change = match values.as_slice() {
        [Some(first), .., Some(last)] => Some(last - first),
        _ => None,
    };
    Some(Moved {
        figure,
        unit,
        values,
        change,
    })
}
