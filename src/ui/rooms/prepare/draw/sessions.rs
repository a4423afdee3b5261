//! The list of sessions, each with its small strip and its lengths.

use egui::{Align2, Button, Label, Rect, Ui, pos2, vec2};

use super::list::List;
use super::{heading, one_line, part, small};
use crate::plan::fit::Wish;
use crate::ui::rooms::prepare::session;
use crate::ui::rooms::prepare::{Chosen, Data, Shelf, State};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, preview, text};

/// Draws it; whether the rider goes to write a session, and whether to look at rides.
pub(super) fn show(
    ui: &mut Ui,
    rect: Rect,
    shelf: &Shelf,
    chosen: &mut Chosen,
    state: &mut State,
    data: &Data,
    look: Look,
) -> (bool, bool) {
    let mut ui = part(ui, rect, "sessions", look);
    let count = shelf.sessions.len();
    let words = match count {
        0 | 1 => word!("Session").to_owned(),
        _ => say!(
            "Session {number} of {count}",
            number = chosen.session + 1,
            count
        ),
    };
    let line = ui.cursor().top();
    ui.add(Label::new(heading(&words, look)).selectable(false));
    let list = List {
        name: entry!("Sessions"),
        lines: count,
        picked: chosen.session,
        spoken: shelf
            .sessions
            .get(chosen.session)
            .map_or_else(String::new, |(_, plan)| session::spoken(plan)),
        high: look.pt(50.0).round(),
    };
    let rider = shelf.riders.get(chosen.rider).map(|(_, rider)| &**rider);
    let mode = chosen.mode;
    let room = rect.with_min_y(ui.cursor().top());
    let picked = list.show(&mut ui, room, look, |ui, at, index| {
        let line = session::line(&shelf.sessions[index].1, rider, mode);
        let colours = look.colours;
        let inner = at.shrink2(vec2(look.pt(12.0), look.pt(5.0)));
        let wide = look.pt(84.0).min(inner.width() * 0.3);
        let strip = inner.with_min_x(inner.right() - wide);
        preview::small(
            ui,
            strip.shrink2(vec2(0.0, look.pt(4.0))),
            &line.preview,
            look,
        );
        let room = inner.with_max_x(strip.left() - look.pt(10.0));
        let name = regular(look.pt(size::BODY));
        let name = one_line(ui, &line.name, name, room.width(), colours.ink);
        text::place(ui.painter(), name, room, Align2::LEFT_TOP, colours.ink);
        let note = regular(look.pt(size::NOTE));
        let lengths = one_line(ui, &line.lengths, note, room.width(), colours.quiet);
        let low = Rect::from_min_max(pos2(room.left(), room.center().y), room.max);
        text::place(
            ui.painter(),
            lengths,
            low,
            Align2::LEFT_BOTTOM,
            colours.quiet,
        );
        line.spoken
    });
    if count > 0 {
        if picked != chosen.session {
            // What was wished for of one session means something else in another.
            chosen.wish = Wish::default();
            state.refused = None;
        }
        chosen.session = picked;
    }
    // Made after the list, so that the way from the large button to the list stays as short as it was. Where it is narrow
    // the two give way before the heading does.
    let wide = ((rect.width() - look.pt(168.0)) / 2.0).clamp(look.pt(56.0), look.pt(100.0));
    let mut way = |id: &str, place: f32, words: &str, spoken: &str| {
        let right = rect.right() - look.pt(10.0) - (wide + look.pt(6.0)) * place;
        let at = Rect::from_min_max(
            pos2(right - wide, line - look.pt(2.0)),
            pos2(right, room.top() - look.pt(4.0)),
        );
        // The key goes before the word is cut.
        let words = if wide < look.pt(92.0) {
            words.split(" (").next().unwrap_or(words)
        } else {
            words
        };
        let button = Button::new(small(&ui, words, wide - look.pt(18.0), look)).truncate();
        let response = ui.push_id(id, |ui| ui.place(at, button)).inner;
        response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, spoken));
        response.clicked()
    };
    let writes = way("write", 0.0, &data.write, word!("Write a session"));
    let reviews = way("review", 1.0, &data.review, word!("Look at rides"));
    (writes, reviews)
}
