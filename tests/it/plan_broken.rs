//! Broken session files: every key in turn, and every bound.

use stillroad::plan::{self, Brake, Severity};

use crate::plan::{EVERY_KEY, problems_of};

/// That a text has an error on a line which says what is wrong and what would be right.
#[track_caller]
pub fn refused(text: &str, line: usize, what: &str, instead: &str) {
    let reading = plan::read(text);
    assert!(reading.plan.is_none(), "read in spite of it:\n{text}");
    let found = reading.problems.iter().any(|problem| {
        problem.severity == Severity::Error
            && problem.line == line
            && problem.what.contains(what)
            && problem.instead.contains(instead)
    });
    assert!(
        found,
        "wanted {line}: {what} / {instead}\n{:#?}",
        reading.problems
    );
}

/// The line of the first occurrence of a piece of the text.
fn line_of(text: &str, piece: &str) -> usize {
    1 + text[..text.find(piece).unwrap()].matches('\n').count()
}

/// Every key made wrong in turn: what the line was, what it becomes, what is said of it.
#[test]
fn every_key_broken_in_turn_is_refused_on_its_line() {
    for (was, becomes, what, instead) in [
        (
            "format = 1",
            "format = 2",
            "A format of 2 is outside 1 to 1",
            "format = 1",
        ),
        (
            "name = \"Every key\"",
            "name = 7",
            "takes text in quotes",
            "name = ",
        ),
        (
            "purpose = \"Each",
            "purpose = \"\u{202e}Each",
            "hidden character U+202E",
            "Take it out",
        ),
        (
            "author = \"The boathouse\"",
            "author = \"\"",
            "is empty",
            "author = ",
        ),
        (
            "for = \"everyone\"",
            "for = \"newcommers\"",
            "does not know the word",
            "\"newcomers\"",
        ),
        (
            "main = \"11:10\"",
            "main = \"11:00\"",
            "adds up to 11:10",
            "main = \"11:10\"",
        ),
        (
            "whole = \"22:10\"",
            "whole = \"7:00:00\"",
            "outside 0:01 to 6:00:00",
            "whole = ",
        ),
        (
            "kind = \"warm-up\"",
            "kind = \"warmup\"",
            "does not know the word",
            "\"warm-up\"",
        ),
        (
            "name = \"Quay\"",
            "name = [\"Quay\"]",
            "this is a list",
            "name = ",
        ),
        (
            "time = \"8:00\"",
            "time = 8",
            "bare number",
            "time = \"10:00\"",
        ),
        (
            "time = \"8:00\"",
            "time = 00:08:00",
            "without quotes",
            "time = \"00:08:00\"",
        ),
        (
            "time = \"8:00\"",
            "time = \"8:99\"",
            "not a length of time",
            "\"9:39\"",
        ),
        (
            "time = \"8:00\"",
            "time = \"5:00:00\"",
            "outside 0:01 to 4:00:00",
            "time = ",
        ),
        (
            "effort = [2, 4]",
            "effort = [2, 14]",
            "An effort of 14 is outside 0 to 10",
            "effort = ",
        ),
        (
            "effort = [2, 4]",
            "effort = [2, 4, 6]",
            "has 3 figures and not 2",
            "effort = ",
        ),
        (
            "effort = [2, 4]",
            "effort = \"4\"",
            "text in quotes",
            "effort = 4",
        ),
        (
            "threshold = 0.85",
            "threshold = 85",
            "outside 0 to 3",
            "85 % is written as 0.85",
        ),
        (
            "threshold = 0.85",
            "threshold = \"85 %\"",
            "text in quotes",
            "threshold = 0.85",
        ),
        ("watts = 80", "watts = -80", "A power of -80 W", "watts = "),
        (
            "level = 0.3",
            "level = 30",
            "outside 0 to 1",
            "30 % is written as 0.3",
        ),
        (
            "slope = [1.0, 4.0]",
            "slope = 45",
            "A slope of 45 %",
            "slope = ",
        ),
        (
            "slope = [1.0, 4.0]",
            "slope = [1.0, nan]",
            "NaN",
            "slope = ",
        ),
        (
            "cadence = [80, 90]",
            "cadence = [90, 80]",
            "begins with its higher",
            "cadence = [80, 90]",
        ),
        (
            "cadence = [80, 90]",
            "cadence = \"80-90\"",
            "takes a number",
            "cadence = [80, 90]",
        ),
        (
            "cadence = 90",
            "cadence = 300",
            "A cadence of 300 rpm",
            "cadence = ",
        ),
        (
            "position = \"seated\"",
            "position = \"sitting\"",
            "does not know the word",
            "seated",
        ),
        (
            "build_up = \"0:05\"",
            "build_up = \"9:00\"",
            "outside 0:00 to 2:00",
            "build_up = ",
        ),
        (
            "stretch = true",
            "stretch = \"yes\"",
            "takes true or false",
            "stretch = true",
        ),
        (
            "cut = true",
            "cut = 1",
            "takes true or false",
            "cut = false",
        ),
        (
            "brake = \"free\"",
            "brake = \"off\"",
            "does not know the word",
            "held or free",
        ),
        (
            "repeat = 2",
            "repeat = 0",
            "A number of repeats of 0",
            "repeat = 4",
        ),
        ("repeat = 2", "repeat = 1.5", "whole number", "repeat = 4"),
        (
            "at = \"0:30\"",
            "at = \"30 s\"",
            "not a length of time",
            "0:30",
        ),
        (
            "before_end = \"0:10\"",
            "before_end = 10",
            "bare number",
            "before_end = \"0:10\"",
        ),
        (
            "kind = \"do\"",
            "kind = \"dow\"",
            "does not know the word",
            "\"do\"",
        ),
        (
            "speaker = \"Lamp keeper\"",
            "speaker = false",
            "takes text",
            "speaker = ",
        ),
        (
            "say = \"Settle",
            "say = \"{lefft} Settle",
            "no field `lefft`",
            "{left}",
        ),
        (
            "say = \"Settle",
            "say = \"{ Settle",
            "There is no field",
            "Fields are",
        ),
        ("say = \"Settle", "say = \"} Settle", "no partner", "{left}"),
        // Keys that nobody knows, or that stand in the wrong place.
        (
            "cadence = 90",
            "cadance = 90",
            "`cadance` is not a key of a block",
            "`cadence`",
        ),
        (
            "time = \"8:00\"",
            "duration = \"8:00\"",
            "`duration` is not a key",
            "`time`",
        ),
        (
            "cut = true",
            "sandwich = true",
            "`sandwich` is not a key",
            "Its keys are",
        ),
        (
            "cut = true",
            "say = \"Hello\"",
            "does not belong in a block",
            "a cue",
        ),
        (
            "repeat = 2",
            "repeat = 2\ntime = \"1:00\"",
            "does not belong in a set",
            "a block",
        ),
        // What one key asks of another.
        ("cadence = 90", "effort = 7", "twice", "line"),
        (
            "cut = true",
            "brake = \"free\"",
            "Only a sprint",
            "level or a slope",
        ),
        (
            "stretch = true",
            "cut = true",
            "may not be left out",
            "Take `cut` out",
        ),
        (
            "build_up = \"0:05\"",
            "build_up = \"0:05\"\ntime = \"9:00\"",
            "a second time",
            "Keep one",
        ),
        (
            "speaker = \"Lamp keeper\"",
            "before_end = \"0:10\"",
            "placed twice",
            "Keep one",
        ),
    ] {
        let text = EVERY_KEY.replacen(was, becomes, 1);
        assert_ne!(text, EVERY_KEY, "{was}");
        // The fault stands on the last line of the replacement.
        let line = line_of(EVERY_KEY, was) + becomes.matches('\n').count();
        refused(&text, line, what, instead);
    }
}

#[test]
fn a_required_key_that_is_missing_is_named_at_its_table() {
    for (gone, line, key) in [
        ("format = 1\n", 1, "`format`"),
        ("name = \"Every key\"\n", 1, "`name`"),
        (
            "purpose = \"Each key of the format once, all correct.\"\n",
            1,
            "`purpose`",
        ),
        ("kind = \"warm-up\"\n", 9, "`kind`"),
        ("time = \"8:00\"\n", 9, "`time`"),
        ("effort = [2, 4]\n", 9, "how hard"),
        ("at = \"0:30\"\n", 19, "when it is due"),
        ("kind = \"do\"\n", 19, "`kind`"),
        (
            "say = \"Settle in. {left} to go, then {next.time} at {next.effort}.\"\n",
            19,
            "`say`",
        ),
    ] {
        let text = EVERY_KEY.replacen(gone, "", 1);
        assert_ne!(text, EVERY_KEY, "{gone}");
        // Removing a line of the root moves nothing that is named here: its table begins on line 1.
        refused(&text, line, key, "");
    }
    refused(
        "format = 1\nname = \"a\"\npurpose = \"b\"\n",
        1,
        "`block`",
        "[[block]]",
    );
}

#[test]
fn what_a_target_needs_of_its_kind_is_told() {
    let block = |body: &str| {
        format!(
            "format = 1\nname = \"a\"\npurpose = \"b\"\n[[block]]\n{body}\n[[block]]\nkind = \"cool-down\"\ntime = \"3:00\"\neffort = 2\n"
        )
    };
    refused(
        &block("kind = \"free\"\ntime = \"1:00\"\neffort = 3"),
        7,
        "asks for nothing",
        "a hold",
    );
    refused(
        &block("kind = \"free\"\ntime = \"1:00\"\nbuild_up = \"0:10\""),
        7,
        "no load",
        "Take",
    );
    refused(
        &block("kind = \"hold\"\ntime = \"1:00\"\neffort = 9.5"),
        7,
        "all out",
        "up to 9",
    );
    refused(
        &block("kind = \"sprint\"\ntime = \"0:10\"\nlevel = 0.3\nbrake = \"held\""),
        8,
        "cannot hold",
        "free",
    );
    refused(
        &block("kind = \"hold\"\ntime = \"0:05\"\neffort = 3\nbuild_up = \"0:10\""),
        8,
        "longer than its block",
        "shorter",
    );
    refused(
        &block("kind = \"hold\"\ntime = \"1:00\"\neffort = 3\nwatts = [1, 2]"),
        8,
        "unlike targets",
        "one sort",
    );

    // The rule for who makes the watts where the file does not say: all out up to 15 s is free.
    for (body, brake) in [
        (
            "kind = \"sprint\"\ntime = \"0:15\"\neffort = 10",
            Brake::Free,
        ),
        (
            "kind = \"sprint\"\ntime = \"0:16\"\neffort = 10",
            Brake::Held,
        ),
        (
            "kind = \"sprint\"\ntime = \"0:10\"\neffort = 10\nbrake = \"held\"",
            Brake::Held,
        ),
        (
            "kind = \"sprint\"\ntime = \"0:10\"\neffort = 9",
            Brake::Held,
        ),
        (
            "kind = \"sprint\"\ntime = \"0:10\"\nwatts = 400",
            Brake::Held,
        ),
        (
            "kind = \"sprint\"\ntime = \"0:30\"\neffort = 10\nbrake = \"free\"",
            Brake::Free,
        ),
        ("kind = \"hold\"\ntime = \"0:30\"\nlevel = 0.2", Brake::Free),
        ("kind = \"free\"\ntime = \"0:30\"", Brake::Free),
    ] {
        let plan = plan::read(&block(body)).plan.unwrap();
        assert_eq!(plan.blocks[0].brake, brake, "{body}");
    }
}

#[test]
fn all_problems_come_at_once_even_past_broken_lines() {
    let text = "format = 1\nname = \"A\npurpose = \"b\"\n[[block]\nkind = \"hold\"\n[[block]]\nkind = hold\ntime = 10:00\nfoo\neffort = [2, 4\ncadence = 999\n[[block]]\nkind = \"hold\"\ntime = \"0:30\"\nefort = 7\n[block]\n";
    let lines: Vec<usize> = problems_of(text)
        .iter()
        .map(|problem| problem.line)
        .collect();
    for line in [2, 4, 7, 8, 9, 10, 11, 15, 16] {
        assert!(
            lines.contains(&line),
            "line {line}: {:#?}",
            problems_of(text)
        );
    }
}
