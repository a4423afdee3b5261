//! What is compared over repeats: what is written in one place and nothing else; and a fade that no rest could mend.

use stillroad::plan;
use stillroad::plan::Kind;
use stillroad::ride::RideMode;
use stillroad::units::{Rpm, Watts};

use super::{Rec, changes, next, numbers, rate_holds, ridden};

/// A session of these blocks between a long warm-up and a cool-down.
fn session(blocks: &[&str]) -> String {
    let mut text = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n".to_owned();
    text += &block("", "warm-up", "12:00", 3.0);
    text += &blocks.concat();
    text + &block("", "cool-down", "5:00", 2.0)
}

fn block(inside: &str, kind: &str, time: &str, effort: f64) -> String {
    format!("[[{inside}block]]\nkind = \"{kind}\"\ntime = \"{time}\"\neffort = {effort}\n")
}

/// A set of blocks without a name of their own.
fn set(repeats: u32, inside: &[(&str, &str, f64)]) -> String {
    let blocks = inside.iter();
    let blocks: String = blocks
        .map(|(kind, time, effort)| block("block.", kind, time, *effort))
        .collect();
    format!("[[block]]\nrepeat = {repeats}\n{blocks}")
}

fn holds(repeats: u32, effort: f64) -> String {
    let inside = [("hold", "4:00", effort), ("recovery", "2:00", 3.0)];
    set(repeats, &inside)
}

/// The rider made the watts of everything; each block at a share of its lane.
fn free(text: &str, share: impl Fn(u32) -> f64) -> Rec {
    let mut kept = ridden(text, RideMode::TargetPower);
    for row in &mut kept.rows {
        row.brake = None;
        row.power = row.power.map(|power| power * share(row.block));
    }
    kept
}

/// The mean power of each sprint, in order.
fn sprinted(text: &str, watts: &[f64]) -> Rec {
    let mut kept = ridden(text, RideMode::TargetPower);
    let sprints = numbers(&kept, Kind::Sprint);
    assert_eq!(sprints.len(), watts.len());
    for row in &mut kept.rows {
        if let Some(place) = sprints.iter().position(|number| *number == row.block) {
            row.power = Some(Watts(watts[place]));
        }
    }
    kept
}

/// Rated low, a step more is asked for; the same ride with a fade in it asks for nothing, and says what it saw.
#[track_caller]
fn forbids(mut even: Rec, mut fades: Rec, words: &str) {
    rate_holds(&mut even, -1.5);
    rate_holds(&mut fades, -1.5);
    let told = changes(&even);
    assert!(
        told[0].contains("effort 7.2 in place of effort 7"),
        "{told:?}"
    );
    let why = next(&fades).map(|proposal| proposal.words()).unwrap_err();
    assert!(
        why.contains("speaks against more") && why.contains(words),
        "{why}"
    );
    // And without a rating it is said as well.
    fades.notes.clear();
    let why = next(&fades).map(|proposal| proposal.words()).unwrap_err();
    assert!(why.contains(words), "{why}");
}

#[test]
fn a_fade_that_no_rest_could_mend_forbids_more_all_the_same() {
    let no_rest = session(&[&set(4, &[("hold", "4:00", 7.0)])]);
    let long_rest = [("hold", "4:00", 7.0), ("recovery", "10:00", 3.0)];
    let long_rest = session(&[&set(3, &long_rest)]);
    for text in [no_rest, long_rest] {
        let kept = ridden(&text, RideMode::TargetPower);
        let all = numbers(&kept, Kind::Hold);
        let (first, last) = (all[0], all[all.len() - 1]);
        let fades = free(&text, |block| match block {
            _ if block == first => 1.04,
            _ if block == last => 0.96,
            _ => 1.0,
        });
        forbids(free(&text, |_| 1.0), fades, "Power fell by 8 %");
    }
    let gusts = [
        holds(3, 7.0),
        block("", "sprint", "0:12", 10.0),
        block("", "recovery", "4:00", 3.0),
        block("", "sprint", "0:12", 10.0),
    ]
    .concat();
    let text = session(&[&gusts]);
    forbids(
        sprinted(&text, &[600.0, 600.0]),
        sprinted(&text, &[600.0, 500.0]),
        "Mean power fell by 17 %",
    );
}

#[test]
fn of_two_sets_that_look_alike_the_one_that_sagged_is_changed() {
    let text = session(&[&holds(4, 6.0), &holds(4, 7.5)]);
    let mut kept = ridden(&text, RideMode::TargetPower);
    let all = numbers(&kept, Kind::Hold);
    let last = all[7];
    for row in kept.rows.iter_mut().filter(|row| row.block == last) {
        row.cadence = Some(Rpm(79.0));
    }
    let proposal = next(&kept).unwrap();
    let told: Vec<&str> = proposal.changes.iter().map(|one| one.is.as_str()).collect();
    assert_eq!(told, ["3 times"]);
    let copy = plan::read(&proposal.text).plan.unwrap();
    let hard = |block: &&plan::Block| {
        let load = block.target.greatest();
        block.kind == Kind::Hold && load.is_some_and(|load| load.value() == 7.5)
    };
    assert_eq!(copy.blocks.iter().filter(hard).count(), 3);
    // A second set that is turned more slowly throughout is none that sags.
    for row in &mut kept.rows {
        row.cadence = Some(Rpm(if row.block >= all[4] { 79.0 } else { 85.0 }));
    }
    assert!(next(&kept).is_err());
}

#[test]
fn two_holds_in_one_set_are_not_compared_with_each_other() {
    let inside = [
        ("hold", "3:00", 8.0),
        ("hold", "3:00", 6.0),
        ("recovery", "3:00", 3.0),
    ];
    let text = session(&[&set(3, &inside)]);
    assert!(next(&free(&text, |_| 1.0)).is_err());
    // The second of them is the one that fades.
    let kept = ridden(&text, RideMode::TargetPower);
    let all = numbers(&kept, Kind::Hold);
    let fades = free(&text, |block| if block == all[5] { 0.94 } else { 1.0 });
    assert_eq!(changes(&fades), ["Recovery: 3:30 in place of 3:00."]);
}

#[test]
fn sprints_of_another_sort_are_no_fade() {
    let gusts = |time, rest| set(2, &[("recovery", rest, 3.0), ("sprint", time, 10.0)]);
    let text = session(&[&gusts("0:06", "2:00"), &gusts("0:14", "3:00")]);
    let why = next(&sprinted(&text, &[700.0, 690.0, 500.0, 490.0])).unwrap_err();
    assert!(why.contains("Nothing in the sprints"), "{why}");
    // The second set by itself: 14 % less.
    let kept = sprinted(&text, &[700.0, 690.0, 500.0, 430.0]);
    assert_eq!(changes(&kept), ["Recovery: 3:30 in place of 3:00."]);
    // Written out one by one, of two sorts.
    let alone = [("0:06", 700.0), ("0:14", 500.0)];
    let blocks: Vec<String> = alone
        .iter()
        .map(|(time, _)| block("", "recovery", "3:00", 3.0) + &block("", "sprint", time, 10.0))
        .collect();
    let text = session(&[&blocks.concat()]);
    let why = next(&sprinted(&text, &alone.map(|(_, watts)| watts))).unwrap_err();
    assert!(why.contains("Nothing in the sprints"), "{why}");
}
