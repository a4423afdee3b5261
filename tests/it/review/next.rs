//! The next session of a ride: each rule on a ride made for it, what forbids it, and laws over any ride at all.

mod any;
mod refused;
mod sets;
mod verb;

use std::sync::Arc;

use stillroad::plan::{self, Brake, Kind, Plan};
use stillroad::record::{EventLine, NoteLine};
use stillroad::review::next::{Proposal, propose};
use stillroad::ride::RideMode;
use stillroad::rider::{self, Rider};
use stillroad::units::{Effort, Rpm, Watts};

use super::{Rec, row};
use crate::world::EPOCH_MS;

pub fn builtin(key: &str) -> &'static str {
    let all = plan::builtin();
    all.iter().find(|(name, _)| *name == key).unwrap().1
}

/// A session ridden to its end on a machine, each second on its lane.
pub fn ridden(text: &str, mode: RideMode) -> Rec {
    let mut kept = Rec::new();
    let plan = plan::read(text).plan.unwrap();
    kept.start.session.clone_from(&plan.name);
    kept.start.session_text = Arc::clone(&plan.source);
    kept.start.mode = mode;
    kept.finish = Some("completed".to_owned());
    let rider = rider::read(&kept.start.rider_text).0.unwrap();
    kept.rows = rows(&plan, &rider, mode);
    kept
}

fn rows(plan: &Plan, rider: &Rider, mode: RideMode) -> Vec<stillroad::record::Row> {
    let mut rows = Vec::new();
    for (index, block) in plan.blocks.iter().enumerate() {
        let length = block.length.whole_seconds();
        for second in 0..length {
            let load = block.target.at((second as f64 + 0.5) / length as f64);
            let lane = load.and_then(|load| rider::lane(&load, rider));
            let held = mode == RideMode::TargetPower && block.brake == Brake::Held;
            let plain = row(rows.len() as u64 + 1);
            rows.push(stillroad::record::Row {
                block: index as u32 + 1,
                kind: block.kind,
                mode,
                effort: load.and_then(|load| rider::effort_of(&load, rider)),
                lane,
                brake: plain.brake.filter(|_| held),
                could: lane.filter(|_| held),
                power: lane.or(Some(Watts(500.0))),
                ..plain
            });
        }
    }
    rows
}

/// The numbers, from 1, of the blocks of a kind.
pub fn numbers(kept: &Rec, kind: Kind) -> Vec<u32> {
    let plan = plan::read(&kept.start.session_text).plan.unwrap();
    let of = plan.blocks.iter().zip(1..);
    of.filter(|(block, _)| block.kind == kind)
        .map(|(_, number)| number)
        .collect()
}

pub fn rate(kept: &mut Rec, block: Option<u32>, rating: f64) {
    kept.notes.push(NoteLine {
        utc_ms: EPOCH_MS,
        block,
        what: "rating".into(),
        rating: Some(Effort(rating)),
        text: String::new(),
    });
}

/// Rates every hold so much above what it asks for.
pub fn rate_holds(kept: &mut Rec, off: f64) {
    let plan = plan::read(&kept.start.session_text).plan.unwrap();
    for number in numbers(kept, Kind::Hold) {
        let effort = plan.blocks[number as usize - 1].target.at(0.5).unwrap();
        let rider = rider::read(&kept.start.rider_text).0.unwrap();
        let effort = rider::effort_of(&effort, &rider).unwrap();
        rate(kept, Some(number), (effort.0 + off).clamp(0.0, 10.0));
    }
}

/// Something that happened in the middle of a block.
pub fn happens(kept: &mut Rec, block: u32, what: &'static str) {
    let of: Vec<u64> = kept
        .rows
        .iter()
        .filter(|row| row.block == block)
        .map(|row| row.ridden_s)
        .collect();
    let middle = of[of.len() / 2] as f64;
    kept.events.push(EventLine {
        ridden_s: middle,
        plan_s: middle,
        utc_ms: EPOCH_MS,
        what: what.into(),
        detail: String::new(),
    });
}

pub fn next(kept: &Rec) -> Result<Arc<Proposal>, String> {
    propose(&kept.start, &kept.review())
}

/// What was changed, in words, of a ride that proposes something; the copy passes its check as its original does.
pub fn changes(kept: &Rec) -> Vec<String> {
    let proposal = next(kept).unwrap();
    let (before, after) = (
        plan::read(&kept.start.session_text),
        plan::read(&proposal.text),
    );
    assert_eq!(after.plan.unwrap().name, proposal.name);
    assert_eq!(after.problems.len(), before.problems.len());
    for change in &proposal.changes {
        assert!(change.why.contains("Common practice:"), "{}", change.why);
        let line = proposal.text.lines().nth(change.line - 1).unwrap();
        assert!(!line.trim_start().starts_with('#'), "{line}");
    }
    // However the comment is broken into lines.
    let text = proposal.text.replace("\n#>   ", " ");
    assert!(text.contains("you and your coach decide"), "{text}");
    proposal
        .changes
        .iter()
        .map(|change| change.words())
        .collect()
}

fn steady(mode: RideMode) -> Rec {
    ridden(builtin("steady-repeats"), mode)
}

/// A ride of four holds at 7.5 that were each rated 6.
pub fn low() -> Rec {
    let mut kept = steady(RideMode::TargetPower);
    rate_holds(&mut kept, -1.5);
    kept
}

#[test]
fn holds_that_were_easy_become_a_step_harder_and_the_rest_stays_as_it_was_written() {
    let kept = low();
    let told = ["Causeway: effort 7.7 in place of effort 7.5."];
    assert_eq!(changes(&kept), told);
    let proposal = next(&kept).unwrap();
    assert_eq!(proposal.name, "Four times to the light next");
    let source = builtin("steady-repeats");
    let unlike: Vec<_> = proposal
        .text
        .lines()
        .filter(|line| !source.lines().any(|old| old == *line))
        .filter(|line| !line.starts_with('#'))
        .collect();
    assert_eq!(
        unlike,
        ["name = \"Four times to the light next\"", "effort = 7.7"]
    );
    for line in source.lines().filter(|line| line.starts_with('#')) {
        assert!(proposal.text.contains(line), "{line}");
    }
    assert!(proposal.changes[0].why.contains("rated 1.5 below"));
    // The copy is handed on: it does not say when it was ridden.
    let day = &kept.review().started[..10];
    assert!(!proposal.text.contains(day), "{day}");
    // The same again: what was said of the last change gives way to what is said of this.
    let mut again = ridden(&proposal.text, RideMode::TargetPower);
    rate_holds(&mut again, -1.5);
    let second = next(&again).unwrap();
    assert_eq!(second.name, "Four times to the light next 2");
    assert!(second.text.contains("effort = 7.9"));
    assert!(!second.text.contains("effort 7.7 in place of effort 7.5"));
}

#[test]
fn comments_of_a_hand_stay_however_they_begin() {
    let hand = "# Next: five repeats.\n#   By Anna\n\n";
    let mut text = format!("{hand}{}", builtin("steady-repeats"));
    for _ in 0..2 {
        let mut kept = ridden(&text, RideMode::TargetPower);
        rate_holds(&mut kept, -1.5);
        text = next(&kept).unwrap().text.to_string();
        assert!(text.contains(hand), "{text}");
        assert_eq!(text.matches("#> Next: ").count(), 2, "{text}");
    }
}

#[test]
fn by_effort_it_is_a_repeat_more_or_half_an_effort() {
    let mut kept = steady(RideMode::EffortOnly);
    rate_holds(&mut kept, -1.5);
    assert_eq!(
        changes(&kept),
        ["The set of Causeway: 5 times in place of 4."]
    );
    assert!(next(&kept).unwrap().text.contains("whole = \"56:00\""));
    // Nothing but a clock and ratings: it still goes by them.
    for row in &mut kept.rows {
        (row.power, row.cadence, row.heart_rate) = (None, None, None);
    }
    assert_eq!(changes(&kept).len(), 1);
    // Five rungs without a set: the two that were furthest off.
    let mut ladder = ridden(builtin("ladder"), RideMode::EffortOnly);
    for (number, off) in numbers(&ladder, Kind::Hold)
        .into_iter()
        .zip([1.0, 1.2, 1.0, 2.0, 1.6])
    {
        let effort = [6.0, 6.8, 7.5, 8.2, 8.8][(number as usize - 2) / 2];
        rate(&mut ladder, Some(number), effort - off);
    }
    assert_eq!(
        changes(&ladder),
        [
            "Chest deep: effort 8.7 in place of effort 8.2.",
            "Knee deep: effort 7.3 in place of effort 6.8."
        ],
        "the top rung would be all out at 9.3, and no hold"
    );
}

#[test]
fn holds_that_were_too_hard_become_a_step_easier() {
    for (mode, told) in [
        (
            RideMode::TargetPower,
            "Causeway: effort 7.2 in place of effort 7.5.",
        ),
        (
            RideMode::EffortOnly,
            "Causeway: effort 7 in place of effort 7.5.",
        ),
    ] {
        let mut kept = steady(mode);
        rate_holds(&mut kept, 1.5);
        assert_eq!(changes(&kept), [told]);
        let why = &next(&kept).unwrap().changes[0].why;
        let step = match mode {
            RideMode::TargetPower => "take 2 to 4 % off",
            RideMode::EffortOnly => "half an effort less",
        };
        assert!(why.contains("1.5 above") && why.contains(step), "{why}");
    }
    let shares = builtin("steady-repeats").replace("effort = 7.5", "threshold = 0.86");
    let mut kept = ridden(&shares, RideMode::TargetPower);
    rate_holds(&mut kept, 1.5);
    // 97 % of 86 % are 83.4 %.
    assert_eq!(
        changes(&kept),
        ["Causeway: 83 % of threshold in place of 86 % of threshold."]
    );
}

#[test]
fn a_load_that_was_eased_costs_a_repeat_where_it_came_late_else_a_step() {
    for (number, told) in [
        (10, "The set of Causeway: 3 times in place of 4."),
        (4, "Causeway: effort 7.2 in place of effort 7.5."),
    ] {
        for what in ["ease-down", "ease-block", "guard", "brake-off"] {
            let mut kept = steady(RideMode::TargetPower);
            happens(&mut kept, number, what);
            assert_eq!(changes(&kept), [told], "{what}");
        }
    }
    // Two repeats are kept: then it is a step after all.
    let two = builtin("short-day");
    let mut kept = ridden(two, RideMode::TargetPower);
    let last = *numbers(&kept, Kind::Hold).last().unwrap();
    happens(&mut kept, last, "ease-down");
    assert!(changes(&kept)[0].contains("effort 7.2 in place of effort 7.5"));
}

#[test]
fn a_cadence_that_sags_costs_a_repeat() {
    let mut kept = steady(RideMode::TargetPower);
    for row in kept.rows.iter_mut().filter(|row| row.block == 10) {
        row.cadence = Some(Rpm(79.0));
    }
    assert_eq!(
        changes(&kept),
        ["The set of Causeway: 3 times in place of 4."]
    );
    assert!(next(&kept).unwrap().changes[0].why.contains("−6 rpm"));
}

#[test]
fn holds_that_were_not_held_become_a_step_easier_and_fading_ones_get_a_longer_rest() {
    let free = |factor: &dyn Fn(u32) -> f64, mode| {
        let mut kept = steady(mode);
        for row in &mut kept.rows {
            row.brake = None;
            row.power = row.power.map(|power| power * factor(row.block));
        }
        kept
    };
    let under = free(
        &|block| if block >= 4 { 0.85 } else { 1.0 },
        RideMode::TargetPower,
    );
    assert_eq!(
        changes(&under),
        ["Causeway: effort 7.2 in place of effort 7.5."]
    );
    let why = &next(&under).unwrap().changes[0].why;
    assert!(why.contains("15 % under its lane"), "{why}");
    // From 4 % over to 4 % under: 7.7 % less.
    let fades = |block| match block {
        4 => 1.04,
        10 => 0.96,
        _ => 1.0,
    };
    for mode in [RideMode::TargetPower, RideMode::EffortOnly] {
        let kept = free(&fades, mode);
        assert_eq!(changes(&kept), ["Lee of the wall: 3:30 in place of 3:00."]);
        let text = next(&kept).unwrap().text.clone();
        assert!(text.contains("main = \"34:00\"") && text.contains("whole = \"50:00\""));
    }
    let kept = free(&|_| 1.0, RideMode::EffortOnly);
    assert!(next(&kept).is_err(), "nothing faded, and nothing was rated");
}

#[test]
fn sprints_that_fade_get_a_longer_rest_and_at_most_two_things_change() {
    let mut kept = ridden(builtin("hard-sprints"), RideMode::TargetPower);
    let sprints = numbers(&kept, Kind::Sprint);
    for row in &mut kept.rows {
        if let Some(place) = sprints.iter().position(|number| *number == row.block) {
            row.power = Some(Watts(600.0 - 20.0 * place as f64));
        }
    }
    // 500 W of 600 are 17 % less.
    assert_eq!(changes(&kept), ["Lull: 2:00 in place of 1:30."]);
    rate_holds(&mut kept, 1.2);
    let last = numbers(&kept, Kind::Hold)[2];
    happens(&mut kept, last, "ease-down");
    assert_eq!(
        changes(&kept),
        [
            "Cliff road: effort 8.2 in place of effort 8.5.",
            "Lull: 2:00 in place of 1:30."
        ]
    );
}

/// A few seconds on a level make no ride by effort of one whose watts were held.
#[test]
fn a_ride_of_both_modes_keeps_the_step_and_the_lane_of_watts() {
    let by_effort = |kept: &mut Rec, block: u32| {
        for row in kept.rows.iter_mut().filter(|row| row.block == block) {
            row.mode = RideMode::EffortOnly;
            (row.brake, row.could, row.power) = (None, None, None);
        }
    };
    let told = ["Causeway: effort 7.7 in place of effort 7.5."];
    let mut kept = low();
    by_effort(&mut kept, 10);
    assert_eq!(changes(&kept), told);
    // What was begun by effort and ridden by watts is of watts.
    let mut begun = low();
    begun.start.mode = RideMode::EffortOnly;
    assert_eq!(changes(&begun), told);
    // What was ridden by watts must have been ridden in its lane.
    let mut second = 0;
    for row in kept.rows.iter_mut().filter(|row| row.block == 6) {
        second += 1;
        if second % 3 == 0 {
            row.power = row.power.map(|power| power * 0.9);
        }
    }
    let why = next(&kept).unwrap_err();
    assert!(why.contains("the lane of Causeway 2 of 4"), "{why}");
    let mut kept = low();
    for block in [4, 6, 8, 10] {
        by_effort(&mut kept, block);
    }
    assert_eq!(
        changes(&kept),
        ["The set of Causeway: 5 times in place of 4."]
    );
}

/// The session as it was written is changed, not what was made of it for the day; more is never asked for then.
#[test]
fn of_a_fitted_ride_the_written_session_is_changed() {
    use stillroad::plan::fit::{Wish, fit};
    let written = plan::read(builtin("steady-repeats")).plan.unwrap();
    let wish = Wish {
        minutes: Some(40),
        ..Wish::default()
    };
    let fitted = fit(&written, &wish).unwrap();
    let mut kept = ridden(&fitted.plan.source, RideMode::TargetPower);
    kept.start.fitted = Some(stillroad::record::FittedFrom {
        fitting: Arc::clone(fitted.plan.fitted.as_ref().unwrap()),
        changes: fitted.changes,
    });
    let mut hard = kept.clone();
    rate_holds(&mut hard, 1.5);
    let proposal = next(&hard).unwrap();
    assert!(proposal.text.contains("repeat = 4") && proposal.text.contains("effort = 7.2"));
    rate_holds(&mut kept, -1.5);
    let why = next(&kept).unwrap_err();
    assert!(why.contains("fitted to the day"), "{why}");
}
