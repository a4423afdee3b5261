//! The strip of the ride: lane and ink on the scale of effort, what happened over it, cadence with its band under it.

use egui::{Align2, Painter, Pos2, Rect, Shape, Stroke, Ui, pos2};

use super::Data;
use crate::review::chart::{Chart, InkAt, LaneAt, Side};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::strip::{LanePoint, Scale, lane};
use crate::ui::widgets::{Look, name};

// The room's lane and the window's are one width: what is a lane there must be one here.
const _: () = assert!(
    crate::ui::lane::TOLERANCE_HELD == crate::review::layers::LANE_HELD
        && crate::ui::lane::TOLERANCE_FREE == crate::review::layers::LANE_FREE
);

/// Ink off the lane for so many seconds has a mark that points the way back.
const MARKED: f64 = 15.0;

/// Draws it over `rect`.
pub(super) fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let chart = &data.chart;
    let painter = ui.painter();
    let colours = look.colours;
    let note = look.pt(size::NOTE - 2.0);
    let low = rect.height() < look.pt(170.0);
    let head = if chart.marks.is_empty() {
        look.pt(6.0)
    } else {
        note * 1.4
    };
    let cadence_high = if low {
        0.0
    } else {
        look.pt(44.0).min(rect.height() * 0.18)
    };
    let minutes = note * 1.5;
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + head),
        pos2(
            rect.right() - note * 2.3,
            rect.bottom() - minutes - cadence_high - if low { 0.0 } else { look.pt(8.0) },
        ),
    );
    let scale = Scale {
        rect: plot,
        from: 0.0,
        to: chart.length.max(1.0),
    };
    let every = if plot.height() < note * 7.0 { 5 } else { 2 };
    for effort in 0..=10u8 {
        let y = scale.y(f64::from(effort));
        if every == 2 || effort % 5 == 0 {
            painter.hline(plot.x_range(), y, Stroke::new(look.pt(1.2), colours.rule));
        }
        if effort % every == 0 {
            let at = pos2(plot.right() + look.pt(8.0), y);
            painter.text(
                at,
                Align2::LEFT_CENTER,
                effort,
                regular(note),
                colours.quiet,
            );
        }
    }
    let clipped = painter.with_clip_rect(plot.expand(look.pt(3.0)));
    lane(&clipped, &scale, &lane_points(chart), look);
    gaps(&clipped, &scale, chart, look);
    ink(&clipped, &scale, chart, look);
    marks(painter, &scale, rect.top(), chart, note, look);
    if cadence_high > 0.0 {
        let strip = Rect::from_min_max(
            pos2(plot.left(), plot.bottom() + look.pt(8.0)),
            pos2(plot.right(), plot.bottom() + look.pt(8.0) + cadence_high),
        );
        cadence(painter, strip, &scale, chart, note, look);
    }
    ruler(painter, rect, &scale, chart.length, note, look);
    name(ui, rect, word!("Strip"), &data.spoken);
}

/// Where power was not known: a broken line at the foot between two ticks, so that a gap is seen to be one.
fn gaps(painter: &Painter, scale: &Scale, chart: &Chart, look: Look) {
    let stroke = Stroke::new(look.pt(2.0), look.colours.quiet);
    for &(from, to) in &chart.gaps {
        let (left, right) = (scale.x(from), scale.x(to));
        let foot = scale.rect.bottom() - look.pt(3.0);
        let line = [pos2(left, foot), pos2(right, foot)];
        painter.extend(Shape::dashed_line(
            &line,
            stroke,
            look.pt(5.0),
            look.pt(5.0),
        ));
        // A short gap is a short stroke: ticks would be read as letters.
        if right - left > look.pt(24.0) {
            for x in [left, right] {
                painter.vline(x, (foot - look.pt(8.0))..=foot, stroke);
            }
        }
    }
}

fn ink(painter: &Painter, scale: &Scale, chart: &Chart, look: Look) {
    let colour = |side: Side| match side {
        Side::Above => look.colours.above,
        Side::Inside => look.colours.ink,
        Side::Below => look.colours.below,
    };
    // A long ride is drawn with a finer pen.
    let width = look.pt(if chart.length > 5400.0 { 1.8 } else { 2.6 });
    let at = |point: &InkAt| Some(pos2(scale.x(point.at), scale.y(point.effort?)));
    let alike = |one: &InkAt, next: &InkAt| {
        one.side == next.side && one.effort.is_some() == next.effort.is_some()
    };
    let mut before: Option<Pos2> = None;
    for run in chart.ink.chunk_by(alike) {
        let side = run[0].side;
        let line: Vec<Pos2> = before
            .into_iter()
            .chain(run.iter().filter_map(at))
            .collect();
        before = run.last().and_then(at);
        if line.len() > 1 {
            painter.line(line, Stroke::new(width, colour(side)));
        }
        let long = run[run.len() - 1].at - run[0].at >= MARKED;
        if side != Side::Inside
            && long
            && let Some(middle) = run.get(run.len() / 2).and_then(at)
        {
            points_back(painter, middle, side, scale, colour(side), look);
        }
    }
}

/// A small arrow head beyond the ink that points back to the lane.
fn points_back(
    painter: &Painter,
    at: Pos2,
    side: Side,
    scale: &Scale,
    colour: egui::Color32,
    look: Look,
) {
    let (half, high, gap) = (look.pt(5.0), look.pt(8.0), look.pt(6.0));
    let up = side == Side::Above;
    let base = if up {
        at.y - gap - high
    } else {
        at.y + gap + high
    };
    let base = base.clamp(scale.rect.top(), scale.rect.bottom());
    let tip = if up { base + high } else { base - high };
    let corners = vec![
        pos2(at.x - half, base),
        pos2(at.x + half, base),
        pos2(at.x, tip),
    ];
    painter.add(Shape::convex_polygon(corners, colour, Stroke::NONE));
}

/// A letter over each thing that happened; one that would touch its neighbour is left to the tick.
fn marks(painter: &Painter, scale: &Scale, top: f32, chart: &Chart, note: f32, look: Look) {
    let colours = look.colours;
    let mut free = f32::NEG_INFINITY;
    for mark in &chart.marks {
        let x = scale.x(mark.at.min(chart.length));
        let stroke = Stroke::new(look.pt(1.2), colours.quiet);
        painter.vline(
            x,
            (scale.rect.top() - look.pt(3.0))..=scale.rect.bottom(),
            stroke,
        );
        let letter = painter.layout_no_wrap(mark.letter.to_string(), bold(note), colours.ink);
        let left = (x - letter.size().x / 2.0).min(scale.rect.right() - letter.size().x);
        if left < free {
            continue;
        }
        free = left + letter.size().x + look.pt(3.0);
        painter.galley(pos2(left, top), letter, colours.ink);
    }
}

fn cadence(painter: &Painter, rect: Rect, scale: &Scale, chart: &Chart, note: f32, look: Look) {
    let colours = look.colours;
    let bands = chart.bands.iter();
    let least = bands.clone().map(|band| band.band[0]).fold(80.0, f64::min) - 15.0;
    let most = bands.map(|band| band.band[1]).fold(95.0, f64::max) + 15.0;
    let y = |rpm: f64| {
        let share = ((rpm - least) / (most - least)).clamp(0.0, 1.0) as f32;
        rect.bottom() - rect.height() * share
    };
    for band in &chart.bands {
        let (high, low) = (y(band.band[1]), y(band.band[0]));
        let place = Rect::from_min_max(
            pos2(scale.x(band.from), high),
            pos2(scale.x(band.to), low.max(high + look.pt(3.0))),
        );
        painter.rect_filled(place, 0.0, colours.lane);
    }
    let stroke = Stroke::new(look.pt(1.2), colours.rule);
    painter.hline(rect.x_range(), rect.top(), stroke);
    painter.hline(rect.x_range(), rect.bottom(), stroke);
    for run in chart.cadence.split(|(_, rpm)| rpm.is_none()) {
        let points = run.iter();
        let line: Vec<Pos2> = points
            .filter_map(|&(at, rpm)| Some(pos2(scale.x(at), y(rpm?))))
            .collect();
        if line.len() > 1 {
            painter.line(line, Stroke::new(look.pt(1.6), colours.ink));
        }
    }
    let x = rect.right() + look.pt(8.0);
    let font = regular(note * 0.9);
    painter.text(
        pos2(x, rect.center().y),
        Align2::LEFT_CENTER,
        "rpm",
        font,
        colours.quiet,
    );
}

/// Minutes at a round step that leaves the figures room.
fn ruler(painter: &Painter, rect: Rect, scale: &Scale, length: f64, note: f32, look: Look) {
    let colours = look.colours;
    let room = f64::from(scale.rect.width() / (note * 3.6)).max(1.0);
    let step = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 240.0]
        .into_iter()
        .find(|step| length / 60.0 / step <= room)
        .unwrap_or(600.0);
    let top = rect.bottom() - note * 1.4;
    let mut minute = 0.0;
    while minute * 60.0 <= length {
        let words = if minute == 0.0 {
            "min".to_owned()
        } else {
            format!("{minute:.0}")
        };
        let galley = painter.layout_no_wrap(words, regular(note), colours.quiet);
        let x = scale.x(minute * 60.0);
        let tick = (top - look.pt(4.0))..=top;
        painter.vline(x, tick, Stroke::new(look.pt(1.2), colours.quiet));
        let left = if minute == 0.0 {
            x
        } else {
            x - galley.size().x / 2.0
        };
        painter.galley(
            pos2(left.min(rect.right() - galley.size().x), top),
            galley,
            colours.quiet,
        );
        minute += step;
    }
}

/// The lane of a chart as the strip's widget takes it.
fn lane_points(chart: &Chart) -> Vec<LanePoint> {
    let point = |lane: &LaneAt| LanePoint {
        at: lane.at,
        edges: lane.edges,
    };
    chart.lane.iter().map(point).collect()
}
