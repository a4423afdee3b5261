//! With what: the devices, in an order that stands still.

use egui::{Align2, Button, Label, Rect, ScrollArea, Ui, vec2};

use super::{heading, one_line, part, quiet};
use crate::engine::Command;
use crate::ui::rooms::prepare::{Data, DeviceLine, FlywheelLine, State};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, name, text};

pub(super) fn show(
    ui: &mut Ui,
    rect: Rect,
    data: &Data,
    state: &mut State,
    commands: &mut Vec<Command>,
    look: Look,
) {
    let mut ui = part(ui, rect, "devices", look);
    let ui = &mut ui;
    let words = match data.devices.len() {
        0 | 1 => word!("Devices").to_owned(),
        count => say!("Devices, {count} heard", count),
    };
    ui.add(Label::new(heading(&words, look)).selectable(false));
    let mut hand = ui.rect_contains_pointer(rect);
    ScrollArea::vertical()
        .id_salt("devices")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(3.0);
            ui.set_max_width(rect.width() - look.pt(14.0));
            if data.devices.is_empty() {
                let words =
                    word!("None heard yet. Wake trainer and sensors by turning the pedals.");
                ui.add(Label::new(quiet(words, look)).wrap());
            }
            for (index, line) in data.devices.iter().enumerate() {
                if index > 0 {
                    ui.add_space(look.pt(3.0));
                    ui.separator();
                }
                ui.push_id(line.id.as_str(), |ui| {
                    hand |= device(ui, line, commands, look)
                });
            }
        });
    state.hand_on_devices = hand;
}

/// Draws a device; says whether the keyboard is on it.
fn device(ui: &mut Ui, line: &DeviceLine, commands: &mut Vec<Command>, look: Look) -> bool {
    let colours = look.colours;
    let beside = title(ui, line, look);
    let mut state = line.link.clone();
    if !beside && !line.live.is_empty() {
        state = [line.live.as_str(), state.as_str()].join(if state.is_empty() { "" } else { ", " });
    }
    if !line.details.is_empty() && !line.unusable {
        if !state.is_empty() {
            state += ", ";
        }
        state += &line.details;
    }
    let colour = if line.unusable {
        colours.above
    } else {
        colours.quiet
    };
    let state = quiet(state, look).color(colour);
    ui.add(Label::new(state).wrap().selectable(false));
    let mut focused = false;
    ui.horizontal_wrapped(|ui| {
        for button in &line.roles {
            let words = if button.used {
                format!("• {}", button.words)
            } else {
                button.words.to_owned()
            };
            let words = quiet(words, look).color(colours.ink);
            let response = ui
                .push_id(button.role.key(), |ui| {
                    ui.add(
                        Button::selectable(button.used, words)
                            .frame(true)
                            .frame_when_inactive(true),
                    )
                })
                .inner;
            response.widget_info(|| {
                egui::WidgetInfo::selected(egui::Role::Button, true, button.used, &button.spoken)
            });
            focused |= response.has_focus();
            if response.gained_focus() {
                response.scroll_to_me(None);
            }
            if response.clicked() {
                commands.push(button.command.clone());
            }
        }
        if let Some(calibrate) = &line.calibrate {
            let words = quiet(calibrate.words, look).color(colours.ink);
            let response = ui
                .push_id("calibrate", |ui| ui.add(Button::new(words)))
                .inner;
            response.widget_info(|| {
                egui::WidgetInfo::labeled(egui::Role::Button, true, &calibrate.spoken)
            });
            focused |= response.has_focus();
            if response.clicked() {
                commands.push(Command::SpinDown);
            }
        }
    });
    if let Some(flywheel) = &line.flywheel {
        focused |= flywheel_ui(ui, flywheel, &line.name, commands, look);
    }
    focused
}

/// What is asked or known of its flywheel, with the answers; says whether the keyboard is on one of them.
fn flywheel_ui(
    ui: &mut Ui,
    flywheel: &FlywheelLine,
    device: &str,
    commands: &mut Vec<Command>,
    look: Look,
) -> bool {
    let mut focused = false;
    ui.add(
        Label::new(quiet(crate::text::word(flywheel.words), look))
            .wrap()
            .selectable(false),
    );
    ui.horizontal_wrapped(|ui| {
        for (entry, command) in &flywheel.answers {
            let words = crate::text::word(entry);
            let answer = quiet(words, look).color(look.colours.ink);
            let response = ui.push_id(entry, |ui| ui.add(Button::new(answer))).inner;
            response.widget_info(|| {
                let spoken = say!("{words}: the flywheel of {device}", words, device);
                egui::WidgetInfo::labeled(egui::Role::Button, true, spoken)
            });
            focused |= response.has_focus();
            if response.gained_focus() {
                response.scroll_to_me(None);
            }
            if response.clicked() {
                commands.push(command.clone());
            }
        }
    });
    focused
}

/// Its name and mark, and at the right its newest figures where the name leaves room; whether it did.
fn title(ui: &mut Ui, line: &DeviceLine, look: Look) -> bool {
    let colours = look.colours;
    let wide = ui.available_width();
    let (at, _) = ui.allocate_exact_size(vec2(wide, look.pt(24.0)), egui::Sense::hover());
    let note = regular(look.pt(size::NOTE));
    let live = one_line(ui, &line.live, note.clone(), wide * 0.5, colours.ink);
    let mark = match line.mark {
        "" => String::new(),
        mark => format!("({mark})"),
    };
    let mark = one_line(ui, &mark, note, wide * 0.4, colours.quiet);
    let gap = look.pt(8.0);
    let room = wide - mark.size().x - gap;
    let font = regular(look.pt(size::BODY));
    let words = one_line(ui, &line.name, font, room, colours.ink);
    let beside = words.size().x + gap + live.size().x <= room;
    if beside {
        text::place(ui.painter(), live, at, Align2::RIGHT_CENTER, colours.ink);
    }
    let placed = text::place(ui.painter(), words, at, Align2::LEFT_CENTER, colours.ink);
    let after = at.with_min_x(placed.right() + gap);
    text::place(
        ui.painter(),
        mark,
        after,
        Align2::LEFT_CENTER,
        colours.quiet,
    );
    let value = [
        line.mark,
        line.live.as_str(),
        line.link.as_str(),
        line.details.as_str(),
    ];
    let value: Vec<&str> = value
        .into_iter()
        .filter(|words| !words.is_empty())
        .collect();
    name(
        ui,
        at,
        &say!("Device {name}", name = line.name),
        &value.join(", "),
    );
    beside
}
