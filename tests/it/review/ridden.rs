//! Rides of the practice rider in virtual time: what they did is known from their script.

use stillroad::device::practice::{PracticeConfig, Script};
use stillroad::engine::Command;
use stillroad::plan::Kind;
use stillroad::ride::RideMode;
use stillroad::units::{Effort, Watts};

use super::{Rec, said};
use crate::world::{Ride, rider, session};

/// Three holds at 150 W with recoveries, then two sprints.
const BLOCKS: &str = "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\nwatts = 90\n\
    [[block]]\nrepeat = 3\n\
    [[block.block]]\nkind = \"hold\"\nname = \"Climb\"\ntime = \"3:00\"\nwatts = 150\ncadence = [80, 95]\n\
    [[block.block]]\nkind = \"recovery\"\nname = \"Lull\"\ntime = \"1:30\"\nwatts = 80\n\
    [[block]]\nrepeat = 2\n\
    [[block.block]]\nkind = \"sprint\"\nname = \"Gust\"\ntime = \"0:12\"\neffort = 10\n\
    [[block.block]]\nkind = \"recovery\"\nname = \"Shelter\"\ntime = \"1:00\"\nwatts = 80\n\
    [[block]]\nkind = \"cool-down\"\ntime = \"0:30\"\nwatts = 60\n";

/// The ride's second nought is the script's second five. The last climb, from second 600 of the ride on, is begun at 92
/// rpm and ended at 84.
fn ridden(mode: RideMode, hand: &[(f64, Command)]) -> Rec {
    let script = Script::ride(88.0)
        .pedal(5.0 + 595.0, 92.0)
        .pedal(5.0 + 690.0, 84.0)
        .pedal(5.0 + 785.0, 88.0);
    let config = PracticeConfig::default().noiseless().scripted(script);
    let mut ride = Ride::practice(config, &session(BLOCKS), &rider(), mode);
    ride.start();
    for (second, command) in hand {
        ride.to(5.0 + second);
        ride.command(command.clone());
    }
    ride.to_the_end(1500.0);
    Rec::of(&ride)
}

/// A ride that has everything in it.
pub fn of_everything() -> Rec {
    ridden(
        RideMode::TargetPower,
        &[(120.0, Command::Pause), (130.0, Command::Resume)],
    )
}

#[test]
fn a_held_ride_is_told_as_it_was_ridden() {
    let kept = ridden(RideMode::TargetPower, &[]);
    let review = kept.review();
    assert_eq!(review.ride.finish.as_deref(), Some("completed"));
    assert_eq!(review.missing.len(), 1, "{:?}", review.missing);
    let climbs: Vec<_> = review
        .blocks
        .iter()
        .filter(|block| block.name == "Climb")
        .collect();
    assert_eq!(climbs.len(), 3);
    for climb in &climbs {
        assert!(climb.held && climb.whole());
        // Written, today and told are the same: no trim, no cap.
        for layer in [climb.written, climb.fitted] {
            assert!((layer.mean_w.unwrap() - 150.0).abs() < 1e-9);
        }
        // A build-up of ten seconds, then the brake holds: the mean lies a few watts under, and the brake's lag is no
        // matter of the legs.
        let power = climb.power_w.unwrap();
        assert!((140.0..=151.0).contains(&power), "{power}");
        let settled = climb.settle_s.unwrap();
        assert!((5..=20).contains(&settled), "{settled}");
        assert!(climb.fitted.share().unwrap() > 0.9);
        // In the last the legs change their pace, and the flywheel's part of that is theirs.
        let by_legs = climb.deviation.off_by_legs_s;
        let most = if climb.repeat == Some(3) { 5 } else { 0 };
        assert!(by_legs <= most, "{:?}", climb.deviation);
        assert_eq!(climb.helps, Default::default());
    }
    // From 92 to 84 rpm half-way: the last third less the first.
    let fade = climbs[2].fade.unwrap();
    assert!((fade.cadence_rpm.unwrap() + 8.0).abs() < 1.0, "{fade:?}");
    // The same watts at a lower cadence are more torque: 150 W at 92 and 84 rpm differ by 1.48 Nm (P = T·ω).
    assert!((fade.torque_nm.unwrap() - 1.48).abs() < 0.3, "{fade:?}");
    let set = review.sets.iter().find(|set| set.name == "Climb").unwrap();
    assert_eq!(set.repeats, [1, 2, 3]);
    assert!(set.held);
    // The work is that of the rows, and power times time.
    let work: f64 = kept
        .rows
        .iter()
        .filter_map(|row| row.power)
        .map(|power| power.0.max(0.0))
        .sum();
    assert!((review.ride.work_j.unwrap() - work).abs() < 1e-6);
}

/// The sensors' own reports lie where the rows have them: rows are means of the same reports over whole seconds, so no
/// row can be above the best second, and the mean of the sprint is theirs. A log placed wrongly fails both.
#[test]
fn a_sprint_is_read_off_the_reports_at_the_right_moment() {
    let kept = ridden(RideMode::TargetPower, &[]);
    let review = kept.review();
    assert_eq!(review.sprints.each.len(), 2);
    for sprint in &review.sprints.each {
        assert_eq!(sprint.source, "reports");
        // The practice trainer reports four times a second.
        assert!((sprint.resolution_s - 0.25).abs() < 1e-9, "{sprint:?}");
        let rows: Vec<f64> = kept
            .rows
            .iter()
            .filter(|row| row.block == sprint.block)
            .filter_map(|row| row.power.map(Watts::get))
            .collect();
        let most = rows.iter().copied().fold(f64::MIN, f64::max);
        let mean = rows.iter().sum::<f64>() / rows.len() as f64;
        assert!(
            sprint.peak_w.unwrap() >= most - 1e-6,
            "{sprint:?} and a row of {most}"
        );
        assert!(
            (sprint.mean_w.unwrap() - mean).abs() < 0.01,
            "{sprint:?} and {mean}"
        );
        assert!((1.0..=12.0).contains(&sprint.to_peak_s.unwrap()));
    }
    // Moved by half a second they would not agree any more: the check can fail.
    let mut moved = kept.clone();
    for row in &mut moved.rows {
        row.utc_ms += 500;
    }
    let other = moved.review().sprints;
    assert_ne!(other.each[0].mean_w, review.sprints.each[0].mean_w);
    // Without the raw inputs the rows stand in, and it is said.
    let mut without = kept;
    without.raw.clear();
    let review = without.review();
    assert!(
        review
            .sprints
            .each
            .iter()
            .all(|sprint| sprint.source == "rows")
    );
    assert!(
        review
            .missing
            .iter()
            .any(|line| line.contains("known to a second"))
    );
}

#[test]
fn recoveries_are_told_with_their_fall_and_compared_at_equal_load() {
    let review = ridden(RideMode::TargetPower, &[]).review();
    let lulls: Vec<_> = review
        .recoveries
        .iter()
        .filter(|one| one.name.starts_with("Lull"))
        .collect();
    assert_eq!(lulls.len(), 3);
    for lull in &lulls {
        assert!(lull.fall_bpm.unwrap() > 0.0, "{lull:?}");
        assert_eq!(lull.turning, Some(1.0));
        assert!(lull.over_lane_w.unwrap().abs() < 10.0, "{lull:?}");
    }
    assert_eq!(lulls[0].like_block, None);
    assert_eq!(lulls[2].like_block, Some(lulls[0].block));
}

#[test]
fn what_the_hand_did_is_told() {
    let hand = [
        (80.0, Command::Trim(2)),
        (100.0, Command::EaseBlock),
        (120.0, Command::Pause),
        (150.0, Command::Resume),
        (400.0, Command::Skip),
        (400.5, Command::Skip),
    ];
    let kept = ridden(RideMode::TargetPower, &hand);
    let review = kept.review();
    let climb = review
        .blocks
        .iter()
        .find(|block| block.name == "Climb")
        .unwrap();
    assert_eq!(climb.helps.trims, 1, "{:?}", kept.events);
    assert_eq!((climb.helps.eased_by_hand, climb.helps.pauses), (1, 1));
    // The lane went up with the trim, what was written did not; the brake was told less: eased by ten per cent.
    assert!(climb.fitted.mean_w.unwrap() > climb.written.mean_w.unwrap() + 1.0);
    assert!(climb.commanded.mean_w.unwrap() < climb.fitted.mean_w.unwrap() - 5.0);
    // Ten per cent under the lane is off it, and nothing of that is the legs' doing.
    assert!(climb.deviation.off_lane_s > 60, "{:?}", climb.deviation);
    assert_eq!(climb.deviation.off_by_legs_s, 0, "{:?}", climb.deviation);
    assert_eq!(review.ride.pauses.len(), 1);
    let stood = review.ride.pauses[0].seconds.unwrap();
    assert!((stood - 30.0).abs() < 1.0, "{stood}");
    // A block that was left early stands in its set as ridden in part, and is not compared.
    let set = review.sets.iter().find(|set| set.name == "Climb").unwrap();
    assert!(!set.in_part.is_empty(), "{set:?}");
    assert!(
        set.repeats
            .iter()
            .all(|repeat| !set.in_part.contains(repeat))
    );
    assert!(said(&review).contains("eased by hand for a block"));
}

#[test]
fn a_ride_by_effort_is_reviewed_in_watts_that_are_the_riders() {
    let kept = ridden(RideMode::EffortOnly, &[]);
    let review = kept.review();
    assert_eq!(review.mode, RideMode::EffortOnly);
    for block in review
        .blocks
        .iter()
        .filter(|block| block.kind == Kind::Hold)
    {
        assert!(!block.held);
        assert!(block.power_w.is_some() && block.fitted.compared_s > 0);
        assert_eq!(block.commanded.mean_w, None);
        // Nobody else is there to lay it to.
        let deviation = &block.deviation;
        assert_eq!(deviation.off_by_legs_s, deviation.off_lane_s);
        assert_eq!(deviation.seconds, block.fitted.compared_s);
    }
    assert!(said(&review).contains("the rider's to make"));
}

/// The same gear all ride long, by the wheel: the practice trainer tells the rim's speed.
#[test]
fn a_gear_is_told_where_the_speed_is_a_wheels() {
    let real = ridden(RideMode::TargetPower, &[]).review();
    let gears: Vec<f64> = real
        .blocks
        .iter()
        .filter_map(|block| block.gear_m)
        .collect();
    assert!(gears.len() > 3, "{gears:?}");
    // 50 × 19 on a wheel of 2.1 m, the practice rider's first gear: 5.53 m.
    assert!(
        gears
            .iter()
            .all(|gear| (gear - 50.0 / 19.0 * 2.1).abs() < 0.05),
        "{gears:?}"
    );
    let mut config = PracticeConfig::default().noiseless();
    config.trainer.speed_from = stillroad::device::practice::SpeedFrom::Power;
    let mut ride = Ride::practice(config, &session(BLOCKS), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to_the_end(1500.0);
    let reckoned = Rec::of(&ride).review();
    assert!(reckoned.blocks.iter().all(|block| block.gear_m.is_none()));
}

#[test]
fn a_rating_stands_beside_its_block() {
    let kept = ridden(
        RideMode::TargetPower,
        &[(250.0, Command::Rate(Effort(7.0)))],
    );
    let review = kept.review();
    let climb = review
        .blocks
        .iter()
        .find(|block| block.name == "Climb")
        .unwrap();
    assert_eq!(climb.rating, Some(7.0), "{:?}", kept.notes);
    assert!(said(&review).contains("Rated out of ten: Climb 1 of 3 7"));
}
