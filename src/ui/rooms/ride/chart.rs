//! From a snapshot to what the strip shows.

use crate::engine::snapshot::{InkPoint, Question, Snapshot};
use crate::ride::RideMode;
use crate::rider::EffortMap;
use crate::time::Span;
use crate::ui::lane::{Asked, Lanes, edges};
use crate::ui::widgets::strip::{AHEAD, BEHIND, BandSpan, Data, Ink, Label, LanePoint, Side};
use crate::ui::words;
use crate::units::{Effort, Watts};

/// How far back power is averaged for the figure and the ink.
pub(super) const MEAN_OVER: Span = Span::from_seconds(3);

/// The mean power over the last three seconds before `at`; nothing where no point of them has any.
///
/// `ink` is in the order of time.
pub(super) fn mean_power(ink: &[InkPoint], at: Span) -> Option<Watts> {
    let from = at.less(MEAN_OVER);
    let (mut sum, mut count) = (0.0, 0u32);
    for point in ink.iter().rev() {
        // Newest first; the window is open at its older end, except at the session's start.
        if point.at > at {
            continue;
        }
        if point.at <= from && from > Span::ZERO {
            break;
        }
        if let Some(power) = point.power {
            sum += power.0;
            count += 1;
        }
    }
    (count > 0).then(|| Watts(sum / f64::from(count)))
}

/// What the strip shows at a moment of the session. `known` says whether power is fresh.
pub(super) fn strip(snapshot: &Snapshot, lanes: &Lanes, session: Span, known: bool) -> Data {
    let map = lanes
        .rider
        .map_or_else(EffortMap::default, |rider| rider.effort_map.clone());
    let mut data = Data {
        lane: lane(snapshot, lanes, session, &map),
        labels: labels(lanes, session, &map),
        bands: bands(lanes, session),
        ..Data::default()
    };
    data.cadence = snapshot
        .ink
        .iter()
        .map(|point| (from_now(point.at, session), point.cadence.map(|rpm| rpm.0)))
        .filter(|&(at, _)| (-BEHIND..=0.0).contains(&at))
        .collect();
    data.cadence_now = snapshot.cadence.fresh().map(|rpm| rpm.0);
    // Without watts there is no ink but cadence: nothing is known to set today's load against.
    if snapshot.ride_mode == RideMode::TargetPower {
        data.ink = ink(snapshot, lanes, session, &map);
        data.now = data.ink.last().copied().filter(|_| known);
    }
    data.spoken = spoken(&data, lanes, session);
    data
}

fn from_now(at: Span, session: Span) -> f64 {
    at.seconds() - session.seconds()
}

/// Whether the plan's figure for what was just ridden has to be hidden, so that it does not sway the answer.
fn hides_past(snapshot: &Snapshot) -> bool {
    matches!(snapshot.question, Some(Question::RateBlock(_)))
}

fn lane(snapshot: &Snapshot, lanes: &Lanes, session: Span, map: &EffortMap) -> Vec<LanePoint> {
    let eased = eased(snapshot, lanes);
    let first = if hides_past(snapshot) {
        session.seconds()
    } else {
        (session.seconds() - BEHIND - 1.0).max(0.0)
    };
    let last = (session.seconds() + AHEAD + 1.0).min(snapshot.session_length.seconds());
    // Whole seconds of the session, so that the lane moves as one piece; and both sides of every boundary.
    let mut moments: Vec<Span> = (first.ceil() as u64..=last.max(0.0) as u64)
        .map(Span::from_seconds)
        .collect();
    moments.extend([
        Span::from_seconds_f64(first),
        Span::from_seconds_f64(last).less(Span(1)),
    ]);
    for lap in lanes.laps {
        let start = lap.start.seconds();
        if start >= first && start <= last {
            moments.extend([lap.start.less(Span(1)), lap.start]);
        }
    }
    moments.sort_unstable();
    moments.dedup();
    moments
        .into_iter()
        .filter(|at| at.seconds() + 1e-5 >= first && at.seconds() < last)
        .map(|at| {
            let lap = lanes.lap_at(at).unwrap_or_default();
            let mut asked = if at < session {
                stood_at(snapshot, lanes, at).unwrap_or_else(|| lanes.at(at))
            } else {
                lanes.at(at)
            };
            if let (Some((eased_lap, share)), Asked::Level(effort, watts)) = (eased, asked)
                && eased_lap == lap
                && at >= session
                && let Some(lower) = map
                    .watts(effort, Watts(100.0))
                    .and_then(|full| map.effort(full * share, Watts(100.0)))
            {
                asked = Asked::Level(lower, watts.map(|watts| watts * share));
            }
            LanePoint {
                at: from_now(at, session),
                edges: edges(asked, lanes.tolerance(lap), map),
            }
        })
        .collect()
}

/// What the lane really stood at, from the newest ink within a second before a past moment.
fn stood_at(snapshot: &Snapshot, lanes: &Lanes, at: Span) -> Option<Asked> {
    if lanes.mode != RideMode::TargetPower {
        return None;
    }
    let upto = snapshot.ink.partition_point(|point| point.at <= at);
    let point = snapshot.ink[..upto].last()?;
    if at.less(point.at) > Span::from_seconds(1) || lanes.lap_at(point.at) != lanes.lap_at(at) {
        return None;
    }
    let (watts, rider) = (point.lane?, lanes.rider?);
    let effort = rider.effort_map.effort(watts, rider.threshold);
    Some(Asked::Level(effort.unwrap_or(Effort(9.5)), Some(watts)))
}

/// The lap that is eased now and to which share: what the lane stands at against what the plan and trim would ask.
fn eased(snapshot: &Snapshot, lanes: &Lanes) -> Option<(usize, f64)> {
    let lap = lanes.lap_at(snapshot.session)?;
    let place = lanes.laps.get(lap)?;
    // While the load still builds up the two cannot be told apart.
    if snapshot.session.less(place.start) < lanes.ramp(lap, true) {
        return None;
    }
    let Asked::Level(_, Some(full)) = lanes.at(snapshot.session) else {
        return None;
    };
    let share = snapshot.lane?.0 / full.0;
    (0.3..0.995).contains(&share).then_some((lap, share))
}

fn ink(snapshot: &Snapshot, lanes: &Lanes, session: Span, map: &EffortMap) -> Vec<Ink> {
    let Some(rider) = lanes.rider else {
        return Vec::new();
    };
    let points = &snapshot.ink;
    points
        .iter()
        .filter(|point| (-BEHIND - 1.0..=0.0).contains(&from_now(point.at, session)))
        .map(|point| {
            let mean = point.power.and_then(|_| mean_power(points, point.at));
            let effort = mean.map(|watts| {
                map.effort(watts, rider.threshold)
                    .map_or(10.0, |effort| effort.0)
            });
            let lap = lanes.lap_at(point.at).unwrap_or_default();
            let asked = stood_at(snapshot, lanes, point.at).unwrap_or_else(|| lanes.at(point.at));
            let side = match (effort, edges(asked, lanes.tolerance(lap), map)) {
                (Some(effort), Some((_, Some(upper)))) if effort > upper => Side::Above,
                (Some(effort), Some((lower, Some(_)))) if effort < lower => Side::Below,
                _ => Side::On,
            };
            Ink {
                at: from_now(point.at, session),
                effort,
                side,
            }
        })
        .collect()
}

fn labels(lanes: &Lanes, session: Span, map: &EffortMap) -> Vec<Label> {
    let mut labels = Vec::new();
    for (index, lap) in lanes.laps.iter().enumerate() {
        let from = from_now(lap.start, session);
        let until = from_now(lap.start + lap.length, session);
        if lap.length == Span::ZERO || until <= 0.0 || from >= AHEAD {
            continue;
        }
        let Some(block) = lanes.block(index) else {
            continue;
        };
        // Words stand for the load that the block settles at, or now, whichever comes later.
        let shown = from.max(0.0);
        let settled = Span::from_seconds_f64(session.seconds().max(lap.start.seconds()))
            + if from > 0.0 {
                lanes.ramp(index, true)
            } else {
                Span::ZERO
            };
        let settled = settled.min((lap.start + lap.length).less(Span(1)));
        let asked = lanes.at(settled);
        let words = match asked {
            Asked::AllOut => "all out".to_owned(),
            Asked::Level(_, Some(watts)) => watts.to_string(),
            Asked::Level(effort, None) => words::talk(effort).to_owned(),
            Asked::Open => block.target.at(0.0).map_or_else(
                || "as you like".to_owned(),
                |load| words::load_words(load, lanes.mode),
            ),
        };
        let above = match edges(asked, lanes.tolerance(index), map) {
            Some((_, upper)) => upper.unwrap_or(10.0),
            None => 5.0,
        };
        labels.push(Label {
            at: shown,
            until,
            above,
            words,
        });
    }
    labels
}

fn bands(lanes: &Lanes, session: Span) -> Vec<BandSpan> {
    lanes
        .laps
        .iter()
        .enumerate()
        .filter_map(|(index, lap)| {
            let from = from_now(lap.start, session);
            let to = from_now(lap.start + lap.length, session);
            let band = lanes.block(index)?.cadence?;
            (to > -BEHIND && from < AHEAD && to > from).then_some(BandSpan { from, to, band })
        })
        .collect()
}

fn spoken(data: &Data, lanes: &Lanes, session: Span) -> String {
    let asked = match lanes.at(session) {
        Asked::AllOut => "all out".to_owned(),
        Asked::Level(effort, watts) => watts.map_or_else(
            || format!("effort {}", words::effort(effort)),
            |watts| format!("effort {}, {watts}", words::effort(effort)),
        ),
        Asked::Open => "no lane".to_owned(),
    };
    let side = match data.now.map(|now| now.side) {
        Some(Side::Above) => "; you are above the lane",
        Some(Side::Below) => "; you are below the lane",
        Some(Side::On) => "; you are on the lane",
        None => "",
    };
    format!("{asked}{side}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn power_is_the_mean_of_three_seconds() {
        let point = |quarter: u64, watts: Option<f64>| InkPoint {
            at: Span::from_millis(quarter * 250),
            power: watts.map(Watts),
            cadence: None,
            lane: None,
        };
        let mut ink: Vec<InkPoint> = (1..=40).map(|n| point(n, Some(100.0))).collect();
        ink.extend((41..=46).map(|n| point(n, Some(200.0))));
        // Twelve points lie in three seconds at four a second: six of each.
        assert_eq!(
            mean_power(&ink, Span::from_millis(46 * 250)),
            Some(Watts(150.0))
        );
        assert_eq!(
            mean_power(&ink, Span::from_millis(40 * 250)),
            Some(Watts(100.0))
        );
        assert_eq!(mean_power(&[point(4, None)], Span::from_seconds(1)), None);
        assert_eq!(mean_power(&[], Span::from_seconds(1)), None);
    }
}
