//! Rows and results put together: the page, and everything about them that is not right.

use std::collections::BTreeMap;

/// How strongly the standard asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strength {
    Must,
    Should,
    May,
}

/// Where a row is tried, or why it is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tried {
    /// By tests in virtual time, octets at the seam.
    Core,
    /// By rides through a real Bluetooth stack.
    Bench,
    /// By both.
    Both,
    /// It is the work of the operating system's stack, on which the program has no hold; why, in a sentence.
    Stack(&'static str),
    /// It binds no program like this one; why, in a sentence.
    NotForUs(&'static str),
    /// The program does not do it; why, in a sentence.
    NotDone(&'static str),
}

/// A row of the checklist.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    pub id: u8,
    /// What is asked, in our own words.
    pub asks: &'static str,
    pub strength: Strength,
    /// The text binds the machine, and the collector's side is concluded from it.
    pub concluded: bool,
    /// The text was not at hand: written from memory.
    pub from_memory: bool,
    pub section: &'static str,
    pub tried: Tried,
    /// Where the program goes another way than the row's plain reading; empty where it does not.
    pub note: &'static str,
}

/// Reads the checklist: a row a line, its fields between bars: row, strength, section, where it is tried, what it asks, and a
/// note where the program goes another way. Lines that begin with # are remarks.
pub fn read_rows(text: &'static str) -> Vec<Row> {
    let lines = text
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'));
    lines.map(read_row).collect()
}

fn read_row(line: &'static str) -> Row {
    let fields: Vec<&str> = line.split('|').map(str::trim).collect();
    let [id, strength, section, tried, asks, note] = fields[..] else {
        panic!("six fields between bars: {line}");
    };
    let (word, why) = tried.split_once(": ").unwrap_or((tried, ""));
    Row {
        id: id.strip_prefix('C').unwrap().parse().unwrap(),
        asks,
        strength: match strength.trim_end_matches(['*', '~', ' ']) {
            "must" => Strength::Must,
            "should" => Strength::Should,
            "may" => Strength::May,
            other => panic!("{other} in {line}"),
        },
        concluded: strength.contains('*'),
        from_memory: strength.contains('~'),
        section,
        tried: match (word, why) {
            ("core", "") => Tried::Core,
            ("bench", "") => Tried::Bench,
            ("both", "") => Tried::Both,
            ("stack", why) if !why.is_empty() => Tried::Stack(why),
            ("not for us", why) if !why.is_empty() => Tried::NotForUs(why),
            ("not done", why) if !why.is_empty() => Tried::NotDone(why),
            _ => panic!("{tried} in {line}"),
        },
        note,
    }
}

/// What became of one test.
#[derive(Clone, Debug)]
pub struct Outcome {
    pub name: String,
    pub rows: Vec<u8>,
    pub passed: bool,
}

/// The checklist has these rows, each once.
pub const ROWS: u8 = 85;

const HEAD: &str = "\
# Conformance

What the Bluetooth SIG's standards ask of a program in the collector's role, and what came of trying it here. This page is
made by the tests: each row says where it is tried, and a row is only said to pass if it passed in the run that the page was
compared with (`cargo test --test it conformance`; the rows of the bench in `tests/bench/run`).

**P** is the Fitness Machine Profile 1.0, **S** the Fitness Machine Service 1.0.1, **D** the published definitions of the
Cycling Power and the Cycling Speed and Cadence services, **H**, **CP** and **CS** the Heart Rate, Cycling Power and Cycling
Speed and Cadence services and profiles. The rows of H, CP and CS that are marked ~ are written **from memory**: these texts
were not at hand, and nobody should cite them from here. A star marks what the text asks of the machine, or only implies;
the collector's side is then our conclusion. Op codes, statuses, results and errors are hexadecimal.

*Core* is the whole program in virtual time, with octets at the seam where the radio stands otherwise. *Bench* is the
program itself over a real Bluetooth stack, in the case named. *Stack* is left to the operating system's Bluetooth stack:
the program has no hold on it, and it is not tried here.

";

/// The page, and what is wrong with rows and results.
pub fn judge(
    rows: &[Row],
    outcomes: &[Outcome],
    bench: &BTreeMap<String, Vec<String>>,
) -> (String, Vec<String>) {
    let mut faults = Vec::new();
    let ids: Vec<u8> = rows.iter().map(|row| row.id).collect();
    if ids != (1..=ROWS).collect::<Vec<u8>>() {
        faults.push(format!(
            "the rows are not C1 to C{ROWS}, each once and in order"
        ));
    }
    for outcome in outcomes {
        if outcome.rows.is_empty() {
            faults.push(format!("{} tries no row", outcome.name));
        }
        for id in outcome.rows.iter().filter(|id| !ids.contains(id)) {
            faults.push(format!("{} tries C{id}, which is no row", outcome.name));
        }
    }
    let mut lines = Vec::new();
    let mut tally: BTreeMap<&str, usize> = BTreeMap::new();
    for row in rows {
        let (result, places) = verdict(row, outcomes, bench, &mut faults);
        *tally.entry(result).or_default() += 1;
        lines.push(line(row, result, &places));
    }
    for id in bench.keys() {
        let known = rows.iter().any(|row| {
            format!("C{}", row.id) == *id && matches!(row.tried, Tried::Bench | Tried::Both)
        });
        if !known {
            faults.push(format!("the bench tried {id}, and its row does not say so"));
        }
    }
    let count = |result| tally.get(result).copied().unwrap_or_default();
    let sum = format!(
        "Of {} rows {} pass, {} fail; left to the stack: {}, not applying: {}, not done: {}.\n\n\
         | row | asks | strength | section | result | tried by, or why not |\n|---|---|---|---|---|---|\n",
        rows.len(),
        count("passes"),
        count("FAILS"),
        count("stack"),
        count("does not apply"),
        count("not done")
    );
    (format!("{HEAD}{sum}{}\n", lines.join("\n")), faults)
}

fn verdict(
    row: &Row,
    outcomes: &[Outcome],
    bench: &BTreeMap<String, Vec<String>>,
    faults: &mut Vec<String>,
) -> (&'static str, Vec<String>) {
    let tests: Vec<&Outcome> = outcomes
        .iter()
        .filter(|outcome| outcome.rows.contains(&row.id))
        .collect();
    let failed: Vec<&str> = tests
        .iter()
        .filter(|outcome| !outcome.passed)
        .map(|outcome| outcome.name.as_str())
        .collect();
    for name in &failed {
        faults.push(format!("C{}: {name} failed", row.id));
    }
    let cases = bench
        .get(&format!("C{}", row.id))
        .cloned()
        .unwrap_or_default();
    let (core, on_bench) = match row.tried {
        Tried::Core => (true, false),
        Tried::Bench => (false, true),
        Tried::Both => (true, true),
        Tried::Stack(why) | Tried::NotForUs(why) | Tried::NotDone(why) => {
            // What a test shows besides, in part, is named; the row is not said to pass for it.
            let mut places = vec![why.to_owned()];
            places.extend(tests.iter().map(|test| format!("see also `{}`", test.name)));
            let result = match row.tried {
                Tried::Stack(_) => "stack",
                Tried::NotDone(_) => "not done",
                _ => "does not apply",
            };
            return (result, places);
        }
    };
    let mut missing = false;
    if core && tests.is_empty() {
        faults.push(format!("C{}: no test tries it", row.id));
        missing = true;
    }
    if on_bench && cases.is_empty() {
        faults.push(format!("C{}: no case of the bench tried it", row.id));
        missing = true;
    }
    let mut places: Vec<String> = tests
        .iter()
        .map(|test| format!("`{}`", test.name))
        .collect();
    places.extend(cases.iter().map(|case| format!("bench, *{case}*")));
    let result = if missing || !failed.is_empty() {
        "FAILS"
    } else {
        "passes"
    };
    (result, places)
}

fn line(row: &Row, result: &str, places: &[String]) -> String {
    let strength = match row.strength {
        Strength::Must => "must",
        Strength::Should => "should",
        Strength::May => "may",
    };
    let star = if row.concluded { "*" } else { "" };
    let memory = if row.from_memory { " ~" } else { "" };
    let mut told = places.join("; ");
    if !row.note.is_empty() {
        told = format!("{}: {told}", row.note.trim_end_matches('.'));
    }
    // A star would be read as emphasis.
    format!(
        "| C{} | {} | {strength}{}{memory} | {} | {result} | {told} |",
        row.id,
        row.asks,
        star.replace('*', "\\*"),
        row.section
    )
}
