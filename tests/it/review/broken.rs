//! Recordings that were cut off, damaged or never began: reviewed as far as they go, and what is missing is said.

use std::sync::Arc;

use proptest::prelude::*;
use stillroad::plan::Kind;
use stillroad::record::{EventLine, InputLine};
use stillroad::ride::RideMode;
use stillroad::units::{Bpm, BrakeTarget, Effort, Level, Rpm, Watts};

use super::{Rec, row, said};
use crate::world::EPOCH_MS;

#[test]
fn a_ride_without_a_second_says_so() {
    let review = Rec::new().review();
    assert!(review.blocks.is_empty());
    assert_eq!(
        review.missing,
        ["No second of the ride was kept, so there is nothing to review."]
    );
    assert!(said(&review).contains("The recording breaks off after 0:00"));
}

#[test]
fn a_killed_ride_is_reviewed_as_far_as_it_goes() {
    let mut kept = Rec::new();
    kept.rows = (1..=90).map(row).collect();
    kept.problems = vec!["samples.csv, line 92: the file was cut off.\u{1b}[31m".to_owned()];
    let review = kept.review();
    assert_eq!(review.blocks.len(), 1);
    assert!(!review.blocks[0].whole());
    let text = said(&review);
    assert!(
        text.contains("The recording breaks off after 1:30 of a session of 4:00:00"),
        "{text}"
    );
    assert!(review.missing.iter().any(|line| line.contains("line 92")));
    assert!(
        !text.contains('\u{1b}'),
        "a file's text is no command to the terminal"
    );
}

#[test]
fn lines_that_are_missing_are_counted_and_break_windows() {
    let mut kept = Rec::new();
    kept.rows = (1..=100)
        .filter(|second| !(41..=60).contains(second))
        .map(row)
        .collect();
    let review = kept.review();
    assert_eq!((review.ride.ridden_s, review.ride.missing_rows), (100, 20));
    assert_eq!(review.ride.best_means_every_second_w.len(), 40);
    assert_eq!(review.ride.power.longest_gap_s, Some(20));
    assert!(
        review
            .missing
            .iter()
            .any(|line| line.starts_with("20 seconds are missing in the recording"))
    );
}

#[test]
fn without_its_session_a_ride_is_told_by_the_kinds_of_its_blocks() {
    let mut kept = Rec::new();
    kept.rows = (1..=120).map(row).collect();
    kept.start.session_text = Arc::from("not = [toml");
    kept.start.rider_text = Arc::from("threshold = \"high\"");
    let review = kept.review();
    let block = &review.blocks[0];
    assert_eq!((block.name.as_str(), block.written_s), ("hold", None));
    assert_eq!(block.written.mean_w, None);
    // The lane was kept with the ride.
    assert_eq!(block.fitted.in_lane_s, 120);
    for what in ["session's own file", "rider's own file"] {
        assert!(
            review.missing.iter().any(|line| line.contains(what)),
            "{what}"
        );
    }
}

/// A damaged file may hold a second nought, and seconds that run backwards.
#[test]
fn seconds_that_no_ride_has_are_drawn_without_a_panic() {
    let mut kept = Rec::new();
    kept.rows = [0, 0, 5, 3, 360_000, 1].into_iter().map(row).collect();
    let asked = stillroad::review::Asked::of(&kept.start);
    let chart = stillroad::review::chart::chart(&kept.recording(), &asked);
    assert!(chart.lane.iter().all(|point| point.at.is_finite()));
    stillroad::review::over::Brief::of("here", &kept.recording());
}

prop_compose! {
    fn any_row()(
        step in 1..6_u64,
        stood in 0..10_000_i64,
        block in 0..5_u32,
        kind in 0..6_usize,
        effort_only in any::<bool>(),
        effort in proptest::option::of(0.0..10.0_f64),
        lane in proptest::option::of(0.0..600.0_f64),
        brake in 0..3_u8,
        could in proptest::option::of(-5.0..600.0_f64),
        power in proptest::option::of(-20.0..2000.0_f64),
        cadence in proptest::option::of(0.0..200.0_f64),
        heart in proptest::option::of(30.0..220.0_f64),
    ) -> (u64, i64, stillroad::record::Row) {
        let brake = match brake {
            0 => None,
            1 => Some(BrakeTarget::Power(Watts(lane.unwrap_or(0.0)))),
            _ => Some(BrakeTarget::Resistance(Level(12.0))),
        };
        let row = stillroad::record::Row {
            block,
            kind: Kind::ALL[kind],
            mode: if effort_only { RideMode::EffortOnly } else { RideMode::TargetPower },
            effort: effort.map(Effort),
            lane: lane.map(Watts),
            brake,
            could: could.map(Watts),
            power: power.map(Watts),
            cadence: cadence.map(Rpm),
            heart_rate: heart.map(Bpm),
            ..row(1)
        };
        (step, stood, row)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever stands in a recording, it is reviewed in every form, and the parts add up.
    #[test]
    fn any_recording_is_reviewed(
        rows in proptest::collection::vec(any_row(), 0..200),
        events in proptest::collection::vec((0.0..300.0_f64, 0..7_usize, ".{0,12}"), 0..20),
        raw in proptest::collection::vec((any::<u64>(), 0..5_usize, ".{0,30}"), 0..30),
    ) {
        let words = ["pause", "resume", "trim", "target", "start", "recording-closed", "guard"];
        let inputs = ["device", "slept", "command", "wake", "nothing"];
        let mut kept = Rec::new();
        let (mut second, mut stood) = (0, 0);
        for (step, wait, mut row) in rows {
            second += step;
            stood += wait;
            row.ridden_s = second;
            row.utc_ms = EPOCH_MS + second as i64 * 1000 + stood;
            kept.rows.push(row);
        }
        kept.events = events
            .into_iter()
            .map(|(ridden_s, what, detail)| EventLine {
                ridden_s,
                plan_s: ridden_s,
                utc_ms: EPOCH_MS + (ridden_s * 1000.0) as i64,
                what: words[what].into(),
                detail,
            })
            .collect();
        kept.raw = raw
            .into_iter()
            .map(|(at_us, input, content)| InputLine { at_us, input: inputs[input].into(), content, check: String::new() })
            .collect();
        let review = kept.review();
        let seconds: u64 = review.blocks.iter().map(|block| block.ridden_s).sum();
        prop_assert_eq!(seconds, kept.rows.len() as u64);
        for block in &review.blocks {
            let deviation = &block.deviation;
            if let Some(mean) = deviation.mean_w {
                let parts = [deviation.told_w, deviation.brake_w, deviation.legs_w];
                let sum: f64 = parts.iter().flatten().sum();
                prop_assert!((sum - mean).abs() < 1e-6, "{:?}", deviation);
            }
            let laid = deviation.off_by_told_s + deviation.off_by_brake_s + deviation.off_by_legs_s;
            prop_assert!(laid <= deviation.off_lane_s);
            prop_assert!(block.fitted.in_lane_s + deviation.off_lane_s == block.fitted.compared_s);
        }
        // A window of twice the length is two of the length, so it is no better than the best of these.
        let best = &review.ride.best_means_every_second_w;
        for (index, mean) in best.iter().enumerate() {
            let double = best.get(2 * index + 1);
            prop_assert!(double.is_none_or(|double| *double <= mean + 1e-6));
        }
        prop_assert!(!said(&review).contains("NaN"));
        let page = stillroad::review::page::page(&[(kept.recording(), review.clone())]);
        prop_assert!(!page.contains("NaN") && !page.contains(">inf"));
        let json = serde_json::to_string(&review).unwrap();
        prop_assert!(!json.contains("NaN"));
        stillroad::review::csv_table::csv_table(std::slice::from_ref(&review));
        // The room's strip and the list's, and the ride beside itself.
        let asked = stillroad::review::Asked::of(&kept.start);
        let chart = stillroad::review::chart::chart(&kept.recording(), &asked);
        prop_assert!(chart.ink.len() <= 2 * 200 && chart.lane.iter().all(|point| point.at.is_finite()));
        let brief = stillroad::review::over::Brief::of("here", &kept.recording());
        prop_assert_eq!(brief.asked.chars().count(), 40);
        let drawing = stillroad::review::picture::svg(&kept.recording(), &review);
        prop_assert!(!drawing.contains("NaN"));
        let both = [("a".to_owned(), kept.recording(), &review), ("b".to_owned(), kept.recording(), &review)];
        let comparison = stillroad::review::over::compare::compare(&both);
        prop_assert!(comparison.flags.is_empty());
        let each = comparison.blocks.iter().map(|block| block.each.len());
        prop_assert!(each.into_iter().all(|count| count == 2));
    }
}
