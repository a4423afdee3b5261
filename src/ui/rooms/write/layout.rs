//! Where everything in the Write room stands: by the margins and lines of the other rooms.

use egui::Rect;

use crate::ui::rooms::paper::Paper;

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
    /// All between the strip and the foot, for a page in the text's place.
    pub middle: Rect,
    /// Whether large type leaves little room: what is asked then stands alone, in the place of strip and text.
    pub low: bool,
}

impl Layout {
    /// For a window, everything `scale` times as large as at the reference.
    pub fn new(window: Rect, scale: f32) -> Self {
        let paper = Paper::new(window, scale);
        let (wide, high) = (paper.wide, paper.high);
        let place = |left, top, right, bottom| paper.place(left, top, right, bottom);
        let (left, right) = (paper.margin, wide - paper.margin);
        // Large type in a small window leaves little room: head, strip and foot give way before the text does.
        let low = high < 520.0;
        let head = if low { 50.0 } else { 74.0 };
        let least = if low { 96.0 } else { 112.0 };
        let strip = head + ((high - head) * 0.22).clamp(least, 280.0);
        let foot = high - if low { 66.0 } else { 92.0 };
        let said = foot + if low { 24.0 } else { 40.0 };
        let (top, bottom) = (strip + 14.0, foot - 10.0);
        let gap = 24.0;
        let (text, problems, side) = if wide < 760.0 {
            // Narrow, what stands beside the text stands under it.
            let under = top + (bottom - top) * 0.6;
            let middle = left + (right - left) / 2.0;
            (
                place(left, top, right, under),
                place(left, under + 8.0, middle - gap / 2.0, bottom),
                place(middle + gap / 2.0, under + 8.0, right, bottom),
            )
        } else {
            let beside = left + (right - left) * 0.56;
            let middle = top + (bottom - top) * 0.42;
            (
                place(left, top, beside, bottom),
                place(beside + gap, top, right, middle),
                place(beside + gap, middle + 10.0, right, bottom),
            )
        };
        let length = (right - left) * if wide < 760.0 { 0.26 } else { 0.16 };
        Self {
            length: place(left, 12.0, left + length, head),
            title: place(left + length + 16.0, 12.0, right, head),
            strip: place(left, head + 4.0, right, strip),
            text,
            problems,
            side,
            said: place(left, foot, right, said),
            buttons: place(left, said + 2.0, right, high - 10.0),
            middle: place(left, top, right, bottom),
            low,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::theme::desk_scale;
    use egui::{pos2, vec2};

    #[test]
    fn nothing_overlaps_and_the_text_keeps_some_lines() {
        for (width, height) in [
            (1280.0, 800.0),
            (800.0, 600.0),
            (1920.0, 1080.0),
            (900.0, 1400.0),
        ] {
            for text in [1.0, 1.5, 2.0] {
                let window = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height));
                let scale = desk_scale(window.size()) * text;
                let at = Layout::new(window, scale);
                let places = [
                    at.length,
                    at.title,
                    at.strip,
                    at.text,
                    at.problems,
                    at.side,
                    at.said,
                    at.buttons,
                ];
                for (index, place) in places.iter().enumerate() {
                    assert!(window.contains_rect(*place), "{index} at {width}, {text}");
                    assert!(place.is_positive(), "{index} at {width}, {text}");
                    for beside in &places[index + 1..] {
                        let common = place.intersect(*beside);
                        let apart = common.width() <= 0.0 || common.height() <= 0.0;
                        assert!(
                            apart,
                            "{index} at {width}, {text}: {place:?} and {beside:?}"
                        );
                    }
                }
                // A line is 23 points high at the reference.
                let lines = at.text.height() / scale / 23.0;
                assert!(lines >= 3.0, "{lines} lines at {width}, {text}");
            }
        }
    }
}
