//! The band that the cadence should lie in, with a dot where it lies.

use egui::{Align2, Rect, Stroke, Ui, pos2, vec2};

use super::Look;
use crate::plan::CadenceBand;
use crate::ui::theme::{regular, size};

/// The band and the dot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Data {
    /// The band asked for.
    pub band: CadenceBand,
    /// The cadence, where it is fresh.
    pub at: Option<f64>,
}

impl Data {
    /// What the scale shows: the band with three quarters of forty turns on either side.
    pub fn range(&self) -> (f64, f64) {
        let middle = (self.band.low.0 + self.band.high.0) / 2.0;
        let half = ((self.band.high.0 - self.band.low.0) * 1.5).max(15.0);
        (middle - half, middle + half)
    }

    /// "in the band", "below the band", "above the band", or nothing where the cadence is not known. In
    /// English, to be looked up where it is told.
    pub fn judged(&self) -> &'static str {
        match self.at {
            Some(at) if at.round() < self.band.low.0 => entry!("below the band"),
            Some(at) if at.round() > self.band.high.0 => entry!("above the band"),
            Some(_) => entry!("in the band"),
            None => "",
        }
    }
}

/// Draws it across `rect`: the bar in the upper part, the band's figures below.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let (least, most) = data.range();
    let x = |rpm: f64| {
        let share = ((rpm - least) / (most - least)).clamp(0.0, 1.0) as f32;
        rect.left() + rect.width() * share
    };
    let middle = rect.top() + look.pt(20.0);
    // A thin rule and not the band's fill: what is off the band is drawn on the bare ground.
    painter.hline(
        rect.x_range(),
        middle,
        Stroke::new(look.pt(2.0), colours.edge),
    );
    let half = look.pt(10.0);
    let (low, high) = (x(data.band.low.0), x(data.band.high.0));
    let band = Rect::from_min_max(
        pos2(low, middle - half),
        pos2(high.max(low + 1.0), middle + half),
    );
    painter.rect_filled(band, 0.0, colours.lane);
    let edge = Stroke::new(look.pt(2.0), colours.edge);
    painter.vline(low, band.y_range(), edge);
    painter.vline(high, band.y_range(), edge);
    let foot = middle + look.pt(13.0);
    let size = look.near(size::SMALL + 4.0);
    let font = regular(size);
    if high - low < size * 1.9 {
        let words = crate::ui::words::band(data.band);
        let at = pos2((low + high) / 2.0, foot);
        painter.text(at, Align2::CENTER_TOP, words, font, colours.quiet);
    } else {
        for (at, rpm) in [(low, data.band.low), (high, data.band.high)] {
            let words = format!("{:.0}", rpm.0);
            painter.text(
                pos2(at, foot),
                Align2::CENTER_TOP,
                words,
                font.clone(),
                colours.quiet,
            );
        }
    }
    if let Some(at) = data.at {
        let off = at.round() < data.band.low.0 || at.round() > data.band.high.0;
        let (colour, left) = if at.round() < data.band.low.0 {
            (colours.below, false)
        } else {
            (colours.above, true)
        };
        let dot = pos2(x(at), middle);
        painter.circle_filled(dot, look.pt(11.0), if off { colour } else { colours.ink });
        if off {
            // The mark points the way back into the band.
            let to = if left { low.max(high) } else { low };
            let reach = look.pt(9.0) * if left { -1.0 } else { 1.0 };
            let tip = pos2(to - reach * 0.6, middle - look.pt(22.0));
            let back = vec2(-reach, look.pt(8.0));
            let stroke = Stroke::new(look.pt(4.0), colour);
            painter.line(vec![tip + back, tip, tip + vec2(back.x, -back.y)], stroke);
        }
    }
}
