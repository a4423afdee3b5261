//! The session in Prepare: its whole strip with the loads written at it, its lengths, its row in the list.

use super::timing::{self, TimingRow};
use crate::forecast;
use crate::plan::{Audience, Plan};
use crate::ride::RideMode;
use crate::rider::{EffortMap, Rider};
use crate::time::Span;
use crate::ui::lane::{Asked, Lanes, edges};
use crate::ui::widgets::preview;
use crate::ui::widgets::strip::LanePoint;
use crate::ui::words;

use crate::engine::snapshot::Lap;

/// The chosen session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SessionCard {
    /// Its name.
    pub name: String,
    /// What it is for.
    pub purpose: String,
    /// What was changed in it to fit it to the day.
    pub changes: Vec<String>,
    /// What it would ask of this rider, an estimate; empty where nothing can be said.
    pub forecast: String,
    /// Whether something in it is beyond this rider.
    pub beyond: bool,
    /// Who wrote it, and for whom.
    pub by: String,
    /// How long it is.
    pub whole: String,
    /// How long its main part is.
    pub main: String,
    /// "Main part 37:00, whole 53:00."
    pub lengths: String,
    /// Its whole strip.
    pub preview: preview::Data,
    /// Its blocks, repeats folded.
    pub rows: Vec<TimingRow>,
}

/// A session as it stands in the list.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SessionLine {
    /// Its name.
    pub name: String,
    /// "53:00, main part 37:00".
    pub lengths: String,
    /// Its name for a screen reader: "Four by seven, 53:00".
    pub spoken: String,
    /// Its strip in few points.
    pub preview: preview::Data,
}

/// The chosen session for this rider, with what was changed in it.
pub fn card(
    plan: &Plan,
    changes: Vec<String>,
    rider: Option<&Rider>,
    mode: RideMode,
) -> SessionCard {
    // Who rides by effort wants no figures of this sort.
    let reckoned = match (mode, rider) {
        (RideMode::TargetPower, Some(rider)) => Some(forecast::reckon_briefly(plan, rider)),
        _ => None,
    };
    let laps = laps(plan);
    let lanes = lanes(plan, &laps, rider, mode);
    let by = match (plan.author.as_str(), plan.audience) {
        ("", _) => String::new(),
        (author, Audience::Everyone) => say!("By {author}.", author),
        (author, Audience::Newcomers) => say!("By {author}, for newcomers.", author),
    };
    let lengths = say!(
        "Main part {main}, whole {whole}.",
        main = plan.main_length(),
        whole = plan.length()
    );
    let blocks = plan.starts().map(|(start, block)| {
        let end = start + block.length;
        let words = words::minutes(block.length);
        preview::Block {
            from: start.seconds(),
            to: end.seconds(),
            words,
            main: block.main,
        }
    });
    SessionCard {
        name: plan.name.clone(),
        purpose: plan.purpose.clone(),
        changes,
        beyond: reckoned
            .as_ref()
            .is_some_and(|reckoned| !reckoned.beyond.is_empty()),
        forecast: reckoned.map_or_else(String::new, |reckoned| reckoned.words()),
        by,
        whole: plan.length().to_string(),
        main: plan.main_length().to_string(),
        preview: preview::Data {
            lane: whole_lane(&lanes),
            labels: labels(&lanes),
            blocks: blocks.collect(),
            whole: plan.length().seconds(),
            spoken: say!(
                "{blocks} blocks. {lengths}",
                blocks = plan.blocks.len(),
                lengths
            ),
        },
        lengths,
        rows: timing::rows(&lanes),
    }
}

/// A session's line in the list. Reckoned for the lines in view alone, so that a folder of hundreds costs nothing.
pub fn line(plan: &Plan, rider: Option<&Rider>, mode: RideMode) -> SessionLine {
    let whole = plan.length();
    let laps = laps(plan);
    let lanes = lanes(plan, &laps, rider, mode);
    SessionLine {
        name: plan.name.clone(),
        lengths: say!(
            "{whole}, main part {main}",
            whole,
            main = plan.main_length()
        ),
        spoken: spoken(plan),
        preview: preview::Data {
            lane: coarse_lane(&lanes),
            whole: whole.seconds(),
            ..preview::Data::default()
        },
    }
}

/// A session's name for a screen reader: "Four by seven, 53:00".
pub fn spoken(plan: &Plan) -> String {
    format!("{}, {}", plan.name, plan.length())
}

const fn lanes<'a>(
    plan: &'a Plan,
    laps: &'a [Lap],
    rider: Option<&'a Rider>,
    mode: RideMode,
) -> Lanes<'a> {
    Lanes {
        plan,
        laps,
        rider,
        mode,
        trim_work: 0,
        trim_recovery: 0,
    }
}

/// The blocks as written, one after the other.
fn laps(plan: &Plan) -> Vec<Lap> {
    plan.starts()
        .enumerate()
        .map(|(index, (start, block))| Lap {
            block: index,
            start,
            length: block.length,
        })
        .collect()
}

fn map_of(lanes: &Lanes) -> EffortMap {
    lanes
        .rider
        .map_or_else(EffortMap::default, |rider| rider.effort_map.clone())
}

/// The lane of the whole session: both sides of every boundary, the end of every build-up, and enough in between.
fn whole_lane(lanes: &Lanes) -> Vec<LanePoint> {
    let map = map_of(lanes);
    let mut points = Vec::new();
    for (index, lap) in lanes.laps.iter().enumerate() {
        let end = (lap.start + lap.length).less(Span(1));
        let mut moments = vec![lap.start, (lap.start + lanes.ramp(index, true)).min(end)];
        moments.extend((1..=8u64).map(|eighth| lap.start + Span(lap.length.0 / 8 * eighth)));
        moments.push(end);
        moments.sort_unstable();
        for at in moments.into_iter().filter(|&at| at <= end) {
            points.push(LanePoint {
                at: at.seconds(),
                edges: edges(lanes.at(at), lanes.tolerance(index), &map),
            });
        }
    }
    points
}

/// The lane without its slopes: the two ends of every block.
fn coarse_lane(lanes: &Lanes) -> Vec<LanePoint> {
    let map = map_of(lanes);
    let mut points = Vec::new();
    for (index, (lap, block)) in lanes.laps.iter().zip(&lanes.plan.blocks).enumerate() {
        for (at, share) in [(lap.start, 0.0), (lap.start + lap.length, 1.0)] {
            let asked = block
                .target
                .at(share)
                .map_or(Asked::Open, |load| lanes.load(load, block));
            points.push(LanePoint {
                at: at.seconds(),
                edges: edges(asked, lanes.tolerance(index), &map),
            });
        }
    }
    points
}

/// What is written at the lane: watts where the brake holds them, else the effort; nothing in a free block.
fn labels(lanes: &Lanes) -> Vec<preview::Label> {
    let map = map_of(lanes);
    let mut labels = Vec::new();
    for (index, (lap, block)) in lanes.laps.iter().zip(&lanes.plan.blocks).enumerate() {
        let at = |share: f64| {
            block
                .target
                .at(share)
                .map_or(Asked::Open, |load| lanes.load(load, block))
        };
        let (first, last) = (at(0.0), at(1.0));
        let words = match (first, last) {
            (Asked::AllOut, _) | (_, Asked::AllOut) => word!("all out" # "of a load").to_owned(),
            (Asked::Level(low, low_watts), Asked::Level(high, high_watts)) => {
                match (low_watts, high_watts) {
                    (Some(from), Some(to)) if (from.0 - to.0).abs() < 0.5 => to.to_string(),
                    (Some(from), Some(to)) => say!("{from:.0} to {to}", from = from.0, to),
                    _ if low == high => words::effort(high),
                    _ => say!(
                        "{from} to {to}",
                        from = words::effort(low),
                        to = words::effort(high)
                    ),
                }
            }
            _ => continue,
        };
        let top = |asked| match edges(asked, lanes.tolerance(index), &map) {
            Some((_, upper)) => upper.unwrap_or(10.0),
            None => 0.0,
        };
        labels.push(preview::Label {
            from: lap.start.seconds(),
            to: (lap.start + lap.length).seconds(),
            above: top(first).max(top(last)),
            words,
        });
    }
    labels
}
