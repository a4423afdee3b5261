//! What stands under the strip: a sheet that scrolls, by the wheel and, while it has the keyboard, by the arrows.

use egui::{
    Align2, Id, Key, Modifiers, Painter, Rect, Role, ScrollArea, Sense, Stroke, Ui, UiBuilder,
    WidgetInfo, pos2, vec2,
};

use super::draw::ring;
use super::{Data, View, bars, curve, over, sets, tables};
use crate::rider::EffortMap;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};

/// Draws it over `rect`. Gives what has the keyboard, and the effort map that the rider adopts.
pub(super) fn show(ui: &mut Ui, rect: Rect, data: &Data, look: Look) -> (Id, Option<EffortMap>) {
    let mut adopted = None;
    let id = ui.scope_id().with("sheet");
    let whole = ui.interact(rect, id, Sense::focusable_noninteractive());
    let mut scroll = 0.0;
    if whole.has_focus() {
        let page = rect.height() * 0.85;
        let line = look.pt(60.0);
        for (key, by) in [
            (Key::ArrowDown, -line),
            (Key::ArrowUp, line),
            (Key::PageDown, -page),
            (Key::PageUp, page),
            (Key::Space, -page),
        ] {
            if ui.input_mut(|input| input.consume_key(Modifiers::NONE, key)) {
                scroll += by;
            }
        }
    }
    let mut part = ui.new_child(UiBuilder::new().id_salt("sheet").max_rect(rect));
    part.set_clip_rect(rect.expand(look.pt(2.0)));
    ScrollArea::vertical()
        .id_salt(("sheet", data.title.as_str(), data.view.words()))
        .auto_shrink([false, false])
        .show(&mut part, |ui| {
            ui.spacing_mut().item_spacing = vec2(0.0, 0.0);
            if scroll != 0.0 {
                ui.scroll_with_delta_animation(
                    vec2(0.0, scroll),
                    egui::style::ScrollAnimation::none(),
                );
            }
            adopted = pieces(ui, rect, data, look);
        });
    if whole.has_focus() {
        ring(ui, rect.expand(look.pt(2.0)), look);
    }
    whole.widget_info(|| {
        WidgetInfo::labeled(Role::ScrollView, true, crate::text::word(data.view.words()))
    });
    (id, adopted)
}

fn pieces(ui: &mut Ui, rect: Rect, data: &Data, look: Look) -> Option<EffortMap> {
    let width = rect.width() - look.pt(16.0);
    if !data.lacking.is_empty() {
        paragraph(ui, data.lacking, width, word!("Lacking"), look);
    }
    match data.view {
        View::Story => story(ui, data, width, look),
        View::Blocks => {
            if data.spread.most > 0.0 {
                bars::show(ui, &data.spread, width, rect.height(), look);
            }
        }
        View::Repeats => sets::show(ui, &data.sets, width, look),
        View::Bests => {
            if !data.curve.points.is_empty() {
                curve::show(ui, &data.curve, width, rect.height(), look);
            }
        }
        View::Notes | View::Over => story(ui, data, width, look),
        View::Sprints => {}
    }
    for table in &data.tables {
        tables::show(ui, table, width, look);
    }
    let mut adopted = None;
    if !data.weeks.is_empty() {
        over::weeks(ui, &data.weeks, width, look);
    }
    if let Some(map) = &data.map {
        adopted = over::map(ui, map, width, look);
    }
    adopted
}

/// A place of its own for a piece, under those before it.
pub(super) fn place(ui: &mut Ui, width: f32, high: f32) -> Rect {
    ui.allocate_exact_size(vec2(width, high), Sense::hover()).0
}

/// A scale of watts from nought to `most` in steps: ruled lines over `plot`, their figures at its right.
pub(super) fn rule_watts(painter: &Painter, plot: Rect, most: f64, step: f64, look: Look) {
    let colours = look.colours;
    let note = regular(look.pt(size::NOTE - 2.0));
    let mut watts = 0.0;
    while watts <= most {
        let y = height_of(plot, watts, most);
        painter.hline(plot.x_range(), y, Stroke::new(look.pt(1.2), colours.rule));
        let words = if watts == 0.0 {
            "W".to_owned()
        } else {
            format!("{watts:.0}")
        };
        let at = pos2(plot.right() + look.pt(8.0), y);
        painter.text(at, Align2::LEFT_CENTER, words, note.clone(), colours.quiet);
        watts += step;
    }
}

/// Where so many watts stand on such a scale.
pub(super) fn height_of(plot: Rect, watts: f64, most: f64) -> f32 {
    plot.bottom() - plot.height() * (watts / most).clamp(0.0, 1.0) as f32
}

/// A heading, with air over it.
pub(super) fn heading(ui: &mut Ui, words: &str, width: f32, look: Look) {
    let colour = look.colours.ink;
    let galley = ui
        .painter()
        .layout(words.to_owned(), bold(look.pt(size::BODY)), colour, width);
    let at = place(ui, width, galley.size().y + look.pt(14.0));
    text::place(ui.painter(), galley, at, Align2::LEFT_BOTTOM, colour);
}

pub(super) fn paragraph(ui: &mut Ui, words: &str, width: f32, what: &str, look: Look) {
    let colour = look.colours.ink;
    let points = look.pt(size::BODY - 1.0);
    // Lines of a length that is read easily.
    let wide = width.min(points * 46.0);
    let galley = ui
        .painter()
        .layout(words.to_owned(), regular(points), colour, wide);
    let at = place(ui, width, galley.size().y + look.pt(8.0));
    let lower = Rect::from_min_max(pos2(at.left(), at.top() + look.pt(4.0)), at.max);
    text::place(ui.painter(), galley, lower, Align2::LEFT_TOP, colour);
    name(ui, at, what, words);
}

fn story(ui: &mut Ui, data: &Data, width: f32, look: Look) {
    for (title, lines) in &data.story {
        heading(ui, title, width, look);
        for (number, line) in lines.iter().enumerate() {
            paragraph(ui, line, width, &format!("{title}, {}", number + 1), look);
        }
    }
}
