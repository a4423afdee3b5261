//! That everything has its place at every size, and drops out in the stated order.

use super::*;
use crate::ui::legibility::Sight;
use crate::ui::theme::{self, DARK};

fn layout(width: f32, height: f32, text: f32) -> (Rect, Layout) {
    let window = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height));
    let look = Look {
        colours: DARK,
        scale: theme::scale(window.size()),
        text,
        least: Sight::default().least_points(None),
        reduced_motion: false,
    };
    (window, Layout::new(window, look))
}

#[test]
fn nothing_overlaps_and_nothing_leaves_the_window() {
    for (width, height) in [
        (1280.0, 800.0),
        (1280.0, 720.0),
        (800.0, 600.0),
        (1920.0, 1080.0),
        (3840.0, 2160.0),
        (900.0, 1400.0),
        (2560.0, 1080.0),
        (640.0, 480.0),
    ] {
        for text in [1.0, 1.5, 2.0] {
            let (window, layout) = layout(width, height, text);
            let places = layout.all();
            for (index, (what, place)) in places.iter().enumerate() {
                assert!(
                    place.width() > 20.0 && place.height() > 15.0,
                    "{what} is {place:?} at {width}×{height}, {text}"
                );
                assert!(
                    window.contains_rect(*place),
                    "{what} leaves {width}×{height} at {text}: {place:?}"
                );
                for (other, beside) in &places[index + 1..] {
                    let common = place.intersect(*beside);
                    assert!(
                        common.width() <= 0.1 || common.height() <= 0.1,
                        "{what} and {other} overlap at {width}×{height}, {text}"
                    );
                }
            }
        }
    }
}

#[test]
fn pieces_drop_out_in_the_stated_order() {
    for (width, height) in [(1280.0, 800.0), (800.0, 600.0), (1280.0, 720.0)] {
        let mut fewest = ORDER.len();
        for text in [1.0, 1.25, 1.5, 1.75, 2.0] {
            let (_, layout) = layout(width, height, text);
            let there = |piece: &Piece| match piece {
                Piece::Fourth => layout.fourth.is_some(),
                Piece::Ruler => layout.ruler.is_some(),
                Piece::Third => layout.third.is_some(),
                Piece::Band => layout.band.is_some(),
                Piece::Strip => layout.strip.is_some(),
                Piece::Block => layout.block.is_some(),
            };
            let shown: Vec<bool> = ORDER.iter().map(there).collect();
            let mut sorted = shown.clone();
            sorted.sort_unstable();
            assert_eq!(shown, sorted, "{width}×{height} at {text}");
            let count = shown.iter().filter(|shown| **shown).count();
            assert!(count <= fewest, "larger type shows no more");
            fewest = count;
        }
    }
    let (_, whole) = layout(1280.0, 800.0, 1.0);
    assert_eq!(
        whole.all().len(),
        11,
        "the reference window holds everything"
    );
    let (_, small) = layout(800.0, 600.0, 1.0);
    assert!(small.strip.is_some(), "the smallest window keeps its strip");
}
