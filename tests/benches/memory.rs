//! What a ride of four hours keeps in memory beside one of twenty minutes, in virtual time. `cargo bench --bench memory`
//!
//! Each ride is a process of its own, so that one does not use what another left. The figures are the system's: the
//! process's resident set, at its peak and when the ride was over (`VmHWM` and `VmRSS` of proc(5)); on systems without
//! them nothing is measured, and it says so and fails.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod ridden;

use std::process::{Command, ExitCode};

use stillroad::time::Span;

/// Blocks and seconds of each: the same session but for how often it repeats.
const RIDES: [(&str, usize, u64); 3] = [
    ("20 minutes", 10, 120),
    ("1 hour", 30, 120),
    ("4 hours", 120, 120),
];

/// So much more for each hour, KiB, is put down to longer sessions and the allocator. A row a second that is kept, of
/// some two hundred octets, would be 700 and its raw inputs thousands.
const MOST_GROWTH: f64 = 500.0;

fn kibibytes(field: &str) -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with(field))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Rides the given one and tells peak and rest.
fn ride(which: usize) {
    let (name, blocks, each) = RIDES[which];
    let plan = ridden::session(name, blocks, each);
    let last = Span::from_seconds(blocks as u64 * each - 5);
    let world = ridden::ridden(&plan, last);
    // The screen looks once, as it would.
    let snapshot = world.snapshot();
    let words = format!("{:?}", world.core()).len();
    println!(
        "{} {} {} {}",
        kibibytes("VmHWM:").unwrap_or(0),
        kibibytes("VmRSS:").unwrap_or(0),
        snapshot.ink.len(),
        words
    );
}

fn main() -> ExitCode {
    let asked = std::env::args().find_map(|word| word.strip_prefix("--ride=")?.parse().ok());
    if let Some(which) = asked {
        ride(which);
        return ExitCode::SUCCESS;
    }
    if kibibytes("VmHWM:").is_none() {
        eprintln!(
            "This system does not tell a process's resident set in /proc/self/status: nothing was measured."
        );
        return ExitCode::FAILURE;
    }
    println!(
        "{:<12} {:>10} {:>10} {:>10} {:>24}",
        "ride", "peak KiB", "end KiB", "ink", "core in words, octets"
    );
    let mut peaks = Vec::new();
    for (which, (name, ..)) in RIDES.iter().enumerate() {
        let me = std::env::current_exe().unwrap();
        let output = Command::new(me)
            .arg(format!("--ride={which}"))
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        let figures: Vec<u64> = text
            .split_whitespace()
            .filter_map(|word| word.parse().ok())
            .collect();
        let [peak, end, ink, words] = figures[..] else {
            eprintln!(
                "The ride of {name} failed: {}",
                String::from_utf8_lossy(&output.stderr)
            );
            return ExitCode::FAILURE;
        };
        println!("{name:<12} {peak:>10} {end:>10} {ink:>10} {words:>24}");
        peaks.push(peak);
    }
    let hours = (240.0 - 20.0) / 60.0;
    let growth = (peaks[2] as f64 - peaks[0] as f64) / hours;
    println!("Growth of the peak from 20 minutes to 4 hours: {growth:.0} KiB an hour.");
    if growth > MOST_GROWTH {
        eprintln!(
            "That is more than {MOST_GROWTH} KiB an hour: something is kept for as long as the ride lasts."
        );
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
