//! The strip chart: a fixed now line, the plan coming in from the right as a lane, the past leaving to the left as ink.

mod words;

use egui::epaint::{Mesh, Vertex, WHITE_UV};
use egui::{Align2, Color32, Painter, Pos2, Rect, Shape, Stroke, Ui, pos2, vec2};

use super::{Look, name};
use crate::plan::CadenceBand;
use crate::ui::theme::{regular, size};

/// Seconds of the past that are shown: with [`AHEAD`], now stands three tenths from the left.
pub const BEHIND: f64 = 40.5;

/// Seconds of the plan that are shown.
pub const AHEAD: f64 = 94.5;

/// The lane at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LanePoint {
    /// Seconds from now; negative in the past. In a preview: seconds of the session.
    pub at: f64,
    /// Lower and upper edge on the effort scale; none where nothing is asked for. An upper edge of none is all out.
    pub edges: Option<(f64, Option<f64>)>,
}

/// On which side of the lane the rider is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Over the upper edge.
    Above,
    /// In the lane, or there is none to be off.
    On,
    /// Under the lower edge.
    Below,
}

/// One point of ink.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ink {
    /// Seconds from now.
    pub at: f64,
    /// On the effort scale; 10 where it lies beyond the scale's figures. None where power was not known: a gap.
    pub effort: Option<f64>,
    /// Against the lane of that moment.
    pub side: Side,
}

/// Words at the lane.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Where the words begin, seconds from now.
    pub at: f64,
    /// Where their block ends: they are drawn as far as they fit.
    pub until: f64,
    /// The lane's upper edge there.
    pub above: f64,
    /// The words.
    pub words: String,
}

/// One stretch of a cadence band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandSpan {
    /// From, seconds from now.
    pub from: f64,
    /// To, seconds from now.
    pub to: f64,
    /// The band.
    pub band: CadenceBand,
}

/// Everything that the strip shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Data {
    /// The lane, in the order of time.
    pub lane: Vec<LanePoint>,
    /// What the rider did, in the order of time; empty in effort-only mode.
    pub ink: Vec<Ink>,
    /// Where the ink stands now.
    pub now: Option<Ink>,
    /// Words at the lane.
    pub labels: Vec<Label>,
    /// The cadence bands.
    pub bands: Vec<BandSpan>,
    /// Cadence, seconds from now and turns a minute; none is a gap.
    pub cadence: Vec<(f64, Option<f64>)>,
    /// The cadence now, where it is fresh.
    pub cadence_now: Option<f64>,
    /// Whether the brake should hold the lane ahead and does not: its edges are then broken and it has no fill.
    pub broken: bool,
    /// What the ink is set against, where that is not what the trainer says of its own watts; empty where it is, or where
    /// there is no ink. Quiet, and left out where it has no room.
    pub against: String,
    /// Whether it stands alone: no cadence beneath it, and its room is the lane's.
    pub alone: bool,
    /// What it shows, in words.
    pub spoken: String,
}

impl Data {
    /// The marks that point the way back: one for each time off the lane of a second or more, at its farthest point.
    pub fn marks(&self) -> Vec<Ink> {
        let mut marks = Vec::new();
        let mut rest = self.ink.as_slice();
        while let Some(first) = rest.first() {
            let same = |point: &&Ink| point.side == first.side && point.effort.is_some();
            let run = rest.iter().take_while(same).count().max(1);
            let (off, after) = rest.split_at(run);
            rest = after;
            let long = off[run - 1].at - first.at >= 1.0;
            let farthest = off
                .iter()
                .filter_map(|point| Some((point.effort?, *point)))
                .reduce(|far, next| {
                    let farther = (next.0 > far.0) == (first.side == Side::Above);
                    if farther && next.0 != far.0 {
                        next
                    } else {
                        far
                    }
                });
            if let (true, true, Some((_, point))) = (first.side != Side::On, long, farthest) {
                marks.push(point);
            }
        }
        marks
    }
}

/// Where seconds and efforts lie in a rectangle.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    /// The plot.
    pub rect: Rect,
    /// The moment at its left edge.
    pub from: f64,
    /// The moment at its right edge.
    pub to: f64,
}

impl Scale {
    /// The place of a moment.
    pub fn x(&self, at: f64) -> f32 {
        self.rect.left() + self.rect.width() * ((at - self.from) / (self.to - self.from)) as f32
    }

    /// The place of an effort.
    pub fn y(&self, effort: f64) -> f32 {
        self.rect.bottom() - self.rect.height() * (effort.clamp(0.0, 10.0) / 10.0) as f32
    }

    fn at(&self, at: f64, effort: f64) -> Pos2 {
        pos2(self.x(at), self.y(effort))
    }
}

/// Draws the lane: one quiet fill between two thin edges, open at the top where it is all out.
pub fn lane(painter: &Painter, scale: &Scale, points: &[LanePoint], look: Look) {
    lane_drawn(painter, scale, points, false, look);
}

fn lane_drawn(painter: &Painter, scale: &Scale, points: &[LanePoint], broken: bool, look: Look) {
    let stroke = Stroke::new(look.pt(1.8), look.colours.edge);
    let mut mesh = Mesh::default();
    let corner = |pos: Pos2| Vertex {
        pos,
        uv: WHITE_UV,
        color: look.colours.lane,
    };
    let mut lines: Vec<Vec<Pos2>> = Vec::new();
    let (mut low, mut high) = (Vec::new(), Vec::new());
    let mut before: Option<(Pos2, Pos2)> = None;
    for point in points {
        let Some((lower, upper)) = point.edges else {
            lines.push(std::mem::take(&mut low));
            lines.push(std::mem::take(&mut high));
            before = None;
            continue;
        };
        let foot = scale.at(point.at, lower);
        let head = scale.at(point.at, upper.unwrap_or(10.0));
        if let Some((old_foot, old_head)) = before {
            let first = mesh.vertices.len() as u32;
            mesh.vertices
                .extend([old_foot, old_head, head, foot].map(corner));
            mesh.add_triangle(first, first + 1, first + 2);
            mesh.add_triangle(first, first + 2, first + 3);
        }
        before = Some((foot, head));
        low.push(foot);
        if upper.is_some() {
            high.push(head);
        } else {
            // The side of an open lane still has an edge where the lane rises to it.
            if !high.is_empty() {
                high.push(pos2(foot.x, scale.rect.top()));
            }
            lines.push(std::mem::take(&mut high));
        }
    }
    lines.push(low);
    lines.push(high);
    if broken {
        for line in lines.iter().filter(|line| line.len() > 1) {
            painter.extend(Shape::dashed_line(line, stroke, look.pt(9.0), look.pt(9.0)));
        }
        return;
    }
    painter.add(Shape::mesh(mesh));
    for line in lines.into_iter().filter(|line| line.len() > 1) {
        painter.line(line, stroke);
    }
}

/// The lane up to now and from now on; both have a point at now, where the lane runs through it.
fn parted_now(points: &[LanePoint]) -> (Vec<LanePoint>, Vec<LanePoint>) {
    let (past, ahead) = points.split_at(points.partition_point(|point| point.at < 0.0));
    let (mut past, mut ahead) = (past.to_vec(), ahead.to_vec());
    if let (Some(before), Some(after)) = (past.last().copied(), ahead.first().copied()) {
        let share = -before.at / (after.at - before.at);
        let between = |from: f64, to: f64| from + (to - from) * share;
        let edges = match (before.edges, after.edges) {
            (Some((low, Some(high))), Some((next_low, Some(next_high)))) => {
                Some((between(low, next_low), Some(between(high, next_high))))
            }
            (edges, _) => edges,
        };
        past.push(LanePoint { at: 0.0, edges });
        ahead.insert(0, LanePoint { at: 0.0, edges });
    }
    (past, ahead)
}

/// Draws the strip over `rect`: the effort scale at the right, cadence beneath.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let colours = look.colours;
    let size = look.near(size::SMALL);
    let small = regular(size);
    let cadence_high = if data.alone {
        0.0
    } else {
        (size * 2.3).max(look.pt(40.0))
    };
    let plot = Rect::from_min_max(
        pos2(rect.left() + look.pt(8.0), rect.top() + look.pt(16.0)),
        pos2(
            rect.right() - size * 1.7,
            rect.bottom() - cadence_high - size * 1.7 - look.pt(10.0),
        ),
    );
    let scale = Scale {
        rect: plot,
        from: -BEHIND,
        to: AHEAD,
    };
    let painter = ui.painter();
    // As many of the scale's figures as have room.
    let every = if plot.height() < size * 8.5 { 5 } else { 2 };
    for effort in 0..=10u8 {
        let y = scale.y(f64::from(effort));
        let (width, colour) = if effort == 0 {
            (2.0, colours.rule.lerp_to_gamma(colours.quiet, 0.4))
        } else {
            (1.5, colours.rule)
        };
        painter.hline(plot.x_range(), y, Stroke::new(look.pt(width), colour));
        if effort % every == 0 {
            let at = pos2(plot.right() + look.pt(8.0), y);
            painter.text(
                at,
                Align2::LEFT_CENTER,
                effort,
                small.clone(),
                colours.quiet,
            );
        }
    }
    let foot = plot.bottom() + look.pt(8.0);
    for ahead in [30u8, 60, 90] {
        let x = scale.x(f64::from(ahead));
        painter.vline(
            x,
            plot.bottom()..=foot,
            Stroke::new(look.pt(2.0), colours.quiet),
        );
        let words = format!("{}:{:02}", ahead / 60, ahead % 60);
        let galley = painter.layout_no_wrap(words, small.clone(), colours.quiet);
        // The last one ends with the plot, so that it keeps clear of the scale.
        let left = (x - galley.size().x / 2.0).min(plot.right() - galley.size().x);
        if ahead == 60 || galley.size().x * 4.6 < plot.width() * 0.7 {
            painter.galley(pos2(left, foot - size * 0.1), galley, colours.quiet);
        }
    }
    let clipped = painter.with_clip_rect(Rect::from_x_y_ranges(
        plot.x_range(),
        (plot.top() - look.pt(16.0))..=(plot.bottom() + look.pt(2.0)),
    ));
    if data.broken {
        let (past, ahead) = parted_now(&data.lane);
        lane(&clipped, &scale, &past, look);
        lane_drawn(&clipped, &scale, &ahead, true, look);
    } else {
        lane(&clipped, &scale, &data.lane, look);
    }
    words::labels(painter, &scale, &data.labels, look);
    now_line(painter, &scale, rect, look);
    ink(&clipped, &scale, data, look);
    if !data.against.is_empty() {
        words::against(painter, &scale, data, look);
    }
    if !data.alone {
        let cadence_rect = Rect::from_min_max(
            pos2(plot.left(), rect.bottom() - cadence_high),
            pos2(plot.right(), rect.bottom() - look.pt(2.0)),
        );
        cadence(painter, cadence_rect, data, look);
    }
    name(ui, rect, entry!("Strip"), &data.spoken);
}

fn now_line(painter: &Painter, scale: &Scale, rect: Rect, look: Look) {
    let stroke = Stroke::new(look.pt(3.0), look.colours.ink);
    painter.vline(scale.x(0.0), rect.y_range(), stroke);
}

/// The colour of ink on a side of the lane.
fn colour(side: Side, look: Look) -> Color32 {
    match side {
        Side::Above => look.colours.above,
        Side::On => look.colours.ink,
        Side::Below => look.colours.below,
    }
}

fn ink(painter: &Painter, scale: &Scale, data: &Data, look: Look) {
    let width = look.pt(6.0);
    for pair in data.ink.windows(2) {
        if let (Some(from), Some(to)) = (pair[0].effort, pair[1].effort) {
            let ends = [scale.at(pair[0].at, from), scale.at(pair[1].at, to)];
            let colour = colour(pair[1].side, look);
            painter.line_segment(ends, Stroke::new(width, colour));
            painter.circle_filled(ends[1], width / 2.0, colour);
        }
    }
    // One for the past, unless the time off the lane is still going on: then the one at now says it.
    let still_off = |mark: &Ink| {
        data.now.is_some_and(|now| {
            let back = |ink: &&Ink| ink.at >= mark.at;
            let since = data.ink.iter().rev().take_while(back);
            since.clone().all(|ink| ink.side == now.side) && mark.side == now.side
        })
    };
    for mark in data.marks().iter().filter(|mark| !still_off(mark)) {
        points_back(painter, scale, mark, 24.0, look);
    }
    if let Some(now) = data.now
        && let Some(effort) = now.effort
    {
        let at = scale.at(0.0, effort);
        painter.circle_filled(at, look.pt(11.0), colour(now.side, look));
        if now.side != Side::On {
            points_back(painter, scale, &now, 38.0, look);
        } else if effort >= 10.0 {
            // Beyond the scale's figures: the ink stops at the top, and a mark points on.
            let tip = at - vec2(0.0, look.pt(16.0));
            let arm = look.pt(9.0);
            let line = vec![tip + vec2(-arm, arm * 0.6), tip, tip + vec2(arm, arm * 0.6)];
            painter.line(line, Stroke::new(look.pt(3.5), look.colours.ink));
        }
    }
}

/// A solid arrow head beyond the ink that points back to the lane, so that nobody needs to tell hues apart: over the ink
/// and downwards, or under it and upwards. `wide` is its width at the reference window.
fn points_back(painter: &Painter, scale: &Scale, ink: &Ink, wide: f32, look: Look) {
    let Some(effort) = ink.effort else { return };
    let away = if ink.side == Side::Above { -1.0 } else { 1.0 };
    let at = scale.at(ink.at, effort);
    let wide = look.pt(wide).max(look.least * wide / 60.0);
    let (high, gap) = (wide * 0.75, look.pt(17.0));
    // At the very top and at the very foot there is no room beyond the ink: the mark then lies between ink and lane.
    let farthest = at.y + (gap + high) * away;
    let beyond = farthest >= scale.rect.top() - look.pt(14.0) && farthest <= scale.rect.bottom();
    let (tip, base) = if beyond {
        (gap * away, (gap + high) * away)
    } else {
        (-(gap + high) * away, -gap * away)
    };
    let corner = |across: f32, along: f32| at + vec2(across, along);
    painter.add(Shape::convex_polygon(
        vec![
            corner(-wide / 2.0, base),
            corner(wide / 2.0, base),
            corner(0.0, tip),
        ],
        colour(ink.side, look),
        Stroke::NONE,
    ));
}

fn cadence(painter: &Painter, rect: Rect, data: &Data, look: Look) {
    let colours = look.colours;
    let here = data
        .bands
        .iter()
        .find(|span| span.from <= 0.0 && span.to > 0.0)
        .or(data.bands.first());
    let middle = here.map_or(80.0, |span| (span.band.low.0 + span.band.high.0) / 2.0);
    let reach = 22.0;
    let scale = Scale {
        rect,
        from: -BEHIND,
        to: AHEAD,
    };
    let y = |rpm: f64| {
        let share = ((rpm - middle + reach) / (2.0 * reach)).clamp(0.0, 1.0) as f32;
        rect.bottom() - rect.height() * share
    };
    for span in &data.bands {
        let (left, right) = (scale.x(span.from.max(-BEHIND)), scale.x(span.to.min(AHEAD)));
        if right > left {
            let (low, high) = (y(span.band.low.0), y(span.band.high.0));
            let half = ((low - high) / 2.0).max(look.pt(3.0));
            let centre = (low + high) / 2.0;
            let band = Rect::from_min_max(pos2(left, centre - half), pos2(right, centre + half));
            painter.rect_filled(band, 0.0, colours.lane);
        }
    }
    let stroke = Stroke::new(look.pt(3.0), colours.ink);
    for pair in data.cadence.windows(2) {
        if let ((from, Some(a)), (to, Some(b))) = (pair[0], pair[1])
            && from >= -BEHIND
        {
            painter.line_segment([pos2(scale.x(from), y(a)), pos2(scale.x(to), y(b))], stroke);
        }
    }
    if let Some(rpm) = data.cadence_now {
        painter.circle_filled(pos2(scale.x(0.0), y(rpm)), look.pt(6.0), colours.ink);
    }
    if let Some(span) = here {
        let font = regular(look.near(size::SMALL - 2.0));
        let x = rect.right() + look.pt(8.0);
        let figure = |rpm: f64, anchor: Align2| {
            let words = format!("{rpm:.0}");
            painter.text(
                pos2(x, y(middle)),
                anchor,
                words,
                font.clone(),
                colours.quiet,
            );
        };
        if span.band.low == span.band.high {
            figure(span.band.low.0, Align2::LEFT_CENTER);
        } else {
            figure(span.band.high.0, Align2::LEFT_BOTTOM);
            figure(span.band.low.0, Align2::LEFT_TOP);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lane_that_is_no_longer_held_goes_on_broken_from_now() {
        let point = |at: f64, lower: f64| LanePoint {
            at,
            edges: Some((lower, Some(lower + 1.0))),
        };
        // From 4 at half a minute ago to 8 in a minute and a half: a quarter of the way lies behind, at 5.
        let (past, ahead) = parted_now(&[point(-30.0, 4.0), point(90.0, 8.0)]);
        assert_eq!(past, [point(-30.0, 4.0), point(0.0, 5.0)]);
        assert_eq!(ahead, [point(0.0, 5.0), point(90.0, 8.0)]);
        let (past, ahead) = parted_now(&[point(3.0, 4.0)]);
        assert_eq!((past.len(), ahead.len()), (0, 1), "nothing of the past");
    }
}
