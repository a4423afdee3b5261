//! Each block as it was ridden: how it began, held and ended.

use serde::Serialize;

use super::figures::{deviation, mean, median, torque, unevenness};
use super::layers::{Deviation, Layer, Layers};
use super::{Asked, Recording};
use crate::plan::{CadenceBand, Kind};
use crate::record::Row;
use crate::ride::RideMode;
use crate::units::{Bpm, BrakeTarget, Effort, Joules, Rpm, Watts};

/// So many seconds on end in the lane are settled.
const SETTLED: usize = 10;
/// An early overshoot is looked for in so many seconds, and in the first third of the block at most.
const EARLY: usize = 30;
/// The overshoot is a mean over so many seconds.
const OVERSHOOT_OVER: usize = 3;
/// Fade is looked for in blocks of this many seconds and more.
const FADES: usize = 60;
/// The first seconds, in which the load builds up, have no part in fade.
const BUILDS_UP: usize = 10;
/// A heart rate within so many seconds of an end of the block stands for it.
const AT_END: usize = 10;
/// Steady blocks of this many seconds and more tell of heart-rate rise (sheet: 20 min and more only).
const LONG: usize = 1200;
/// A heart takes a few minutes to come to where it stays (common practice); they have no part in its rise.
const HEART_SETTLES: usize = 180;
/// Power is steady where its unevenness is no greater (own choice).
const STEADY: f64 = 0.10;
/// A gear is told of blocks whose middle half of ratios lies within this share of the middle one.
const ONE_GEAR: f64 = 0.02;

/// Means of a block's last third less those of its first third, the build-up left out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Fade {
    /// Power, W.
    pub power_w: Option<f64>,
    /// Cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Torque at the crank, Nm.
    pub torque_nm: Option<f64>,
    /// Heart rate, bpm.
    pub heart_rate_bpm: Option<f64>,
}

/// How cadence went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct CadenceResult {
    /// Mean, rpm.
    pub mean_rpm: Option<f64>,
    /// Standard deviation, rpm.
    pub deviation_rpm: Option<f64>,
    /// The band asked for, rpm; none where the block asks for none.
    pub band_rpm: Option<[f64; 2]>,
    /// Seconds in the band; none without a band.
    pub in_band_s: Option<u32>,
    /// Seconds in which cadence was measured.
    pub seconds: u32,
}

/// How the heart went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct HeartResult {
    /// The first within ten seconds of the start, bpm.
    pub start_bpm: Option<f64>,
    /// The last within ten seconds of the end, bpm.
    pub end_bpm: Option<f64>,
    /// Mean, bpm.
    pub mean_bpm: Option<f64>,
    /// The rise at steady power, bpm in 10 min by least squares; of steady blocks of 20 min and more alone, the first
    /// three minutes left out.
    pub rise_bpm_per_10_min: Option<f64>,
}

/// How often something was eased, trimmed or let go in the block.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Helps {
    /// Presses of trim.
    pub trims: u32,
    /// Steps by which the program eased the load.
    pub ease_downs: u32,
    /// The rider asked for an easier block.
    pub eased_by_hand: u32,
    /// The brake was let off because the legs were stalling.
    pub guards: u32,
    /// The brake was let off by hand.
    pub brake_off: u32,
    /// The clock was stopped.
    pub pauses: u32,
}

impl Helps {
    /// Whether the load was made easier in any way.
    pub const fn any(&self) -> bool {
        self.ease_downs + self.eased_by_hand + self.guards + self.brake_off > 0
    }
}

/// One block as it was ridden. A block that was left and come back to stands twice.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BlockResult {
    /// Its number in the session, from 1.
    pub block: u32,
    /// The number, from 1, of the written block that it is; none where the session was ridden as it was written.
    pub written_block: Option<u32>,
    /// Its name; its kind where the session could not be read.
    pub name: String,
    /// What it is for.
    pub kind: Kind,
    /// Which repeat of its set it is, from 1; none where it stands alone.
    pub repeat: Option<u32>,
    /// Of how many.
    pub of: Option<u32>,
    /// Ridden seconds before it.
    pub start_s: u64,
    /// Seconds ridden in it.
    pub ridden_s: u64,
    /// As long as the session that was ridden has it, seconds.
    pub written_s: Option<f64>,
    /// Who set the load in the most of its seconds.
    pub mode: RideMode,
    /// Whether the brake held watts in the most of its seconds.
    pub held: bool,
    /// The effort asked for, mean; none where the block asks for none.
    pub effort: Option<f64>,
    /// Whether it asks for all that the rider has.
    pub all_out: bool,
    /// What was written, by this rider's map.
    pub written: Layer,
    /// What that was today, with trim: the lane.
    pub fitted: Layer,
    /// What the brake was told.
    pub commanded: Layer,
    /// Mean power ridden, W.
    pub power_w: Option<f64>,
    /// Seconds in which power was measured.
    pub power_s: u32,
    /// Standard deviation of power over its mean.
    pub unevenness: Option<f64>,
    /// Between lane and power.
    pub deviation: Deviation,
    /// Seconds from its start to the first ten on end in the lane; none where there were none, or no lane.
    pub settle_s: Option<u32>,
    /// The most by which three seconds together were above the lane early in the block, W; 0 where they were not.
    pub overshoot_w: Option<f64>,
    /// From its first to its last third; none where it is under a minute.
    pub fade: Option<Fade>,
    /// Cadence.
    pub cadence: CadenceResult,
    /// Heart rate.
    pub heart: HeartResult,
    /// What was eased.
    pub helps: Helps,
    /// Metres in one turn of the crank, where the trainer's speed is a wheel's and the block was ridden in one gear.
    pub gear_m: Option<f64>,
    /// The rating given, out of ten.
    pub rating: Option<f64>,
    /// Estimated W′ left at its end, J.
    pub w_left_j: Option<f64>,
}

impl BlockResult {
    /// Its name with its repeat: "Causeway 2 of 4".
    pub fn title(&self) -> String {
        match (self.repeat, self.of) {
            (Some(repeat), Some(of)) if of > 1 => {
                format!("{} {repeat} {} {of}", self.name, word!("of" # "of so many"))
            }
            _ => self.name.clone(),
        }
    }

    /// Whether it was ridden for nine tenths of its written length, so that it can stand beside others.
    pub fn whole(&self) -> bool {
        self.written_s
            .is_none_or(|written| self.ridden_s as f64 >= 0.9 * written)
    }
}

/// Every block in the order in which it was ridden.
pub fn blocks(recording: &Recording<'_>, asked: &Asked) -> Vec<BlockResult> {
    let mut results = Vec::new();
    let mut ratios = Vec::new();
    for rows in recording.rows.chunk_by(|one, next| one.block == next.block) {
        results.push(block(recording, asked, rows));
        ratios.push(ratio(rows));
    }
    if wheel_is_real(&results, &ratios) {
        for (result, ratio) in results.iter_mut().zip(&ratios) {
            result.gear_m = *ratio;
        }
    }
    results
}

/// Whether the brake held watts in a second.
pub fn is_held(row: &Row) -> bool {
    row.mode == RideMode::TargetPower && matches!(row.brake, Some(BrakeTarget::Power(_)))
}

fn block(recording: &Recording<'_>, asked: &Asked, rows: &[Row]) -> BlockResult {
    // `chunk_by` gives no empty pieces.
    let (first, last) = (&rows[0], &rows[rows.len() - 1]);
    let start_s = first.ridden_s.saturating_sub(1);
    let plan = asked.plan.as_ref();
    let index = usize::try_from(first.block).ok();
    let index = index.and_then(|number| number.checked_sub(1));
    let block = plan.zip(index).and_then(|(plan, at)| plan.blocks.get(at));
    let written = asked.written.as_ref().and_then(Option::as_ref);
    let most =
        |of: &dyn Fn(&Row) -> bool| 2 * rows.iter().filter(|row| of(row)).count() > rows.len();
    let held = most(&is_held);
    let seconds: Vec<(Layers, bool)> = rows
        .iter()
        .map(|row| (Layers::of(row, asked), is_held(row)))
        .collect();
    let power: Vec<f64> = known(rows, |row| row.power.map(Watts::get)).collect();
    let repeat = block.and_then(|block| block.repeat);
    BlockResult {
        block: first.block,
        written_block: written.zip(index).and_then(|(all, at)| all.number(at)),
        name: block.map_or_else(|| first.kind.key().to_owned(), |block| block.name.clone()),
        kind: first.kind,
        repeat: repeat.map(|repeat| repeat.number),
        of: repeat.map(|repeat| repeat.of),
        start_s,
        ridden_s: rows.len() as u64,
        written_s: block.map(|block| block.length.seconds()),
        mode: if most(&|row| row.mode == RideMode::EffortOnly) {
            RideMode::EffortOnly
        } else {
            RideMode::TargetPower
        },
        held,
        effort: mean(known(rows, |row| row.effort.map(Effort::get))),
        all_out: rows
            .iter()
            .any(|row| row.effort.is_some_and(|effort| effort.0 > 9.0)),
        written: Layer::of(&seconds, |layers| layers.written),
        fitted: Layer::of(&seconds, |layers| layers.fitted),
        commanded: Layer::of(&seconds, |layers| layers.commanded),
        power_w: mean(power.iter().copied()),
        power_s: power.len() as u32,
        unevenness: unevenness(&power),
        deviation: Deviation::of(&seconds),
        settle_s: settle(&seconds),
        overshoot_w: overshoot(&seconds),
        fade: fade(rows),
        cadence: cadence(rows, block.and_then(|block| block.cadence)),
        heart: heart(rows, &power),
        helps: helps(recording, start_s as f64, last.ridden_s as f64),
        gear_m: None,
        rating: rating(recording, first.block),
        w_left_j: last.w_balance.map(Joules::get),
    }
}

/// The values that are known, in order.
fn known<'a>(
    rows: &'a [Row],
    of: impl Fn(&Row) -> Option<f64> + Clone + 'a,
) -> impl Iterator<Item = f64> + Clone + 'a {
    rows.iter().filter_map(of)
}

fn settle(seconds: &[(Layers, bool)]) -> Option<u32> {
    let inside = |(layers, held): &(Layers, bool)| {
        let both = layers.ridden.zip(layers.fitted);
        both.is_some_and(|(ridden, lane)| super::layers::in_lane(ridden, lane, *held))
    };
    let place = seconds
        .windows(SETTLED)
        .position(|ten| ten.iter().all(inside))?;
    u32::try_from(place).ok()
}

fn overshoot(seconds: &[(Layers, bool)]) -> Option<f64> {
    let early = EARLY.min(seconds.len() / 3);
    let above = |(layers, _): &(Layers, bool)| Some(layers.ridden? - layers.fitted?);
    let means = seconds
        .get(..early)?
        .windows(OVERSHOOT_OVER)
        .filter_map(|three| {
            let known: Option<Vec<f64>> = three.iter().map(above).collect();
            mean(known?)
        });
    means.reduce(f64::max).map(|most| most.max(0.0))
}

fn fade(rows: &[Row]) -> Option<Fade> {
    if rows.len() < FADES {
        return None;
    }
    let rows = &rows[BUILDS_UP..];
    let third = rows.len() / 3;
    let (first, last) = (&rows[..third], &rows[rows.len() - third..]);
    let change =
        |of: fn(&Row) -> Option<f64>| Some(mean(known(last, of))? - mean(known(first, of))?);
    Some(Fade {
        power_w: change(|row| row.power.map(Watts::get)),
        cadence_rpm: change(|row| row.cadence.map(Rpm::get)),
        torque_nm: change(|row| torque(row.power?.0, row.cadence?.0)),
        heart_rate_bpm: change(|row| row.heart_rate.map(Bpm::get)),
    })
}

fn cadence(rows: &[Row], band: Option<CadenceBand>) -> CadenceResult {
    let values: Vec<f64> = known(rows, |row| row.cadence.map(Rpm::get)).collect();
    let inside = |band: CadenceBand| {
        let inside = |value: &&f64| (band.low.0..=band.high.0).contains(*value);
        values.iter().filter(inside).count() as u32
    };
    CadenceResult {
        mean_rpm: mean(values.iter().copied()),
        deviation_rpm: deviation(&values),
        band_rpm: band.map(|band| [band.low.0, band.high.0]),
        in_band_s: band.filter(|_| !values.is_empty()).map(inside),
        seconds: values.len() as u32,
    }
}

fn heart(rows: &[Row], power: &[f64]) -> HeartResult {
    let of = |row: &Row| row.heart_rate.map(Bpm::get);
    let early = &rows[..rows.len().min(AT_END)];
    let late = &rows[rows.len() - rows.len().min(AT_END)..];
    let steady = rows.len() >= LONG
        && power.len() * 10 >= rows.len() * 9
        && unevenness(power).is_some_and(|share| share <= STEADY);
    let points: Vec<(f64, f64)> = rows[rows.len().min(HEART_SETTLES)..]
        .iter()
        .filter_map(|row| Some((row.ridden_s as f64, of(row)?)))
        .collect();
    let enough = points.len() * 10 >= rows.len().saturating_sub(HEART_SETTLES) * 9;
    HeartResult {
        start_bpm: early.iter().find_map(of),
        end_bpm: late.iter().rev().find_map(of),
        mean_bpm: mean(known(rows, of)),
        rise_bpm_per_10_min: (steady && enough)
            .then(|| super::figures::slope(&points))
            .flatten()
            .map(|slope| slope * 600.0),
    }
}

fn helps(recording: &Recording<'_>, from: f64, to: f64) -> Helps {
    let mut helps = Helps::default();
    for event in recording.events {
        if event.ridden_s < from || event.ridden_s >= to {
            continue;
        }
        match &*event.what {
            "trim" => helps.trims += 1,
            "ease-down" => helps.ease_downs += 1,
            "ease-block" => helps.eased_by_hand += 1,
            "guard" => helps.guards += 1,
            "brake-off" => helps.brake_off += 1,
            "pause" => helps.pauses += 1,
            _ => {}
        }
    }
    helps
}

/// The last rating that was given to a block.
fn rating(recording: &Recording<'_>, block: u32) -> Option<f64> {
    let mut notes = recording.notes.iter().rev();
    let note = notes.find(|note| note.what == "rating" && note.block == Some(block))?;
    note.rating.map(Effort::get)
}

/// Metres in one turn of the crank, where the block was ridden in one gear: the middle of its seconds' ratios.
fn ratio(rows: &[Row]) -> Option<f64> {
    let turning = known(rows, |row| {
        let (speed, cadence) = (row.speed?.0, row.cadence?.0);
        (cadence > 20.0 && speed > 0.0).then(|| speed * 60.0 / cadence)
    });
    let mut ratios: Vec<f64> = turning.collect();
    if ratios.len() < 30 {
        return None;
    }
    ratios.sort_by(f64::total_cmp);
    let spread = ratios[ratios.len() * 3 / 4] - ratios[ratios.len() / 4];
    let middle = median(ratios)?;
    (spread <= ONE_GEAR * middle).then_some(middle)
}

/// Whether the speed was seen to be a wheel's: in two blocks it stood in the same ratio to the same cadence while power
/// differed by a quarter (see `ride::gear`). A speed that is reckoned from power tells no gear.
fn wheel_is_real(results: &[BlockResult], ratios: &[Option<f64>]) -> bool {
    let steady: Vec<(f64, f64, f64)> = results
        .iter()
        .zip(ratios)
        .filter_map(|(result, ratio)| Some(((*ratio)?, result.power_w?, result.cadence.mean_rpm?)))
        .collect();
    let near = |a: f64, b: f64, share: f64| (a / b - 1.0).abs() <= share;
    steady.iter().enumerate().any(|(index, one)| {
        steady[index + 1..].iter().any(|other| {
            near(one.0, other.0, 0.01)
                && near(one.2, other.2, 0.03)
                && (one.1 / other.1).max(other.1 / one.1) >= 1.25
        })
    })
}
