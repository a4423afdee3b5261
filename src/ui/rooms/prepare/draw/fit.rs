//! The row of buttons that fit the session to the day, always in the same places.

use egui::{Button, Rect, Ui, pos2, vec2};

use super::small;
use crate::ui::rooms::prepare::fit::buttons;
use crate::ui::rooms::prepare::{Chosen, Shelf, State};
use crate::ui::widgets::Look;

/// The widths of the buttons as shares of the row, from the left.
const SHARES: [f32; 5] = [0.152, 0.152, 0.236, 0.336, 0.124];
/// How high the row is, at the reference.
const HIGH: f32 = 26.0;

/// Draws it at the cursor, `wide` points wide, and takes the presses.
pub(super) fn show(
    ui: &mut Ui,
    wide: f32,
    shelf: &Shelf,
    chosen: &mut Chosen,
    state: &mut State,
    look: Look,
) {
    let corner = ui.cursor().min;
    let gap = look.pt(4.0);
    let high = look.pt(HIGH).round();
    let mut left = corner.x;
    let padding = ui.spacing().button_padding;
    ui.spacing_mut().button_padding.x = look.pt(2.0);
    for (button, share) in buttons(chosen.wish, state.last_recoveries)
        .into_iter()
        .zip(SHARES)
    {
        let right = left + wide * share;
        let at = Rect::from_min_max(pos2(left, corner.y), pos2(right - gap, corner.y + high));
        left = right;
        let id = format!("fit {:?}", button.press);
        let words = small(ui, &button.words, at.width() - look.pt(4.0), look);
        let response = ui
            .push_id(id, |ui| {
                ui.place(at, Button::new(words).truncate().min_size(at.size()))
            })
            .inner;
        response
            .widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &button.spoken));
        if response.clicked() {
            state.refused = chosen.press(shelf, button.press, state.last_recoveries);
        }
    }
    ui.spacing_mut().button_padding = padding;
    ui.allocate_space(vec2(wide, high));
}
