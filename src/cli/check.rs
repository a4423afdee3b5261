//! `stillroad check`: what a session file means, and everything that is wrong with it.

mod table;

use std::fmt::Write as _;

use serde::Serialize;
use serde_json::{Value, json};

use crate::plan::{
    self, Audience, Block, Brake, Kind, Load, Plan, Problem, Severity, Target, Timing,
};
use crate::rider::{self, Rider};
use crate::text;
use crate::units::Watts;
use table::{timing_table, totals};

/// The width that the report keeps to, characters.
const WIDTH: usize = 100;

/// A file by its name: its bytes, or the sentence why it cannot be read.
pub type Given = (String, Result<Vec<u8>, String>);

/// Checks session files. Gives the report, as text or as JSON, and whether any file has an error or cannot be read. One
/// that cannot be read does not keep the others from being looked over.
pub fn check(files: &[Given], rider: &Rider, as_json: bool) -> (String, bool) {
    let readings: Vec<_> = files
        .iter()
        .map(|(name, bytes)| (name.as_str(), bytes.as_ref().map(|b| plan::read_bytes(b))))
        .collect();
    let failed = readings.iter().any(|(_, reading)| match reading {
        Ok(reading) => {
            let mut problems = reading.problems.iter();
            problems.any(|problem| problem.severity == Severity::Error)
        }
        Err(_) => true,
    });
    let report = if as_json {
        let files: Vec<Value> = readings
            .iter()
            .map(|(name, reading)| match reading {
                Ok(reading) => file_json(name, reading.plan.as_ref(), &reading.problems, rider),
                Err(why) => {
                    json!({"file": name, "session": null, "problems": [], "trouble": why})
                }
            })
            .collect();
        let whole = json!({"rider": rider.name, "ok": !failed, "files": files});
        format!("{whole:#}\n")
    } else {
        let reports: Vec<String> = readings
            .iter()
            .map(|(name, reading)| match reading {
                Ok(reading) => file_text(name, reading.plan.as_ref(), &reading.problems, rider),
                Err(why) => format!("{name}: {}\n", text::translated(why)),
            })
            .collect();
        reports.join("\n")
    };
    (report, failed)
}

/// What a block means in watts for the rider.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct RiderWatts {
    /// At the block's start.
    from: f64,
    /// At its end.
    to: f64,
    /// Whether the rider's cap holds it lower than the session asks.
    capped: bool,
}

impl RiderWatts {
    /// Nothing where the block has no figure in watts. Caps act where the brake holds watts and nowhere else.
    fn of(block: &Block, rider: &Rider) -> Option<Self> {
        let (from, to) = match block.target {
            Target::Steady(load) => (load, load),
            Target::Line(from, to) => (from, to),
            Target::None => return None,
        };
        let cap = match (block.brake, block.kind) {
            (Brake::Free, _) => Watts(f64::INFINITY),
            (Brake::Held, Kind::Sprint) => rider.sprint_cap,
            (Brake::Held, _) => rider.power_cap,
        };
        let watts = |load: Load| rider::lane(&load, rider);
        let (from, to) = (watts(from)?, watts(to)?);
        Some(Self {
            from: from.min(cap).0,
            to: to.min(cap).0,
            capped: from > cap || to > cap,
        })
    }

    fn text(self) -> String {
        let mark = if self.capped { "*" } else { "" };
        if self.from.round() == self.to.round() {
            format!("{:.0}{mark}", self.from)
        } else {
            say!("{from:.0} to {to:.0}", from = self.from, to = self.to) + mark
        }
    }
}

fn audience(plan: &Plan) -> &'static str {
    match plan.audience {
        Audience::Everyone => "everyone",
        Audience::Newcomers => "newcomers",
    }
}

fn file_json(name: &str, plan: Option<&Plan>, problems: &[Problem], rider: &Rider) -> Value {
    let session = plan.map(|plan| {
        let blocks: Vec<Value> = plan
            .timing()
            .into_iter()
            .zip(&plan.blocks)
            .map(|(row, block)| {
                let watts = RiderWatts::of(block, rider);
                let mut row = json!(row);
                row["watts"] = json!(watts);
                row
            })
            .collect();
        let totals: serde_json::Map<String, Value> = plan
            .totals()
            .into_iter()
            .map(|(kind, span)| (kind.key().to_owned(), json!(span.seconds())))
            .collect();
        json!({
            "name": plan.name,
            "purpose": plan.purpose,
            "author": plan.author,
            "for": audience(plan),
            "main_s": plan.main_length().seconds(),
            "whole_s": plan.length().seconds(),
            "totals_s": totals,
            "blocks": blocks,
        })
    });
    json!({"file": name, "session": session, "problems": problems, "trouble": null})
}

/// A session as text: what it is for, its timing, its totals, and its problems under the file's name.
pub(super) fn file_text(
    name: &str,
    plan: Option<&Plan>,
    problems: &[Problem],
    rider: &Rider,
) -> String {
    let mut text = String::new();
    if let Some(plan) = plan {
        let rows = plan.timing();
        text.push_str(&heading(plan, rider));
        text.push('\n');
        text.push_str(&timing_table(plan, &rows, rider));
        text.push('\n');
        text.push_str(&totals(plan));
        text.push_str(&what_is_said(&rows));
        text.push('\n');
    }
    for problem in problems {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{name}:{problem}");
    }
    let count = |severity| {
        problems
            .iter()
            .filter(|problem| problem.severity == severity)
            .count()
    };
    let errors = count(Severity::Error);
    let warnings = count(Severity::Warning);
    let verdict = match (errors, warnings) {
        (0, 0) => word!("no problems").to_owned(),
        (0, _) => say!(
            "{warnings}; it can be ridden",
            warnings = counted_warnings(warnings)
        ),
        (_, 0) => say!(
            "{errors}; it cannot be ridden yet",
            errors = counted_errors(errors)
        ),
        _ => say!(
            "{errors} and {warnings}; it cannot be ridden yet",
            errors = counted_errors(errors),
            warnings = counted_warnings(warnings)
        ),
    };
    let _ = writeln!(text, "{name}: {verdict}");
    text
}

fn counted_errors(count: usize) -> String {
    match count {
        1 => word!("1 error").to_owned(),
        _ => say!("{count} errors", count),
    }
}

fn counted_warnings(count: usize) -> String {
    match count {
        1 => word!("1 warning").to_owned(),
        _ => say!("{count} warnings", count),
    }
}

fn heading(plan: &Plan, rider: &Rider) -> String {
    let mut text = format!("{}\n{}", plan.name, wrapped(&plan.purpose, 0));
    let mut sentences = Vec::new();
    if !plan.author.is_empty() {
        sentences.push(say!("By {author}.", author = plan.author));
    }
    let audience = match plan.audience {
        Audience::Everyone => word!("For everyone."),
        Audience::Newcomers => word!("For newcomers."),
    };
    sentences.push(audience.to_owned());
    sentences.push(say!(
        "Watts are those of {name}: threshold {threshold}, held to {cap} at most, {sprint_cap} in sprints.",
        name = rider.called(),
        threshold = rider.threshold,
        cap = rider.power_cap,
        sprint_cap = rider.sprint_cap
    ));
    // Only what stands in this sentence is spoken of.
    let shown = ["threshold", "power_cap", "sprint_cap"];
    let unconfirmed: Vec<&str> = rider
        .unconfirmed
        .iter()
        .map(String::as_str)
        .filter(|key| shown.contains(key))
        .collect();
    if !unconfirmed.is_empty() {
        let keys = unconfirmed.join(", ");
        sentences.push(say!("Not confirmed yet, check: {keys}.", keys));
    }
    text.push_str(&wrapped(&sentences.join(" "), 0));
    text
}

/// Text in lines of the report's width, each begun with so many blanks.
fn wrapped(text: &str, indent: usize) -> String {
    let mut lines = String::new();
    let mut width = 0;
    for word in text.split_whitespace() {
        let long = word.chars().count();
        if width > 0 && width + 1 + long > WIDTH {
            lines.push('\n');
            width = 0;
        }
        if width == 0 {
            lines.push_str(&" ".repeat(indent));
            width = indent;
        } else {
            lines.push(' ');
            width += 1;
        }
        lines.push_str(word);
        width += long;
    }
    lines.push('\n');
    lines
}

fn what_is_said(rows: &[Timing]) -> String {
    if rows.iter().all(|row| row.cues.is_empty()) {
        return String::new();
    }
    let mut text = format!(
        "\n{}\n",
        word!("What is said, with the figures as written:")
    );
    for cue in rows.iter().flat_map(|row| &row.cues) {
        let at = format!("{:>7}", cue.at);
        let speaker = cue
            .speaker
            .as_ref()
            .map_or_else(String::new, |name| format!("{name}: "));
        let lines = wrapped(&format!("{speaker}{}", cue.says), 9);
        // The first line's blanks give way to the time.
        text.push_str(&at);
        text.push_str(lines.get(7..).unwrap_or(&lines));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::builtin;

    fn files(given: &[(&str, &str)]) -> Vec<Given> {
        let owned = given.iter();
        owned
            .map(|(name, text)| ((*name).to_owned(), Ok(text.as_bytes().to_vec())))
            .collect()
    }

    #[test]
    fn the_built_in_sessions_fit_a_hundred_columns_and_have_no_problem() {
        for (stem, text) in builtin() {
            let (report, failed) = check(&files(&[(stem, text)]), &Rider::default(), false);
            assert!(!failed);
            assert!(
                report.ends_with(&format!("{stem}: no problems\n")),
                "{report}"
            );
            for line in report.lines() {
                assert!(line.chars().count() <= WIDTH, "{line}");
            }
        }
    }

    const SESSION: &str = "format = 1\nname = \"a\"\npurpose = \"b\"\n[[block]]\nkind = \"hold\"\ntime = \"10:00\"\nwatts = [150, 250]\n[[block]]\nkind = \"sprint\"\ntime = \"0:10\"\neffort = 10\n[[block]]\nkind = \"sprint\"\ntime = \"0:10\"\nwatts = 290\n[[block]]\nkind = \"cool-down\"\ntime = \"4:00\"\neffort = 4\n";

    #[test]
    fn watts_are_the_riders_under_their_caps() {
        // The cautious rider: caps of 200 and 300 W, effort 4 is 55 % of 120 W.
        let (report, failed) = check(&files(&[("s.toml", SESSION)]), &Rider::default(), true);
        assert!(!failed);
        let report: Value = serde_json::from_str(&report).unwrap_or_default();
        let blocks = &report["files"][0]["session"]["blocks"];
        assert_eq!(
            blocks[0]["watts"],
            json!({"from": 150.0, "to": 200.0, "capped": true})
        );
        assert_eq!(blocks[1]["watts"], Value::Null);
        assert_eq!(
            blocks[2]["watts"],
            json!({"from": 290.0, "to": 290.0, "capped": false})
        );
        assert_eq!(
            blocks[3]["watts"]["to"].as_f64().map(f64::round),
            Some(66.0)
        );
        assert_eq!(blocks[3]["start"], 620.0);
        assert_eq!(report["files"][0]["session"]["whole_s"], 860.0);
        assert_eq!(report["files"][0]["session"]["main_s"], 620.0);
        assert_eq!(report["files"][0]["session"]["totals_s"]["sprint"], 20.0);
        // Ten minutes of hold are no warm-up.
        assert_eq!(report["files"][0]["problems"][0]["severity"], "warning");
        assert_eq!(report["files"][0]["problems"][0]["line"], 8);
        assert_eq!(report["ok"], true);
        let (text, _) = check(&files(&[("s.toml", SESSION)]), &Rider::default(), false);
        assert!(text.contains("150 to 200*"), "{text}");
    }

    /// The report shows threshold and both caps, and speaks of those alone.
    #[test]
    fn figures_that_are_shown_and_not_confirmed_are_named() {
        for (unconfirmed, says) in [
            (
                &["threshold", "power_cap", "sprint_cap", "w_prime"][..],
                Some("Not confirmed yet, check: threshold, power_cap, sprint_cap."),
            ),
            (
                &["sprint_cap"],
                Some("Not confirmed yet, check: sprint_cap."),
            ),
            (&["w_prime"], None),
            (&[], None),
        ] {
            let rider = Rider {
                unconfirmed: unconfirmed.iter().map(|&key| key.to_owned()).collect(),
                ..Rider::default()
            };
            let (text, _) = check(&files(&[("s.toml", SESSION)]), &rider, false);
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            match says {
                Some(says) => assert!(text.contains(says), "{text}"),
                None => assert!(!text.contains("confirmed"), "{text}"),
            }
        }
    }

    #[test]
    fn a_file_that_cannot_be_read_is_told_and_the_others_are_looked_over() {
        let mut given = files(&[("s.toml", SESSION), ("t.toml", SESSION)]);
        given.insert(1, ("d.toml".to_owned(), Err("It is a folder.".to_owned())));
        let (text, failed) = check(&given, &Rider::default(), false);
        assert!(failed);
        assert!(text.contains("\nd.toml: It is a folder.\n"), "{text}");
        assert!(
            text.ends_with("t.toml: 1 warning; it can be ridden\n"),
            "{text}"
        );
        let (report, failed) = check(&given, &Rider::default(), true);
        assert!(failed);
        let report: Value = serde_json::from_str(&report).unwrap_or_default();
        assert_eq!(report["ok"], false);
        assert_eq!(
            report["files"][1],
            json!({"file": "d.toml", "session": null, "problems": [], "trouble": "It is a folder."})
        );
        for readable in [0, 2] {
            assert_eq!(report["files"][readable]["trouble"], Value::Null);
            assert_eq!(report["files"][readable]["session"]["whole_s"], 860.0);
        }
    }

    #[test]
    fn problems_are_placed_and_an_error_in_any_file_is_told() {
        let (report, failed) = check(
            &files(&[("good.toml", SESSION), ("bad.toml", "format = 2\n")]),
            &Rider::default(),
            false,
        );
        assert!(failed);
        assert!(report.contains("good.toml:8:1: warning: "), "{report}");
        assert!(
            report.contains("bad.toml:1:10: error: A format of 2 is outside 1 to 1. "),
            "{report}"
        );
        assert!(
            report.ends_with("bad.toml: 4 errors; it cannot be ridden yet\n"),
            "{report}"
        );
    }
}
