//! With what: the devices, in an order that stands still.

use egui::{Button, Label, Rect, RichText, ScrollArea, Ui};

use super::{heading, part, quiet};
use crate::engine::Command;
use crate::ui::rooms::prepare::{Data, DeviceLine, State};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::Look;

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
    ui.add(Label::new(heading("Devices", look)).selectable(false));
    let mut hand = ui.rect_contains_pointer(rect);
    ScrollArea::vertical()
        .id_salt("devices")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(3.0);
            ui.set_max_width(rect.width() - look.pt(14.0));
            if data.devices.is_empty() {
                let words = "None heard yet. Wake trainer and sensors by turning the pedals.";
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
    let name = RichText::new(&line.name).font(regular(look.pt(size::BODY)));
    ui.horizontal(|ui| {
        let mark = match line.mark {
            "" => String::new(),
            mark => format!("({mark})"),
        };
        let room = ui.available_width();
        ui.scope(|ui| {
            ui.set_max_width(room - look.pt(if mark.is_empty() { 0.0 } else { 100.0 }));
            ui.add(Label::new(name).truncate().selectable(false));
        });
        if !mark.is_empty() {
            ui.add(Label::new(quiet(mark, look)).extend().selectable(false));
        }
    });
    let mut state = line.link.clone();
    if !line.details.is_empty() && !line.unusable {
        state = format!("{state}, {}", line.details);
    }
    let colour = if line.unusable {
        colours.above
    } else {
        colours.quiet
    };
    if !line.live.is_empty() {
        let live = RichText::new(&line.live).font(regular(look.pt(size::NOTE)));
        let response = ui.add(Label::new(live).truncate().selectable(false));
        response.widget_info(|| egui::WidgetInfo {
            current_text_value: Some(line.live.clone()),
            ..egui::WidgetInfo::labeled(
                egui::Role::Status,
                true,
                format!("Figures of {}", line.name),
            )
        });
    }
    ui.add(
        Label::new(quiet(state, look).color(colour))
            .wrap()
            .selectable(false),
    );
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
    });
    focused
}
