//! A dot that circles once a turn of the pedals at the planned cadence, for riders without a cadence sensor.

use std::f32::consts::TAU;

use egui::{Rect, Stroke, Ui, pos2, vec2};

use super::{Look, name};

/// The dot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Data {
    /// The planned cadence, turns a minute: the middle of the band.
    pub rpm: f64,
    /// Where in its turn the pedal is, 0 to 1; 0 at the top.
    pub turn: f64,
}

impl Data {
    /// At a moment of the session, seconds.
    pub fn at(rpm: f64, session: f64) -> Self {
        Self {
            rpm,
            turn: (session * rpm / 60.0).rem_euclid(1.0),
        }
    }
}

/// Draws it as large as `rect` allows, at its left; gives the place of the circle. Where nothing may move smoothly the
/// dot stands at the top for the first half of each turn and at the foot for the second.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) -> Rect {
    let side = rect.height().min(rect.width());
    let ring = Rect::from_min_size(pos2(rect.left(), rect.top()), vec2(side, side));
    let radius = side / 2.0 - look.pt(9.0);
    let painter = ui.painter();
    let stroke = Stroke::new(look.pt(2.0), look.colours.edge);
    painter.circle_stroke(ring.center(), radius, stroke);
    let turn = if look.reduced_motion {
        (data.turn * 2.0).floor() / 2.0
    } else {
        data.turn
    };
    let angle = turn as f32 * TAU;
    let dot = ring.center() + vec2(angle.sin(), -angle.cos()) * radius;
    painter.circle_filled(dot, look.pt(9.0), look.colours.ink);
    name(
        ui,
        ring,
        entry!("Cadence pulse"),
        &say!("{rpm:.0} turns a minute", rpm = data.rpm),
    );
    ring
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ninety_turns_a_minute_are_three_in_two_seconds() {
        for (session, turn) in [(0.0, 0.0), (0.5, 0.75), (2.0, 0.0), (2.2, 0.3)] {
            let got = Data::at(90.0, session).turn;
            assert!((got - turn).abs() < 1e-9, "{session}: {got}");
        }
    }
}
