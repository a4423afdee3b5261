//! Watts held by the slow loop over levels and slopes, on practice brakes of many structures. None of them was looked at
//! while the loop's figures were chosen: that was done on plainer plants of another make.
//!
//! `cargo test --test it slow_hold -- --nocapture` prints how long it takes, how far it overshoots, how long it stays in
//! its lane and how often it turns round, beside the same legs at one fixed level.

use stillroad::device::practice::{
    BrakeParameters, Following, PracticeConfig, Script, SpeedFrom, Takes,
};
use stillroad::gatt::ResistanceRange;
use stillroad::ride::RideMode;
use stillroad::time::Span;
use stillroad::units::BrakeTarget;

use super::Trial;
use crate::world::{rider, session};

/// In watts, so that the lane is known without the program: 80 to 130, 170, 100, 190, 150, 80.
const SESSION: &str = "[[block]]\nkind = \"warm-up\"\ntime = \"3:00\"\nwatts = [80, 130]\n\
    [[block]]\nkind = \"hold\"\ntime = \"2:00\"\nwatts = 170\n\
    [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 100\n\
    [[block]]\nkind = \"hold\"\ntime = \"2:30\"\nwatts = 190\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:30\"\nwatts = 150\n\
    [[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\nwatts = 80\n";

/// The steady blocks: their first and last second, and watts. The ride begins at second five.
const BLOCKS: [(f64, f64, f64); 4] = [
    (185.0, 305.0, 170.0),
    (305.0, 365.0, 100.0),
    (365.0, 515.0, 190.0),
    (515.0, 605.0, 150.0),
];

/// In the third block the rider shifts up by one, and in the fourth down by two.
const SHIFTS: [f64; 2] = [430.0, 560.0];

const LEVELS: Takes = Takes {
    power: false,
    levels: true,
    slopes: false,
};
const SLOPES: Takes = Takes {
    power: false,
    levels: false,
    slopes: true,
};

fn brake(change: impl FnOnce(&mut BrakeParameters)) -> PracticeConfig {
    let script = Script::ride(88.0).shift(SHIFTS[0], 1).shift(SHIFTS[1], -2);
    let mut config = PracticeConfig::default().taking(LEVELS).scripted(script);
    change(&mut config.brake);
    config
}

/// A name, a trainer, and the error in watts that its coarse levels make by themselves, or a road that is not the one
/// which is reckoned with.
fn plants() -> Vec<(&'static str, PracticeConfig, f64)> {
    let plain = || brake(|_| {});
    let law = |constant, linear, square| {
        brake(|b| {
            (b.level_force, b.level_slope, b.level_square) = (constant, linear, square);
        })
    };
    let mut coarse = plain();
    coarse.trainer.resistance_range = ResistanceRange::Words {
        least: 0,
        most: 1000,
        step: 50,
    };
    let mut second = plain();
    second.brake.following = Following::SecondOrder {
        natural: 2.0,
        damping: 0.6,
    };
    let mut slow = plain();
    slow.brake.dead_time = 1.0;
    slow.brake.following = Following::FirstOrder {
        rise: 2.5,
        fall: 2.0,
    };
    let mut seldom = plain();
    seldom.trainer.report_period = Span::from_seconds(1);
    seldom.trainer.power_meter.smoothing = 2.0;
    seldom.trainer.power_meter.noise = 0.03;
    let mut reckoned = plain();
    reckoned.trainer.speed_from = SpeedFrom::Power;
    let mut road = plain().taking(SLOPES);
    road.trainer.takes = SLOPES;
    let mut reckoned_road = road.clone();
    reckoned_road.trainer.speed_from = SpeedFrom::Power;
    let mut heavier_road = road.clone();
    heavier_road.brake.mass = 110.0;
    vec![
        ("eddy current", plain(), 0.0),
        ("constant force", law(0.5, 0.0, 0.0), 0.0),
        ("fan, power with the cube", law(0.0, 0.0, 0.006), 0.0),
        ("four times as steep", law(0.4, 0.2, 0.0), 17.0),
        ("half as steep", law(0.05, 0.025, 0.0), 0.0),
        ("twenty levels", coarse, 22.0),
        ("second order, rings", second, 0.0),
        ("dead 1.0 lag 2.5", slow, 0.0),
        ("1 Hz, smoothed, 3 % noise", seldom, 0.0),
        ("speed reckoned from power", reckoned, 0.0),
        ("light wheel", brake(|b| b.inertia = 4.0), 0.0),
        ("heavy friction", brake(|b| b.friction = 7.0), 0.0),
        ("slopes", road, 0.0),
        ("slopes, reckoned speed", reckoned_road, 0.0),
        ("slopes, 110 kg", heavier_road, 15.0),
    ]
}

/// What came of a block.
#[derive(Debug)]
struct Came {
    /// Seconds from the beat until three seconds' mean is within 5 %; none where it never was.
    there_after: Option<f64>,
    /// The most by which three seconds' mean was above, per cent, away from shifts.
    over: f64,
    /// The share of the time from 30 s after the beat on, away from shifts, within 5 %, per cent.
    in_lane: f64,
    /// How often the demand turned round.
    turns: usize,
    /// The mean error from 30 s on, shifts included, W.
    error: f64,
}

fn mean_before(trial: &Trial, second: f64) -> f64 {
    let within = |t: &&super::Truth| t.second > second - 3.0 && t.second <= second + 1e-6;
    let (sum, count) = trial
        .truths
        .iter()
        .filter(within)
        .fold((0.0, 0.0), |(sum, count), t| (sum + t.power, count + 1.0));
    sum / count
}

fn judge(trial: &Trial, commands: &[(f64, f64)], (from, to, watts): (f64, f64, f64)) -> Came {
    let shifted = |second: f64| {
        SHIFTS
            .iter()
            .any(|shift| second >= *shift && second < shift + 30.0)
    };
    let seconds = || (0..(to - from) as usize).map(|s| from + s as f64);
    let near = |power: f64| (power / watts - 1.0).abs() <= 0.05;
    let means: Vec<(f64, f64)> = seconds()
        .skip(3)
        .map(|s| (s, mean_before(trial, s)))
        .collect();
    let late: Vec<(f64, f64)> = means
        .iter()
        .copied()
        .filter(|(s, _)| *s >= from + 30.0)
        .collect();
    let calm = late.iter().filter(|(s, _)| !shifted(*s));
    let calm_count = calm.clone().count().max(1);
    let mut turns = 0;
    let mut up = None;
    let mut last = None;
    for (second, value) in commands {
        let inside = *second >= from + 15.0 && *second < to && !shifted(*second);
        if let (Some(before), true) = (last, inside) {
            let rises = *value > before;
            if up.is_some_and(|up| up != rises) {
                turns += 1;
            }
            up = Some(rises);
        }
        last = Some(*value);
    }
    // On the way down to a lower block it is above for two seconds: that is the plan's.
    let settled = means
        .iter()
        .filter(|(s, _)| *s >= from + 8.0 && !shifted(*s));
    Came {
        there_after: means
            .iter()
            .find(|(_, power)| near(*power))
            .map(|(s, _)| s - from),
        over: settled.fold(0.0, |most, (_, p)| most.max((p / watts - 1.0) * 100.0)),
        in_lane: calm.filter(|(_, p)| near(*p)).count() as f64 / calm_count as f64 * 100.0,
        turns,
        error: late.iter().map(|(_, p)| (p - watts).abs()).sum::<f64>() / late.len() as f64,
    }
}

fn ride(config: PracticeConfig, mode: RideMode) -> Trial {
    let mut trial = Trial::new(config, &session(SESSION), &rider(), mode);
    trial.to(665.0);
    trial
}

/// The levels or slopes that the trainer took, with their times.
fn taken(trial: &Trial) -> Vec<(f64, f64)> {
    let mut commands: Vec<(f64, f64)> = Vec::new();
    for (now, kept) in trial.ride.kept() {
        if let stillroad::record::Kept::Row(row) = kept
            && let Some(BrakeTarget::Resistance(_) | BrakeTarget::Slope(_)) = row.brake
        {
            let value = row.brake.unwrap().value();
            if commands
                .last()
                .is_none_or(|(_, last)| (*last - value).abs() > 1e-9)
            {
                commands.push((now.0 as f64 / 1e6, value));
            }
        }
    }
    commands
}

#[test]
fn watts_are_come_near_and_stayed_near_on_brakes_of_other_structures() {
    println!(
        "{:28} {:>5} {:>7} {:>7} {:>7} {:>6} {:>7} {:>9}",
        "trainer", "watts", "there s", "over %", "lane %", "turns", "error W", "fixed W"
    );
    let mut faults = Vec::new();
    for (name, config, step) in plants() {
        let slow = ride(config.clone(), RideMode::TargetPower);
        let fixed = ride(config, RideMode::EffortOnly);
        assert!(
            slow.ride.happened("slow-hold"),
            "{name}: {:?}",
            slow.ride.events()
        );
        let commands = taken(&slow);
        let mut errors = (0.0, 0.0);
        for block in BLOCKS {
            let came = judge(&slow, &commands, block);
            let still = judge(&fixed, &[], block);
            let there = came
                .there_after
                .map_or("never".to_owned(), |s| format!("{s:.0}"));
            println!(
                "{name:28} {:>5} {there:>7} {:>7.1} {:>7.0} {:>6} {:>7.1} {:>9.1}",
                block.2, came.over, came.in_lane, came.turns, came.error, still.error
            );
            let fault = |what: &str| format!("{name} at {} W: {what}, {came:?}", block.2);
            // These limits were set after the first look at the table, so that what holds now is kept.
            if step == 0.0 {
                if came.there_after.is_none_or(|s| s > 35.0) {
                    faults.push(fault("late"));
                }
                if came.in_lane < 60.0 {
                    faults.push(fault("out of its lane"));
                }
                if came.over > 25.0 {
                    faults.push(fault("overshoots"));
                }
            }
            if came.error > step + 25.0 {
                faults.push(fault("further off than its step and a shift make it"));
            }
            if came.turns > 4 {
                faults.push(fault("hunts"));
            }
            errors.0 += came.error;
            errors.1 += still.error;
        }
        if errors.0 > errors.1 {
            faults.push(format!("{name}: worse than a fixed level, {errors:?}"));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
