//! The identification of the brake's answer, on brakes and reports that are made here from the textbook's formulas.
//!
//! A first-order answer to a step is 1 − e^(−t/τ) (any control text): half stands at dead time + 0.693 τ, and a ramp is
//! dead time + τ behind. Nothing here uses the reckoning of the identification itself.

use std::collections::VecDeque;

use stillroad::control::answer::{Known, Why};
use stillroad::control::{Answer, Identification};
use stillroad::ride::Lead;
use stillroad::time::{Instant, Span};
use stillroad::units::{BrakeLag, Rpm, Watts};

/// A brake, its reports and its rider.
#[derive(Clone, Copy)]
struct Plant {
    dead: f64,
    rise: f64,
    fall: f64,
    /// Smoothing of power and of cadence, time constants in seconds.
    power_smoothing: f64,
    cadence_smoothing: f64,
    /// A plain mean of power over this time before the smoothing, seconds.
    mean_over: f64,
    period: f64,
    /// Whether it reports cadence.
    cadence: bool,
    /// Whether the rider's feet stop once.
    rests: bool,
    /// Whether the wheel's speed changes with the load.
    dips: bool,
}

const PLANT: Plant = Plant {
    dead: 0.3,
    rise: 0.7,
    fall: 0.5,
    power_smoothing: 0.0,
    cadence_smoothing: 0.0,
    mean_over: 0.0,
    period: 0.25,
    cadence: true,
    rests: true,
    dips: true,
};

/// Watts asked for: 100, and every forty seconds 200 for twenty, built up by staircase over four seconds.
fn commands() -> Vec<(f64, f64)> {
    let mut commands = vec![(0.0, 100.0)];
    for change in 0..14 {
        let (begin, up) = (20.0 + f64::from(change) * 20.0, change % 2 == 0);
        for step in 1..=16 {
            let share = f64::from(step) / 16.0;
            let watts = if up {
                100.0 + 100.0 * share
            } else {
                200.0 - 100.0 * share
            };
            commands.push((begin + f64::from(step) * 0.25, watts.round()));
        }
    }
    commands
}

fn at(seconds: f64) -> Instant {
    Instant::ZERO + Span::from_seconds_f64(seconds)
}

/// Rides it: 1 ms a step.
fn ridden(plant: &Plant, remembered: Option<BrakeLag>) -> Answer {
    let mut identification = Identification::of(remembered);
    let commands = commands();
    let (mut next, mut taken, mut asked) = (0, 0, 100.0);
    let (mut force, mut shown, mut turned, mut told) = (0.0, 100.0, 88.0, 88.0);
    let mut felt = 100.0 / 88.0;
    let mut due = 0.11;
    let (mut last, mut sum) = (VecDeque::new(), 0.0);
    for step in 0..320_000 {
        let (t, dt) = (f64::from(step) * 0.001, 0.001);
        while next < commands.len() && commands[next].0 <= t {
            identification.told(at(commands[next].0), Watts(commands[next].1));
            next += 1;
        }
        while taken < commands.len() && commands[taken].0 + plant.dead <= t {
            asked = commands[taken].1;
            taken += 1;
        }
        let wanted = asked / turned;
        let lag = if wanted > force {
            plant.rise
        } else {
            plant.fall
        };
        force = if step == 0 {
            wanted
        } else {
            force + (wanted - force) * dt / lag.max(dt)
        };
        // Legs that feel the load a little late, on a wheel with some inertia; and they sway.
        felt += (force - felt) * dt / 0.5;
        let sway = 0.9 * (t * 0.9).sin() + 0.6 * (t * 2.3).sin();
        if plant.dips {
            turned += ((felt - force) * 18.0 + (88.0 + sway - turned) * 1.2) * dt;
        }
        let resting = plant.rests && (10.0..11.2).contains(&t);
        let feet = if resting { 0.0 } else { turned };
        let power = if resting { 0.0 } else { force * turned };
        // A plain mean over the last so many milliseconds.
        last.push_back(power);
        sum += power;
        if last.len() as f64 > (plant.mean_over / dt).max(1.0) {
            sum -= last.pop_front().unwrap();
        }
        let power = sum / last.len() as f64;
        shown += (power - shown) * (dt / plant.power_smoothing.max(dt));
        told += (feet - told) * (dt / plant.cadence_smoothing.max(dt));
        if t >= due {
            due += plant.period;
            let cadence = plant.cadence.then_some(Rpm((told * 2.0).round() / 2.0));
            identification.reported(at(t), Watts(shown.round()), cadence);
        }
    }
    *identification.answer()
}

#[test]
fn the_bound_is_under_the_truth_and_near_it() {
    for (dead, rise, power_smoothing, period) in [
        (0.3, 0.7, 0.0, 0.25),
        (0.3, 1.5, 0.5, 0.25),
        (0.6, 2.5, 0.3, 0.5),
    ] {
        let plant = Plant {
            dead,
            rise,
            power_smoothing,
            period,
            fall: rise * 0.6,
            ..PLANT
        };
        let answer = ridden(&plant, None);
        let told = format!("dead {dead} rise {rise}: {answer:?}");
        let Known::Late { behind, half } = answer.known() else {
            panic!("{told}");
        };
        assert!(
            behind <= dead + rise + 0.02 && behind >= dead + rise - 0.6,
            "{told}"
        );
        assert!(half <= dead + rise * 0.693 + 0.02, "{told}");
        // What is seen in the reports, the whole of it, needs no telling apart.
        let seen = answer.rise.unwrap();
        let total = dead + rise + power_smoothing;
        assert!((seen.likely.total() - total).abs() < 0.15, "{told}");
        assert!(
            seen.least_total <= total + 0.1 && seen.most_total >= total - 0.1,
            "{told}"
        );
        // Up and down apart.
        let fall = answer.fall.unwrap();
        assert!(
            (fall.likely.total() - (dead + rise * 0.6 + power_smoothing)).abs() < 0.15,
            "{told}"
        );
        let words = answer.words();
        assert!(
            words.contains("ahead") && !words.contains("no command"),
            "{words}"
        );
        assert!(answer.lead().most() <= Span::from_seconds(2));
    }
}

#[test]
fn a_quick_brake_with_slow_reports_gets_no_lead() {
    for power_smoothing in [0.5, 1.0, 2.0, 3.0] {
        let plant = Plant {
            dead: 0.05,
            rise: 0.05,
            fall: 0.05,
            power_smoothing,
            ..PLANT
        };
        let answer = ridden(&plant, None);
        // Never more than the brake's own tenth of a second, which is not worth a lead.
        assert_eq!(answer.lead(), Lead::NONE, "{power_smoothing}: {answer:?}");
        let words = answer.words();
        assert!(words.contains("no command is sent ahead"), "{words}");
        assert!(words.contains("reports"), "{words}");
    }
}

#[test]
fn means_that_are_smoothed_on_top_are_not_taken_for_a_brake_that_lags() {
    // None of these times is one of the identification's own pairs.
    for (mean_over, power_smoothing) in [(2.0, 0.7), (1.5, 0.8), (2.6, 0.4), (1.2, 1.4)] {
        for (dead, rise) in [(0.05, 0.05), (0.1, 0.1), (0.3, 0.7)] {
            let plant = Plant {
                dead,
                rise,
                fall: rise * 0.7,
                mean_over,
                power_smoothing,
                ..PLANT
            };
            let answer = ridden(&plant, None);
            let behind = match answer.known() {
                Known::Late { behind, .. } => behind,
                _ => 0.0,
            };
            let told = format!("{dead} {rise}, mean of {mean_over} smoothed {power_smoothing}");
            assert!(behind <= dead + rise + 0.02, "{told}: {answer:?}");
        }
    }
}

#[test]
fn power_alone_tells_nothing_apart() {
    let blind = Plant {
        cadence: false,
        ..PLANT
    };
    let answer = ridden(&blind, None);
    assert_eq!(
        answer.known(),
        Known::CannotTell(Why::NoWitness),
        "{answer:?}"
    );
    assert_eq!(answer.lead(), Lead::NONE);
    // The whole delay is known all the same.
    assert!((answer.rise.unwrap().likely.total() - 1.0).abs() < 0.15);
    // A cadence that never moves tells nothing either: of dead time and lag, at most the dead time is the brake's.
    let even = Plant {
        dips: false,
        rise: 1.5,
        fall: 1.5,
        ..PLANT
    };
    let answer = ridden(&even, None);
    assert!(answer.lead().ramp <= Span::from_millis(450), "{answer:?}");
}

#[test]
fn a_cadence_that_may_be_smoothed_too_is_no_witness() {
    let never_rests = Plant {
        rests: false,
        ..PLANT
    };
    let answer = ridden(&never_rests, None);
    assert_eq!(
        answer.known(),
        Known::CannotTell(Why::NotProven),
        "{answer:?}"
    );
    assert!(
        answer.words().contains("Rest the pedals"),
        "{}",
        answer.words()
    );
    for smoothing in [1.0, 2.0] {
        let all_smoothed = Plant {
            dead: 0.05,
            rise: 0.05,
            fall: 0.05,
            power_smoothing: smoothing,
            cadence_smoothing: smoothing,
            ..PLANT
        };
        let answer = ridden(&all_smoothed, None);
        assert_eq!(answer.lead(), Lead::NONE, "{smoothing}: {answer:?}");
    }
}

#[test]
fn what_an_earlier_ride_left_counts_until_this_one_speaks_against_it() {
    let lag = |least| BrakeLag {
        dead_time: 0.3,
        rise: 0.7,
        fall: 0.5,
        least,
        least_half: least * 0.8,
        cadence_prompt: true,
    };
    let fresh = Identification::of(Some(lag(0.9)));
    assert_eq!(
        fresh.answer().known(),
        Known::Late {
            behind: 0.9,
            half: 0.9 * 0.8
        }
    );
    assert!(fresh.answer().words().contains("last ride"));
    assert_eq!(Identification::of(None).answer().known(), Known::NotYet);
    // A brake that is much quicker now: another firmware, perhaps.
    let quick = Plant {
        dead: 0.1,
        rise: 0.3,
        ..PLANT
    };
    let answer = ridden(&quick, Some(lag(1.8)));
    assert!(
        answer.lead().ramp <= Span::from_millis(400 + 125 + 20),
        "{answer:?}"
    );
    let left = answer.to_remember().unwrap();
    assert!(left.least <= 0.42 && left.cadence_prompt, "{left:?}");
    assert_eq!(
        Identification::of(Some(lag(1.8))).answer().to_remember(),
        None
    );
}
