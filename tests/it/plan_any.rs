//! Any text at all is read or refused, and never more than that.

use proptest::prelude::*;
use stillroad::plan::{self, Kind, Problem, Severity, Target};
use stillroad::time::Span;

use crate::plan::EVERY_KEY;

fn is_sound(problems: &[Problem], text: &str) -> Result<(), TestCaseError> {
    let text = text.trim_start_matches('\u{feff}');
    let lines: Vec<&str> = text.split('\n').collect();
    for problem in problems {
        prop_assert!(
            problem.line >= 1 && problem.line <= lines.len(),
            "{problem}"
        );
        let line = lines[problem.line - 1];
        prop_assert!(
            problem.column >= 1 && problem.column <= line.chars().count() + 1,
            "{problem}"
        );
        prop_assert!(!problem.what.is_empty() && !problem.instead.is_empty());
        let shown = problem.to_string();
        prop_assert!(!shown.chars().any(char::is_control), "{shown:?}");
    }
    Ok(())
}

/// What the reading of any text must be, good or bad.
fn check_reading(text: &str) -> Result<(), TestCaseError> {
    let reading = plan::read(text);
    is_sound(&reading.problems, text)?;
    prop_assert!(reading.problems.len() <= 101);
    let failed = reading
        .problems
        .iter()
        .any(|problem| problem.severity == Severity::Error);
    prop_assert_eq!(reading.plan.is_none(), failed, "{:?}", reading.problems);
    if let Some(plan) = reading.plan {
        prop_assert!(!plan.blocks.is_empty());
        prop_assert!(plan.length() <= Span::from_seconds(21_600));
        for block in &plan.blocks {
            prop_assert!(block.kind == Kind::Sprint || !block.is_all_out());
            prop_assert_eq!(block.target == Target::None, block.kind == Kind::Free);
        }
    }
    let (_, problems) = stillroad::rider::read(text);
    is_sound(&problems, text)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text_is_read_or_refused(text in ".{0,200}") {
        check_reading(&text)?;
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let reading = plan::read_bytes(&bytes);
        prop_assert!(reading.plan.is_some() || !reading.problems.is_empty());
    }

    #[test]
    fn any_soup_of_the_formats_own_pieces_is_read_or_refused(
        pieces in proptest::collection::vec(prop_oneof![
            Just("[[block]]\n"), Just("[[block.block]]\n"), Just("[[block.cue]]\n"), Just("[block]\n"), Just("block = "),
            Just("[[block.block.block]]\n"), Just("[[block.block.block.block]]\n"), Just("repeat = 3\n"), Just("\n"),
            Just("kind = \"hold\"\n"), Just("time = \"1:00\"\n"), Just("effort = ["), Just("2, "), Just("]"), Just("{"),
            Just("}"), Just("\""), Just("'''"), Just("\"\"\""), Just("="), Just("."), Just("block.time = 1\n"),
            Just("format = 1\n"), Just("name = \"x\"\n"), Just("#"), Just("say = \"{left\"\n"), Just("[["), Just("]]"),
        ], 0..40)
    ) {
        check_reading(&pieces.concat())?;
    }

    #[test]
    fn any_slip_in_a_good_session_is_read_or_refused(
        slips in proptest::collection::vec((any::<prop::sample::Index>(), 0usize..12, ".{0,3}"), 1..4)
    ) {
        let mut text: Vec<char> = EVERY_KEY.chars().collect();
        for (at, gone, put) in slips {
            let at = at.index(text.len());
            let end = (at + gone).min(text.len());
            text.splice(at..end, put.chars());
            if text.is_empty() { text.push('x'); }
        }
        check_reading(&text.iter().collect::<String>())?;
    }

    #[test]
    fn any_lines_left_out_of_a_good_session_are_read_or_refused(keep in proptest::collection::vec(any::<bool>(), 90)) {
        let lines = EVERY_KEY.lines().zip(keep.iter().chain(std::iter::repeat(&true)));
        let text: String = lines.filter(|(_, keep)| **keep).map(|(line, _)| format!("{line}\n")).collect();
        check_reading(&text)?;
    }
}
