//! Cadence and speed from counts. Expected values by hand: revolutions × 60 × 1024 / ticks, differences modulo the
//! width of their field (Bluetooth SIG, Cycling Speed and Cadence Service 1.0, 3.1).

use approx::assert_relative_eq;
use proptest::prelude::*;
use stillroad::gatt::revolutions::{Cadence, WheelClock, WheelSpeed};
use stillroad::gatt::{CrankCount, WheelCount};
use stillroad::time::{Instant, Span};
use stillroad::units::Metres;

fn at(seconds: f64) -> Instant {
    Instant::ZERO + Span::from_seconds_f64(seconds)
}

const fn crank(revolutions: u16, time: u16) -> CrankCount {
    CrankCount { revolutions, time }
}

const fn wheel(revolutions: u32, time: u16) -> WheelCount {
    WheelCount { revolutions, time }
}

fn wheel_speed(clock: WheelClock) -> WheelSpeed {
    WheelSpeed::new(clock, Metres(2.1))
}

/// The cadence of the second of two records.
fn pair(first: CrankCount, second: CrankCount, seconds_between: f64) -> Option<f64> {
    let mut cadence = Cadence::default();
    assert_eq!(cadence.put(at(10.0), first), None);
    cadence
        .put(at(10.0 + seconds_between), second)
        .map(|rpm| rpm.0)
}

#[test]
fn c79_differences_are_modulo_the_width() {
    // 683 ticks for one turn.
    let found = pair(crank(500, 65_400), crank(501, 547), 1.0).unwrap();
    assert_relative_eq!(found, 60.0 * 1024.0 / 683.0);
    assert_relative_eq!(found, 89.956, epsilon = 5e-4);
    // Both wrap: three turns in 2048 ticks.
    assert_relative_eq!(
        pair(crank(65_535, 65_000), crank(2, 1512), 2.0).unwrap(),
        90.0
    );
}

#[test]
fn c79_the_wheel_has_a_clock_of_its_own() {
    // Eight turns of 2.1 m in one second, told in either clock, over a wrap of everything.
    for (clock, ticks) in [
        (WheelClock::SpeedSensor, 1024),
        (WheelClock::PowerMeter, 2048),
    ] {
        let mut speed = wheel_speed(clock);
        assert_eq!(speed.put(at(1.0), wheel(u32::MAX - 2, 65_000)), None);
        let found = speed
            .put(at(2.0), wheel(5, 65_000_u16.wrapping_add(ticks)))
            .unwrap();
        assert_relative_eq!(found.0, 16.8, epsilon = 1e-9);
    }
}

#[test]
fn c80_a_wheel_count_may_fall_or_be_set() {
    let start = wheel(5000, 1000);
    for after in [
        wheel(4997, 2024),
        wheel(0, 2024),
        wheel(2_000_000, 2024),
        wheel(4997, 1000),
    ] {
        let mut speed = wheel_speed(WheelClock::SpeedSensor);
        speed.put(at(1.0), start);
        assert_eq!(speed.put(at(2.0), after), None, "{after:?}");
        // The record is the new baseline.
        let next = wheel(after.revolutions + 4, after.time + 1024);
        assert_relative_eq!(speed.put(at(3.0), next).unwrap().0, 8.4, epsilon = 1e-9);
    }
}

#[test]
fn c80_the_first_record_is_a_baseline() {
    assert_eq!(Cadence::default().put(at(0.0), crank(54_321, 30_000)), None);
    let mut speed = wheel_speed(WheelClock::PowerMeter);
    assert_eq!(speed.put(at(0.0), wheel(123_456, 40_000)), None);
}

#[test]
fn the_same_time_with_more_revolutions_is_passed_over() {
    let mut cadence = Cadence::default();
    cadence.put(at(0.0), crank(10, 1000));
    assert_eq!(cadence.put(at(0.5), crank(12, 1000)), None);
    // Reckoned from the last good record: two turns in 1024 ticks.
    assert_relative_eq!(cadence.put(at(1.0), crank(12, 2024)).unwrap().0, 120.0);
}

#[test]
fn without_a_new_turn_the_cadence_falls_to_zero_and_is_not_held() {
    let mut cadence = Cadence::default();
    cadence.put(at(0.0), crank(10, 1000));
    // One turn in 683 ticks, about 90 a minute.
    let steady = cadence.put(at(0.67), crank(11, 1683)).unwrap().0;
    let mut last = steady;
    for (seconds, most) in [
        (0.5, 90.0),
        (1.0, 60.0),
        (1.5, 40.0),
        (2.0, 30.0),
        (2.9, 20.7),
    ] {
        let now = cadence.put(at(0.67 + seconds), crank(11, 1683)).unwrap().0;
        assert!(
            now <= most && now <= last && now > 0.0,
            "{seconds} s: {now}"
        );
        last = now;
    }
    for seconds in [3.0, 4.0, 30.0, 70.0] {
        assert_eq!(
            cadence.put(at(0.67 + seconds), crank(11, 1683)).unwrap().0,
            0.0
        );
    }
    // Between records the fall goes on by itself.
    let mut between = Cadence::default();
    between.put(at(0.0), crank(10, 1000));
    between.put(at(0.67), crank(11, 1683));
    assert_relative_eq!(between.at(at(2.67)).unwrap().0, 30.0);
    // With no records at all it is unknown, which is not zero.
    assert_eq!(between.at(at(3.67)), None);
}

#[test]
fn after_a_silence_longer_than_the_clock_the_pair_is_discarded() {
    // 64 s for a clock of 1/1024 s, 32 s for one of 1/2048 s.
    assert_eq!(pair(crank(10, 1000), crank(11, 1600), 64.0), None);
    assert_eq!(pair(crank(10, 1000), crank(11, 1600), 70.0), None);
    assert!(pair(crank(10, 1000), crank(11, 62_440), 60.0).is_some());
    for (clock, seconds, known) in [
        (WheelClock::PowerMeter, 29.0, true),
        (WheelClock::PowerMeter, 32.0, false),
        (WheelClock::SpeedSensor, 32.0, true),
        (WheelClock::SpeedSensor, 64.0, false),
    ] {
        let mut speed = wheel_speed(clock);
        speed.put(at(0.0), wheel(10, 0));
        assert_eq!(
            speed.put(at(seconds), wheel(11, 60_000)).is_some(),
            known,
            "{clock:?} {seconds}"
        );
    }
    // Records without a turn in between do not make the pair any younger.
    let mut cadence = Cadence::default();
    cadence.put(at(0.0), crank(10, 1000));
    for second in 1..70 {
        cadence.put(at(f64::from(second)), crank(10, 1000));
    }
    assert_eq!(cadence.put(at(70.0), crank(11, 1600)), None);
    assert_relative_eq!(cadence.put(at(71.0), crank(12, 2624)).unwrap().0, 60.0);
}

#[test]
fn a_cadence_that_no_leg_can_turn_is_not_shown() {
    assert_eq!(pair(crank(54_321, 1000), crank(0, 2024), 1.0), None);
    assert_eq!(pair(crank(0, 1000), crank(6, 2024), 1.0), None);
    assert_relative_eq!(pair(crank(0, 1000), crank(5, 2024), 1.0).unwrap(), 300.0);
}

proptest! {
    /// A steady rider whose sensor reports at any interval: the cadence comes out, across every wrap.
    #[test]
    fn a_steady_cadence_is_found_across_wraps(
        rpm in 30.0_f64..200.0,
        interval in 0.25_f64..2.0,
        first_count in any::<u16>(),
        first_time in any::<u16>(),
    ) {
        let mut cadence = Cadence::default();
        let mut shown = Vec::new();
        for record in 0..200 {
            let seconds = f64::from(record) * interval;
            let turns = (seconds * rpm / 60.0).floor();
            let ticks = (turns * 60.0 / rpm * 1024.0).round();
            let count = crank(
                first_count.wrapping_add(turns as u16),
                first_time.wrapping_add((ticks as u64 % 65_536) as u16),
            );
            shown.extend(cadence.put(at(seconds), count));
        }
        prop_assert!(shown.len() > 50);
        for found in shown {
            // One tick of rounding at either end of one turn, and the fall between turns when records come faster.
            prop_assert!(found.0 <= rpm * 1.01, "{} for {rpm}", found.0);
            prop_assert!(found.0 >= 60.0 / (60.0 / rpm + interval) - 1.0, "{} for {rpm}", found.0);
        }
    }

    /// Nothing that a sensor sends gives a number that cannot be.
    #[test]
    fn any_counts_give_a_credible_number_or_none(
        records in proptest::collection::vec((any::<u32>(), any::<u16>(), 0.0_f64..90.0), 1..60),
    ) {
        let mut cadence = Cadence::default();
        let mut speed = wheel_speed(WheelClock::PowerMeter);
        let mut now = 0.0;
        for (revolutions, time, gap) in records {
            now += gap;
            if let Some(rpm) = cadence.put(at(now), crank(revolutions as u16, time)) {
                prop_assert!((0.0..=300.0).contains(&rpm.0));
            }
            if let Some(found) = speed.put(at(now), wheel(revolutions, time)) {
                prop_assert!((0.0..=60.0).contains(&found.0));
            }
        }
    }
}

crate::conformance::trials![
    c79_differences_are_modulo_the_width,
    c79_the_wheel_has_a_clock_of_its_own,
    c80_a_wheel_count_may_fall_or_be_set,
    c80_the_first_record_is_a_baseline,
];
