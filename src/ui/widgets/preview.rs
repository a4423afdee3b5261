//! The strip of a whole session, still: the hero of Prepare, and small beside each session of the list.

use egui::{Align2, Galley, Rect, Stroke, Ui, pos2};

use super::strip::{LanePoint, Scale, lane};
use super::{Look, name};
use crate::ui::theme::{regular, size};

/// A block as the ruler shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// From, seconds of the session.
    pub from: f64,
    /// To, seconds of the session.
    pub to: f64,
    /// Its length as the ruler writes it.
    pub words: String,
    /// Whether it belongs to the main part, which the ruler draws thick.
    pub main: bool,
}

/// Words at the lane.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Where the block begins, seconds of the session.
    pub from: f64,
    /// Where it ends: words that do not fit are left out.
    pub to: f64,
    /// The lane's upper edge there.
    pub above: f64,
    /// The words.
    pub words: String,
}

/// The whole lane.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Data {
    /// The lane, `at` in seconds of the session.
    pub lane: Vec<LanePoint>,
    /// Words at the lane.
    pub labels: Vec<Label>,
    /// The blocks.
    pub blocks: Vec<Block>,
    /// The length of the session, seconds.
    pub whole: f64,
    /// What it shows, in words.
    pub spoken: String,
}

/// Draws it over `rect`: the effort scale at the right, the ruler of the blocks beneath.
pub fn show(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let font = regular(look.pt(size::NOTE));
    // Words over a lane at the very top have room above the scale: on the lane they could not be read.
    let high = data.labels.iter().any(|label| label.above > 8.0);
    let head = look.pt(if high { size::BODY * 1.3 + 5.0 } else { 20.0 });
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + head),
        pos2(rect.right() - look.pt(34.0), rect.bottom() - look.pt(34.0)),
    );
    let scale = Scale {
        rect: plot,
        from: 0.0,
        to: data.whole.max(1.0),
    };
    // Figures stand at every second line where there is room for them, else at three.
    let close = plot.height() < look.pt(105.0);
    for effort in 0..=10u8 {
        if close && effort % 2 == 1 && effort != 5 {
            continue;
        }
        let y = scale.y(f64::from(effort));
        painter.hline(plot.x_range(), y, Stroke::new(look.pt(1.2), colours.rule));
        if effort % if close { 5 } else { 2 } == 0 {
            let at = pos2(plot.right() + look.pt(8.0), y);
            painter.text(at, Align2::LEFT_CENTER, effort, font.clone(), colours.quiet);
        }
    }
    lane(
        &painter.with_clip_rect(plot.expand(look.pt(2.0))),
        &scale,
        &data.lane,
        look,
    );
    labels(ui, &scale, data, rect.top(), look);
    ruler(ui, &scale, data, look);
    name(ui, rect, entry!("Preview"), &data.spoken);
}

/// Draws the bare lane over `rect`, for a list: three ruled lines and no words.
pub fn small(ui: &Ui, rect: Rect, data: &Data, look: Look) {
    let scale = Scale {
        rect,
        from: 0.0,
        to: data.whole.max(1.0),
    };
    for effort in [0.0, 5.0, 10.0] {
        let stroke = Stroke::new(look.pt(1.0), look.colours.rule);
        ui.painter().hline(rect.x_range(), scale.y(effort), stroke);
    }
    let thin = Look {
        scale: look.scale * 0.7,
        ..look
    };
    lane(
        &ui.painter().with_clip_rect(rect.expand(1.0)),
        &scale,
        &data.lane,
        thin,
    );
}

fn labels(ui: &Ui, scale: &Scale, data: &Data, least_top: f32, look: Look) {
    let painter = ui.painter();
    let mut free_from = f32::NEG_INFINITY;
    for label in &data.labels {
        let (left, right) = (scale.x(label.from), scale.x(label.to));
        let lay = |points: f32| {
            let font = regular(look.pt(points));
            painter.layout_no_wrap(label.words.clone(), font, look.colours.ink)
        };
        let fits = |galley: &Galley| galley.size().x <= right - left - look.pt(12.0);
        let large = lay(size::BODY);
        let galley = if fits(&large) { large } else { lay(size::NOTE) };
        let at = (left + right - galley.size().x) / 2.0;
        if !fits(&galley) || at < free_from {
            continue;
        }
        free_from = at + galley.size().x + look.pt(8.0);
        let above = scale.y(label.above) - galley.size().y - look.pt(3.0);
        let top = above.max(least_top);
        painter.galley(pos2(at, top), galley, look.colours.ink);
    }
}

/// The blocks' lengths under ticks at their ends, the main part thick: by the same hand as the ruler of the ride.
fn ruler(ui: &Ui, scale: &Scale, data: &Data, look: Look) {
    let painter = ui.painter();
    let colours = look.colours;
    let font = regular(look.pt(size::NOTE));
    let y = scale.rect.bottom() + look.pt(9.0);
    let (thin, thick) = (
        Stroke::new(look.pt(1.5), colours.quiet),
        Stroke::new(look.pt(4.0), colours.ink),
    );
    painter.hline(scale.rect.x_range(), y, thin);
    let mut free_from = f32::NEG_INFINITY;
    for (index, block) in data.blocks.iter().enumerate() {
        let (left, right) = (scale.x(block.from), scale.x(block.to));
        if block.main {
            painter.hline(left..=right, y, thick);
        }
        let tick = (y - look.pt(5.0))..=(y + look.pt(5.0));
        if index == 0 {
            painter.vline(left, tick.clone(), thin);
        }
        painter.vline(right, tick, thin);
        let galley = painter.layout_no_wrap(block.words.clone(), font.clone(), colours.quiet);
        let at = (left + right - galley.size().x) / 2.0;
        // A figure that would touch its neighbour is left out: the ticks still show the block.
        if galley.size().x <= right - left && at >= free_from {
            free_from = at + galley.size().x + look.pt(4.0);
            painter.galley(pos2(at, y + look.pt(6.0)), galley, colours.quiet);
        }
    }
    let at = pos2(scale.rect.right() + look.pt(8.0), y + look.pt(6.0));
    painter.text(at, Align2::LEFT_TOP, "min", font, colours.quiet);
}
