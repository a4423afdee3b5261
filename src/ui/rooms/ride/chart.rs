//! From a snapshot to what the strip shows.

use crate::engine::snapshot::{InkPoint, Question, Snapshot};
use crate::plan::Brake;
use crate::ride::ahead::Coming;
use crate::ride::{Mode, RideMode};
use crate::rider::EffortMap;
use crate::text::translated;
use crate::time::Span;
use crate::ui::lane::{Asked, Lanes, edges};
use crate::ui::widgets::strip::{AHEAD, BEHIND, BandSpan, Data, Ink, Label, LanePoint, Side};
use crate::ui::words;
use crate::units::{Effort, Watts};

/// How far back power is averaged for the figure and the ink.
pub(super) const POWER_OVER: Span = Span::from_seconds(3);

/// How far back cadence is averaged for the figure.
pub(super) const CADENCE_OVER: Span = Span::from_seconds(2);

/// A point of ink stands for no longer than this: then nothing is known until the next.
const STANDS: Span = Span::from_seconds(1);

/// The mean of a value over the time before `at`, each point weighed by how long it stood; nothing where none is known.
///
/// `ink` is in the order of time.
pub(super) fn mean(
    ink: &[InkPoint],
    at: Span,
    over: Span,
    value: impl Fn(&InkPoint) -> Option<f64>,
) -> Option<f64> {
    let from = at.less(over);
    let upto = ink.partition_point(|point| point.at <= at);
    let (mut sum, mut time, mut until) = (0.0, 0.0, at);
    let mut newest = None;
    for point in ink[..upto].iter().rev() {
        if until <= from && until < at {
            break;
        }
        let known = value(point);
        let stood = until
            .min(point.at + STANDS)
            .less(point.at.max(from))
            .seconds();
        if let Some(known) = known {
            newest = newest.or(Some(known).filter(|_| at.less(point.at) <= STANDS));
            sum += known * stood;
            time += stood;
        }
        until = point.at;
    }
    if time > 0.0 { Some(sum / time) } else { newest }
}

fn mean_power(ink: &[InkPoint], at: Span) -> Option<Watts> {
    mean(ink, at, POWER_OVER, |point| {
        point.power.map(|watts| watts.0)
    })
    .map(Watts)
}

/// What the strip shows at a moment of the session.
pub(super) fn strip(snapshot: &Snapshot, lanes: &Lanes, session: Span) -> Data {
    let map = lanes
        .rider
        .map_or_else(EffortMap::default, |rider| rider.effort_map.clone());
    let until = session + Span::from_seconds_f64(AHEAD + 15.0);
    let coming = match &snapshot.going {
        Some(going) if lanes.mode == RideMode::TargetPower => lanes.ahead(going, until),
        _ => Vec::new(),
    };
    let mut data = Data {
        lane: lane(snapshot, lanes, session, &map, &coming),
        labels: labels(lanes, session, &map, &coming),
        bands: bands(lanes, session),
        broken: is_broken(snapshot, lanes, session),
        ..Data::default()
    };
    data.cadence = snapshot
        .ink
        .iter()
        .map(|point| (from_now(point.at, session), point.cadence.map(|rpm| rpm.0)))
        .filter(|&(at, _)| (-BEHIND..=0.0).contains(&at))
        .collect();
    data.cadence_now = snapshot.cadence.fresh().map(|rpm| rpm.0);
    data.ink = ink(snapshot, lanes, session, &map);
    let inked = data.ink.iter().any(|ink| ink.effort.is_some());
    data.against = match (lanes.mode, &snapshot.meter_led) {
        (RideMode::EffortOnly, _) if inked => word!("against your last like it").to_owned(),
        (RideMode::TargetPower, Some(words)) => translated(words).into_owned(),
        _ => String::new(),
    };
    // The ink ends at now: what stood at its last point stands until the next.
    if snapshot.power.fresh().is_some()
        && let Some(last) = data.ink.last().copied()
        && last.effort.is_some()
        && last.at > -1.0
    {
        let now = Ink { at: 0.0, ..last };
        data.ink.push(now);
        data.now = Some(now);
    }
    data.spoken = spoken(&data, lanes, session, &coming);
    data
}

/// Whether the lane ahead is one that the brake should hold and does not.
fn is_broken(snapshot: &Snapshot, lanes: &Lanes, session: Span) -> bool {
    let held = lanes
        .lap_at(session)
        .and_then(|lap| lanes.block(lap))
        .is_some_and(|block| block.brake == Brake::Held);
    let lost = matches!(snapshot.mode, Mode::Degraded { .. }) || !snapshot.released.is_empty();
    lanes.mode == RideMode::TargetPower && held && lost
}

fn from_now(at: Span, session: Span) -> f64 {
    at.seconds() - session.seconds()
}

/// Whether the plan's figure for what was just ridden has to be hidden, so that it does not sway the answer.
fn hides_past(snapshot: &Snapshot) -> bool {
    matches!(snapshot.question, Some(Question::RateBlock(_)))
}

fn lane(
    snapshot: &Snapshot,
    lanes: &Lanes,
    session: Span,
    map: &EffortMap,
    coming: &[Coming],
) -> Vec<LanePoint> {
    let first = if hides_past(snapshot) {
        session.seconds()
    } else {
        (session.seconds() - BEHIND - 1.0).max(0.0)
    };
    let last = (session.seconds() + AHEAD + 1.0).min(snapshot.session_length.seconds());
    let point = |at: Span, lap: usize, asked: Asked| LanePoint {
        at: from_now(at, session),
        edges: edges(asked, lanes.tolerance(lap), map),
    };
    // From where the snapshot stands on, held loads are drawn as they will be asked for.
    let forecast_from = coming.first().map(|coming| coming.at);
    let mut points: Vec<LanePoint> = moments(lanes, first, last)
        .into_iter()
        .filter(|&at| forecast_from.is_none_or(|from| at < from))
        .map(|at| {
            let lap = lanes.lap_at(at).unwrap_or_default();
            let stood = (at < session)
                .then(|| stood_at(snapshot, lanes, at))
                .flatten();
            point(at, lap, stood.unwrap_or_else(|| lanes.at(at)))
        })
        .collect();
    points.extend(
        coming
            .iter()
            .filter(|coming| coming.at.seconds() >= first && coming.at.seconds() < last)
            .map(|coming| {
                let asked = match coming.watts {
                    Some(watts) => lanes.held(coming.lap, coming.at, Watts(watts)),
                    None => lanes.at(coming.at),
                };
                point(coming.at, coming.lap, asked)
            }),
    );
    thin(points)
}

/// Whole seconds of the session, so that the lane moves as one piece, and both sides of every beat: as many as the
/// window is long, however long the session is.
fn moments(lanes: &Lanes, first: f64, last: f64) -> Vec<Span> {
    let mut moments: Vec<Span> = (first.ceil() as u64..=last.max(0.0) as u64)
        .map(Span::from_seconds)
        .collect();
    moments.extend([
        Span::from_seconds_f64(first),
        Span::from_seconds_f64(last).less(Span(1)),
    ]);
    let begun = lanes
        .laps
        .partition_point(|lap| lap.start.seconds() < first);
    let shown = lanes.laps[begun..].iter().map(|lap| lap.start);
    for start in shown.take_while(|start| start.seconds() <= last) {
        moments.extend([start.less(Span(1)), start]);
    }
    moments.sort_unstable();
    moments.dedup();
    moments.retain(|at| at.seconds() + 1e-5 >= first && at.seconds() < last);
    moments
}

/// Leaves out points between two others that ask for the same.
fn thin(points: Vec<LanePoint>) -> Vec<LanePoint> {
    let mut kept: Vec<LanePoint> = Vec::with_capacity(points.len());
    for (index, point) in points.iter().enumerate() {
        let same =
            |other: Option<&LanePoint>| other.is_some_and(|other| other.edges == point.edges);
        if !(same(kept.last()) && same(points.get(index + 1))) {
            kept.push(*point);
        }
    }
    kept
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
            let lap = lanes.lap_at(point.at).unwrap_or_default();
            let asked = stood_at(snapshot, lanes, point.at).unwrap_or_else(|| lanes.at(point.at));
            let effort = mean.and_then(|watts| match lanes.mode {
                RideMode::TargetPower => Some(
                    map.effort(watts, rider.threshold)
                        .map_or(10.0, |effort| effort.0),
                ),
                // Without watts: as far from the aim as today's load is from that of the last block like this one.
                RideMode::EffortOnly => against(asked, watts, point.lane?, map),
            });
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

/// Where a load lies on the scale of effort if `last` is what the aim was ridden at.
fn against(asked: Asked, watts: Watts, last: Watts, map: &EffortMap) -> Option<f64> {
    let Asked::Level(aim, _) = asked else {
        return None;
    };
    if last.0 <= 0.0 {
        return None;
    }
    let hundred = Watts(100.0);
    let share = map.watts(aim, hundred)? * (watts.0 / last.0);
    Some(map.effort(share, hundred).map_or(10.0, |effort| effort.0))
}

fn labels(lanes: &Lanes, session: Span, map: &EffortMap, coming: &[Coming]) -> Vec<Label> {
    let mut labels = Vec::new();
    for (index, lap) in lanes.laps.iter().enumerate().skip(lanes.not_over(session)) {
        let from = from_now(lap.start, session);
        let until = from_now(lap.end(), session);
        if from >= AHEAD {
            break;
        }
        if lap.length == Span::ZERO || until <= 0.0 {
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
        let asked = asked_at(lanes, settled, coming);
        let words = match asked {
            Asked::AllOut => word!("all out" # "of a load").to_owned(),
            Asked::Level(_, Some(watts)) => watts.to_string(),
            Asked::Level(effort, None) => words::effort(effort),
            Asked::Open => block.target.at(0.0).map_or_else(
                || word!("as you like").to_owned(),
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
    let first = lanes.not_over(session.less(Span::from_seconds_f64(BEHIND)));
    let laps = lanes.laps.iter().enumerate().skip(first);
    laps.take_while(|(_, lap)| from_now(lap.start, session) < AHEAD)
        .filter_map(|(index, lap)| {
            let from = from_now(lap.start, session);
            let to = from_now(lap.end(), session);
            let band = lanes.block(index)?.cadence?;
            (to > -BEHIND && to > from).then_some(BandSpan { from, to, band })
        })
        .collect()
}

/// What is asked for at a moment: the held load that is coming, where there is one.
fn asked_at(lanes: &Lanes, at: Span, coming: &[Coming]) -> Asked {
    let upto = coming.partition_point(|coming| coming.at <= at);
    match coming[..upto].last() {
        Some(&Coming {
            at: from,
            lap,
            watts: Some(watts),
        }) if at.less(from) <= Span::from_seconds(1) => lanes.held(lap, from, Watts(watts)),
        _ => lanes.at(at),
    }
}

fn spoken(data: &Data, lanes: &Lanes, session: Span, coming: &[Coming]) -> String {
    let asked = match asked_at(lanes, session, coming) {
        Asked::AllOut => word!("all out" # "of a load").to_owned(),
        Asked::Level(effort, watts) => {
            let effort = say!("effort {effort}", effort = words::effort(effort));
            watts.map_or_else(|| effort.clone(), |watts| format!("{effort}, {watts}"))
        }
        Asked::Open => word!("no lane").to_owned(),
    };
    let side = match data.now.map(|now| now.side) {
        Some(Side::Above) => word!("; you are above the lane"),
        Some(Side::Below) => word!("; you are below the lane"),
        Some(Side::On) => word!("; you are on the lane"),
        None => "",
    };
    let broken = if data.broken { word!(", not held") } else { "" };
    let against = match data.against.as_str() {
        "" => String::new(),
        words => format!("; {}", words::inside(words.trim_end_matches('.'))),
    };
    format!("{asked}{broken}{side}{against}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(quarter: u64, watts: Option<f64>) -> InkPoint {
        InkPoint {
            at: Span::from_millis(quarter * 250),
            power: watts.map(Watts),
            cadence: None,
            lane: None,
        }
    }

    #[test]
    fn power_is_the_mean_of_three_seconds_weighed_by_time() {
        let mut ink: Vec<InkPoint> = (1..=40).map(|n| point(n, Some(100.0))).collect();
        ink.extend((41..=46).map(|n| point(n, Some(200.0))));
        // At 11.5 s the 200 W have stood since 10.25 s: 1.25 s of 200 and 1.75 s of 100 are 425 J in 3 s.
        let at = |quarter: u64| mean_power(&ink, Span::from_millis(quarter * 250)).map(|w| w.0);
        assert!((at(46).unwrap_or(0.0) - 425.0 / 3.0).abs() < 1e-9);
        assert_eq!(at(40), Some(100.0));
        assert_eq!(at(1), Some(100.0), "a first point is its own mean");
        assert_eq!(mean_power(&[point(4, None)], Span::from_seconds(1)), None);
        assert_eq!(mean_power(&[], Span::from_seconds(1)), None);
    }

    #[test]
    fn a_gap_has_no_weight() {
        let ink = [
            point(1, Some(100.0)),
            point(2, None),
            point(8, None),
            point(9, Some(300.0)),
        ];
        // In the three seconds before 3 s: 100 W stood from .25 to .5 s, 300 W from 2.25 to 3 s.
        let mean = mean_power(&ink, Span::from_seconds(3)).map(|w| w.0);
        assert!((mean.unwrap_or(0.0) - 250.0).abs() < 1e-9, "{mean:?}");
        assert_eq!(
            mean_power(&ink[..1], Span::from_seconds(9)),
            None,
            "long gone"
        );
    }

    #[test]
    fn effort_only_ink_lies_as_far_off_as_the_last_block_like_it() {
        // Effort 7 is 82 % by the default map: a tenth over is 90.2 %, which lies (90.2 - 82) / 9 over 7.
        let map = EffortMap::default();
        let asked = Asked::Level(Effort(7.0), None);
        let at = against(asked, Watts(198.0), Watts(180.0), &map);
        assert!((at.unwrap_or(0.0) - (7.0 + 8.2 / 9.0)).abs() < 1e-9);
        assert_eq!(against(asked, Watts(180.0), Watts(0.0), &map), None);
        assert_eq!(
            against(Asked::AllOut, Watts(180.0), Watts(90.0), &map),
            None
        );
    }
}
