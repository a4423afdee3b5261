//! Forecasts beside SciPy's, and what is said of blocks beyond a rider. Presses of Prepare's row that fits.

use std::fmt::Write as _;
use std::sync::Arc;

use serde_json::Value;
use stillroad::app::Shelf;
use stillroad::forecast::{Ridden, reckon, ride, ride_finely};
use stillroad::plan::fit::{Recoveries, Wish};
use stillroad::plan::{self, Plan};
use stillroad::rider::Rider;
use stillroad::ui::rooms::prepare::Chosen;
use stillroad::ui::rooms::prepare::fit::FitPress;
use stillroad::units::{Joules, Watts};

/// Written by tests/oracles/forecast_values.py with SciPy, which solves the balance as a differential equation.
const VALUES: &str = include_str!("../data/forecast_values.json");

fn put(text: &mut String, heading: &str, blocks: &Value) {
    for block in blocks.as_array().unwrap() {
        let (seconds, watts) = (block[2].as_u64().unwrap(), &block[3]);
        let (kind, name) = (&block[0], &block[1]);
        let time = format!("{}:{:02}", seconds / 60, seconds % 60);
        writeln!(
            text,
            "[[{heading}]]\nkind = {kind}\nname = {name}\ntime = \"{time}\"\nwatts = {watts}"
        )
        .unwrap();
    }
}

fn session(case: &Value) -> Plan {
    let mut text = "format = 1\nname = \"Case\"\npurpose = \"A check.\"\n".to_owned();
    put(&mut text, "block", &case["before"]);
    writeln!(text, "[[block]]\nrepeat = {}", case["times"]).unwrap();
    put(&mut text, "block.block", &case["repeated"]);
    put(&mut text, "block", &case["after"]);
    plan::read(&text).plan.unwrap()
}

fn rider(case: &Value) -> Rider {
    Rider {
        threshold: Watts(case["critical_w"].as_f64().unwrap()),
        w_prime: Joules(case["w_prime_j"].as_f64().unwrap()),
        power_cap: Watts(900.0),
        ..Rider::default()
    }
}

#[test]
fn what_is_reckoned_is_what_others_solve() {
    let cases: Value = serde_json::from_str(VALUES).unwrap();
    let mut beyond = 0;
    for case in cases.as_array().unwrap() {
        let (plan, rider) = (session(case), rider(case));
        let reckoned = reckon(&plan, &rider);
        let lowest = reckoned.lowest.unwrap();
        let near = |found: f64, key: &str, by: f64| {
            let wanted = case[key].as_f64().unwrap();
            assert!(
                (found - wanted).abs() < by,
                "{}: {key} {found} for {wanted}",
                case["name"]
            );
        };
        near(lowest.left_j, "lowest_j", 0.01);
        near(lowest.at_s as f64, "lowest_at_s", 0.5);
        near(reckoned.work_kj, "work_kj", 1e-6);
        let blocks: Vec<u64> = reckoned
            .beyond
            .iter()
            .flat_map(|one| &one.blocks)
            .map(|&block| block as u64)
            .collect();
        assert_eq!(
            serde_json::json!(blocks),
            case["beyond"],
            "{}",
            case["name"]
        );
        for one in &reckoned.beyond {
            beyond += 1;
            // Told in whole watts, rounded down.
            let told = format!(
                "at {:.0} W in place of",
                case["lower_w"].as_f64().unwrap().floor()
            );
            assert!(one.ways[0].starts_with(&told), "{:?} for {told}", one.ways);
        }
    }
    assert_eq!(beyond, 2, "some case is beyond its rider");
}

/// Each way is tried on a session that is written so: nothing is beyond the rider then, and a little less is not enough.
#[test]
fn the_ways_that_are_told_make_it_possible() {
    let cases: Value = serde_json::from_str(VALUES).unwrap();
    let case = &cases[2];
    let ways = reckon(&session(case), &rider(case)).beyond.remove(0).ways;
    assert_eq!(ways.len(), 3, "{ways:?}");
    let beyond = |case: &Value| !reckon(&session(case), &rider(case)).beyond.is_empty();
    let recovery = ways[1]
        .strip_prefix("with each recovery ")
        .unwrap()
        .strip_suffix(" longer")
        .unwrap();
    let (minutes, seconds) = recovery.split_once(':').unwrap();
    let more = minutes.parse::<u64>().unwrap() * 60 + seconds.parse::<u64>().unwrap();
    let times: u64 = match ways[2].split(' ').next().unwrap() {
        "once" => 1,
        times => times.parse().unwrap(),
    };
    let mut other = case.clone();
    other["repeated"][1][2] = (90 + more).into();
    assert!(!beyond(&other));
    other["repeated"][1][2] = (90 + more - 15).into();
    assert!(beyond(&other));
    let mut other = case.clone();
    other["times"] = times.into();
    assert!(!beyond(&other));
    other["times"] = (times + 1).into();
    assert!(beyond(&other));
}

/// The whole program rides it: all of the session, nearly all of the work that is asked for (build-ups take a little),
/// and a heart that is somewhere between rest and its most.
#[test]
fn the_practice_rider_rides_all_of_it_the_same_every_time() {
    let cases: Value = serde_json::from_str(VALUES).unwrap();
    let (plan, rider) = (Arc::new(session(&cases[1])), Arc::new(rider(&cases[1])));
    let ridden = ride(&plan, &rider).unwrap();
    assert_eq!(ridden.seconds, plan.length().whole_seconds());
    let asked = cases[1]["work_kj"].as_f64().unwrap();
    assert!(
        (ridden.work_kj / asked - 1.0).abs() < 0.03,
        "{} of {asked}",
        ridden.work_kj
    );
    let (peak, at) = ridden.heart_peak.unwrap();
    assert!(
        (120.0..=186.0).contains(&peak) && at > 600,
        "{peak} at {at}"
    );
    assert_eq!(ride(&plan, &rider).unwrap(), ridden);
}

/// A coarse forecast must say what a fine one says, to what a rider could make of it: 3 % of W′, two beats, 2 % of the
/// work (own choice).
#[test]
fn a_coarse_forecast_says_what_a_fine_one_says() {
    let rider = Arc::new(Rider {
        threshold: Watts(200.0),
        power_cap: Watts(280.0),
        sprint_cap: Watts(500.0),
        ..Rider::default()
    });
    for (key, text) in plan::builtin() {
        let plan = Arc::new(plan::read(text).plan.unwrap());
        let (coarse, fine) = (
            ride(&plan, &rider).unwrap(),
            ride_finely(&plan, &rider).unwrap(),
        );
        let told = format!("{key}: {coarse:?} for {fine:?}");
        let left = |ridden: &Ridden| ridden.lowest.as_ref().map_or(1.0, |lowest| lowest.share);
        assert!((left(&coarse) - left(&fine)).abs() < 0.03, "{told}");
        let (peak, other) = (coarse.heart_peak.unwrap(), fine.heart_peak.unwrap());
        assert!((peak.0 - other.0).abs() <= 2.0, "{told}");
        assert!((coarse.work_kj / fine.work_kj - 1.0).abs() < 0.02, "{told}");
        // A step test ends where the rider cannot go on.
        assert!(coarse.seconds.abs_diff(fine.seconds) <= 2, "{told}");
    }
}

fn shelf() -> Shelf {
    let (key, text) = plan::builtin()
        .iter()
        .find(|(key, _)| *key == "steady-repeats")
        .unwrap();
    let plan = Arc::new(plan::read(text).plan.unwrap());
    Shelf {
        sessions: vec![((*key).to_owned(), plan)],
        riders: vec![(None, Arc::new(Rider::default()))],
        troubles: Vec::new(),
    }
}

/// 48:00 by hand; repeats of 8:00 go first; 17:00 is the shortest (see the tests of fitting).
#[test]
fn presses_shorten_step_by_step_say_where_it_ends_and_are_undone() {
    let (shelf, mut chosen) = (shelf(), Chosen::default());
    let length = |chosen: &Chosen| chosen.fitted(&shelf).unwrap().0.length().to_string();
    let mut seen = Vec::new();
    let refused = loop {
        match chosen.press(&shelf, FitPress::Fewer, Recoveries::Full) {
            None => seen.push(length(&chosen)),
            Some(refused) => break refused,
        }
    };
    assert_eq!(seen, ["40:00", "32:00", "24:00", "20:00", "17:00"]);
    assert!(
        refused.contains("as short as it can be") || refused.contains("The shortest"),
        "{refused}"
    );
    assert_eq!(length(&chosen), "17:00", "a refusal changes nothing");
    assert!(
        chosen
            .press(&shelf, FitPress::WarmUp, Recoveries::Full)
            .is_some(),
        "five minutes more have no room"
    );
    for _ in 0..10 {
        assert_eq!(chosen.press(&shelf, FitPress::More, Recoveries::Full), None);
    }
    assert_eq!(
        (length(&chosen).as_str(), chosen.wish.minutes),
        ("48:00", None)
    );
    for wanted in [Recoveries::Easier, Recoveries::HalfWay, Recoveries::Full] {
        assert_eq!(
            chosen.press(&shelf, FitPress::Recoveries, Recoveries::Full),
            None
        );
        assert_eq!(chosen.wish.recoveries, wanted);
    }
    chosen.press(&shelf, FitPress::WarmUp, Recoveries::Full);
    assert_eq!(length(&chosen), "53:00");
    chosen.press(&shelf, FitPress::AsWritten, Recoveries::Full);
    assert_eq!(
        (length(&chosen).as_str(), chosen.wish),
        ("48:00", Wish::default())
    );
}
