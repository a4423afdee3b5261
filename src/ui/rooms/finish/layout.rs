//! Where everything stands in the room after a ride: the columns of the Ride room.

use egui::{Rect, pos2};

use crate::ui::theme::{self, REFERENCE};

/// The places, none of which touches another.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    pub title: Rect,
    pub time: Rect,
    pub of: Rect,
    pub session: Rect,
    /// One below the other.
    pub figures: [Rect; 4],
    pub sentence: Rect,
    pub chart: Rect,
    pub rating: Rect,
    pub record: Rect,
    pub back: Rect,
    pub look: Rect,
    pub open: Rect,
    pub copy: Rect,
    pub hint: Rect,
}

impl Layout {
    /// For a window's rectangle. Sizes grow with the tighter side; what the wider side has over goes to the chart.
    pub(super) fn new(window: Rect) -> Self {
        let scale = theme::scale(window.size());
        let x = |reference: f32| window.left() + reference * scale;
        let right = |reference: f32| window.right() - (REFERENCE.x - reference) * scale;
        let top = |reference: f32| window.top() + reference * scale;
        let foot = |reference: f32| window.bottom() - (REFERENCE.y - reference) * scale;
        let left_column = |left: f32, upper: f32, lower: f32| {
            Rect::from_min_max(pos2(x(left), top(upper)), pos2(x(418.0), top(lower)))
        };
        let right_column = |upper: f32, lower: f32, edge: f32| {
            Rect::from_min_max(pos2(x(445.0), upper), pos2(right(edge), lower))
        };
        let button = |from: f32, to: f32| {
            Rect::from_min_max(pos2(x(from), foot(726.0)), pos2(x(to), foot(778.0)))
        };
        Self {
            title: left_column(44.0, 20.0, 76.0),
            time: left_column(40.0, 82.0, 214.0),
            of: left_column(44.0, 216.0, 252.0),
            session: left_column(44.0, 254.0, 316.0),
            figures: [0u8, 1, 2, 3].map(|slot| {
                let upper = 344.0 + 90.0 * f32::from(slot);
                left_column(44.0, upper, upper + 76.0)
            }),
            sentence: right_column(top(18.0), top(112.0), 1236.0),
            chart: right_column(top(118.0), foot(398.0), 1276.0),
            rating: right_column(foot(406.0), foot(546.0), 1236.0),
            record: right_column(foot(556.0), foot(712.0), 1236.0),
            back: button(44.0, 262.0),
            look: button(272.0, 432.0),
            open: button(445.0, 665.0),
            copy: button(679.0, 879.0),
            hint: Rect::from_min_max(
                pos2(x(890.0), foot(726.0)),
                pos2(right(1236.0), foot(778.0)),
            ),
        }
    }

    #[cfg(test)]
    fn all(&self) -> Vec<Rect> {
        let mut all = vec![
            self.title,
            self.time,
            self.of,
            self.session,
            self.sentence,
            self.chart,
            self.rating,
            self.record,
            self.back,
            self.look,
            self.open,
            self.copy,
            self.hint,
        ];
        all.extend(self.figures);
        all
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
            (1280.0, 720.0),
            (800.0, 600.0),
            (640.0, 400.0),
            (1920.0, 1080.0),
            (900.0, 1400.0),
            (2560.0, 1080.0),
        ] {
            let window = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height));
            let places = Layout::new(window).all();
            for (index, place) in places.iter().enumerate() {
                assert!(place.is_positive(), "{place:?}");
                assert!(
                    window.contains_rect(*place),
                    "{place:?} leaves {width}×{height}"
                );
                for beside in &places[index + 1..] {
                    let common = place.intersect(*beside);
                    assert!(
                        common.width() <= 0.0 || common.height() <= 0.0,
                        "{place:?} and {beside:?} overlap at {width}×{height}"
                    );
                }
            }
        }
    }
}
