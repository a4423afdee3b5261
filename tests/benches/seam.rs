//! How late commands leave and notifications arrive, with the real loop and the real clock: `cargo bench --bench seam`.
//!
//! A trainer behind the seam, on a thread of its own as the radio is, reports four times a second and answers writes. The ride
//! is ridden twice: at rest, and with a disk whose every sync takes three seconds and as many threads burning as there are
//! processors, and one more that lays out and tessellates a window of text over and over. Beside it, in the same process at the same
//! time, a bare tokio loop sleeps until the same sort of deadlines and hears the same sort of notifications.
//!
//! *Due* is not guessed: the ride's raw inputs are fed to a second core afterwards, which says of each write when it was due,
//! the deadline that the core had named or the stamp of the event that it answers. If the second core does not write the
//! same octets in the same order, nothing is printed but that.
//!
//! With files as arguments, `cargo bench --bench seam -- RIDE/raw.csv…`, nothing is ridden: of each recorded ride it is told how
//! long its writes waited for the write response and for the indication.
//!
//! `STILLROAD_SECONDS` rides that many seconds each time, 60 where it is not given.

#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "seam/bare.rs"]
mod bare;
#[path = "seam/disk.rs"]
mod disk;
#[path = "seam/due.rs"]
mod due;
#[path = "seam/load.rs"]
mod load;
#[path = "seam/ride.rs"]
mod ride;
#[path = "seam/trainer.rs"]
mod trainer;

use std::process::ExitCode;

/// One line of the table: so many, and how late they were in milliseconds.
fn line(name: &str, late_us: &[u64]) {
    let mut sorted = late_us.to_vec();
    sorted.sort_unstable();
    // The least value that so many per cent do not exceed (nearest rank).
    let at = |per_cent: usize| {
        let rank = (sorted.len() * per_cent).div_ceil(100).max(1);
        sorted.get(rank - 1).map_or(f64::NAN, |&us| us as f64 / 1e3)
    };
    println!(
        "{name:<46} {:>6} {:>8.2} {:>8.2} {:>8.2} {:>8.2}",
        sorted.len(),
        at(50),
        at(90),
        at(99),
        at(100)
    );
}

/// The writes of recorded rides, from the moment they were made to their answers.
fn recorded(files: &[String]) -> Result<(), String> {
    println!(
        "{:<46} {:>6} {:>8} {:>8} {:>8} {:>8}   ms",
        "", "number", "median", "p90", "p99", "most"
    );
    for file in files {
        let raw = std::fs::read(file).map_err(|error| format!("{file}: {error}"))?;
        let writes = due::writes(&raw).map_err(|why| format!("{file}: {why}"))?;
        let waited = |until: fn(&due::Write) -> Option<stillroad::time::Instant>| -> Vec<u64> {
            let answered = writes
                .iter()
                .filter_map(|write| Some((write.made, until(write)?)));
            answered.map(|(made, until)| until.since(made).0).collect()
        };
        println!("{file}");
        line(
            "write to write response",
            &waited(|write| write.acknowledged),
        );
        line("write to indication", &waited(|write| write.answered));
        line(
            "due to write",
            &writes
                .iter()
                .map(|write| write.made.since(write.due).0)
                .collect::<Vec<_>>(),
        );
    }
    Ok(())
}

fn main() -> ExitCode {
    let files: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| word.ends_with(".csv"))
        .collect();
    if !files.is_empty() {
        return match recorded(&files) {
            Ok(()) => ExitCode::SUCCESS,
            Err(why) => {
                eprintln!("{why}");
                ExitCode::FAILURE
            }
        };
    }
    let seconds = std::env::var("STILLROAD_SECONDS").ok();
    let seconds = seconds.map_or(60, |text| text.parse().expect("a number of seconds"));
    println!(
        "{:<46} {:>6} {:>8} {:>8} {:>8} {:>8}   late by, ms",
        "", "number", "median", "p90", "p99", "most"
    );
    for loaded in [false, true] {
        let how = if loaded { "loaded" } else { "at rest" };
        let load = loaded.then(load::Load::start);
        let bare = bare::Bare::start();
        let ridden = ride::ride(seconds, loaded);
        let bare = bare.end();
        let frames = load.map(load::Load::end);
        let commands = match due::late(&ridden) {
            Ok(late) => late,
            Err(why) => {
                eprintln!("{how}: {why}");
                return ExitCode::FAILURE;
            }
        };
        line(&format!("{how}: commands, due to request"), &commands);
        line(
            &format!("{how}: notifications, stamp to core"),
            &ridden.heard_us,
        );
        line(&format!("{how}: bare loop, due to wake"), &bare.woke_us);
        line(&format!("{how}: bare loop, stamp to loop"), &bare.heard_us);
        if let Some(frames) = frames {
            println!(
                "loaded: {} syncs of three seconds, {frames} frames drawn, {} entries of the recording lost",
                ridden.syncs, ridden.lost
            );
        }
    }
    ExitCode::SUCCESS
}
