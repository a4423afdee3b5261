//! Laws of a proposal over every session that comes with the program and any ride of it.

use proptest::prelude::*;
use stillroad::plan::{self, Kind, Plan, Severity, Target};
use stillroad::ride::RideMode;
use stillroad::rider;
use stillroad::units::{Rpm, Watts};

use super::{Rec, happens, next, rate, ridden};

/// What became of one block.
#[derive(Clone, Debug)]
struct Ridden {
    rating: Option<f64>,
    power: f64,
    cadence: f64,
    eased: bool,
}

fn block() -> impl Strategy<Value = Ridden> {
    let rating = proptest::option::weighted(0.8, 0.0..=10.0_f64);
    let power = prop_oneof![3 => Just(1.0), 1 => 0.7..1.2_f64];
    let cadence = prop_oneof![3 => Just(85.0), 1 => 70.0..95.0_f64];
    (rating, power, cadence, proptest::bool::weighted(0.1)).prop_map(
        |(rating, power, cadence, eased)| Ridden {
            rating,
            power,
            cadence,
            eased,
        },
    )
}

fn ride(text: &str, mode: RideMode, blocks: &[Ridden], shift: f64, cap: f64) -> Rec {
    let mut kept = ridden(text, mode);
    kept.start.power_cap = Watts(cap);
    let plan = plan::read(text).plan.unwrap();
    let of = |number: u32| &blocks[(number as usize - 1) % blocks.len()];
    for row in &mut kept.rows {
        let block = of(row.block);
        row.power = row.power.map(|power| power * block.power);
        row.cadence = Some(Rpm(block.cadence));
    }
    let rider = rider::read(&kept.start.rider_text).0.unwrap();
    for (block, number) in plan.blocks.iter().zip(1..) {
        let effort = block.target.at(0.5);
        let effort = effort.and_then(|load| rider::effort_of(&load, &rider));
        let free = of(number).rating;
        // Whole rides that were easy, or hard, are as likely as a jumble.
        let rated = if shift == 0.0 {
            free
        } else {
            effort.map(|effort| effort.0 + shift)
        };
        if let Some(rating) = rated.filter(|_| free.is_some()) {
            rate(&mut kept, Some(number), rating.clamp(0.0, 10.0));
        }
        if of(number).eased {
            happens(&mut kept, number, "ease-down");
        }
    }
    kept
}

fn greatest(target: Target) -> f64 {
    target.greatest().map_or(0.0, |load| load.value())
}

fn work_of(plan: &Plan) -> Vec<(&str, f64)> {
    let work = plan.blocks.iter().filter(|block| block.kind.is_work());
    work.map(|block| (block.name.as_str(), greatest(block.target)))
        .collect()
}

fn rest_s(plan: &Plan) -> u64 {
    let rest = plan.blocks.iter().filter(|block| !block.kind.is_work());
    rest.map(|block| block.length.whole_seconds()).sum()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_proposal_is_small_passes_its_check_and_keeps_the_writers_hand(
        session in 0..plan::builtin().len(),
        by_effort in any::<bool>(),
        blocks in proptest::collection::vec(block(), 1..12),
        shift in prop_oneof![Just(0.0), Just(-1.5), Just(1.5)],
        cap in prop_oneof![3 => Just(400.0), 1 => 120.0..260.0_f64],
        ending in prop_oneof!["\n", "\r\n"],
    ) {
        let text = plan::builtin()[session].1.replace('\n', &ending);
        let mode = if by_effort { RideMode::EffortOnly } else { RideMode::TargetPower };
        let kept = ride(&text, mode, &blocks, shift, cap);
        let proposal = match next(&kept) {
            Ok(proposal) => proposal,
            Err(why) => {
                prop_assert!(why.ends_with("Nothing is proposed."), "{}", why);
                return Ok(());
            }
        };
        let (before, after) = (plan::read(&text), plan::read(&proposal.text));
        prop_assert!(after.problems.iter().all(|problem| problem.severity != Severity::Error));
        prop_assert!(after.problems.len() <= before.problems.len(), "{:?}", after.problems);
        let (old, new) = (before.plan.unwrap(), after.plan.unwrap());
        prop_assert!((1..=2).contains(&proposal.changes.len()));
        prop_assert!(new.name != old.name && new.name.chars().count() <= 80);

        // The hand: but for what is said of the changes, line stands beside line, and few differ.
        let said = |line: &&str| line.starts_with("#> Next: ") || line.starts_with("#>   ");
        let kept_lines: Vec<&str> = proposal.text.split('\n').filter(|line| !said(line)).collect();
        let lines: Vec<&str> = text.split('\n').collect();
        prop_assert_eq!(kept_lines.len(), lines.len());
        let unlike = lines.iter().zip(&kept_lines).filter(|(old, new)| old != new);
        prop_assert!(unlike.clone().count() <= proposal.changes.len() + 3);
        prop_assert!(unlike.clone().all(|(old, _)| !old.starts_with('#')));

        // One repeat more is a third more at most.
        for change in proposal.changes.iter().filter(|change| change.is.ends_with(" times")) {
            let repeats = |words: &str| words.trim_end_matches(" times").parse::<f64>().unwrap();
            prop_assert!(repeats(&change.is) <= repeats(&change.was) * 4.0 / 3.0 + 1e-9);
        }

        // Never more load and less rest; never more and less at once.
        let (was, is) = (work_of(&old), work_of(&new));
        let mut pairs = was.iter().filter_map(|(name, load)| {
            Some((*load, is.iter().find(|(other, _)| other == name)?.1))
        });
        let harder = is.len() > was.len() || pairs.clone().any(|(was, is)| is > was);
        let easier = is.len() < was.len() || pairs.any(|(was, is)| is < was);
        let more_rest = is.len() == was.len() && rest_s(&new) > rest_s(&old);
        prop_assert!([harder, easier || more_rest].iter().filter(|one| **one).count() == 1);
        if harder {
            prop_assert!(rest_s(&new) >= rest_s(&old));
            let rider = rider::read(&kept.start.rider_text).0.unwrap();
            for (block, name) in new.blocks.iter().zip(&is).map(|(block, (name, _))| (block, name)) {
                let changed = proposal.changes.iter().any(|change| change.block == **name);
                if let (true, Kind::Hold, Some(load)) = (changed, block.kind, block.target.greatest()) {
                    prop_assert!(rider::lane(&load, &rider).is_none_or(|watts| watts.0 <= cap + 1e-9));
                }
            }
        }
    }
}
