//! Rides side by side as tables and sentences.

use super::compare::{Cell, Comparison, source};
use crate::review::heading::mode;
use crate::review::tables::Shown;
use crate::review::words::{DASH, clock, number, per_cent, plain};
use crate::rider::called;

/// A figure of a block: what it is called with its unit, and its words in one ride.
type Figure = (fn() -> &'static str, fn(&Cell) -> String);

/// The figures that are compared.
const FIGURES: [Figure; 8] = [
    (|| "W", |cell| number(cell.power_w, 0)),
    (
        || word!("of threshold" # "a figure over rides"),
        |cell| per_cent(cell.share_of_threshold, 0),
    ),
    (
        || word!("in lane" # "a figure over rides"),
        |cell| per_cent(cell.in_lane, 0),
    ),
    (
        || word!("settle s" # "a figure over rides"),
        |cell| number(cell.settle_s.map(f64::from), 0),
    ),
    (|| "rpm", |cell| number(cell.cadence_rpm, 0)),
    (
        || word!("bpm at end" # "a figure over rides"),
        |cell| number(cell.heart_rate_end_bpm, 0),
    ),
    (
        || word!("rated" # "a figure over rides"),
        |cell| number(cell.rating, 0),
    ),
    (
        || word!("ridden" # "a figure over rides"),
        |cell| clock(cell.ridden_s as f64),
    ),
];

/// The day of a moment, as `2026-11-24`.
fn day(started: &str) -> &str {
    started.get(..10).unwrap_or(started)
}

/// What is to be said of the rides before their figures are read: what changed between them.
pub fn sentences(comparison: &Comparison) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for (index, ride) in comparison.rides.iter().enumerate() {
        let flags = comparison
            .flags
            .iter()
            .filter(|flag| flag.ride == index + 1);
        let words: Vec<&str> = flags.map(|flag| flag.words.as_str()).collect();
        if !words.is_empty() {
            said.push(say!(
                "Ride {number} of {day} is not like the one before it: {changes}. Differences in watts and heart rate may come \
                 from that.",
                number = index + 1,
                day = day(&ride.started),
                changes = words.join("; ")
            ));
        }
    }
    if said.is_empty() && comparison.rides.len() > 1 {
        said.push(
            word!(
                "Nothing that is known of trainer, power source, calibration, threshold and the day differs between these rides."
            )
            .to_owned(),
        );
    }
    said
}

/// The rides, one a row.
pub fn rides(comparison: &Comparison) -> Shown {
    let heads = [
        word!("ride" # "a column"),
        word!("day" # "a column"),
        word!("rider" # "a column"),
        word!("session" # "a column"),
        word!("mode" # "a column"),
        word!("threshold W" # "a column"),
        word!("trainer" # "a column"),
        word!("power from" # "a column"),
        word!("ridden" # "a column"),
        word!("mean W" # "a column"),
        "kJ",
        word!("rated" # "a column"),
        word!("load" # "a column"),
        word!("changed" # "a column"),
    ];
    let rows = comparison.rides.iter().enumerate().map(|(index, ride)| {
        let flags = comparison
            .flags
            .iter()
            .filter(|flag| flag.ride == index + 1)
            .count();
        vec![
            (index + 1).to_string(),
            day(&ride.started).to_owned(),
            plain(called(&ride.rider)),
            plain(&ride.session),
            mode(ride.mode).to_owned(),
            number(Some(ride.threshold_w), 0),
            ride.trainer.as_deref().map_or_else(
                || DASH.to_owned(),
                |name| {
                    let name = plain(name);
                    if !ride.simulated {
                        return name;
                    }
                    // A model has its name from the program.
                    let name = crate::text::translated(&name);
                    format!("{name}{}", word!(" (simulated)"))
                },
            ),
            ride.power_from.as_deref().map_or(DASH, source).to_owned(),
            clock(ride.ridden_s as f64),
            number(ride.power_w, 0),
            number(ride.work_j.map(|work| work / 1000.0), 0),
            number(ride.rating, 0),
            number(ride.load, 0),
            if flags > 0 {
                word!("yes" # "a column").to_owned()
            } else {
                String::new()
            },
        ]
    });
    Shown {
        title: word!("Rides").to_owned(),
        heads: heads.map(str::to_owned).to_vec(),
        rows: rows.collect(),
        note: word!("Changed: something that the figures hang on is not as in the ride before."),
        left: vec![1, 2, 3, 4, 6, 7, 13],
    }
}

/// One figure of every block over the rides, a table each; those that no ride knows are left out.
pub fn blocks(comparison: &Comparison) -> Vec<Shown> {
    let mut heads = vec![word!("block" # "a column").to_owned()];
    heads.extend((1..=comparison.rides.len()).map(|ride| {
        let flagged = comparison.flags.iter().any(|flag| flag.ride == ride);
        format!("{ride}{}", if flagged { " *" } else { "" })
    }));
    let table = |(title, of): &Figure| {
        let rows = comparison.blocks.iter().map(|block| {
            let mut cells = vec![block.name.clone()];
            cells.extend(block.each.iter().map(|cell| match cell {
                None => String::new(),
                Some(cell) if cell.whole => of(cell),
                // What was ridden in part does not stand beside what was ridden whole unmarked.
                Some(cell) => format!("{} ½", of(cell)),
            }));
            cells
        });
        Shown {
            title: say!("Block by block, {figure}", figure = title()),
            heads: heads.clone(),
            rows: rows.collect(),
            note: word!("*: something changed since the ride before. ½: ridden in part."),
            left: vec![0],
        }
    };
    let known = |table: &Shown| {
        let cells = table.rows.iter().flat_map(|row| &row[1..]);
        cells
            .clone()
            .any(|cell| !cell.is_empty() && !cell.starts_with(DASH))
    };
    FIGURES.iter().map(table).filter(known).collect()
}

/// One line each block and ride, for a spreadsheet.
pub fn csv(comparison: &Comparison) -> String {
    use crate::record::cell::{Sort, Value};
    let heads = [
        "ride",
        "started",
        "rider",
        "session",
        "block",
        "kind",
        "ridden_s",
        "whole",
        "power_w",
        "share_of_threshold",
        "lane_w",
        "in_lane",
        "settle_s",
        "cadence_rpm",
        "heart_rate_end_bpm",
        "rating",
        "eased",
        "changed",
    ];
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(Vec::new());
    // Writing to memory cannot fail, here and below.
    let _ = writer.write_record(heads);
    let text = |text: &str| Sort::Text.write(&Value::text(text));
    let figure = |value: Option<f64>| Sort::Decimal(4).write(&Value::number(value));
    for block in &comparison.blocks {
        for (index, (ride, cell)) in comparison.rides.iter().zip(&block.each).enumerate() {
            let Some(cell) = cell else { continue };
            let flags = comparison
                .flags
                .iter()
                .filter(|flag| flag.ride == index + 1);
            let changed: Vec<&str> = flags.map(|flag| flag.words.as_str()).collect();
            let _ = writer.write_record([
                (index + 1).to_string(),
                ride.started.clone(),
                text(&ride.rider),
                text(&ride.session),
                text(&block.name),
                block.kind.key().to_owned(),
                cell.ridden_s.to_string(),
                cell.whole.to_string(),
                figure(cell.power_w),
                figure(cell.share_of_threshold),
                figure(cell.lane_w),
                figure(cell.in_lane),
                cell.settle_s
                    .map_or_else(String::new, |settle| settle.to_string()),
                figure(cell.cadence_rpm),
                figure(cell.heart_rate_end_bpm),
                figure(cell.rating),
                cell.eased.to_string(),
                text(&changed.join("; ")),
            ]);
        }
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}
