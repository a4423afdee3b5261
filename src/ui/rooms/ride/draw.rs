//! Draws the Ride room.

use egui::{Align2, Rect, Sense, Ui, WidgetInfo, pos2};

use super::layout::Layout;
use super::{Data, Own, Sentence, band_words};
use crate::engine::Command;
use crate::engine::snapshot::Snapshot;
use crate::ui::keys::{self, Hands, Hint};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::figure::{self, Figure};
use crate::ui::widgets::{Look, banner, cadence_band, menu, name, rating, ruler, strip, text};

/// Draws the room and gives what was clicked: the hints are buttons too, though no mouse is needed.
pub fn room_ui(
    ui: &mut Ui,
    data: &Data,
    look: Look,
    snapshot: &Snapshot,
    hands: &mut Hands,
) -> Vec<Command> {
    let window = ui.max_rect();
    let layout = Layout::new(window);
    ui.painter().rect_filled(window, 0.0, look.colours.ground);
    line(
        ui,
        layout.block,
        "Block",
        &data.block,
        look.pt(size::LINE),
        look,
    );
    let left = text::line(
        ui.painter(),
        &data.left,
        bold,
        look.pt(size::HUGE),
        layout.left.width(),
        look.colours.ink,
    );
    text::place(
        ui.painter(),
        left,
        layout.left,
        Align2::LEFT_CENTER,
        look.colours.ink,
    );
    name(ui, layout.left, "Left in block", &data.left);
    own(ui, &layout, &data.own, look);
    let unit = look.pt(size::UNIT - 4.0);
    figure::show(
        ui,
        layout.third,
        &data.smaller[0],
        look.pt(size::MIDDLE),
        unit,
        look,
    );
    figure::show(
        ui,
        layout.fourth,
        &data.smaller[1],
        look.pt(size::MIDDLE),
        unit,
        look,
    );
    match (&data.menu, &data.rating) {
        (_, Some(question)) if question.chosen.is_some() => {
            rating::show(ui, layout.sentence, question, look);
        }
        (Some(choices), _) => menu::show(ui, layout.sentence, choices, look),
        (None, Some(question)) if !data.sentence.urgent => {
            rating::show(ui, layout.sentence, question, look)
        }
        _ => say(ui, layout.sentence, &data.sentence, look),
    }
    match &data.banner {
        Some(words) => {
            // Its frame ends where the lines of text do; the strip's scale reaches farther.
            let place = layout.strip.with_max_x(layout.next.right());
            banner::show(ui, place, words, look);
        }
        None => strip::show(ui, layout.strip, &data.strip, look),
    }
    coming(ui, layout.next, data, look);
    ruler::show(ui, layout.ruler, &data.ruler, look);
    ruler::clock(ui, layout.clock, &data.clock, look);
    hints(ui, layout.hints, &data.hints, look)
        .into_iter()
        .flat_map(|act| keys::commands(act, snapshot, hands))
        .collect()
}

/// One line of ink in a rectangle, named.
fn line(ui: &Ui, rect: Rect, label: &str, words: &str, points: f32, look: Look) {
    let galley = text::line(
        ui.painter(),
        words,
        regular,
        points,
        rect.width(),
        look.colours.ink,
    );
    text::place(
        ui.painter(),
        galley,
        rect,
        Align2::LEFT_CENTER,
        look.colours.ink,
    );
    name(ui, rect, label, words);
}

fn own(ui: &Ui, layout: &Layout, own: &Own, look: Look) {
    let unit = look.pt(size::LINE - 2.0);
    match own {
        Own::Cadence(figure, band) => {
            figure::show(ui, layout.own, figure, look.pt(size::LARGE), unit, look);
            if let Some(band) = band {
                cadence_band::show(ui, layout.band, band, look);
                let value = format!("{}, {}", band_words(band.band), band.judged());
                name(
                    ui,
                    layout.band,
                    "Cadence band",
                    value.trim_end_matches(", "),
                );
            }
        }
        Own::Aim(effort, feel) => {
            let painter = ui.painter();
            let quiet = look.colours.quiet;
            let aim = text::line(
                painter,
                "aim for",
                regular,
                unit,
                layout.own.width() * 0.4,
                quiet,
            );
            let aim = text::place(painter, aim, layout.own, Align2::LEFT_TOP, quiet);
            let number = effort
                .chars()
                .next()
                .is_some_and(|first| first.is_ascii_digit());
            let beside = if number { "of 10" } else { "" };
            let figure = Figure {
                name: "Aim",
                value: effort.clone(),
                unit: beside.to_owned(),
                note: String::new(),
                known: true,
            };
            let room = if number {
                Rect::from_min_max(
                    pos2(aim.right() + look.pt(12.0), layout.own.top()),
                    layout.own.max,
                )
            } else {
                Rect::from_min_max(pos2(layout.own.left(), aim.bottom()), layout.own.max)
            };
            figure::show(ui, room, &figure, look.pt(size::LARGE), unit, look);
            line_quiet(ui, layout.band, feel, look);
        }
    }
}

fn line_quiet(ui: &Ui, rect: Rect, words: &str, look: Look) {
    let quiet = look.colours.quiet;
    let galley = text::line(
        ui.painter(),
        words,
        regular,
        look.pt(size::UNIT),
        rect.width(),
        quiet,
    );
    text::place(ui.painter(), galley, rect, Align2::LEFT_TOP, quiet);
    name(ui, rect, "Feels like", words);
}

fn say(ui: &Ui, rect: Rect, sentence: &Sentence, look: Look) {
    if sentence.words.is_empty() {
        return;
    }
    let painter = ui.painter();
    let (mut room, mut colour) = (rect, look.colours.ink);
    if sentence.urgent {
        // A bar at its side marks what needs attention, beside the colour.
        colour = look.colours.above;
        let bar = Rect::from_min_max(rect.min, pos2(rect.left() + look.pt(8.0), rect.bottom()));
        painter.rect_filled(bar, 0.0, colour);
        room.min.x += look.pt(22.0);
    }
    let galley = text::block(
        painter,
        &sentence.words,
        regular,
        look.pt(size::SENTENCE),
        room.size(),
        colour,
    );
    let anchor = if sentence.urgent {
        Align2::LEFT_CENTER
    } else {
        Align2::LEFT_TOP
    };
    text::place(painter, galley, room, anchor, colour);
    name(ui, rect, "Sentence", &sentence.words);
}

/// What comes next, and the gear beside it, shrunk together.
fn coming(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let gap = look.pt(30.0);
    let at = |size: f32| {
        let next = painter.layout_no_wrap(data.next.clone(), regular(size), look.colours.ink);
        let gear = painter.layout_no_wrap(data.gear.clone(), regular(size), look.colours.quiet);
        (next, gear)
    };
    let full = look.pt(size::LINE);
    let (next, gear) = at(full);
    let wide = next.size().x + gap + gear.size().x;
    let (next, gear) = if wide > rect.width() {
        at((full * rect.width() / wide * 0.99).max(1.0))
    } else {
        (next, gear)
    };
    text::place(painter, next, rect, Align2::LEFT_CENTER, look.colours.ink);
    text::place(
        painter,
        gear,
        rect,
        Align2::RIGHT_CENTER,
        look.colours.quiet,
    );
    name(
        ui,
        rect,
        "Next",
        format!("{} {}", data.next, data.gear).trim(),
    );
}

fn hints(ui: &mut Ui, rect: Rect, hints: &[Hint], look: Look) -> Vec<keys::Act> {
    let colours = look.colours;
    let gap = look.pt(22.0);
    let layout = |ui: &Ui, size: f32| {
        let pieces: Vec<_> = hints
            .iter()
            .map(|hint| {
                let painter = ui.painter();
                let key = painter.layout_no_wrap(hint.key.clone(), bold(size), colours.ink);
                let words =
                    painter.layout_no_wrap(hint.words.clone(), regular(size), colours.quiet);
                (key, words)
            })
            .collect();
        let inner = size * 0.35;
        let wide: f32 = pieces
            .iter()
            .map(|(key, words)| key.size().x + inner + words.size().x)
            .sum::<f32>()
            + gap * hints.len().saturating_sub(1) as f32;
        (pieces, wide, inner)
    };
    let full = look.pt(size::SMALL - 1.0);
    let (mut pieces, mut wide, mut inner) = layout(ui, full);
    if wide > rect.width() {
        let smaller = (full * (rect.width() - gap * hints.len() as f32)
            / (wide - gap * hints.len() as f32))
            .max(1.0);
        (pieces, wide, inner) = layout(ui, smaller * 0.98);
    }
    let mut left = rect.right() - wide;
    let mut clicked = Vec::new();
    for (hint, (key, words)) in hints.iter().zip(pieces) {
        let width = key.size().x + inner + words.size().x;
        let place = Rect::from_min_max(pos2(left, rect.top()), pos2(left + width, rect.bottom()));
        let response = ui.interact(place, egui::Id::unique(("hint", hint.act)), Sense::click());
        let label = format!("{} ({})", hint.words, hint.key);
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &label));
        if response.clicked() {
            clicked.push(hint.act);
        }
        let at = place.left() + key.size().x + inner;
        let y = place.center().y - key.size().y / 2.0;
        ui.painter().galley(pos2(place.left(), y), key, colours.ink);
        ui.painter().galley(pos2(at, y), words, colours.quiet);
        left += width + gap;
    }
    clicked
}
