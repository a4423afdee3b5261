//! The strip of a whole session, still: the preview in Prepare.

use egui::{Align2, Rect, Stroke, Ui, pos2};

use super::strip::{LanePoint, Scale, lane};
use super::{Look, name};
use crate::ui::theme::{regular, size};

/// The whole lane.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Data {
    /// The lane, `at` in seconds of the session.
    pub lane: Vec<LanePoint>,
    /// The length of the session, seconds.
    pub whole: f64,
    /// What it shows, in words.
    pub spoken: String,
}

/// Draws it over `rect`.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let font = regular(look.pt(size::NOTE));
    let plot = Rect::from_min_max(
        pos2(rect.left() + 2.0, rect.top() + look.pt(10.0)),
        pos2(rect.right() - look.pt(26.0), rect.bottom() - look.pt(24.0)),
    );
    let whole = data.whole.max(1.0);
    let scale = Scale {
        rect: plot,
        from: 0.0,
        to: whole,
    };
    for effort in [0u8, 2, 4, 6, 8, 10] {
        let y = scale.y(f64::from(effort));
        painter.hline(plot.x_range(), y, Stroke::new(1.0, colours.rule));
        if effort % 5 == 0 || effort == 8 || effort == 4 {
            let at = pos2(plot.right() + look.pt(5.0), y);
            painter.text(at, Align2::LEFT_CENTER, effort, font.clone(), colours.quiet);
        }
    }
    lane(
        &painter.with_clip_rect(plot.expand(2.0)),
        &scale,
        &data.lane,
        look,
    );
    // Minutes at a round step that leaves the figures room.
    let room = f64::from(plot.width() / look.pt(46.0));
    let step = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0]
        .into_iter()
        .find(|step| whole / 60.0 / step <= room)
        .unwrap_or(240.0);
    let mut minute = 0.0;
    while minute * 60.0 <= whole {
        let x = scale.x(minute * 60.0);
        let foot = plot.bottom() + look.pt(4.0);
        painter.vline(x, plot.bottom()..=foot, Stroke::new(1.5, colours.quiet));
        let anchor = if minute == 0.0 {
            Align2::LEFT_TOP
        } else {
            Align2::CENTER_TOP
        };
        let words = if minute == 0.0 {
            "min".to_owned()
        } else {
            format!("{minute:.0}")
        };
        painter.text(pos2(x, foot), anchor, words, font.clone(), colours.quiet);
        minute += step;
    }
    name(ui, rect, "Preview", &data.spoken);
}
