//! The invariants of a ride, on arbitrary orders of whatever can happen to it.
//!
//! A campaign drives the core itself with commands, good and bad events of devices, refusals, losses, sleeps and steps of
//! time, and writes everything down. The checkers know the rider's caps, the trainer's range and what was truly
//! reported; each is also shown a doctored trace in which its invariant is broken, and must notice.

mod campaign;
mod checks;
mod fortune;
mod many;
mod tired;
mod trace;

use proptest::prelude::*;
use stillroad::device::Request;
use stillroad::gatt::uuid16::CONTROL_POINT;
use stillroad::record::Kept;
use stillroad::time::{Instant, Span};
use stillroad::units::Watts;

use campaign::{Mood, Trace, Turn, campaign};
use checks::*;
use fortune::turns;

type Check = fn(&Trace) -> Result<(), String>;

fn holds(check: Check, turns: Vec<Turn>) -> Result<(), TestCaseError> {
    check(&campaign(&turns)).map_err(TestCaseError::fail)
}

/// A quiet ride of a minute at 150 W, with a held sprint after forty seconds.
fn quiet() -> Trace {
    let mut script = vec![Turn::Up, Turn::Start];
    script.extend((0..120).map(|_| Turn::Pedal {
        after_ms: 500,
        cadence: 85,
        watts: 150,
    }));
    campaign(&script)
}

#[test]
fn a_quiet_ride_breaks_nothing() {
    let trace = quiet();
    let checks: [Check; 8] = [
        tired::nothing_is_set_while_the_guard_acts,
        tired::nothing_rises_on_a_lost_heart_rate,
        one_control_procedure_in_flight,
        nothing_above_the_cap_or_outside_the_range,
        never_raised_on_pedals_that_do_not_turn,
        a_stale_value_is_never_written,
        exactly_one_row_per_ridden_second,
        everything_is_bounded,
    ];
    for check in checks {
        check(&trace).unwrap();
    }
    // What is sent ahead is part of it: the sprint's beat is at second 40, its cap holds from there.
    assert!(trace.steps.iter().any(|step| step.lead > Span::ZERO));
    assert!(
        trace
            .steps
            .iter()
            .all(|step| step.lead <= Span::from_seconds(2))
    );
    let ahead = trace.watts().into_iter().find(|(_, watts)| *watts == 250);
    assert!(ahead.unwrap().0 < trace.second(40));
    // And it is a ride: rows, rises, a sprint.
    assert!(trace.rows().len() >= 58, "{}", trace.rows().len());
    assert!(trace.watts().iter().any(|(_, watts)| *watts == 400));
}

/// Writes a command into a trace at a moment.
fn plant(trace: &mut Trace, at: Instant, bytes: Vec<u8>) {
    let place = trace.steps.iter().position(|step| step.now >= at).unwrap();
    let id = campaign::trainer();
    trace.steps[place]
        .requests
        .push(Request::Write(id, CONTROL_POINT, bytes));
}

fn watts(value: i16) -> Vec<u8> {
    let [low, high] = value.to_le_bytes();
    vec![5, low, high]
}

/// Sixty-four rides a law, beside the three hundred on which all of them are checked; `PROPTEST_CASES` asks for more.
fn a_slice() -> ProptestConfig {
    if std::env::var_os("PROPTEST_CASES").is_some() {
        ProptestConfig::default()
    } else {
        ProptestConfig::with_cases(64)
    }
}

proptest! {
    #![proptest_config(a_slice())]

    #[test]
    fn invariant_2_one_control_procedure_in_flight_at_most_no_target_before_control(turns in turns()) {
        holds(one_control_procedure_in_flight, turns)?;
    }

    #[test]
    fn invariant_3_no_command_above_the_cap_or_outside_the_range(turns in turns()) {
        holds(nothing_above_the_cap_or_outside_the_range, turns)?;
    }

    #[test]
    fn invariant_4_never_raised_while_the_pedals_do_not_turn_and_every_way_out_releases(turns in turns()) {
        holds(never_raised_on_pedals_that_do_not_turn, turns.clone())?;
        holds(every_way_out_releases, turns)?;
    }

    #[test]
    fn invariant_5_a_stale_reading_is_never_written(turns in turns()) {
        holds(a_stale_value_is_never_written, turns)?;
    }

    #[test]
    fn invariant_6_exactly_one_row_per_ridden_second(turns in turns()) {
        holds(exactly_one_row_per_ridden_second, turns)?;
    }

    #[test]
    fn invariant_9_every_buffer_is_bounded(turns in turns()) {
        holds(everything_is_bounded, turns)?;
    }
}

/// The trainer falls silent under a command, and then the ride ends: nothing is asked for over and over.
#[test]
fn nothing_spins_after_an_end_that_is_not_answered() {
    let pedal = Turn::Pedal {
        after_ms: 250,
        cadence: 90,
        watts: 150,
    };
    for (before, after) in (10..150).step_by(10).flat_map(|n| [(n, 0), (n, 2), (n, 6)]) {
        let mut turns = vec![Turn::Up, Turn::Start];
        turns.extend(std::iter::repeat_n(pedal.clone(), before));
        turns.push(Turn::Mood(Mood::Silent));
        turns.extend(std::iter::repeat_n(pedal.clone(), after));
        turns.extend([Turn::End, Turn::Wait(10_000)]);
        campaign(&turns);
    }
}

#[test]
fn a_load_set_while_the_guard_acts_is_noticed() {
    let mut trace = campaign(&[
        Turn::Up,
        Turn::Start,
        Turn::Stall(0),
        Turn::Stall(0),
        Turn::Stall(0),
        Turn::Stall(0),
        Turn::Stall(4),
        Turn::Pedal {
            after_ms: 500,
            cadence: 40,
            watts: 30,
        },
        Turn::Pedal {
            after_ms: 500,
            cadence: 40,
            watts: 30,
        },
    ]);
    tired::nothing_is_set_while_the_guard_acts(&trace).unwrap();
    let guarded =
        |(_, kept): (Instant, &Kept)| matches!(kept, Kept::Event(event) if event.what == "guard");
    assert!(trace.kept().any(guarded), "the guard acts in this ride");
    let last = trace.steps.last().unwrap().now;
    plant(&mut trace, last, watts(120));
    tired::nothing_is_set_while_the_guard_acts(&trace).unwrap_err();
}

#[test]
fn a_rise_on_a_lost_heart_rate_is_noticed() {
    // Forty seconds of 150 W, and then a held sprint that is sent ahead.
    for (lost, waived, planted, breaks) in [
        // The sprint itself would be a rise, as long as the heart rate is lost.
        (30, None, None, true),
        (30, Some(35), None, false),
        (55, None, None, false),
        (55, None, Some((57, 151)), true),
        (55, None, Some((57, 88)), false),
        (55, Some(56), Some((57, 151)), false),
    ] {
        let mut trace = quiet();
        say(&mut trace, lost, "heart-lost");
        if let Some(second) = waived {
            say(&mut trace, second, "heart-waived");
        }
        if let Some((second, value)) = planted {
            let moment = trace.second(second);
            plant(&mut trace, moment, watts(value));
        }
        let told = tired::nothing_rises_on_a_lost_heart_rate(&trace);
        assert_eq!(
            told.is_err(),
            breaks,
            "lost at {lost}, {planted:?}: {told:?}"
        );
    }
}

/// Writes an event into a trace at a second of the ride.
fn say(trace: &mut Trace, second: u64, what: &'static str) {
    let moment = trace.second(second);
    let step = trace.steps.iter_mut().find(|step| step.now >= moment);
    step.unwrap()
        .kept
        .push(Kept::Event(stillroad::record::RideEvent {
            ridden_s: second as f64,
            plan_s: second as f64,
            utc_ms: 0,
            what,
            detail: String::new(),
        }));
}

#[test]
fn a_second_procedure_in_flight_is_noticed() {
    let mut trace = quiet();
    let write = trace.writes()[3].0;
    plant(&mut trace, write, watts(100));
    one_control_procedure_in_flight(&trace).unwrap_err();
    // And a target before control.
    let mut trace = quiet();
    let first = trace.steps[0].now;
    plant(&mut trace, first, watts(100));
    one_control_procedure_in_flight(&trace).unwrap_err();
}

#[test]
fn a_command_above_the_cap_is_noticed() {
    for (second, value) in [(20, 251), (20, 9), (50, 401), (60, 399)] {
        let mut trace = quiet();
        let moment = trace.second(second);
        plant(&mut trace, moment, watts(value));
        let told = nothing_above_the_cap_or_outside_the_range(&trace);
        assert!(told.is_err(), "{value} W at {second}");
    }
}

#[test]
fn a_raise_on_still_pedals_is_noticed() {
    let mut script = vec![Turn::Up, Turn::Start];
    script.extend((0..40).map(|_| Turn::Pedal {
        after_ms: 500,
        cadence: 85,
        watts: 150,
    }));
    script.extend((0..10).map(|_| Turn::Pedal {
        after_ms: 500,
        cadence: 0,
        watts: 0,
    }));
    let mut trace = campaign(&script);
    never_raised_on_pedals_that_do_not_turn(&trace).unwrap();
    let moment = trace.second(24);
    plant(&mut trace, moment, watts(120));
    never_raised_on_pedals_that_do_not_turn(&trace).unwrap_err();
}

#[test]
fn an_end_without_a_release_is_noticed() {
    let mut script = vec![Turn::Up, Turn::Start];
    script.extend((0..40).map(|_| Turn::Pedal {
        after_ms: 500,
        cadence: 85,
        watts: 150,
    }));
    script.push(Turn::End);
    script.push(Turn::Wait(1_000));
    let mut trace = campaign(&script);
    every_way_out_releases(&trace).unwrap();
    let end = trace.end().unwrap();
    for step in trace.steps.iter_mut().filter(|step| step.now >= end) {
        step.requests
            .retain(|request| !matches!(request, Request::Write(_, _, bytes) if bytes[0] == 5));
    }
    every_way_out_releases(&trace).unwrap_err();
}

#[test]
fn a_stale_value_in_a_row_is_noticed() {
    let mut trace = quiet();
    for step in &mut trace.steps {
        for kept in &mut step.kept {
            if let Kept::Row(row) = kept
                && row.ridden_s == 30
            {
                row.power = Some(Watts(row.power.unwrap().0 + 7.0));
            }
        }
    }
    a_stale_value_is_never_written(&trace).unwrap_err();
    let mut script = vec![Turn::Up, Turn::Start];
    script.extend((0..40).map(|_| Turn::Pedal {
        after_ms: 500,
        cadence: 85,
        watts: 150,
    }));
    script.extend((0..10).map(|_| Turn::Wait(1_000)));
    let mut trace = campaign(&script);
    a_stale_value_is_never_written(&trace).unwrap();
    for step in &mut trace.steps {
        for kept in &mut step.kept {
            if let Kept::Row(row) = kept
                && row.ridden_s == 28
            {
                assert_eq!(row.power, None);
                row.power = Some(Watts(150.0));
            }
        }
    }
    a_stale_value_is_never_written(&trace).unwrap_err();
}

#[test]
fn a_missing_and_a_double_row_are_noticed() {
    for double in [false, true] {
        let mut trace = quiet();
        for step in &mut trace.steps {
            let is = |kept: &Kept| matches!(kept, Kept::Row(row) if row.ridden_s == 20);
            if let Some(at) = step.kept.iter().position(is) {
                if double {
                    let again = step.kept[at].clone();
                    step.kept.insert(at, again);
                } else {
                    step.kept.remove(at);
                }
            }
        }
        exactly_one_row_per_ridden_second(&trace).unwrap_err();
    }
}

#[test]
fn a_flood_of_outputs_is_noticed() {
    let mut trace = quiet();
    let raw = trace.steps[5].kept[0].clone();
    trace.steps[5].kept.extend(std::iter::repeat_n(raw, 5_000));
    everything_is_bounded(&trace).unwrap_err();
}
