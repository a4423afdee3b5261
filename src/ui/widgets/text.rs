//! Text that fits the room it has: shrunk, or broken into lines, but never cut or drawn over its neighbour.

use std::sync::Arc;

use egui::{Align2, Color32, FontId, Galley, Painter, Rect, Vec2};

/// Type of a size: [`regular`](crate::ui::theme::regular) or [`bold`](crate::ui::theme::bold).
pub type Type = fn(f32) -> FontId;

/// Sizes that are tried, as shares of the one that was asked for.
const SMALLER: [f32; 9] = [1.0, 0.86, 0.74, 0.64, 0.55, 0.47, 0.4, 0.34, 0.28];

/// One line, shrunk until it is at most `width` wide.
pub fn line(
    painter: &Painter,
    text: &str,
    font: Type,
    size: f32,
    width: f32,
    colour: Color32,
) -> Arc<Galley> {
    let galley = painter.layout_no_wrap(text.to_owned(), font(size), colour);
    if galley.size().x <= width || galley.size().x <= 0.0 {
        return galley;
    }
    let smaller = (size * width / galley.size().x * 0.99).max(1.0);
    painter.layout_no_wrap(text.to_owned(), font(smaller), colour)
}

/// Lines broken at words, of the largest size at which they fit into `room`.
pub fn block(
    painter: &Painter,
    text: &str,
    font: Type,
    size: f32,
    room: Vec2,
    colour: Color32,
) -> Arc<Galley> {
    let at =
        |share: f32| painter.layout(text.to_owned(), font(size * share), colour, room.x.max(1.0));
    let fits = |galley: &Galley| galley.size().y <= room.y && galley.size().x <= room.x;
    SMALLER
        .iter()
        .map(|&share| at(share))
        .find(|galley| fits(galley))
        .unwrap_or_else(|| at(SMALLER[SMALLER.len() - 1]))
}

/// Draws a galley in a rectangle, held at the side or corner that `anchor` names; gives where it stands.
pub fn place(
    painter: &Painter,
    galley: Arc<Galley>,
    rect: Rect,
    anchor: Align2,
    colour: Color32,
) -> Rect {
    let at = anchor.align_size_within_rect(galley.size(), rect);
    painter.galley(at.min, galley, colour);
    at
}
