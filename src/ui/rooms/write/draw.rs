//! Draws the Write room, and takes the keys that belong to it before the text sees them.

use egui::{
    Align2, Button, FontId, Galley, Key, Modifiers, Rect, RichText, Role, Ui, WidgetInfo, pos2,
    vec2,
};
use std::sync::Arc;

use super::layout::Layout;
use super::{Data, State, Wish, side, text};
use crate::ui::rooms::prepare;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, preview, text as words_of};

/// The keys of the room, the most needed first.
const KEYS: &str = entry!(
    "tab completes, ctrl z takes back, ctrl space shows what may stand here, f8 next problem"
);

/// Draws the room; what is typed goes into the state, and what is wished is given back in order.
pub fn room_ui(ui: &mut Ui, data: &Data, look: Look, state: &mut State) -> Vec<Wish> {
    prepare::dress(ui, look);
    let window = ui.max_rect();
    let layout = Layout::new(window, look.scale);
    ui.painter().rect_filled(window, 0.0, look.colours.ground);
    let mut wishes = Vec::new();
    let editing = data.list.is_none() && state.editor.is_some();
    if editing {
        keys(ui, data, state, &mut wishes);
    }
    head(ui, &layout, data, look);
    let asked = data.question.as_ref().filter(|_| editing && layout.low);
    if asked.is_none() {
        preview::show(ui, layout.strip, &data.card.preview, look);
    }
    if let Some((words, ways)) = asked {
        // Every answer is in view; the text has the keyboard again once it is back.
        let alone = layout.strip.union(layout.middle);
        let alone = alone.with_min_y(alone.top() + look.pt(14.0));
        wishes.extend(side::question(ui, alone, words, ways, look));
        state.fresh = true;
    } else if editing {
        let locked = completes(data) || data.choosing.is_some();
        text::show(ui, layout.text, state, look, locked);
        // While something is wrong, what would be right is worth more than sums that no longer hold.
        let helps = data.broken && !data.offered.candidates.is_empty();
        if let Some((words, ways)) = &data.question {
            let beside = layout.problems.union(layout.side);
            wishes.extend(side::question(ui, beside, words, ways, look));
        } else {
            side::problems(ui, layout.problems, data, state, look);
            if locked || helps {
                side::offered(ui, layout.side, data, state, look);
            } else if !data.card.rows.is_empty() {
                side::table(ui, layout.side, data, look);
            }
        }
    } else if let Some(ways) = &data.list {
        wishes.extend(side::list(ui, layout.middle, ways, look));
    }
    foot(ui, &layout, data, look);
    wishes.extend(buttons(ui, layout.buttons, data, state, look));
    wishes
}

/// Whether the tab key completes what was begun.
fn completes(data: &Data) -> bool {
    data.offered.begun && !data.offered.candidates.is_empty()
}

/// Takes the room's own keys out of the input.
fn keys(ui: &Ui, data: &Data, state: &mut State, wishes: &mut Vec<Wish>) {
    let pressed = |with: Modifiers, key: Key| ui.input_mut(|input| input.consume_key(with, key));
    let control = Modifiers::COMMAND;
    // What has more modifiers is asked for first: fewer would match it too.
    if pressed(control | Modifiers::SHIFT, Key::Z) || pressed(control, Key::Y) {
        state.step(false);
    }
    if pressed(control, Key::Z) {
        state.step(true);
    }
    if pressed(control, Key::S) {
        wishes.push(Wish::Save);
    }
    if pressed(control, Key::Enter) {
        wishes.push(Wish::Ride);
    }
    if pressed(control, Key::O) {
        wishes.push(Wish::List(true));
    }
    if pressed(Modifiers::NONE, Key::F8) {
        state.next_problem();
    }
    let typing = ui.memory(|memory| memory.has_focus(text::id()));
    for (key, down) in [(Key::PageDown, true), (Key::PageUp, false)] {
        if typing && pressed(Modifiers::NONE, key) {
            state.page(down);
        }
    }
    let count = data.offered.candidates.len();
    if pressed(control, Key::Space) && count > 0 {
        state.choosing = Some(0);
        return;
    }
    // Only where the text has the keyboard do the plain keys go on with it.
    if !typing || count == 0 {
        return;
    }
    let picked = data.choosing.map(|index| index.min(count - 1));
    if let Some(index) = picked {
        if pressed(Modifiers::NONE, Key::ArrowDown) {
            state.choosing = Some((index + 1) % count);
        }
        if pressed(Modifiers::NONE, Key::ArrowUp) {
            state.choosing = Some((index + count - 1) % count);
        }
        if pressed(Modifiers::NONE, Key::Enter) || pressed(Modifiers::NONE, Key::Tab) {
            state.complete(index);
        }
    } else if completes(data) && pressed(Modifiers::NONE, Key::Tab) {
        state.complete(0);
    }
}

/// How long, what it is called, and where it belongs.
fn head(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let colours = look.colours;
    let painter = ui.painter();
    let at = layout.length;
    let length = words_of::line(
        painter,
        &data.card.whole,
        bold,
        look.pt(46.0).min(at.height()),
        at.width(),
        colours.ink,
    );
    words_of::place(painter, length, at, Align2::LEFT_CENTER, colours.ink);
    name(ui, at, word!("Length"), &data.card.lengths);
    let at = layout.title;
    let wide = at.width();
    let title = one_line(ui, &data.name, regular(look.pt(size::HEADING)), wide, look);
    let high = words_of::place(painter, title, at, Align2::LEFT_TOP, colours.ink);
    name(
        ui,
        at.with_max_y(high.bottom()),
        word!("Session"),
        &data.name,
    );
    let mut words = data.file.clone();
    if data.broken {
        words += if data.card.rows.is_empty() {
            word!(". The strip comes when nothing is wrong.")
        } else {
            word!(". The strip shows it as it last was right.")
        };
    }
    let low = at.with_min_y(high.bottom() + look.pt(2.0));
    let colour = if data.broken {
        colours.above
    } else {
        colours.quiet
    };
    let galley = words_of::line(painter, &words, regular, look.pt(size::NOTE), wide, colour);
    words_of::place(painter, galley, low, Align2::LEFT_TOP, colour);
    if !words.is_empty() {
        name(ui, low, word!("File"), &words);
    }
}

/// One line, ended with an ellipsis where it would be wider.
pub(super) fn one_line(ui: &Ui, words: &str, font: FontId, wide: f32, look: Look) -> Arc<Galley> {
    let format = egui::text::TextFormat::simple(font, look.colours.ink);
    let mut job = egui::text::LayoutJob::single_section(words.to_owned(), format);
    job.wrap = egui::text::TextWrapping::truncate_at_width(wide.max(1.0));
    ui.painter().layout_job(job)
}

/// What was said; else what the key at the cursor means; else the keys of the room.
fn foot(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let colours = look.colours;
    let (words, colour, what) = if !data.said.words.is_empty() {
        let colour = if data.said.wrong {
            colours.above
        } else {
            colours.ink
        };
        (data.said.words.as_str(), colour, word!("Said"))
    } else if let Some(about) = data.about_key.filter(|_| data.list.is_none()) {
        (
            crate::text::word(about),
            colours.quiet,
            word!("About this key"),
        )
    } else {
        (crate::text::word(KEYS), colours.quiet, word!("Keys"))
    };
    let at = layout.said;
    let note = look.pt(size::NOTE);
    let galley = words_of::block(ui.painter(), words, regular, note, at.size(), colour);
    words_of::place(ui.painter(), galley, at, Align2::LEFT_CENTER, colour);
    name(ui, at, what, words);
}

/// The buttons, each with its key.
fn buttons(ui: &mut Ui, rect: Rect, data: &Data, state: &State, look: Look) -> Option<Wish> {
    let listing = data.list.is_some();
    let text = state.editor.is_some();
    let ways: &[(&'static str, &'static str, Wish)] = match (listing, text) {
        (true, true) => &[(entry!("Back to the text"), entry!("esc"), Wish::List(false))],
        (true, false) => &[(entry!("Back to Prepare"), entry!("esc"), Wish::Leave)],
        (false, _) => &[
            (entry!("Save"), entry!("ctrl s"), Wish::Save),
            (entry!("Ride it"), entry!("ctrl enter"), Wish::Ride),
            (entry!("New or open"), entry!("ctrl o"), Wish::List(true)),
            (entry!("Back to Prepare"), entry!("esc"), Wish::Leave),
        ],
    };
    let gap = look.pt(12.0);
    // The room of four, or of two where there is only one.
    let share = if ways.len() == 1 { 2.0 } else { 4.0 };
    let wide = ((rect.width() - gap * (share - 1.0)) / share).min(look.pt(270.0));
    let mut wished = None;
    for (index, (english, key, wish)) in ways.iter().enumerate() {
        let words = crate::text::word(english);
        let left = rect.left() + (wide + gap) * index as f32;
        let at = Rect::from_min_size(pos2(left, rect.top()), vec2(wide, rect.height()));
        // Where it is narrow the key goes first.
        let shown = if wide < look.pt(200.0) {
            RichText::new(words).font(regular(look.pt(size::NOTE)))
        } else {
            RichText::new(format!("{words} ({})", crate::text::word(key)))
        };
        let response = ui
            .push_id(("button", *english), |ui| {
                ui.place(at, Button::new(shown).truncate().min_size(at.size()))
            })
            .inner;
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, words));
        if response.clicked() {
            wished = Some(wish.clone());
        }
    }
    wished
}
