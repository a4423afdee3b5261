//! A line to hold a ruler against, made longer and shorter by the arrows.

use egui::{EventFilter, Key, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use super::data::MILLIMETRES;
use crate::ui::widgets::Look;

/// The line's bounds in points: it shall fit a small window and be long enough to be measured.
const LEAST: f32 = 60.0;

/// Draws the line `length` points long and gives the length that the arrows ask for, where they ask for another.
pub(super) fn show(ui: &mut Ui, length: f32, look: Look) -> Option<f32> {
    let colours = look.colours;
    let most = (ui.available_width() - look.pt(30.0)).max(LEAST + 1.0);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), look.pt(64.0)), Sense::click());
    if response.clicked() {
        response.request_focus();
    }
    let label = say!("Line of {millimetres:.0} mm", millimetres = MILLIMETRES);
    response.widget_info(|| WidgetInfo {
        value: Some(f64::from(length)),
        ..WidgetInfo::labeled(egui::Role::Slider, true, &label)
    });
    let mut asked = None;
    if response.has_focus() {
        ui.memory_mut(|memory| {
            memory.set_focus_lock_filter(
                response.id,
                EventFilter {
                    horizontal_arrows: true,
                    ..EventFilter::default()
                },
            );
        });
        let (less, more, far) = ui.input(|input| {
            (
                input.num_presses(Key::ArrowLeft),
                input.num_presses(Key::ArrowRight),
                input.modifiers.shift,
            )
        });
        let steps = more as f32 - less as f32;
        if steps != 0.0 {
            let step = if far { 20.0 } else { 1.0 };
            asked = Some((length.clamp(LEAST, most) + steps * step).clamp(LEAST, most));
        }
        ui.painter().rect_stroke(
            rect,
            2.0,
            Stroke::new(look.pt(2.5), colours.ink),
            StrokeKind::Inside,
        );
    }
    let left = rect.left() + look.pt(15.0);
    let right = left + length.min(most);
    let y = rect.center().y;
    let stroke = Stroke::new(look.pt(2.0), colours.ink);
    ui.painter()
        .line_segment([pos2(left, y), pos2(right, y)], stroke);
    for share in 0..=10u8 {
        let x = left + (right - left) * f32::from(share) / 10.0;
        let half = if share % 5 == 0 { 14.0 } else { 7.0 };
        let half = look.pt(half);
        ui.painter()
            .line_segment([pos2(x, y - half), pos2(x, y + half)], stroke);
    }
    asked
}
