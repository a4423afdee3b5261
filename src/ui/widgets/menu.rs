//! The choices: the chosen one large between its neighbours, so that three buttons can walk them without looking twice.

use egui::{Align2, Rect, Stroke, StrokeKind, Ui, pos2};

use super::{Look, name, text};
use crate::ui::theme::{bold, regular, size};

/// The choices in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Data {
    /// In the order in which they are walked; not empty.
    pub items: Vec<String>,
    /// Which of them is chosen.
    pub chosen: usize,
    /// Whether it waits for its second press: it is then drawn as what needs attention.
    pub waits: bool,
    /// Whether back from the first leaves them; else it goes on at the last.
    pub leaves: bool,
}

impl Data {
    fn at(&self, place: usize) -> &str {
        self.items.get(place).map_or("", String::as_str)
    }

    /// The choice before the chosen one; the last before the first.
    fn before(&self) -> &str {
        let place = self.chosen.checked_sub(1);
        if place.is_none() && self.leaves {
            return word!("leave these");
        }
        self.at(place.unwrap_or(self.items.len().saturating_sub(1)))
    }

    /// The choice after the chosen one; the first after the last.
    fn after(&self) -> &str {
        self.at((self.chosen + 1) % self.items.len().max(1))
    }
}

/// Draws it: the chosen one boxed over the whole width, its neighbours beneath it at the two sides, and between them
/// one mark a choice.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let (upper, lower) = rect.split_top_bottom_at_fraction(0.64);
    let colour = if data.waits {
        colours.above
    } else {
        colours.ink
    };
    let inside = upper.shrink2(egui::vec2(look.pt(18.0), look.pt(2.0)));
    let words = data.at(data.chosen);
    let galley = text::fit(
        painter,
        words,
        bold,
        look.far(size::LINE),
        look.least,
        inside.size(),
        colour,
    );
    text::place(painter, galley, inside, Align2::CENTER_CENTER, colour);
    painter.rect_stroke(
        upper,
        2.0,
        Stroke::new(look.pt(3.0), colour),
        StrokeKind::Inside,
    );
    let third = lower.width() * 0.36;
    let sides = [
        (data.before(), Align2::LEFT_CENTER, "‹ ", ""),
        (data.after(), Align2::RIGHT_CENTER, "", " ›"),
    ];
    for (words, anchor, before, after) in sides {
        let words = format!("{before}{words}{after}");
        let galley = text::line(
            painter,
            &words,
            regular,
            look.near(size::SMALL),
            third,
            colours.quiet,
        );
        text::place(painter, galley, lower, anchor, colours.quiet);
    }
    let step = look.pt(14.0);
    let first = lower.center().x - step * (data.items.len().saturating_sub(1)) as f32 / 2.0;
    for place in 0..data.items.len() {
        let at = pos2(first + step * place as f32, lower.center().y);
        if place == data.chosen {
            painter.circle_filled(at, look.pt(5.0), colour);
        } else {
            painter.circle_stroke(at, look.pt(3.5), Stroke::new(look.pt(1.5), colours.quiet));
        }
    }
    let spoken = say!(
        "{choice}, {place} of {count}; {before} before it, {after} after it",
        choice = words,
        place = data.chosen + 1,
        count = data.items.len(),
        before = data.before(),
        after = data.after()
    );
    name(ui, rect, entry!("Choices"), &spoken);
}
