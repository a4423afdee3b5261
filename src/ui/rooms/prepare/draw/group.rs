//! The page on which a group's clock is chosen, and the window for a television is opened.

use egui::{Button, Label, Rect, RichText, ScrollArea, TextEdit, Ui, WidgetInfo};

use super::{heading, part, quiet};
use crate::engine::Command;
use crate::ui::rooms::prepare::group::{Form, GroupPress};
use crate::ui::rooms::prepare::{Answer, Data};
use crate::ui::theme::{regular, size};
use crate::ui::widgets::{Look, name};

/// How wide a field is, at the reference.
const FIELD_WIDE: f32 = 96.0;

/// Draws it and takes the presses.
pub(super) fn show(
    ui: &mut Ui,
    rect: Rect,
    data: &Data,
    form: &mut Form,
    answer: &mut Answer,
    look: Look,
) {
    let mut ui = part(ui, rect, "group", look);
    ScrollArea::vertical()
        .id_salt("group-page")
        .auto_shrink([false, false])
        .show(&mut ui, |ui| {
            ui.spacing_mut().item_spacing.y = look.pt(10.0);
            ui.add(Label::new(heading(word!("Ride with a group"), look)).selectable(false));
            says(
                ui,
                word!("Everybody who is not in this room goes by the clock on the wall: nothing is sent to anybody. \
                 In a group's clock still pedals let the brake off but never stop the clock; after a pause you go \
                 on from where you are, or join the group again."),
                look,
            );
            let mut pressed = None;
            row(ui, look, word!("Begin at"), word!("Begin with the group"), &mut form.time, "18:30")
                .then(|| pressed = Some(GroupPress::At));
            row(ui, look, word!("Join at minute"), word!("Join there"), &mut form.minute, "12")
                .then(|| pressed = Some(GroupPress::Join));
            ui.horizontal(|ui| {
                if press(ui, word!("Ride by my own clock"), look) {
                    pressed = Some(GroupPress::Own);
                }
            });
            if let Some(command) = pressed.and_then(|press| form.press(press)) {
                answer.commands.push(command);
            }
            let stands = if form.refused.is_empty() {
                data.group.as_str()
            } else {
                form.refused.as_str()
            };
            let stands = if stands.is_empty() {
                word!("Now: your own clock.")
            } else {
                stands
            };
            let said = says(ui, stands, look);
            name(ui, said, word!("Clock"), stands);
            ui.add_space(look.pt(10.0));
            ui.add(Label::new(heading(word!("For the others in the room"), look)).selectable(false));
            says(
                ui,
                word!("A second window for a television: the countdown of the block, the strip, what is said, and the beat \
                 of the pedals. Closing it closes nothing else."),
                look,
            );
            ui.horizontal(|ui| {
                answer.television |= press(ui, &data.television, look);
            });
        });
}

fn says(ui: &mut Ui, words: &str, look: Look) -> Rect {
    let words = RichText::new(words).font(regular(look.pt(size::BODY)));
    ui.add(Label::new(words).wrap().selectable(false)).rect
}

fn press(ui: &mut Ui, words: &str, look: Look) -> bool {
    let button = Button::new(quiet(words, look).color(look.colours.ink));
    ui.add(button).clicked()
}

/// A field with its button. True where the button was pressed, or enter in the field.
fn row(ui: &mut Ui, look: Look, what: &str, does: &str, text: &mut String, hint: &str) -> bool {
    let mut done = false;
    ui.horizontal(|ui| {
        let words = RichText::new(what).font(regular(look.pt(size::BODY)));
        ui.add_sized(
            [look.pt(140.0), look.pt(28.0)],
            Label::new(words).selectable(false),
        );
        // What cannot be a time is not worth keeping: eight signs are `18:30:00`.
        let field = TextEdit::singleline(text)
            .char_limit(8)
            .hint_text(hint)
            .font(regular(look.pt(size::BODY)))
            .desired_width(look.pt(FIELD_WIDE));
        let field = ui.add(field);
        let value = text.clone();
        field.widget_info(|| WidgetInfo {
            label: Some(what.to_owned()),
            ..WidgetInfo::text_edit(true, &value, &value, hint)
        });
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        done = press(ui, does, look) || entered;
    });
    done
}

/// Whether a command chooses a clock: then the page has done its work.
pub(super) const fn chooses_a_clock(command: &Command) -> bool {
    matches!(command, Command::Clock(_))
}
