//! A room's window measured in points of the reference, so that its places are written once for every size.

use egui::{Rect, vec2};

/// A window that is so many reference points wide and high.
#[derive(Clone, Copy, Debug)]
pub(super) struct Paper {
    window: Rect,
    scale: f32,
    /// Its width.
    pub wide: f32,
    /// Its height.
    pub high: f32,
    /// What stays free at the left and at the right.
    pub margin: f32,
}

impl Paper {
    /// A window in which everything is `scale` times as large as at the reference.
    pub fn new(window: Rect, scale: f32) -> Self {
        let (wide, high) = (window.width() / scale, window.height() / scale);
        Self {
            window,
            scale,
            wide,
            high,
            margin: 44.0_f32.min(wide * 0.035),
        }
    }

    /// A place on it, on whole points of the window: lines and letters stand sharp.
    pub fn place(&self, left: f32, top: f32, right: f32, bottom: f32) -> Rect {
        let at = |x: f32, y: f32| (self.window.min + vec2(x * self.scale, y * self.scale)).round();
        Rect::from_min_max(at(left, top), at(right, bottom))
    }
}

#[cfg(test)]
mod tests {
    use egui::pos2;

    use super::*;

    #[test]
    fn places_are_scaled_moved_and_on_whole_points() {
        let window = Rect::from_min_size(pos2(10.0, 20.0), vec2(1600.0, 900.0));
        let paper = Paper::new(window, 1.25);
        assert_eq!(
            (paper.wide, paper.high, paper.margin),
            (1280.0, 720.0, 44.0)
        );
        let place = paper.place(44.0, 12.2, 100.0, 50.0);
        assert_eq!(place.min, pos2(65.0, 35.0));
        assert_eq!(place.max, pos2(135.0, 83.0));
        // Narrow windows have narrow margins.
        assert_eq!(Paper::new(window, 2.5).margin, 640.0 * 0.035);
    }
}
