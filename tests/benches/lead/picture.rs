//! A picture of a ramp and a step, planned and ridden, for the page on the control.

use std::fmt::Write as _;

use crate::measure::mean;
use crate::ride::{HOLD, LOW, Ridden, SPRINT};

const WIDTH: f64 = 420.0;
const HEIGHT: f64 = 240.0;
const FROM: f64 = -3.0;
const TO: f64 = 15.0;

/// Draws both.
pub fn draw(without: &Ridden, with: &Ridden) -> String {
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" font-family=\"sans-serif\" font-size=\"12\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fbfaf7\"/>\n",
        2.0 * WIDTH + 60.0,
        HEIGHT + 70.0
    );
    let ramp: Vec<(f64, f64)> = vec![(FROM, LOW), (0.0, LOW), (10.0, HOLD), (TO, HOLD)];
    let step: Vec<(f64, f64)> = vec![(FROM, LOW), (0.0, LOW), (0.0, SPRINT), (11.5, SPRINT)];
    let panels = [
        (
            "A hold that builds up over ten seconds",
            ramp,
            HOLD,
            &without.holds,
            &with.holds,
        ),
        (
            "A held sprint",
            step,
            SPRINT,
            &without.sprints,
            &with.sprints,
        ),
    ];
    for (index, (title, plan, top, plain_beats, led_beats)) in panels.iter().enumerate() {
        let left = 40.0 + index as f64 * (WIDTH + 20.0);
        let place = |&(at, watts): &(f64, f64)| {
            let x = left + (at - FROM) / (TO - FROM) * (WIDTH - 20.0);
            let y = 30.0 + HEIGHT * (1.0 - (watts - 80.0) / (top - 70.0));
            (x, y)
        };
        let mut line = |points: &[(f64, f64)], style: &str| {
            let points: Vec<String> = points
                .iter()
                .filter(|(at, _)| (FROM..=TO).contains(at))
                .map(|point| {
                    let (x, y) = place(point);
                    format!("{x:.1},{y:.1}")
                })
                .collect();
            let _ = writeln!(
                svg,
                "<polyline fill=\"none\" {style} points=\"{}\"/>",
                points.join(" ")
            );
        };
        line(
            &[(0.0, 80.0), (0.0, *top + 10.0)],
            "stroke=\"#999\" stroke-dasharray=\"2 3\"",
        );
        line(
            plan,
            "stroke=\"#444\" stroke-width=\"6\" stroke-opacity=\"0.18\"",
        );
        let every = |looks: Vec<(f64, f64)>| looks.into_iter().step_by(5).collect::<Vec<_>>();
        let until = |looks: Vec<(f64, f64)>| {
            let end = if index == 0 { TO } else { 11.5 };
            looks
                .into_iter()
                .filter(|(at, _)| *at <= end)
                .collect::<Vec<_>>()
        };
        line(
            &every(until(mean(&without.looks, plain_beats))),
            "stroke=\"#b4532a\" stroke-width=\"1.6\" stroke-dasharray=\"5 3\"",
        );
        line(
            &every(until(mean(&with.looks, led_beats))),
            "stroke=\"#1d5c63\" stroke-width=\"2\"",
        );
        let _ = writeln!(
            svg,
            "<text x=\"{left}\" y=\"18\" font-weight=\"bold\">{title}</text>"
        );
        for watts in [LOW, *top] {
            let (_, y) = place(&(0.0, watts));
            let _ = writeln!(
                svg,
                "<text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"end\">{watts:.0} W</text>",
                left - 2.0,
                y + 4.0
            );
        }
        for at in [0.0, 5.0, 10.0] {
            let (x, _) = place(&(at, 80.0));
            let _ = writeln!(
                svg,
                "<text x=\"{x:.0}\" y=\"{:.0}\" text-anchor=\"middle\">{at:.0} s</text>",
                HEIGHT + 44.0
            );
        }
    }
    let _ = writeln!(
        svg,
        "<text x=\"40\" y=\"{0:.0}\"><tspan fill=\"#777\">grey: planned</tspan>  <tspan fill=\"#b4532a\">dashed: the load, \
         nothing sent ahead</tspan>  <tspan fill=\"#1d5c63\">full: the load, sent ahead</tspan></text>\n</svg>",
        HEIGHT + 64.0
    );
    svg
}
