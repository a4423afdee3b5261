//! The review's dear parts, one at a time, for a comparison with other programs. `cargo bench --bench review -- --part=list
//! --folder=FOLDER`
//!
//! `tests/speed/run` makes the folder, calls this for each part, measures the others on the same files in the same run, and
//! fails where results differ. One line of JSON is printed: the seconds of each run, the process's peak in memory (`VmHWM`
//! of proc(5), KiB; null where the system does not tell it) and what came out. The first run warms up and is not told.

#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::fs::{self, File};
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

use serde_json::{Map, Value, json};
use stillroad::record::cell::Value as Cell;
use stillroad::record::{Row, Table, decode};
use stillroad::review::bests::best_means;
use stillroad::review::over::weeks::{bests, weeks};
use stillroad::review::series::pieces;
use stillroad::review::{Review, review};
use stillroad::store::reader::read_ride;
use stillroad::store::ride_list::{list, open, recording};
use stillroad::units::Watts;

/// The index beside the rides.
const INDEX: &str = ".stillroad-index";

fn peak_kib() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Seconds of each run, and the peak by then: before anything is made of the result for the comparison.
struct Took {
    seconds: Vec<f64>,
    peak_kib: Option<u64>,
}

/// Runs it once unmeasured and then as often as wanted; what the last run gave is told.
fn measured<T>(runs: usize, mut before: impl FnMut(), run: impl Fn() -> T) -> (Took, T) {
    before();
    let mut last = black_box(run());
    let mut seconds = Vec::with_capacity(runs);
    for _ in 0..runs {
        // What the run before gave is let go of outside of the time that is taken.
        drop(last);
        before();
        let began = Instant::now();
        last = black_box(run());
        seconds.push(began.elapsed().as_secs_f64());
    }
    let peak_kib = peak_kib();
    (Took { seconds, peak_kib }, last)
}

fn rows(path: &Path) -> Vec<Row> {
    let decoded = decode::<Row>(File::open(path).unwrap()).unwrap();
    assert!(decoded.problems.is_empty(), "{:?}", decoded.problems);
    decoded.records
}

/// Of each column how many cells are filled, and their sum: of times in milliseconds, of flags those that are true, of
/// words how often each stands.
fn columns(rows: &[Row]) -> Value {
    let mut all = Map::new();
    for column in Row::COLUMNS {
        let (mut filled, mut whole, mut sum) = (0_u64, 0_i128, 0.0);
        let mut words: Map<String, Value> = Map::new();
        for row in rows {
            match (column.get)(row) {
                Cell::Missing => continue,
                Cell::Whole(value) => whole += i128::from(value),
                Cell::Time(value) => whole += i128::from(value),
                Cell::Flag(value) => whole += i128::from(value),
                Cell::Number(value) => sum += value,
                Cell::Text(word) => {
                    let count = words.get(&*word).and_then(Value::as_u64).unwrap_or(0);
                    words.insert(word.into_owned(), json!(count + 1));
                }
            }
            filled += 1;
        }
        let total = match (words.is_empty(), whole) {
            (false, _) => Value::Object(words),
            // The sum of a day's moments is beyond what JSON's readers take for a whole number.
            (true, 0) => json!(sum),
            (true, whole) => json!(whole.to_string()),
        };
        all.insert(column.name.to_owned(), json!([filled, total]));
    }
    Value::Object(all)
}

fn figures(review: &Review) -> Value {
    json!({ "ride": review.ride, "blocks": review.blocks })
}

fn word(name: &str) -> Option<String> {
    std::env::args().find_map(|word| {
        word.strip_prefix(&format!("--{name}="))
            .map(ToOwned::to_owned)
    })
}

fn main() -> ExitCode {
    let (Some(part), Some(folder)) = (word("part"), word("folder").map(PathBuf::from)) else {
        println!("This measures nothing by itself: tests/speed/run says what to do.");
        return ExitCode::SUCCESS;
    };
    let runs = word("runs").map_or(5, |runs| runs.parse().unwrap());
    let rides = folder.join("rides");
    let nothing = || {};
    let (took, result) = match part.as_str() {
        // One file, every column.
        "read" => {
            let path = folder.join("day").join(Row::FILE);
            let (took, rows) = measured(runs, nothing, || rows(&path));
            (took, columns(&rows))
        }
        // The whole review, from what was read.
        "figures" => {
            let ride = read_ride(&folder.join("long")).unwrap();
            let recording = recording(&ride, &[]);
            let (took, review) = measured(runs, nothing, || review(&recording));
            (took, figures(&review))
        }
        // Every length of a day.
        "bests" => {
            let rows = rows(&folder.join("day").join(Row::FILE));
            let pieces = pieces(&rows, |row| row.power.map(Watts::get));
            let (took, means) = measured(runs, nothing, || best_means(&pieces, usize::MAX));
            (took, json!(means))
        }
        // From the index, with every ride's files looked at.
        "list" => {
            let (took, listing) = measured(runs, nothing, || list(&rides));
            assert!(listing.troubles.is_empty(), "{:?}", listing.troubles);
            (took, json!(listing.rides))
        }
        // From the rides themselves.
        "unlisted" => {
            let forget = || {
                let _ = fs::remove_file(rides.join(INDEX));
            };
            let (took, listing) = measured(runs, forget, || list(&rides));
            assert!(listing.troubles.is_empty(), "{:?}", listing.troubles);
            (took, json!(listing.rides))
        }
        "open" => {
            let newest = list(&rides).rides[0].key.clone();
            let (took, opened) = measured(runs, nothing, || open(&rides, &newest).unwrap());
            (
                took,
                json!({ "key": newest, "figures": figures(&opened.review) }),
            )
        }
        // From the list, all of them.
        "weeks" => {
            let listing = list(&rides);
            let (took, (weeks, bests)) = measured(runs, nothing, || {
                (weeks(listing.rides.iter()), bests(listing.rides.iter()))
            });
            (took, json!({ "weeks": weeks, "bests": bests }))
        }
        // What a process takes that does nothing.
        "nothing" => measured(0, nothing, || Value::Null),
        other => {
            eprintln!("There is no part {other}.");
            return ExitCode::FAILURE;
        }
    };
    let told = json!({ "seconds": took.seconds, "peak_kib": took.peak_kib, "result": result });
    println!("{told}");
    ExitCode::SUCCESS
}
