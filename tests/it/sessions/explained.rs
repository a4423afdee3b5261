//! Why a load stands, in words, for every block of every built-in session: the first figure is the session's own, the
//! last one what was written to the trainer.

use std::sync::Arc;

use stillroad::device::practice::{PracticeConfig, Script};
use stillroad::engine::Command;
use stillroad::plan;
use stillroad::ride::RideMode;
use stillroad::ui::keys::{self, Act, Hands};
use stillroad::ui::rooms::ride as room;
use stillroad::units::{Joules, Watts};

use super::walk::{Block, walk};
use super::{POWER_CAP, SPRINT_CAP, START, is_test, read, rider};
use crate::world::{Ride, watts_of};

/// What the Ride room says when the rider asks.
fn asked(ride: &Ride) -> room::ledger::Data {
    let snapshot = ride.snapshot();
    let mut hands = Hands::default();
    assert_eq!(keys::commands(Act::Why, &snapshot, &mut hands), []);
    let data = room::Data::new(ride.now(), &snapshot, &hands, true);
    data.why.expect("it was asked for")
}

/// The bare number of "203 W".
fn watts(words: &str) -> Option<f64> {
    words.strip_suffix(" W")?.parse().ok()
}

fn begun(text: &str, mode: RideMode) -> (Ride, Vec<Block>) {
    let blocks = walk(text);
    let script = blocks.iter().fold(Script::ride(85.0), |script, block| {
        script.pedal(START - 1.0 + block.start, block.cadence)
    });
    let config = PracticeConfig::for_rider(Watts(300.0), Joules(40_000.0)).scripted(script);
    let mut ride = Ride::practice(config, &Arc::new(read(text)), &rider(), mode);
    ride.to(START);
    ride.command(Command::Start);
    (ride, blocks)
}

/// The watts of the newest write that held any (op 05, Fitness Machine Service 1.0, 4.16.2.6).
fn written(ride: &Ride) -> f64 {
    let newest = ride.writes().into_iter().rev();
    let mut held = newest.filter_map(|(_, bytes)| watts_of(&bytes));
    f64::from(held.next().expect("watts were written"))
}

/// Looks at a block that the brake holds, `into` seconds after its beginning, trimmed by so many per cent.
fn look(ride: &Ride, block: &Block, into: f64, trim: f64) {
    let told = asked(ride);
    let place = format!("{} at {}+{into}: {told:?}", block.kind, block.start);
    let first = told.lines.first().unwrap_or_else(|| panic!("{place}"));
    let planned = block.watts_at(into).unwrap();
    assert!(first.why.starts_with("The session"), "{place}");
    let said = watts(&first.value).unwrap();
    assert!((said - planned).abs() <= 1.0, "{planned} in {place}");
    let last = watts(&told.lines.last().unwrap().value).unwrap();
    // Along a ramp one write may still be on its way.
    let behind = if block.line() { 1.0 } else { 0.0 };
    assert!((last - written(ride)).abs() <= behind, "{place}");
    assert_eq!(told.title, format!("Why {last:.0} W"), "{place}");
    let trimmed = told.lines.iter().find(|line| line.why == "Today's trim");
    let expected = (trim != 0.0).then(|| planned * (1.0 + trim / 100.0));
    match (trimmed, expected) {
        (Some(line), Some(expected)) => {
            let said = watts(&line.value).unwrap();
            assert!((said - expected).abs() <= 1.0, "{expected} in {place}");
        }
        (None, None) => {}
        _ => panic!("trimmed by {trim}: {place}"),
    }
    let cap = if block.kind == "sprint" {
        SPRINT_CAP
    } else {
        POWER_CAP
    };
    assert!(last <= cap, "{place}");
    // How the brake answers, and whether rises are sent ahead, is said beside it.
    assert!(
        told.notes.iter().any(|note| note.contains("ahead")),
        "{place}"
    );
}

#[test]
fn every_block_of_every_session_says_why_its_watts_stand() {
    let mut held = 0;
    let mut built = 0;
    for (_, text) in plan::builtin() {
        let (mut ride, blocks) = begun(text, RideMode::TargetPower);
        if is_test(text) {
            // Its loads are shares of threshold and levels, which the walk by hand does not reckon: each block says
            // what it comes to and why.
            for block in &blocks {
                ride.to(START + block.start + block.seconds as f64 / 2.0);
                let told = asked(&ride);
                let says = told.title.starts_with("Why ") && !told.lines.is_empty();
                assert!(says || told.title.starts_with("No load: "), "{told:?}");
            }
            continue;
        }
        let mut before: Option<f64> = None;
        for block in &blocks {
            let into = block.seconds as f64 / 2.0;
            if !block.held() {
                ride.to(START + block.start + into);
                // A level or a slope stands there: it is told as one, whatever watts the rider makes.
                let told = asked(&ride);
                let asks = if block.slope { "slope" } else { "level" };
                assert!(told.title.contains(asks), "{told:?}");
                before = None;
                continue;
            }
            let rises = before.is_some_and(|before| block.watts_at(3.0).unwrap() > before + 10.0);
            if rises {
                // A rise takes ten seconds: three seconds after the beat it is still under way.
                ride.to(START + block.start + 3.0);
                let told = asked(&ride);
                let says = told
                    .lines
                    .iter()
                    .any(|line| line.why.starts_with("On its way"));
                assert!(says, "{told:?}");
                built += 1;
            }
            ride.to(START + block.start + into);
            look(&ride, block, into, 0.0);
            ride.command(Command::Trim(1));
            ride.pass(4.0);
            look(&ride, block, into + 4.0, 2.0);
            ride.command(Command::Trim(-1));
            ride.to(START + block.start + block.seconds as f64 - 1.0);
            before = block.watts_at(block.seconds as f64 - 1.0);
            held += 1;
        }
    }
    assert!(held > 20 && built > 5, "{held} held, {built} built up");
}

#[test]
fn by_effort_no_watts_are_told() {
    for (_, text) in plan::builtin() {
        let (mut ride, blocks) = begun(text, RideMode::EffortOnly);
        for block in &blocks {
            ride.to(START + block.start + block.seconds as f64 / 2.0);
            let told = asked(&ride);
            let spoken = told.spoken();
            assert!(!spoken.contains(" W"), "{spoken}");
            let stands = if block.slope {
                "Why slope "
            } else {
                "Why level "
            };
            assert!(told.title.starts_with(stands), "{spoken}");
            assert!(!told.lines.is_empty(), "{spoken}");
        }
    }
}

#[test]
fn a_load_that_was_let_off_says_what_let_it_off() {
    let (_, text) = plan::builtin()[0];
    let (mut ride, _) = begun(text, RideMode::TargetPower);
    ride.to(START + 60.0);
    ride.command(Command::BrakeOff);
    ride.pass(0.5);
    let told = asked(&ride);
    assert!(
        told.lines
            .iter()
            .any(|line| line.why.contains("half at once")),
        "{told:?}"
    );
    ride.pass(3.0);
    let told = asked(&ride);
    assert!(
        told.title.starts_with("No load: ") && told.lines.is_empty(),
        "{told:?}"
    );
}
