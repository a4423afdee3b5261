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
        0 | 1 => word!("Rider").to_owned(),
        _ => say!(
            "Rider {number} of {count}",
            number = chosen.rider + 1,
            count
        ),
    };
    ui.horizontal(|ui| {
        ui.add(Label::new(heading(&words, look)).selectable(false));
    });
    let top = ui.cursor().top();
    let line = look.pt(32.0).round();
    let list = List {
        name: entry!("Riders"),
        lines: count,
        picked: chosen.rider,
        spoken: shelf
            .riders
            .get(chosen.rider)
            .map_or_else(String::new, |(_, rider)| rider.called().to_owned()),
        high: line,
    };
    // Three lines of figures, and as many whole riders as there is room for.
    let figures_high = look.pt(66.0);
    let lines = ((rect.bottom() - figures_high - look.pt(8.0) - top) / line).floor();
    let room = Rect::from_min_max(
        pos2(rect.left(), top),
        pos2(rect.right(), top + line * lines.max(1.0)),
    );
    let picked = list.show(ui, room, look, |ui, at, index| {
        let rider = &shelf.riders[index].1;
        let inner = at.shrink2(vec2(look.pt(12.0), 0.0));
        let font = regular(look.pt(size::BODY));
        let colour = look.colours.ink;
        let galley = one_line(ui, rider.called(), font, inner.width(), colour);
        text::place(ui.painter(), galley, inner, Align2::LEFT_CENTER, colour);
        rider.called().to_owned()
    });
    if count > 0 {
        chosen.rider = picked;
    }
    buttons(ui, rect, shelf, chosen, state, look);
    let wide = rect.width() / data.figures.len().max(1) as f32;
    for (index, figure) in data.figures.iter().enumerate() {
        let left = rect.left() + wide * index as f32;
        let top = room.bottom() + look.pt(6.0);
        let at = Rect::from_min_size(pos2(left, top), vec2(wide - look.pt(4.0), figures_high));
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
        let response = ui.place(at(1.0), small(word!("Edit")));
        response.widget_info(|| button(word!("Edit this rider")));
        if response.clicked()
            && let Some((_, rider)) = shelf.riders.get(chosen.rider)
        {
            state.form = Some(Form::new(Some(chosen.rider), rider));
            state.page = Page::Rider;
        }
    });
    ui.push_id("new", |ui| {
        let response = ui.place(at(0.0), small(word!("New")));
        response.widget_info(|| button(word!("New rider")));
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

/// What it is, the figure, and the mark of one that nobody has checked: three lines, whether there is a mark or not.
fn figure_ui(ui: &Ui, at: Rect, figure: &crate::ui::rooms::prepare::Figure, look: Look) {
    let colours = look.colours;
    let (value, mark) = (&figure.value, word!("check me"));
    let note = regular(look.pt(size::NOTE - 1.0));
    let lines = [
        (figure.short, note.clone(), colours.quiet),
        (value.as_str(), regular(look.pt(size::BODY)), colours.ink),
        (if figure.check_me { mark } else { "" }, note, colours.above),
    ];
    for (number, (words, font, colour)) in lines.into_iter().enumerate() {
        let high = at.height() / 3.0;
        let room = Rect::from_min_size(
            pos2(at.left(), at.top() + high * number as f32),
            vec2(at.width(), high),
        );
        let galley = one_line(ui, words, font, at.width(), colour);
        text::place(ui.painter(), galley, room, Align2::LEFT_CENTER, colour);
    }
    let spoken = if figure.check_me {
        format!("{value}, {mark}")
    } else {
        value.clone()
    };
    name(ui, at, figure.what, &spoken);
}
