//! Recordings made by hand: each figure can be told from how they were made.

use stillroad::record::NoteLine;
use stillroad::units::{Bpm, Effort, Rpm, Watts};

use super::{Rec, row, said};
use crate::world::EPOCH_MS;

fn near(found: Option<f64>, expected: f64, within: f64) {
    let found = found.expect("a figure");
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

fn ridden(seconds: u64) -> Rec {
    let mut kept = Rec::new();
    kept.rows = (1..=seconds).map(row).collect();
    kept.finish = Some("by-rider".to_owned());
    kept
}

#[test]
fn a_steady_hour_is_told_as_it_was_made() {
    let mut kept = ridden(3600);
    for (index, row) in kept.rows.iter_mut().enumerate() {
        // Cadence sags by 6 rpm and heart rate rises by 7 bpm in twenty minutes, each in a straight line.
        let share = index as f64 / 1200.0;
        row.cadence = Some(Rpm(88.0 - 2.0 * share));
        row.heart_rate = Some(Bpm(140.0 + 7.0 * share));
    }
    kept.notes.push(NoteLine {
        utc_ms: EPOCH_MS,
        block: None,
        what: "rating".into(),
        rating: Some(Effort(7.0)),
        text: String::new(),
    });
    let review = kept.review();
    let block = &review.blocks[0];
    // 150 W for an hour are 540 kJ.
    near(review.ride.work_j, 540_000.0, 1e-6);
    // Foster 2001: 7 × 60 min.
    near(review.ride.load, 420.0, 1e-9);
    // Sheet: 140 to 147 bpm over 20 min are 3.5 bpm in 10 min.
    near(block.heart.rise_bpm_per_10_min, 3.5, 1e-6);
    // The middles of the first and last thirds of 3590 s lie 2394 s apart: 2 rpm in 1200 s.
    near(block.fade.unwrap().cadence_rpm, -3.99, 1e-9);
    assert_eq!(block.settle_s, Some(0));
    assert_eq!(block.overshoot_w, Some(0.0));
    assert_eq!(block.fitted.in_lane_s, 3600);
    near(review.ride.best_means.last().unwrap().mean_w, 150.0, 1e-9);
    // In the band of 80 to 90 rpm from the start: 88 rpm is inside, and 82 at the end.
    assert_eq!(block.cadence.in_band_s, Some(3600));
}

#[test]
fn a_rise_of_heart_rate_is_told_of_long_steady_blocks_alone() {
    let rising = |seconds: u64, wobble: f64| {
        let mut kept = ridden(seconds);
        for (index, row) in kept.rows.iter_mut().enumerate() {
            row.heart_rate = Some(Bpm(140.0 + index as f64 / 200.0));
            row.power = Some(Watts(150.0 + if index % 2 == 0 { wobble } else { -wobble }));
        }
        kept.review().blocks[0].heart.rise_bpm_per_10_min
    };
    near(rising(1200, 0.0), 3.0, 1e-6);
    assert_eq!(rising(1199, 0.0), None);
    // Unevenness of 20 %: the load was not steady.
    assert_eq!(rising(1200, 30.0), None);
}

#[test]
fn gaps_over_three_seconds_break_a_window_and_shorter_ones_do_not() {
    let of = |missing: std::ops::RangeInclusive<u64>| {
        let mut kept = ridden(100);
        for row in &mut kept.rows {
            if missing.contains(&row.ridden_s) {
                row.power = None;
            }
        }
        let review = kept.review();
        (
            review.ride.best_means_every_second_w.len(),
            review.ride.power,
        )
    };
    let (longest, power) = of(41..=43);
    assert_eq!((longest, power.gaps, power.longest_gap_s), (100, 0, None));
    assert_eq!(power.seconds, 97);
    // Forty seconds before the gap, fifty-six after it.
    let (longest, power) = of(41..=44);
    assert_eq!((longest, power.gaps, power.longest_gap_s), (56, 1, Some(4)));
}

/// Ten pauses of a minute: no best mean reaches over one, and each is counted with its length.
#[test]
fn a_ride_paused_ten_times_is_told_in_its_pieces() {
    let mut kept = ridden(1100);
    for row in &mut kept.rows {
        let pauses = (row.ridden_s - 1) / 100;
        row.utc_ms += pauses as i64 * 60_000;
    }
    for pause in 1..=10_i64 {
        for (what, at_ms) in [("pause", 0), ("resume", 60_000)] {
            kept.events.push(stillroad::record::EventLine {
                ridden_s: pause as f64 * 100.0,
                plan_s: pause as f64 * 100.0,
                utc_ms: EPOCH_MS + pause * 100_000 + (pause - 1) * 60_000 + at_ms,
                what: what.into(),
                detail: if what == "pause" {
                    "rider".to_owned()
                } else {
                    String::new()
                },
            });
        }
    }
    let review = kept.review();
    assert_eq!(review.ride.best_means_every_second_w.len(), 100);
    let [stood] = review.ride.pauses.as_slice() else {
        panic!("{:?}", review.ride.pauses);
    };
    assert_eq!((stood.cause.as_str(), stood.count), ("rider", 10));
    near(stood.seconds, 600.0, 1e-9);
    assert_eq!(review.blocks[0].helps.pauses, 10);
    assert!(said(&review).contains("The clock stood 10 times, 10:00 altogether: 10 by the rider."));
}

/// Four hours with a hard stretch in them: the best means are those of every window tried at these lengths.
#[test]
fn four_hours_are_reviewed_whole() {
    let mut kept = ridden(14_400);
    for row in &mut kept.rows {
        let x = row.ridden_s as f64;
        let watts = 150.0 + 60.0 * (x / 311.0).sin() + 25.0 * (x / 17.0).sin();
        row.power = Some(Watts(if (7_000..7_090).contains(&row.ridden_s) {
            420.0
        } else {
            watts
        }));
    }
    let power: Vec<f64> = kept.rows.iter().map(|row| row.power.unwrap().0).collect();
    let review = kept.review();
    let best = &review.ride.best_means_every_second_w;
    assert_eq!(best.len(), 3600);
    for length in [1, 2, 59, 60, 61, 90, 91, 600, 1801, 3600] {
        let tried = power
            .windows(length)
            .map(|window| window.iter().sum::<f64>() / length as f64)
            .fold(f64::MIN, f64::max);
        near(Some(best[length - 1]), tried, 1e-6);
    }
    assert!(said(&review).contains("4:00:00"));
}

/// What was not measured is nothing, in every form, and is said.
#[test]
fn what_was_not_measured_is_never_a_nought() {
    let mut kept = ridden(600);
    for row in &mut kept.rows {
        row.power = None;
        row.cadence = None;
        row.heart_rate = None;
        row.could = None;
        row.w_balance = None;
    }
    let review = kept.review();
    let ride = &review.ride;
    assert_eq!(ride.work_j, None);
    assert_eq!(ride.food_energy, None);
    assert_eq!(ride.unevenness, None);
    assert!(ride.best_means_every_second_w.is_empty());
    assert!(ride.best_means.iter().all(|best| best.mean_w.is_none()));
    for channel in [ride.power, ride.cadence, ride.heart_rate] {
        assert_eq!(
            (channel.mean, channel.most, channel.seconds),
            (None, None, 0)
        );
    }
    let block = &review.blocks[0];
    assert_eq!(
        (block.power_w, block.settle_s, block.overshoot_w),
        (None, None, None)
    );
    assert_eq!((block.fitted.compared_s, block.fitted.share()), (0, None));
    assert_eq!(block.cadence.in_band_s, None);
    assert_eq!(block.heart.start_bpm, None);
    assert_eq!(block.w_left_j, None);
    let fade = block.fade.unwrap();
    assert_eq!(
        (fade.power_w, fade.torque_nm, fade.heart_rate_bpm),
        (None, None, None)
    );
    for what in ["Power", "Cadence", "Heart rate"] {
        let sentence = format!("{what} was not measured");
        assert!(
            review.missing.iter().any(|line| line.contains(&sentence)),
            "{what}"
        );
    }
    let text = said(&review);
    assert!(
        !text.contains("kJ of work") && !text.contains("of food"),
        "{text}"
    );
    assert!(!text.contains("Power lay in the lane"), "{text}");
}

#[test]
fn an_overshoot_is_told_early_and_a_late_surge_is_not_one() {
    let with = |seconds: std::ops::Range<u64>| {
        let mut kept = ridden(300);
        for row in &mut kept.rows {
            if seconds.contains(&row.ridden_s) {
                row.power = Some(Watts(190.0));
            }
        }
        let block = kept.review().blocks[0].clone();
        (block.overshoot_w, block.settle_s)
    };
    // Five seconds of 40 W over the lane from the third on; ten on end in the lane begin after the seventh.
    assert_eq!(with(3..8), (Some(40.0), Some(7)));
    assert_eq!(with(200..205), (Some(0.0), Some(0)));
}

/// A rating of a block stands beside its plan, and does not stand in for one of the session.
#[test]
fn a_rated_block_makes_no_load() {
    let mut kept = ridden(600);
    // Ridden whole, so that it can be judged.
    let session = kept.start.session_text.replace("4:00:00", "10:00");
    kept.start.session_text = session.into();
    kept.notes.push(NoteLine {
        utc_ms: EPOCH_MS,
        block: Some(1),
        what: "rating".into(),
        rating: Some(Effort(8.0)),
        text: String::new(),
    });
    let review = kept.review();
    assert_eq!(review.blocks[0].rating, Some(8.0));
    assert_eq!((review.ride.rating, review.ride.load), (None, None));
    assert!(review.missing.iter().any(|line| line.contains("not rated")));
    // 8 for a planned 6.5 is well above it: common practice takes some off, and it is marked as such.
    let told = stillroad::review::suggest::suggestions(&review);
    assert!(told[0].contains("Common practice"), "{told:?}");
}
