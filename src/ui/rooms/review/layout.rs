//! Where everything in the Review room stands: by the margins and lines of the other rooms.

use egui::Rect;

use crate::ui::rooms::paper::Paper;

/// The places, in points of the window.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    /// How long the ride was.
    pub length: Rect,
    /// Which it is, and when.
    pub title: Rect,
    /// The rides.
    pub list: Rect,
    /// The ride's strip.
    pub strip: Rect,
    /// The ways to look at it.
    pub views: Rect,
    /// What that way shows.
    pub content: Rect,
    /// What was said, or the keys.
    pub said: Rect,
    /// The buttons.
    pub buttons: Rect,
}

impl Layout {
    /// For a window, everything `scale` times as large as at the reference.
    pub fn new(window: Rect, scale: f32) -> Self {
        let paper = Paper::new(window, scale);
        let (wide, high) = (paper.wide, paper.high);
        let place = |left, top, right, bottom| paper.place(left, top, right, bottom);
        let (left, right) = (paper.margin, wide - paper.margin);
        // Large type in a small window leaves little room: head and foot give way before the ride does.
        let low = high < 520.0;
        let head = if low { 48.0 } else { 82.0 };
        let foot = high - if low { 58.0 } else { 92.0 };
        let said = foot + if low { 20.0 } else { 40.0 };
        let (top, bottom) = (head + 8.0, foot - 8.0);
        let gap = if low { 14.0 } else { 28.0 };
        let list = ((right - left) * if low { 0.30 } else { 0.27 }).clamp(110.0, 340.0);
        let ride = left + list + gap;
        let share = if low { 0.36 } else { 0.37 };
        let strip = top + ((bottom - top) * share).clamp(84.0, 420.0);
        let views = strip + if low { 24.0 } else { 38.0 };
        let length = if low { 96.0 } else { 190.0 };
        Self {
            length: place(left, 12.0, left + length, head),
            title: place(left + length + 16.0, 12.0, right, head),
            list: place(left, top, left + list, bottom),
            strip: place(ride, top, right, strip),
            views: place(ride, strip + 4.0, right, views),
            content: place(ride, views + 6.0, right, bottom),
            said: place(left, foot, right, said),
            buttons: place(left, said + 2.0, right, high - 10.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::theme::desk_scale;
    use egui::{pos2, vec2};

    #[test]
    fn nothing_overlaps_and_nothing_leaves_the_window() {
        for (width, height) in [
            (1280.0, 800.0),
            (800.0, 600.0),
            (1280.0, 720.0),
            (1920.0, 1080.0),
            (2560.0, 1440.0),
            (900.0, 1400.0),
        ] {
            for text in [1.0, 1.5, 2.0] {
                let window = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height));
                let scale = desk_scale(window.size()) * text;
                let at = Layout::new(window, scale);
                let places = [
                    at.length, at.title, at.list, at.strip, at.views, at.content, at.said,
                    at.buttons,
                ];
                for (index, place) in places.iter().enumerate() {
                    assert!(place.is_positive(), "{index} at {width}, {text}");
                    assert!(window.contains_rect(*place), "{index} at {width}, {text}");
                    for beside in &places[index + 1..] {
                        let common = place.intersect(*beside);
                        assert!(
                            common.width() <= 0.0 || common.height() <= 0.0,
                            "{index} at {width}, {text}: {place:?} and {beside:?}"
                        );
                    }
                }
                // Four lines of a table at least: a line is 24 points high at the reference.
                let lines = at.content.height() / scale / 24.0;
                assert!(lines >= 3.0, "{lines} lines at {width}, {text}");
            }
        }
    }
}
