//! What may happen in a campaign, and how often: any order of it.

use proptest::prelude::*;
use stillroad::device::{Adapter, Event, Failure};
use stillroad::engine::input::Recorder;
use stillroad::engine::{Command, GroupClock, Role};
use stillroad::gatt::uuid16::*;
use stillroad::time::Span;
use stillroad::units::Effort;

use super::campaign::{Mood, Turn, trainer};

fn command() -> impl Strategy<Value = Command> {
    prop_oneof![
        1 => Just(Command::Pause),
        3 => Just(Command::Resume),
        1 => Just(Command::Start),
        1 => Just(Command::StartWithPedals),
        1 => any::<i8>().prop_map(Command::Trim),
        1 => Just(Command::EaseBlock),
        1 => Just(Command::NoteGear),
        1 => Just(Command::Mark),
        1 => Just(Command::Stretch),
        1 => Just(Command::Cut),
        3 => Just(Command::Skip),
        1 => Just(Command::Undo),
        1 => Just(Command::End),
        1 => Just(Command::BrakeOff),
        2 => Just(Command::SwitchMode),
        1 => (-5.0..15.0).prop_map(|rating| Command::Rate(Effort(rating))),
        1 => Just(Command::PassRating),
        1 => any::<bool>().prop_map(Command::Scan),
        1 => Just(Command::Use(Role::Heart, Some(trainer()))),
        1 => Just(Command::Use(Role::Meter, None)),
        1 => any::<bool>().prop_map(Command::HoldByMeter),
        1 => any::<bool>().prop_map(Command::FixedFlywheel),
        1 => group().prop_map(Command::Clock),
        2 => Just(Command::Rejoin),
        1 => Just(Command::SpinDown),
        1 => Just(Command::LeaveSpinDown),
    ]
}

/// A start within a minute of the campaign's beginning (midnight, UTC), on either side of it, or a session joined.
fn group() -> impl Strategy<Value = GroupClock> {
    prop_oneof![
        1 => Just(GroupClock::Own),
        2 => (0u32..90).prop_map(GroupClock::At),
        1 => (86_300u32..86_500).prop_map(GroupClock::At),
        2 => (0u64..200).prop_map(|into| GroupClock::Join(Span::from_seconds(into))),
    ]
}

fn turn() -> impl Strategy<Value = Turn> {
    let pedal = (
        1u64..1_500,
        prop_oneof![4 => 60u16..110, 1 => 0u16..60],
        prop_oneof![4 => 30i16..400, 1 => -5i16..30],
    )
        .prop_map(|(after_ms, cadence, watts)| Turn::Pedal {
            after_ms,
            cadence,
            watts,
        });
    let mood = prop_oneof![
        4 => Just(Mood::Result(1)),
        1 => (2u8..6).prop_map(Mood::Result),
        1 => (2u8..6).prop_map(Mood::All),
        1 => prop_oneof![Just(0xFEu8), Just(0xFD), Just(0x05), Just(0x80)].prop_map(Mood::Att),
        1 => Just(Mood::Silent),
    ];
    let noise = prop_oneof![
        prop::collection::vec(any::<u8>(), 0..4).prop_map(|bytes| (INDOOR_BIKE_DATA, bytes)),
        prop_oneof![
            Just(vec![0xFFu8]),
            Just(vec![0x01]),
            Just(vec![0x02, 0x01]),
            Just(vec![0x02, 0x02]),
            Just(vec![0x03]),
            Just(vec![0x04]),
            Just(vec![0x08, 200, 0]),
            (0u8..6).prop_map(|step| vec![0x14, step]),
            prop::collection::vec(any::<u8>(), 0..4),
        ]
        .prop_map(|bytes| (FITNESS_MACHINE_STATUS, bytes)),
        (prop_oneof![Just(0u8), Just(5), Just(4), Just(8)], 0u8..7)
            .prop_map(|(op, result)| (CONTROL_POINT, vec![0x80, op, result])),
    ];
    let bad = prop_oneof![
        Just(Event::Written(
            trainer(),
            CONTROL_POINT,
            Err(Failure::TimedOut)
        )),
        Just(Event::Written(trainer(), CONTROL_POINT, Ok(()))),
        Just(Event::Connected(trainer(), vec![])),
        Just(Event::ConnectFailed(trainer(), Failure::TimedOut)),
        Just(Event::Subscribed(
            trainer(),
            CONTROL_POINT,
            Err(Failure::NotFound)
        )),
        Just(Event::Adapter(Adapter::Off("Bluetooth is off.".to_owned()))),
        Just(Event::Lost(9)),
    ];
    let disk = prop_oneof![
        Just(Recorder::Began("/ride".to_owned())),
        Just(Recorder::Trouble("The disk is full.".to_owned())),
        Just(Recorder::Recovered),
        Just(Recorder::Dropped(3)),
    ];
    prop_oneof![
        16 => pedal,
        6 => command().prop_map(Turn::Hand),
        2 => (1u16..12).prop_map(Turn::Stall),
        1 => (60u16..100, 130u8..190).prop_map(|(rpm, bpm)| Turn::Strained(rpm, bpm)),
        2 => (50u16..105).prop_map(Turn::Along),
        3 => (0i16..420).prop_map(Turn::Meter),
        3 => (40u8..200).prop_map(Turn::Heart),
        1 => prop_oneof![Just(Role::Meter), Just(Role::Heart)].prop_map(Turn::SensorLost),
        3 => (1u64..5_000).prop_map(Turn::Wait),
        2 => (1u64..5_000).prop_map(Turn::HeldUp),
        2 => mood.prop_map(Turn::Mood),
        2 => noise.prop_map(|(what, bytes)| Turn::Noise(what, bytes)),
        1 => bad.prop_map(Turn::Event),
        1 => Just(Turn::LinkLost),
        1 => disk.prop_map(Turn::Disk),
        1 => (0u64..5_000).prop_map(Turn::Slept),
        1 => Just(Turn::End),
        1 => Just(Turn::ConnectFails),
    ]
}

/// Any turns, most of them in a ride that has begun well.
pub fn turns() -> impl Strategy<Value = Vec<Turn>> {
    let any_turns = prop::collection::vec(turn(), 0..160);
    (
        any::<bool>(),
        prop::option::weighted(0.4, group()),
        any::<bool>(),
        prop::bool::weighted(0.3),
        any_turns,
        prop::option::weighted(0.05, 60u16..200),
    )
        .prop_map(|(start, group, long, levels, rest, crowd)| {
            let mut turns = Vec::new();
            turns.extend(levels.then_some(Turn::LevelsAlone));
            turns.push(if long { Turn::UpLong } else { Turn::Up });
            turns.extend(group.map(|clock| Turn::Hand(Command::Clock(clock))));
            if start {
                turns.push(Turn::Start);
                let steady = Turn::Pedal {
                    after_ms: 500,
                    cadence: 85,
                    watts: 150,
                };
                turns.extend(std::iter::repeat_n(steady, 12));
            }
            turns.extend(crowd.map(Turn::Crowd));
            turns.extend(rest);
            turns
        })
}
