//! Draws Prepare. Everything can be reached by tab and arrows; the large button has the keyboard at first.

use egui::{
    Button, CentralPanel, Frame, Grid, Label, Margin, Panel, RichText, ScrollArea, TextStyle, Ui,
    vec2,
};

use super::{Chosen, Data, Primary, Shelf};
use crate::engine::Command;
use crate::ride::RideMode;
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, preview};
use crate::ui::words;

/// Draws the room. `chosen` is changed by what is picked; the commands tell the core.
pub fn room_ui(
    ui: &mut Ui,
    data: &Data,
    look: Look,
    shelf: &Shelf,
    chosen: &mut Chosen,
) -> Vec<Command> {
    let mut commands = Vec::new();
    let before = *chosen;
    dress(ui, look);
    let frame = Frame::new()
        .fill(look.colours.ground)
        .inner_margin(Margin::same(look.pt(16.0) as i8));
    Panel::bottom("start")
        .frame(frame)
        .resizable(false)
        .show(ui, |ui| start(ui, data, look, &mut commands));
    let wide = ui.available_width() / look.scale >= 1150.0;
    let column = |ui: &mut Ui, id: &str, draw: &mut dyn FnMut(&mut Ui)| {
        ScrollArea::vertical()
            .id_salt(id)
            .auto_shrink([false, false])
            .show(ui, |ui| draw(ui));
    };
    let side = if wide {
        look.pt(290.0)
    } else {
        ui.available_width() * 0.42
    };
    Panel::left("choose")
        .frame(frame)
        .resizable(false)
        .exact_size(side)
        .show(ui, |ui| {
            column(ui, "choose", &mut |ui| {
                sessions(ui, data, look, chosen);
                modes(ui, look, chosen);
                riders(ui, data, look, chosen);
                if !wide {
                    devices(ui, data, look, &mut commands);
                }
            });
        });
    if wide {
        Panel::right("devices")
            .frame(frame)
            .resizable(false)
            .exact_size(look.pt(360.0))
            .show(ui, |ui| {
                column(ui, "devices", &mut |ui| {
                    devices(ui, data, look, &mut commands);
                    safety(ui, look);
                });
            });
    }
    CentralPanel::default().frame(frame).show(ui, |ui| {
        column(ui, "session", &mut |ui| {
            session(ui, data, look);
            if !wide {
                safety(ui, look);
            }
        });
    });
    if *chosen != before {
        commands.extend(chosen.command(shelf));
    }
    commands
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
    style.spacing.item_spacing = vec2(look.pt(8.0), look.pt(6.0));
    style.spacing.button_padding = vec2(look.pt(9.0), look.pt(5.0));
}

fn heading(ui: &mut Ui, words: &str, look: Look) {
    ui.add_space(look.pt(6.0));
    ui.label(RichText::new(words).font(bold(look.pt(size::BODY))));
}

fn quiet(words: impl Into<String>, look: Look) -> RichText {
    RichText::new(words).small().color(look.colours.quiet)
}

/// One of several to pick from.
fn pick(ui: &mut Ui, words: &str, picked: bool) -> bool {
    ui.radio(picked, words).clicked()
}

fn sessions(ui: &mut Ui, data: &Data, look: Look, chosen: &mut Chosen) {
    heading(ui, "Session", look);
    for (index, words) in data.sessions.iter().enumerate() {
        if pick(ui, words, index == chosen.session) {
            chosen.session = index;
        }
    }
}

fn modes(ui: &mut Ui, look: Look, chosen: &mut Chosen) {
    heading(ui, "Who sets the load", look);
    for (mode, words) in [
        (RideMode::TargetPower, "The brake holds the watts"),
        (RideMode::EffortOnly, "I ride by effort, without watts"),
    ] {
        if pick(ui, words, chosen.mode == mode) {
            chosen.mode = mode;
        }
    }
}

fn riders(ui: &mut Ui, data: &Data, look: Look, chosen: &mut Chosen) {
    heading(ui, "Rider", look);
    for (index, words) in data.riders.iter().enumerate() {
        if pick(ui, words, index == chosen.rider) {
            chosen.rider = index;
        }
    }
    Grid::new("figures").num_columns(2).show(ui, |ui| {
        for figure in &data.figures {
            ui.label(quiet(figure.what, look));
            let value = RichText::new(&figure.value).small();
            if figure.check_me {
                let value = RichText::new(format!("{}, check me", figure.value)).small();
                ui.label(value.color(look.colours.above));
            } else {
                ui.label(value);
            }
            ui.end_row();
        }
    });
}

fn devices(ui: &mut Ui, data: &Data, look: Look, commands: &mut Vec<Command>) {
    heading(ui, "Devices", look);
    if let Some(words) = &data.adapter {
        ui.label(RichText::new(words).small().color(look.colours.above));
    }
    if data.devices.is_empty() {
        ui.label(quiet(
            "None heard yet. Wake trainer and sensors by turning the pedals.",
            look,
        ));
    }
    for device in &data.devices {
        ui.add_space(look.pt(4.0));
        ui.label(&device.name);
        ui.label(quiet(&device.link, look));
        if !device.details.is_empty() {
            ui.label(quiet(&device.details, look));
        }
        ui.horizontal_wrapped(|ui| {
            for button in &device.roles {
                let words = if button.used {
                    format!("• {}", button.role.key())
                } else {
                    button.role.key().to_owned()
                };
                let response = ui.add(
                    Button::selectable(button.used, RichText::new(words).small())
                        .frame(true)
                        .frame_when_inactive(true),
                );
                response.widget_info(|| {
                    egui::WidgetInfo::selected(
                        egui::Role::Button,
                        true,
                        button.used,
                        &button.spoken,
                    )
                });
                if response.clicked() {
                    commands.push(button.command.clone());
                }
            }
        });
    }
}

fn safety(ui: &mut Ui, look: Look) {
    heading(ui, "Before you ride", look);
    for words in words::BEFORE_RIDING {
        ui.label(quiet(words, look));
    }
    ui.label(quiet(words::STOP_SIGNS, look));
}

fn session(ui: &mut Ui, data: &Data, look: Look) {
    let card = &data.session;
    ui.heading(&card.name);
    ui.label(&card.purpose);
    ui.label(quiet(
        [card.by.as_str(), card.lengths.as_str()].join(" ").trim(),
        look,
    ));
    let width = ui.available_width();
    let (rect, _) = ui.allocate_exact_size(vec2(width, look.pt(190.0)), egui::Sense::hover());
    preview::show(ui, rect, &card.preview, look);
    ui.add_space(look.pt(6.0));
    let watts = card.rows.iter().any(|row| !row.watts.is_empty());
    ScrollArea::horizontal().id_salt("timing").show(ui, |ui| {
        ui.spacing_mut().item_spacing.x = look.pt(14.0);
        Grid::new("timing").show(ui, |ui| {
            let mut head = vec!["start", "length", "block", "effort"];
            if watts {
                head.push("watts");
            }
            head.extend(["rpm", "position"]);
            for words in head {
                ui.label(quiet(words, look));
            }
            ui.end_row();
            for row in &card.rows {
                let mut cells = vec![&row.start, &row.length, &row.block, &row.load];
                if watts {
                    cells.push(&row.watts);
                }
                cells.push(&row.cadence);
                for words in cells {
                    ui.add(Label::new(RichText::new(words).small()).extend());
                }
                ui.label(RichText::new(row.position).small());
                ui.end_row();
            }
        });
    });
    ui.label(RichText::new(&card.lengths).small());
}

/// What is missing, and the buttons.
fn start(ui: &mut Ui, data: &Data, look: Look, commands: &mut Vec<Command>) {
    for words in &data.missing {
        ui.label(RichText::new(words).small().color(look.colours.above));
    }
    // An id of its own: what stands above may come and go, and the keyboard must stay where it is.
    ui.push_id("start", |ui| {
        ui.horizontal(|ui| {
            large(ui, &data.primary, true, look, commands);
            if let Some(second) = &data.secondary {
                large(ui, second, false, look, commands);
            }
            ui.label(data.pedals);
        });
    });
    ui.label(quiet(
        "tab and arrows move, enter presses, g changes the ground",
        look,
    ));
}

fn large(ui: &mut Ui, what: &Primary, first: bool, look: Look, commands: &mut Vec<Command>) {
    let words = RichText::new(&what.words).font(bold(look.pt(size::BODY + 2.0)));
    // It stays enabled while it waits, so that it keeps the keyboard.
    let response = ui.add(Button::new(words).min_size(vec2(look.pt(220.0), look.pt(44.0))));
    if first && ui.memory(|memory| memory.focused()).is_none() {
        response.request_focus();
    }
    if response.clicked() {
        commands.extend(what.command.clone());
    }
}
