//! Every built-in session, ridden end to end in virtual time in both modes on the practice trainer, written to disk, and
//! read back without the program's own reader.
//!
//! What is expected is reckoned here from the text of the session file, the table of shares below and the rules of the
//! ride; nothing of it comes from the program's plan, rider or runner.

mod explained;
mod twins;
mod walk;

use std::path::Path;

use stillroad::device::practice::{PracticeConfig, Script};
use stillroad::engine::Command;
use stillroad::plan;
use stillroad::record::Kept;
use stillroad::ride::RideMode;
use stillroad::rider::Rider;
use stillroad::store::RideWriter;
use stillroad::units::{Joules, Watts};

use crate::world::{Ride, watts_of};
use walk::{Block, THRESHOLD, walk};

/// The caps of this rider.
const POWER_CAP: f64 = 230.0;
const SPRINT_CAP: f64 = 480.0;

/// The ride begins at this second of time.
const START: f64 = 5.0;

fn rider() -> Rider {
    let text = format!(
        "name = \"Trial\"\nthreshold = {THRESHOLD}\npower_cap = {POWER_CAP}\nsprint_cap = {SPRINT_CAP}\nw_prime = 20000\n"
    );
    stillroad::rider::read(&text).0.unwrap()
}

/// One line of `samples.csv`, by the names in its header.
struct Line(std::collections::HashMap<String, String>);

impl Line {
    fn text(&self, column: &str) -> &str {
        &self.0[column]
    }

    fn number(&self, column: &str) -> Option<f64> {
        let cell = self.text(column);
        (!cell.is_empty()).then(|| cell.parse().unwrap())
    }
}

fn lines(folder: &Path, file: &str) -> Vec<Line> {
    let mut reader = csv::Reader::from_path(folder.join(file)).unwrap();
    let header = reader.headers().unwrap().clone();
    let line = |record: Result<csv::StringRecord, csv::Error>| {
        let record = record.unwrap();
        assert_eq!(record.len(), header.len());
        let cells = header.iter().zip(&record);
        Line(
            cells
                .map(|(name, cell)| (name.to_owned(), cell.to_owned()))
                .collect(),
        )
    };
    reader.records().map(line).collect()
}

struct Ridden {
    blocks: Vec<Block>,
    rows: Vec<Line>,
    events: Vec<Line>,
    writes: Vec<(f64, Vec<u8>)>,
    raw: usize,
    kept_raw: usize,
}

fn read(text: &str) -> plan::Plan {
    let reading = plan::read(text);
    reading
        .plan
        .unwrap_or_else(|| panic!("{:?}", reading.problems))
}

/// Rides a session, lets the real writer write it, and reads it back.
fn ridden(text: &str, mode: RideMode) -> Ridden {
    let plan = std::sync::Arc::new(read(text));
    let blocks = walk(text);
    // Legs that are up to it, and that turn as each block asks: out of its band a load is eased, as it should be.
    let script = blocks.iter().fold(Script::ride(85.0), |script, block| {
        script.pedal(START - 1.0 + block.start, block.cadence)
    });
    let config = PracticeConfig::for_rider(Watts(300.0), Joules(40_000.0)).scripted(script);
    let mut ride = Ride::practice(config, &plan, &rider(), mode);
    ride.to(START);
    ride.command(Command::Start);
    ride.to_the_end(6_000.0);
    let rides = tempfile::tempdir().unwrap();
    let mut writer = RideWriter::new(rides.path());
    let mut kept_raw = 0;
    for (number, (_, kept)) in ride.kept().into_iter().enumerate() {
        kept_raw += usize::from(matches!(kept, Kept::Raw(_)));
        let over = matches!(kept, Kept::End(_));
        writer.take(kept);
        if number % 5_000 == 0 {
            writer.tick();
        }
        if over {
            break;
        }
    }
    assert!(writer.finish());
    let folder = std::fs::read_dir(rides.path()).unwrap().next().unwrap();
    let folder = folder.unwrap().path();
    assert_eq!(
        std::fs::read_to_string(folder.join("session.toml")).unwrap(),
        text
    );
    let seconds = |(at, bytes): (stillroad::time::Instant, Vec<u8>)| (at.0 as f64 / 1e6, bytes);
    Ridden {
        blocks,
        rows: lines(&folder, "samples.csv"),
        events: lines(&folder, "events.csv"),
        // The writer closes a log with a line of its own.
        raw: lines(&folder, "raw.csv")
            .iter()
            .filter(|line| line.text("input") != "closed")
            .count(),
        kept_raw,
        writes: ride.writes().into_iter().map(seconds).collect(),
    }
}

/// One row for each second, numbered, at its place in the plan.
fn check_rows(ridden: &Ridden, mode: &str) {
    let seconds: u64 = ridden.blocks.iter().map(|block| block.seconds).sum();
    assert_eq!(ridden.rows.len() as u64, seconds);
    let mut rows = ridden.rows.iter().enumerate();
    let mut utc = None;
    for (number, block) in (1..).zip(&ridden.blocks) {
        for _ in 0..block.seconds {
            let (index, row) = rows.next().unwrap();
            let second = index as f64 + 1.0;
            assert_eq!(row.number("ridden_s"), Some(second));
            let plan = row.number("plan_s").unwrap();
            assert!((plan - second).abs() < 0.002, "{plan} at {second}");
            assert_eq!(row.text("block"), format!("{number}"), "at {second}");
            assert_eq!(row.text("kind"), block.kind, "at {second}");
            assert_eq!(row.text("mode"), mode);
            let moment: jiff::Timestamp = row.text("utc").parse().unwrap();
            if let Some(before) = utc.replace(moment) {
                let step: jiff::Timestamp = before;
                assert_eq!(moment.as_millisecond() - step.as_millisecond(), 1_000);
            }
            // The end of the second belongs to its own block, so a line is read a hair before its end.
            let into = second - block.start;
            if let Some(effort) = block.effort_at(into) {
                let told = row.number("effort").unwrap();
                assert!((told - effort).abs() < 0.02, "{told} for {effort}");
            }
            match block.watts_at(into) {
                Some(watts) => {
                    let told = row.number("lane_w").unwrap();
                    assert!((told - watts).abs() < 0.3, "{told} for {watts} at {second}");
                }
                None => assert_eq!(row.number("lane_w"), None, "all out has no figure"),
            }
            if index > 3 {
                assert!(row.number("power_w").is_some() && row.number("cadence_rpm").is_some());
                assert!(row.number("heart_rate_bpm").is_some(), "at {second}");
            }
        }
    }
}

fn mean(rows: &[Line], column: &str) -> f64 {
    rows.iter()
        .map(|row| row.number(column).unwrap())
        .sum::<f64>()
        / rows.len() as f64
}

/// The mean of each held block after its build-up is what it asked for, bounded by the cap.
fn check_power(ridden: &Ridden) {
    for block in ridden.blocks.iter().filter(|block| block.held()) {
        let from = block.start as usize + 12;
        let to = block.start as usize + block.seconds as usize;
        let wanted: f64 = (from..to)
            .map(|second| {
                let into = second as f64 + 0.5 - block.start;
                block.watts_at(into).unwrap().min(POWER_CAP)
            })
            .sum::<f64>()
            / (to - from) as f64;
        let rode = mean(&ridden.rows[from..to], "power_w");
        let slack = wanted * 0.03 + 3.0;
        assert!(
            (rode - wanted).abs() <= slack,
            "{rode} W for {wanted} W in {}",
            block.kind
        );
    }
}

/// No write is above its cap: the sprint's only in a held sprint and for the 2.5 s of its fall.
fn check_caps(ridden: &Ridden) {
    for (when, bytes) in &ridden.writes {
        let Some(watts) = watts_of(bytes) else {
            continue;
        };
        let second = when - START;
        let sprint = ridden.blocks.iter().any(|block| {
            let end = block.start + block.seconds as f64;
            block.kind == "sprint"
                && block.brake_held
                && second >= block.start
                && second < end + 2.6
        });
        let cap = if sprint { SPRINT_CAP } else { POWER_CAP };
        assert!(f64::from(watts) <= cap, "{watts} W at {second}");
    }
}

/// The brake is let off after the last second, and then the trainer's own session is stopped.
fn check_end(ridden: &Ridden) {
    let ops: Vec<u8> = ridden.writes.iter().map(|(_, bytes)| bytes[0]).collect();
    let (_, last) = &ridden.writes[ops.len() - 1];
    assert_eq!(last[..], [0x08, 0x01]);
    let (when, release) = &ridden.writes[ops.len() - 2];
    // Lowest power, or the lowest level.
    assert_eq!(release[..], [0x05, 0, 0]);
    assert!(*when - START >= ridden.rows.len() as f64 - 0.001);
    assert_eq!(
        ops.iter().filter(|op| **op == 0x08).count(),
        1,
        "stop stands at the end only"
    );
    let ends = ridden
        .events
        .iter()
        .filter(|event| event.text("what") == "end");
    assert_eq!(
        ends.map(|event| event.text("detail")).collect::<Vec<_>>(),
        ["completed"]
    );
}

/// Rises take ten seconds where the file says nothing else, falls two, on the watts that were written.
fn check_ramps(ridden: &Ridden) {
    let watts: Vec<(f64, f64)> = ridden
        .writes
        .iter()
        .filter_map(|(when, bytes)| Some((when - START, f64::from(watts_of(bytes)?))))
        .collect();
    let standing = |second: f64| watts.iter().rev().find(|(when, _)| *when < second);
    for pair in ridden.blocks.windows(2) {
        let [before, block] = pair else { continue };
        if !before.held() || !block.held() || before.line() || block.line() {
            continue;
        }
        let (from, to) = (
            before.watts_at(1.0).unwrap().min(POWER_CAP),
            block.watts_at(1.0).unwrap().min(POWER_CAP),
        );
        if (from - to).abs() < 5.0 {
            continue;
        }
        let (over, slack) = if to > from {
            (block.build_up, 0.8)
        } else {
            (2.0, 0.6)
        };
        let arrived = watts
            .iter()
            .find(|(when, watts)| *when > block.start && (watts - to.floor()).abs() < 0.5);
        let took = arrived.unwrap().0 - block.start;
        assert!(
            (took - over).abs() <= slack,
            "{took} s from {from} to {to} in block at {}: {:?}",
            block.start,
            watts
                .iter()
                .filter(|(when, _)| (block.start - 1.0..block.start + 20.0).contains(when))
                .collect::<Vec<_>>()
        );
        // Half-way in time is half-way in watts.
        let half = standing(block.start + over / 2.0).unwrap().1;
        let quarter_second = (to - from).abs() / over * 0.5;
        assert!(
            (half - (from + to) / 2.0).abs() <= quarter_second + 2.0,
            "{half} W half-way from {from} to {to}"
        );
        assert!(
            standing(block.start).unwrap().1 - from < 1.5,
            "no fall is led"
        );
    }
}

/// Threshold tests end where the legs do: they have trials of their own.
fn is_test(text: &str) -> bool {
    text.contains("\ntest = ")
}

#[test]
fn every_session_is_ridden_by_power() {
    for (name, text) in plan::builtin().iter().filter(|(_, text)| !is_test(text)) {
        println!("{name}");
        let ridden = ridden(text, RideMode::TargetPower);
        check_rows(&ridden, "target-power");
        check_power(&ridden);
        check_caps(&ridden);
        check_ramps(&ridden);
        check_end(&ridden);
        assert_eq!(ridden.raw, ridden.kept_raw, "every input is on the disk");
    }
}

#[test]
fn every_session_is_ridden_by_effort() {
    for (name, text) in plan::builtin().iter().filter(|(_, text)| !is_test(text)) {
        println!("{name}");
        let ridden = ridden(text, RideMode::EffortOnly);
        check_rows(&ridden, "effort-only");
        check_end(&ridden);
        for (when, bytes) in &ridden.writes {
            // Op 05 only as a release: no watts are ever held.
            assert!(
                watts_of(bytes).is_none_or(|watts| watts == 0),
                "{bytes:?} at {when}"
            );
        }
        let levels = ridden.writes.iter().filter(|(_, bytes)| bytes[0] == 0x04);
        assert!(levels.count() >= 1, "a level stands");
    }
}

#[test]
fn a_held_sprint_has_no_build_up_and_does_not_fall_before_its_end() {
    let text = "format = 1\nname = \"Sprint\"\npurpose = \"A held sprint.\"\n\
                [[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\neffort = 4\n\
                [[block]]\nkind = \"sprint\"\ntime = \"0:12\"\nwatts = 900\nbrake = \"held\"\n\
                [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\neffort = 3\n";
    let ridden = ridden(text, RideMode::TargetPower);
    check_rows(&ridden, "target-power");
    check_caps(&ridden);
    check_end(&ridden);
    let watts: Vec<(f64, i16)> = ridden
        .writes
        .iter()
        .filter_map(|(when, bytes)| Some((when - START, watts_of(bytes)?)))
        .collect();
    let first = watts.iter().find(|(when, _)| *when >= 60.0).unwrap();
    assert_eq!(
        f64::from(first.1),
        SPRINT_CAP,
        "at once as much as the cap allows"
    );
    assert!(first.0 < 60.3, "{}", first.0);
    let fall = watts
        .iter()
        .find(|(when, watts)| *when > 60.3 && f64::from(*watts) < SPRINT_CAP);
    let fall = fall.unwrap().0;
    assert!((72.0..73.3).contains(&fall), "falls at {fall}");
    // 47 % of the threshold, one to two seconds after the fall began, rounded down to the trainer's watt.
    let low = (0.47 * THRESHOLD).floor() as i16;
    let landed = watts
        .iter()
        .find(|(when, watts)| *when > fall && *watts == low)
        .unwrap();
    assert!(
        (1.0..=2.6).contains(&(landed.0 - 72.0)),
        "landed at {}",
        landed.0
    );
}
