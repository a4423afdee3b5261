//! Draws the Review room. The list has the keyboard at first: up and down choose a ride, left and right how it is looked at.

use std::sync::Arc;

use egui::text::{LayoutJob, TextFormat, TextWrapping};
use egui::{
    Align2, Button, Color32, EventFilter, FontId, Galley, Id, Key, Modifiers, Rect, RichText, Role,
    Sense, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo, pos2, vec2,
};

use super::data::line;
use super::layout::Layout;
use super::{Data, Keep, State, View, Wish, sheet, strip};
use crate::ui::rooms::prepare::{self, List};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::strip::{Scale, lane};
use crate::ui::widgets::{Look, name, text};

/// The keys of the room.
const KEYS: &str = entry!(
    "up and down choose a ride, left and right how it is looked at, tab goes on to what is shown"
);

/// Draws the room; what is picked goes into the state, and what is wished is given back in order.
pub fn room_ui(ui: &mut Ui, data: &Data, look: Look, state: &mut State) -> Vec<Wish> {
    prepare::dress(ui, look);
    let window = ui.max_rect();
    let layout = Layout::new(window, look.scale);
    ui.painter().rect_filled(window, 0.0, look.colours.ground);
    head(ui, &layout, data, look);
    let stroke = Stroke::new(look.pt(1.5), look.colours.rule);
    ui.painter().hline(
        layout.said.x_range(),
        layout.said.top() - look.pt(2.0),
        stroke,
    );
    let list = rides(ui, layout.list, data, state, look);
    let mut stops = vec![list];
    let mut adopts = None;
    if data.instead.is_empty() {
        strip::show(ui, layout.strip, data, look);
        stops.push(views(ui, layout.views, data, state, look));
        let (sheet, adopted) = sheet::show(ui, layout.content, data, look);
        stops.push(sheet);
        adopts = adopted;
    } else {
        let room = Rect::from_min_max(layout.strip.min, layout.content.max);
        let size = look.pt(size::HEADING - 4.0);
        let colour = look.colours.quiet;
        let words = text::block(
            ui.painter(),
            &data.instead,
            regular,
            size,
            room.size(),
            colour,
        );
        text::place(ui.painter(), words, room, Align2::LEFT_TOP, colour);
        name(ui, room, word!("Ride"), &data.instead);
    }
    walk_views(ui, &stops, state);
    said(ui, layout.said, data, look);
    let mut wishes = buttons(ui, layout.buttons, data, state, look);
    wishes.extend(adopts.map(Wish::Adopt));
    wishes
}

/// One line, ended with an ellipsis where it would be wider.
pub(super) fn one_line(
    ui: &Ui,
    words: &str,
    font: FontId,
    width: f32,
    colour: Color32,
) -> Arc<Galley> {
    let mut job = LayoutJob::single_section(words.to_owned(), TextFormat::simple(font, colour));
    job.wrap = TextWrapping::truncate_at_width(width.max(1.0));
    ui.painter().layout_job(job)
}

/// How long, which ride, when and by whom.
fn head(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let colours = look.colours;
    let painter = ui.painter();
    let at = layout.length;
    let figure = look.pt(52.0).min(at.height());
    let length = text::line(painter, &data.length, bold, figure, at.width(), colours.ink);
    text::place(painter, length, at, Align2::LEFT_CENTER, colours.ink);
    if !data.length.is_empty() {
        name(ui, at, word!("Time ridden"), &data.length);
    }
    let at = layout.title;
    let title = if data.title.is_empty() {
        word!("Rides")
    } else {
        &data.title
    };
    let low = at.height() < look.pt(50.0);
    let points = look.pt(if low { 20.0 } else { size::HEADING + 4.0 });
    let words = one_line(ui, title, regular(points), at.width(), colours.ink);
    let high = text::place(painter, words, at, Align2::LEFT_TOP, colours.ink);
    name(ui, at.with_max_y(high.bottom()), word!("Session"), title);
    if data.about.is_empty() {
        return;
    }
    let under = at.with_min_y(high.bottom());
    let note = look.pt(size::NOTE);
    let about = text::block(
        painter,
        &data.about,
        regular,
        note,
        under.size(),
        colours.quiet,
    );
    text::place(painter, about, under, Align2::LEFT_TOP, colours.quiet);
    name(ui, under, word!("About"), &data.about);
}

/// The rides, the newest first, each with its small strip. Gives what has the keyboard.
fn rides(ui: &mut Ui, rect: Rect, data: &Data, state: &mut State, look: Look) -> Id {
    let mut part = ui.new_child(UiBuilder::new().id_salt("rides").max_rect(rect));
    part.set_clip_rect(rect.expand(look.pt(3.0)));
    let ui = &mut part;
    let colours = look.colours;
    let font = bold(look.pt(size::BODY));
    let heading = one_line(ui, &data.place, font, rect.width(), colours.ink);
    let under = rect.top() + heading.size().y + look.pt(6.0);
    text::place(ui.painter(), heading, rect, Align2::LEFT_TOP, colours.ink);
    name(ui, rect.with_max_y(under), word!("Place"), &data.place);
    let id = ui.scope_id().with("Rides");
    let listing = state.listing.clone();
    let rides = listing.as_ref().map_or(&[][..], |listing| &listing.rides);
    if rides.is_empty() {
        return id;
    }
    let strip_below = rect.width() < look.pt(200.0);
    let high = if strip_below { 92.0 } else { 70.0 };
    let list = List {
        name: entry!("Rides"),
        lines: rides.len(),
        picked: state.picked,
        spoken: rides
            .get(state.picked)
            .map_or_else(String::new, |ride| line(ride).spoken),
        high: look.pt(high).round(),
    };
    let picked = list.show(ui, rect.with_min_y(under), look, |ui, at, index| {
        let line = line(&rides[index]);
        let inner = at.shrink2(vec2(look.pt(12.0), look.pt(5.0)));
        let wide = (inner.width() * 0.28).min(look.pt(110.0));
        let (words, small) = if strip_below {
            let parted = inner.bottom() - look.pt(22.0);
            (
                inner.with_max_y(parted),
                inner.with_min_y(parted + look.pt(3.0)),
            )
        } else {
            let parted = inner.right() - wide;
            (
                inner.with_max_x(parted - look.pt(10.0)),
                inner.with_min_x(parted).shrink2(vec2(0.0, look.pt(6.0))),
            )
        };
        small_strip(ui, small, &line, rides[index].ridden_s as f64, look);
        let note = regular(look.pt(size::NOTE - 1.0));
        let day = one_line(ui, &line.day, note.clone(), words.width(), colours.quiet);
        text::place(ui.painter(), day, words, Align2::LEFT_TOP, colours.quiet);
        let session = regular(look.pt(size::NOTE + 1.0));
        let session = one_line(ui, &line.name, session, words.width(), colours.ink);
        text::place(
            ui.painter(),
            session,
            words,
            Align2::LEFT_CENTER,
            colours.ink,
        );
        let figures = one_line(ui, &line.figures, note, words.width(), colours.quiet);
        text::place(
            ui.painter(),
            figures,
            words,
            Align2::LEFT_BOTTOM,
            colours.quiet,
        );
        line.spoken
    });
    if picked != state.picked {
        state.picked = picked;
        state.say("", false);
    }
    // A room that was just entered has the keyboard in its list.
    if ui.memory(|memory| memory.focused()).is_none() {
        ui.memory_mut(|memory| memory.request_focus(id));
    }
    id
}

/// What was asked for and what was ridden of it, without words.
fn small_strip(ui: &Ui, rect: Rect, data: &super::Line, length: f64, look: Look) {
    let scale = Scale {
        rect,
        from: 0.0,
        to: length.max(1.0),
    };
    let painter = ui
        .painter()
        .with_clip_rect(rect.expand(1.0).intersect(ui.clip_rect()));
    for effort in [0.0, 5.0, 10.0] {
        let stroke = Stroke::new(look.pt(1.0), look.colours.rule);
        painter.hline(rect.x_range(), scale.y(effort), stroke);
    }
    let thin = Look {
        scale: look.scale * 0.5,
        ..look
    };
    lane(&painter, &scale, &data.lane, thin);
    let step = length / data.ink.len().max(1) as f64;
    let points = data.ink.iter().enumerate();
    let points: Vec<_> = points
        .map(|(index, effort)| {
            let x = scale.x((index as f64 + 0.5) * step);
            effort.map(|effort| pos2(x, scale.y(effort)))
        })
        .collect();
    for run in points.split(Option::is_none) {
        let line: Vec<_> = run.iter().copied().flatten().collect();
        if line.len() > 1 {
            painter.line(line, Stroke::new(look.pt(1.6), look.colours.ink));
        }
    }
}

/// The ways to look at the ride. Where there is no room for all, the one that is shown and its place. Gives what has the
/// keyboard.
fn views(ui: &mut Ui, rect: Rect, data: &Data, state: &mut State, look: Look) -> Id {
    let colours = look.colours;
    let id = ui.scope_id().with("views");
    let whole = ui.interact(rect, id, Sense::focusable_noninteractive());
    let points = look.pt(size::BODY - 1.0);
    let lay = |words: &str, chosen: bool| {
        let font = if chosen {
            bold(points)
        } else {
            regular(points)
        };
        let colour = if chosen { colours.ink } else { colours.quiet };
        ui.painter().layout_no_wrap(words.to_owned(), font, colour)
    };
    let gap = look.pt(22.0);
    let all: Vec<_> = View::ALL
        .iter()
        .map(|view| (*view, lay(crate::text::word(view.words()), true).size().x))
        .collect();
    let wide: f32 = all.iter().map(|(_, wide)| wide + gap).sum();
    let foot = Stroke::new(look.pt(1.5), colours.rule);
    ui.painter().hline(rect.x_range(), rect.bottom(), foot);
    let shown: Vec<(View, f32, String)> = if wide <= rect.width() + gap {
        all.into_iter()
            .map(|(view, wide)| (view, wide, crate::text::word(view.words()).to_owned()))
            .collect()
    } else {
        let place = View::ALL
            .iter()
            .position(|view| *view == data.view)
            .unwrap_or(0);
        let words = say!(
            "{name} ({count} of {of})",
            name = crate::text::word(data.view.words()),
            count = place + 1,
            of = View::ALL.len()
        );
        vec![(data.view, rect.width() - gap, words)]
    };
    let mut left = rect.left();
    for (view, wide, words) in shown {
        let chosen = view == data.view;
        let galley = lay(&words, chosen);
        let at = Rect::from_min_max(
            pos2(left, rect.top()),
            pos2((left + wide).min(rect.right()), rect.bottom()),
        );
        let response = ui.interact(at, id.with(view.words()), Sense::CLICK);
        response.widget_info(|| {
            WidgetInfo::selected(Role::Tab, true, chosen, crate::text::word(view.words()))
        });
        if response.clicked() {
            state.view = view;
        }
        let colour = if chosen { colours.ink } else { colours.quiet };
        let drawn = text::place(ui.painter(), galley, at, Align2::LEFT_CENTER, colour);
        if chosen {
            // A thick rule under it tells the one that is shown, beside its weight.
            let stroke = Stroke::new(look.pt(3.0), colours.ink);
            ui.painter().hline(drawn.x_range(), rect.bottom(), stroke);
        }
        left += wide + gap;
    }
    if whole.has_focus() {
        ring(ui, rect.expand(look.pt(2.0)), look);
    }
    whole.widget_info(|| WidgetInfo {
        current_text_value: Some(crate::text::word(data.view.words()).to_owned()),
        ..WidgetInfo::labeled(Role::TabList, true, word!("Looked at"))
    });
    id
}

/// What shows that a part has the keyboard.
pub(super) fn ring(ui: &Ui, rect: Rect, look: Look) {
    let stroke = Stroke::new(look.pt(2.0), look.colours.ink);
    ui.painter()
        .rect_stroke(rect, 0.0, stroke, StrokeKind::Inside);
}

/// Left and right go from view to view, wherever in the room the keyboard is but on a button.
fn walk_views(ui: &Ui, stops: &[Id], state: &mut State) {
    let Some(focused) = ui.memory(|memory| memory.focused()) else {
        return;
    };
    if !stops.contains(&focused) {
        return;
    }
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(focused, filter));
    let pressed = |key: Key| ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
    if pressed(Key::ArrowRight) {
        state.view = state.view.walked(1);
    }
    if pressed(Key::ArrowLeft) {
        state.view = state.view.walked(-1);
    }
}

fn said(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let (words, colour, what) = match (data.said.words.as_str(), data.said.wrong) {
        ("", _) => (crate::text::word(KEYS), look.colours.quiet, word!("Keys")),
        (words, true) => (words, look.colours.above, word!("Said")),
        (words, false) => (words, look.colours.ink, word!("Said")),
    };
    let note = look.pt(size::NOTE);
    let galley = text::block(ui.painter(), words, regular, note, rect.size(), colour);
    text::place(ui.painter(), galley, rect, Align2::LEFT_CENTER, colour);
    name(ui, rect, what, words);
}

/// The buttons; those that keep something only where a ride is open.
fn buttons(ui: &mut Ui, rect: Rect, data: &Data, state: &mut State, look: Look) -> Vec<Wish> {
    let open = state.opened().map(|opened| opened.key.clone());
    let has_table = data.as_csv(state).is_some();
    let mut ways: Vec<(&str, &str, Option<Wish>)> =
        vec![(word!("Back (esc)"), word!("Back"), Some(Wish::Leave))];
    if let Some(key) = open {
        let keep = |what| Some(Wish::Keep(key.clone(), what));
        ways.push((
            word!("Next session from this ride"),
            word!("Next session"),
            Some(Wish::Next),
        ));
        ways.push((word!("Save the page"), word!("Save page"), keep(Keep::Page)));
        ways.push((
            word!("Save the strip"),
            word!("Save strip"),
            keep(Keep::Picture),
        ));
        ways.push((
            word!("Save the table"),
            word!("Save table"),
            keep(Keep::Table),
        ));
        if has_table {
            ways.push((
                word!("Copy this view"),
                word!("Copy view"),
                Some(Wish::Copy(String::new())),
            ));
        }
    }
    let gap = look.pt(10.0);
    let wide = ((rect.width() - gap * 5.0) / 6.0).min(look.pt(230.0));
    let mut wished = Vec::new();
    for (index, (words, short, wish)) in ways.into_iter().enumerate() {
        let left = rect.left() + (wide + gap) * index as f32;
        let at = Rect::from_min_size(pos2(left, rect.top()), vec2(wide, rect.height()));
        // Long words give way to short ones, and these are shrunk before they would be cut.
        let full = look.pt(size::BODY);
        let room = wide - look.pt(18.0);
        let measure = |words: &str, size: f32| {
            let colour = look.colours.ink;
            ui.painter()
                .layout_no_wrap(words.to_owned(), regular(size), colour)
                .size()
                .x
        };
        let shown = if measure(words, full) <= room {
            words
        } else {
            short
        };
        let size = full * (room / measure(shown, full).max(1.0)).min(1.0);
        let button = Button::new(RichText::new(shown).font(regular(size))).min_size(at.size());
        let response = ui
            .push_id(("button", index), |ui| ui.place(at, button))
            .inner;
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, words));
        if response.clicked() {
            wished.extend(match wish {
                Some(Wish::Copy(_)) => data.csv(state).map(Wish::Copy),
                wish => wish,
            });
        }
    }
    wished
}
