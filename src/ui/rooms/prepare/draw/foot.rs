//! The foot of the room: what is missing, in a place kept for it; what to look at; and go.

use egui::{Align2, Button as EguiButton, Rect, RichText, Stroke, Ui, pos2, vec2};

use super::super::layout::Layout;
use super::{few_lines, one_line, quiet, small as narrow};
use crate::ui::rooms::prepare::{Button, Data, Page, Press, State};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, text};
use crate::ui::words;

/// How wide the ways to a group's clock, to the cautions and to the settings are, at the reference.
const GROUP_WIDE: f32 = 66.0;
const CAUTIONS_WIDE: f32 = 88.0;
const SETTINGS_WIDE: f32 = 124.0;

/// The entries of the room's keys, the most needed first.
const KEYS: [&str; 4] = [
    entry!("enter presses"),
    entry!("tab moves"),
    entry!("esc brake off"),
    entry!("g dark or paper"),
];

/// Draws it and gives what was pressed.
pub(super) fn show(
    ui: &mut Ui,
    layout: &Layout,
    data: &Data,
    state: &State,
    look: Look,
) -> Option<Press> {
    let stroke = Stroke::new(look.pt(1.5), look.colours.rule);
    let line = layout.go.top() - look.pt(12.0);
    ui.painter()
        .hline(layout.middle.left()..=layout.middle.right(), line, stroke);
    let mut pressed = missing(ui, layout.missing, data, look);
    pressed = safe(ui, layout.safe, data, look).or(pressed);
    go(ui, layout.go, data, state, look).or(pressed)
}

/// The two most urgent sentences, each one line; more, and long ones, on a page of their own.
fn missing(ui: &mut Ui, rect: Rect, data: &Data, look: Look) -> Option<Press> {
    let colours = look.colours;
    let all: Vec<&str> = data.missing.iter().map(|one| one.whole.as_str()).collect();
    if !all.is_empty() {
        name(ui, rect, word!("Missing"), &all.join(" "));
    }
    if data.missing.is_empty() {
        if !data.group.is_empty() && data.page == Page::Columns {
            let (font, ink) = (regular(look.pt(size::BODY)), colours.ink);
            let words = few_lines(ui, &data.group, font, rect.size(), ink);
            text::place(ui.painter(), words, rect, Align2::LEFT_CENTER, ink);
            name(ui, rect.shrink(1.0), word!("Clock"), &data.group);
        } else if !data.calm.is_empty() && data.page == Page::Columns {
            let (points, colour) = if data.calm.contains('?') {
                (size::BODY, colours.quiet)
            } else {
                (size::HEADING, colours.ink)
            };
            let wide = rect.width();
            let points = look.pt(points);
            let words = text::line(ui.painter(), &data.calm, regular, points, wide, colour);
            text::place(ui.painter(), words, rect, Align2::LEFT_CENTER, colour);
            name(ui, rect.shrink(1.0), word!("Hint"), &data.calm);
        }
        return None;
    }
    let wide = look.pt(76.0);
    let line = rect.height() / 2.0;
    let bar = rect
        .with_max_x(rect.left() + look.pt(5.0))
        .shrink2(vec2(0.0, look.pt(2.0)));
    ui.painter().rect_filled(bar, 0.0, colours.above);
    let mut folded = data.missing.len() > 2;
    if let [only] = data.missing.as_slice() {
        // One alone has both lines.
        let left = rect.left() + look.pt(16.0);
        let room = Rect::from_min_max(
            pos2(left, rect.top()),
            pos2(rect.right() - wide - look.pt(8.0), rect.bottom()),
        );
        let font = regular(look.pt(size::BODY - 1.0));
        let words = few_lines(ui, &only.whole, font, room.size(), colours.above);
        folded = words.elided;
        text::place(
            ui.painter(),
            words,
            room,
            Align2::LEFT_CENTER,
            colours.above,
        );
    }
    let two = if data.missing.len() > 1 { 2 } else { 0 };
    for (index, trouble) in data.missing.iter().take(two).enumerate() {
        let room = Rect::from_min_size(
            pos2(
                rect.left() + look.pt(16.0),
                rect.top() + line * index as f32,
            ),
            vec2(rect.width() - wide - look.pt(24.0), line),
        );
        let font = regular(look.pt(size::BODY));
        let words = one_line(ui, &trouble.short, font, room.width(), colours.above);
        folded |= words.elided || trouble.short != trouble.whole;
        text::place(
            ui.painter(),
            words,
            room,
            Align2::LEFT_CENTER,
            colours.above,
        );
    }
    if !folded || data.page == Page::Troubles {
        return None;
    }
    let words = match data.missing.len() {
        0..=2 => word!("more" # "troubles").to_owned(),
        count => say!("{rest} more", rest = count - 2),
    };
    let at = Rect::from_min_max(
        pos2(rect.right() - wide, rect.center().y - look.pt(14.0)),
        pos2(rect.right(), rect.center().y + look.pt(14.0)),
    );
    let response = ui
        .push_id("more", |ui| {
            ui.place(at, EguiButton::new(quiet(words, look).color(colours.ink)))
        })
        .inner;
    response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::Role::Button, true, word!("All that is missing"))
    });
    response.clicked().then_some(Press::Show(Page::Troubles))
}

/// What to look at before each ride, with the way to the cautions in full; under it the keys.
fn safe(ui: &mut Ui, rect: Rect, data: &Data, look: Look) -> Option<Press> {
    let colours = look.colours;
    let ways = !matches!(data.page, Page::Cautions | Page::Rider);
    let wide = if ways {
        look.pt(GROUP_WIDE + CAUTIONS_WIDE + SETTINGS_WIDE + 16.0)
    } else {
        0.0
    };
    let line = rect.height() / 2.0;
    let high = rect.with_max_y(rect.top() + line);
    let font = regular(look.pt(size::NOTE));
    // A caution is shrunk a little before it would be cut; of the keys as many are told as there is room for.
    let note = look.pt(size::NOTE);
    let safety = crate::text::word(words::SAFETY_LINE);
    let words = text::line(
        ui.painter(),
        safety,
        regular,
        note,
        high.width(),
        colours.quiet,
    );
    text::place(
        ui.painter(),
        words,
        high,
        Align2::LEFT_CENTER,
        colours.quiet,
    );
    name(ui, high, word!("Safety"), safety);
    let low = rect.with_min_y(rect.top() + line);
    let room = low.width() - wide - look.pt(12.0);
    let told = (1..=KEYS.len()).rev().map(|count| {
        KEYS[..count]
            .iter()
            .copied()
            .map(crate::text::word)
            .collect::<Vec<_>>()
            .join(", ")
    });
    let keys = told
        .map(|keys| {
            ui.painter()
                .layout_no_wrap(keys, font.clone(), colours.quiet)
        })
        .find(|keys| keys.size().x <= room);
    if let Some(keys) = keys {
        text::place(ui.painter(), keys, low, Align2::LEFT_CENTER, colours.quiet);
    }
    if !ways {
        return None;
    }
    let small = |ui: &mut Ui, id: &str, right: f32, wide: f32, words: &str, spoken: &str| {
        let at = Rect::from_min_max(pos2(right - wide, low.top()), pos2(right, low.bottom()));
        let at = at.shrink2(vec2(0.0, look.pt(1.0)));
        let button = EguiButton::new(narrow(ui, words, wide - look.pt(18.0), look)).truncate();
        let response = ui.push_id(id, |ui| ui.place(at, button)).inner;
        response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, spoken));
        response.clicked()
    };
    let left = low.right() - look.pt(SETTINGS_WIDE + 8.0);
    let mut pressed = None;
    let first = left - look.pt(CAUTIONS_WIDE + 8.0);
    // A ride that goes on does so by its own clock.
    let alone = data.going_on.is_none();
    if alone
        && small(
            ui,
            "group",
            first,
            look.pt(GROUP_WIDE),
            word!("Group"),
            word!("Ride with a group"),
        )
    {
        pressed = Some(Press::Show(Page::Group));
    }
    if small(
        ui,
        "cautions",
        left,
        look.pt(CAUTIONS_WIDE),
        word!("Cautions"),
        word!("Cautions and stop signs"),
    ) {
        pressed = Some(Press::Show(Page::Cautions));
    }
    if small(
        ui,
        "settings",
        low.right(),
        look.pt(SETTINGS_WIDE),
        &data.settings,
        &data.settings,
    ) {
        pressed = Some(Press::Settings);
    }
    pressed
}

/// The large button, and the other ways under it. They stand where they stand, and keep the keyboard.
fn go(ui: &mut Ui, rect: Rect, data: &Data, state: &State, look: Look) -> Option<Press> {
    let high = look.pt(58.0);
    let mut pressed = None;
    ui.push_id("go", |ui| {
        let at = rect.with_max_y(rect.top() + high);
        let first = button(ui, at, &data.primary, size::HEADING - 2.0, look);
        let typing = state.form.as_ref().is_some_and(|form| form.fresh);
        if !typing && ui.memory(|memory| memory.focused()).is_none() {
            first.request_focus();
        }
        if first.clicked() {
            pressed = Some(data.primary.press.clone());
        }
    });
    let count = data.others.len().max(1) as f32;
    let gap = look.pt(10.0);
    let wide = (rect.width() - gap * (count - 1.0)) / count;
    for (index, other) in data.others.iter().enumerate() {
        let left = rect.left() + (wide + gap) * index as f32;
        let at = Rect::from_min_size(
            pos2(left, rect.top() + high + look.pt(12.0)),
            vec2(wide, look.pt(34.0)),
        );
        ui.push_id(("other", index), |ui| {
            if button(ui, at, other, size::NOTE, look).clicked() {
                pressed = Some(other.press.clone());
            }
        });
    }
    pressed
}

fn button(ui: &mut Ui, at: Rect, what: &Button, points: f32, look: Look) -> egui::Response {
    let font = if points > size::BODY { bold } else { regular };
    // Long names are shrunk a little and then cut.
    let room = at.width() - look.pt(20.0);
    let colour = look.colours.ink;
    let full = ui
        .painter()
        .layout_no_wrap(what.words.clone(), font(look.pt(points)), colour);
    let share = (room / full.size().x.max(1.0)).clamp(0.72, 1.0);
    let words = RichText::new(&what.words).font(font(look.pt(points) * share));
    let response = ui.place(at, EguiButton::new(words).truncate().min_size(at.size()));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &what.words));
    response
}
