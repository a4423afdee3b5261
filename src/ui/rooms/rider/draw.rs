//! Draws the rider's page: two columns of figures, each two lines high whatever is said under it.

use egui::{Checkbox, Label, Rect, RichText, ScrollArea, TextEdit, Ui, UiBuilder, pos2, vec2};

use super::{ENTRIES, Entry, Form, METER_LED};
use crate::text::word;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name};

/// How high the choice of the meter with its reason is, at the reference: two lines.
const METER_HIGH: f32 = 50.0;

/// Draws the page over `rect`; what is typed goes into the form.
pub fn page_ui(ui: &mut Ui, rect: Rect, form: &mut Form, look: Look) {
    let mut ui = ui.new_child(UiBuilder::new().id_salt("rider").max_rect(rect));
    let ui = &mut ui;
    ui.set_clip_rect(rect.expand(look.pt(4.0)));
    ScrollArea::vertical()
        .id_salt("rider")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            let title = if form.place.is_some() {
                word!("Rider")
            } else {
                word!("New rider")
            };
            if rect.height() > look.pt(360.0) {
                let words = RichText::new(title).font(bold(look.pt(size::BODY)));
                ui.add(Label::new(words).selectable(false));
            }
            let rows = ENTRIES.len() / 2;
            let top = (ui.cursor().top() + look.pt(4.0)).round();
            let gap = look.pt(36.0);
            let wide = (ui.available_width() - gap - look.pt(10.0)) / 2.0;
            let meter_high = look.pt(METER_HIGH);
            let high = ((rect.bottom() - top - look.pt(6.0) - meter_high) / rows as f32)
                .max(look.pt(54.0))
                .floor();
            let corner = ui.max_rect().left();
            for (index, entry) in ENTRIES.iter().enumerate() {
                let column = (index / rows) as f32;
                let at = pos2(
                    corner + look.pt(4.0) + column * (wide + gap),
                    top + (index % rows) as f32 * high,
                );
                cell(
                    ui,
                    Rect::from_min_size(at, vec2(wide, high)),
                    form,
                    index,
                    entry,
                    look,
                );
            }
            let at = pos2(corner + look.pt(4.0), top + rows as f32 * high);
            let whole = vec2(2.0 * wide + gap, meter_high);
            meter(ui, Rect::from_min_size(at, whole), form, look);
            ui.allocate_space(vec2(1.0, rows as f32 * high + meter_high));
        });
    form.fresh = false;
}

/// Whose watts are held, with the reason under it.
fn meter(ui: &mut Ui, rect: Rect, form: &mut Form, look: Look) {
    let [label, why] = METER_LED.map(word);
    let words = RichText::new(label).font(regular(look.pt(size::BODY)));
    let line = Rect::from_min_size(rect.min, vec2(rect.width(), look.pt(28.0)));
    let response = ui
        .push_id("meter_led", |ui| {
            let mut left = ui.new_child(UiBuilder::new().max_rect(line));
            left.add(Checkbox::new(&mut form.meter_led, words))
        })
        .inner;
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
    if response.changed() {
        form.forgive();
        form.check();
    }
    let room = rect.with_min_y(line.bottom());
    let colour = look.colours.quiet;
    let note = look.pt(size::NOTE);
    let galley =
        crate::ui::widgets::text::block(ui.painter(), why, regular, note, room.size(), colour);
    ui.painter().galley(room.min, galley, colour);
    name(ui, room, entry!("About the meter"), why);
}

fn cell(ui: &mut Ui, rect: Rect, form: &mut Form, index: usize, entry: &Entry, look: Look) {
    let colours = look.colours;
    let name_of = word(entry.label);
    let line = look.pt(30.0).round();
    let label_wide = look.pt(168.0).min(rect.width() * 0.42);
    let part = |from: f32, wide: f32| {
        Rect::from_min_size(pos2(rect.left() + from, rect.top()), vec2(wide, line))
    };
    ui.push_id(entry.key, |ui| {
        let label = ui.painter().layout_no_wrap(
            name_of.to_owned(),
            regular(look.pt(size::BODY)),
            colours.ink,
        );
        let label_at = part(0.0, label_wide);
        let y = label_at.center().y - label.size().y / 2.0;
        ui.painter()
            .galley(pos2(rect.left(), y), label, colours.ink);
        // A name and a list have the whole line; a number stands before its unit.
        let number = entry.legal.filter(|_| !entry.is_list());
        let edit_wide = if number.is_some() {
            look.pt(84.0)
        } else {
            rect.width() - label_wide
        };
        let edit = TextEdit::singleline(&mut form.texts[index])
            .char_limit(80)
            .font(regular(look.pt(size::BODY)))
            .align(egui::Align2::LEFT_CENTER)
            .desired_width(edit_wide);
        let response = ui.place(part(label_wide, edit_wide), edit);
        ui.ctx()
            .accesskit_node_builder(response.id, |node| node.set_label(name_of));
        if form.fresh && index == 0 {
            response.request_focus();
        }
        if response.changed() {
            form.typed(index);
        }
        let unit = word(number.map_or("", |legal| legal.unit));
        let unit = ui.painter().layout_no_wrap(
            unit.to_owned(),
            regular(look.pt(size::BODY)),
            colours.quiet,
        );
        let unit_at = label_wide + edit_wide + look.pt(8.0);
        let unit_wide = unit.size().x;
        let y = label_at.center().y - unit.size().y / 2.0;
        ui.painter()
            .galley(pos2(rect.left() + unit_at, y), unit, colours.quiet);
        if entry.is_checked() {
            let from = unit_at + unit_wide.max(look.pt(22.0)) + look.pt(12.0);
            let (words, colour) = if form.checked[index] {
                (word!("checked"), colours.quiet)
            } else {
                (word!("check me"), colours.above)
            };
            let words = RichText::new(words)
                .font(regular(look.pt(size::NOTE)))
                .color(colour);
            let place = part(from, rect.width() - from);
            let response = ui.place(place, Checkbox::new(&mut form.checked[index], words));
            ui.ctx().accesskit_node_builder(response.id, |node| {
                node.set_label(say!("{figure} checked", figure = name_of));
            });
            if response.changed() {
                form.forgive();
                form.check();
            }
        }
        under(ui, rect, form, index, entry, look);
    });
}

/// The line under a figure: what is wrong, else what may not be meant, else its range and what it is for.
fn under(ui: &Ui, rect: Rect, form: &Form, index: usize, entry: &Entry, look: Look) {
    let colours = look.colours;
    let said = form.errors[index].as_ref().or(form.doubts[index].as_ref());
    let usual = format!("{} {}", entry.range(), word(entry.why));
    let (words, colour) = match said {
        Some(words) => (words.as_str(), colours.above),
        None => (usual.trim(), colours.quiet),
    };
    let room = Rect::from_min_max(
        pos2(rect.left(), rect.top() + look.pt(31.0)),
        pos2(rect.right(), rect.bottom()),
    );
    let galley = crate::ui::widgets::text::block(
        ui.painter(),
        words,
        regular,
        look.pt(size::NOTE),
        vec2(room.width(), room.height().max(look.pt(20.0))),
        colour,
    );
    ui.painter().galley(room.min, galley, colour);
    let label = say!("About {figure}", figure = word(entry.label));
    name(ui, room, &label, words);
}
