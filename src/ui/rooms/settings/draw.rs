//! Draws the room of settings. Everything is reached by tab and arrows; escape leaves.

use egui::{
    Align, Button, CentralPanel, DragValue, Frame, Grid, Layout, Margin, RichText, ScrollArea, Ui,
    Vec2, WidgetInfo, vec2,
};

use super::data::{Data, KeyRow, MILLIMETRES, USUAL_DIAGONAL_MM, USUAL_DISTANCE_MM, diagonal_of};
use super::{Capture, line};
use crate::cue::Kind;
use crate::text::{self, Language};
use crate::ui::keys::Keymap;
use crate::ui::rooms::prepare;
use crate::ui::settings::{DIAGONAL, DISTANCE, Settings, TEXT_SIZES};
use crate::ui::theme::{Ground, bold, regular, size};
use crate::ui::widgets::Look;

/// Millimetres in an inch.
const INCH: f32 = 25.4;

/// Draws the room and changes the settings; true where the rider leaves. `monitor` is the whole screen in points.
pub fn room_ui(
    ui: &mut Ui,
    data: &Data,
    look: Look,
    monitor: Vec2,
    settings: &mut Settings,
    capture: &mut Capture,
) -> bool {
    prepare::dress(ui, look);
    let frame = Frame::new()
        .fill(look.colours.ground)
        .inner_margin(Margin::same(look.pt(28.0) as i8));
    let mut leaves = false;
    CentralPanel::default().frame(frame).show(ui, |ui| {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(word!("Settings")).font(bold(look.pt(size::HEADING))));
            ui.add_space(look.pt(20.0));
            let back = ui.add(Button::new(word!("Back to Prepare")));
            if ui.memory(|memory| memory.focused()).is_none() && capture.waits.is_none() {
                back.request_focus();
            }
            leaves = back.clicked();
            let keys = word!("tab and arrows move, enter presses, esc leaves");
            ui.label(quiet(keys, look));
        });
        for words in &data.troubles {
            ui.label(RichText::new(words).color(look.colours.above));
        }
        ScrollArea::vertical()
            .auto_shrink([false, false])
            .show(ui, |ui| {
                if ui.available_width() / look.scale >= 1000.0 {
                    ui.spacing_mut().item_spacing.x = look.pt(40.0);
                    ui.columns(2, |columns| {
                        column(&mut columns[0], look, |ui| {
                            screen(ui, data, look, monitor, settings);
                            appearance(ui, look, settings);
                            sound(ui, look, settings);
                        });
                        column(&mut columns[1], look, |ui| {
                            keys(ui, data, look, settings, capture)
                        });
                    });
                } else {
                    screen(ui, data, look, monitor, settings);
                    appearance(ui, look, settings);
                    sound(ui, look, settings);
                    keys(ui, data, look, settings, capture);
                }
                ui.add_space(look.pt(12.0));
                if ui.button(word!("All as at first")).clicked() {
                    *settings = Settings::default();
                    *capture = Capture::default();
                }
            });
    });
    leaves
}

/// One of the two columns: ragged at the right, with the usual gaps.
fn column(ui: &mut Ui, look: Look, draw: impl FnOnce(&mut Ui)) {
    ui.with_layout(Layout::top_down(Align::LEFT), |ui| {
        ui.spacing_mut().item_spacing.x = look.pt(8.0);
        draw(ui);
    });
}

fn heading(ui: &mut Ui, words: &str, look: Look) {
    ui.add_space(look.pt(14.0));
    ui.label(RichText::new(words).font(bold(look.pt(size::BODY))));
}

fn quiet(words: impl Into<String>, look: Look) -> RichText {
    RichText::new(words).small().color(look.colours.quiet)
}

fn screen(ui: &mut Ui, data: &Data, look: Look, monitor: Vec2, settings: &mut Settings) {
    heading(ui, word!("How large is this screen?"), look);
    ui.label(quiet(
        say!(
            "Hold a ruler against the glass. Left and right, with shift for more, until this line is {millimetres:.0} mm long; \
             or give the diagonal.",
            millimetres = MILLIMETRES
        ),
        look,
    ));
    if let Some(length) = line::show(ui, data.line, look) {
        settings.diagonal_mm = Some(legal(diagonal_of(length, monitor), DIAGONAL));
    }
    let diagonal = settings.diagonal_mm.unwrap_or(USUAL_DIAGONAL_MM);
    ui.horizontal_wrapped(|ui| {
        ui.label(word!("Diagonal"));
        let mut inches = diagonal / INCH;
        let range = bounds(DIAGONAL, INCH);
        let drag = DragValue::new(&mut inches)
            .range(range)
            .speed(0.05)
            .max_decimals(1)
            .custom_formatter(|inches, places| {
                let figure = egui::emath::format_with_decimals_in_range(inches, places);
                text::figure(&figure).into_owned()
            })
            .custom_parser(|typed| {
                let plain = typed.replace(char::is_whitespace, "").replace(',', ".");
                plain.parse().ok()
            });
        if number(ui, drag.suffix(word!(" in")), word!("Diagonal in inches")) {
            settings.diagonal_mm = Some(legal(inches * INCH, DIAGONAL));
        }
        let mut mm = diagonal;
        let drag = DragValue::new(&mut mm)
            .range(bounds(DIAGONAL, 1.0))
            .speed(1.0)
            .max_decimals(0);
        if number(ui, drag.suffix(" mm"), word!("Diagonal in millimetres")) {
            settings.diagonal_mm = Some(legal(mm, DIAGONAL));
        }
    });
    heading(
        ui,
        word!("How far are your eyes from it when you ride?"),
        look,
    );
    ui.horizontal_wrapped(|ui| {
        let mut cm = settings.distance_mm.unwrap_or(USUAL_DISTANCE_MM) / 10.0;
        let drag = DragValue::new(&mut cm)
            .range(bounds(DISTANCE, 10.0))
            .speed(1.0)
            .max_decimals(0);
        if number(ui, drag.suffix(" cm"), word!("Distance in centimetres")) {
            settings.distance_mm = Some(legal(cm * 10.0, DISTANCE));
        }
        if !data.told {
            let both = word!("These are right");
            if ui.button(both).clicked() {
                settings.diagonal_mm.get_or_insert(USUAL_DIAGONAL_MM);
                settings.distance_mm.get_or_insert(USUAL_DISTANCE_MM);
            }
        }
    });
    ui.label(quiet(&data.sample, look));
    ui.label(RichText::new(word!("Then recovery, 3:00 at 4.")).font(regular(data.critical)));
}

/// A figure that is typed or moved by the arrows; true where it changed.
fn number(ui: &mut Ui, drag: DragValue<'_>, spoken: &str) -> bool {
    let response = ui.add(drag);
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_label(spoken));
    response.changed()
}

fn bounds(legal: crate::units::Legal, unit: f32) -> std::ops::RangeInclusive<f32> {
    legal.least as f32 / unit..=legal.most as f32 / unit
}

/// Within its bounds, in whole tenths of a millimetre: finer nobody measures.
fn legal(length: f32, legal: crate::units::Legal) -> f32 {
    let tenths = (length * 10.0).round() / 10.0;
    tenths.clamp(legal.least as f32, legal.most as f32)
}

fn appearance(ui: &mut Ui, look: Look, settings: &mut Settings) {
    heading(ui, word!("Size of text"), look);
    ui.horizontal_wrapped(|ui| {
        for text_size in TEXT_SIZES {
            let picked = settings.text_size == text_size;
            if ui.radio(picked, format!("{text_size} %")).clicked() {
                settings.text_size = text_size;
            }
        }
    });
    language(ui, look, settings);
    heading(ui, word!("Ground"), look);
    ui.horizontal_wrapped(|ui| {
        for (ground, words) in [
            (Ground::Dark, word!("Dark, with light ink")),
            (Ground::Paper, word!("Paper, with dark ink")),
        ] {
            if ui.radio(settings.ground == ground, words).clicked() {
                settings.ground = ground;
            }
        }
    });
    heading(ui, word!("Motion"), look);
    ui.checkbox(
        &mut settings.reduced_motion,
        word!("Hold still what moves for its own sake"),
    );
}

/// Languages by their own names, for whoever understands no word of this room.
fn language(ui: &mut Ui, look: Look, settings: &mut Settings) {
    heading(ui, word!("Language"), look);
    ui.horizontal_wrapped(|ui| {
        let own = Language::ALL.map(|language| (Some(language), language.name()));
        for (language, words) in [(None, word!("As the system"))].into_iter().chain(own) {
            if ui.radio(settings.language == language, words).clicked() {
                settings.language = language;
            }
        }
    });
}

fn sound(ui: &mut Ui, look: Look, settings: &mut Settings) {
    heading(ui, word!("Sound"), look);
    ui.checkbox(&mut settings.kinds.on, word!("Let the session be heard"));
    for kind in Kind::ALL {
        let mut heard = settings.kinds.chosen(kind);
        ui.add_enabled_ui(settings.kinds.on, |ui| {
            ui.checkbox(&mut heard, text::word(kind.words()));
        });
        settings.kinds = settings.kinds.with(kind, heard);
    }
}

fn keys(ui: &mut Ui, data: &Data, look: Look, settings: &mut Settings, capture: &mut Capture) {
    heading(ui, word!("Keys"), look);
    ui.label(quiet(
        word!(
            "Less, yes, more and brake off do everything; the others save a walk through the choices. Escape always lets \
             the brake off."
        ),
        look,
    ));
    ScrollArea::horizontal()
        .id_salt("keys")
        .show(ui, |ui| key_table(ui, data, look, capture));
    if ui.button(word!("Keys as at first")).clicked() {
        settings.keys = Keymap::default();
        *capture = Capture::default();
    }
}

fn key_table(ui: &mut Ui, data: &Data, look: Look, capture: &mut Capture) {
    Grid::new("keys")
        .num_columns(4)
        .spacing(vec2(look.pt(14.0), look.pt(6.0)))
        .show(ui, |ui| {
            for row in &data.keys {
                ui.label(row.name);
                if row.waits {
                    ui.label(RichText::new(word!("press its key")).color(look.colours.above));
                } else {
                    ui.label(quiet(&row.keys, look));
                }
                ask(ui, row, false, look, capture);
                ask(ui, row, true, look, capture);
                ui.end_row();
            }
        });
}

/// A button after which the next key that is pressed is the act's own, or one more of its own.
fn ask(ui: &mut Ui, row: &KeyRow, beside: bool, look: Look, capture: &mut Capture) {
    let name = row.name;
    let (words, spoken) = if beside {
        (word!("one more"), say!("One more key for {name}", name))
    } else {
        (word!("change"), say!("Change the key for {name}", name))
    };
    let response = ui.add(Button::new(RichText::new(words).size(look.pt(size::NOTE))));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &spoken));
    if response.clicked() {
        *capture = Capture {
            waits: Some((row.act, beside)),
            refused: None,
        };
    }
}
