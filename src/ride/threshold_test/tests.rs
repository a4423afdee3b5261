//! Known riders, known answers, and every condition that was not met.

#![allow(clippy::unwrap_used)]
use super::*;
use crate::units::Rpm;

const KNOWN: Known = Known {
    w_prime: Joules(20_000.0),
    w_prime_checked: true,
    exhausted: true,
    band: Some(CadenceBand {
        low: Rpm(70.0),
        high: Rpm(120.0),
    }),
};

fn second(index: usize, power: f64) -> TestSecond {
    TestSecond {
        utc_ms: index as i64 * 1000,
        block: 0,
        power: Some(power),
        cadence: Some(88.0),
        lane: None,
        held: None,
        stands: Some(20.0),
    }
}

/// A rider with this critical power (W) and W′ (J) by the law of Monod & Scherrer, on steps of 90 s that rise by 12 W
/// from 144 W: ridden until the reserve is empty, reckoned second by second.
fn stepped(critical: f64, w_prime: f64) -> Vec<TestSecond> {
    let (mut left, mut seconds) = (w_prime, Vec::new());
    for index in 0..3000 {
        let block = index / 90;
        let power = 144.0 + 12.0 * block as f64;
        left -= (power - critical).max(0.0);
        if left < 0.0 {
            break;
        }
        seconds.push(TestSecond {
            block,
            lane: Some(power),
            held: Some(power),
            stands: None,
            ..second(index, power)
        });
    }
    seconds
}

/// All out by the three-parameter law (Morton 1996): power decays to critical power with the time constant
/// W′/(greatest − critical). Its integral above critical power over 180 s is W′·(1 − exp(−180/τ)).
fn all_out(critical: f64, greatest: f64, w_prime: f64) -> Vec<TestSecond> {
    let tau = w_prime / (greatest - critical);
    (0..ALL_OUT_S)
        .map(|index| {
            // The mean of the decay over the second.
            let from = (-(index as f64) / tau).exp();
            let to = (-(index as f64 + 1.0) / tau).exp();
            second(index, critical + (greatest - critical) * tau * (from - to))
        })
        .collect()
}

#[test]
fn one_step_to_exhaustion_is_the_law_itself() {
    // CP 250 W, W′ 20 kJ: 300, 350, 450, 650 W last 400, 200, 100, 50 s (Monod & Scherrer 1965; Hill 1993).
    for (power, time) in [
        (300.0, 400.0),
        (350.0, 200.0),
        (450.0, 100.0),
        (650.0, 50.0),
    ] {
        let critical = critical_power(&[(power, time)], 20_000.0).unwrap();
        assert!((critical - 250.0).abs() < 1e-6, "{critical}");
    }
    // Work under critical power costs nothing of the reserve: 100 s at 300 W after any time at 200 W leave
    // 300 − 20000/400 as before.
    let critical = critical_power(&[(200.0, 600.0), (300.0, 400.0)], 20_000.0).unwrap();
    assert!((critical - 250.0).abs() < 1e-6);
    assert_eq!(critical_power(&[(100.0, 60.0)], 20_000.0), None);
}

#[test]
fn a_step_test_finds_the_rider_that_the_law_describes() {
    for (critical, w_prime) in [(252.0, 20_000.0), (200.0, 12_000.0), (310.0, 26_000.0)] {
        let known = Known {
            w_prime: Joules(w_prime),
            ..KNOWN
        };
        let found = find(ThresholdTest::Step, &stepped(critical, w_prime), &known).unwrap();
        // The last second is lost, a fortieth of the reserve at most.
        assert!((found.critical_power.0 - critical).abs() < 0.5, "{found:?}");
        assert_eq!(found.threshold.0, (found.critical_power.0 / 1.05).round());
        assert_eq!(found.w_prime, None);
        assert!(found.method.contains("step test") && found.doubt.contains("estimate"));
        // A quarter more or less of W′ lies within what is said of it.
        for wrong in [0.75, 1.25] {
            let rode = stepped(critical, w_prime * wrong);
            let told = find(ThresholdTest::Step, &rode, &known).unwrap();
            let off = (told.critical_power.0 - critical).abs() / CRITICAL_OVER_THRESHOLD;
            assert!(off <= told.give.0, "{off} W off, {} W said", told.give);
        }
    }
}

#[test]
fn a_w_prime_that_nobody_has_checked_leaves_more_doubt() {
    let rode = stepped(252.0, 20_000.0);
    let sure = find(ThresholdTest::Step, &rode, &KNOWN).unwrap();
    let unsure = Known {
        w_prime_checked: false,
        ..KNOWN
    };
    let unsure = find(ThresholdTest::Step, &rode, &unsure).unwrap();
    assert_eq!(sure.threshold, unsure.threshold);
    assert!(unsure.give > sure.give, "{sure:?} {unsure:?}");
    assert!(unsure.doubt.contains("nobody has checked"));
}

#[test]
fn three_minutes_all_out_find_critical_power_and_w_prime() {
    // The mean of the last 30 s by the integral: CP + W′·(e^(−150/τ) − e^(−180/τ))/30. For 250 W, 1000 W and 20 kJ:
    // τ = 26.667 s, 2.2533 W over; W′ above that mean 20000·(1 − e^−6.75) − 2.2533·180 = 19570.95 J → 19.6 kJ
    // (reckoned with numpy 2).
    let found = find(
        ThresholdTest::ThreeMinutes,
        &all_out(250.0, 1000.0, 20_000.0),
        &KNOWN,
    );
    let found = found.unwrap();
    let expected = 250.0
        + 20_000.0 * ((-150.0_f64 / 26.666_667).exp() - (-180.0_f64 / 26.666_667).exp()) / 30.0;
    assert!(
        (found.critical_power.0 - expected).abs() < 1e-3,
        "{found:?}"
    );
    assert!((found.critical_power.0 - 251.62).abs() < 0.01, "{found:?}");
    assert_eq!(found.threshold, Watts(240.0));
    assert_eq!(found.w_prime, Some(Joules(19_700.0)));
    assert!(found.give.0 >= 10.0);
}

#[test]
fn legs_that_still_fall_at_the_end_leave_more_doubt() {
    // A rider who fades slowly, τ = 60 s, is read too high: the doubt covers it.
    let found = find(
        ThresholdTest::ThreeMinutes,
        &all_out(250.0, 583.3, 20_000.0),
        &KNOWN,
    );
    let found = found.unwrap();
    let over = found.critical_power.0 - 250.0;
    assert!(
        over > 15.0 && over / CRITICAL_OVER_THRESHOLD <= found.give.0 + 1.0,
        "{found:?}"
    );
}

fn refused(test: ThresholdTest, seconds: &[TestSecond], known: &Known, why: &str) {
    let reasons = find(test, seconds, known).unwrap_err();
    assert!(
        reasons.iter().any(|each| each.contains(why)),
        "{why}: {reasons:?}"
    );
    assert!(
        reasons.iter().all(|each| each.ends_with('.')),
        "{reasons:?}"
    );
}

#[test]
fn every_condition_that_was_not_met_is_named() {
    use ThresholdTest::{Step, ThreeMinutes};
    let steps = stepped(252.0, 20_000.0);
    let three = all_out(250.0, 1000.0, 20_000.0);
    assert!(find(Step, &steps, &KNOWN).is_ok() && find(ThreeMinutes, &three, &KNOWN).is_ok());
    for (test, rode) in [(Step, &steps), (ThreeMinutes, &three)] {
        let with = |change: &dyn Fn(usize, &mut TestSecond)| {
            let mut seconds = rode.clone();
            seconds
                .iter_mut()
                .enumerate()
                .for_each(|(index, second)| change(index, second));
            seconds
        };
        let is = |why: &str, change: &dyn Fn(usize, &mut TestSecond)| {
            refused(test, &with(change), &KNOWN, why);
        };
        refused(test, &[], &KNOWN, "not ridden");
        is("No power was measured", &|_, second| second.power = None);
        is("missing for 4 s", &|index, second| {
            if (50..54).contains(&index) {
                second.power = None;
            }
        });
        is("stood still for 5 s", &|index, second| {
            if (50..55).contains(&index) {
                (second.power, second.cadence) = (Some(0.0), Some(0.0));
            }
        });
        is("clock stood", &|index, second| {
            if index >= 60 {
                second.utc_ms += 10_000;
            }
        });
    }
    let unfinished = Known {
        exhausted: false,
        ..KNOWN
    };
    refused(Step, &steps, &unfinished, "threshold lies higher");
    refused(Step, &steps[..300], &KNOWN, "within six minutes");
    let changed = |change: &dyn Fn(usize, &mut TestSecond), from: &[TestSecond]| {
        let mut seconds = from.to_vec();
        seconds
            .iter_mut()
            .enumerate()
            .for_each(|(index, second)| change(index, second));
        seconds
    };
    refused(
        Step,
        &changed(&|_, s| s.held = None, &steps),
        &KNOWN,
        "did not hold",
    );
    refused(
        Step,
        &changed(&|_, s| s.held = Some(200.0), &steps),
        &KNOWN,
        "power cap",
    );
    refused(
        Step,
        &changed(&|_, s| s.cadence = Some(60.0), &steps),
        &KNOWN,
        "under its band",
    );
    refused(
        ThreeMinutes,
        &three[..150],
        &KNOWN,
        "cut short: 150 of 180 s",
    );
    let mut longer = three.clone();
    longer.push(second(180, 250.0));
    refused(ThreeMinutes, &longer, &KNOWN, "longer than three minutes");
    refused(
        ThreeMinutes,
        &changed(&|_, s| s.held = Some(400.0), &three),
        &KNOWN,
        "held watts",
    );
    refused(
        ThreeMinutes,
        &changed(&|_, s| s.stands = None, &three),
        &KNOWN,
        "No resistance stood",
    );
    let shifted = changed(
        &|index, s| s.stands = Some(if index > 90 { 18.0 } else { 20.0 }),
        &three,
    );
    refused(ThreeMinutes, &shifted, &KNOWN, "resistance was changed");
    let holes = changed(
        &|index, s| {
            if index == 170 {
                s.power = None
            }
        },
        &three,
    );
    refused(ThreeMinutes, &holes, &KNOWN, "last thirty seconds");
    refused(
        ThreeMinutes,
        &changed(&|_, s| s.cadence = Some(60.0), &three),
        &KNOWN,
        "an easier gear",
    );
    refused(
        ThreeMinutes,
        &changed(&|_, s| s.cadence = Some(150.0), &three),
        &KNOWN,
        "a harder gear",
    );
    // Even riding, and a kick at the end.
    refused(
        ThreeMinutes,
        &changed(&|_, s| s.power = Some(300.0), &three),
        &KNOWN,
        "paced",
    );
    let kicked = changed(
        &|index, s| {
            if index >= 150 {
                s.power = Some(320.0)
            }
        },
        &three,
    );
    refused(ThreeMinutes, &kicked, &KNOWN, "paced");
    // No rider has a critical power of 20 W.
    let feeble = all_out(22.0, 60.0, 20_000.0 / 30.0);
    refused(
        ThreeMinutes,
        &feeble,
        &KNOWN,
        "no value that a rider can have",
    );
}
