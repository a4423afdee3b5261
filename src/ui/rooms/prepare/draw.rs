//! Draws Prepare. Everything is reached by tab in the order of the job; the large button has the keyboard at first.

mod devices;
mod fit;
mod foot;
mod group;
mod left;
pub(in crate::ui::rooms) mod list;
mod pages;
mod rider;
mod sessions;
mod spin_down;
mod table;

use egui::text::{LayoutJob, TextFormat, TextWrapping};
use egui::{
    Align2, Color32, Event, FontId, Galley, Key, Rect, RichText, Stroke, TextStyle, Ui, UiBuilder,
    pos2, vec2,
};
use std::sync::Arc;

use super::layout::Layout;
use super::{Answer, Chosen, Data, Page, Press, Shelf, State};
use crate::engine::Command;
use crate::text::translated;
use crate::ui::rooms::rider as rider_page;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name, preview, text};

/// Draws the room. `chosen` and `state` are changed by what is picked; the answer tells the core, and what to save.
pub fn room_ui(
    ui: &mut Ui,
    data: &Data,
    look: Look,
    shelf: &Shelf,
    chosen: &mut Chosen,
    state: &mut State,
) -> Answer {
    let mut answer = Answer::default();
    let before = *chosen;
    let window = ui.max_rect();
    let layout = Layout::new(window, look.scale);
    dress(ui, look);
    drop_repeats(ui);
    ui.painter().rect_filled(window, 0.0, look.colours.ground);
    head(ui, &layout, data, look);
    preview::show(ui, layout.strip, &data.session.preview, look);
    rule(ui, layout.middle, look);
    match (data.page, &mut state.form) {
        (Page::Rider, Some(form)) => rider_page::page_ui(ui, layout.middle, form, look),
        (Page::Cautions, _) => pages::cautions(ui, layout.middle, look),
        (Page::Troubles, _) => pages::troubles(ui, layout.middle, data, look),
        (Page::Group, _) => {
            let before = answer.commands.len();
            group::show(ui, layout.middle, data, &mut state.group, &mut answer, look);
            let chosen = &answer.commands[before..];
            if chosen.iter().any(group::chooses_a_clock) {
                state.page = Page::Columns;
            }
        }
        (Page::LeftOpen, _) => {
            if let Some(card) = &data.left {
                left::page(ui, layout.middle, card, look);
            }
        }
        _ if data.guide.is_some() => {
            if let Some(guide) = &data.guide {
                spin_down::show(ui, layout.middle, guide, look);
            }
        }
        _ => {
            if let Some(going) = &data.going_on {
                let room = layout.sessions.union(layout.timing);
                if left::going_on(ui, room, going, look) {
                    answer.commands.extend(chosen.command(shelf));
                }
            } else {
                (answer.write, answer.review) =
                    columns(ui, &layout, data, look, shelf, chosen, state);
            }
            devices::show(ui, layout.devices, data, state, &mut answer.commands, look);
        }
    }
    if data.page != Page::Columns || data.guide.is_some() {
        state.hand_on_devices = false;
    }
    if let Some(card) = &data.left
        && data.page != Page::Rider
        && left::way(ui, layout.title, card, look)
    {
        state.page = Page::LeftOpen;
    }
    if *chosen != before {
        answer.commands.extend(chosen.command(shelf));
    }
    if let Some(press) = foot::show(ui, &layout, data, state, look) {
        pressed(press, state, &mut answer);
    }
    answer
}

/// What is ridden and for whom, to be chosen.
fn columns(
    ui: &mut Ui,
    layout: &Layout,
    data: &Data,
    look: Look,
    shelf: &Shelf,
    chosen: &mut Chosen,
    state: &mut State,
) -> (bool, bool) {
    let ways = sessions::show(ui, layout.sessions, shelf, chosen, state, data, look);
    table::show(ui, layout.timing, data, shelf, chosen, state, look);
    rider::show(ui, layout.rider, data, shelf, chosen, state, look);
    ways
}

fn pressed(press: Press, state: &mut State, answer: &mut Answer) {
    match press {
        Press::Tell(command) => {
            if command == Command::CautionsSeen {
                state.page = Page::Columns;
            }
            answer.commands.push(command);
        }
        Press::Show(page) => {
            state.page = page;
            state.form = None;
        }
        Press::Save => {
            if let Some(form) = &mut state.form {
                match form.rider() {
                    Some(rider) => answer.save = Some((form.place, rider.clone())),
                    None => {
                        form.refusal = Some(match form.wrong() {
                            1 => word!(
                                "One figure is not right yet: mend it, or leave without saving."
                            )
                            .to_owned(),
                            wrong => say!(
                                "{wrong} figures are not right yet: mend them, or leave without saving.",
                                wrong
                            ),
                        });
                    }
                }
            }
        }
        Press::Reread => answer.reread = true,
        Press::Left(wish) => answer.left = Some(wish),
        Press::Settings => answer.settings = true,
        Press::Wait => {}
    }
}

/// A key held down counts once: it must not run through the buttons that follow one another in the same place.
fn drop_repeats(ui: &Ui) {
    ui.input_mut(|input| {
        input.events.retain(|event| {
            !matches!(
                event,
                Event::Key {
                    key: Key::Enter | Key::Space,
                    repeat: true,
                    ..
                }
            )
        });
    });
}

/// Sizes of type for a room that is read from the chair.
pub(in crate::ui::rooms) fn dress(ui: &mut Ui, look: Look) {
    let style = ui.style_mut();
    for (which, font) in [
        (TextStyle::Body, regular(look.pt(size::BODY))),
        (TextStyle::Button, regular(look.pt(size::BODY))),
        (TextStyle::Heading, regular(look.pt(size::HEADING))),
        (TextStyle::Small, regular(look.pt(size::NOTE))),
    ] {
        style.text_styles.insert(which, font);
    }
    // Type that grows with the window does not stand on whole points.
    #[cfg(debug_assertions)]
    {
        style.debug.show_unaligned = false;
    }
    style.spacing.item_spacing = vec2(look.pt(8.0), look.pt(6.0));
    style.spacing.button_padding = vec2(look.pt(9.0), look.pt(4.0));
    style.spacing.interact_size.y = look.pt(26.0);
    style.spacing.icon_width = look.pt(18.0);
    style.spacing.icon_width_inner = look.pt(10.0);
    style.spacing.icon_spacing = look.pt(8.0);
}

/// How long, what it is called, what it is for.
fn head(ui: &Ui, layout: &Layout, data: &Data, look: Look) {
    let card = &data.session;
    let colours = look.colours;
    let painter = ui.painter();
    let at = layout.length;
    let figure = text::line(
        painter,
        &card.whole,
        bold,
        look.pt(if at.height() < look.pt(80.0) {
            52.0
        } else {
            64.0
        }),
        at.width(),
        colours.ink,
    );
    let low = Rect::from_min_max(pos2(at.left(), at.bottom() - look.pt(22.0)), at.max);
    let high = at.with_max_y(low.top());
    text::place(painter, figure, high, Align2::LEFT_CENTER, colours.ink);
    let main = say!("main part {main}", main = card.main);
    if !card.main.is_empty() {
        let main = one_line(
            ui,
            &main,
            regular(look.pt(size::BODY)),
            low.width(),
            colours.quiet,
        );
        text::place(painter, main, low, Align2::LEFT_BOTTOM, colours.quiet);
    }
    name(ui, at, word!("Length"), &card.lengths);
    let at = layout.title;
    let low = at.height() < look.pt(80.0);
    let title = one_line(
        ui,
        &card.name,
        regular(look.pt(if low { size::UNIT - 12.0 } else { size::UNIT })),
        at.width() - look.pt(left::WIDE + 10.0),
        colours.ink,
    );
    let head = text::place(painter, title, at, Align2::LEFT_TOP, colours.ink);
    name(
        ui,
        at.with_max_y(head.bottom()),
        word!("Session"),
        &card.name,
    );
    // What was changed takes the place of what it is for, and the forecast has the last line.
    let fitted = !card.changes.is_empty();
    let purpose = if fitted {
        let changes: Vec<_> = card.changes.iter().map(|one| translated(one)).collect();
        say!("Fitted: {changes}", changes = changes.join(" "))
    } else {
        format!("{} {}", card.purpose, card.by)
    };
    let room = at.with_min_y(head.bottom() + if low { 0.0 } else { look.pt(2.0) });
    let line = look.pt(size::NOTE + 5.0);
    let (room, last) = room.split_top_bottom_at_y(room.bottom() - line);
    if !card.forecast.is_empty() {
        let note = regular(look.pt(size::NOTE));
        let colour = if card.beyond {
            colours.above
        } else {
            colours.quiet
        };
        let words = one_line(ui, &card.forecast, note, last.width(), colour);
        text::place(painter, words, last, Align2::LEFT_BOTTOM, colour);
        name(ui, last, word!("Forecast"), &card.forecast);
    }
    let ink = if fitted { colours.ink } else { colours.quiet };
    let words = few_lines(
        ui,
        purpose.trim(),
        regular(look.pt(size::NOTE)),
        room.size(),
        ink,
    );
    text::place(painter, words, room, Align2::LEFT_TOP, ink);
    let what = if fitted {
        word!("Fitted")
    } else {
        word!("Purpose")
    };
    name(ui, room, what, purpose.trim());
}

/// A ruled line over a part of the room.
fn rule(ui: &Ui, rect: Rect, look: Look) {
    let stroke = Stroke::new(look.pt(1.5), look.colours.rule);
    ui.painter()
        .hline(rect.x_range(), rect.top() - look.pt(7.0), stroke);
}

/// A part of the room with a ui of its own, cut at its edges but for the rings round what has the keyboard.
fn part(ui: &mut Ui, rect: Rect, id: &str, look: Look) -> Ui {
    let mut child = ui.new_child(UiBuilder::new().id_salt(id).max_rect(rect));
    child.set_clip_rect(rect.expand(look.pt(3.0)));
    child
}

/// The name of a part.
fn heading(words: &str, look: Look) -> RichText {
    RichText::new(words).font(bold(look.pt(size::BODY)))
}

/// The words of a small button in the room for them. Where they are wider its key goes first, as in "Settings (s)", and
/// then they are shrunk a little before they would be cut.
fn small(ui: &Ui, words: &str, room: f32, look: Look) -> RichText {
    let wide = |words: &str| {
        let font = regular(look.pt(size::NOTE));
        let galley = ui
            .painter()
            .layout_no_wrap(words.to_owned(), font, look.colours.ink);
        galley.size().x.max(1.0)
    };
    let words = if wide(words) > room {
        words.split(" (").next().unwrap_or(words)
    } else {
        words
    };
    let share = (room / wide(words)).clamp(0.78, 1.0);
    quiet(words, look)
        .font(regular(look.pt(size::NOTE) * share))
        .color(look.colours.ink)
}

fn quiet(words: impl Into<String>, look: Look) -> RichText {
    RichText::new(words)
        .font(regular(look.pt(size::NOTE)))
        .color(look.colours.quiet)
}

/// One line, ended with an ellipsis where it would be wider.
fn one_line(ui: &Ui, words: &str, font: FontId, width: f32, colour: Color32) -> Arc<Galley> {
    let mut job = LayoutJob::single_section(words.to_owned(), TextFormat::simple(font, colour));
    job.wrap = TextWrapping::truncate_at_width(width.max(1.0));
    ui.painter().layout_job(job)
}

/// As many whole lines as there is room for, the last ended with an ellipsis where there is more.
fn few_lines(ui: &Ui, words: &str, font: FontId, room: egui::Vec2, colour: Color32) -> Arc<Galley> {
    let high = ui
        .painter()
        .layout_no_wrap("Mg".to_owned(), font.clone(), colour);
    let rows = (room.y / high.size().y.max(1.0)).floor().max(1.0);
    let mut job = LayoutJob::single_section(words.to_owned(), TextFormat::simple(font, colour));
    job.wrap.max_width = room.x.max(1.0);
    job.wrap.max_rows = rows as usize;
    ui.painter().layout_job(job)
}
