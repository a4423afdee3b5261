//! Good session files, from text to plan, and what the plan tells of itself.

use std::collections::BTreeMap;

use stillroad::plan::{self, Brake, CuePlace, Kind, Load, Position, Problem, Target};
use stillroad::time::Span;
use stillroad::units::{Effort, Fraction, Rpm};

/// A session with every key in it, correct.
pub const EVERY_KEY: &str = include_str!("../data/every_key.toml");

pub fn problems_of(text: &str) -> Vec<Problem> {
    plan::read(text).problems
}

#[test]
fn every_key_is_read() {
    let reading = plan::read(EVERY_KEY);
    assert_eq!(reading.problems, []);
    let plan = reading.plan.unwrap();
    assert_eq!(plan.name, "Every key");
    assert_eq!(plan.purpose, "Each key of the format once, all correct.");
    assert_eq!(plan.author, "The boathouse");
    assert_eq!(plan.audience, plan::Audience::Everyone);
    assert_eq!(&*plan.source, EVERY_KEY);
    // By hand: warm-up, 2 × (hold + 2 × (sprint + recovery)), level, slope, free, cool-down.
    assert_eq!(plan.blocks.len(), 1 + 2 * 5 + 4);
    let warm_up = &plan.blocks[0];
    assert_eq!(
        (warm_up.name.as_str(), warm_up.kind),
        ("Quay", Kind::WarmUp)
    );
    assert_eq!(warm_up.length, Span::from_seconds(480));
    assert_eq!(
        warm_up.target,
        Target::Line(Load::Effort(Effort(2.0)), Load::Effort(Effort(4.0)))
    );
    let band = warm_up.cadence.unwrap();
    assert_eq!((band.low, band.high), (Rpm(80.0), Rpm(90.0)));
    assert_eq!(warm_up.position, Position::Seated);
    assert_eq!(warm_up.build_up, Some(Span::from_seconds(5)));
    assert_eq!(warm_up.brake, Brake::Held);
    assert!(warm_up.stretch && !warm_up.cut && !warm_up.main);
    assert_eq!(warm_up.repeat, None);
    let cue = &warm_up.cues[0];
    assert_eq!(cue.place, CuePlace::FromStart(Span::from_seconds(30)));
    assert_eq!(cue.speaker.as_deref(), Some("Lamp keeper"));
    assert_eq!(
        plan.timing()[0].cues[0].says,
        "Settle in. 7 minutes 30 seconds to go, then 1 minute at 85 % of threshold."
    );

    let second = &plan.blocks[6];
    assert_eq!(second.name_with_repeat(), "Hold 2 of 2");
    assert_eq!(
        second.target,
        Target::Steady(Load::Threshold(Fraction(0.85)))
    );
    assert!(second.cut && second.main);
    assert_eq!(
        plan.timing()[6].cues[0].says,
        "Pier 2 of 2, 10 minutes in all."
    );
    let sprint = &plan.blocks[9];
    assert_eq!((sprint.kind, sprint.brake), (Kind::Sprint, Brake::Free));
    assert_eq!(sprint.repeat, Some(plan::Repeat { number: 2, of: 2 }));
    assert_eq!(sprint.position, Position::Standing);
    assert!(!sprint.stretch);
    let [level, slope, free] = [11, 12, 13].map(|index| &plan.blocks[index]);
    assert_eq!(level.target, Target::Steady(Load::Level(Fraction(0.3))));
    assert!(!level.stretch);
    assert_eq!(
        (level.brake, slope.brake, free.brake),
        (Brake::Free, Brake::Free, Brake::Free)
    );
    assert_eq!((slope.position, free.target), (Position::Low, Target::None));
    assert_eq!(plan.length(), Span::from_seconds(1330));
    assert_eq!(plan.main_length(), Span::from_seconds(670));
}

#[test]
fn the_built_in_sessions_have_no_problem_and_add_up_as_reckoned_elsewhere() {
    // Written by tests/oracles/session_totals.py, which reads the files with Python's own TOML reader.
    let reckoned: BTreeMap<String, serde_json::Value> =
        serde_json::from_str(include_str!("../data/session_totals.json")).unwrap();
    assert_eq!(reckoned.len(), plan::builtin().len());
    for (stem, text) in plan::builtin() {
        let reading = plan::read(text);
        assert_eq!(reading.problems, [], "{stem}");
        let plan = reading.plan.unwrap();
        let expected = &reckoned[*stem];
        assert_eq!(expected["name"], plan.name.as_str());
        assert_eq!(expected["whole_s"], plan.length().whole_seconds(), "{stem}");
        assert_eq!(
            expected["main_s"],
            plan.main_length().whole_seconds(),
            "{stem}"
        );
        let rows = plan.timing();
        let starts: Vec<u64> = rows.iter().map(|row| row.start.whole_seconds()).collect();
        assert_eq!(expected["starts_s"], serde_json::json!(starts), "{stem}");
        let cues: usize = rows.iter().map(|row| row.cues.len()).sum();
        assert_eq!(expected["cues"], cues, "{stem}");
        for (kind, total) in plan.totals() {
            assert_eq!(
                expected["by_kind_s"][kind.key()],
                total.whole_seconds(),
                "{stem}"
            );
        }
        for (block, effort) in plan
            .blocks
            .iter()
            .zip(expected["efforts"].as_array().unwrap())
        {
            let (from, to) = match effort.as_array() {
                Some(line) => (line[0].as_f64(), line[1].as_f64()),
                None => (effort.as_f64(), effort.as_f64()),
            };
            assert_eq!(block.target.at(0.0).map(Load::value), from);
            assert_eq!(block.target.at(1.0).map(Load::value), to);
        }
        assert!(
            rows.iter()
                .flat_map(|row| &row.cues)
                .all(|cue| !cue.says.contains(['{', '}']))
        );
    }
}

#[test]
fn the_load_at_a_moment_follows_the_blocks() {
    let plan = plan::read(EVERY_KEY).plan.unwrap();
    let at = |seconds| plan.target_at(Span::from_seconds(seconds)).map(Load::value);
    // By hand: half-way through a line from 2 to 4; the second of a change belongs to the next block.
    assert_eq!(at(0), Some(2.0));
    assert_eq!(at(240), Some(3.0));
    assert_eq!(at(480), Some(0.85));
    assert_eq!(at(540), Some(10.0));
    // The free block lies between 1090 and 1150 s.
    assert_eq!(at(1089), Some(1.0 + 3.0 * 119.0 / 120.0));
    assert_eq!(at(1090), None);
    assert_eq!(at(1150), Some(2.0));
    assert_eq!(at(1330), None);
    assert_eq!(plan.start_of(13), Span::from_seconds(1090));
    assert_eq!(plan.start_of(999), Span::from_seconds(1330));
}
