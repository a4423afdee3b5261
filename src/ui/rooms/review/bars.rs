//! The blocks as bars: each as wide as it was long, its lane pale, its mean power as a thick line of ink on it.

use egui::{Rect, Stroke, Ui, pos2};

use super::Spread;
use super::sheet::{height_of, place, rule_watts};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name};

/// Draws them; `room` is the height of the sheet, of which they take a part.
pub(super) fn show(ui: &mut Ui, spread: &Spread, width: f32, room: f32, look: Look) {
    let colours = look.colours;
    let note = look.pt(size::NOTE - 2.0);
    let rect = place(
        ui,
        width,
        (room * 0.62).clamp(look.pt(110.0), look.pt(260.0)),
    );
    let painter = ui.painter();
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + note * 1.7),
        pos2(rect.right() - note * 3.4, rect.bottom() - note * 1.6),
    );
    let x = |at: f64| plot.left() + plot.width() * (at / spread.length.max(1.0)) as f32;
    let y = |watts: f64| height_of(plot, watts, spread.most);
    let step = [25.0, 50.0, 100.0, 200.0, 500.0]
        .into_iter()
        .find(|step| spread.most / step <= f64::from(plot.height() / (note * 2.2)))
        .unwrap_or(1000.0);
    rule_watts(painter, plot, spread.most, step, look);
    let mut free = f32::NEG_INFINITY;
    let mut named = f32::NEG_INFINITY;
    for (index, bar) in spread.bars.iter().enumerate() {
        // A hair of ground between neighbours.
        let (left, right) = (x(bar.from) + look.pt(1.0), x(bar.to) - look.pt(1.0));
        let right = right.max(left + 1.0);
        if let Some((low, high)) = bar.lane {
            let lane = Rect::from_min_max(
                pos2(left, y(high)),
                pos2(right, y(low).max(y(high) + look.pt(3.0))),
            );
            painter.rect_filled(lane, 0.0, colours.lane);
            for edge in [lane.top(), lane.bottom()] {
                painter.hline(left..=right, edge, Stroke::new(look.pt(1.2), colours.edge));
            }
        }
        if let Some(power) = bar.power {
            let colour = match bar.lane {
                Some((_, high)) if power > high => colours.above,
                Some((low, _)) if power < low => colours.below,
                _ => colours.ink,
            };
            let middle = (left + right) / 2.0;
            if let Some(spread) = bar.spread {
                let reach = y(power + spread)..=y((power - spread).max(0.0));
                painter.vline(middle, reach, Stroke::new(look.pt(1.2), colour));
            }
            painter.hline(left..=right, y(power), Stroke::new(look.pt(4.0), colour));
            let figure = painter.layout_no_wrap(format!("{power:.0}"), bold(note), colours.ink);
            let at = middle - figure.size().x / 2.0;
            let top =
                y(power + bar.spread.unwrap_or(0.0)).min(y(bar.lane.map_or(0.0, |lane| lane.1)));
            // A figure that would touch its neighbour is left to the table.
            if at >= free
                && figure.size().x <= (right - left) + look.pt(14.0)
                && at + figure.size().x <= plot.right()
            {
                free = at + figure.size().x + look.pt(4.0);
                let top = (top - figure.size().y - look.pt(2.0)).max(rect.top());
                painter.galley(pos2(at.max(plot.left()), top), figure, colours.ink);
            }
        }
        let words = painter.layout_no_wrap(bar.name.clone(), regular(note), colours.quiet);
        let at = (left + right - words.size().x) / 2.0;
        if words.size().x <= right - left && at >= named {
            named = at + words.size().x + look.pt(4.0);
            painter.galley(pos2(at, plot.bottom() + look.pt(4.0)), words, colours.quiet);
        }
        let whole = Rect::from_min_max(pos2(left, rect.top()), pos2(right, rect.bottom()));
        name(
            ui,
            whole,
            &say!("Bar {number}", number = index + 1),
            &bar.spoken,
        );
    }
}
