//! From a file's text to a plan and every problem in it.

use std::sync::Arc;

use super::fields::{FIELDS, SESSION};
use super::model::{Audience, Brake, Kind, Load, Plan, Target, ThresholdTest};
use super::unroll::{Piece, Unrolled, read_pieces, unroll};
use super::warn;
use crate::text::Language;
use crate::time::Span;
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
            word!("The file is empty."),
            word!("Begin with format = 1, a name and a purpose; docs/session-format.md shows a whole session."),
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

/// The blocks and sets of a session's text; nothing where one of them has an error.
pub(super) fn read_pieces_of(text: &str) -> Option<Vec<Piece>> {
    let mut problems = Problems::new(text);
    let mut pieces = Vec::new();
    parse(text, &mut problems, |entries, lost_keys, problems| {
        let table = Table { at: 0, entries };
        let values = read_table(FIELDS, SESSION, table, lost_keys, problems);
        pieces = read_pieces(
            values.tables("block"),
            lost_keys,
            language(&values),
            problems,
        );
    });
    (!problems.has_errors()).then_some(pieces)
}

/// In which language a session's words are.
fn language(values: &Values) -> Language {
    let code = values.word("language");
    code.and_then(Language::from_code).unwrap_or_default()
}

fn read_session(table: Table<'_>, lost_keys: &[String], problems: &mut Problems) -> Option<Plan> {
    let values = read_table(FIELDS, SESSION, table, lost_keys, problems);
    let language = language(&values);
    let pieces = read_pieces(values.tables("block"), lost_keys, language, problems);
    let whole_file_read = !problems.has_errors();
    let unrolled = unroll(&pieces, problems)?;
    if unrolled.is_empty() && whole_file_read {
        problems.error(
            0,
            word!("The session has no block, so there is nothing to ride."),
            word!("Add a [[block]] with a kind, a time and an effort."),
        );
    }
    let plan = Plan {
        name: values.text("name").unwrap_or_default(),
        purpose: values.text("purpose").unwrap_or_default(),
        author: values.text("author").unwrap_or_default(),
        language,
        audience: match values.word("for") {
            Some("newcomers") => Audience::Newcomers,
            _ => Audience::Everyone,
        },
        test: values.word("test").map(|word| match word {
            "step" => ThresholdTest::Step,
            _ => ThresholdTest::ThreeMinutes,
        }),
        blocks: unrolled.iter().map(|one| one.block.clone()).collect(),
        source: Arc::from(problems.text()),
        fitted: None,
    };
    // Sums over a session of which blocks could not be read would only be wrong as well.
    if whole_file_read {
        check_sums(&plan, &values, problems);
        check_test(&plan, &values, problems);
        warn::check(&plan, &unrolled, problems);
    }
    Some(plan)
}

fn check_sums(plan: &Plan, values: &Values, problems: &mut Problems) {
    let sums = [("main", plan.main_length()), ("whole", plan.length())];
    for (key, found) in sums {
        if let Some(wanted) = values.clock(key).filter(|&wanted| wanted != found) {
            let what = if key == "main" {
                say!(
                    "The main part adds up to {found}, and main says {wanted}.",
                    found,
                    wanted
                )
            } else {
                say!(
                    "The whole session adds up to {found}, and whole says {wanted}.",
                    found,
                    wanted
                )
            };
            let given = format!("{key} = \"{found}\"");
            problems.error(
                values.at(key),
                what,
                say!("Write {given}, or mend the blocks.", given),
            );
        }
    }
}

/// The fewest steps of a step test.
const LEAST_STEPS: usize = 5;
/// How long the all-out test is.
const ALL_OUT: Span = Span::from_seconds(180);

/// What a threshold test measures must be what it says, or its result would mean nothing.
fn check_test(plan: &Plan, values: &Values, problems: &mut Problems) {
    let tested: Vec<usize> = (0..plan.blocks.len())
        .filter(|&block| plan.is_tested(block))
        .collect();
    let blocks: Vec<_> = tested.iter().map(|&block| &plan.blocks[block]).collect();
    let wrong = match plan.test {
        None => None,
        Some(ThresholdTest::Step) => {
            let share = |target: Target| match target {
                Target::Steady(load @ (Load::Threshold(_) | Load::Effort(_) | Load::Power(_))) => {
                    Some(load.value())
                }
                _ => None,
            };
            let follow = tested.windows(2).all(|pair| pair[1] == pair[0] + 1);
            let rise = blocks
                .windows(2)
                .all(|pair| share(pair[0].target) < share(pair[1].target));
            let steady = blocks.iter().all(|block| share(block.target).is_some());
            (tested.len() < LEAST_STEPS || !follow || !rise || !steady).then_some((
                word!("The steps of a step test are five holds at least that follow one another, each steady and harder than the one before."),
                word!("Mend the holds, or take `test` out."),
            ))
        }
        Some(ThresholdTest::ThreeMinutes) => {
            let right = matches!(blocks.as_slice(), [one] if one.length == ALL_OUT && one.brake == Brake::Free && !one.stretch);
            (!right).then_some((
                word!("A three-minute test has one sprint, of 3:00, against a resistance that stands."),
                word!("Give it a level, or an effort of 10 with brake = \"free\", and take every other sprint out."),
            ))
        }
    };
    if let Some((what, instead)) = wrong {
        problems.error(values.at("test"), what, instead);
    }
    let last = tested.last().and_then(|&last| plan.blocks.get(last + 1));
    if plan.test.is_some()
        && wrong.is_none()
        && !last.is_some_and(|next| matches!(next.kind, Kind::Recovery | Kind::CoolDown))
    {
        problems.error(
            values.at("test"),
            word!(
                "Nothing easy follows the test, and legs that stop dead after it bring faintness."
            ),
            word!("Put a recovery or a cool-down behind it."),
        );
    }
    if plan.test.is_some() && plan.audience == Audience::Newcomers {
        problems.error(
            values.at("test"),
            word!("A threshold test is a maximal effort, and this session is for newcomers."),
            word!("Take `test` out, or write the session for everyone."),
        );
    }
}

/// The blocks with their places in the file, for the warnings.
pub(super) type Placed = [Unrolled];
