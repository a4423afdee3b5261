//! The pieces that rooms are drawn with. Each takes its data, where to stand, and the colours; none holds state.

pub mod banner;
pub mod cadence_band;
pub mod figure;
pub mod menu;
pub mod preview;
pub mod pulse;
pub mod rating;
pub mod ruler;
pub mod strip;
pub mod text;

use egui::{Id, Rect, Response, Role, Sense, Ui, WidgetInfo};

use crate::text::translated;
use crate::ui::theme::Colours;

/// What is looked at leaning over the bars is read from this share of the distance.
pub const NEAR: f32 = 0.6;

/// What every widget is drawn with.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// The colours of the ground.
    pub colours: Colours,
    /// How much larger than at the reference window.
    pub scale: f32,
    /// How much larger than designed the rider wants type to be, 1 to 2.
    pub text: f32,
    /// The least size of type for what has to be read from the saddle on this screen, points.
    pub least: f32,
    /// Whether nothing may move smoothly: what moves goes in steps of a second.
    pub reduced_motion: bool,
}

impl Look {
    /// A length or size of type given at the reference window, in points of this one.
    pub fn pt(self, at_reference: f32) -> f32 {
        at_reference * self.scale
    }

    /// A size of type that is looked at leaning over the bars: scales, units, hints. Points.
    pub fn near(self, at_reference: f32) -> f32 {
        (self.pt(at_reference) * self.text).max(self.least * NEAR)
    }

    /// A size of type that is read from the saddle: never under the least for this screen. Points.
    pub fn far(self, at_reference: f32) -> f32 {
        (self.pt(at_reference) * self.text).max(self.least)
    }
}

/// Names a painted piece and gives its value in words, for screen readers and for tests. The label may be given in English,
/// as an entry: it is then told in the language of whoever reads.
pub fn name(ui: &Ui, rect: Rect, label: &str, value: &str) -> Response {
    let response = ui.interact(rect, Id::unique(("painted", label)), Sense::hover());
    response.widget_info(|| WidgetInfo {
        current_text_value: Some(value.to_owned()),
        ..WidgetInfo::labeled(Role::Status, true, translated(label))
    });
    response
}
