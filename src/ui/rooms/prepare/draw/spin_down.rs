//! The guide through a calibration: its sentence large, with the wheel's speed, as it is read from the saddle.

use egui::{Align2, Rect, Ui, pos2};

use crate::ui::rooms::prepare::Guide;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};

pub(super) fn show(ui: &Ui, rect: Rect, guide: &Guide, look: Look) {
    let colours = look.colours;
    let painter = ui.painter();
    let room = rect.shrink(look.pt(16.0));
    let part = |from: f32, to: f32| {
        Rect::from_min_max(
            pos2(room.left(), room.top() + room.height() * from),
            pos2(room.right(), room.top() + room.height() * to),
        )
    };
    let (title, sentence, speed, window) = (
        part(0.0, 0.12),
        part(0.14, 0.50),
        part(0.52, 0.82),
        part(0.84, 1.0),
    );
    let line = |place: Rect, words: &str, font: text::Type, size: f32, colour| {
        let galley = text::line(painter, words, font, size, place.width(), colour);
        text::place(painter, galley, place, Align2::LEFT_CENTER, colour);
    };
    let words = word!("Calibrating the trainer by a spin-down");
    line(title, words, regular, look.pt(size::HEADING), colours.quiet);
    let block = text::block(
        painter,
        &guide.sentence,
        regular,
        look.pt(size::HEADING * 1.9),
        sentence.size(),
        colours.ink,
    );
    text::place(painter, block, sentence, Align2::LEFT_TOP, colours.ink);
    line(speed, &guide.speed, bold, speed.height() * 0.8, colours.ink);
    line(
        window,
        &guide.window,
        regular,
        look.pt(size::HEADING),
        colours.quiet,
    );
    name(ui, sentence, word!("Calibration"), &guide.sentence);
    name(ui, speed, word!("Speed"), &guide.speed);
    if !guide.window.is_empty() {
        name(ui, window, word!("Speeds"), &guide.window);
    }
}
