//! The strip of a ride as a drawing that stands by itself: SVG 1.1 with its colours in it, for any program that shows one.

use super::Review;
use super::strip::strips;
use super::words::{heading, plain};
use super::{Asked, Recording};

/// Each strip is drawn in these units.
const WIDTH: u32 = 1000;
const STRIP: u32 = 320;
/// The room over the strips for the name of the ride.
const HEAD: u32 = 56;
/// The margin round all of it.
const MARGIN: u32 = 20;

/// The colours of the window on its light ground.
const STYLE: &str = "text { font-family: B612, 'DejaVu Sans', Verdana, sans-serif; }
.title { font-size: 24px; fill: #15161a; }
.about, .scale, .clock { font-size: 13px; fill: #4b483f; }
.scale { text-anchor: end; }
.clock { text-anchor: middle; }
.rule { stroke: #e6e0d2; fill: none; }
.beat { stroke: #3a3831; stroke-width: 0.6; stroke-dasharray: 1 3; fill: none; }
.lane { fill: #e8e1d0; stroke: none; }
.edge { stroke: #3a3831; stroke-width: 0.8; fill: none; }
.ink { stroke: #15161a; stroke-width: 2.2; stroke-linejoin: round; stroke-linecap: round; fill: none; }
.thin { stroke-width: 1.3; }
.ink.above { stroke: #7d3c00; }
.ink.below { stroke: #004f85; }
.mark.above { fill: #7d3c00; }
.mark.below { fill: #004f85; }
";

/// The drawing of a ride.
pub fn svg(recording: &Recording<'_>, review: &Review) -> String {
    let asked = Asked::of(recording.start);
    let strips = strips(recording, &asked, &review.blocks);
    let count = u32::try_from(strips.len()).unwrap_or(1);
    let (wide, high) = (WIDTH + 2 * MARGIN, HEAD + STRIP * count + 2 * MARGIN);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{wide}\" height=\"{high}\" viewBox=\"0 0 {wide} {high}\">\n\
         <style>{STYLE}</style>\n<rect width=\"{wide}\" height=\"{high}\" fill=\"#faf6ec\"/>\n\
         <text class=\"title\" x=\"{MARGIN}\" y=\"{}\">{}</text>\n<text class=\"about\" x=\"{MARGIN}\" y=\"{}\">{}</text>\n",
        MARGIN + 22,
        super::page::safe(&plain(&review.session)),
        MARGIN + 44,
        super::page::safe(&heading(review)),
    );
    for (number, strip) in (0..).zip(&strips) {
        let top = MARGIN + HEAD + STRIP * number;
        let placed =
            format!("<svg x=\"{MARGIN}\" y=\"{top}\" width=\"{WIDTH}\" height=\"{STRIP}\" ");
        svg += &strip.replacen("<svg ", &placed, 1);
    }
    svg += "</svg>\n";
    svg
}
