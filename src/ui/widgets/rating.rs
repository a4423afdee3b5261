//! The question for a rating: nought to ten in a row, the chosen one boxed.

use egui::{Align2, Rect, Stroke, StrokeKind, Ui, pos2, vec2};

use super::{Look, name, text};
use crate::ui::theme::{bold, regular, size};

/// The question and the answer so far.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Data {
    /// The question.
    pub words: &'static str,
    /// The answer chosen so far.
    pub chosen: Option<u8>,
}

/// Draws it: the question in the upper half of `rect`, the row below.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let type_size = look.far(size::LINE).min(rect.height() * 0.42);
    let painter = ui.painter();
    let colours = look.colours;
    let (upper, lower) = rect.split_top_bottom_at_fraction(0.5);
    let question = text::line(
        painter,
        data.words,
        regular,
        type_size,
        rect.width(),
        colours.ink,
    );
    text::place(painter, question, upper, Align2::LEFT_CENTER, colours.ink);
    let step = (lower.width() / 11.0).min(type_size * 1.7);
    for number in 0..=10u8 {
        let cell = Rect::from_min_size(
            pos2(lower.left() + step * f32::from(number), lower.top()),
            vec2(step * 0.9, lower.height()),
        );
        let chosen = data.chosen == Some(number);
        let (font, colour) = if chosen {
            (bold(type_size), colours.ink)
        } else {
            (regular(type_size), colours.quiet)
        };
        painter.text(cell.center(), Align2::CENTER_CENTER, number, font, colour);
        if chosen {
            painter.rect_stroke(
                cell.shrink(look.pt(1.0)),
                2.0,
                Stroke::new(look.pt(3.0), colours.ink),
                StrokeKind::Inside,
            );
        }
    }
    let answer = data.chosen.map_or_else(
        || word!("no answer yet").to_owned(),
        |chosen| chosen.to_string(),
    );
    name(ui, rect, data.words, &answer);
}
