//! When nothing is proposed, and what forbids a step more.

use std::sync::Arc;

use stillroad::plan::Kind;
use stillroad::ride::RideMode;
use stillroad::units::Watts;

use super::{Rec, builtin, changes, happens, low, next, numbers, rate, rate_holds, ridden};

fn why(kept: &Rec) -> String {
    let why = next(kept).map(|proposal| proposal.words()).unwrap_err();
    assert!(why.ends_with("Nothing is proposed."), "{why}");
    why
}

type Spoils = fn(&mut Rec);

#[test]
fn a_ride_that_tells_too_little_proposes_nothing_and_says_why() {
    let cases: [(&str, Spoils); 8] = [
        ("practice devices", |kept| {
            let name = || "Practice".to_owned();
            kept.start.devices = vec![(name(), name(), name(), true)];
        }),
        ("No second of the ride", |kept| kept.rows.clear()),
        ("session's own file", |kept| {
            kept.start.session_text = Arc::from("format = 1\n");
        }),
        ("rider's own file", |kept| {
            kept.start.rider_text = Arc::from("threshold = \"much\"\n");
        }),
        ("Causeway 4 of 4 was not", |kept| {
            kept.rows.retain(|row| row.block < 10);
        }),
        ("Causeway 2 of 4 was not", |kept| {
            let mut left = 0;
            kept.rows.retain(|row| {
                left += u32::from(row.block == 6);
                row.block != 6 || left < 120
            });
            for (row, second) in kept.rows.iter_mut().zip(1..) {
                row.ridden_s = second;
            }
        }),
        ("Too much is missing", |kept| {
            kept.rows.retain(|row| row.ridden_s % 10 != 0);
        }),
        ("Power was not measured", |kept| {
            for row in &mut kept.rows {
                row.power = None;
            }
        }),
    ];
    for (words, spoils) in cases {
        let mut kept = low();
        spoils(&mut kept);
        let told = why(&kept);
        assert!(told.contains(words), "{words}: {told}");
    }
}

#[test]
fn a_test_and_a_session_without_work_are_left_as_they_are() {
    for (session, words) in [
        ("step-test", "threshold test"),
        ("three-minutes", "threshold test"),
    ] {
        let kept = ridden(builtin(session), RideMode::TargetPower);
        assert!(why(&kept).contains(words));
    }
    let easy = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\n\
                effort = 3\n[[block]]\nkind = \"cool-down\"\ntime = \"4:00\"\neffort = 2\n";
    assert!(why(&ridden(easy, RideMode::TargetPower)).contains("no work"));
}

#[test]
fn a_ride_as_planned_is_ridden_again_as_it_is() {
    let short = ridden(builtin("first-ride"), RideMode::TargetPower);
    assert!(why(&short).contains("three minutes after which a rating is asked"));
    let mut kept = ridden(builtin("steady-repeats"), RideMode::TargetPower);
    assert!(why(&kept).contains("No hold was rated"));
    rate_holds(&mut kept, 0.5);
    let told = why(&kept);
    assert!(
        told.contains("as they were planned (+0.5 of ten)"),
        "{told}"
    );
    // What the legs can do better and no text can say.
    for row in &mut kept.rows {
        if row.block == 5 {
            row.power = row.power.map(|power| power * 1.5);
        }
    }
    let told = why(&kept);
    assert!(told.contains("recoveries are ridden, and easily"), "{told}");
}

#[test]
fn more_is_forbidden_by_whatever_speaks_against_it() {
    let cases: [(&str, Spoils); 7] = [
        ("less than half of them were rated", |kept| {
            kept.notes.truncate(1)
        }),
        ("Causeway 4 of 4 was rated above it", |kept| {
            rate(kept, Some(10), 8.0);
            for number in [4, 6, 8] {
                rate(kept, Some(number), 3.0);
            }
        }),
        ("the whole session was rated 8", |kept| {
            rate(kept, None, 8.0)
        }),
        ("made easier on the way", |kept| {
            happens(kept, 1, "ease-block")
        }),
        ("above what was asked for today", |kept| {
            for row in kept.rows.iter_mut().filter(|row| row.block == 5) {
                row.power = row.power.map(|power| power * 1.5);
            }
        }),
        ("with less than is written", |kept| {
            for row in kept.rows.iter_mut().filter(|row| row.block == 6) {
                row.lane = row.lane.map(|lane| lane * 0.96);
                row.power = row.lane;
            }
        }),
        (
            "not known to have lain in the lane of Causeway 2 of 4",
            |kept| {
                let mut second = 0;
                for row in kept.rows.iter_mut().filter(|row| row.block == 6) {
                    second += 1;
                    if second % 3 == 0 {
                        row.power = row.power.map(|power| power * 0.9);
                    }
                }
            },
        ),
    ];
    for (words, spoils) in cases {
        let mut kept = low();
        assert_eq!(changes(&kept).len(), 1);
        spoils(&mut kept);
        let told = why(&kept);
        assert!(told.contains(words), "{words}: {told}");
    }
}

#[test]
fn more_stays_under_the_cap_the_check_and_what_is_left_of_w_prime() {
    // Effort 7.5 is 173 W of 200 W of threshold, 7.7 is 176.6 W: over the cap, and no repeat stands in for it.
    let mut kept = low();
    kept.start.power_cap = Watts(175.0);
    let told = why(&kept);
    assert!(told.contains("a step more within your caps"), "{told}");
    // From 7.9 to 8.1 the work becomes hard, and eight minutes of warm-up are needed then: here there are seven.
    let text = builtin("steady-repeats")
        .replace("effort = 7.5", "effort = 7.9")
        .replace("whole = \"48:00\"\n", "")
        .replace("time = \"6:00\"", "time = \"2:00\"");
    let mut kept = ridden(&text, RideMode::TargetPower);
    rate_holds(&mut kept, -1.5);
    assert_eq!(
        changes(&kept),
        ["The set of Causeway: 5 times in place of 4."]
    );
    // Newcomers are asked for 7 at most.
    let text = builtin("second-week").replace("effort = 6\n", "effort = 6.9\n");
    let mut kept = ridden(&text, RideMode::TargetPower);
    rate_holds(&mut kept, -1.5);
    assert_eq!(kept.review().sets[0].kind, Kind::Hold);
    assert!(changes(&kept)[0].starts_with("The set of "));
    // Six minutes at 102 % of 200 W take 1.44 kJ of W′: nearly all of 1.5 kJ. At 100 % they take nothing, but where a step
    // more is too much a repeat more does not stand in for it.
    let text = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\n\
                effort = 3\n[[block]]\nrepeat = 3\n[[block.block]]\nkind = \"hold\"\ntime = \"6:00\"\nthreshold = 1.0\n\
                [[block.block]]\nkind = \"recovery\"\ntime = \"1:00\"\neffort = 3\n[[block]]\nkind = \"cool-down\"\n\
                time = \"4:00\"\neffort = 2\n";
    let mut kept = ridden(text, RideMode::TargetPower);
    rate_holds(&mut kept, -1.5);
    assert_eq!(numbers(&kept, Kind::Hold).len(), 3);
    assert_eq!(
        changes(&kept),
        ["Hold: 102 % of threshold in place of 100 % of threshold."]
    );
    let small = kept.start.rider_text.replace("20000", "1500");
    kept.start.rider_text = Arc::from(small);
    let told = why(&kept);
    assert!(told.contains("next to nothing of W′"), "{told}");
}

/// One more of two is half as much again.
#[test]
fn a_set_of_two_is_not_ridden_once_more() {
    let mut kept = ridden(builtin("short-day"), RideMode::EffortOnly);
    rate_holds(&mut kept, -1.5);
    assert_eq!(
        changes(&kept),
        ["The crossing: effort 8 in place of effort 7.5."]
    );
    let three = builtin("short-day").replace("repeat = 2", "repeat = 3");
    let three = three.replace("main = \"21:00\"\nwhole = \"35:00\"\n", "");
    let mut kept = ridden(&three, RideMode::EffortOnly);
    rate_holds(&mut kept, -1.5);
    assert_eq!(
        changes(&kept),
        ["The set of The crossing: 4 times in place of 3."]
    );
    // Above what newcomers are asked for it is not asked for once more either.
    let three = three.replace("purpose =", "for = \"newcomers\"\npurpose =");
    let mut kept = ridden(&three, RideMode::EffortOnly);
    rate_holds(&mut kept, -1.5);
    let told = why(&kept);
    assert!(told.contains("none has a load"), "{told}");
}

#[test]
fn a_load_against_which_the_rider_makes_the_watts_has_no_step() {
    let text = builtin("steady-repeats").replace("effort = 7.5", "level = 0.3");
    let mut kept = ridden(&text, RideMode::TargetPower);
    let first = numbers(&kept, Kind::Hold)[0];
    happens(&mut kept, first, "ease-block");
    let told = why(&kept);
    assert!(told.contains("nothing that one value"), "{told}");
}
