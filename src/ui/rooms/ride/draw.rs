//! Draws the Ride room.

use egui::{Align2, Rect, Stroke, Ui, pos2, vec2};

use super::layout::{Layout, Sizes};
use super::{Data, Own, Rank, Sentence, keys_row, ledger};
use crate::engine::Command;
use crate::engine::snapshot::Snapshot;
use crate::ui::keys::{self, Hands};
use crate::ui::rooms::lead;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::figure::{self, Figure};
use crate::ui::widgets::{
    Look, banner, cadence_band, menu, name, pulse, rating, ruler, strip, text,
};
use crate::ui::words;

/// Draws the room and gives what was clicked: the hints are buttons too, though no mouse is needed.
pub fn room_ui(
    ui: &mut Ui,
    data: &Data,
    look: Look,
    snapshot: &Snapshot,
    hands: &mut Hands,
) -> Vec<Command> {
    let window = ui.max_rect();
    let layout = Layout::new(window, look);
    let sizes = layout.sizes;
    ui.painter().rect_filled(window, 0.0, look.colours.ground);
    if let Some(rect) = layout.block {
        line(ui, rect, entry!("Block"), &data.block, sizes, look);
    }
    // Without a strip what stands in its place takes the own figure's.
    let covered = (data.banner.is_some() || data.why.is_some() || data.lead.is_some())
        && layout.strip.is_none();
    if data.no_clock {
        everything(ui, &layout, covered, look);
    } else if data.all_out && layout.strip.is_some() {
        sprint(ui, &layout, data, look);
    } else {
        left(ui, layout.left, data, sizes.huge, look);
        if !covered {
            own(ui, &layout, data, look);
        }
    }
    for (place, figure) in [layout.third, layout.fourth].into_iter().zip(&data.smaller) {
        let Some(rect) = place else { continue };
        match data.pulse {
            Some(dot) if figure.name == "Cadence" => turning(ui, rect, figure, &dot, sizes, look),
            _ => figure::show(ui, rect, figure, sizes.middle, sizes.unit, look),
        }
    }
    match (&data.menu, &data.rating) {
        (_, Some(question)) if question.chosen.is_some() => {
            rating::show(ui, layout.sentence, question, look);
        }
        (Some(choices), _) => menu::show(ui, layout.sentence, choices, look),
        (None, Some(question)) if !data.sentence.urgent => {
            rating::show(ui, layout.sentence, question, look);
        }
        _ => say(ui, layout.sentence, data, sizes, look),
    }
    match (&data.banner, layout.strip) {
        (Some(words), place) => {
            // In a test without a clock the two big words are said by the sentence as well: room for the stop signs.
            let without = if data.no_clock {
                layout.left.union(layout.own)
            } else {
                layout.own
            };
            let place = place.unwrap_or(without);
            banner::show(ui, place, words, sizes.least, look);
        }
        (None, place) if let Some(why) = &data.why => {
            ledger::show(ui, place.unwrap_or(layout.own), why, sizes.least, look);
        }
        (None, place) if let Some(page) = &data.lead => {
            lead::show(ui, place.unwrap_or(layout.own), page, sizes.least, look);
        }
        (None, Some(place)) => strip::show(ui, place, &data.strip, look),
        (None, None) => {}
    }
    coming(ui, layout.next, data, sizes, look);
    if let Some(rect) = layout.ruler.filter(|_| !data.no_clock) {
        ruler::show(ui, rect, &data.ruler, look);
    }
    let said = keys_row::Said {
        sound: data.sound,
        clock: &data.clock,
    };
    keys_row::show(ui, layout.foot, &data.hints, &said, sizes.small, look)
        .into_iter()
        .flat_map(|act| keys::commands(act, snapshot, hands))
        .collect()
}

/// One line of ink in a rectangle, named.
fn line(ui: &Ui, rect: Rect, label: &str, words: &str, sizes: Sizes, look: Look) {
    let ink = look.colours.ink;
    let galley = text::fit(
        ui.painter(),
        words,
        regular,
        sizes.line,
        sizes.least,
        rect.size(),
        ink,
    );
    text::place(ui.painter(), galley, rect, Align2::LEFT_CENTER, ink);
    name(ui, rect, label, words);
}

/// The time left; over the last seconds a bar under it runs out.
fn left(ui: &Ui, rect: Rect, data: &Data, size: f32, look: Look) {
    let painter = ui.painter();
    let ink = look.colours.ink;
    let galley = text::line(painter, &data.left, bold, size, rect.width(), ink);
    let place = text::place(painter, galley, rect, Align2::LEFT_CENTER, ink);
    // A bare figure could be taken for an effort: seconds say that they are.
    let bare = data.left.chars().all(|sign| sign.is_ascii_digit());
    if bare {
        let unit = look.far(size::UNIT);
        let quiet = look.colours.quiet;
        let at = pos2(
            place.right() + look.pt(12.0),
            place.center().y + size * 0.36,
        );
        painter.text(at, Align2::LEFT_BOTTOM, "s", regular(unit), quiet);
    }
    if let Some(share) = data.counted {
        // A rule under the seconds that grows shorter with them.
        let y = rect.center().y + size * 0.435;
        let stroke = Stroke::new(look.pt(9.0), ink);
        painter.hline(
            rect.left()..=(rect.left() + rect.width() * share),
            y,
            stroke,
        );
    }
    let spoken = format!("{}{}", data.left, if bare { " s" } else { "" });
    name(ui, rect, entry!("Left in block"), &spoken);
}

/// All out: the seconds as large as the two big figures together, and the word.
fn sprint(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let whole = layout.left.union(layout.own);
    let (upper, lower) = whole.split_top_bottom_at_fraction(0.68);
    left(ui, upper, data, upper.height() / 0.8, look);
    let words = match &data.own {
        Own::Aim(aim, _) => aim.as_str(),
        Own::Cadence(..) => word!("all out" # "of a load"),
    };
    let ink = look.colours.ink;
    let size = layout.sizes.middle * 1.2;
    let galley = text::line(ui.painter(), words, bold, size, lower.width(), ink);
    text::place(ui.painter(), galley, lower, Align2::LEFT_CENTER, ink);
    name(ui, lower, entry!("Aim"), words);
    under(ui, layout, data, look);
}

/// In a test without a clock: two words where the two big figures stand otherwise. In a small window what stands in the
/// strip's place has all of theirs, and the sentence says them.
fn everything(ui: &Ui, layout: &Layout, covered: bool, look: Look) {
    let ink = look.colours.ink;
    let painter = ui.painter();
    let size = layout.sizes.huge.min(layout.left.width() / 2.1);
    for (rect, word) in [
        (layout.left, word!("All" # "of all out")),
        (layout.own, word!("out" # "of all out")),
    ] {
        if covered {
            break;
        }
        let galley = text::line(painter, word, bold, size, rect.width(), ink);
        text::place(painter, galley, rect, Align2::LEFT_CENTER, ink);
    }
    let both = layout.left.union(layout.own);
    name(ui, both, entry!("Aim"), word!("all out"));
}

/// Beside a cadence off its band a head that points the way back: up where the legs should turn faster.
fn way_back(ui: &Ui, rect: Rect, band: &cadence_band::Data, look: Look) {
    let (colour, up) = match band.judged() {
        "below the band" => (look.colours.below, 1.0),
        "above the band" => (look.colours.above, -1.0),
        _ => return,
    };
    let middle = pos2(
        rect.left() + rect.width() * 0.74,
        rect.top() + rect.height() * 0.3,
    );
    let arm = look.pt(34.0);
    let corner = |x: f32, y: f32| middle + vec2(arm * x, arm * y * up);
    ui.painter().add(egui::Shape::convex_polygon(
        vec![corner(0.0, -0.8), corner(1.0, 0.8), corner(-1.0, 0.8)],
        colour,
        Stroke::NONE,
    ));
}

fn own(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let sizes = layout.sizes;
    let rect = layout.own;
    match (&data.own, data.pulse) {
        (Own::Cadence(figure, _), Some(dot)) => turning(ui, rect, figure, &dot, sizes, look),
        (Own::Cadence(figure, _), None) => {
            figure::show(ui, rect, figure, sizes.large, sizes.unit, look);
            if let Own::Cadence(_, Some(band)) = &data.own {
                way_back(ui, rect, band, look);
            }
        }
        (Own::Aim(effort, _), _) => {
            let painter = ui.painter();
            let quiet = look.colours.quiet;
            let words = word!("aim for");
            let words = text::line(painter, words, regular, sizes.unit, rect.width(), quiet);
            let number = effort
                .chars()
                .next()
                .is_some_and(|first| first.is_ascii_digit());
            let figure = Figure {
                name: entry!("Aim"),
                value: effort.clone(),
                unit: if number {
                    word!("of 10").to_owned()
                } else {
                    String::new()
                },
                note: String::new(),
                known: true,
            };
            let aim = text::place(painter, words, rect, Align2::LEFT_TOP, quiet);
            let room = if number {
                rect.with_min_x(aim.right() + look.pt(12.0))
            } else {
                rect.with_min_y(aim.bottom())
            };
            // Words stand under "aim for": as high as that leaves room.
            let size = sizes.large.min(room.height() / 0.9);
            figure::show(ui, room, &figure, size, sizes.unit, look);
        }
    }
    under(ui, layout, data, look);
}

/// Under the own figure: the band it should lie in, or what the effort feels like.
fn under(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let Some(rect) = layout.band else { return };
    match &data.own {
        Own::Cadence(_, Some(band)) => {
            cadence_band::show(ui, rect, band, look);
            let judged = crate::text::word(band.judged());
            let value = format!("{}, {judged}", words::band(band.band));
            let value = value.trim_end_matches(", ");
            name(ui, rect, entry!("Cadence band"), value);
        }
        Own::Cadence(_, None) => {}
        Own::Aim(_, feel) => {
            let quiet = look.colours.quiet;
            let size = layout.sizes.unit;
            let galley = text::line(ui.painter(), feel, regular, size, rect.width(), quiet);
            text::place(ui.painter(), galley, rect, Align2::LEFT_TOP, quiet);
            name(ui, rect, entry!("Feels like"), feel);
        }
    }
}

/// In the place of a cadence that nobody measures: the dot that turns at the planned one.
fn turning(ui: &Ui, rect: Rect, figure: &Figure, dot: &pulse::Data, sizes: Sizes, look: Look) {
    let ring = pulse::show(ui, rect, dot, look);
    let mut room = rect.with_min_x(ring.right() + look.pt(14.0));
    let painter = ui.painter();
    let (ink, quiet) = (look.colours.ink, look.colours.quiet);
    room.max.y = rect.center().y + sizes.unit * 1.3;
    room.min.y = rect.center().y - sizes.unit * 1.3;
    let (upper, lower) = room.split_top_bottom_at_fraction(0.5);
    let words = text::line(
        painter,
        &figure.unit,
        regular,
        sizes.unit,
        upper.width(),
        ink,
    );
    text::place(painter, words, upper, Align2::LEFT_CENTER, ink);
    let turn = text::line(
        painter,
        word!("with the dot"),
        regular,
        sizes.unit,
        lower.width(),
        quiet,
    );
    text::place(painter, turn, lower, Align2::LEFT_CENTER, quiet);
    let spoken = format!("{} {}", figure.unit, word!("with the dot"));
    name(ui, room, figure.name, &spoken);
}

fn say(ui: &Ui, rect: Rect, data: &Data, sizes: Sizes, look: Look) {
    let sentence: &Sentence = &data.sentence;
    if sentence.words.is_empty() {
        return;
    }
    let painter = ui.painter();
    let (mut room, mut colour) = (rect, look.colours.ink);
    if sentence.urgent {
        // A bar at its side marks what needs attention, beside the colour.
        colour = look.colours.above;
        let bar = rect.with_max_x(rect.left() + look.pt(8.0));
        painter.rect_filled(bar, 0.0, colour);
        room.min.x += look.pt(16.0);
    }
    // Rather one line that is a little smaller than two that leave no room for what follows.
    let lay = |high: f32| {
        let (size, least) = (sizes.sentence, sizes.least);
        let room = egui::vec2(room.width(), high);
        text::fit(painter, &sentence.words, regular, size, least, room, colour)
    };
    let one_line = lay(sizes.sentence * 1.4);
    let galley = if one_line.text() == sentence.words && one_line.rows.len() == 1 {
        one_line
    } else {
        lay(room.height())
    };
    let drawn = text::place(painter, galley, room, Align2::LEFT_TOP, colour);
    let rest = room.with_min_y(drawn.bottom());
    // Below it, smaller, what follows from it; where nothing does, what always holds, and what to do with the gears.
    let gear = if sentence.urgent { "" } else { &data.gear };
    let quiet = format!("{} {gear}", data.caution);
    let (label, words, colour) = match sentence.more.as_str() {
        "" => (entry!("Gear"), quiet.trim(), look.colours.quiet),
        more => (entry!("Sentence"), more, look.colours.ink),
    };
    let mut said = sentence.words.clone();
    let mut place = rect;
    if !words.is_empty() && rest.height() >= sizes.small * 1.2 {
        let size = rest.size();
        let least = sizes.small * 0.9;
        let more = text::fit(painter, words, regular, sizes.unit, least, size, colour);
        let drawn = text::place(painter, more, rest, Align2::LEFT_TOP, colour);
        if label == "Gear" {
            place.max.y = drawn.top();
            name(ui, rest, label, words);
        }
    }
    if label == "Sentence" {
        said = format!("{said} {words}");
    }
    name(ui, place, entry!("Sentence"), &said);
}

/// What comes next; in the last seconds in reverse, so that it stands out.
fn coming(ui: &Ui, rect: Rect, data: &Data, sizes: Sizes, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let front = data.rank == Rank::Front;
    let (ink, type_of): (_, text::Type) = match data.rank {
        Rank::Front => (colours.ground, bold),
        Rank::Raised => (colours.ink, bold),
        Rank::Quiet => (colours.ink, regular),
    };
    let room = if front {
        painter.rect_filled(rect, look.pt(4.0), colours.ink);
        rect.shrink2(egui::vec2(look.pt(16.0), 0.0))
    } else {
        rect
    };
    let (size, least) = (sizes.line, sizes.least);
    let lay = |words: &str| text::fit(painter, words, type_of, size, least, room.size(), ink);
    let mut next = lay(&data.next);
    if next.text() != data.next {
        next = lay(&data.next_short);
    }
    text::place(painter, next, room, Align2::LEFT_CENTER, ink);
    name(ui, rect, entry!("Next"), &data.next);
}
