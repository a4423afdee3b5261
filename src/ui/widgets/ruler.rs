//! The plain ruler of the whole session: block lengths in minutes, the ridden part thick.

use egui::{Rect, Stroke, Ui, pos2};

use super::{Look, name};
use crate::engine::snapshot::Lap;
use crate::time::Span;
use crate::ui::theme::{regular, size};
use crate::ui::words;

/// The ruler's blocks and where the ride stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Data {
    /// Each block that has any length: start and end in seconds, and its length in words. Blocks too short to be told
    /// apart on a ruler stand together as one, without words: there are some hundreds at most, however long the session is.
    pub blocks: Vec<(f64, f64, String)>,
    /// Where the ride stands, seconds.
    pub now: f64,
    /// The whole, seconds; never 0.
    pub whole: f64,
}

/// Ticks are at least this share of the ruler apart: closer ones run into a grey. No figure fits between such ones either.
const FINEST: u64 = 150;

impl Data {
    /// From the laps as they stand today.
    pub fn new(laps: &[Lap], now: Span, whole: Span) -> Self {
        let finest = Span(whole.0 / FINEST);
        let mut blocks = Vec::new();
        let mut rest = laps;
        let mut at = laps.first().map_or(Span::ZERO, |lap| lap.start);
        loop {
            // What has no length ends where it begins.
            rest = &rest[rest.partition_point(|lap| lap.end() <= at)..];
            let Some(first) = rest.first() else { break };
            // Laps follow each other, so that those which end too close are passed over in few steps.
            let close = rest.partition_point(|lap| lap.end() <= at + finest).max(1);
            let (passed, after) = rest.split_at(close);
            let end = passed.last().map_or(first.end(), |lap| lap.end());
            let words = if first.end() == end {
                words::minutes(first.length)
            } else {
                String::new()
            };
            blocks.push((at.seconds(), end.seconds(), words));
            (at, rest) = (end, after);
        }
        let whole = whole.seconds().max(1.0);
        Self {
            blocks,
            now: now.seconds().min(whole),
            whole,
        }
    }
}

/// Draws it across `rect`, figures above the line.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let x = |seconds: f64| rect.left() + rect.width() * (seconds / data.whole) as f32;
    let y = rect.bottom() - look.pt(18.0);
    let font = regular(look.near(size::SMALL));
    painter.hline(rect.x_range(), y, Stroke::new(look.pt(1.5), colours.quiet));
    let now = x(data.now);
    painter.hline(rect.left()..=now, y, Stroke::new(look.pt(5.0), colours.ink));
    let tick = |at: f32, ridden: bool| {
        let stroke = if ridden {
            Stroke::new(look.pt(2.0), colours.ink)
        } else {
            Stroke::new(look.pt(1.5), colours.quiet)
        };
        painter.vline(at, (y - look.pt(10.0))..=(y + look.pt(10.0)), stroke);
    };
    tick(rect.left(), true);
    let mut free_from = f32::NEG_INFINITY;
    for (start, end, words) in &data.blocks {
        tick(x(*end), *end <= data.now);
        if words.is_empty() {
            continue;
        }
        let galley = painter.layout_no_wrap(words.clone(), font.clone(), colours.quiet);
        let middle = (x(*start) + x(*end)) / 2.0;
        let left = middle - galley.size().x / 2.0;
        let room = x(*end) - x(*start);
        // A figure that would touch its neighbour is left out: the ticks still show the block.
        if galley.size().x <= room && left >= free_from {
            free_from = left + galley.size().x + look.pt(4.0);
            let at = pos2(left, y - look.pt(13.0) - galley.size().y);
            painter.galley(at, galley, colours.quiet);
        }
    }
    painter.vline(
        now,
        (y - look.pt(12.0))..=(y + look.pt(18.0)),
        Stroke::new(look.pt(3.0), colours.ink),
    );
    let spoken = words::of_the_whole(
        Span::from_seconds_f64(data.now),
        Span::from_seconds_f64(data.whole),
    );
    name(ui, rect, entry!("Whole session"), &spoken);
}
