//! Every state of a link in mid-ride with everything that can go wrong in it: the ride goes on recording, the link is made
//! again within its growing pauses, and the load comes back from release.

use stillroad::device::{Adapter, Event, Failure};
use stillroad::engine::Command;
use stillroad::engine::input::Input;
use stillroad::gatt::uuid16::{CONTROL_POINT, INDOOR_BIKE_DATA};
use stillroad::ride::{Mode, PauseCause};
use stillroad::time::{Instant, Span};

use super::wire::Wire;
use super::wired;
use crate::world::{Ride, watts_of};

#[derive(Clone, Copy, Debug, PartialEq)]
enum State {
    /// The link is asked for again and nothing comes back.
    Connecting,
    /// A subscription to the reports is owed.
    Subscribing,
    /// The subscription to the control point is owed.
    SubscribingToControl,
    /// A command is owed its answer.
    Waiting,
    Riding,
    Paused,
    /// The end lets the load off.
    Finishing,
}

const STATES: [State; 7] = [
    State::Connecting,
    State::Subscribing,
    State::SubscribingToControl,
    State::Waiting,
    State::Riding,
    State::Paused,
    State::Finishing,
];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Fault {
    TimeOut,
    Refusal,
    Att,
    LinkLost,
    AdapterOffAndOn,
    ServiceRestarted,
    Slept,
    /// Nothing at all comes any more.
    Nothing,
}

const FAULTS: [Fault; 8] = [
    Fault::TimeOut,
    Fault::Refusal,
    Fault::Att,
    Fault::LinkLost,
    Fault::AdapterOffAndOn,
    Fault::ServiceRestarted,
    Fault::Slept,
    Fault::Nothing,
];

fn bring(state: State) -> (Wire, Ride) {
    let (wire, mut ride) = wired();
    ride.start();
    ride.to(40.0);
    match state {
        State::Connecting => wire.rule().deaf = true,
        State::Subscribing => wire.rule().keeps = Some(INDOOR_BIKE_DATA),
        State::SubscribingToControl => wire.rule().keeps = Some(CONTROL_POINT),
        State::Waiting => {
            wire.fake.turn(|knobs| knobs.silent = true);
            ride.command(Command::Trim(1));
            ride.pass(0.5);
        }
        State::Riding => {}
        State::Paused => {
            ride.command(Command::Pause);
            ride.pass(4.0);
        }
        State::Finishing => {
            ride.command(Command::End);
            ride.command(Command::End);
        }
    }
    if matches!(
        state,
        State::Connecting | State::Subscribing | State::SubscribingToControl
    ) {
        wire.fake.drop_link(ride.now());
        ride.pass(1.5);
    }
    (wire, ride)
}

/// The answer that is owed in this state, as a failure; where none is owed, the loss of the link.
fn owed(state: State, wire: &Wire, why: Failure) -> Event {
    let id = wire.fake.id();
    match state {
        State::Connecting => Event::ConnectFailed(id, why),
        State::Subscribing => Event::Subscribed(id, INDOOR_BIKE_DATA, Err(why)),
        State::SubscribingToControl => Event::Subscribed(id, CONTROL_POINT, Err(why)),
        State::Waiting | State::Riding | State::Paused | State::Finishing => {
            Event::Written(id, CONTROL_POINT, Err(why))
        }
    }
}

fn adapter_gone(wire: &Wire, ride: &mut Ride, gone: Adapter, back: Adapter) {
    let words = "Bluetooth is gone.".to_owned();
    wire.rule().off = Some(words.clone());
    ride.input(Input::Device(Event::Adapter(gone)));
    wire.fake.drop_link(ride.now());
    if wire.rule().deaf {
        let id = wire.fake.id();
        ride.input(Input::Device(Event::ConnectFailed(
            id,
            Failure::Other(words),
        )));
    }
    ride.pass(8.0);
    wire.rule().off = None;
    ride.input(Input::Device(Event::Adapter(back)));
}

fn strike(state: State, fault: Fault, wire: &Wire, ride: &mut Ride) {
    let now = ride.now();
    match fault {
        Fault::TimeOut => wire.say(now, owed(state, wire, Failure::TimedOut)),
        Fault::Refusal => {
            let why = Failure::Other("the operation failed".to_owned());
            wire.say(now, owed(state, wire, why));
        }
        Fault::Att => wire.say(now, owed(state, wire, Failure::Att(0x0E))),
        Fault::LinkLost if state == State::Connecting => {
            wire.say(now, owed(state, wire, Failure::LinkLost));
        }
        Fault::LinkLost => wire.fake.drop_link(now),
        Fault::AdapterOffAndOn => {
            let gone = Adapter::Off("It is off.".to_owned());
            adapter_gone(wire, ride, gone, Adapter::Quiet);
        }
        Fault::ServiceRestarted => {
            let gone = Adapter::Missing("The service does not run.".to_owned());
            adapter_gone(wire, ride, gone, Adapter::Quiet);
        }
        Fault::Slept => {
            ride.input(Input::Slept(Span::from_seconds(900)));
            wire.fake.drop_link(now);
        }
        Fault::Nothing => {}
    }
}

/// After each *request control* the first target is a release, and the load rises from there over six seconds.
fn comes_back_from_release(ride: &Ride, from: Instant, context: &str) {
    let writes: Vec<_> = ride
        .writes()
        .into_iter()
        .filter(|(at, _)| *at >= from)
        .collect();
    for (index, (granted, bytes)) in writes.iter().enumerate() {
        if bytes[0] != 0 {
            continue;
        }
        let mut powers = writes[index + 1..]
            .iter()
            .filter_map(|(at, bytes)| Some((*at, watts_of(bytes)?)));
        if let Some((_, first)) = powers.next() {
            assert_eq!(first, 0, "{context}");
        }
        for (at, watts) in powers {
            let since = at.since(*granted).seconds();
            if since < 6.0 {
                assert!(
                    f64::from(watts) <= 153.0 * since / 6.0 + 1.0,
                    "{context}: {watts} W"
                );
            }
        }
    }
}

#[test]
fn every_state_of_a_link_survives_every_fault() {
    for state in STATES {
        for fault in FAULTS {
            let context = format!("{state:?} and {fault:?}");
            let (wire, mut ride) = bring(state);
            let from = ride.now();
            let rows = ride.rows().len();
            strike(state, fault, &wire, &mut ride);
            ride.pass(2.0);
            {
                let mut rule = wire.rule();
                rule.deaf = false;
                rule.keeps = None;
            }
            wire.fake.turn(|knobs| knobs.silent = false);
            if matches!(ride.mode(), Mode::Degraded { .. }) {
                let said = ride.snapshot();
                assert!(!said.brake_in_hand, "{context}");
            }
            // A connection that is never answered is given up after 45 s, a procedure after 30 s, and then it is tried
            // again within half a minute.
            ride.pass(80.0);
            match state {
                State::Finishing => {
                    assert!(matches!(ride.mode(), Mode::Finished(_)), "{context}");
                    assert_eq!(wire.fake.state().holds, Some(0), "{context}");
                    continue;
                }
                State::Paused => {
                    assert!(
                        matches!(ride.mode(), Mode::Paused(_)),
                        "{context}: {:?}",
                        ride.mode()
                    );
                    assert_eq!(ride.rows().len(), rows, "{context}: the clock stands");
                    assert_eq!(wire.fake.state().holds, Some(0), "{context}");
                    ride.command(Command::Resume);
                    ride.pass(20.0);
                }
                _ if fault == Fault::Slept => {
                    assert!(ride.happened("gap"), "{context}");
                    // The legs turn: it goes on by itself.
                    assert_ne!(ride.mode(), Mode::Paused(PauseCause::Gap), "{context}");
                }
                _ => {
                    let gained = (ride.rows().len() - rows) as f64;
                    let passed = ride.now().since(from).seconds();
                    assert!(
                        (gained - passed).abs() < 1.5,
                        "{context}: {gained} rows in {passed} s"
                    );
                }
            }
            assert_eq!(ride.mode(), Mode::Riding, "{context}");
            let full = if state == State::Waiting { 153 } else { 150 };
            assert_eq!(wire.fake.state().holds, Some(full), "{context}");
            comes_back_from_release(&ride, from, &context);
            let numbers: Vec<u64> = ride.rows().iter().map(|row| row.ridden_s).collect();
            assert!(
                numbers.iter().copied().eq(1..=numbers.len() as u64),
                "{context}"
            );
        }
    }
}
