//! Repeats side by side: each figure as a small line from the first repeat to the last, with its values.

use egui::{Align2, Rect, Stroke, Ui, pos2};

use super::data::Set;
use super::draw::one_line;
use super::sheet::{heading, place};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};

/// Draws every set.
pub(super) fn show(ui: &mut Ui, sets: &[Set], width: f32, look: Look) {
    let colours = look.colours;
    let font = regular(look.pt(size::NOTE));
    let line = look.pt(30.0).round();
    for set in sets {
        heading(ui, &set.title, width, look);
        let wide = |words: &str| {
            ui.painter()
                .layout_no_wrap(words.to_owned(), font.clone(), colours.ink)
                .size()
                .x
        };
        let names = set.figures.iter().map(|spark| wide(&spark.figure));
        let names = names.fold(0.0, f32::max).min(width * 0.36) + look.pt(14.0);
        let shown = set.figures.iter().flat_map(|spark| &spark.shown);
        let cell = shown.map(|words| wide(words)).fold(look.pt(30.0), f32::max) + look.pt(14.0);
        let change = set.figures.iter().map(|spark| wide(&spark.change));
        let change = change.fold(wide(word!("change" # "a column")), f32::max) + look.pt(18.0);
        let count = set.repeats.len() as f32;
        // Where the figures of all repeats have no room, the lines and the change tell of them, and the copied table.
        let figures = names + cell * count + change + look.pt(70.0) <= width;
        let spark_wide = (width - names - change - if figures { cell * count } else { 0.0 })
            .min(look.pt(240.0))
            .max(look.pt(40.0));
        let head = place(ui, width, line);
        let mut left = head.left() + names;
        let put = |ui: &Ui, words: &str, right: f32, row: Rect, colour, strong: bool| {
            let size = look.pt(size::NOTE);
            let font = if strong { bold(size) } else { regular(size) };
            let galley = ui.painter().layout_no_wrap(words.to_owned(), font, colour);
            let at = Rect::from_min_max(
                pos2(right - galley.size().x, row.top()),
                pos2(right, row.bottom()),
            );
            text::place(ui.painter(), galley, at, Align2::RIGHT_CENTER, colour);
        };
        if figures {
            for repeat in &set.repeats {
                left += cell;
                put(ui, &repeat.to_string(), left, head, colours.quiet, false);
            }
        }
        put(
            ui,
            word!("change" # "a column"),
            head.left() + names + if figures { cell * count } else { 0.0 } + spark_wide + change,
            head,
            colours.quiet,
            false,
        );
        let stroke = Stroke::new(look.pt(1.5), colours.quiet);
        ui.painter()
            .hline(head.x_range(), head.bottom() - look.pt(3.0), stroke);
        for (index, spark) in set.figures.iter().enumerate() {
            let row = place(ui, width, line);
            if !ui.is_rect_visible(row) {
                continue;
            }
            let label = one_line(
                ui,
                &spark.figure,
                font.clone(),
                names - look.pt(8.0),
                colours.ink,
            );
            text::place(ui.painter(), label, row, Align2::LEFT_CENTER, colours.ink);
            let mut left = row.left() + names;
            if figures {
                for words in &spark.shown {
                    left += cell;
                    put(ui, words, left, row, colours.ink, false);
                }
            }
            let room = Rect::from_min_max(
                pos2(left + look.pt(18.0), row.top() + look.pt(6.0)),
                pos2(
                    left + spark_wide - look.pt(4.0),
                    row.bottom() - look.pt(6.0),
                ),
            );
            trace(ui, room, &spark.values, look);
            put(
                ui,
                &spark.change,
                left + spark_wide + change,
                row,
                colours.ink,
                true,
            );
            let rule = Stroke::new(look.pt(1.0), colours.rule);
            ui.painter().hline(row.x_range(), row.bottom(), rule);
            let label = say!(
                "{title}, row {number}",
                title = set.title,
                number = index + 1
            );
            let words = say!(
                "{figure}: {values}; change {change}",
                figure = spark.figure,
                values = spark.shown.join(", "),
                change = spark.change
            );
            name(ui, row, &label, &words);
        }
    }
}

/// The values as a line with a dot each, from the least to the most of them.
fn trace(ui: &Ui, rect: Rect, values: &[Option<f64>], look: Look) {
    let known = values.iter().flatten().copied();
    let (Some(least), Some(most)) = (known.clone().reduce(f64::min), known.reduce(f64::max)) else {
        return;
    };
    let last = values.len().saturating_sub(1).max(1) as f32;
    let place = |index: usize, value: f64| {
        let share = if most > least {
            (value - least) / (most - least)
        } else {
            0.5
        };
        pos2(
            rect.left() + rect.width() * index as f32 / last,
            rect.bottom() - rect.height() * share as f32,
        )
    };
    let points: Vec<_> = values
        .iter()
        .enumerate()
        .map(|(index, value)| value.map(|value| place(index, value)))
        .collect();
    for run in points.split(Option::is_none) {
        let line: Vec<_> = run.iter().copied().flatten().collect();
        if line.len() > 1 {
            ui.painter()
                .line(line, Stroke::new(look.pt(2.0), look.colours.ink));
        }
    }
    for point in points.into_iter().flatten() {
        ui.painter()
            .circle_filled(point, look.pt(3.0), look.colours.ink);
    }
}
