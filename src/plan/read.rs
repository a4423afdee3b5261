//! From a file's text to a plan and every problem in it.

use std::sync::Arc;

use super::fields::{FIELDS, SESSION};
use super::model::{Audience, Plan};
use super::unroll::{Unrolled, read_pieces, unroll};
use super::warn;
use crate::toml_table::{Problem, Problems, Table, Values, decode, parse, read_table};

/// What reading a session gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The session, where there was no error.
    pub plan: Option<Plan>,
    /// Every problem, in the order of the file.
    pub problems: Vec<Problem>,
}

/// Reads a session from a file's bytes.
pub fn read_bytes(bytes: &[u8]) -> Reading {
    match decode(bytes) {
        Ok(text) => read(text),
        Err(problem) => Reading {
            plan: None,
            problems: vec![problem],
        },
    }
}

/// Reads a session from its text: all problems at once, and the plan where none of them is an error.
pub fn read(text: &str) -> Reading {
    // The same bounds, whichever way a text came.
    let text = match decode(text.as_bytes()) {
        Ok(text) => text,
        Err(problem) => {
            return Reading {
                plan: None,
                problems: vec![problem],
            };
        }
    };
    let mut problems = Problems::new(text);
    let mut plan = None;
    if text.trim().is_empty() {
        problems.error(
            0,
            "The file is empty.",
            "Begin with format = 1, a name and a purpose; docs/session-format.md shows a whole session.",
        );
    } else {
        parse(text, &mut problems, |entries, lost_keys, problems| {
            let table = Table { at: 0, entries };
            plan = read_session(table, lost_keys, problems);
        });
    }
    let plan = plan.filter(|_| !problems.has_errors());
    Reading {
        plan,
        problems: problems.finish(),
    }
}

fn read_session(table: Table<'_>, lost_keys: &[String], problems: &mut Problems) -> Option<Plan> {
    let values = read_table(FIELDS, SESSION, table, lost_keys, problems);
    let pieces = read_pieces(values.tables("block"), lost_keys, problems);
    let whole_file_read = !problems.has_errors();
    let unrolled = unroll(&pieces, problems)?;
    if unrolled.is_empty() && whole_file_read {
        problems.error(
            0,
            "The session has no block, so there is nothing to ride.",
            "Add a [[block]] with a kind, a time and an effort.",
        );
    }
    let plan = Plan {
        name: values.text("name").unwrap_or_default(),
        purpose: values.text("purpose").unwrap_or_default(),
        author: values.text("author").unwrap_or_default(),
        audience: match values.word("for") {
            Some("newcomers") => Audience::Newcomers,
            _ => Audience::Everyone,
        },
        blocks: unrolled.iter().map(|one| one.block.clone()).collect(),
        source: Arc::from(problems.text()),
    };
    // Sums over a session of which blocks could not be read would only be wrong as well.
    if whole_file_read {
        check_sums(&plan, &values, problems);
        warn::check(&plan, &unrolled, problems);
    }
    Some(plan)
}

fn check_sums(plan: &Plan, values: &Values, problems: &mut Problems) {
    let sums = [
        ("main", "main part adds", plan.main_length()),
        ("whole", "whole session adds", plan.length()),
    ];
    for (key, adds, found) in sums {
        if let Some(wanted) = values.clock(key).filter(|&wanted| wanted != found) {
            problems.error(
                values.at(key),
                format!("The {adds} up to {found}, and {key} says {wanted}."),
                format!("Write {key} = \"{found}\", or mend the blocks."),
            );
        }
    }
}

/// The blocks with their places in the file, for the warnings.
pub(super) type Placed = [Unrolled];
