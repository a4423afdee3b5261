//! The block table for a spreadsheet: one line each block, missing values empty, units in the heads.

use super::Review;
use super::blocks::BlockResult;
use super::said::{Marked, is_in};
use crate::record::cell::{Sort, Value};
use crate::record::noted::Fan;

type Figure = fn(&BlockResult) -> Option<f64>;

/// The columns of figures.
const FIGURES: [(&str, Figure); 41] = [
    ("start_s", |b| Some(b.start_s as f64)),
    ("ridden_s", |b| Some(b.ridden_s as f64)),
    ("written_s", |b| b.written_s),
    ("effort", |b| b.effort),
    ("written_w", |b| b.written.mean_w),
    ("lane_w", |b| b.fitted.mean_w),
    ("commanded_w", |b| b.commanded.mean_w),
    ("power_w", |b| b.power_w),
    ("in_written_lane_s", |b| {
        compared(b.written.in_lane_s, b.written.compared_s)
    }),
    ("in_lane_s", |b| {
        compared(b.fitted.in_lane_s, b.fitted.compared_s)
    }),
    ("in_commanded_lane_s", |b| {
        compared(b.commanded.in_lane_s, b.commanded.compared_s)
    }),
    ("compared_s", |b| Some(f64::from(b.fitted.compared_s))),
    ("off_by_told_s", |b| {
        compared(b.deviation.off_by_told_s, b.fitted.compared_s)
    }),
    ("off_by_brake_s", |b| {
        compared(b.deviation.off_by_brake_s, b.fitted.compared_s)
    }),
    ("off_by_legs_s", |b| {
        compared(b.deviation.off_by_legs_s, b.fitted.compared_s)
    }),
    ("deviation_w", |b| b.deviation.mean_w),
    ("deviation_told_w", |b| b.deviation.told_w),
    ("deviation_brake_w", |b| b.deviation.brake_w),
    ("deviation_legs_w", |b| b.deviation.legs_w),
    ("unevenness", |b| b.unevenness),
    ("settle_s", |b| b.settle_s.map(f64::from)),
    ("overshoot_w", |b| b.overshoot_w),
    ("fade_power_w", |b| b.fade?.power_w),
    ("fade_cadence_rpm", |b| b.fade?.cadence_rpm),
    ("fade_torque_nm", |b| b.fade?.torque_nm),
    ("fade_heart_rate_bpm", |b| b.fade?.heart_rate_bpm),
    ("cadence_rpm", |b| b.cadence.mean_rpm),
    ("cadence_deviation_rpm", |b| b.cadence.deviation_rpm),
    ("cadence_in_band_s", |b| b.cadence.in_band_s.map(f64::from)),
    ("heart_rate_start_bpm", |b| b.heart.start_bpm),
    ("heart_rate_end_bpm", |b| b.heart.end_bpm),
    ("heart_rate_mean_bpm", |b| b.heart.mean_bpm),
    ("heart_rate_rise_bpm_per_10_min", |b| {
        b.heart.rise_bpm_per_10_min
    }),
    ("trims", |b| Some(f64::from(b.helps.trims))),
    ("ease_downs", |b| Some(f64::from(b.helps.ease_downs))),
    ("eased_by_hand", |b| Some(f64::from(b.helps.eased_by_hand))),
    ("guards", |b| Some(f64::from(b.helps.guards))),
    ("brake_off", |b| Some(f64::from(b.helps.brake_off))),
    ("gear_m", |b| b.gear_m),
    ("rating", |b| b.rating),
    ("w_left_j", |b| b.w_left_j),
];

/// Seconds in a lane, where any second could be compared with it.
fn compared(seconds: u32, of: u32) -> Option<f64> {
    (of > 0).then(|| f64::from(seconds))
}

/// The block tables of rides, one under the other, each line with the moment of its ride's start.
pub fn csv_table(reviews: &[Review]) -> String {
    let mut heads = vec![
        "started", "session", "block", "name", "kind", "repeat", "of", "mode", "held",
    ];
    heads.extend(FIGURES.iter().map(|(name, _)| *name));
    heads.extend([
        "marks",
        "said_of_block",
        "said_of_ride",
        "fan",
        "room_c",
        "sleep_h",
        "soreness",
        "paused",
        "ended_early",
    ]);
    let mut lines = vec![
        heads
            .iter()
            .map(|head| (*head).to_owned())
            .collect::<Vec<_>>(),
    ];
    for review in reviews {
        for block in &review.blocks {
            let text = |text: &str| Sort::Text.write(&Value::text(text));
            let whole = |number: Option<u32>| number.map_or_else(String::new, |n| n.to_string());
            let mut cells = vec![
                review.started.clone(),
                text(&review.session),
                block.block.to_string(),
                text(&block.name),
                block.kind.key().to_owned(),
                whole(block.repeat),
                whole(block.of),
                block.mode.key().to_owned(),
                block.held.to_string(),
            ];
            let figures = FIGURES.iter().map(|(_, of)| Value::number(of(block)));
            cells.extend(figures.map(|figure| trimmed(&Sort::Decimal(4).write(&figure))));
            cells.extend(noted(review, block));
            lines.push(cells);
        }
    }
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(Vec::new());
    for line in lines {
        // Writing to memory cannot fail.
        let _ = writer.write_record(&line);
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}

/// What was said and noted: the block's marks and words, then what is of the whole ride and stands in each of its lines.
fn noted(review: &Review, block: &BlockResult) -> Vec<String> {
    let text = |text: &str| Sort::Text.write(&Value::text(text));
    let figure = |value| trimmed(&Sort::Decimal(4).write(&Value::number(value)));
    let said = &review.said;
    let here: Vec<&Marked> = said
        .marks
        .iter()
        .filter(|mark| is_in(mark, block))
        .collect();
    let numbers: Vec<String> = here.iter().map(|mark| mark.number.to_string()).collect();
    let of_marks = here.iter().flat_map(|mark| &mark.words);
    let remarks = said.remarks.iter();
    let of_block: Vec<&str> = of_marks
        .chain(
            remarks
                .filter(|remark| remark.block == Some(block.block))
                .map(|remark| &remark.words),
        )
        .map(|words| words.text.as_str())
        .collect();
    let day = &said.day;
    vec![
        numbers.join(" "),
        text(&of_block.join(" / ")),
        text(&of_ride(review).join(" / ")),
        day.fan.map_or("", Fan::key).to_owned(),
        figure(day.room_c),
        figure(day.sleep_h),
        figure(day.soreness),
        text(day.paused.as_deref().unwrap_or_default()),
        text(day.ended_early.as_deref().unwrap_or_default()),
    ]
}

/// What was said of the ride, and of what has no line of its own: a mark in no block, or that the ride does not have, and
/// a block that was not ridden.
fn of_ride(review: &Review) -> Vec<String> {
    let blocks = &review.blocks;
    let remarks = review.said.remarks.iter().filter_map(|remark| {
        let words = &remark.words.text;
        match (remark.block, remark.mark) {
            (Some(of), _) if blocks.iter().any(|block| block.block == of) => None,
            (Some(of), _) => Some(format!("block {of}: {words}")),
            (None, Some(mark)) => Some(format!("mark {mark}: {words}")),
            (None, None) => Some(words.clone()),
        }
    });
    let marks = review.said.marks.iter();
    let lost = marks.filter(|mark| !blocks.iter().any(|block| is_in(mark, block)));
    let lost = lost.map(|mark| {
        let words: Vec<&str> = mark.words.iter().map(|words| words.text.as_str()).collect();
        match words.as_slice() {
            [] => format!("mark {}", mark.number),
            words => format!("mark {}: {}", mark.number, words.join(" / ")),
        }
    });
    remarks.chain(lost).collect()
}

/// Without noughts at the end of its decimals.
fn trimmed(number: &str) -> String {
    if number.contains('.') {
        number
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned()
    } else {
        number.to_owned()
    }
}
