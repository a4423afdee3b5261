//! Best mean powers over their lengths: time on a ruler of logarithms, watts on an even one.

use egui::{Rect, Stroke, Ui, pos2};

use super::Curve;
use super::sheet::{height_of, place, rule_watts};
use crate::ui::theme::{bold, regular, size};
use crate::ui::widgets::{Look, name};

/// The ruler's lengths, s, and what stands at each.
const RULED: [(f64, &str); 10] = [
    (1.0, "1 s"),
    (5.0, "5 s"),
    (15.0, "15 s"),
    (60.0, "1 min"),
    (180.0, "3 min"),
    (300.0, "5 min"),
    (600.0, "10 min"),
    (1200.0, "20 min"),
    (3600.0, "1 h"),
    (14_400.0, "4 h"),
];

/// Draws it; `room` is the height of the sheet, of which it takes a part.
pub(super) fn show(ui: &mut Ui, curve: &Curve, width: f32, room: f32, look: Look) {
    let colours = look.colours;
    let note = look.pt(size::NOTE - 2.0);
    let rect = place(
        ui,
        width,
        (room * 0.8).clamp(look.pt(120.0), look.pt(340.0)),
    );
    let painter = ui.painter();
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + note * 1.4),
        pos2(rect.right() - note * 3.4, rect.bottom() - note * 2.0),
    );
    let longest = curve.points.last().map_or(1.0, |point| point.0).max(2.0);
    let all = curve.points.iter().chain(&curve.before);
    let highest = all.map(|point| point.1).fold(1.0, f64::max);
    let step = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0]
        .into_iter()
        .find(|step| highest / step <= f64::from(plot.height() / (note * 2.2)))
        .unwrap_or(1000.0);
    let most = (highest / step).ceil() * step;
    let x = |seconds: f64| plot.left() + plot.width() * (seconds.ln() / longest.ln()) as f32;
    let y = |watts: f64| height_of(plot, watts, most);
    let rule = Stroke::new(look.pt(1.2), colours.rule);
    rule_watts(painter, plot, most, step, look);
    let mut free = f32::NEG_INFINITY;
    for (seconds, words) in RULED.into_iter().filter(|(seconds, _)| *seconds <= longest) {
        let x = x(seconds);
        painter.vline(x, plot.y_range(), rule);
        let galley = painter.layout_no_wrap(words.to_owned(), regular(note), colours.quiet);
        let at = (x - galley.size().x / 2.0)
            .max(rect.left())
            .min(rect.right() - galley.size().x);
        if at >= free {
            free = at + galley.size().x + look.pt(6.0);
            painter.galley(
                pos2(at, plot.bottom() + look.pt(5.0)),
                galley,
                colours.quiet,
            );
        }
    }
    // The weeks before stand pale behind this ride, and are named where they end.
    let others: Vec<_> = curve
        .before
        .iter()
        .filter(|point| point.0 <= longest)
        .collect();
    for &&(seconds, mean) in &others {
        let at = pos2(x(seconds), y(mean));
        painter.circle_stroke(at, look.pt(4.5), Stroke::new(look.pt(1.5), colours.quiet));
    }
    let line = curve
        .points
        .iter()
        .map(|&(seconds, mean)| pos2(x(seconds), y(mean)));
    painter.line(line.collect(), Stroke::new(look.pt(2.6), colours.ink));
    let mut free = f32::NEG_INFINITY;
    for &(seconds, mean) in &curve.told {
        let at = pos2(x(seconds), y(mean));
        painter.circle_filled(at, look.pt(4.0), colours.ink);
        let galley = painter.layout_no_wrap(format!("{mean:.0}"), bold(note), colours.ink);
        let left = (at.x - galley.size().x / 2.0).max(plot.left());
        if left >= free && left + galley.size().x <= plot.right() + look.pt(4.0) {
            free = left + galley.size().x + look.pt(6.0);
            let top = (at.y - galley.size().y - look.pt(6.0)).max(rect.top());
            painter.galley(pos2(left, top), galley, colours.ink);
        }
    }
    if !others.is_empty() {
        let words = word!("Rings: the best of the six weeks before");
        let galley = painter.layout_no_wrap(words.to_owned(), regular(note), colours.quiet);
        let at = pos2(
            plot.left() + look.pt(8.0),
            plot.bottom() - galley.size().y - look.pt(6.0),
        );
        // Where it would reach the scale it is left to the documents.
        if at.x + galley.size().x <= plot.right() {
            painter.galley(at, galley, colours.quiet);
        }
    }
    name(ui, rect, word!("Best means"), &curve.spoken);
}
