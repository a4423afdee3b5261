//! Brake or rider: what the brake could show, by the textbook's first-order answer, and whose doing the rest is.

use proptest::prelude::*;
use stillroad::control::answer::Seen;
use stillroad::control::lag::{Candidate, Manner};
use stillroad::control::{Answer, Expected, Split, Targets};
use stillroad::time::{Instant, Span};
use stillroad::units::Watts;

fn at(seconds: f64) -> Instant {
    Instant::ZERO + Span::from_seconds_f64(seconds)
}

/// A brake of which this is known, within a tenth either way.
fn seen(dead_time: f64, lag: f64, smoothing: f64) -> Seen {
    let likely = Candidate {
        dead_time,
        lag,
        manner: Manner::Smoothed(smoothing),
        delay: 0.0,
    };
    Seen {
        likely,
        least_behind: 0.0,
        most_behind: dead_time + lag,
        least_half: 0.0,
        least_total: likely.total() * 0.9,
        most_total: likely.total() * 1.1,
        error: 2.0,
        told_apart: true,
    }
}

fn answer(rise: Seen, fall: Seen) -> Answer {
    Answer {
        rise: Some(rise),
        fall: Some(fall),
        ..Answer::default()
    }
}

/// 100 W for long, and at second 100 this.
fn step(watts: f64) -> Targets {
    let mut targets = Targets::default();
    targets.put(at(0.0), Watts(100.0));
    targets.put(at(100.0), Watts(watts));
    targets
}

#[test]
fn a_step_is_followed_as_a_first_order_brake_follows_it() {
    // 1 − e^(−t/τ): half at dead time + 0.693 τ, 63.2 % at dead time + τ, 95.0 % at dead time + 3 τ.
    for (to, dead, lag) in [(200.0, 0.3, 1.0), (60.0, 0.5, 2.0), (200.0, 0.0, 0.7)] {
        let slow = answer(seen(0.3, 1.0, 0.0), seen(0.5, 2.0, 0.0));
        let slow = if lag == 0.7 {
            answer(seen(0.0, 0.7, 0.0), seen(0.0, 0.7, 0.0))
        } else {
            slow
        };
        for (share, time) in [(0.5, 0.693), (0.632, 1.0), (0.950, 3.0)] {
            let now = at(100.0 + dead + time * lag);
            let expected = step(to).expected(now, &slow).unwrap();
            let load = 100.0 + (to - 100.0) * share;
            // The reckoning's step is a tenth of a second.
            let allowed = (to - 100.0_f64).abs() * 0.1 / lag * (1.0 - share) + 0.5;
            assert!(
                (expected.likely.0 - load).abs() <= allowed,
                "{to} {share}: {expected:?}"
            );
            assert!(expected.known);
            assert!(expected.least.0 <= load + allowed && expected.most.0 >= load - allowed);
        }
        let before = step(to).expected(at(99.9), &slow).unwrap();
        assert_eq!(before.likely, Watts(100.0));
    }
}

#[test]
fn reports_that_are_smoothed_are_expected_later() {
    // Two equal first-order lags one after the other: 1 − (1 + t/τ)·e^(−t/τ); 26.4 % at t = τ, 59.4 % at 2 τ.
    let both = answer(seen(0.0, 1.0, 1.0), seen(0.0, 1.0, 1.0));
    for (time, share) in [(1.0, 0.264), (2.0, 0.594)] {
        let expected = step(200.0).expected(at(100.0 + time), &both).unwrap();
        assert!(
            (expected.likely.0 - 100.0 - 100.0 * share).abs() < 4.0,
            "{expected:?}"
        );
    }
}

#[test]
fn where_nothing_is_known_the_targets_of_the_last_seconds_are_the_band() {
    let unknown = Answer::default();
    let expected = step(200.0).expected(at(102.0), &unknown).unwrap();
    let band = Expected {
        least: Watts(100.0),
        likely: Watts(200.0),
        most: Watts(200.0),
        known: false,
    };
    assert_eq!(expected, band);
    let later = step(200.0).expected(at(106.0), &unknown).unwrap();
    assert_eq!((later.least, later.most), (Watts(200.0), Watts(200.0)));
    let mut none = Targets::default();
    assert_eq!(none.expected(at(1.0), &unknown), None);
    none.put(at(0.0), Watts(100.0));
    none.clear();
    assert_eq!(none.expected(at(1.0), &unknown), None);
}

fn split(lane: f64, told: f64, power: f64, least: f64, likely: f64, most: f64) -> Split {
    let expected = Expected {
        least: Watts(least),
        likely: Watts(likely),
        most: Watts(most),
        known: true,
    };
    Split::of(Watts(lane), Watts(told), Watts(power), expected)
}

#[test]
fn a_deviation_is_laid_to_whom_it_belongs() {
    // The brake is half way: nobody's fault but the brake's.
    let way = split(200.0, 200.0, 150.0, 145.0, 150.0, 155.0);
    assert_eq!(
        (way.told, way.brake, way.legs),
        (Watts(0.0), Watts(-50.0), Watts(0.0))
    );
    assert_eq!(
        way.words().unwrap(),
        "50 W under the lane: 50 W the brake is on its way"
    );
    // The brake stands and the legs do not: 140 W where 196 to 204 can be explained, within 4.2 W or 4.
    let legs = split(200.0, 200.0, 140.0, 200.0, 200.0, 200.0);
    assert!(
        (legs.brake.0 + 4.2).abs() < 1e-9 && (legs.legs.0 + 55.8).abs() < 1e-9,
        "{legs:?}"
    );
    assert_eq!(legs.words().unwrap(), "60 W under the lane: 56 W the legs");
    // Eased: the target itself stands 20 W under the lane.
    let eased = split(200.0, 180.0, 181.0, 180.0, 180.0, 180.0);
    assert_eq!((eased.told, eased.legs), (Watts(-20.0), Watts(0.0)));
    assert!(
        eased
            .words()
            .unwrap()
            .contains("the target itself stands there")
    );
    // On the lane there is nothing to say.
    assert_eq!(
        split(200.0, 200.0, 203.0, 200.0, 200.0, 200.0).words(),
        None
    );
    // Not known: the brake may be.
    let expected = Expected {
        least: Watts(100.0),
        likely: Watts(200.0),
        most: Watts(200.0),
        known: false,
    };
    let unknown = Split::of(Watts(200.0), Watts(200.0), Watts(150.0), expected);
    assert!(
        unknown.words().unwrap().contains("may be"),
        "{:?}",
        unknown.words()
    );
}

proptest! {
    #[test]
    fn the_parts_add_up_and_the_legs_have_no_part_inside_the_band(
        lane in 0.0..500.0_f64, told in 0.0..500.0_f64, power in 0.0..900.0_f64,
        least in 0.0..400.0_f64, wide in 0.0..200.0_f64,
    ) {
        let split = split(lane, told, power, least, least + wide / 2.0, least + wide);
        prop_assert!((split.whole().0 - (power - lane)).abs() < 1e-9);
        if power >= least && power <= least + wide {
            prop_assert_eq!(split.legs, Watts(0.0));
        }
        // The legs' part never outweighs what lies outside the band.
        let outside = (least - power).max(power - least - wide).max(0.0);
        prop_assert!(split.legs.0.abs() <= outside + 1e-9);
    }

    #[test]
    fn what_is_expected_lies_among_the_targets(
        changes in proptest::collection::vec((0.0..4.0_f64, 50.0..400.0_f64), 1..150),
        rise in 0.0..3.0_f64, fall in 0.0..3.0_f64,
    ) {
        let mut targets = Targets::default();
        let (mut now, mut least, mut most) = (0.0, f64::INFINITY, 0.0_f64);
        for (wait, watts) in changes {
            now += wait;
            targets.put(at(now), Watts(watts));
            (least, most) = (least.min(watts), most.max(watts));
        }
        let known = answer(seen(0.3, rise, 0.2), seen(0.1, fall, 0.2));
        let expected = targets.expected(at(now + 1.0), &known).unwrap();
        for watts in [expected.least, expected.likely, expected.most] {
            prop_assert!(watts.0 >= least - 1e-6 && watts.0 <= most + 1e-6, "{expected:?}");
        }
        prop_assert!(expected.least.0 <= expected.likely.0 && expected.likely.0 <= expected.most.0);
    }
}
