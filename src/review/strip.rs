//! The strip of a whole ride as a drawing: the lane and the ink on the scale of effort, cadence with its band under it.

use std::fmt::Write as _;

use super::blocks::{BlockResult, is_held};
use super::layers::half_width;
use super::words::clock;
use super::{Asked, Recording};
use crate::record::Row;
use crate::rider::EffortMap;
use crate::units::Watts;

/// A strip is so wide, in units of the drawing.
const WIDTH: f64 = 1000.0;
const LEFT: f64 = 34.0;
const RIGHT: f64 = 6.0;
/// The top and the foot of the scale of effort.
const TOP: f64 = 14.0;
const FOOT: f64 = 224.0;
/// Of cadence.
const CADENCE_TOP: f64 = 240.0;
const CADENCE_FOOT: f64 = 300.0;
const HEIGHT: f64 = 320.0;
/// The scale ends a little above all out.
const MOST_EFFORT: f64 = 10.0;
/// A strip holds so many seconds at most; a longer ride is drawn in several of one length.
const LONGEST: u64 = 4500;
/// Points of ink in a strip.
const POINTS: u64 = 600;
/// The lowest and the highest cadence that is drawn, rpm.
const CADENCES: (f64, f64) = (40.0, 130.0);
/// Ink off the lane for so many seconds has a mark that points the way back.
const MARKED: f64 = 15.0;

/// The strips of a ride, one under the other, as drawings in SVG.
pub fn strips(recording: &Recording<'_>, asked: &Asked, blocks: &[BlockResult]) -> Vec<String> {
    let Some(last) = recording.rows.last() else {
        return Vec::new();
    };
    let count = last.ridden_s.div_ceil(LONGEST).max(1);
    let length = last.ridden_s.div_ceil(count);
    let default = EffortMap::default();
    let map = asked
        .rider
        .as_ref()
        .map_or(&default, |rider| &rider.effort_map);
    (0..count)
        .map(|number| {
            let from = number * length;
            let strip = Strip {
                from: from as f64,
                length: length as f64,
                map,
                threshold: recording.start.threshold,
            };
            let inside = |row: &&Row| row.ridden_s > from && row.ridden_s <= from + length;
            let rows: Vec<&Row> = recording.rows.iter().filter(inside).collect();
            strip.draw(&rows, blocks)
        })
        .collect()
}

struct Strip<'a> {
    from: f64,
    length: f64,
    map: &'a EffortMap,
    threshold: Watts,
}

/// How a point of ink lies against the lane.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Lies {
    Inside,
    Above,
    Below,
}

impl Lies {
    const fn class(self) -> &'static str {
        match self {
            Self::Inside => "ink",
            Self::Above => "ink above",
            Self::Below => "ink below",
        }
    }
}

impl Strip<'_> {
    fn x(&self, second: f64) -> f64 {
        LEFT + (second - self.from) / self.length * (WIDTH - LEFT - RIGHT)
    }

    fn y(effort: f64) -> f64 {
        FOOT - effort.clamp(0.0, MOST_EFFORT) / MOST_EFFORT * (FOOT - TOP)
    }

    fn effort(&self, watts: f64) -> f64 {
        let effort = self.map.effort(Watts(watts), self.threshold);
        effort.map_or(MOST_EFFORT, |effort| effort.0)
    }

    fn draw(&self, rows: &[&Row], blocks: &[BlockResult]) -> String {
        let mut svg = format!(
            "<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"{}\">\n",
            word!(
                "The ride as a strip: effort asked for and ridden over time, with cadence under it"
            )
        );
        for effort in (0..=10).step_by(2) {
            let y = Self::y(f64::from(effort));
            // Writing to a String cannot fail, here and below.
            let _ = writeln!(
                svg,
                "<path class=\"rule\" d=\"M{LEFT} {y:.1}H{:.1}\"/><text class=\"scale\" x=\"{:.1}\" y=\"{:.1}\">{effort}</text>",
                WIDTH - RIGHT,
                LEFT - 6.0,
                y + 4.0
            );
        }
        self.lane(&mut svg, rows);
        self.ink(&mut svg, rows);
        self.cadence(&mut svg, rows, blocks);
        self.ruler(&mut svg, blocks);
        svg.push_str("</svg>\n");
        svg
    }

    /// Runs of seconds with a lane: a fill between two thin edges; all out is open at the top.
    fn lane(&self, svg: &mut String, rows: &[&Row]) {
        let edges = |row: &Row| match (row.lane, row.effort) {
            (Some(lane), _) => {
                let half = half_width(lane.0, is_held(row));
                Some((
                    self.effort(lane.0 - half),
                    self.effort(lane.0 + half),
                    false,
                ))
            }
            (None, Some(effort)) if effort.0 > 9.0 => Some((9.0, MOST_EFFORT, true)),
            _ => None,
        };
        let alike = |one: &&Row, next: &&Row| {
            next.ridden_s == one.ridden_s + 1
                && edges(one).map(|lane| lane.2) == edges(next).map(|lane| lane.2)
        };
        for run in rows.chunk_by(alike) {
            let Some((_, _, open)) = run.first().and_then(|row| edges(row)) else {
                continue;
            };
            let (mut low, mut high) = (Vec::new(), Vec::new());
            let mut stood: Option<(f64, f64)> = None;
            let mut put = |x: f64, (least, most): (f64, f64)| {
                low.push(format!("{x:.1} {:.1}", Self::y(least)));
                high.push(format!("{x:.1} {:.1}", Self::y(most)));
            };
            for row in run {
                let Some((least, most, _)) = edges(row) else {
                    continue;
                };
                let same = stood
                    .is_some_and(|(a, b)| (a - least).abs() <= 0.02 && (b - most).abs() <= 0.02);
                if !same {
                    // What stood until now ends where the other begins.
                    let x = self.x(row.ridden_s as f64 - 1.0);
                    if let Some(stood) = stood {
                        put(x, stood);
                    }
                    put(x, (least, most));
                    stood = Some((least, most));
                }
            }
            if let (Some(stood), Some(last)) = (stood, run.last()) {
                put(self.x(last.ridden_s as f64), stood);
            }
            let back: Vec<&str> = low.iter().rev().map(String::as_str).collect();
            let _ = writeln!(
                svg,
                "<path class=\"lane\" d=\"M{}L{}Z\"/>",
                high.join("L"),
                back.join("L")
            );
            let _ = writeln!(svg, "<path class=\"edge\" d=\"M{}\"/>", low.join("L"));
            if !open {
                let _ = writeln!(svg, "<path class=\"edge\" d=\"M{}\"/>", high.join("L"));
            }
        }
    }

    /// The seconds in groups, so that a long ride has no more points than can be seen.
    fn groups<'r>(&self, rows: &'r [&'r Row]) -> impl Iterator<Item = &'r [&'r Row]> {
        let each = (self.length as u64).div_ceil(POINTS).max(1);
        rows.chunk_by(move |one, next| {
            next.ridden_s == one.ridden_s + 1
                && (one.ridden_s - 1) / each == (next.ridden_s - 1) / each
        })
    }

    fn ink(&self, svg: &mut String, rows: &[&Row]) {
        let mut points: Vec<Option<(f64, f64, Lies, f64)>> = Vec::new();
        for group in self.groups(rows) {
            let power =
                super::figures::mean(group.iter().filter_map(|row| row.power.map(Watts::get)));
            let Some(power) = power else {
                points.push(None);
                continue;
            };
            let lane =
                super::figures::mean(group.iter().filter_map(|row| row.lane.map(Watts::get)));
            let held = group.first().is_some_and(|row| is_held(row));
            let lies = match lane {
                Some(lane) if power > lane + half_width(lane, held) => Lies::Above,
                Some(lane) if power < lane - half_width(lane, held) => Lies::Below,
                _ => Lies::Inside,
            };
            let (first, last) = (
                group[0].ridden_s as f64 - 1.0,
                group[group.len() - 1].ridden_s as f64,
            );
            points.push(Some((
                self.x((first + last) / 2.0),
                Self::y(self.effort(power)),
                lies,
                group.len() as f64,
            )));
        }
        let mut before: Option<(f64, f64)> = None;
        let alike = |one: &Option<(f64, f64, Lies, f64)>, next: &Option<(f64, f64, Lies, f64)>| {
            one.map(|point| point.2) == next.map(|point| point.2)
        };
        for run in points.chunk_by(alike) {
            let known: Vec<_> = run.iter().flatten().collect();
            let (Some(first), Some(last)) = (known.first(), known.last()) else {
                before = None;
                continue;
            };
            let mut line: Vec<String> = before
                .iter()
                .map(|(x, y)| format!("{x:.1} {y:.1}"))
                .collect();
            line.extend(
                known
                    .iter()
                    .map(|point| format!("{:.1} {:.1}", point.0, point.1)),
            );
            let _ = writeln!(
                svg,
                "<path class=\"{}\" d=\"M{}\"/>",
                first.2.class(),
                line.join("L")
            );
            before = Some((last.0, last.1));
            let seconds: f64 = known.iter().map(|point| point.3).sum();
            if first.2 != Lies::Inside && seconds >= MARKED {
                let middle = known[known.len() / 2];
                // A small mark beside the ink that points back to the lane.
                let (away, back) = if first.2 == Lies::Above {
                    (-13.0, 7.0)
                } else {
                    (13.0, -7.0)
                };
                let (x, y) = (middle.0, (middle.1 + away).clamp(4.0, FOOT + 10.0));
                let _ = writeln!(
                    svg,
                    "<path class=\"mark {}\" d=\"M{:.1} {y:.1}h8l-4 {back}Z\"/>",
                    first.2.class().trim_start_matches("ink "),
                    x - 4.0
                );
            }
        }
    }

    fn cadence(&self, svg: &mut String, rows: &[&Row], blocks: &[BlockResult]) {
        let y = |cadence: f64| {
            let share =
                (cadence.clamp(CADENCES.0, CADENCES.1) - CADENCES.0) / (CADENCES.1 - CADENCES.0);
            CADENCE_FOOT - share * (CADENCE_FOOT - CADENCE_TOP)
        };
        for block in blocks {
            let (from, to) = (
                block.start_s as f64,
                (block.start_s + block.ridden_s) as f64,
            );
            let (from, to) = (from.max(self.from), to.min(self.from + self.length));
            if let (Some([low, high]), true) = (block.cadence.band_rpm, to > from) {
                let (top, foot) = (y(high) - 1.0, y(low) + 1.0);
                let _ = writeln!(
                    svg,
                    "<rect class=\"lane\" x=\"{:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
                    self.x(from),
                    self.x(to) - self.x(from),
                    foot - top
                );
            }
        }
        for rpm in [60.0, 90.0, 120.0] {
            let _ = writeln!(
                svg,
                "<text class=\"scale\" x=\"{:.1}\" y=\"{:.1}\">{rpm}</text>",
                LEFT - 6.0,
                y(rpm) + 4.0
            );
        }
        let mut run: Vec<String> = Vec::new();
        let put = |svg: &mut String, run: &mut Vec<String>| {
            if !run.is_empty() {
                let _ = writeln!(svg, "<path class=\"ink thin\" d=\"M{}\"/>", run.join("L"));
                run.clear();
            }
        };
        for group in self.groups(rows) {
            let cadence =
                super::figures::mean(group.iter().filter_map(|row| row.cadence.map(|rpm| rpm.0)));
            match cadence {
                Some(cadence) => {
                    let middle = group[0].ridden_s as f64 - 1.0 + group.len() as f64 / 2.0;
                    run.push(format!("{:.1} {:.1}", self.x(middle), y(cadence)));
                }
                None => put(svg, &mut run),
            }
        }
        put(svg, &mut run);
    }

    /// Where blocks begin, and the clock.
    fn ruler(&self, svg: &mut String, blocks: &[BlockResult]) {
        for block in blocks {
            let at = block.start_s as f64;
            if at >= self.from && at < self.from + self.length {
                let x = self.x(at);
                let _ = writeln!(
                    svg,
                    "<path class=\"beat\" d=\"M{x:.1} {TOP}V{CADENCE_FOOT}\"/>"
                );
            }
        }
        let step = [60.0, 120.0, 300.0, 600.0, 1200.0]
            .into_iter()
            .find(|step| self.length / step <= 13.0)
            .unwrap_or(1800.0);
        let mut at = (self.from / step).ceil() * step;
        while at <= self.from + self.length {
            let _ = writeln!(
                svg,
                "<text class=\"clock\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
                self.x(at),
                HEIGHT - 5.0,
                clock(at)
            );
            at += step;
        }
    }
}
