//! Sprints, from the sensors' own reports: a peak over one second and the time to it are lost in rows of a second.

use serde::Serialize;

use super::Recording;
use super::blocks::BlockResult;
use super::figures::{decrement, fatigue_index, mean};
use super::raw::{Parts, Report, Reports, between, resolution, second_from, standing};
use super::recoveries::inside;
use crate::plan::Kind;
use crate::record::Row;
use crate::units::{Rpm, Watts};

/// One sprint.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sprint {
    /// The block's number in the session, from 1.
    pub block: u32,
    /// Its name with its repeat.
    pub name: String,
    /// Seconds ridden in it.
    pub ridden_s: u64,
    /// Whether it was ridden whole.
    pub whole: bool,
    /// Where its figures come from: `reports` as the sensor sent them, or `rows` of one second.
    pub source: &'static str,
    /// The middle time between two values of power, s: peak and time to peak are known no better.
    pub resolution_s: f64,
    /// The greatest mean over one second, W.
    pub peak_w: Option<f64>,
    /// From the block's start to the end of that second, s.
    pub to_peak_s: Option<f64>,
    /// Mean power, W, over the time in which it is known.
    pub mean_w: Option<f64>,
    /// From the peak to the least mean over one second after it, as a share of the peak.
    pub fatigue: Option<f64>,
    /// The greatest cadence, rpm.
    pub peak_cadence_rpm: Option<f64>,
    /// The middle time between two values of cadence, s.
    pub cadence_resolution_s: Option<f64>,
}

/// The sprints of a ride.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Sprints {
    /// Each, in order.
    pub each: Vec<Sprint>,
    /// 1 − mean / best of the mean powers of those ridden whole, as a share; none of fewer than two.
    pub decrement: Option<f64>,
    /// (best − worst) / best of the same, as a share.
    pub fatigue_index: Option<f64>,
}

/// Every sprint in order. Without reports, or where the clock stood in a sprint, the rows stand in and it is said.
pub fn sprints(recording: &Recording<'_>, reports: &Parts, blocks: &[BlockResult]) -> Sprints {
    let ridden = blocks.iter().filter(|block| block.kind == Kind::Sprint);
    let each: Vec<Sprint> = ridden
        .map(|block| {
            let rows = inside(recording.rows, block);
            let reports = rows.first().and_then(|row| reports.of(row.ridden_s));
            let exact = reports.and_then(|reports| from_reports(reports, block, rows));
            exact.unwrap_or_else(|| from_rows(block, rows))
        })
        .collect();
    let whole = each.iter().filter(|sprint| sprint.whole);
    let means: Option<Vec<f64>> = whole.map(|sprint| sprint.mean_w).collect();
    let means = means.filter(|means| means.len() > 1).unwrap_or_default();
    let best = means.iter().copied().reduce(f64::max);
    let worst = means.iter().copied().reduce(f64::min);
    Sprints {
        each,
        decrement: decrement(&means),
        fatigue_index: best
            .zip(worst)
            .and_then(|(best, worst)| fatigue_index(best, worst)),
    }
}

fn from_rows(block: &BlockResult, rows: &[Row]) -> Sprint {
    let powers: Vec<Option<f64>> = rows.iter().map(|row| row.power.map(Watts::get)).collect();
    let mut peak: Option<(usize, f64)> = None;
    for (second, power) in powers.iter().enumerate() {
        if let Some(power) = power.filter(|power| peak.is_none_or(|(_, most)| *power > most)) {
            peak = Some((second, power));
        }
    }
    let after = peak.map_or(&[][..], |(second, _)| &powers[second..]);
    let least = after.iter().flatten().copied().reduce(f64::min);
    Sprint {
        block: block.block,
        name: block.title(),
        ridden_s: block.ridden_s,
        whole: block.whole(),
        source: "rows",
        resolution_s: 1.0,
        peak_w: peak.map(|(_, most)| most),
        to_peak_s: peak.map(|(second, _)| second as f64 + 1.0),
        mean_w: mean(powers.iter().flatten().copied()),
        fatigue: peak
            .zip(least)
            .and_then(|((_, most), least)| fatigue_index(most, least)),
        peak_cadence_rpm: rows
            .iter()
            .filter_map(|row| row.cadence.map(Rpm::get))
            .reduce(f64::max),
        cadence_resolution_s: rows.iter().any(|row| row.cadence.is_some()).then_some(1.0),
    }
}

/// None where there are too few reports, or where the clock stood in the sprint.
fn from_reports(reports: &Reports, block: &BlockResult, rows: &[Row]) -> Option<Sprint> {
    let (first, last) = (rows.first()?, rows.last()?);
    let (from_ms, to_ms) = (first.utc_ms - 1000, last.utc_ms);
    let length_ms = i64::try_from(block.ridden_s).ok()?.checked_mul(1000)?;
    if to_ms - from_ms != length_ms {
        return None;
    }
    let power = between(&reports.power, from_ms, to_ms);
    let (to_peak_ms, peak) = peak(&power, from_ms, to_ms)?;
    let least = starts(&power, from_ms, to_ms)
        .filter(|at| *at >= from_ms + to_peak_ms - 1000)
        .filter_map(|at| second_from(&power, at))
        .reduce(f64::min);
    let whole = standing(&power, from_ms, to_ms);
    let cadence = between(&reports.cadence, from_ms, to_ms);
    let mut sprint = Sprint {
        source: "reports",
        resolution_s: resolution(&power)?,
        peak_w: Some(peak),
        to_peak_s: Some(to_peak_ms as f64 / 1000.0),
        mean_w: (whole.known_s > 0.0).then(|| whole.sum / whole.known_s),
        fatigue: least.and_then(|least| fatigue_index(peak, least)),
        ..from_rows(block, rows)
    };
    if let Some(apart) = resolution(&cadence) {
        sprint.peak_cadence_rpm = cadence.iter().map(|report| report.value).reduce(f64::max);
        sprint.cadence_resolution_s = Some(apart);
    }
    Some(sprint)
}

/// The starts of seconds that can hold the greatest or the least mean: those that begin or end with a report, and the
/// first and last of the block. The mean of a second moves in a straight line between them.
fn starts(reports: &[Report], from_ms: i64, to_ms: i64) -> impl Iterator<Item = i64> {
    let at_report = reports
        .iter()
        .flat_map(|report| [report.utc_ms, report.utc_ms - 1000]);
    let mut starts: Vec<i64> = at_report
        .chain([from_ms, to_ms - 1000])
        .filter(|at| *at >= from_ms && *at + 1000 <= to_ms)
        .collect();
    starts.sort_unstable();
    starts.dedup();
    starts.into_iter()
}

/// The end of the greatest second against the block's start, ms, and its mean; the first of equals.
fn peak(reports: &[Report], from_ms: i64, to_ms: i64) -> Option<(i64, f64)> {
    let mut peak: Option<(i64, f64)> = None;
    for at in starts(reports, from_ms, to_ms) {
        let Some(mean) = second_from(reports, at) else {
            continue;
        };
        if peak.is_none_or(|(_, most)| mean > most + 1e-9) {
            peak = Some((at + 1000 - from_ms, mean));
        }
    }
    peak
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_peak_is_that_of_the_best_second_wherever_it_begins() {
        let value = |utc_ms, value| Report { utc_ms, value };
        // 100 W, 1.2 s at 900 W from 1.3 s on, then 500 W.
        let reports = [value(0, 100.0), value(1300, 900.0), value(2500, 500.0)];
        assert_eq!(peak(&reports, 0, 4000), Some((2300, 900.0)));
        // Cut at 2 s: 0.3 s of 100 W and 0.7 s of 900 W by hand.
        let (at, mean) = peak(&reports, 0, 2000).unwrap_or_default();
        assert_eq!(at, 2000);
        assert!((mean - 660.0).abs() < 1e-9, "{mean}");
        assert_eq!(peak(&[], 0, 4000), None);
    }
}
