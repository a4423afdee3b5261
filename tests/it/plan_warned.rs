//! Sessions that can be ridden but should be looked at, and cues that could never be filled.

use stillroad::plan::{self, Severity};

use crate::plan::{EVERY_KEY, problems_of};
use crate::plan_broken::refused;

/// A session that is all right, of which each case spoils one thing.
fn warned(change: impl Fn(&str) -> String) -> Vec<(usize, String)> {
    let good = "format = 1\nname = \"a\"\npurpose = \"b\"\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\neffort = 3\n[[block.cue]]\nat = \"1:00\"\nkind = \"do\"\nsay = \"One two three four five.\"\n[[block]]\nkind = \"hold\"\ntime = \"2:00\"\neffort = 8\n[[block]]\nkind = \"cool-down\"\ntime = \"3:00\"\neffort = 2\n";
    assert_eq!(problems_of(good), []);
    let reading = plan::read(&change(good));
    assert!(
        reading.plan.is_some(),
        "a warning must not refuse: {:?}",
        reading.problems
    );
    let warnings = reading.problems.into_iter();
    warnings
        .map(|problem| {
            assert_eq!(problem.severity, Severity::Warning);
            (problem.line, problem.what)
        })
        .collect()
}

#[test]
fn what_should_be_looked_at_is_warned_of() {
    let cases: [(&str, &str, usize, &str); 18] = [
        (
            "\"8:00\"",
            "\"7:59\"",
            12,
            "7:59 of warm-up before the first hard block",
        ),
        ("\"3:00\"", "\"2:59\"", 16, "ends with 2:59 of cool-down"),
        ("cool-down", "recovery", 16, "does not end with a cool-down"),
        (
            "[[block]]\nkind = \"warm-up\"",
            "[[block]]\nkind = \"hold\"",
            12,
            "0:00 of warm-up",
        ),
        ("three four", "3 more four", 11, "`3 more` is counted out"),
        (
            "three four",
            "30 seconds left four",
            11,
            "`30 seconds left`",
        ),
        ("three four", "next is 8 four", 11, "`next is 8`"),
        ("at = \"1:00\"", "at = \"8:00\"", 8, "never said"),
        (
            "at = \"1:00\"",
            "before_end = \"8:01\"",
            8,
            "said at the block's start",
        ),
        // Five words take two seconds at two and a half a second.
        (
            "One two",
            "one two\"\n[[block.cue]]\nat = \"1:00\"\nkind = \"why\"\nsay = \"a",
            12,
            "line 8 is still being said",
        ),
        (
            "five.\"",
            "five.\"\n[[block.cue]]\nat = \"1:01\"\nkind = \"why\"\nsay = \"a\"",
            12,
            "still being said",
        ),
        ("at = \"1:00\"", "before_end = \"0:01\"", 0, ""),
        (
            "five.\"",
            "five.\"\n[[block.cue]]\nat = \"1:02\"\nkind = \"why\"\nsay = \"a\"",
            0,
            "",
        ),
        ("effort = 8", "threshold = 0.87", 0, ""),
        // Two seconds of words: from twelve seconds before the end they are over when the countdown begins, from eleven not.
        ("at = \"1:00\"", "before_end = \"0:12\"", 0, ""),
        (
            "at = \"1:00\"",
            "before_end = \"0:11\"",
            8,
            "when the last ten seconds of the block begin",
        ),
        // Fifteen words are six seconds, sixteen more.
        (
            "effort = 8\n",
            "effort = 8\n[[block.cue]]\nat = \"0:30\"\nkind = \"feel\"\nsay = \"a b c d e f g h i j k l m n o\"\n",
            0,
            "",
        ),
        (
            "effort = 8\n",
            "effort = 8\n[[block.cue]]\nat = \"0:30\"\nkind = \"feel\"\nsay = \"a b c d e f g h i j k l m n o p\"\n",
            16,
            "nobody has the breath",
        ),
    ];
    for (was, becomes, line, what) in cases {
        let found = warned(|good| good.replacen(was, becomes, 1));
        if what.is_empty() {
            assert_eq!(found, [], "{becomes}");
        } else {
            assert_eq!(found.len(), 1, "{becomes}: {found:?}");
            assert!(
                found[0].0 == line && found[0].1.contains(what),
                "{becomes}: {found:?}"
            );
        }
    }
    let newcomers = warned(|good| {
        good.replacen("purpose", "for = \"newcomers\"\npurpose", 1)
            .replacen(
                "\"hold\"\ntime = \"2:00\"\neffort = 8",
                "\"sprint\"\ntime = \"0:10\"\neffort = 10",
                1,
            )
    });
    assert_eq!(newcomers.len(), 1);
    assert!(newcomers[0].1.contains("newcomers"));
    // A share of threshold from the foot of effort 8 on is as hard.
    let share = warned(|good| {
        good.replacen("effort = 8", "threshold = 0.88", 1)
            .replacen("8:00", "7:00", 1)
    });
    assert_eq!(share.len(), 1);
    // From one block into the next.
    let spill = warned(|good| {
        good.replacen("at = \"1:00\"", "before_end = \"0:01\"", 1)
            .replacen(
                "effort = 8\n",
                "effort = 8\n[[block.cue]]\nat = \"0:00\"\nkind = \"do\"\nsay = \"a\"\n",
                1,
            )
    });
    assert_eq!(spill.len(), 1, "{spill:?}");
}

#[test]
fn fields_that_cannot_be_filled_are_refused() {
    let outside = EVERY_KEY.replacen("Settle in.", "Pier {repeat}.", 1);
    refused(&outside, 23, "in no set", "{repeat}");
    let last = format!(
        "{EVERY_KEY}[[block.cue]]\nat = \"0:10\"\nkind = \"do\"\nsay = \"Then {{next.time}}.\"\n"
    );
    let line = last.matches('\n').count();
    refused(&last, line, "nothing comes after", "{total.left}");
}
