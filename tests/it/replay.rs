//! The raw lines of a ride, fed to a fresh core with the same wall clock, are the same ride again.
//!
//! To make a test of a fault: `stillroad export RECORDING --to tests/data/recordings/NAME.zip`, a line for it in the table
//! of `tests/data/recordings/README.md`, and `cargo test --test it replay::recordings` replays it from then on. For what
//! must be so in it beyond that, `replay::recordings::replayed("NAME")` gives its rows, events and requests.

mod damaged;
mod failed;
mod fitted;
mod log;
mod recordings;
mod sent;
mod verb;

use stillroad::device::practice::{PracticeConfig, Script};
use stillroad::device::{Event, Request};
use stillroad::engine::input::{Input, Output};
use stillroad::engine::{Command, Core};
use stillroad::gatt::IndoorBikeData;
use stillroad::gatt::uuid16::INDOOR_BIKE_DATA;
use stillroad::record::log::word;
use stillroad::record::{Kept, RawLine};
use stillroad::ride::RideMode;
use stillroad::time::{Instant, Span};
use stillroad::units::Watts;

use crate::world::{EPOCH_MS, Ride, Seen, rider, session};

/// A ride in which a good deal happens: sprint, still pedals, pause, skip, trims, the other mode, a sleep.
fn eventful() -> Vec<(Instant, Seen)> {
    eventful_ride().seen()
}

fn eventful_ride() -> Ride {
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\neffort = [2, 5]\n\
         [[block]]\nrepeat = 2\n\
         [[block.block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\ncadence = [80, 90]\n\
         [[block.block]]\nkind = \"sprint\"\ntime = \"0:12\"\neffort = 10\n\
         [[block.block]]\nkind = \"recovery\"\ntime = \"0:40\"\neffort = 3\nstretch = true\n\
         [[block]]\nkind = \"cool-down\"\ntime = \"0:30\"\neffort = [3, 1]\n",
    );
    let script = Script::ride(86.0)
        .coast(60.0, 5.0, 86.0)
        .coast(150.0, 30.0, 90.0);
    let config = PracticeConfig::default().scripted(script);
    let mut ride = Ride::practice(config, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    let hand = [
        (30.0, Command::Trim(2)),
        (45.0, Command::Pause),
        (50.0, Command::Resume),
        (90.0, Command::EaseBlock),
        (140.0, Command::Stretch),
        (215.0, Command::BrakeOff),
        (225.0, Command::Resume),
        (230.0, Command::Skip),
        (231.0, Command::Skip),
        (235.0, Command::Undo),
        (240.0, Command::SwitchMode),
        (250.0, Command::SwitchMode),
    ];
    for (second, command) in hand {
        ride.to(second);
        ride.command(command);
    }
    ride.to(260.0);
    ride.input(Input::Slept(Span::from_seconds(600)));
    ride.to_the_end(900.0);
    ride
}

pub fn raw(seen: &[(Instant, Seen)]) -> Vec<RawLine> {
    let line = |(_, seen): &(Instant, Seen)| match seen {
        Seen::Kept(Kept::Raw(line)) => Some(line.clone()),
        _ => None,
    };
    seen.iter().filter_map(line).collect()
}

/// What came of it, raw lines left out; a scan is no device's business.
pub fn outcome(seen: Vec<Seen>) -> Vec<Seen> {
    seen.into_iter()
        .filter(|seen| {
            !matches!(
                seen,
                Seen::Kept(Kept::Raw(_)) | Seen::Asked(Request::Scan(_))
            )
        })
        .collect()
}

pub fn replay(lines: &[RawLine]) -> Vec<Seen> {
    let mut core = Core::new(EPOCH_MS);
    let mut seen = Vec::new();
    for line in lines {
        if line.input == word::HEAD || line.input == word::ASKED {
            continue;
        }
        let input = Input::from_raw(line.input, &line.content).unwrap();
        core.handle(Instant(line.at_us), input);
        while let Some(output) = core.poll_output() {
            match output {
                Output::Request(request) => seen.push(Seen::Asked(request)),
                Output::Kept(kept) => seen.push(Seen::Kept(kept)),
                Output::Remember(_) | Output::Done => {}
            }
        }
    }
    outcome(seen)
}

#[test]
fn a_replay_gives_the_same_rows_events_and_writes() {
    let seen = eventful();
    let lines = raw(&seen);
    let first = outcome(seen.into_iter().map(|(_, seen)| seen).collect());
    let count = |what: fn(&Seen) -> bool| first.iter().filter(|seen| what(seen)).count();
    // It is a ride worth comparing.
    assert!(count(|seen| matches!(seen, Seen::Kept(Kept::Row(_)))) > 270);
    assert!(count(|seen| matches!(seen, Seen::Kept(Kept::Event(_)))) > 100);
    assert!(count(|seen| matches!(seen, Seen::Asked(Request::Write(..)))) > 100);
    assert_eq!(count(|seen| matches!(seen, Seen::Kept(Kept::End(_)))), 1);
    let again = replay(&lines);
    assert_eq!(again.len(), first.len());
    for (at, (again, first)) in again.iter().zip(&first).enumerate() {
        assert_eq!(again, first, "output {at}");
    }
}

#[test]
fn one_changed_byte_of_power_is_noticed() {
    let seen = eventful();
    let mut lines = raw(&seen);
    let same = replay(&lines);
    // A report in the middle of the ride, its power one watt higher.
    let changed = lines.iter_mut().skip(2_000).find_map(|line| {
        let input = Input::from_raw(line.input, &line.content);
        let Ok(Input::Device(Event::Notified(id, INDOOR_BIKE_DATA, bytes))) = input else {
            return None;
        };
        let record = IndoorBikeData::decode(&bytes).unwrap();
        let watts = record.power()?;
        let other = record.with_power(Watts(watts.0 + 1.0)).encode();
        let differ = bytes.iter().zip(&other).filter(|(a, b)| a != b).count();
        if differ != 1 {
            return None;
        }
        let input = Input::Device(Event::Notified(id, INDOOR_BIKE_DATA, other));
        *line = input.to_raw(Instant(line.at_us));
        Some(())
    });
    assert_eq!(changed, Some(()));
    assert_ne!(replay(&lines), same);
}

#[test]
fn a_raw_line_that_makes_no_sense_is_a_sentence() {
    for (word, content) in [("command", "{"), ("device", "\"jump\""), ("nothing", "")] {
        let told = Input::from_raw(word, content).unwrap_err();
        assert!(told.contains(word), "{told}");
    }
}
