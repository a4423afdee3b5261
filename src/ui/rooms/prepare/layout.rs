//! Where everything in Prepare stands: by the Ride room's margins and lines, the same whatever is shown.

use egui::Rect;

use crate::ui::rooms::paper::Paper;

/// The places, in points of the window.
#[derive(Clone, Copy, Debug)]
pub struct Layout {
    /// How long the session is.
    pub length: Rect,
    /// Its name, what it is for, and by whom.
    pub title: Rect,
    /// Its strip.
    pub strip: Rect,
    /// The list of sessions.
    pub sessions: Rect,
    /// Who sets the load, and the timing table.
    pub timing: Rect,
    /// The rider.
    pub rider: Rect,
    /// The devices.
    pub devices: Rect,
    /// All of the middle, for a page in the columns' place.
    pub middle: Rect,
    /// What is missing.
    pub missing: Rect,
    /// What to look at before riding, and the keys.
    pub safe: Rect,
    /// The large button and the ways beside it.
    pub go: Rect,
}

impl Layout {
    /// For a window, everything `scale` times as large as at the reference.
    pub fn new(window: Rect, scale: f32) -> Self {
        let paper = Paper::new(window, scale);
        let (wide, high) = (paper.wide, paper.high);
        let place = |left, top, right, bottom| paper.place(left, top, right, bottom);
        let (left, right) = (paper.margin, wide - paper.margin);
        let three = wide >= 1100.0;
        let head = if high < 760.0 { 84.0 } else { 108.0 };
        let strip = head + ((high - head) * if three { 0.265 } else { 0.21 }).clamp(110.0, 280.0);
        let foot = high - 124.0;
        let (top, bottom) = (strip + 14.0, foot - 12.0);
        let whole = right - left;
        let gap = 30.0;
        let (sessions, timing, rider, devices) = if three {
            let first = left + whole * 0.27;
            let second = first + gap + whole * 0.37;
            let (third, least) = (second + gap, 136.0);
            (
                place(left, top, first, bottom),
                place(first + gap, top, second, bottom),
                place(third, top, right, top + least),
                place(third, top + least + 10.0, right, bottom),
            )
        } else {
            let half = left + whole * 0.5 - gap / 2.0;
            let list = top + (bottom - top) * 0.46;
            let least = top + 138.0;
            (
                place(left, top, half, list),
                place(left, list + 10.0, half, bottom),
                place(half + gap, top, right, least),
                place(half + gap, least + 10.0, right, bottom),
            )
        };
        let go = if three {
            right - whole * 0.36
        } else {
            right - whole * 0.47
        };
        Self {
            length: place(left, 14.0, left + 210.0, head),
            title: place(left + 230.0, 14.0, right, head),
            strip: place(left, head + 4.0, right, strip),
            sessions,
            timing,
            rider,
            devices,
            middle: place(left, top, right, bottom),
            missing: place(left, foot + 8.0, go - gap, foot + 64.0),
            safe: place(left, foot + 66.0, go - gap, high - 8.0),
            go: place(go, foot + 10.0, right, high - 8.0),
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
            (3840.0, 2160.0),
            (900.0, 1400.0),
        ] {
            let window = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height));
            let at = Layout::new(window, desk_scale(window.size()));
            let places = [
                ("length", at.length),
                ("title", at.title),
                ("strip", at.strip),
                ("sessions", at.sessions),
                ("timing", at.timing),
                ("rider", at.rider),
                ("devices", at.devices),
                ("missing", at.missing),
                ("safe", at.safe),
                ("go", at.go),
            ];
            for (index, (what, place)) in places.iter().enumerate() {
                assert!(
                    place.width() > 100.0 && place.height() > 40.0,
                    "{what} is {place:?} at {width}×{height}"
                );
                assert!(
                    window.contains_rect(*place),
                    "{what} leaves {width}×{height}"
                );
                for (other, beside) in &places[index + 1..] {
                    let common = place.intersect(*beside);
                    assert!(
                        common.width() <= 0.0 || common.height() <= 0.0,
                        "{what} and {other} overlap at {width}×{height}"
                    );
                }
            }
            for part in [at.sessions, at.timing, at.rider, at.devices] {
                assert!(at.middle.expand(0.1).contains_rect(part));
            }
        }
    }
}
