//! The strip of the whole session, still, with the ink of the whole ride on it and the ratings over their blocks.

use egui::{Align2, Painter, Rect, Stroke, Ui, pos2};

use crate::engine::snapshot::{InkPoint, Snapshot, Summary};
use crate::ride::RideMode;
use crate::rider::EffortMap;
use crate::time::Span;
use crate::ui::lane::{Asked, Lanes, edges};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::strip::{BandSpan, LanePoint, Scale, lane};
use crate::ui::widgets::{Look, name};
use crate::ui::words;
use crate::units::Effort;

/// Everything that the chart shows; moments are seconds of the session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Data {
    /// The lane as it stood where it was ridden, as it was planned where it was not.
    pub lane: Vec<LanePoint>,
    /// Power on the effort scale, 10 where it lies beyond; none is a gap. Empty in effort-only mode.
    pub ink: Vec<(f64, Option<f64>)>,
    /// Cadence; none is a gap.
    pub cadence: Vec<(f64, Option<f64>)>,
    /// The cadence bands.
    pub bands: Vec<BandSpan>,
    /// The ratings: the middle of their block, and the answer or a dash.
    pub ratings: Vec<(f64, String)>,
    /// The length of the session.
    pub whole: f64,
    /// Where the ride ended, if before the session's end.
    pub ended: Option<f64>,
    /// What it shows, in words.
    pub spoken: String,
}

impl Data {
    /// From the end of a ride.
    pub(super) fn new(snapshot: &Snapshot, summary: &Summary) -> Self {
        let Some(lanes) = Lanes::of(snapshot) else {
            return Self::default();
        };
        let map = lanes
            .rider
            .map_or_else(EffortMap::default, |rider| rider.effort_map.clone());
        let watts = snapshot.ride_mode == RideMode::TargetPower;
        let ink = lanes.rider.filter(|_| watts).map(|rider| {
            let effort = |point: &InkPoint| {
                let effort = map.effort(point.power?, rider.threshold);
                Some(effort.map_or(10.0, |effort| effort.0))
            };
            let points = summary.ink.iter();
            points
                .map(|point| (point.at.seconds(), effort(point)))
                .collect()
        });
        // With a group the session may be further on than what was ridden of it.
        let reached = snapshot.session;
        let early = reached < snapshot.session_length.less(Span::from_seconds(1));
        let mut data = Self {
            lane: whole_lane(&lanes, summary, reached, &map),
            ink: ink.unwrap_or_default(),
            cadence: summary
                .ink
                .iter()
                .map(|point| (point.at.seconds(), point.cadence.map(|rpm| rpm.0)))
                .collect(),
            bands: bands(&lanes),
            ratings: ratings(&lanes, summary),
            whole: snapshot.session_length.seconds(),
            ended: (early && reached > Span::ZERO).then(|| reached.seconds()),
            spoken: String::new(),
        };
        data.spoken = data.spoken(&lanes, summary);
        data
    }

    fn spoken(&self, lanes: &Lanes, summary: &Summary) -> String {
        let mut words = say!("{blocks} blocks", blocks = self.blocks(lanes));
        if let Some(ended) = self.ended {
            words += &say!("; ended at {at}", at = Span::from_seconds_f64(ended));
        }
        for (block, answer) in &summary.ratings {
            if let Some(block) = lanes.plan.blocks.get(*block) {
                let block = words::inside(&words::block_name(block));
                words += &match answer {
                    Some(answer) => say!("; {block} rated {answer}", block, answer = answer.0),
                    None => say!("; {block} not rated", block),
                };
            }
        }
        words
    }

    fn blocks(&self, lanes: &Lanes) -> usize {
        let ridden = |lap: &&crate::engine::snapshot::Lap| lap.length > Span::ZERO;
        lanes.laps.iter().filter(ridden).count()
    }
}

/// The lane of the whole session: where ink knows what it stood at, that; else as asked, at both sides of every boundary,
/// the end of every build-up, and enough in between.
fn whole_lane(lanes: &Lanes, summary: &Summary, ridden: Span, map: &EffortMap) -> Vec<LanePoint> {
    let mut points = Vec::new();
    for (index, lap) in lanes.laps.iter().enumerate() {
        if lap.length == Span::ZERO {
            continue;
        }
        let end = (lap.start + lap.length).less(Span(1));
        let mut point = |at: Span, asked: Asked| {
            points.push(LanePoint {
                at: at.seconds(),
                edges: edges(asked, lanes.tolerance(index), map),
            });
        };
        let stood: Vec<(Span, Asked)> = summary
            .ink
            .iter()
            .filter(|ink| ink.at >= lap.start && ink.at <= end)
            .filter_map(|ink| Some((ink.at, stood(lanes, ink)?)))
            .collect();
        let mut from = lap.start;
        if let (Some(first), Some(last)) = (stood.first(), stood.last()) {
            point(lap.start, first.1);
            for (at, asked) in &stood {
                point(*at, *asked);
            }
            from = ridden.min(end);
            point(from, last.1);
        }
        let mut moments = vec![
            lap.start,
            (lap.start + lanes.ramp(index, true)).min(end),
            end,
        ];
        moments.extend((1..8u64).map(|eighth| lap.start + Span(lap.length.0 / 8 * eighth)));
        moments.sort_unstable();
        let ahead = |at: &Span| stood.is_empty() || *at > from;
        for at in moments.into_iter().filter(ahead) {
            point(at, lanes.at(at));
        }
    }
    points
}

fn stood(lanes: &Lanes, ink: &InkPoint) -> Option<Asked> {
    if lanes.mode != RideMode::TargetPower {
        return None;
    }
    let (watts, rider) = (ink.lane?, lanes.rider?);
    let effort = rider.effort_map.effort(watts, rider.threshold);
    Some(Asked::Level(effort.unwrap_or(Effort(9.5)), Some(watts)))
}

fn bands(lanes: &Lanes) -> Vec<BandSpan> {
    let span = |(index, lap): (usize, &crate::engine::snapshot::Lap)| {
        Some(BandSpan {
            from: lap.start.seconds(),
            to: (lap.start + lap.length).seconds(),
            band: lanes.block(index)?.cadence?,
        })
    };
    lanes.laps.iter().enumerate().filter_map(span).collect()
}

fn ratings(lanes: &Lanes, summary: &Summary) -> Vec<(f64, String)> {
    let place = |(block, answer): &(usize, Option<Effort>)| {
        let lap = lanes.laps.iter().find(|lap| lap.block == *block)?;
        let middle = lap.start.seconds() + lap.length.seconds() / 2.0;
        let answer = answer.map_or_else(
            || words::DASH.to_owned(),
            |answer| crate::text::figure(&answer.0.to_string()).into_owned(),
        );
        Some((middle, answer))
    };
    summary.ratings.iter().filter_map(place).collect()
}

/// Draws it over `rect`.
pub(super) fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let font = regular(look.pt(size::SMALL - 1.0));
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + look.pt(36.0)),
        pos2(rect.right() - look.pt(44.0), rect.bottom() - look.pt(84.0)),
    );
    let scale = Scale {
        rect: plot,
        from: 0.0,
        to: data.whole.max(1.0),
    };
    for effort in 0..=10u8 {
        let y = scale.y(f64::from(effort));
        let colour = if effort == 0 {
            colours.rule.lerp_to_gamma(colours.quiet, 0.4)
        } else {
            colours.rule
        };
        painter.hline(plot.x_range(), y, Stroke::new(look.pt(1.5), colour));
        if effort % 5 == 0 {
            let at = pos2(plot.right() + look.pt(8.0), y);
            painter.text(at, Align2::LEFT_CENTER, effort, font.clone(), colours.quiet);
        }
    }
    let clipped = painter.with_clip_rect(plot.expand(look.pt(3.0)));
    lane(&clipped, &scale, &data.lane, look);
    trace(&clipped, &data.ink, 3.0, look, |at, effort| {
        pos2(scale.x(at), scale.y(effort))
    });
    if let Some(ended) = data.ended {
        let foot = rect.bottom() - look.pt(4.0);
        let stroke = Stroke::new(look.pt(2.0), colours.ink);
        painter.vline(scale.x(ended), (plot.top() - look.pt(6.0))..=foot, stroke);
    }
    let reach = Rect::from_min_max(pos2(plot.left(), rect.top()), plot.max);
    ratings_row(painter, reach, &scale, data, look);
    minutes(painter, plot, &scale, data.whole, look);
    let strip = Rect::from_min_max(
        pos2(plot.left(), rect.bottom() - look.pt(44.0)),
        pos2(plot.right(), rect.bottom() - look.pt(4.0)),
    );
    cadence(painter, strip, &scale, data, look);
    name(ui, rect, word!("Whole ride"), &data.spoken);
}

/// One thin line of what was done, broken where it is not known.
fn trace(
    painter: &Painter,
    points: &[(f64, Option<f64>)],
    width: f32,
    look: Look,
    place: impl Fn(f64, f64) -> egui::Pos2,
) {
    let stroke = Stroke::new(look.pt(width), look.colours.ink);
    for run in points.split(|(_, value)| value.is_none()) {
        let line: Vec<_> = run
            .iter()
            .filter_map(|&(at, value)| Some(place(at, value?)))
            .collect();
        if line.len() > 1 {
            painter.line(line, stroke);
        }
    }
}

/// The ratings over their blocks; one that would touch its neighbour is left to the words for screen readers.
fn ratings_row(painter: &Painter, rect: Rect, scale: &Scale, data: &Data, look: Look) {
    if data.ratings.is_empty() {
        return;
    }
    let colours = look.colours;
    let font = regular(look.pt(size::SMALL + 2.0));
    let y = rect.top() + look.pt(13.0);
    let small = regular(look.pt(size::SMALL - 1.0));
    let label = painter.layout_no_wrap(word!("rated").to_owned(), small, colours.quiet);
    let mut free = rect.left();
    let first = data.ratings.first().map_or(0.0, |rating| rating.0);
    if scale.x(first) - look.pt(16.0) > free + label.size().x {
        let at = pos2(free, y - label.size().y / 2.0);
        painter.galley(at, label, colours.quiet);
    }
    for (at, words) in &data.ratings {
        let galley = painter.layout_no_wrap(words.clone(), font.clone(), colours.ink);
        let left = scale.x(*at) - galley.size().x / 2.0;
        if left < free {
            continue;
        }
        free = left + galley.size().x + look.pt(8.0);
        painter.galley(pos2(left, y - galley.size().y / 2.0), galley, colours.ink);
    }
}

/// Minutes at a round step that leaves the figures room.
fn minutes(painter: &Painter, plot: Rect, scale: &Scale, whole: f64, look: Look) {
    let colours = look.colours;
    let font = regular(look.pt(size::SMALL - 1.0));
    let room = f64::from(plot.width() / look.pt(64.0));
    let step = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0]
        .into_iter()
        .find(|step| whole / 60.0 / step <= room)
        .unwrap_or(240.0);
    let mut minute = 0.0;
    while minute * 60.0 <= whole {
        let x = scale.x(minute * 60.0);
        let foot = plot.bottom() + look.pt(6.0);
        painter.vline(
            x,
            plot.bottom()..=foot,
            Stroke::new(look.pt(1.5), colours.quiet),
        );
        let (anchor, words) = if minute == 0.0 {
            (Align2::LEFT_TOP, word!("min").to_owned())
        } else {
            (Align2::CENTER_TOP, format!("{minute:.0}"))
        };
        painter.text(pos2(x, foot), anchor, words, font.clone(), colours.quiet);
        minute += step;
    }
}

fn cadence(painter: &Painter, rect: Rect, scale: &Scale, data: &Data, look: Look) {
    let colours = look.colours;
    let least = data
        .bands
        .iter()
        .map(|span| span.band.low.0)
        .fold(80.0, f64::min);
    let most = data
        .bands
        .iter()
        .map(|span| span.band.high.0)
        .fold(95.0, f64::max);
    let (least, most) = (
        (least / 10.0).floor() * 10.0 - 10.0,
        (most / 10.0).ceil() * 10.0 + 10.0,
    );
    let y = |rpm: f64| {
        let share = ((rpm - least) / (most - least)).clamp(0.0, 1.0) as f32;
        rect.bottom() - rect.height() * share
    };
    for span in &data.bands {
        let band = Rect::from_min_max(
            pos2(scale.x(span.from), y(span.band.high.0)),
            pos2(
                scale.x(span.to),
                y(span.band.low.0).max(y(span.band.high.0) + look.pt(3.0)),
            ),
        );
        painter.rect_filled(band, 0.0, colours.lane);
    }
    for rpm in [least, most] {
        let stroke = Stroke::new(look.pt(1.5), colours.rule);
        painter.hline(rect.x_range(), y(rpm), stroke);
    }
    trace(painter, &data.cadence, 2.0, look, |at, rpm| {
        pos2(scale.x(at), y(rpm))
    });
    let font = regular(look.pt(size::SMALL - 5.0));
    let x = rect.right() + look.pt(8.0);
    let middle = (least + most) / 2.0;
    for (rpm, words) in [
        (most, format!("{most:.0}")),
        (middle, "rpm".to_owned()),
        (least, format!("{least:.0}")),
    ] {
        let at = pos2(x, y(rpm));
        painter.text(at, Align2::LEFT_CENTER, words, font.clone(), colours.quiet);
    }
}
