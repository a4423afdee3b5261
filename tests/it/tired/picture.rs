//! The picture in the page for riders, made from rides of the practice rider.
//!
//! `STILLROAD_WRITE_DOCS=1 cargo test --test it tired::picture` draws it anew.

use std::fmt::Write as _;

use stillroad::device::practice::Device;
use stillroad::engine::{Command, Role};
use stillroad::ride::RideMode;

use super::stall::left_alone;
use super::{Watched, legs, uncapped};
use crate::world::{Ride, session, tap};

/// Legs that are good for 200 W without end, with 4 kJ on top of it, asked for 260 W. A pair a second: cadence, rpm, and
/// what the trainer was last told to hold, W.
fn guarded() -> Vec<(f64, f64)> {
    let watched = Watched::new(legs(200.0, 4_000.0, 88.0).noiseless());
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"0:20\"\nwatts = 100\n[[block]]\nkind = \"hold\"\ntime = \"3:00\"\n\
         watts = 260\nbuild_up = \"0:02\"\ncadence = [83, 93]\n[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 90\n",
    );
    let mut ride = Ride::new(vec![tap(watched.clone())]);
    ride.choose(&plan, &uncapped(200.0), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    ride.start();
    (25..=195)
        .map(|second| {
            ride.to(f64::from(second));
            let held = ride.watts().last().map_or(0, |(_, watts)| *watts);
            (watched.cadence(), f64::from(held))
        })
        .collect()
}

const LEFT: f64 = 48.0;
const WIDTH: f64 = 680.0;
const TOP: f64 = 16.0;
const HEIGHT: f64 = 150.0;
const GAP: f64 = 34.0;

/// A line through values, a second apart, on a panel whose top stands for `most`.
fn line(values: impl Iterator<Item = f64>, count: usize, panel: f64, most: f64) -> String {
    let points: Vec<String> = values
        .enumerate()
        .map(|(second, value)| {
            let x = LEFT + WIDTH * second as f64 / (count - 1) as f64;
            let y = panel + HEIGHT * (1.0 - value / most);
            format!("{x:.1},{y:.1}")
        })
        .collect();
    points.join(" ")
}

fn drawn() -> String {
    let with = guarded();
    let without = left_alone(legs(200.0, 4_000.0, 88.0).noiseless(), 260, 171);
    let count = with.len();
    let lower = TOP + HEIGHT + GAP;
    let mut svg = String::new();
    let mut put = |text: String| writeln!(svg, "{text}").unwrap();
    put(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" font-family=\"sans-serif\" font-size=\"12\">",
        LEFT + WIDTH + 16.0,
        lower + HEIGHT + 34.0
    ));
    put("<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>".to_owned());
    let panels = [
        (TOP, 100.0, [0.0, 55.0, 88.0].as_slice(), "cadence, rpm"),
        (lower, 300.0, [0.0, 200.0, 260.0].as_slice(), "held, W"),
    ];
    for (panel, most, marks, name) in panels {
        for mark in marks {
            let y = panel + HEIGHT * (1.0 - mark / most);
            put(format!(
                "<line x1=\"{LEFT}\" x2=\"{}\" y1=\"{y:.1}\" y2=\"{y:.1}\" stroke=\"#d8d4cc\"/><text x=\"{}\" y=\"{:.1}\" \
                 text-anchor=\"end\" fill=\"#555555\">{mark:.0}</text>",
                LEFT + WIDTH,
                LEFT - 6.0,
                y + 4.0
            ));
        }
        put(format!(
            "<text x=\"{LEFT}\" y=\"{:.1}\" fill=\"#555555\">{name}</text>",
            panel - 4.0
        ));
    }
    for seconds in [0, 30, 60, 90, 120, 150] {
        let x = LEFT + WIDTH * f64::from(seconds) / (count - 1) as f64;
        put(format!(
            "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\" fill=\"#555555\">{seconds} s</text>",
            lower + HEIGHT + 18.0
        ));
    }
    let stroke = |points: String, style: &str| {
        format!("<polyline fill=\"none\" stroke-width=\"2\" {style} points=\"{points}\"/>")
    };
    let alone = "stroke=\"#9a9a9a\" stroke-dasharray=\"5 4\"";
    let guard = "stroke=\"#1f5f8b\"";
    put(stroke(
        line(without.iter().map(|v| v.0), count, TOP, 100.0),
        alone,
    ));
    put(stroke(
        line(with.iter().map(|v| v.0), count, TOP, 100.0),
        guard,
    ));
    put(stroke(
        line(without.iter().map(|_| 260.0), count, lower, 300.0),
        alone,
    ));
    put(stroke(
        line(with.iter().map(|v| v.1), count, lower, 300.0),
        guard,
    ));
    put(format!(
        "<text x=\"{}\" y=\"{}\" text-anchor=\"end\"><tspan fill=\"#1f5f8b\">with the guard</tspan><tspan fill=\"#777777\">   \
         left alone (dashed)</tspan></text>",
        LEFT + WIDTH,
        TOP - 4.0
    ));
    put("</svg>".to_owned());
    svg
}

#[test]
fn the_picture_of_a_stall_is_the_programs_own() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/pictures/stall.svg");
    let made = drawn();
    if std::env::var_os("STILLROAD_WRITE_DOCS").is_some() {
        std::fs::write(path, &made).unwrap();
    }
    // Compared by its points, to a pixel: the last digit of a float may differ between machines.
    let numbers = |text: &str| -> Vec<f64> {
        text.split(|c: char| !(c.is_ascii_digit() || c == '.'))
            .filter_map(|word| word.parse().ok())
            .collect()
    };
    let kept = numbers(&std::fs::read_to_string(path).unwrap());
    let made = numbers(&made);
    assert_eq!(
        kept.len(),
        made.len(),
        "docs/pictures/stall.svg is out of date"
    );
    for (kept, made) in kept.iter().zip(&made) {
        assert!(
            (kept - made).abs() <= 1.0,
            "docs/pictures/stall.svg is out of date"
        );
    }
}
