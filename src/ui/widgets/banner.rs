//! A few large words in place of the strip, for the states in which they matter more than it does.

use egui::{Align2, Rect, Stroke, StrokeKind, Ui, pos2, vec2};

use super::{Look, name, text};
use crate::ui::theme::{bold, regular, size};

/// A title and what follows from it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Data {
    /// The title, as large as fits.
    pub title: String,
    /// What happened and what to do.
    pub lines: Vec<String>,
    /// The stop signs, where they shall stand on the screen.
    pub stop_signs: bool,
    /// Whether it is drawn in reverse, so that nobody overlooks it.
    pub loud: bool,
}

/// Draws it over the whole of `rect`.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let (ground, ink) = if data.loud {
        (colours.ink, colours.ground)
    } else {
        (colours.ground, colours.ink)
    };
    painter.rect_filled(rect, 0.0, ground);
    painter.rect_stroke(
        rect,
        0.0,
        Stroke::new(look.pt(3.0), colours.ink),
        StrokeKind::Inside,
    );
    let inside = rect.shrink(look.pt(26.0));
    let below = |used: f32| Rect::from_min_max(pos2(inside.left(), used), inside.max);
    // The title takes at most a third, the stop signs the foot, what to do the rest.
    let room = vec2(inside.width(), inside.height() * 0.32);
    let title = text::block(painter, &data.title, bold, look.pt(84.0), room, ink);
    let title = text::place(painter, title, inside, Align2::LEFT_TOP, ink);
    let mut foot = inside.bottom();
    if data.stop_signs {
        let room = vec2(inside.width(), inside.height() * 0.36);
        let size = look.pt(size::UNIT);
        let signs = text::block(
            painter,
            crate::ui::words::STOP_SIGNS,
            regular,
            size,
            room,
            ink,
        );
        let signs = text::place(painter, signs, inside, Align2::LEFT_BOTTOM, ink);
        foot = signs.top() - look.pt(12.0);
        painter.hline(inside.x_range(), foot, Stroke::new(look.pt(2.0), ink));
        foot -= look.pt(12.0);
        name(ui, signs, "Stop signs", crate::ui::words::STOP_SIGNS);
    }
    let mut room = below(title.bottom() + look.pt(10.0));
    room.max.y = foot;
    let lines = data.lines.join("\n");
    let size = look.pt(size::LINE);
    let galley = text::block(painter, &lines, regular, size, room.size(), ink);
    text::place(painter, galley, room, Align2::LEFT_TOP, ink);
    name(ui, title, "Banner", &data.title);
    name(ui, room, "What to do", &lines);
}
