//! Breaches that are planted on purpose: the page would be worth nothing if it did not notice them.

use std::collections::BTreeMap;

use super::page::{Outcome, Row, Tried, judge};
use super::{Trial, bench_rows, outcome, rows};

/// Every row of the core tried by a test that passes, and every row of the bench by a case.
fn all_well(rows: &[Row]) -> (Vec<Outcome>, BTreeMap<String, Vec<String>>) {
    let outcomes = rows
        .iter()
        .filter(|row| matches!(row.tried, Tried::Core | Tried::Both))
        .map(|row| Outcome {
            name: format!("c{}_it_does", row.id),
            rows: vec![row.id],
            passed: true,
        });
    let cases = rows
        .iter()
        .filter(|row| matches!(row.tried, Tried::Bench | Tried::Both))
        .map(|row| (format!("C{}", row.id), vec!["plain".to_owned()]));
    (outcomes.collect(), cases.collect())
}

#[test]
fn without_a_breach_nothing_is_found() {
    let (outcomes, cases) = all_well(&rows());
    let (page, faults) = judge(&rows(), &outcomes, &cases);
    assert_eq!(faults, Vec::<String>::new());
    assert!(page.contains(" 0 fail;"), "{page}");
}

#[test]
fn a_row_that_no_test_tries_fails() {
    let (mut outcomes, cases) = all_well(&rows());
    outcomes.retain(|outcome| outcome.rows != [32]);
    let (page, faults) = judge(&rows(), &outcomes, &cases);
    assert_eq!(faults, ["C32: no test tries it"]);
    assert!(page.contains(" 1 fail;"), "{page}");
    assert!(
        page.lines()
            .any(|line| line.starts_with("| C32 ") && line.contains("| FAILS |"))
    );
}

#[test]
fn a_row_that_was_not_tried_on_the_bench_fails() {
    let mut rows = rows();
    rows[28].tried = Tried::Bench;
    let (outcomes, mut cases) = all_well(&rows);
    let (_, faults) = judge(&rows, &outcomes, &cases);
    assert_eq!(faults, Vec::<String>::new());
    cases.remove("C29");
    let (page, faults) = judge(&rows, &outcomes, &cases);
    assert_eq!(faults, ["C29: no case of the bench tried it"]);
    assert!(
        page.lines()
            .any(|line| line.starts_with("| C29 ") && line.contains("| FAILS |"))
    );
    // And one that it tried although the row does not say so is noticed.
    let (outcomes, mut cases) = all_well(&rows);
    cases.insert("C46".to_owned(), vec!["plain".to_owned()]);
    let (_, faults) = judge(&rows, &outcomes, &cases);
    assert_eq!(faults, ["the bench tried C46, and its row does not say so"]);
}

/// A test that fails is run like the others and found out, by name.
#[test]
fn a_test_that_fails_fails_its_row() {
    fn planted() {
        assert_eq!(1 + 1, 3, "planted: this test is to fail");
    }
    let planted = outcome(&Trial {
        name: "it::conformance::planted::c33_planted",
        run: planted,
    });
    let (mut outcomes, cases) = all_well(&rows());
    outcomes.push(planted);
    let (page, faults) = judge(&rows(), &outcomes, &cases);
    assert_eq!(faults, ["C33: conformance::planted::c33_planted failed"]);
    assert!(
        page.lines()
            .any(|line| line.starts_with("| C33 ") && line.contains("| FAILS |"))
    );
}

#[test]
fn a_row_that_is_missing_or_unknown_is_noticed() {
    let (outcomes, cases) = all_well(&rows());
    let (_, faults) = judge(&rows()[..84], &outcomes, &cases);
    assert!(faults[0].contains("C1 to C85"), "{faults:?}");
    let (mut outcomes, cases) = all_well(&rows());
    outcomes.push(Outcome {
        name: "c86_it_does".to_owned(),
        rows: vec![86],
        passed: true,
    });
    let (_, faults) = judge(&rows(), &outcomes, &cases);
    assert_eq!(faults, ["c86_it_does tries C86, which is no row"]);
}

/// What is kept of the bench is read as it is written.
#[test]
fn the_rows_of_the_bench_have_cases() {
    assert!(bench_rows().values().all(|cases| !cases.is_empty()));
}
