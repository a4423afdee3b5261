//! What a trainer can refuse, command by command and result by result: what the program does then, what the rider reads,
//! what is kept. Results: Fitness Machine Service 1.0, 4.16.2.22, table 4.24: 02 op code not supported, 03 invalid
//! parameter, 04 operation failed, 05 control not permitted; 00 and 06 to FF are reserved for future use.

mod others;

use std::collections::BTreeSet;

use stillroad::engine::Command;
use stillroad::ride::{Cause, Mode, RideMode};

use crate::world::{Fake, Knobs, Ride, rider, session};

const REQUEST: u8 = 0x00;
const LEVEL: u8 = 0x04;
const POWER: u8 = 0x05;
const START: u8 = 0x07;
const STOP: u8 = 0x08;
const SLOPE: u8 = 0x11;

/// A hold of 150 W, one of 180 W, one on a slope.
const SESSION: &str = "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 150\n\
    [[block]]\nkind = \"hold\"\ntime = \"0:40\"\nwatts = 180\n\
    [[block]]\nkind = \"hold\"\ntime = \"0:20\"\nslope = 2\n";

/// What is to come of an answer.
struct Row {
    op: u8,
    result: u8,
    /// Parts of what the rider reads; none where there is nothing to do and nothing is said.
    reads: &'static [&'static str],
    /// The event that is kept; empty where only the raw log holds it.
    event: &'static str,
    /// How often the command is written at least and at most in the ride.
    writes: (usize, usize),
    /// By which the ride is degraded in the end.
    cause: Option<Cause>,
    /// The command that carries the loads in the end; none where none does.
    carries: Option<u8>,
}

const REFUSED: &[&str] = &[
    "did not take",
    "The load before it still stands",
    "use the gears",
];
const SLOWLY: &[&str] = &[
    "cannot hold watts by itself",
    "sets its resistance",
    "stay in one gear",
];
const NOT_GRANTED: &[&str] = &["does not grant control", "close other training programs"];
const NO_LONGER: &[&str] = &[
    "no longer lets this program set its brake",
    "ease off and shift down",
];

fn rows() -> Vec<Row> {
    let row = |op, result, reads, event, writes, cause, carries| Row {
        op,
        result,
        reads,
        event,
        writes,
        cause,
        carries,
    };
    let refused = Some(Cause::ControlRefused);
    let mut rows = Vec::new();
    // Control: asked for at once, after one second, five and fifteen, then only by the rider, whatever the reason. The start
    // of the ride is such an asking.
    for result in [2, 3, 4, 5, 0, 6, 0xFF] {
        rows.push(row(
            REQUEST,
            result,
            NOT_GRANTED,
            "control-refused",
            (5, 7),
            refused,
            None,
        ));
    }
    // Target power: not known is given up at once and held by levels; a value that is refused, or an answer that makes no
    // sense, is left alone or tried again after five seconds, and the whole sort is given up after six in a row.
    rows.push(row(
        POWER,
        2,
        SLOWLY,
        "unsupported",
        (1, 2),
        None,
        Some(LEVEL),
    ));
    for result in [3, 4, 0, 6, 0xFF] {
        rows.push(row(
            POWER,
            result,
            REFUSED,
            "target-refused",
            (2, 14),
            None,
            Some(LEVEL),
        ));
    }
    // Control that goes with the answer is asked for again, in growing pauses.
    rows.push(row(
        POWER,
        5,
        NO_LONGER,
        "control-refused",
        (1, 6),
        refused,
        None,
    ));
    // A start need not be known, and fails where it runs already: nobody is told.
    for result in [2, 3, 4, 0, 6, 0xFF] {
        rows.push(row(START, result, &[], "", (1, 2), None, Some(POWER)));
    }
    // The same for a stop, which comes once, at the end; without leave for it, again once control is back.
    for result in [2, 3, 4, 0, 0xFF] {
        rows.push(row(STOP, result, &[], "", (1, 1), None, Some(POWER)));
    }
    rows.push(row(STOP, 5, &[], "", (1, 4), None, Some(POWER)));
    // A slope that the trainer does not know is ridden at the rider's level.
    let slopes: &[&str] = &["does not take slopes", "use the gears"];
    rows.push(row(
        SLOPE,
        2,
        slopes,
        "unsupported",
        (1, 1),
        None,
        Some(POWER),
    ));
    for result in [3, 4, 0, 0xFF] {
        rows.push(row(
            SLOPE,
            result,
            REFUSED,
            "target-refused",
            (1, 40),
            None,
            Some(POWER),
        ));
    }
    rows
}

/// The ride to its end, with every sentence that stood on the screen.
fn ridden(fake: &Fake, blocks: &str, mode: RideMode) -> (Ride, BTreeSet<String>, Vec<Mode>) {
    let mut ride = Ride::on(fake, &session(blocks), &rider(), mode);
    let mut said = BTreeSet::new();
    let mut modes = Vec::new();
    ride.start();
    for _ in 0..500 {
        ride.pass(0.3);
        said.insert(ride.notice());
        if modes.last() != Some(&ride.mode()) {
            modes.push(ride.mode());
        }
        if matches!(ride.mode(), Mode::Finished(_)) {
            break;
        }
    }
    ride.pass(3.0);
    (ride, said, modes)
}

/// On its way; the clock begins to run at `BEGINS`.
fn begun(fake: &Fake, blocks: &str) -> Ride {
    let mut ride = Ride::on(fake, &session(blocks), &rider(), RideMode::TargetPower);
    ride.start();
    ride
}

const BEGINS: f64 = 5.0;

fn count(ride: &Ride, op: u8) -> usize {
    ride.writes()
        .iter()
        .filter(|(_, bytes)| bytes[0] == op)
        .count()
}

#[test]
fn every_result_of_every_command_is_met_told_and_kept() {
    let faults: Vec<String> = rows().iter().flat_map(faults_of).collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

fn faults_of(row: &Row) -> Vec<String> {
    let mut faults = Vec::new();
    let mut expect = |right: bool, words: String| {
        if !right {
            faults.push(format!(
                "op {:02X} answered {:02X}: {words}",
                row.op, row.result
            ));
        }
    };
    let fake = Fake::new(Knobs {
        slopes: true,
        answers: [(row.op, row.result)].into(),
        watts_a_level: 15.0,
        free_power: 60.0,
        ..Knobs::default()
    });
    let (ride, said, modes) = ridden(&fake, SESSION, RideMode::TargetPower);
    expect(
        matches!(ride.mode(), Mode::Finished(_)),
        "the ride does not end".to_owned(),
    );
    let seconds = ride.rows().len();
    expect(seconds == 120, format!("{seconds} rows"));
    for part in row.reads {
        let told = said.iter().any(|words| words.contains(part));
        expect(told, format!("{part:?} is not in {said:?}"));
    }
    let (least, most) = row.writes;
    let times = count(&ride, row.op);
    expect(
        (least..=most).contains(&times),
        format!("written {times} times"),
    );
    let kept: BTreeSet<&str> = ride.events().iter().map(|event| event.what).collect();
    expect(
        row.event.is_empty() || kept.contains(row.event),
        format!("kept {kept:?}"),
    );
    let degraded = modes.iter().rev().find_map(|mode| match mode {
        Mode::Degraded { cause, .. } => Some(*cause),
        _ => None,
    });
    expect(degraded == row.cause, format!("{modes:?}"));
    // What carries the loads: written, and above the lowest.
    let loads = |op: u8| {
        let above = |bytes: &[u8]| bytes[0] == op && bytes[1..].iter().any(|octet| *octet > 20);
        ride.writes()
            .iter()
            .filter(|(_, bytes)| above(bytes))
            .count()
    };
    match row.carries {
        Some(op) => expect(loads(op) > 0, format!("op {op:02X} carries nothing")),
        None => expect(
            loads(LEVEL) + loads(POWER) <= times,
            format!(
                "{} and {} loads without control",
                loads(LEVEL),
                loads(POWER)
            ),
        ),
    }
    faults
}

#[test]
fn an_answer_to_another_command_or_half_an_answer_is_none_and_thirty_seconds_end_the_link() {
    for (names_op, short) in [(Some(0x11), false), (None, true)] {
        let fake = Fake::new(Knobs::default());
        let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
        ride.start();
        ride.to(30.0);
        let before = count(&ride, POWER);
        fake.turn(|knobs| {
            knobs.names_op = names_op;
            knobs.short = short;
        });
        ride.command(Command::Trim(1));
        ride.to(40.0);
        // One write is in flight and stays alone.
        assert_eq!(count(&ride, POWER), before + 1, "{names_op:?} {short}");
        assert!(
            ride.events()
                .iter()
                .any(|event| event.detail.contains("makes no sense"))
        );
        ride.to(59.0);
        assert!(!ride.happened("silent"), "{names_op:?} {short}");
        fake.turn(|knobs| {
            knobs.names_op = None;
            knobs.short = false;
        });
        ride.to(75.0);
        assert!(
            ride.happened("silent"),
            "{names_op:?} {short}: {:?}",
            ride.events()
        );
        assert!(ride.happened("brake-back"), "{names_op:?} {short}");
    }
}

#[test]
fn control_that_another_took_and_gave_back_is_asked_for_and_begins_with_a_release() {
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(30.0);
    fake.turn(|knobs| knobs.control = stillroad::gatt::control_point::ResultCode::NotPermitted);
    fake.withdraw(ride.now());
    ride.to(34.0);
    assert!(ride.notice().contains("took control"), "{}", ride.notice());
    // The other one keeps it: asked for once, and not again by itself.
    ride.to(50.0);
    let asked = count(&ride, REQUEST);
    assert_eq!(asked, 2);
    assert!(matches!(
        ride.mode(),
        Mode::Degraded {
            cause: Cause::ControlRefused,
            ..
        }
    ));
    fake.turn(|knobs| knobs.control = stillroad::gatt::control_point::ResultCode::Success);
    ride.command(Command::Resume);
    ride.to(52.0);
    assert_eq!(ride.mode(), Mode::Riding);
    let after: Vec<Vec<u8>> = ride
        .writes()
        .into_iter()
        .filter(|(now, _)| *now >= crate::world::at(50.0))
        .map(|(_, bytes)| bytes)
        .collect();
    assert_eq!(after[0], [0x00]);
    let first_load = after
        .iter()
        .find(|bytes| matches!(bytes[0], 4 | 5))
        .unwrap();
    assert_eq!(first_load[..], [0x05, 0, 0], "{after:02x?}");
}

#[test]
fn a_trainer_without_a_power_range_holds_watts_under_the_riders_own_caps() {
    let fake = Fake::new(Knobs {
        power_range: None,
        ..Knobs::default()
    });
    let (ride, _, _) = ridden(&fake, SESSION, RideMode::TargetPower);
    let most = ride.watts().iter().map(|(_, watts)| *watts).max().unwrap();
    assert_eq!(most, 180);
}

#[test]
fn coarse_and_odd_ranges_are_ridden_and_never_left() {
    // Least, most, step; and the watts that are then asked for in a hold of 150 W, 180 W, or none where nothing usable is
    // said and levels carry the load.
    type Range = (i16, i16, u16);
    type Held = Option<(i16, i16)>;
    let cases: [(Range, Held); 7] = [
        ((0, 1000, 5), Some((150, 180))),
        ((0, 1000, 25), Some((150, 175))),
        ((50, 1000, 10), Some((150, 180))),
        // A step of nothing is taken as the finest.
        ((0, 1000, 0), Some((150, 180))),
        // A brake does not push: from 0 W on.
        ((-100, 1000, 1), Some((150, 180))),
        // What it says last is less than what it says first: as if it had said nothing, the rider's caps bind.
        ((500, 100, 1), Some((150, 180))),
        // It holds no more than 120 W.
        ((0, 120, 7), Some((119, 119))),
    ];
    for (range, wanted) in cases {
        let fake = Fake::new(Knobs {
            power_range: Some(range),
            ..Knobs::default()
        });
        let (ride, said, _) = ridden(&fake, SESSION, RideMode::TargetPower);
        let at_end = |from: f64, to: f64| ride.watts_in(from, to).last().map(|(_, watts)| *watts);
        let stood = at_end(0.0, 64.0).zip(at_end(0.0, 104.0));
        assert_eq!(stood, wanted, "{range:?}: {said:?}");
    }
}

/// Ops and times of what was written from a second of time on.
fn after(ride: &Ride, from: f64) -> Vec<(f64, Vec<u8>)> {
    let writes = ride.writes().into_iter();
    writes
        .map(|(at, bytes)| (at.0 as f64 / 1e6, bytes))
        .filter(|(at, _)| *at >= from)
        .collect()
}

#[test]
fn where_slopes_alone_are_left_the_steepest_descent_lets_go() {
    let fake = Fake::new(Knobs {
        offers_levels: false,
        slopes: true,
        target_power: stillroad::gatt::control_point::ResultCode::NotSupported,
        ..Knobs::default()
    });
    let mut ride = begun(&fake, SESSION);
    ride.to(50.0);
    let loaded = after(&ride, 30.0);
    assert!(
        loaded.iter().all(|(_, bytes)| bytes[0] == SLOPE),
        "{loaded:?}"
    );
    fake.turn(|knobs| knobs.cadence = 0.0);
    ride.to(58.0);
    // Grade -10.00 % (s16, 0.01 %) behind no wind: Fitness Machine Service 1.0, table 4.20.
    let (_, last) = after(&ride, 50.0).pop().unwrap();
    assert_eq!(last[..5], [0x11, 0, 0, 0x18, 0xFC]);
}

#[test]
fn a_trainer_that_fails_for_a_moment_keeps_its_release() {
    // It takes its targets, answers 04 to all for three seconds of a rise, and takes them again; it knows nothing else.
    let fake = Fake::new(Knobs {
        offers_levels: false,
        ..Knobs::default()
    });
    let mut ride = begun(&fake, SESSION);
    ride.to(65.5);
    fake.turn(|knobs| {
        knobs.answers.insert(POWER, 4);
    });
    ride.to(90.0);
    assert!(
        !matches!(ride.mode(), Mode::Degraded { .. }),
        "{:?}",
        ride.mode()
    );
    fake.turn(|knobs| knobs.answers.clear());
    ride.to(99.0);
    assert_eq!(ride.watts().last().unwrap().1, 180);
    fake.turn(|knobs| knobs.cadence = 0.0);
    ride.to(103.0);
    assert_eq!(after(&ride, 99.0).last().unwrap().1, [0x05, 0, 0]);
}

#[test]
fn a_release_that_is_refused_again_and_again_stays_on_the_screen_and_is_tried_on() {
    let fake = Fake::new(Knobs {
        offers_levels: false,
        ..Knobs::default()
    });
    let mut ride = begun(&fake, SESSION);
    ride.to(30.0);
    fake.turn(|knobs| {
        knobs.answers.insert(POWER, 4);
    });
    fake.turn(|knobs| knobs.cadence = 0.0);
    ride.to(75.0);
    let Mode::Degraded { cause, .. } = ride.mode() else {
        panic!("{:?}", ride.mode());
    };
    assert_eq!(cause, Cause::ReleaseUnanswered);
    assert!(after(&ride, 60.0).len() >= 3, "it is tried on");
    fake.turn(|knobs| knobs.answers.clear());
    ride.to(90.0);
    assert!(!matches!(ride.mode(), Mode::Degraded { .. }));
    assert_eq!(after(&ride, 75.0).last().unwrap().1, [0x05, 0, 0]);
}

#[test]
fn a_load_that_should_fall_and_is_not_answered_is_said_after_two_seconds() {
    const FALLS: &str = "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\nwatts = 180\n\
        [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n";
    let fake = Fake::new(Knobs::default());
    let mut ride = begun(&fake, FALLS);
    ride.to(BEGINS + 59.0);
    fake.turn(|knobs| knobs.silent = true);
    ride.to(BEGINS + 61.5);
    assert!(
        !ride.notice().contains("does not answer"),
        "{}",
        ride.notice()
    );
    ride.to(BEGINS + 63.0);
    assert!(
        ride.notice().contains("ease off and shift down"),
        "{}",
        ride.notice()
    );
}

#[test]
fn answers_after_a_second_and_a_half_are_waited_for_and_nothing_overlaps() {
    let fake = Fake::new(Knobs {
        answers_after: stillroad::time::Span::from_millis(1_500),
        ..Knobs::default()
    });
    let (ride, said, _) = ridden(&fake, SESSION, RideMode::TargetPower);
    let writes = ride.writes();
    for pair in writes.windows(2) {
        let apart = pair[1].0.since(pair[0].0).seconds();
        assert!(apart >= 1.5, "{pair:?}");
    }
    assert_eq!(ride.watts_in(0.0, 64.0).last().unwrap().1, 150);
    assert_eq!(ride.watts_in(0.0, 104.0).last().unwrap().1, 180);
    // A release that takes so long is told once it is late.
    assert!(
        said.iter()
            .any(|words| words.contains("did not confirm within a second"))
    );
}
