//! What stands beside the text: problems, questions, the timing table, what may be written, what can be begun with.

use egui::{
    Align2, Button, Label, Rect, RichText, Role, ScrollArea, Stroke, Ui, UiBuilder, WidgetInfo,
    pos2, vec2,
};

use super::data::Way;
use super::draw::one_line;
use super::{Data, State, Wish};
use crate::plan::Severity;
use crate::time::Span;
use crate::ui::rooms::prepare::TimingRow;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};

/// A part of the room with its name, and a ui of its own that is cut at its edges.
fn part(ui: &mut Ui, rect: Rect, title: &str, look: Look) -> Ui {
    let mut child = ui.new_child(UiBuilder::new().id_salt(title).max_rect(rect));
    child.set_clip_rect(rect.expand(look.pt(3.0)));
    let words = RichText::new(title).font(bold(look.pt(size::BODY)));
    child.add(Label::new(words).selectable(false).truncate());
    child
}

/// What is wrong, a line each; a press goes there.
pub(super) fn problems(ui: &mut Ui, rect: Rect, data: &Data, state: &mut State, look: Look) {
    let mut ui = part(ui, rect, &data.verdict, look);
    let ui = &mut ui;
    let mut wanted = None;
    ScrollArea::vertical()
        .id_salt("problems")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(4.0);
            for (number, problem) in data.problems.iter().enumerate() {
                let words = problem.to_string();
                let colour = match problem.severity {
                    Severity::Error => look.colours.above,
                    Severity::Warning => look.colours.ink,
                };
                let shown = RichText::new(&words)
                    .font(regular(look.pt(size::NOTE)))
                    .color(colour);
                let button = Button::new(shown).wrap().frame_when_inactive(false);
                let response = ui.push_id(number, |ui| ui.add(button)).inner;
                response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
                if response.clicked() {
                    wanted = Some((problem.line, problem.column));
                }
            }
        });
    if let Some((line, column)) = wanted {
        state.go_to(line, column);
    }
}

/// What is asked, with the ways to answer it.
pub(super) fn question(
    ui: &mut Ui,
    rect: Rect,
    words: &str,
    ways: &[Way],
    look: Look,
) -> Option<Wish> {
    let bar = rect.with_max_x(rect.left() + look.pt(5.0));
    ui.painter().rect_filled(bar, 0.0, look.colours.above);
    let room = rect.with_min_x(rect.left() + look.pt(16.0));
    let mut ui = ui.new_child(UiBuilder::new().id_salt("question").max_rect(room));
    ui.set_clip_rect(room.expand(look.pt(3.0)));
    let shown = RichText::new(words)
        .font(bold(look.pt(size::BODY)))
        .color(look.colours.above);
    ScrollArea::vertical()
        .id_salt("question")
        .auto_shrink([false, false])
        .show(&mut ui, |ui| {
            ui.add(Label::new(shown).wrap().selectable(false));
            answers(ui, ways, look)
        })
        .inner
}

fn answers(ui: &mut Ui, ways: &[Way], look: Look) -> Option<Wish> {
    let mut wished = None;
    for way in ways {
        ui.vertical(|ui| {
            let response = ui.add(Button::new(&way.words));
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &way.words));
            if response.clicked() {
                wished = Some(way.wish.clone());
            }
            let about = RichText::new(&way.about)
                .font(regular(look.pt(size::NOTE)))
                .color(look.colours.quiet);
            ui.add(Label::new(about).wrap().selectable(false));
        });
    }
    wished
}

/// What a new text can begin with, and the files that can be opened.
pub(super) fn list(ui: &mut Ui, rect: Rect, ways: &[Way], look: Look) -> Option<Wish> {
    let mut ui = part(ui, rect, word!("Begin with"), look);
    let first = ui.memory(|memory| memory.focused()).is_none();
    ScrollArea::vertical()
        .id_salt("begin")
        .auto_shrink([false, false])
        .show(&mut ui, |ui| {
            let mut wished = None;
            for (index, way) in ways.iter().enumerate() {
                ui.horizontal(|ui| {
                    let wide = look.pt(360.0).min(ui.available_width() * 0.5);
                    let button = Button::new(&way.words).truncate();
                    let response = ui.add_sized(vec2(wide, look.pt(30.0)), button);
                    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &way.words));
                    if first && index == 0 {
                        response.request_focus();
                    }
                    if response.gained_focus() {
                        response.scroll_to_me(None);
                    }
                    if response.clicked() {
                        wished = Some(way.wish.clone());
                    }
                    let about = RichText::new(&way.about)
                        .font(regular(look.pt(size::NOTE)))
                        .color(look.colours.quiet);
                    ui.add(Label::new(about).truncate().selectable(false));
                });
            }
            wished
        })
        .inner
}

/// What may be written at the cursor, each with what it means.
pub(super) fn offered(ui: &mut Ui, rect: Rect, data: &Data, state: &mut State, look: Look) {
    let mut ui = part(ui, rect, word!("May stand here"), look);
    let picked = data.choosing.unwrap_or(0);
    let mut wanted = None;
    ScrollArea::vertical()
        .id_salt("offered")
        .auto_shrink([false, false])
        .show(&mut ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(2.0);
            for (index, candidate) in data.offered.candidates.iter().enumerate() {
                let doc = crate::text::word(candidate.doc);
                let chosen = index == picked;
                let mut job = egui::text::LayoutJob::default();
                let colours = look.colours;
                let points = look.pt(size::NOTE);
                let format = |font, colour| egui::text::TextFormat::simple(font, colour);
                job.append(&candidate.shown, 0.0, format(bold(points), colours.ink));
                job.append("  ", 0.0, format(regular(points), colours.ink));
                let colour = if chosen { colours.ink } else { colours.quiet };
                job.append(doc, 0.0, format(regular(points), colour));
                let button = Button::selectable(chosen, job).wrap();
                let response = ui.push_id(index, |ui| ui.add(button)).inner;
                response.widget_info(|| {
                    let words = format!("{}: {doc}", candidate.shown);
                    WidgetInfo::selected(Role::ListBoxOption, true, chosen, words)
                });
                if response.clicked() {
                    wanted = Some(index);
                }
                if chosen && data.choosing.is_some() {
                    response.scroll_to_me(None);
                }
            }
        });
    if let Some(index) = wanted {
        state.complete(index);
    }
}

/// The blocks with their lengths and loads, repeats folded, and the sums under them.
pub(super) fn table(ui: &mut Ui, rect: Rect, data: &Data, look: Look) {
    let mut ui = part(ui, rect, word!("What adds up"), look);
    let rows = &data.card.rows;
    let line = look.pt(24.0).round();
    let note = regular(look.pt(size::NOTE));
    ScrollArea::vertical()
        .id_salt("timing")
        .auto_shrink([false, false])
        .show_viewport(&mut ui, |ui, view| {
            ui.set_height(line * (rows.len() + 2) as f32);
            let corner = ui.max_rect().min;
            let right = ui.max_rect().right() - look.pt(12.0);
            let wide = right - corner.x;
            let put = |number: usize, words: &str, from: f32, to: f32, anchor: Align2| {
                let at = Rect::from_min_max(
                    pos2(corner.x + wide * from, corner.y + line * number as f32),
                    pos2(corner.x + wide * to, corner.y + line * (number + 1) as f32),
                );
                let galley = one_line(ui, words, note.clone(), at.width(), look);
                text::place(ui.painter(), galley, at, anchor, look.colours.ink);
                at
            };
            for (number, row) in rows.iter().enumerate() {
                let top = line * number as f32;
                if top + line < view.top() || top > view.bottom() {
                    continue;
                }
                let at = put(number, &row.name(), 0.0, 0.46, Align2::LEFT_CENTER);
                put(
                    number,
                    &row.in_all.to_string(),
                    0.46,
                    0.62,
                    Align2::RIGHT_CENTER,
                );
                put(number, load(row), 0.64, 1.0, Align2::RIGHT_CENTER);
                let label = say!(
                    "Row {number}, {name}",
                    number = number + 1,
                    name = row.name()
                );
                name(ui, at.with_max_x(right), &label, &row.spoken());
            }
            if !rows.is_empty() {
                let y = corner.y + line * rows.len() as f32;
                let stroke = Stroke::new(look.pt(1.5), look.colours.quiet);
                ui.painter()
                    .hline(corner.x..=corner.x + wide * 0.62, y, stroke);
            }
            let whole: Span = rows.iter().map(|row| row.in_all).sum();
            let sums = [
                (word!("Whole"), whole.to_string()),
                (word!("of it main part"), data.card.main.clone()),
            ];
            for (number, (what, length)) in sums.into_iter().enumerate() {
                if rows.is_empty() {
                    break;
                }
                let at = put(rows.len() + number, what, 0.0, 0.46, Align2::LEFT_CENTER);
                put(
                    rows.len() + number,
                    &length,
                    0.46,
                    0.62,
                    Align2::RIGHT_CENTER,
                );
                name(ui, at.with_max_x(right), what, &length);
            }
        });
}

/// What a row asks for: watts where there are any, else the effort.
fn load(row: &TimingRow) -> &str {
    if row.watts.is_empty() {
        &row.load
    } else {
        &row.watts
    }
}
