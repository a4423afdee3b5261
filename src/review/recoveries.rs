//! Recoveries: how far the heart rate fell in a minute, and whether they were ridden as planned.

use serde::Serialize;

use super::blocks::BlockResult;
use super::figures::mean;
use super::series::stood_ms;
use crate::plan::Kind;
use crate::record::Row;
use crate::units::{Bpm, Rpm, Watts};

/// The fall is taken over so many seconds.
const FALLS_OVER: u64 = 60;
/// Falls are compared where the mean power over them, and that of the block before, differ by no more than this share,
/// or these watts (own choice): from harder work a heart falls further.
const SAME_LOAD: f64 = 0.10;
const SAME_LOAD_W: f64 = 10.0;
/// Legs that turn slower than this do not turn (rules of the ride: 20 rpm).
const TURNS: f64 = 20.0;

/// One recovery.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RecoveryResult {
    /// The block's number in the session, from 1.
    pub block: u32,
    /// Its name with its repeat.
    pub name: String,
    /// Heart rate at its start, the last of the block before, bpm.
    pub start_bpm: Option<f64>,
    /// Heart rate sixty seconds later, still in it, bpm.
    pub after_60_s_bpm: Option<f64>,
    /// By so much it fell, bpm; below zero where it rose.
    pub fall_bpm: Option<f64>,
    /// Mean power over these sixty seconds, W.
    pub power_over_60_s_w: Option<f64>,
    /// Mean power of the block before it, W.
    pub before_w: Option<f64>,
    /// The share of its seconds with a known power in which power lay in the lane.
    pub in_lane: Option<f64>,
    /// Mean power less the lane over the whole of it, W.
    pub over_lane_w: Option<f64>,
    /// The share of its seconds with a known cadence in which the legs turned.
    pub turning: Option<f64>,
    /// The number of the first recovery before it at an equal load and after an equal one: their falls can be compared.
    pub like_block: Option<u32>,
}

/// Every recovery in order. A fall is told where the recovery is a minute or longer and no pause lies in that minute.
pub fn recoveries(rows: &[Row], blocks: &[BlockResult]) -> Vec<RecoveryResult> {
    let mut results: Vec<RecoveryResult> = Vec::new();
    for (index, block) in blocks.iter().enumerate() {
        if block.kind != Kind::Recovery {
            continue;
        }
        let inside = inside(rows, block);
        let of = |row: &Row| row.heart_rate.map(Bpm::get);
        let minute = minute(rows, block);
        let after = minute.and_then(|minute| minute.last()).and_then(of);
        let start = minute
            .and_then(|minute| minute.first())
            .or_else(|| inside.first())
            .and_then(of);
        let power = minute.and_then(|minute| {
            mean(
                minute[1..]
                    .iter()
                    .filter_map(|row| row.power.map(Watts::get)),
            )
        });
        let before_w = blocks
            .get(index.wrapping_sub(1))
            .and_then(|before| before.power_w);
        let like = results.iter().find(|earlier| {
            earlier.fall_bpm.is_some()
                && alike(earlier.power_over_60_s_w, power)
                && alike(earlier.before_w, before_w)
        });
        let cadence: Vec<f64> = inside
            .iter()
            .filter_map(|row| row.cadence.map(Rpm::get))
            .collect();
        let turning = cadence.iter().filter(|cadence| **cadence > TURNS).count();
        let fall = start.zip(after).map(|(start, after)| start - after);
        let like_block = like.filter(|_| fall.is_some()).map(|earlier| earlier.block);
        results.push(RecoveryResult {
            block: block.block,
            name: block.title(),
            start_bpm: start,
            after_60_s_bpm: after,
            fall_bpm: fall,
            power_over_60_s_w: power,
            before_w,
            in_lane: block.fitted.share(),
            over_lane_w: mean(
                inside
                    .iter()
                    .filter_map(|row| Some(row.power?.0 - row.lane?.0)),
            ),
            turning: (!cadence.is_empty()).then(|| turning as f64 / cadence.len() as f64),
            like_block,
        });
    }
    results
}

/// Whether two loads are equal; what is not known is equal to nothing.
fn alike(one: Option<f64>, other: Option<f64>) -> bool {
    one.zip(other)
        .is_some_and(|(one, other)| (one - other).abs() <= (one * SAME_LOAD).max(SAME_LOAD_W))
}

/// The second before the recovery and its first sixty, without a pause or a missing line between.
fn minute<'r>(rows: &'r [Row], block: &BlockResult) -> Option<&'r [Row]> {
    let seconds = usize::try_from(FALLS_OVER).ok()?;
    let from = rows.partition_point(|row| row.ridden_s < block.start_s);
    let minute = rows.get(from..=from + seconds)?;
    let unbroken = |pair: &[Row]| {
        pair[1].ridden_s == pair[0].ridden_s + 1 && stood_ms(&pair[0], &pair[1]) < 1000
    };
    let whole = block.ridden_s >= FALLS_OVER
        && minute.first()?.ridden_s == block.start_s
        && minute.windows(2).all(unbroken);
    whole.then_some(minute)
}

/// The rows of a block.
pub fn inside<'r>(rows: &'r [Row], block: &BlockResult) -> &'r [Row] {
    let from = rows.partition_point(|row| row.ridden_s <= block.start_s);
    let to = from + usize::try_from(block.ridden_s).unwrap_or(0);
    rows.get(from..to.min(rows.len())).unwrap_or(&[])
}
