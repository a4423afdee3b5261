//! Draws the room after a ride.

use egui::{Align2, Button, Rect, RichText, Ui, pos2};

use super::layout::Layout;
use super::{Data, Line, Outcome, Rating, Sentence, chart, rate, threshold};
use crate::engine::Command;
use crate::ui::keys::Hands;
use crate::ui::theme::{self, bold, regular, size};
use crate::ui::widgets::{Look, figure, name, text};
use crate::units::Effort;

/// Draws the room. `hands` is changed where an answer is chosen by the mouse; `said` is what came of the last press of a
/// button, in a few words, and stays until the next.
pub fn room_ui(
    ui: &mut Ui,
    data: &Data,
    look: Look,
    hands: &mut Hands,
    said: &mut String,
) -> Outcome {
    let window = ui.max_rect();
    // Read while the legs still turn: as large as the Ride room.
    let look = Look {
        scale: theme::scale(window.size()),
        ..look
    };
    let layout = Layout::new(window);
    let mut outcome = Outcome::default();
    ui.painter().rect_filled(window, 0.0, look.colours.ground);
    ridden(ui, &layout, data, look);
    say(ui, layout.sentence, &data.sentence, look);
    chart::show(ui, layout.chart, &data.chart, look);
    match &data.rating {
        Rating::Told(_) if data.proposal.is_some() => {
            if let Some(proposal) = &data.proposal {
                outcome.threshold = threshold::show(ui, layout.rating, proposal, look);
            }
        }
        Rating::Asked(question, chosen) => {
            if let Some(clicked) = rate::show(ui, layout.rating, question, *chosen, look) {
                if *chosen == Some(clicked) {
                    hands.rating = None;
                    let rating = Effort(f64::from(clicked));
                    outcome.commands.push(Command::Rate(rating));
                } else {
                    hands.rating = Some(clicked);
                }
            }
        }
        Rating::Told(words) => {
            let size = look.pt(size::UNIT);
            let galley = block(ui, words, size, layout.rating, look.colours.ink);
            text::place(
                ui.painter(),
                galley,
                layout.rating,
                Align2::LEFT_CENTER,
                look.colours.ink,
            );
            if !words.is_empty() {
                name(ui, layout.rating, word!("Rating"), words);
            }
        }
    }
    if data
        .proposal
        .as_ref()
        .is_none_or(|told| told.take.is_none())
    {
        threshold::forget(ui);
    }
    record(ui, layout.record, &data.record, look);
    buttons(ui, &layout, data, look, said, &mut outcome);
    outcome
}

fn block(
    ui: &Ui,
    words: &str,
    size: f32,
    room: Rect,
    colour: egui::Color32,
) -> std::sync::Arc<egui::Galley> {
    text::block(ui.painter(), words, regular, size, room.size(), colour)
}

/// One line, shrunk to its place.
fn line(ui: &Ui, rect: Rect, words: &str, font: text::Type, size: f32, colour: egui::Color32) {
    let galley = text::line(ui.painter(), words, font, size, rect.width(), colour);
    text::place(ui.painter(), galley, rect, Align2::LEFT_CENTER, colour);
}

/// The left column: how it ended, how long, of what, and the figures.
fn ridden(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let colours = look.colours;
    let line_size = look.pt(size::LINE);
    line(
        ui,
        layout.title,
        data.title,
        regular,
        line_size,
        colours.ink,
    );
    name(ui, layout.title, word!("How it ended"), data.title);
    line(
        ui,
        layout.time,
        &data.time,
        bold,
        look.pt(size::HUGE),
        colours.ink,
    );
    name(ui, layout.time, word!("Time ridden"), &data.time);
    line(
        ui,
        layout.of,
        &data.of,
        regular,
        look.pt(28.0),
        colours.quiet,
    );
    name(ui, layout.of, word!("Of" # "the session"), &data.of);
    let session = block(
        ui,
        &data.session,
        look.pt(28.0),
        layout.session,
        colours.quiet,
    );
    text::place(
        ui.painter(),
        session,
        layout.session,
        Align2::LEFT_TOP,
        colours.quiet,
    );
    name(ui, layout.session, word!("Session"), &data.session);
    for (place, figure) in layout.figures.iter().zip(&data.figures) {
        let unit = look.pt(26.0);
        figure::show(ui, *place, figure, look.pt(66.0), unit, look);
    }
    if !data.no_figures.is_empty() {
        let place = layout.figures[0].union(layout.figures[1]);
        let galley = block(ui, data.no_figures, look.pt(28.0), place, colours.quiet);
        text::place(ui.painter(), galley, place, Align2::LEFT_TOP, colours.quiet);
        name(ui, place, word!("Figures"), data.no_figures);
    }
}

fn say(ui: &Ui, rect: Rect, sentence: &Sentence, look: Look) {
    let painter = ui.painter();
    let (mut room, mut colour) = (rect, look.colours.ink);
    if sentence.urgent {
        // A bar at its side marks what needs attention, beside the colour.
        colour = look.colours.above;
        let bar = rect.with_max_x(rect.left() + look.pt(8.0));
        painter.rect_filled(bar, 0.0, colour);
        room.min.x += look.pt(22.0);
    }
    let galley = block(ui, &sentence.words, look.pt(size::LINE), room, colour);
    let anchor = if sentence.urgent {
        Align2::LEFT_CENTER
    } else {
        Align2::LEFT_TOP
    };
    text::place(painter, galley, room, anchor, colour);
    name(ui, rect, word!("Sentence"), &sentence.words);
}

/// What was kept, as a table of two columns. A line that is too long takes the height of two, and all shrink together
/// where they would not fit.
fn record(ui: &Ui, rect: Rect, lines: &[Line], look: Look) {
    let colours = look.colours;
    let painter = ui.painter();
    let mut size = look.pt(size::SMALL);
    let laid = |size: f32| {
        let gap = size * 0.26;
        // Room for the labels, and more where a language has longer ones.
        let label =
            |label: &str| painter.layout_no_wrap(label.to_owned(), regular(size), colours.quiet);
        let longest = lines
            .iter()
            .map(|line| label(line.label).size().x)
            .fold(0.0, f32::max);
        let label_width = if longest > size * 5.3 {
            longest + size * 0.4
        } else {
            size * 5.6
        };
        let rows: Vec<_> = lines
            .iter()
            .map(|line| {
                let colour = if line.urgent {
                    colours.above
                } else {
                    colours.ink
                };
                let mark = if line.urgent { size * 0.7 } else { 0.0 };
                let width = rect.width() - label_width - mark;
                let words = painter.layout(line.words.clone(), regular(size), colour, width);
                (label(line.label), words, mark, colour)
            })
            .collect();
        let height: f32 = rows.iter().map(|(_, words, ..)| words.size().y + gap).sum();
        (rows, label_width, gap, height)
    };
    let (mut rows, mut label_width, mut gap, mut height) = laid(size);
    while height > rect.height() && size > 4.0 {
        size *= 0.94;
        (rows, label_width, gap, height) = laid(size);
    }
    let mut top = rect.top();
    for (line, (label, words, mark, colour)) in lines.iter().zip(rows) {
        let left = rect.left() + label_width;
        let place = Rect::from_min_max(
            pos2(rect.left(), top),
            pos2(rect.right(), top + words.size().y),
        );
        if mark > 0.0 {
            let bar = Rect::from_min_max(
                pos2(left, place.top()),
                pos2(left + mark * 0.4, place.bottom()),
            );
            painter.rect_filled(bar, 0.0, colour);
        }
        painter.galley(pos2(rect.left(), top), label, colours.quiet);
        painter.galley(pos2(left + mark, top), words, colour);
        name(ui, place, line.label, &line.words);
        top = place.bottom() + gap;
    }
}

fn buttons(
    ui: &mut Ui,
    layout: &Layout,
    data: &Data,
    look: Look,
    said: &mut String,
    outcome: &mut Outcome,
) {
    let mut button = |rect: Rect, words: &str, font: text::Type| {
        let text = RichText::new(words).font(font(look.pt(size::SMALL)));
        ui.put(rect, Button::new(text).min_size(rect.size()))
    };
    let back = button(layout.back, word!("Back to Prepare"), bold);
    outcome.back = back.clicked();
    let mut copied = None;
    if let Some(folder) = &data.folder {
        if button(layout.open, word!("Open the folder"), regular).clicked() {
            said.clear();
            outcome.open = Some(folder.clone());
        }
        if button(layout.copy, word!("Copy its path"), regular).clicked() {
            copied = Some(folder.clone());
        }
        // Made last, so that the way to the others stays as short as it was.
        outcome.review = button(layout.look, word!("Look at it"), regular).clicked();
    }
    if let Some(folder) = copied {
        ui.ctx().copy_text(folder);
        word!("The path was copied.").clone_into(said);
    }
    if ui.memory(|memory| memory.focused()).is_none() {
        back.request_focus();
    }
    let asked = matches!(data.rating, Rating::Asked(..))
        || data
            .proposal
            .as_ref()
            .is_some_and(|told| told.take.is_some());
    let hint = match (said.as_str(), asked) {
        ("", true) => data.answer.as_str(),
        ("", false) => word!("Tab goes from button to button, enter presses."),
        (said, _) => said,
    };
    let colour = look.colours.quiet;
    let galley = block(ui, hint, look.pt(size::SMALL - 3.0), layout.hint, colour);
    text::place(
        ui.painter(),
        galley,
        layout.hint,
        Align2::RIGHT_CENTER,
        colour,
    );
    name(ui, layout.hint, word!("Hint"), hint);
}
