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

/// Draws it over the whole of `rect`. `least` is the least size of what is read from the saddle, points.
pub fn show(ui: &Ui, rect: Rect, data: &Data, least: f32, look: Look) {
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
    let inside = rect.shrink(look.pt(22.0).min(rect.height() * 0.06));
    let near = look.near(size::UNIT - 6.0);
    let below = |used: f32| Rect::from_min_max(pos2(inside.left(), used), inside.max);
    // The title, then the first line, which says what to do: both are read from the saddle. The rest has what is left,
    // and goes where there is nothing left for it: the stop signs last.
    let most = if data.loud { 0.6 } else { 0.34 };
    let room = vec2(inside.width(), inside.height() * most);
    let title = text::fit(painter, &data.title, bold, look.far(96.0), least, room, ink);
    let title = text::place(painter, title, inside, Align2::LEFT_TOP, ink);
    name(ui, title, entry!("Banner"), &data.title);
    let Some((first, rest)) = data.lines.split_first() else {
        return;
    };
    let mut room = below(title.bottom() + look.pt(2.0));
    let size = look.far(size::SENTENCE);
    let galley = text::fit(painter, first, regular, size, least, room.size(), ink);
    let mut told = text::place(painter, galley, room, Align2::LEFT_TOP, ink);
    room = below(told.bottom() + look.pt(6.0));
    let whole = rest.join(" ");
    let mut rest = whole.as_str();
    let signs = if data.stop_signs {
        crate::text::word(crate::ui::words::STOP_SIGNS)
    } else {
        ""
    };
    // The rest and the stop signs are of one size: as large as both have room for, and no smaller than what is read
    // leaning over the bars.
    let high = |words: &str, size: f32| match words {
        "" => 0.0,
        words => {
            let galley =
                painter.layout(words.to_owned(), regular(size), ink, room.width().max(1.0));
            galley.size().y + look.pt(14.0)
        }
    };
    let most = look.far(size::LINE).max(near);
    let fitting = |rest: &str| {
        (0..=8u8)
            .map(|step| most + (near - most) * f32::from(step) / 8.0)
            .find(|&size| high(rest, size) + high(signs, size) <= room.height())
    };
    let near = fitting(rest).unwrap_or_else(|| {
        // When to stop matters more than what else there is to say: that goes first.
        if data.stop_signs {
            rest = "";
        }
        fitting(rest).unwrap_or(near)
    });
    let galley = text::block(painter, rest, regular, near, room.size(), ink);
    if !rest.is_empty() && galley.size().y <= room.height() && galley.size().x <= room.width() {
        let drawn = text::place(painter, galley, room, Align2::LEFT_TOP, ink);
        told = told.union(drawn);
        room = below(told.bottom() + look.pt(12.0));
    }
    if data.stop_signs {
        let galley = text::block(painter, signs, regular, near, room.size(), ink);
        if galley.size().y <= room.height() && galley.size().x <= room.width() {
            let signs = text::place(painter, galley, room, Align2::LEFT_BOTTOM, ink);
            let over = signs.top() - look.pt(6.0);
            painter.hline(inside.x_range(), over, Stroke::new(look.pt(2.0), ink));
        }
        name(ui, room, entry!("Stop signs"), signs);
    }
    name(ui, told, entry!("What to do"), &format!("{first} {whole}"));
}
