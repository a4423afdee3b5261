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

/// Words of the largest size between `size` and `least` at which they fit into `room`, broken into lines where they
/// must be. Where even the least is too large, as many words as fit and an ellipsis: type that cannot be read says
/// nothing at all.
pub fn fit(
    painter: &Painter,
    text: &str,
    font: Type,
    size: f32,
    least: f32,
    room: Vec2,
    colour: Color32,
) -> Arc<Galley> {
    let least = least.min(size);
    let lay = |words: &str, size: f32| {
        painter.layout(words.to_owned(), font(size), colour, room.x.max(1.0))
    };
    // A line's own height may pass the room by a hair: figures and capitals do not fill it.
    let fits = |galley: &Galley, size: f32| {
        galley.size().y <= room.y + size * 0.1 && galley.size().x <= room.x
    };
    let sizes = (0..=4u8).map(|step| size + (least - size) * f32::from(step) / 4.0);
    if let Some(galley) = sizes
        .map(|size| (lay(text, size), size))
        .find(|(galley, size)| fits(galley, *size))
    {
        return galley.0;
    }
    let words: Vec<&str> = text.split(' ').collect();
    (1..words.len())
        .rev()
        .map(|count| lay(&format!("{}…", words[..count].join(" ")), least))
        .find(|galley| fits(galley, least))
        .unwrap_or_else(|| line(painter, text, font, least, room.x, colour))
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
