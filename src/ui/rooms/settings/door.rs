//! The way to the settings from Prepare: one quiet line at its foot.

use egui::{Button, Frame, Margin, Panel, RichText, Ui};

use crate::ui::theme::size;
use crate::ui::widgets::Look;

/// What the line says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Door {
    /// The key, as it is written on the screen.
    pub key: String,
    /// Whether the screen was told already.
    pub told: bool,
    /// What is wrong with the settings' file, a sentence each.
    pub troubles: Vec<String>,
}

/// Draws the line at the foot; true where it was pressed. It never takes the keyboard by itself.
pub fn door_ui(ui: &mut Ui, door: &Door, look: Look) -> bool {
    let frame = Frame::new()
        .fill(look.colours.ground)
        .inner_margin(Margin::symmetric(look.pt(16.0) as i8, look.pt(4.0) as i8));
    let mut pressed = false;
    Panel::bottom("settings-door")
        .frame(frame)
        .resizable(false)
        .show(ui, |ui| {
            super::super::prepare::dress(ui, look);
            for words in &door.troubles {
                let words = RichText::new(words).size(look.pt(size::NOTE));
                ui.label(words.color(look.colours.above));
            }
            ui.horizontal_wrapped(|ui| {
                let words = RichText::new(format!("Settings ({})", door.key))
                    .size(look.pt(size::NOTE))
                    .color(look.colours.quiet);
                pressed = ui.add(Button::new(words)).clicked();
                if !door.told {
                    let asked = RichText::new("How large is this screen, and how far away is it?")
                        .size(look.pt(size::NOTE))
                        .color(look.colours.quiet);
                    ui.label(asked);
                }
            });
        });
    pressed
}
