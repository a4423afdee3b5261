//! The words in the strip: what the lane comes to, and what the ink is set against.

use egui::{Painter, pos2};

use super::{AHEAD, Data, Label, Scale};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, text};

/// Draws the words at the lane, each as far as its block has room.
pub(super) fn labels(painter: &Painter, scale: &Scale, labels: &[Label], look: Look) {
    for label in labels {
        // Clear of the now line, and of the mark at it.
        let left = scale.x(label.at.max(0.0)) + look.pt(if label.at > 0.0 { 14.0 } else { 28.0 });
        let right = scale.x(label.until.min(AHEAD));
        let line = |width: f32| {
            let size = look.near(size::UNIT - 2.0);
            text::line(
                painter,
                &label.words,
                regular,
                size,
                width,
                look.colours.ink,
            )
        };
        let galley = line((right - left).max(1.0));
        // Words that would have to shrink by more than a third are left out: too small to be read from the bike.
        if galley.size().x < line(f32::INFINITY).size().x * 0.66 {
            continue;
        }
        let top = scale.y(label.above) - galley.size().y - look.pt(4.0);
        let at = pos2(left, top.max(scale.rect.top() - look.pt(14.0)));
        painter.galley(at, galley, look.colours.ink);
    }
}

/// What the ink is set against: short words under the past, longer ones under what is ahead; over the ink where it lies
/// low. Nowhere, where they would lie on the ink or on the lane.
pub(super) fn against(painter: &Painter, scale: &Scale, data: &Data, look: Look) {
    let (plot, colours) = (scale.rect, look.colours);
    let clear = look.pt(10.0);
    let lay = |room: f32| {
        let font = regular(look.near(size::SMALL));
        let galley = painter.layout(data.against.clone(), font, colours.quiet, room.max(1.0));
        (galley.size().x <= room).then_some(galley)
    };
    let past = lay(scale.x(0.0) - plot.left() - clear).filter(|galley| galley.rows.len() <= 3);
    let ahead = || lay(plot.right() - scale.x(0.0) - look.pt(28.0));
    let is_past = past.is_some();
    let Some(galley) = past.or_else(ahead) else {
        return;
    };
    let edges = data
        .lane
        .iter()
        .filter(|point| (point.at <= 0.0) == is_past);
    let lanes = edges
        .filter_map(|point| point.edges)
        .flat_map(|(lower, upper)| [lower, upper.unwrap_or(10.0)]);
    let inked = data
        .ink
        .iter()
        .filter_map(|ink| ink.effort.filter(|_| is_past));
    let (least, most) = lanes
        .chain(inked)
        .fold((10.0_f64, 0.0_f64), |(least, most), effort| {
            (least.min(effort), most.max(effort))
        });
    let high = galley.size().y;
    let foot = plot.bottom() - high - look.pt(4.0);
    let top = if foot > scale.y(least) + clear {
        foot
    } else if is_past && plot.top() + high < scale.y(most) - clear {
        plot.top()
    } else {
        return;
    };
    let left = if is_past {
        plot.left()
    } else {
        scale.x(0.0) + look.pt(28.0)
    };
    painter.galley(pos2(left, top), galley, colours.quiet);
}
