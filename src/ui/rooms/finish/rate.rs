//! The question for a rating, with the words of its scale.

use egui::{Align2, Id, Rect, Sense, Stroke, StrokeKind, Ui, pos2, vec2};

use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};

/// What a number of the scale means: the words of the effort that a session asks for (common practice, no source).
pub(super) fn words(rating: u8) -> &'static str {
    match rating {
        0 => word!("No effort at all"),
        1 => word!("Hardly any"),
        2 => word!("Very easy"),
        3 => word!("Easy, as in a warm-up"),
        4 => word!("Light, as in a recovery"),
        5 => word!("Steady, in whole sentences"),
        6 => word!("Rather hard"),
        7 => word!("Hard, in single phrases"),
        8 => word!("Very hard"),
        9 => word!("Single words at most"),
        _ => word!("Everything you had"),
    }
}

/// Draws the question over `rect` and gives the number that was clicked; no mouse is needed.
pub(super) fn show(
    ui: &Ui,
    rect: Rect,
    question: &str,
    chosen: Option<u8>,
    look: Look,
) -> Option<u8> {
    let colours = look.colours;
    let painter = ui.painter();
    let upper = rect.with_max_y(rect.top() + rect.height() * 0.34);
    let row = Rect::from_min_max(
        pos2(rect.left(), upper.bottom()),
        pos2(rect.right(), rect.top() + rect.height() * 0.76),
    );
    let foot = rect.with_min_y(row.bottom() + look.pt(3.0));
    let line = text::line(
        painter,
        question,
        regular,
        look.pt(size::UNIT),
        rect.width(),
        colours.ink,
    );
    text::place(painter, line, upper, Align2::LEFT_CENTER, colours.ink);
    let step = row.width() / 11.0;
    let cell = |number: u8| {
        Rect::from_min_size(
            pos2(row.left() + step * f32::from(number), row.top()),
            vec2(step, row.height()),
        )
    };
    let mut clicked = None;
    // The scale is a ruled line: a mark at each number, as on the strip's own scale.
    painter.hline(
        cell(0).center().x..=cell(10).center().x,
        row.bottom() - look.pt(4.0),
        Stroke::new(look.pt(1.5), colours.quiet),
    );
    for number in 0..=10u8 {
        let cell = cell(number);
        let is_chosen = chosen == Some(number);
        painter.vline(
            cell.center().x,
            (row.bottom() - look.pt(10.0))..=(row.bottom() - look.pt(4.0)),
            Stroke::new(look.pt(1.5), colours.quiet),
        );
        let face = cell
            .shrink2(vec2(look.pt(6.0), 0.0))
            .with_max_y(row.bottom() - look.pt(12.0));
        let (font, colour) = if is_chosen {
            (bold(look.pt(size::UNIT)), colours.ground)
        } else {
            (regular(look.pt(size::UNIT)), colours.ink)
        };
        if is_chosen {
            painter.rect_filled(face, 2.0, colours.ink);
        }
        painter.text(face.center(), Align2::CENTER_CENTER, number, font, colour);
        // Not reached by tab: digits and arrows choose.
        let response = ui.interact(cell, Id::unique(("rate", number)), Sense::CLICK);
        if response.hovered() && !is_chosen {
            let edge = Stroke::new(look.pt(1.5), colours.quiet);
            painter.rect_stroke(face, 2.0, edge, StrokeKind::Inside);
        }
        if response.clicked() {
            clicked = Some(number);
        }
    }
    match chosen {
        Some(number) => put_words(ui, foot, cell(number), number, true, look),
        None => {
            for number in [0, 5, 10] {
                put_words(ui, foot, cell(number), number, false, look);
            }
        }
    }
    let answer = chosen.map_or_else(
        || word!("no answer yet").to_owned(),
        |chosen| chosen.to_string(),
    );
    name(ui, rect, question, &answer);
    if let Some(number) = chosen {
        name(ui, foot, word!("In words"), words(number));
    }
    clicked
}

/// The words of a number, under it and within the room.
fn put_words(ui: &Ui, room: Rect, cell: Rect, number: u8, chosen: bool, look: Look) {
    let colour = if chosen {
        look.colours.ink
    } else {
        look.colours.quiet
    };
    let size = look.pt(size::SMALL + if chosen { 3.0 } else { -1.0 });
    let width = room.width() / if chosen { 1.0 } else { 3.0 };
    let galley = text::line(ui.painter(), words(number), regular, size, width, colour);
    let half = galley.size().x / 2.0;
    let centre = cell.center().x.clamp(
        room.left() + half,
        (room.right() - half).max(room.left() + half),
    );
    ui.painter()
        .galley(pos2(centre - half, room.top()), galley, colour);
}
