//! The conformance page: what the standards ask of a program in the collector's role, row by row, and what came of trying it.
//!
//! The rows stand in `rows.txt`. A test belongs to a row by its name, `c32_one_at_a_time_and_the_newest_next`, and by being
//! listed in its module's `trials!`. The page is made by running every such function here, in this process, and looking
//! what becomes of it, so that nothing is said to pass that did not pass in this run. What only a real Bluetooth stack shows
//! is taken from `tests/bench/rows.json`, which the bench writes and is compared with at each of its runs.
//!
//! `STILLROAD_WRITE_DOCS=1 cargo test --test it conformance` writes `docs/conformance.md` anew.

mod control;
mod finding;
mod link;
mod page;
mod peripheral;
mod planted;
mod records;
mod sensors;
mod setup;

use std::collections::BTreeMap;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use page::{Outcome, Row, judge};

/// A test that tries rows of the checklist: which rows, its name says.
#[derive(Clone, Copy)]
pub struct Trial {
    pub name: &'static str,
    pub run: fn(),
}

impl Trial {
    /// The rows that the name begins with: 2 and 3 of `c2_c3_service_data`.
    fn rows(&self) -> Vec<u8> {
        let function = self.name.rsplit("::").next().unwrap_or_default();
        function.split('_').map_while(row_of).collect()
    }
}

fn row_of(part: &str) -> Option<u8> {
    part.strip_prefix('c')?.parse().ok()
}

/// Lists the tests of a module that try rows of the checklist.
macro_rules! trials {
    ($($name:ident),* $(,)?) => {
        pub const TRIALS: &[$crate::conformance::Trial] = &[
            $($crate::conformance::Trial {
                name: concat!(module_path!(), "::", stringify!($name)),
                run: $name,
            }),*
        ];
    };
}
pub(crate) use trials;

/// The checklist.
fn rows() -> Vec<Row> {
    let text = fs::read_to_string(at_home("tests/it/conformance/rows.txt")).unwrap();
    // Rows hold pieces of it for as long as the tests run.
    page::read_rows(text.leak())
}

/// Every module with trials.
fn all_trials() -> Vec<Trial> {
    let own = [
        control::TRIALS,
        finding::TRIALS,
        link::TRIALS,
        records::TRIALS,
        sensors::TRIALS,
        setup::TRIALS,
    ];
    let modules = own
        .iter()
        .chain(crate::control::TRIALS)
        .chain(crate::gatt::TRIALS);
    modules.flat_map(|trials| trials.iter().copied()).collect()
}

/// Runs a trial and says what became of it.
fn outcome(trial: &Trial) -> Outcome {
    Outcome {
        name: trial.name.trim_start_matches("it::").to_owned(),
        rows: trial.rows(),
        passed: catch_unwind(AssertUnwindSafe(trial.run)).is_ok(),
    }
}

fn at_home(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The rows that passed on the bench, with the cases that showed them.
fn bench_rows() -> BTreeMap<String, Vec<String>> {
    serde_json::from_str(&fs::read_to_string(at_home("tests/bench/rows.json")).unwrap()).unwrap()
}

/// The page is what the run gives.
#[test]
fn the_conformance_page_says_what_this_run_gave() {
    let outcomes: Vec<Outcome> = all_trials().iter().map(outcome).collect();
    let (made, faults) = judge(&rows(), &outcomes, &bench_rows());
    let path = at_home("docs/conformance.md");
    if std::env::var_os("STILLROAD_WRITE_DOCS").is_some() {
        fs::write(&path, &made).unwrap();
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    let kept = fs::read_to_string(path).unwrap();
    let differs = kept
        .lines()
        .zip(made.lines())
        .find(|(kept, made)| kept != made);
    assert!(
        kept == made,
        "docs/conformance.md is out of date; the first line that differs: {differs:?}"
    );
}

/// A test that is named after a row and not listed would try it unseen.
#[test]
fn every_test_that_is_named_after_a_row_is_listed() {
    let listed: Vec<String> = all_trials()
        .iter()
        .filter_map(|trial| trial.name.rsplit("::").next().map(str::to_owned))
        .collect();
    let mut named = Vec::new();
    functions(&at_home("tests/it"), &mut named);
    assert!(named.len() > 50, "{}", named.len());
    let unlisted: Vec<_> = named.iter().filter(|name| !listed.contains(name)).collect();
    assert!(unlisted.is_empty(), "in no trials!: {unlisted:?}");
}

/// The names of functions that begin like a row's, in all files under a folder.
fn functions(folder: &Path, named: &mut Vec<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            functions(&path, named);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            let text = fs::read_to_string(&path).unwrap();
            let found = text
                .lines()
                .filter_map(|line| line.trim_start().strip_prefix("fn "))
                .filter_map(|rest| rest.split('(').next())
                .filter(|name| name.split('_').next().and_then(row_of).is_some());
            named.extend(found.map(str::to_owned));
        }
    }
}
