//! Every state of a ride with everything that can go wrong in it. Whatever happens the ride goes on recording, the rider
//! is told, and the brake comes back by way of its release.

use std::collections::BTreeSet;

use stillroad::device::Request;
use stillroad::engine::Command;
use stillroad::engine::input::{Input, Recorder};
use stillroad::gatt::control_point::ResultCode;
use stillroad::ride::{Cause, Finish, Mode, PauseCause, RideMode};
use stillroad::time::{Instant, Span};

use crate::world::{Fake, Knobs, Ride, rider, session, watts_of};

#[derive(Clone, Copy, Debug, PartialEq)]
enum State {
    Connecting,
    SettingUp,
    Ready,
    Riding,
    Paused,
    Finishing,
}

const STATES: [State; 6] = [
    State::Connecting,
    State::SettingUp,
    State::Ready,
    State::Riding,
    State::Paused,
    State::Finishing,
];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Fault {
    LinkLost,
    Refused,
    Withdrawn,
    NotPermitted,
    Silent,
    AttError(u8),
    Stale,
    Disk,
    Gap,
    Slept,
}

/// Each fault, how long after it is looked, the cause that a ride is then degraded by, and a part of what was said.
const FAULTS: [(Fault, f64, Option<Cause>, &str); 12] = [
    (Fault::LinkLost, 0.8, Some(Cause::LinkLost), "was lost"),
    (
        Fault::Refused,
        30.0,
        Some(Cause::ControlRefused),
        "does not grant control",
    ),
    (
        Fault::Withdrawn,
        1.0,
        Some(Cause::ControlLost),
        "took control",
    ),
    (
        Fault::NotPermitted,
        0.9,
        Some(Cause::ControlLost),
        "no longer lets this program",
    ),
    (
        Fault::Silent,
        31.0,
        Some(Cause::Silent),
        "did not answer for thirty seconds",
    ),
    // Application errors, a busy trainer, a failed subscription, a want of pairing.
    (Fault::AttError(0x80), 2.0, None, "did not take"),
    (Fault::AttError(0xFE), 2.0, None, "did not take"),
    (Fault::AttError(0x05), 2.0, None, "did not take"),
    (Fault::Stale, 5.0, None, ""),
    (Fault::Disk, 0.1, None, "The disk is full"),
    (Fault::Gap, 0.1, None, "the clock stood"),
    (Fault::Slept, 0.1, None, "the clock stood"),
];

/// Twenty minutes of 150 W.
fn bring(state: State) -> (Fake, Ride) {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"20:00\"\nwatts = 150\n");
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    match state {
        State::Connecting => ride.to(0.01),
        State::SettingUp => ride.to(0.05),
        State::Ready => ride.to(5.0),
        State::Riding | State::Paused | State::Finishing => {
            ride.start();
            ride.to(40.0);
        }
    }
    match state {
        State::Paused => {
            ride.command(Command::Pause);
            ride.to(43.0);
        }
        State::Finishing => {
            ride.command(Command::End);
            ride.command(Command::End);
        }
        _ => {}
    }
    (fake, ride)
}

/// Lets it happen.
fn strike(fault: Fault, fake: &Fake, ride: &mut Ride) {
    match fault {
        Fault::LinkLost => fake.drop_link(ride.now()),
        Fault::Refused => {
            fake.turn(|knobs| knobs.control = ResultCode::Failed);
            fake.drop_link(ride.now());
        }
        Fault::Withdrawn => fake.withdraw(ride.now()),
        Fault::NotPermitted => fake.state().forget_grant(),
        Fault::Silent => fake.turn(|knobs| knobs.silent = true),
        Fault::AttError(code) => fake.turn(|knobs| knobs.att_error = Some(code)),
        Fault::Stale => fake.turn(|knobs| knobs.mute = true),
        Fault::Disk => ride.input(Input::Recorder(Recorder::Trouble(
            "The disk is full.".to_owned(),
        ))),
        Fault::Gap => ride.world.hold_up(Span::from_millis(2_600)),
        Fault::Slept => ride.input(Input::Slept(Span::from_seconds(900))),
    }
    // Something to be written, so that the trainer can answer it amiss.
    ride.command(Command::Trim(1));
}

/// Lets time pass, and gathers the sentences that stood on the screen.
fn listen(ride: &mut Ride, seconds: f64, said: &mut BTreeSet<String>) {
    said.insert(ride.notice());
    let mut left = seconds;
    while left > 0.0 {
        ride.pass(left.min(0.1));
        left -= 0.1;
        said.insert(ride.notice());
    }
}

fn cure(fake: &Fake) {
    fake.turn(|knobs| *knobs = Knobs::default());
}

/// After each *request control* that was granted the first target is a release, and the load then rises no faster than
/// over six seconds.
fn check_returns(ride: &Ride, full: f64, from: Instant, context: &str) {
    let writes: Vec<_> = ride
        .writes()
        .into_iter()
        .filter(|(at, _)| *at >= from)
        .collect();
    for (index, (_, bytes)) in writes.iter().enumerate() {
        if bytes[0] != 0x00 {
            continue;
        }
        let mut after = writes[index + 1..]
            .iter()
            .filter(|(_, bytes)| bytes[0] != 0x07);
        match after.next() {
            None => {}
            Some((_, bytes)) if bytes[0] == 0x00 => {}
            Some((_, bytes)) => assert_eq!(watts_of(bytes), Some(0), "{context}"),
        }
        let granted = writes[index].0;
        for (at, bytes) in &writes[index + 1..] {
            let since = at.since(granted).seconds();
            if let Some(watts) = watts_of(bytes).filter(|_| since < 6.0) {
                assert!(
                    f64::from(watts) <= full * since / 6.0 + 1.0,
                    "{context}: {watts} W"
                );
            }
        }
    }
}

#[test]
fn every_state_survives_every_fault() {
    for state in STATES {
        for (fault, look, cause, sentence) in FAULTS {
            let context = format!("{state:?} and {fault:?}");
            let (fake, mut ride) = bring(state);
            let from = ride.now();
            let rows = ride.rows().len();
            let mut said = BTreeSet::new();
            strike(fault, &fake, &mut ride);
            listen(&mut ride, look, &mut said);
            match state {
                State::Connecting | State::SettingUp | State::Ready => {
                    assert!(
                        matches!(ride.mode(), Mode::Connecting | Mode::Ready),
                        "{context}"
                    );
                    assert!(ride.rows().is_empty());
                    // A trainer that is not ridden is never loaded.
                    assert!(
                        ride.watts().iter().all(|(_, watts)| *watts == 0),
                        "{context}"
                    );
                    cure(&fake);
                    ride.pass(75.0);
                    ride.command(Command::Start);
                    ride.pass(75.0);
                    assert_eq!(ride.rows().len(), 75, "{context}");
                    if fault == Fault::Refused {
                        // It was asked as often as is decent: now only at the rider's wish.
                        ride.command(Command::Resume);
                        ride.pass(15.0);
                    }
                }
                State::Riding => {
                    check_mode(&ride, fault, cause, None, &context);
                    assert!(
                        said.iter().any(|said| said.contains(sentence)),
                        "{context}: {said:?}"
                    );
                    ride.pass(60.0 - look);
                    let lost = match fault {
                        Fault::Gap => 2.6,
                        _ => 0.0,
                    };
                    let ridden = ride.now().since(from).seconds() - lost;
                    let gained = (ride.rows().len() - rows) as f64;
                    assert!(
                        (gained - ridden).abs() < 1.5,
                        "{context}: {gained} rows in {ridden} s"
                    );
                    cure(&fake);
                    ride.command(Command::Resume);
                    ride.pass(75.0);
                    assert_eq!(ride.mode(), Mode::Riding, "{context}");
                }
                State::Paused => {
                    let cause = cause.filter(|_| {
                        matches!(fault, Fault::LinkLost | Fault::Refused | Fault::Withdrawn)
                    });
                    check_mode(&ride, fault, cause, Some(PauseCause::Rider), &context);
                    cure(&fake);
                    ride.pass(75.0);
                    assert_eq!(ride.rows().len(), rows, "{context}: the clock stands");
                    ride.command(Command::Resume);
                    ride.pass(75.0);
                    if fault == Fault::Refused {
                        ride.command(Command::Resume);
                        ride.pass(15.0);
                    }
                    assert_eq!(ride.mode(), Mode::Riding, "{context}");
                }
                State::Finishing => {
                    cure(&fake);
                    ride.pass(75.0);
                    assert_eq!(ride.mode(), Mode::Finished(Finish::ByRider), "{context}");
                    assert_eq!(ride.rows().len(), rows, "{context}");
                    let after = ride.watts().into_iter().filter(|(at, _)| *at > from);
                    assert!(after.clone().all(|(_, watts)| watts == 0), "{context}");
                    if fault != Fault::Refused {
                        assert_eq!(fake.state().holds, Some(0), "{context}");
                    }
                }
            }
            if state != State::Finishing {
                // Two per cent were pressed during a ride.
                let full = match state {
                    State::Riding | State::Paused => 153,
                    _ => 150,
                };
                assert_eq!(fake.state().holds, Some(full), "{context}");
            }
            check_returns(&ride, 153.0, from, &context);
            let numbers: Vec<u64> = ride.rows().iter().map(|row| row.ridden_s).collect();
            assert!(
                numbers.iter().copied().eq(1..=numbers.len() as u64),
                "{context}"
            );
        }
    }
}

fn check_mode(
    ride: &Ride,
    fault: Fault,
    cause: Option<Cause>,
    clock: Option<PauseCause>,
    context: &str,
) {
    match (ride.mode(), cause) {
        (Mode::Degraded { cause, paused, .. }, Some(expected)) => {
            assert_eq!((cause, paused), (expected, clock), "{context}");
        }
        (Mode::Paused(PauseCause::Gap), None) => {
            assert!(matches!(fault, Fault::Gap | Fault::Slept), "{context}");
        }
        (Mode::Paused(why), None) => assert_eq!(Some(why), clock, "{context}"),
        (Mode::Riding, None) => assert_eq!(clock, None, "{context}"),
        (mode, _) => panic!("{context}: {mode:?}"),
    }
    for word in ["gap", "pause", "resume"] {
        if clock.is_none() && matches!(fault, Fault::Slept) && word != "resume" {
            assert!(ride.happened(word), "{context}: {word}");
        }
    }
}

#[test]
fn a_trainer_out_of_reach_is_tried_again_after_growing_pauses() {
    let (fake, mut ride) = bring(State::Riding);
    let from = ride.now();
    fake.turn(|knobs| knobs.out_of_reach = true);
    fake.drop_link(from);
    ride.pass(200.0);
    let tries: Vec<f64> = ride
        .requests()
        .into_iter()
        .filter(|(at, request)| *at > from && matches!(request, Request::Connect(_)))
        .map(|(at, _)| at.since(from).seconds())
        .collect();
    let pauses: Vec<f64> = tries.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert!(tries[0] < 2.0, "the first at once or nearly");
    assert!(
        pauses.windows(2).all(|pair| pair[1] > pair[0] - 0.5),
        "{pauses:?}"
    );
    assert!(
        pauses[0] < 3.0 && *pauses.last().unwrap() > 10.0,
        "{pauses:?}"
    );
    assert!(*pauses.last().unwrap() < 60.0, "and it is never given up");
    assert!(matches!(
        ride.mode(),
        Mode::Degraded {
            cause: Cause::LinkLost,
            paused: None,
            ..
        }
    ));
    // Rows go on, and hold no figure that is not known.
    let rows = ride.rows();
    assert_eq!(rows.len(), 235);
    assert!(
        rows[40..]
            .iter()
            .all(|row| row.power.is_none() && row.cadence.is_none())
    );
    fake.turn(|knobs| knobs.out_of_reach = false);
    ride.pass(60.0);
    assert_eq!(ride.mode(), Mode::Riding);
    assert_eq!(fake.state().holds, Some(150));
    check_returns(&ride, 150.0, from, "out of reach");
}

#[test]
fn a_stale_sensor_leaves_empty_cells_and_a_frozen_one_does_not_go_unseen_for_ever() {
    let (fake, mut ride) = bring(State::Riding);
    fake.turn(|knobs| knobs.mute = true);
    ride.pass(30.0);
    let rows = ride.rows();
    // The last report came within 0.43 s before second 40; it is fresh for three seconds: the row of the second from 38
    // to 39 has it, the row from 39 to 40 has not.
    assert!(rows[34].power.is_some() && rows[36].power.is_some());
    assert!(
        rows[38..]
            .iter()
            .all(|row| row.power.is_none() && row.cadence.is_none())
    );
    assert!(rows[39..].iter().all(|row| row.speed.is_none()));
    assert!(ride.snapshot().power.fresh().is_none());
}
