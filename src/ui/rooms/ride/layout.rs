//! Where everything stands in the Ride room.

use egui::{Rect, pos2};

use crate::ui::theme::{self, REFERENCE};

/// The places, none of which touches another.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    pub block: Rect,
    pub left: Rect,
    pub own: Rect,
    pub band: Rect,
    pub third: Rect,
    pub fourth: Rect,
    pub sentence: Rect,
    pub strip: Rect,
    pub next: Rect,
    pub ruler: Rect,
    pub clock: Rect,
    pub hints: Rect,
}

impl Layout {
    /// For a window's rectangle. Sizes grow with the tighter side; what the wider side has over goes to the strip.
    pub(super) fn new(window: Rect) -> Self {
        let scale = theme::scale(window.size());
        let x = |reference: f32| window.left() + reference * scale;
        // From the right edge, and from the lower one below the middle: the strip between stretches.
        let right = |reference: f32| window.right() - (REFERENCE.x - reference) * scale;
        let y = |reference: f32| {
            if reference <= 520.0 {
                window.top() + reference * scale
            } else {
                window.bottom() - (REFERENCE.y - reference) * scale
            }
        };
        let place = |left: f32, top: f32, right: f32, bottom: f32| {
            Rect::from_min_max(pos2(left, y(top)), pos2(right, y(bottom)))
        };
        Self {
            block: place(x(44.0), 24.0, x(418.0), 80.0),
            left: place(x(40.0), 84.0, x(418.0), 226.0),
            own: place(x(44.0), 256.0, x(418.0), 424.0),
            band: place(x(44.0), 430.0, x(376.0), 496.0),
            third: place(x(44.0), 526.0, x(418.0), 602.0),
            fourth: place(x(44.0), 612.0, x(418.0), 688.0),
            sentence: place(x(445.0), 20.0, right(1236.0), 122.0),
            strip: place(x(445.0), 128.0, right(1276.0), 622.0),
            next: place(x(445.0), 632.0, right(1250.0), 688.0),
            ruler: place(x(44.0), 690.0, right(1236.0), 744.0),
            clock: place(x(44.0), 750.0, x(270.0), 788.0),
            hints: place(x(280.0), 750.0, right(1236.0), 788.0),
        }
    }

    #[cfg(test)]
    fn all(&self) -> [(&'static str, Rect); 12] {
        [
            ("block", self.block),
            ("left", self.left),
            ("own", self.own),
            ("band", self.band),
            ("third", self.third),
            ("fourth", self.fourth),
            ("sentence", self.sentence),
            ("strip", self.strip),
            ("next", self.next),
            ("ruler", self.ruler),
            ("clock", self.clock),
            ("hints", self.hints),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::vec2;

    #[test]
    fn nothing_overlaps_and_nothing_leaves_the_window() {
        for (width, height) in [
            (1280.0, 800.0),
            (800.0, 600.0),
            (1920.0, 1080.0),
            (3840.0, 2160.0),
            (900.0, 1400.0),
            (2560.0, 1080.0),
        ] {
            let window = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height));
            let places = Layout::new(window).all();
            for (index, (what, place)) in places.iter().enumerate() {
                assert!(
                    place.width() > 20.0 && place.height() > 20.0,
                    "{what} is {place:?}"
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
        }
    }
}
