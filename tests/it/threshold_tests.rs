//! Both threshold tests ridden by practice riders whose true critical power and W′ are known, from the session's file to
//! the value that is proposed.
//!
//! The practice rider is drawn by the law of critical power, which is also the law behind the tests; so that nothing is
//! proved on its own model alone, the same tests are ridden by legs that fade by another law (Morton 1996), with noise,
//! and their errors are printed and bounded.

use std::sync::Arc;

use stillroad::device::practice::script::Act;
use stillroad::device::practice::{Intent, PracticeConfig, Script, Takes};
use stillroad::engine::Command;
use stillroad::engine::snapshot::TestOutcome;
use stillroad::plan::{self, Plan, ThresholdTest};
use stillroad::record::Kept;
use stillroad::ride::threshold_test::{Known, TestSecond, find};
use stillroad::ride::{Mode, RideMode};
use stillroad::rider::Rider;
use stillroad::units::{Joules, Watts};

use crate::world::{Ride, watts_of};

const START: f64 = 5.0;
/// Where the storm begins in its session, seconds.
const STORM: f64 = 960.0;

fn plan_of(stem: &str) -> Arc<Plan> {
    let (_, text) = plan::builtin()
        .iter()
        .find(|(key, _)| *key == stem)
        .unwrap();
    let reading = plan::read(text);
    assert!(reading.problems.is_empty(), "{:?}", reading.problems);
    Arc::new(reading.plan.unwrap())
}

fn file(threshold: f64, cap: f64, w_prime: f64) -> Rider {
    let text = format!(
        "name = \"Trial\"\nthreshold = {threshold}\npower_cap = {cap}\nsprint_cap = {cap}\nw_prime = {w_prime}\nconfirmed = [\"w_prime\"]\n"
    );
    stillroad::rider::read(&text).0.unwrap()
}

/// Legs with this critical power and W′; `fade` makes them fade by the other law.
fn legs(critical: f64, w_prime: f64, fade: bool, seed: u64) -> PracticeConfig {
    let mut config =
        PracticeConfig::for_critical_power(Watts(critical), Joules(w_prime)).seeded(seed);
    if fade {
        config.legs.fade = w_prime / (config.legs.most_power - critical);
    }
    config
}

fn outcome(ride: &Ride) -> Arc<TestOutcome> {
    ride.snapshot().test.clone().unwrap()
}

fn step(config: PracticeConfig, rider: &Rider) -> Ride {
    let mut ride = Ride::practice(
        config.scripted(Script::ride(88.0)),
        &plan_of("step-test"),
        rider,
        RideMode::TargetPower,
    );
    ride.to(START);
    ride.command(Command::Start);
    ride.to_the_end(6_000.0);
    ride
}

/// All out in the gear in which critical power at the level that stands comes near 88 rpm. Level 20 of the practice
/// brake resists by 20·(0.1 + 0.05·v) = 2 + v newtons, so that critical power is (2 + v)·v.
fn storm(config: PracticeConfig, rider: &Rider) -> Ride {
    let critical = config.legs.critical_power;
    let speed = (1.0 + critical).sqrt() - 1.0;
    let gears: Vec<f64> = config.legs.gears.iter().map(|gear| gear * 2.1).collect();
    let off = |metres: f64| (speed / metres * 60.0 - 88.0).abs();
    let gear = (0..gears.len()).min_by(|&a, &b| off(gears[a]).total_cmp(&off(gears[b])));
    let shift = gear.unwrap() as i32 - 5;
    let script = Script::ride(85.0)
        .pedal(START + STORM - 61.0, 60.0)
        .shift(START + STORM - 40.0, shift)
        .act(START + STORM + 0.2, Act::Intend(Intent::AllOut))
        .pedal(START + STORM + 181.0, 80.0);
    let mut ride = Ride::practice(
        config.scripted(script),
        &plan_of("three-minutes"),
        rider,
        RideMode::TargetPower,
    );
    ride.to(START);
    ride.command(Command::Start);
    ride.to_the_end(6_000.0);
    ride
}

/// Critical power (W), W′ (J), and how far the file's threshold is from the truth, as a share.
const RIDERS: [(f64, f64, f64); 5] = [
    (252.0, 20_000.0, 1.0),
    (180.0, 14_000.0, 0.9),
    (320.0, 26_000.0, 1.05),
    (140.0, 11_000.0, 1.0),
    (230.0, 17_000.0, 0.95),
];

#[test]
fn a_step_test_comes_near_the_truth() {
    let mut worst: f64 = 0.0;
    for (seed, (critical, w_prime, rough)) in (1..).zip(RIDERS) {
        for fade in [false, true] {
            let rider = file((critical / 1.05 * rough).round(), 900.0, w_prime);
            let ride = step(legs(critical, w_prime, fade, seed), &rider);
            let told = outcome(&ride);
            let found = told.found.as_ref().unwrap_or_else(|why| panic!("{why:?}"));
            let error = found.critical_power.0 / critical - 1.0;
            println!(
                "step test, CP {critical} W, W′ {w_prime} J, other law {fade}: {:.1} W, {:+.1} %, said ±{}",
                found.critical_power.0,
                100.0 * error,
                found.give
            );
            worst = worst.max(error.abs());
            assert_eq!(told.before, rider.threshold);
            // What is said of the doubt holds the truth.
            let truth = critical / 1.05;
            assert!(
                (found.threshold.0 - truth).abs() <= found.give.0 + 1.0,
                "{found:?}"
            );
            // The brake never held more than the step that ended it, and it was let off in the end.
            let events: Vec<_> = ride.events().iter().map(|event| event.what).collect();
            assert!(events.contains(&"test-over"), "{events:?}");
        }
    }
    assert!(worst < 0.06, "{worst}");
}

#[test]
fn three_minutes_come_near_the_truth() {
    for (seed, (critical, w_prime, _)) in (1..).zip(RIDERS) {
        for fade in [false, true] {
            let rider = file(200.0, 1400.0, 15_000.0);
            let ride = storm(legs(critical, w_prime, fade, seed), &rider);
            let told = outcome(&ride);
            let found = told
                .found
                .as_ref()
                .unwrap_or_else(|why| panic!("{critical}: {why:?}"));
            let w = found.w_prime.unwrap().0;
            let error = found.critical_power.0 / critical - 1.0;
            println!(
                "three minutes, CP {critical} W, W′ {w_prime} J, other law {fade}: {:.1} W, {:+.1} %, W′ {:+.1} %",
                found.critical_power.0,
                100.0 * error,
                100.0 * (w / w_prime - 1.0)
            );
            assert!(error.abs() < 0.04, "{error}");
            assert!((w / w_prime - 1.0).abs() < 0.15, "{w}");
            // No watts were held in the storm.
            let held = ride.writes().into_iter().any(|(at, bytes)| {
                let into = at.0 as f64 / 1e6 - START - STORM;
                (1.0..179.0).contains(&into) && watts_of(&bytes).is_some_and(|watts| watts > 0)
            });
            assert!(!held);
        }
    }
}

/// The levels or slopes that were asked for from the last minute before the storm to its end, by second of the session: raw
/// bytes without those of the build-up.
fn resistances(ride: &Ride, op: u8, from: f64) -> Vec<Vec<u8>> {
    ride.writes()
        .into_iter()
        .filter(|(at, bytes)| {
            let into = at.0 as f64 / 1e6 - START - STORM;
            (from..179.5).contains(&into) && bytes[0] == op
        })
        .map(|(_, bytes)| bytes)
        .collect()
}

#[test]
fn the_resistance_stands_from_before_the_beat_whatever_is_learned_meanwhile() {
    // A sprint cap of 500 W lies under what the test makes the table of this trainer say of level 20.
    for cap in [300.0, 500.0, 1400.0] {
        let rider = file(200.0, cap, 15_000.0);
        let ride = storm(legs(252.0, 20_000.0, false, 1), &rider);
        // The rise takes ten seconds; after it nothing more is asked for.
        assert_eq!(
            resistances(&ride, 0x04, -45.0),
            Vec::<Vec<u8>>::new(),
            "{cap}"
        );
        assert!(!resistances(&ride, 0x04, -60.0).is_empty());
        let told = outcome(&ride);
        assert!(told.found.is_ok(), "{cap}: {:?}", told.found);
    }
}

#[test]
fn a_trainer_of_slopes_gives_a_value_by_a_slope_that_stands() {
    for power in [true, false] {
        let mut config = legs(252.0, 20_000.0, false, 1);
        config.trainer.takes = Takes {
            slopes: true,
            power,
            ..Takes::NOTHING
        };
        let rider = file(240.0, 1400.0, 20_000.0);
        // The slope asks for critical power at 90 rpm in a middle gear, so that the rider stays in it.
        let script = Script::ride(85.0)
            .pedal(START + STORM - 61.0, 60.0)
            .act(START + STORM + 0.2, Act::Intend(Intent::AllOut))
            .pedal(START + STORM + 181.0, 80.0);
        let mut ride = Ride::practice(
            config.scripted(script),
            &plan_of("three-minutes"),
            &rider,
            RideMode::TargetPower,
        );
        ride.to(START);
        assert!(!ride.snapshot().missing.join(" ").contains("test"));
        ride.command(Command::Start);
        ride.to_the_end(6_000.0);
        assert_eq!(resistances(&ride, 0x11, -45.0), Vec::<Vec<u8>>::new());
        assert!(!resistances(&ride, 0x11, -60.0).is_empty());
        let told = outcome(&ride);
        let found = told.found.as_ref().unwrap_or_else(|why| panic!("{why:?}"));
        let error = found.critical_power.0 / 252.0 - 1.0;
        println!("three minutes on a slope: {:+.1} %", 100.0 * error);
        assert!(error.abs() < 0.04, "{error}");
    }
    // A trainer that takes watts alone has nothing that would stand, and that is said before.
    let mut config = legs(252.0, 20_000.0, false, 1).scripted(Script::still());
    config.trainer.takes = Takes {
        power: true,
        ..Takes::NOTHING
    };
    let rider = file(240.0, 900.0, 20_000.0);
    let plan = plan_of("three-minutes");
    let mut ride = Ride::practice(config, &plan, &rider, RideMode::TargetPower);
    ride.to(START);
    let missing = ride.snapshot().missing.join(" ");
    assert!(missing.contains("neither level nor slope"), "{missing}");
}

#[test]
fn a_value_is_taken_or_not_once_and_noted() {
    let rider = file(240.0, 900.0, 20_000.0);
    for take in [true, false] {
        let mut ride = step(legs(252.0, 20_000.0, false, 1), &rider);
        assert_eq!(outcome(&ride).taken, None);
        ride.command(Command::TakeThreshold(take));
        ride.command(Command::TakeThreshold(!take));
        assert_eq!(outcome(&ride).taken, Some(take));
        let notes: Vec<_> = ride
            .kept()
            .into_iter()
            .filter_map(|(_, kept)| match kept {
                Kept::Note(note) if note.what == "threshold" => Some(note.text),
                _ => None,
            })
            .collect();
        assert_eq!(notes.len(), 1);
        assert!(notes[0].contains("it was 240 W"), "{}", notes[0]);
        assert_eq!(notes[0].contains("not taken"), !take);
        // The rider of the ride is as they were: caps are never touched here.
        assert_eq!(
            ride.snapshot().rider.as_ref().unwrap().power_cap,
            Watts(900.0)
        );
    }
}

#[test]
fn a_test_that_was_not_ridden_as_it_should_gives_no_value() {
    let why = |ride: &Ride| outcome(ride).found.clone().unwrap_err().join(" ");
    // Far too strong for the steps.
    let easy = step(
        legs(300.0, 25_000.0, false, 1),
        &file(120.0, 900.0, 20_000.0),
    );
    assert!(
        why(&easy).contains("threshold lies higher"),
        "{}",
        why(&easy)
    );
    // The power cap holds the steps down.
    let capped = step(
        legs(252.0, 20_000.0, false, 1),
        &file(240.0, 250.0, 20_000.0),
    );
    assert!(why(&capped).contains("power cap"), "{}", why(&capped));
    // Ended by hand in the third step, by skip: on to the cool-down, and never back to a step.
    let config = legs(252.0, 20_000.0, false, 1).scripted(Script::ride(88.0));
    let rider = file(240.0, 900.0, 20_000.0);
    let plan = plan_of("step-test");
    let mut ride = Ride::practice(config, &plan, &rider, RideMode::TargetPower);
    ride.to(START);
    ride.command(Command::Start);
    ride.pass(600.0 + 200.0);
    ride.command(Command::Skip);
    ride.command(Command::Skip);
    ride.pass(10.0);
    let snapshot = ride.snapshot();
    let block = snapshot.laps[snapshot.lap].block;
    assert_eq!(plan.blocks[block].name, "Down the stairs");
    ride.to_the_end(6_000.0);
    assert!(why(&ride).contains("within six minutes"), "{}", why(&ride));
    ride.command(Command::TakeThreshold(true));
    assert_eq!(outcome(&ride).taken, None, "there is nothing to take");
    // Three minutes at an even cadence are not all out.
    let even = Ride::practice(
        legs(252.0, 20_000.0, false, 1).scripted(Script::ride(88.0)),
        &plan_of("three-minutes"),
        &rider,
        RideMode::TargetPower,
    );
    let mut even = even;
    even.to(START);
    even.command(Command::Start);
    even.to_the_end(6_000.0);
    assert!(why(&even).contains("paced"), "{}", why(&even));
}

#[test]
fn what_stands_in_the_way_is_said_before_the_start() {
    let said = |stem: &str, rider: &Rider, mode: RideMode| {
        let config = legs(252.0, 20_000.0, false, 1).scripted(Script::still());
        let mut ride = Ride::practice(config, &plan_of(stem), rider, mode);
        ride.to(START);
        assert_eq!(ride.mode(), Mode::Ready);
        ride.snapshot().missing.join(" ")
    };
    let fit = file(240.0, 900.0, 20_000.0);
    assert!(!said("step-test", &fit, RideMode::TargetPower).contains("test"));
    assert!(!said("three-minutes", &fit, RideMode::TargetPower).contains("test"));
    let by_feel = said("step-test", &fit, RideMode::EffortOnly);
    assert!(by_feel.contains("ridden by target power"), "{by_feel}");
    let low = said(
        "step-test",
        &file(240.0, 250.0, 20_000.0),
        RideMode::TargetPower,
    );
    assert!(low.contains("Your power cap of 250 W"), "{low}");
}

/// Where the seconds that were ridden stand, and what others' arithmetic makes of them.
const ROWS: &str = include_str!("../data/threshold_rides.csv");
const VALUES: &str = include_str!("../data/threshold_values.json");

/// The seconds of a test's own blocks, as lines of `tests/data/threshold_rides.csv`.
fn ridden(name: &str, stem: &str, w_prime: f64, ride: &Ride) -> String {
    let plan = plan_of(stem);
    let rows = ride.kept().into_iter().filter_map(|(_, kept)| match kept {
        Kept::Row(row) if plan.is_tested(row.block as usize - 1) => Some(row),
        _ => None,
    });
    let test = if stem == "step-test" {
        "step"
    } else {
        "three-minutes"
    };
    rows.map(|row| {
        let power = row.power.unwrap().0;
        format!("{name},{test},{w_prime},{},{power:.1}\n", row.block)
    })
    .collect()
}

#[test]
#[ignore = "writes tests/data/threshold_rides.csv, from which tests/oracles/threshold_tests.py makes the values"]
fn write_the_ridden_seconds() {
    let mut text = "ride,test,w_prime,block,power\n".to_owned();
    for (seed, (critical, w_prime, rough)) in (1..).zip(RIDERS).take(3) {
        for fade in [false, true] {
            let kind = if fade { "fading" } else { "lawful" };
            let rider = file((critical / 1.05 * rough).round(), 900.0, w_prime);
            let ride = step(legs(critical, w_prime, fade, seed), &rider);
            text += &ridden(
                &format!("step-{critical}-{kind}"),
                "step-test",
                w_prime,
                &ride,
            );
            let ride = storm(
                legs(critical, w_prime, fade, seed),
                &file(200.0, 1400.0, 15_000.0),
            );
            text += &ridden(
                &format!("storm-{critical}-{kind}"),
                "three-minutes",
                w_prime,
                &ride,
            );
        }
    }
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    std::fs::write(root.join("tests/data/threshold_rides.csv"), text).unwrap();
}

/// Written by tests/oracles/threshold_tests.py with SciPy: the law on the steps, and the live W′ balance on the seconds.
#[test]
fn what_is_proposed_is_what_others_make_of_the_same_seconds() {
    let values: serde_json::Value = serde_json::from_str(VALUES).unwrap();
    let rows: Vec<Vec<&str>> = ROWS
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect())
        .collect();
    let mut looked = 0;
    for ride in rows.chunk_by(|a, b| a[0] == b[0]) {
        let (name, test, w_prime) = (ride[0][0], ride[0][1], ride[0][2].parse().unwrap());
        let seconds: Vec<TestSecond> = (0..)
            .zip(ride)
            .map(|(second, row)| {
                let power: f64 = row[4].parse().unwrap();
                let held = (test == "step").then_some(power);
                TestSecond {
                    utc_ms: second * 1000,
                    block: row[3].parse().unwrap(),
                    power: Some(power),
                    cadence: Some(85.0),
                    lane: held,
                    held,
                    stands: held.is_none().then_some(20.0),
                }
            })
            .collect();
        let known = Known {
            w_prime: Joules(w_prime),
            w_prime_checked: true,
            exhausted: true,
            band: None,
        };
        let test = if test == "step" {
            ThresholdTest::Step
        } else {
            ThresholdTest::ThreeMinutes
        };
        let found = find(test, &seconds, &known).unwrap_or_else(|why| panic!("{name}: {why:?}"));
        let value = |key: &str| values[name][key].as_f64();
        let critical = value("critical_power").unwrap();
        assert!(
            (found.critical_power.0 - critical).abs() < 0.01,
            "{name}: {found:?}, {critical}"
        );
        if let Some(balance) = value("by_the_balance") {
            let apart = found.critical_power.0 / balance - 1.0;
            println!("{name}: {:+.2} % from the live balance", 100.0 * apart);
            assert!(apart.abs() < 0.01, "{name}: {apart}");
        }
        if let Some(w_prime) = value("w_prime") {
            // Told in hundreds of joules.
            assert!((found.w_prime.unwrap().0 - w_prime).abs() <= 51.0, "{name}");
        }
        looked += 1;
    }
    assert_eq!(looked, 12);
}
