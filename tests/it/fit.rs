//! A session fitted to the day: by hand on the sessions that come with the program, and laws on any session at all.

use proptest::prelude::*;
use stillroad::plan::fit::{Recoveries, Wish, changes_of, fit, left_out};
use stillroad::plan::{self, Block, Kind, Plan, Target};
use stillroad::time::Span;

fn session(key: &str) -> Plan {
    let (_, text) = plan::builtin()
        .iter()
        .find(|(name, _)| *name == key)
        .unwrap();
    plan::read(text).plan.unwrap()
}

fn minutes(minutes: u32) -> Wish {
    Wish {
        minutes: Some(minutes),
        ..Wish::default()
    }
}

fn lengths(plan: &Plan) -> Vec<(String, String)> {
    plan.blocks
        .iter()
        .map(|block| (block.name.clone(), block.length.to_string()))
        .collect()
}

/// By hand from `sessions/steady-repeats.toml`: 11:00 of warm-up, four times 5:00 and 3:00, 5:00 of cool-down. The
/// order is that of the rules of the ride; the floors are 8:00 and 3:00.
#[test]
fn repeats_go_first_then_ends_then_what_is_above_the_floors() {
    let written = session("steady-repeats");
    // Three repeats are 40:00, two 32:00.
    for (most, whole, first) in [
        (47, "40:00", "Causeway: 3 times in place of 4."),
        (40, "40:00", "Causeway: 3 times in place of 4."),
        (39, "32:00", "Causeway: 2 times in place of 4."),
        (24, "24:00", "Causeway: once in place of 4 times."),
    ] {
        let fitted = fit(&written, &minutes(most)).unwrap();
        assert_eq!(fitted.plan.length().to_string(), whole);
        assert_eq!(fitted.changes[0], first);
        let untouched = |kind| {
            let of = |plan: &Plan| {
                plan.blocks
                    .iter()
                    .filter(|block| block.kind == kind)
                    .cloned()
                    .collect::<Vec<_>>()
            };
            assert_eq!(of(&fitted.plan), of(&written));
        };
        untouched(Kind::WarmUp);
        untouched(Kind::CoolDown);
    }
    // 24:00 is one repeat; two minutes more come off the only block over three minutes, and two off the warm-up.
    let fitted = fit(&written, &minutes(20)).unwrap();
    let now: Vec<_> = lengths(&fitted.plan);
    let expected = [
        ("Through the village", "4:00"),
        ("Harbour bends", "2:30"),
        ("Last houses", "2:30"),
        ("Causeway", "3:00"),
        ("Lee of the wall", "3:00"),
        ("Back through the village", "5:00"),
    ]
    .map(|(name, length)| (name.to_owned(), length.to_owned()));
    assert_eq!(now, expected);
    // 8:00 and 3:00 of floors, 3:00 and 3:00 of the repeat.
    let refused = fit(&written, &minutes(16)).unwrap_err().to_string();
    assert!(
        refused.starts_with(
            "The shortest that \"Four times to the light\" can be is 17:00, and you have 16:00"
        ),
        "{refused}"
    );
    assert!(refused.contains("Take 17 minutes"), "{refused}");
    assert_eq!(
        fit(&written, &minutes(17)).unwrap().plan.length(),
        Span::from_seconds(17 * 60)
    );
}

const CUTTABLE: &str = r#"format = 1
name = "Pier"
purpose = "To be cut."
[[block]]
kind = "warm-up"
time = "8:00"
effort = 3
[[block]]
kind = "hold"
name = "One"
time = "2:00"
effort = 7
cut = true
[[block]]
kind = "recovery"
name = "Between"
time = "1:00"
effort = 4
cut = true
[[block]]
kind = "hold"
name = "Two"
time = "2:30"
effort = 7
cut = true
[[block]]
kind = "cool-down"
time = "3:00"
effort = 2
"#;

/// 16:30 in all. By hand: at 16 the last cuttable block, "Two", goes and nothing has room again; at 14 the same; at 13
/// "Between" goes as well; the last piece of work stays whatever it says.
#[test]
fn cuttable_blocks_go_from_the_last_and_never_all_of_the_work() {
    let written = plan::read(CUTTABLE).plan.unwrap();
    for (most, told) in [
        (16, "Left out: Two."),
        (14, "Left out: Two."),
        (13, "Left out: Between, Two."),
    ] {
        let fitted = fit(&written, &minutes(most)).unwrap();
        assert_eq!(fitted.changes[0], told, "at {most}");
    }
    let refused = fit(&written, &minutes(12)).unwrap_err().to_string();
    assert!(refused.contains("can be is 13:00"), "{refused}");
    // With 15:30 there is room for a minute again once the longer block has gone.
    let tight = CUTTABLE.replace("time = \"2:00\"", "time = \"2:30\"");
    let written = plan::read(&tight).plan.unwrap();
    let fitted = fit(&written, &minutes(15)).unwrap();
    assert_eq!(fitted.changes[0], "Left out: Two.");
    assert_eq!(fitted.plan.length(), Span::from_seconds(870));
}

#[test]
fn a_block_that_is_ridden_more_than_once_comes_back_only_where_there_is_room_for_all_of_it() {
    // By hand: 4 × (0:59 + 0:15) + 5:05 = 10:01. A second too long, the four holds go, which leaves 59 s: one of them would
    // have room again, and all four have not.
    let text = "format = 1\nname = \"Twice two\"\npurpose = \"A law.\"\n[[block]]\nrepeat = 2\n[[block.block]]\nrepeat = 2\n\
                [[block.block.block]]\nkind = \"warm-up\"\ntime = \"0:59\"\neffort = [2, 4]\n\
                [[block.block.block]]\nkind = \"hold\"\ntime = \"0:15\"\neffort = 7.5\ncut = true\n\
                [[block]]\nkind = \"sprint\"\ntime = \"5:05\"\neffort = 10\n";
    let written = plan::read(text).plan.unwrap();
    assert_eq!(written.length().to_string(), "10:01");
    let fitted = fit(&written, &minutes(10)).unwrap().plan;
    assert_eq!(fitted.length().to_string(), "9:01");
    assert!(fitted.blocks.iter().all(|block| block.kind != Kind::Hold));
    assert!(fit(&written, &minutes(9)).is_err());
}

#[test]
fn a_longer_warm_up_and_easier_recoveries_change_nothing_else() {
    let written = session("steady-repeats");
    let wish = Wish {
        warm_up: 5,
        recoveries: Recoveries::Easier,
        ..Wish::default()
    };
    let fitted = fit(&written, &wish).unwrap();
    assert_eq!(
        fitted.plan.length(),
        written.length() + Span::from_seconds(300)
    );
    assert_eq!(
        fitted.changes,
        [
            "Through the village: 11:00 in place of 6:00, for a longer warm-up.",
            "Recoveries easier: Lee of the wall at effort 3 in place of effort 4.",
        ]
    );
    let half = Wish {
        warm_up: 0,
        recoveries: Recoveries::HalfWay,
        ..wish
    };
    let half_way = fit(&written, &half).unwrap().plan;
    for ((was, easier), half) in written
        .blocks
        .iter()
        .zip(&fitted.plan.blocks)
        .zip(&half_way.blocks)
    {
        if was.kind == Kind::Recovery {
            let efforts = [was, half, easier].map(|block| block.target.at(0.0).unwrap().value());
            assert_eq!(efforts, [4.0, 3.5, 3.0]);
        } else {
            assert_eq!(was.target, easier.target);
            assert_eq!(was, half);
        }
    }
    // The longer warm-up stays when there is less time too: two repeats fewer than the time alone would ask for.
    let short = fit(
        &written,
        &Wish {
            minutes: Some(40),
            ..wish
        },
    )
    .unwrap()
    .plan;
    assert_eq!(short.length().to_string(), "37:00");
    assert_eq!(short.blocks[0].length, Span::from_seconds(660));
}

#[test]
fn a_test_is_not_cut_and_nonsense_is_refused_with_a_sentence() {
    for key in ["step-test", "three-minutes"] {
        let refused = fit(&session(key), &minutes(20)).unwrap_err().to_string();
        assert!(
            refused.contains("measures nothing once it is cut"),
            "{refused}"
        );
    }
    let written = session("steady-repeats");
    for wish in [
        minutes(0),
        minutes(361),
        Wish {
            warm_up: 31,
            ..Wish::default()
        },
    ] {
        let refused = fit(&written, &wish).unwrap_err().to_string();
        assert!(refused.contains("is outside"), "{refused}");
    }
    let bare = plan::read(
        "format = 1\nname = \"x\"\npurpose = \"y\"\n[[block]]\nkind = \"hold\"\ntime = \"5:00\"\neffort = 5\n",
    );
    let refused = fit(
        &bare.plan.unwrap(),
        &Wish {
            warm_up: 5,
            ..Wish::default()
        },
    )
    .unwrap_err();
    assert!(refused.to_string().contains("no warm-up"), "{refused}");
}

#[test]
fn the_fitted_text_says_what_it_was_fitted_from_and_what_was_changed() {
    let written = session("steady-repeats");
    let fitted = fit(&written, &minutes(35)).unwrap();
    let text = &fitted.plan.source;
    assert!(text.starts_with(
        "# Fitted to the day from \"Four times to the light\", 48:00 as it was written.\n"
    ));
    assert_eq!(changes_of(text), fitted.changes);
    assert_eq!(changes_of(&written.source), Vec::<String>::new());
    let kept = fitted.plan.fitted.as_ref().unwrap();
    assert_eq!((&*kept.written, kept.wish), (&*written.source, minutes(35)));
    // By hand: three blocks of warm-up, two repeats of two, and the last of the twelve.
    assert_eq!(kept.blocks, [1, 2, 3, 4, 5, 6, 7, 12]);
    assert_eq!(
        left_out(&written, &kept.blocks),
        ["Causeway 3 and 4 of 4", "Lee of the wall 3 and 4 of 4"]
    );
}

/// One block of any session. `deep` is the heading's depth.
fn any_block() -> impl Strategy<Value = String> {
    let kind = prop_oneof![
        Just(("warm-up", "effort = [2, 4]")),
        Just(("hold", "effort = 7.5")),
        Just(("hold", "effort = [6, 8]")),
        Just(("hold", "threshold = 0.91")),
        Just(("recovery", "effort = 4")),
        Just(("recovery", "watts = 90")),
        Just(("recovery", "slope = 1.5")),
        Just(("sprint", "effort = 10")),
        Just(("cool-down", "effort = 2")),
        Just(("free", "")),
    ];
    let cue = prop_oneof![
        Just(String::new()),
        (0u32..900).prop_map(|at| format!("[[HEAD.cue]]\nat = \"{}:{:02}\"\nkind = \"do\"\nsay = \"Number {at}, {{left}}.\"\n", at / 60, at % 60)),
        (0u32..900).prop_map(|at| format!("[[HEAD.cue]]\nbefore_end = \"{}:{:02}\"\nkind = \"why\"\nsay = \"Back {at} \\\"so\\\".\"\n", at / 60, at % 60)),
    ];
    let cues = proptest::collection::vec(cue, 0..3);
    (kind, 1u32..1500, any::<bool>(), 0u32..1000, cues).prop_map(|((kind, target), time, cut, name, cues)| {
        let cut = if cut && !matches!(kind, "warm-up" | "cool-down") { "cut = true\n" } else { "" };
        format!(
            "[[HEAD]]\nkind = \"{kind}\"\nname = \"Block {name}\"\ntime = \"{}:{:02}\"\n{target}\n{cut}{}",
            time / 60,
            time % 60,
            cues.concat()
        )
    })
}

fn any_session() -> impl Strategy<Value = Plan> {
    let set = |inner: BoxedStrategy<String>| {
        (1u32..6, proptest::collection::vec(inner, 1..4))
            .prop_map(|(repeat, blocks)| {
                format!(
                    "[[HEAD]]\nrepeat = {repeat}\n{}",
                    blocks.concat().replace("HEAD", "HEAD.block")
                )
            })
            .boxed()
    };
    let inner = prop_oneof![3 => any_block().boxed(), 1 => set(any_block().boxed())].boxed();
    let piece = prop_oneof![2 => any_block().boxed(), 1 => set(inner)];
    proptest::collection::vec(piece, 1..7).prop_filter_map("too long for a session", |pieces| {
        let text = format!(
            "format = 1\nname = \"Any \\\\ \\\"one\\\"\"\npurpose = \"A law.\"\n{}",
            pieces.concat().replace("HEAD", "block")
        );
        plan::read(&text).plan
    })
}

fn any_wish() -> impl Strategy<Value = Wish> {
    let recoveries = prop_oneof![
        Just(Recoveries::Full),
        Just(Recoveries::HalfWay),
        Just(Recoveries::Easier)
    ];
    (proptest::option::of(1u32..=360), 0u32..12, recoveries).prop_map(
        |(minutes, warm_up, recoveries)| Wish {
            minutes,
            warm_up,
            recoveries,
        },
    )
}

fn sum<'b>(blocks: impl Iterator<Item = &'b Block>) -> Span {
    blocks.map(|block| block.length).sum()
}

/// The warm-up before the first work, and the cool-down at the end.
fn eased_in_and_out(plan: &Plan) -> (Span, Span) {
    let into = plan.blocks.iter().take_while(|block| !block.kind.is_work());
    let out = plan
        .blocks
        .iter()
        .rev()
        .take_while(|block| block.kind == Kind::CoolDown);
    (
        sum(into.filter(|block| block.kind == Kind::WarmUp)),
        sum(out),
    )
}

/// Whether `less` are some of the blocks of `all`, in their order, each with nothing changed but length, easier load,
/// place among the repeats, and cues that fell away.
fn are_some_of(less: &[Block], all: &[Block]) -> bool {
    let mut rest = all.iter();
    less.iter().all(|block| {
        rest.any(|was| {
            let lighter = match (block.target, was.target) {
                (Target::Steady(now), Target::Steady(then)) => now.value() <= then.value(),
                (now, then) => now == then,
            };
            block.name == was.name
                && block.kind == was.kind
                && lighter
                && block.cues.iter().all(|cue| was.cues.contains(cue))
                && (block.length <= was.length || block.kind == Kind::WarmUp)
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_session_fits_or_says_why_not(written in any_session(), wish in any_wish()) {
        let fitted = match fit(&written, &wish) {
            Ok(fitted) => fitted,
            Err(refused) => {
                prop_assert!(refused.to_string().ends_with('.'), "{}", refused);
                // Without a time to keep nothing but the warm-up can be refused.
                prop_assert!(wish.minutes.is_some() || wish.warm_up > 0, "{}", refused);
                return Ok(());
            }
        };
        let plan = &fitted.plan;
        // Never over the wish.
        if let Some(minutes) = wish.minutes {
            prop_assert!(plan.length() <= Span::from_seconds(u64::from(minutes) * 60));
        }
        // What is said is what was done, and always the same.
        prop_assert_eq!(fitted.changes.is_empty(), plan.blocks == written.blocks, "{:?}", fitted.changes);
        prop_assert_eq!(&fit(&written, &wish).unwrap(), &fitted);
        // Its own text is the same session, and a good one.
        let again = plan::read(&plan.source).plan.unwrap();
        prop_assert_eq!(&again.blocks, &plan.blocks);
        prop_assert_eq!((&again.name, &again.purpose, again.length()), (&written.name, &written.purpose, plan.length()));
        // Blocks keep their order, and their cues.
        prop_assert!(are_some_of(&plan.blocks, &written.blocks), "{:#?}", lengths(plan));
        // Each knows which written block it is, and the others are those that fell away.
        if let Some(kept) = &plan.fitted {
            prop_assert_eq!(kept.blocks.len(), plan.blocks.len());
            prop_assert!(kept.blocks.windows(2).all(|pair| pair[0] < pair[1]), "{:?}", kept.blocks);
            for (block, number) in plan.blocks.iter().zip(&kept.blocks) {
                let was = &written.blocks[*number as usize - 1];
                prop_assert_eq!((&block.name, block.kind), (&was.name, was.kind));
                prop_assert_eq!(block.repeat.map(|place| place.number), was.repeat.map(|place| place.number));
            }
            let fell = written.blocks.len() - plan.blocks.len();
            prop_assert_eq!(left_out(&written, &kept.blocks).is_empty(), fell == 0);
        }
        // The floors: 8:00 before the work and 3:00 at the end, or what there was where that is less.
        let (before, after) = eased_in_and_out(&written);
        let (into, out) = eased_in_and_out(plan);
        prop_assert!(into >= before.min(Span::from_seconds(480)), "{} of {}", into, before);
        prop_assert!(out >= after.min(Span::from_seconds(180)), "{} of {}", out, after);
        // Some work stays where there was some.
        let works = |plan: &Plan| plan.blocks.iter().any(|block| block.kind.is_work());
        prop_assert_eq!(works(&written), works(plan));
    }

    #[test]
    fn a_session_fitted_to_its_own_length_is_left_alone(written in any_session(), more in 0u32..30) {
        let own = written.length().whole_seconds().div_ceil(60) as u32 + more;
        prop_assume!(own <= 360);
        let fitted = fit(&written, &minutes(own)).unwrap();
        prop_assert_eq!(fitted.plan, written);
        prop_assert!(fitted.changes.is_empty());
    }

    #[test]
    fn the_shortest_that_is_told_can_be_had(written in any_session()) {
        if let Err(refused) = fit(&written, &minutes(1)) {
            let told = refused.to_string();
            let least: u32 = told.split("Take ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
            prop_assert!(fit(&written, &minutes(least)).is_ok(), "{}", told);
            prop_assert!(least < 2 || fit(&written, &minutes(least - 1)).is_err(), "{}", told);
        }
    }
}
