//! What the core keeps does not grow with the ride: after four hours it is what it was after twenty minutes.

use std::collections::BTreeMap;

use stillroad::device::practice::PracticeConfig;
use stillroad::engine::Command;
use stillroad::ride::{Mode, RideMode};
use stillroad::time::{Instant, Span};

use crate::world::{Ride, rider, session};

/// The core in words: whatever it holds anywhere, every list, queue and text, is written out, so that nothing that grows
/// is passed over because a test does not know of it.
fn words(ride: &Ride) -> usize {
    format!("{:?}", ride.world.core()).len()
}

/// The parts of the core, three levels deep, and the letters of each.
fn parts(ride: &Ride) -> BTreeMap<String, usize> {
    let mut parts = BTreeMap::new();
    let mut path: Vec<String> = Vec::new();
    for line in format!("{:#?}", ride.world.core()).lines() {
        let depth = (line.len() - line.trim_start().len()) / 4;
        path.truncate(depth.min(4));
        if depth < 4 {
            let name = line.trim().split(':').next().unwrap_or_default();
            path.push(name.to_owned());
        }
        *parts.entry(path.join("/")).or_insert(0) += line.trim().len();
    }
    parts
}

/// Figures take some letters more or less, a notice comes and goes: a few thousand. One entry of eight letters kept a
/// second would be over a hundred thousand.
const MORE_OR_LESS: usize = 12_000;

#[test]
fn after_four_hours_the_core_keeps_no_more_than_after_twenty_minutes() {
    // Sixteen blocks, so that the session itself takes little room beside what might grow.
    let mut blocks = "[[block]]\nkind = \"warm-up\"\ntime = \"15:00\"\neffort = 3\n".to_owned();
    for _ in 0..15 {
        blocks.push_str(
            "[[block]]\nkind = \"hold\"\ntime = \"15:00\"\neffort = 4\ncadence = [80, 90]\n\
             [[block.cue]]\nat = \"1:00\"\nkind = \"do\"\nsay = \"Keep on.\"\n",
        );
    }
    let plan = session(&blocks);
    assert_eq!(plan.length(), Span::from_seconds(4 * 3600));
    let config = PracticeConfig::for_rider(rider().threshold, rider().w_prime);
    let mut ride = Ride::practice(config, &plan, &rider(), RideMode::TargetPower);
    ride.command(Command::StartWithPedals);
    assert!(
        ride.world
            .run_while(Instant(60_000_000), |core| core.mode() != Mode::Riding)
    );
    let start = ride.world.now();
    let mut seen: Vec<usize> = Vec::new();
    let mut each = Vec::new();
    let mut ink = 0;
    for ten_minutes in 1..24 {
        ride.world
            .run_until(start + Span::from_seconds(600 * ten_minutes));
        // The rider's hands too: each leaves a happening, an event and something to undo.
        for command in [
            Command::Trim(1),
            Command::Trim(-1),
            Command::Pause,
            Command::Resume,
        ] {
            ride.command(command);
        }
        seen.push(words(&ride));
        each.push(parts(&ride));
        ink = ride.world.snapshot().ink.len();
    }
    let early = seen[1];
    let most = seen.iter().copied().max().unwrap_or(0);
    let at = seen.iter().position(|words| *words == most).unwrap_or(0);
    for (part, letters) in &each[at] {
        let before = each[1].get(part).copied().unwrap_or(0);
        if *letters > before + 400 {
            println!("{part}: {before} letters, then {letters}");
        }
    }
    assert!(
        most <= early + MORE_OR_LESS,
        "in letters, every ten minutes: {seen:?}"
    );
    // Ninety seconds of ink, four points a second.
    assert_eq!(ink, 360);
}
