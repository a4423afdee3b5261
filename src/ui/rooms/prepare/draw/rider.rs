//! For whom: the riders, the figures of the chosen one, and the ways to edit them or to make another.

use egui::{Align2, Button, Label, Rect, Ui, pos2, vec2};

use super::list::List;
use super::{heading, one_line, part};
use crate::ui::rooms::prepare::{Chosen, Data, Page, Shelf, State};
use crate::ui::rooms::rider::Form;
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, name, text};

pub(super) fn show(
    ui: &mut Ui,
    rect: Rect,
    data: &Data,
    shelf: &Shelf,
    chosen: &mut Chosen,
    state: &mut State,
    look: Look,
) {
    let mut ui = part(ui, rect, "rider", look);
    let ui = &mut ui;
    let count = shelf.riders.len();
    let words = match count {
        0 | 1 => "Rider".to_owned(),
        _ => format!("Rider {} of {count}", chosen.rider + 1),
    };
    ui.horizontal(|ui| {
        ui.add(Label::new(heading(&words, look)).selectable(false));
    });
    let top = ui.cursor().top();
    let line = look.pt(32.0);
    let list = List {
        name: "Riders",
        lines: count,
        picked: chosen.rider,
        high: line,
    };
    let figures_high = look.pt(22.0) * data.figures.len().div_ceil(2) as f32;
    let room = Rect::from_min_max(
        pos2(rect.left(), top),
        pos2(
            rect.right(),
            (rect.bottom() - figures_high - look.pt(8.0)).max(top + line),
        ),
    );
    let picked = list.show(ui, room, look, |ui, at, index| {
        let rider = &shelf.riders[index].1;
        let inner = at.shrink2(vec2(look.pt(12.0), 0.0));
        let font = regular(look.pt(size::BODY));
        let colour = look.colours.ink;
        let galley = one_line(ui, &rider.name, font, inner.width(), colour);
        text::place(ui.painter(), galley, inner, Align2::LEFT_CENTER, colour);
        rider.name.clone()
    });
    if count > 0 {
        chosen.rider = picked;
    }
    buttons(ui, rect, shelf, chosen, state, look);
    let half = (rect.width() - look.pt(10.0)) / 2.0;
    for (index, figure) in data.figures.iter().enumerate() {
        let column = (index % 2) as f32;
        let at = Rect::from_min_size(
            pos2(
                rect.left() + column * (half + look.pt(10.0)),
                room.bottom() + look.pt(8.0) + look.pt(22.0) * (index / 2) as f32,
            ),
            vec2(half, look.pt(22.0)),
        );
        figure_ui(ui, at, figure, look);
    }
}

fn buttons(ui: &mut Ui, rect: Rect, shelf: &Shelf, chosen: &Chosen, state: &mut State, look: Look) {
    let wide = look.pt(78.0);
    let at = |n: f32| {
        let right = rect.right() - n * (wide + look.pt(8.0));
        Rect::from_min_max(
            pos2(right - wide, rect.top() - look.pt(2.0)),
            pos2(right, rect.top() + look.pt(24.0)),
        )
    };
    let small = |words: &str| Button::new(super::quiet(words, look).color(look.colours.ink));
    ui.push_id("edit", |ui| {
        let response = ui.place(at(1.0), small("Edit"));
        response.widget_info(|| button("Edit this rider"));
        if response.clicked()
            && let Some((_, rider)) = shelf.riders.get(chosen.rider)
        {
            state.form = Some(Form::new(Some(chosen.rider), rider));
            state.page = Page::Rider;
        }
    });
    ui.push_id("new", |ui| {
        let response = ui.place(at(0.0), small("New"));
        response.widget_info(|| button("New rider"));
        if response.clicked() {
            let names = shelf.riders.iter().map(|(_, rider)| rider.name.as_str());
            state.form = Some(Form::for_a_new_rider(names));
            state.page = Page::Rider;
        }
    });
}

fn button(words: &str) -> egui::WidgetInfo {
    egui::WidgetInfo::labeled(egui::Role::Button, true, words)
}

fn figure_ui(ui: &Ui, at: Rect, figure: &crate::ui::rooms::prepare::Figure, look: Look) {
    let colours = look.colours;
    let font = regular(look.pt(size::NOTE));
    let value = if figure.check_me {
        format!("{}, check me", figure.value)
    } else {
        figure.value.clone()
    };
    let colour = if figure.check_me {
        colours.above
    } else {
        colours.ink
    };
    let galley = one_line(ui, &value, font.clone(), at.width() * 0.62, colour);
    let placed = text::place(ui.painter(), galley, at, Align2::RIGHT_CENTER, colour);
    let room = (placed.left() - at.left() - look.pt(6.0)).max(1.0);
    let what = one_line(ui, figure.what, font, room, colours.quiet);
    text::place(ui.painter(), what, at, Align2::LEFT_CENTER, colours.quiet);
    name(ui, at, figure.what, &value);
}
