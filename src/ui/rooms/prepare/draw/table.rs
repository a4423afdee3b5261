//! Who sets the load, and the timing table, which adds up.

use egui::{Align2, Label, Rect, ScrollArea, Stroke, Ui, pos2, vec2};

use super::{fit, heading, one_line, part};
use crate::time::Span;
use crate::ui::rooms::prepare::data::MODES;
use crate::ui::rooms::prepare::{Chosen, Data, Shelf, State, TimingRow};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, name, text};

/// A column: the entry of its head, and what it says of a row.
type Column = (&'static str, fn(&TimingRow) -> String);

/// How high a row is, at the reference.
const LINE: f32 = 24.0;

/// The columns as they stand, from the left.
const COLUMNS: [Column; 8] = [
    (entry!("block"), TimingRow::name),
    (entry!("each"), |row| row.length.clone()),
    (entry!("in all"), |row| row.in_all.to_string()),
    (entry!("effort"), |row| row.load.clone()),
    (entry!("watts"), |row| row.watts.clone()),
    ("rpm", |row| row.cadence.clone()),
    (entry!("position"), |row| row.position.to_owned()),
    (entry!("start"), |row| row.start.clone()),
];

/// Which column goes first where there is no room for all: how to sit, the start, turns a minute, the effort
/// (the strip shows it), the length of each, the watts. What and how long in all always stay.
const DROPPED: [&str; 6] = ["position", "start", "rpm", "effort", "each", "watts"];

pub(super) fn show(
    ui: &mut Ui,
    rect: Rect,
    data: &Data,
    shelf: &Shelf,
    chosen: &mut Chosen,
    state: &mut State,
    look: Look,
) {
    let mut ui = part(ui, rect, "timing", look);
    let ui = &mut ui;
    // Where it is narrow the two choices speak for themselves.
    if rect.height() > look.pt(260.0) {
        ui.add(Label::new(heading(word!("Who sets the load"), look)).selectable(false));
    }
    ui.spacing_mut().item_spacing.y = look.pt(2.0);
    for (mode, words) in MODES {
        if ui
            .radio(chosen.mode == mode, crate::text::word(words))
            .clicked()
        {
            chosen.mode = mode;
        }
    }
    ui.add_space(look.pt(4.0));
    fit::show(ui, rect.width() - look.pt(4.0), shelf, chosen, state, look);
    ui.add_space(look.pt(2.0));
    let rows = &data.session.rows;
    if rows.is_empty() {
        return;
    }
    let gutter = look.pt(12.0);
    let columns = columns(ui, rows, rect.width() - look.pt(10.0) - gutter, look);
    let line = look.pt(LINE).round();
    let top = ui.cursor().top().round();
    let room = rect.with_min_y(top);
    let note = regular(look.pt(size::NOTE));
    for (index, (head, _), right) in &columns {
        let at = Rect::from_min_size(pos2(rect.left() + gutter, top), vec2(*right, line));
        put(
            ui,
            at,
            head_words(head),
            *index,
            note.clone(),
            look.colours.quiet,
            look,
        );
    }
    let mut inner = ui.new_child(
        egui::UiBuilder::new()
            .id_salt("rows")
            .max_rect(room.with_min_y(top + line)),
    );
    ScrollArea::vertical()
        .id_salt("rows")
        .auto_shrink([false, false])
        .show_viewport(&mut inner, |ui, view| {
            // Two lines more: the sums.
            ui.set_height(line * (rows.len() + 2) as f32);
            let corner = ui.max_rect().min + vec2(gutter, 0.0);
            for (number, row) in rows.iter().enumerate() {
                let at = corner.y + line * number as f32;
                let seen = view.top() - line <= line * number as f32
                    && line * number as f32 <= view.bottom();
                if seen {
                    one(ui, pos2(corner.x, at), row, number, &columns, look);
                }
            }
            let foot = corner.y + line * rows.len() as f32;
            sums(ui, pos2(corner.x, foot), data, &columns, look);
        });
}

/// The entry of what the sum of the main part is called.
const MAIN_PART: &str = entry!("of it main part");

/// A column's head as it is drawn.
fn head_words(head: &'static str) -> &'static str {
    match head {
        // What it asks for may be a share of a power or a slope as well; the word is as narrow as its column.
        "effort" => word!("effort" # "column"),
        head => crate::text::word(head),
    }
}

/// What stays, with its place from the left among those that stay and where it ends from the table's left.
fn columns(ui: &Ui, rows: &[TimingRow], width: f32, look: Look) -> Vec<(usize, Column, f32)> {
    let gap = look.pt(14.0);
    let font = regular(look.pt(size::BODY - 1.0));
    let wide = |words: String| {
        let colour = look.colours.ink;
        ui.painter()
            .layout_no_wrap(words, font.clone(), colour)
            .size()
            .x
    };
    let mut stay: Vec<(Column, f32)> = COLUMNS
        .iter()
        .filter(|(head, cell)| *head == "block" || rows.iter().any(|row| !cell(row).is_empty()))
        .filter(|(head, _)| *head != "each" || rows.iter().any(|row| row.times > 1))
        .map(|&(head, cell)| {
            let cells = rows.iter().map(|row| wide(cell(row)));
            // The sums' words stand under the names.
            let least = wide(head_words(if head == "block" { MAIN_PART } else { head }).to_owned());
            ((head, cell), cells.fold(least, f32::max))
        })
        .collect();
    // The name may be cut before another column goes, but not to less than this.
    let least = stay
        .first()
        .map_or(0.0, |(_, wide)| wide.min(look.pt(130.0)));
    let sum = |stay: &[(Column, f32)]| {
        let rest: f32 = stay.iter().skip(1).map(|(_, wide)| wide + gap).sum();
        rest + least
    };
    for head in DROPPED {
        if sum(&stay) <= width {
            break;
        }
        stay.retain(|((name, _), _)| *name != head);
    }
    let rest: f32 = stay.iter().skip(1).map(|(_, wide)| wide + gap).sum();
    let mut right = 0.0;
    stay.into_iter()
        .enumerate()
        .map(|(index, (column, wide))| {
            right += if index == 0 {
                wide.min(width - rest)
            } else {
                wide + gap
            };
            (index, column, right)
        })
        .collect()
}

/// Names and loads stand left, figures right under one another.
fn put(
    ui: &Ui,
    at: Rect,
    words: &str,
    index: usize,
    font: egui::FontId,
    colour: egui::Color32,
    look: Look,
) {
    let anchor = if index == 0 {
        Align2::LEFT_CENTER
    } else {
        Align2::RIGHT_CENTER
    };
    let width = at.width().max(look.pt(20.0));
    let galley = one_line(ui, words, font, width, colour);
    text::place(ui.painter(), galley, at, anchor, colour);
}

fn one(
    ui: &Ui,
    at: egui::Pos2,
    row: &TimingRow,
    number: usize,
    columns: &[(usize, Column, f32)],
    look: Look,
) {
    let line = look.pt(LINE).round();
    let font = regular(look.pt(size::BODY - 1.0));
    for (index, (_, cell), right) in columns {
        let rect = Rect::from_min_size(at, vec2(*right, line));
        put(
            ui,
            rect,
            &cell(row),
            *index,
            font.clone(),
            look.colours.ink,
            look,
        );
    }
    let wide = columns.last().map_or(0.0, |(_, _, right)| *right);
    let rect = Rect::from_min_size(at, vec2(wide, line));
    if row.turns {
        // Rows that take turns are joined at their left.
        let x = at.x - look.pt(7.0);
        let stroke = Stroke::new(look.pt(2.0), look.colours.quiet);
        ui.painter()
            .vline(x, (at.y + line * 0.3)..=(at.y + line * 1.7), stroke);
    }
    let label = say!(
        "Row {number}, {block}",
        number = number + 1,
        block = row.name()
    );
    name(ui, rect, &label, &row.spoken());
}

/// The main part and the whole, under the column that adds up to them.
fn sums(ui: &Ui, at: egui::Pos2, data: &Data, columns: &[(usize, Column, f32)], look: Look) {
    let line = look.pt(LINE).round();
    let Some((index, _, right)) = columns
        .iter()
        .find(|(_, (head, _), _)| *head == entry!("in all"))
    else {
        return;
    };
    let stroke = Stroke::new(look.pt(1.5), look.colours.quiet);
    ui.painter()
        .hline(at.x..=(at.x + right), at.y + 1.0, stroke);
    let total: Span = data.session.rows.iter().map(|row| row.in_all).sum();
    let font = regular(look.pt(size::BODY - 1.0));
    for (number, (what, length)) in [
        (word!("Whole"), total.to_string()),
        (head_words(MAIN_PART), data.session.main.clone()),
    ]
    .into_iter()
    .enumerate()
    {
        let top = at.y + line * number as f32;
        let colour = if number == 0 {
            look.colours.ink
        } else {
            look.colours.quiet
        };
        let rect = Rect::from_min_size(pos2(at.x, top), vec2(*right, line));
        put(ui, rect, what, 0, font.clone(), colour, look);
        put(ui, rect, &length, *index, font.clone(), colour, look);
        name(ui, rect, what, &length);
    }
}
