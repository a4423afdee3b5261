//! Where everything in the Write room stands: by the margins and lines of the other rooms.

use egui::{Rect, pos2};

/// The places, in points of the window.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    /// How long the session is.
    pub length: Rect,
    /// Its name, and its file.
    pub title: Rect,
    /// Its strip.
    pub strip: Rect,
    /// The text.
    pub text: Rect,
    /// What is wrong, or what is asked.
    pub problems: Rect,
    /// The timing table, or what may be written.
    pub side: Rect,
    /// What was said, and what the key at the cursor means.
    pub said: Rect,
    /// The buttons.
    pub buttons: Rect,
}

impl Layout {
    /// For a window, everything `scale` times as large as at the reference.
    pub fn new(window: Rect, scale: f32) -> Self {
        let (wide, high) = (window.width() / scale, window.height() / scale);
        let place = |left: f32, top: f32, right: f32, bottom: f32| {
            Rect::from_min_max(
                pos2(window.left() + left * scale, window.top() + top * scale).round(),
                pos2(window.left() + right * scale, window.top() + bottom * scale).round(),
            )
        };
        let margin = 44.0_f32.min(wide * 0.035);
        let (left, right) = (margin, wide - margin);
        let head = 74.0;
        let strip = head + ((high - head) * 0.22).clamp(112.0, 280.0);
        let foot = high - 92.0;
        let (top, bottom) = (strip + 14.0, foot - 10.0);
        let gap = 24.0;
        let text = left + (right - left) * 0.56;
        let middle = top + (bottom - top) * 0.42;
        Self {
            length: place(left, 12.0, left + 190.0, head),
            title: place(left + 206.0, 12.0, right, head),
            strip: place(left, head + 4.0, right, strip),
            text: place(left, top, text, bottom),
            problems: place(text + gap, top, right, middle),
            side: place(text + gap, middle + 10.0, right, bottom),
            said: place(left, foot, right, foot + 40.0),
            buttons: place(left, foot + 42.0, right, high - 10.0),
        }
    }
}
