//! The pieces that rooms are drawn with. Each takes its data, where to stand, and the colours; none holds state.

pub mod banner;
pub mod cadence_band;
pub mod figure;
pub mod menu;
pub mod preview;
pub mod rating;
pub mod ruler;
pub mod strip;
pub mod text;

use egui::{Id, Rect, Response, Role, Sense, Ui, WidgetInfo};

use crate::ui::legibility::Screen;
use crate::ui::theme::Colours;

/// What every widget is drawn with.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// The colours of the ground.
    pub colours: Colours,
    /// How much larger than at the reference window.
    pub scale: f32,
    /// Whether what moves for its own sake stands still.
    pub reduced_motion: bool,
    /// How much larger than usual the rider wants text, 1 to 2.
    pub text_scale: f32,
    /// The rider's screen, where it was told.
    pub screen: Option<Screen>,
}

impl Look {
    /// A length or size of type given at the reference window, in points of this one.
    pub fn pt(self, at_reference: f32) -> f32 {
        at_reference * self.scale
    }
}

/// Names a painted piece and gives its value in words, for screen readers and for tests.
pub fn name(ui: &Ui, rect: Rect, label: &str, value: &str) -> Response {
    let response = ui.interact(rect, Id::unique(("painted", label)), Sense::hover());
    response.widget_info(|| WidgetInfo {
        current_text_value: Some(value.to_owned()),
        ..WidgetInfo::labeled(Role::Status, true, label)
    });
    response
}
