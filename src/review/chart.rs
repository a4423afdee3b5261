//! The strip of a whole ride as figures: what the room draws, thinned so that a ride of any length has no more points than
//! can be seen.

use super::blocks::is_held;
use super::figures::mean;
use super::layers::half_width;
use super::series::{GAP, stood_ms};
use super::words::clock;
use super::{Asked, Recording};
use crate::record::Row;
use crate::rider::EffortMap;
use crate::units::Watts;

/// So many points of ink at most, each the mean of its seconds.
const POINTS: u64 = 900;
/// So many marks at most: beyond them the room would show nothing but marks. The first ones stay.
const MOST_MARKS: usize = 200;
/// The scale ends here; what lies beyond the map's figures is drawn at its end.
const MOST_EFFORT: f64 = 10.0;

/// Where a point of ink lies against the lane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Above it.
    Above,
    /// In it, or there is none.
    Inside,
    /// Below it.
    Below,
}

/// The lower and the upper edge of a lane on the scale of effort. No upper edge is all out.
pub type Edges = (f64, Option<f64>);

/// The lane at a moment: seconds ridden, and its lower and upper edge on the scale of effort. No upper edge is all out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaneAt {
    /// Seconds ridden.
    pub at: f64,
    /// The edges; none where nothing is asked for.
    pub edges: Option<Edges>,
}

/// The ink at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InkAt {
    /// Seconds ridden.
    pub at: f64,
    /// Effort by this rider's map; none is a gap.
    pub effort: Option<f64>,
    /// Against the lane.
    pub side: Side,
}

/// Something that happened, at its place in the ride.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Seconds ridden.
    pub at: f64,
    /// One letter for the strip.
    pub letter: char,
    /// In words.
    pub words: String,
}

/// A cadence band: from and to in seconds ridden, and the two figures in rpm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandAt {
    /// From.
    pub from: f64,
    /// To.
    pub to: f64,
    /// The lowest and the highest cadence asked for.
    pub band: [f64; 2],
}

/// The strip of a whole ride.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chart {
    /// Seconds ridden.
    pub length: f64,
    /// What was asked for.
    pub lane: Vec<LaneAt>,
    /// What was ridden.
    pub ink: Vec<InkAt>,
    /// Cadence, rpm; none is a gap.
    pub cadence: Vec<(f64, Option<f64>)>,
    /// Heart rate, bpm; none is a gap.
    pub heart: Vec<(f64, Option<f64>)>,
    /// The cadence bands.
    pub bands: Vec<BandAt>,
    /// Pauses, guards, skips, lost links.
    pub marks: Vec<Mark>,
    /// Stretches of more than three seconds without a power, from and to.
    pub gaps: Vec<(f64, f64)>,
}

/// What gets a mark: the event's word, the letter, and what is said of it.
const MARKED: [(&str, char, &str); 13] = [
    ("pause", 'P', entry!("the clock stood")),
    ("gap", 'P', entry!("the computer slept or was held up")),
    (
        "guard",
        'G',
        entry!("the legs were stalling, the brake let off"),
    ),
    ("skip", 'S', entry!("a block was skipped")),
    ("cut", 'S', entry!("a block was left out")),
    ("stretch", 'S', entry!("a block was made longer")),
    ("link-lost", 'L', entry!("a link was lost")),
    ("control-lost", 'L', entry!("control of the brake was lost")),
    ("brake-off", 'B', entry!("the brake was let off by hand")),
    ("ease-down", 'E', entry!("the load was eased")),
    ("ease-block", 'E', entry!("the block was eased by hand")),
    ("mode", 'M', entry!("watts or effort changed")),
    ("mark", '*', entry!("a moment was marked")),
];

/// The strip of a ride.
pub fn chart(recording: &Recording<'_>, asked: &Asked) -> Chart {
    let Some(last) = recording.rows.last() else {
        return Chart::default();
    };
    let length = last.ridden_s;
    let default = EffortMap::default();
    let map = asked
        .rider
        .as_ref()
        .map_or(&default, |rider| &rider.effort_map);
    let threshold = recording.start.threshold;
    let effort = |watts: f64| {
        let effort = map.effort(Watts(watts), threshold);
        effort.map_or(MOST_EFFORT, |effort| effort.0)
    };
    let each = length.div_ceil(POINTS).max(1);
    let mut chart = Chart {
        length: length as f64,
        lane: lane(recording.rows, &effort),
        bands: bands(recording.rows, asked),
        marks: marks(recording),
        gaps: gaps(recording.rows),
        ..Chart::default()
    };
    let mut before: Option<&Row> = None;
    for group in groups(recording.rows, each) {
        let (first, last) = (&group[0], &group[group.len() - 1]);
        let at = (first.ridden_s.saturating_sub(1) + last.ridden_s) as f64 / 2.0;
        // Neither a missing line nor a pause is drawn across.
        if let Some(before) = before
            && (first.ridden_s > before.ridden_s + 1 + GAP
                || stood_ms(before, first) > GAP as i64 * 1000)
        {
            let edge = first.ridden_s as f64 - 1.0;
            chart.ink.push(InkAt {
                at: edge,
                effort: None,
                side: Side::Inside,
            });
            chart.cadence.push((edge, None));
            chart.heart.push((edge, None));
        }
        before = Some(last);
        let of = |value: fn(&Row) -> Option<f64>| mean(group.iter().filter_map(value));
        let power = of(|row| row.power.map(|power| power.0));
        let lane = of(|row| row.lane.map(|lane| lane.0));
        let half = lane.map(|lane| half_width(lane, is_held(first)));
        let side = match (power, lane.zip(half)) {
            (Some(power), Some((lane, half))) if power > lane + half => Side::Above,
            (Some(power), Some((lane, half))) if power < lane - half => Side::Below,
            _ => Side::Inside,
        };
        chart.ink.push(InkAt {
            at,
            effort: power.map(effort),
            side,
        });
        chart
            .cadence
            .push((at, of(|row| row.cadence.map(|rpm| rpm.0))));
        chart
            .heart
            .push((at, of(|row| row.heart_rate.map(|bpm| bpm.0))));
    }
    chart
}

/// The seconds in groups of so many, none of which reaches over a missing line, a pause or a block's beginning.
fn groups(rows: &[Row], each: u64) -> impl Iterator<Item = &[Row]> {
    rows.chunk_by(move |one, next| {
        next.ridden_s == one.ridden_s + 1
            && next.block == one.block
            && stood_ms(one, next) <= GAP as i64 * 1000
            && one.ridden_s.saturating_sub(1) / each == next.ridden_s.saturating_sub(1) / each
    })
}

/// The lane where it begins, changes and ends.
fn lane(rows: &[Row], effort: &impl Fn(f64) -> f64) -> Vec<LaneAt> {
    let edges = |row: &Row| match (row.lane, row.effort) {
        (_, Some(asked)) if asked.0 > 9.0 => Some((9.0, None)),
        (Some(lane), _) => {
            let half = half_width(lane.0, is_held(row));
            Some((effort(lane.0 - half), Some(effort(lane.0 + half))))
        }
        // Where no watts stand for it, the plan's own effort is the lane.
        (None, Some(asked)) => Some((asked.0 - 0.3, Some(asked.0 + 0.3))),
        (None, None) => None,
    };
    let mut lane: Vec<LaneAt> = Vec::new();
    let mut before: Option<(u64, Option<Edges>)> = None;
    for row in rows {
        let now = edges(row);
        let (from, to) = (row.ridden_s as f64 - 1.0, row.ridden_s as f64);
        let follows = before.is_some_and(|(second, _)| row.ridden_s == second + 1);
        let same = follows && before.is_some_and(|(_, old)| near(old, now));
        if !same {
            if let Some((second, old)) = before {
                lane.push(LaneAt {
                    at: second as f64,
                    edges: old,
                });
                if !follows {
                    lane.push(LaneAt {
                        at: second as f64,
                        edges: None,
                    });
                }
            }
            lane.push(LaneAt {
                at: from,
                edges: now,
            });
        }
        before = Some((
            row.ridden_s,
            if same { before.and_then(|b| b.1) } else { now },
        ));
        if row.ridden_s == rows[rows.len() - 1].ridden_s {
            lane.push(LaneAt { at: to, edges: now });
        }
    }
    lane
}

/// Whether two lanes look the same.
fn near(one: Option<Edges>, other: Option<Edges>) -> bool {
    const SEEN: f64 = 0.05;
    match (one, other) {
        (None, None) => true,
        (Some((a, None)), Some((b, None))) => (a - b).abs() < SEEN,
        (Some((a, Some(b))), Some((c, Some(d)))) => (a - c).abs() < SEEN && (b - d).abs() < SEEN,
        _ => false,
    }
}

fn bands(rows: &[Row], asked: &Asked) -> Vec<BandAt> {
    let Some(plan) = &asked.plan else {
        return Vec::new();
    };
    let runs = rows.chunk_by(|one, next| one.block == next.block);
    let band = |run: &[Row]| {
        let index = usize::try_from(run[0].block).ok()?.checked_sub(1)?;
        let band = plan.blocks.get(index)?.cadence?;
        Some(BandAt {
            from: run[0].ridden_s as f64 - 1.0,
            to: run[run.len() - 1].ridden_s as f64,
            band: [band.low.0, band.high.0],
        })
    };
    runs.filter_map(band).collect()
}

fn marks(recording: &Recording<'_>) -> Vec<Mark> {
    let mark = |event: &crate::record::EventLine| {
        let (_, letter, words) = MARKED.iter().find(|(what, ..)| *what == event.what)?;
        let detail = match &*event.what {
            "link-lost" | "mark" if !event.detail.is_empty() => {
                let detail = super::words::plain(&event.detail);
                format!(" ({})", crate::text::translated(&detail))
            }
            _ => String::new(),
        };
        Some(Mark {
            at: event.ridden_s,
            letter: *letter,
            words: format!(
                "{}: {}{detail}",
                clock(event.ridden_s),
                crate::text::word(words)
            ),
        })
    };
    let events = recording.events.iter();
    events.filter_map(mark).take(MOST_MARKS).collect()
}

/// Stretches without a power.
fn gaps(rows: &[Row]) -> Vec<(f64, f64)> {
    let mut gaps = Vec::new();
    let mut known = 0;
    let last = rows.last().map_or(0, |row| row.ridden_s);
    let seconds = rows.iter().filter(|row| row.power.is_some());
    // Without any power the whole is no gap but a ride without it.
    if seconds.clone().next().is_none() {
        return gaps;
    }
    for at in seconds.map(|row| row.ridden_s).chain([last + 1]) {
        if at > known + 1 + GAP {
            gaps.push((known as f64, at as f64 - 1.0));
        }
        known = at;
    }
    gaps
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_that_look_the_same_are_one() {
        assert!(near(Some((5.0, Some(6.0))), Some((5.04, Some(6.04)))));
        assert!(!near(Some((5.0, Some(6.0))), Some((5.06, Some(6.0)))));
        assert!(!near(Some((9.0, None)), Some((9.0, Some(10.0)))));
        assert!(near(None, None));
    }
}
