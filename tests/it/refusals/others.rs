//! What else a trainer can refuse, each answer for itself: a level where there is nothing but levels, a level in two
//! octets, a spin-down; and the parts of a record that comes in two, each way in which one can be lost.

use stillroad::control::{SpinDownFailure, SpinDownStage};
use stillroad::device::Event;
use stillroad::engine::Command;
use stillroad::engine::input::Input;
use stillroad::gatt::uuid16::INDOOR_BIKE_DATA;
use stillroad::ride::{Cause, Mode, Reading, RideMode};
use stillroad::units::Watts;

use super::{LEVEL, NO_LONGER, REFUSED, SESSION, count, ridden};
use crate::world::{Fake, Knobs, Ride, rider, session};

const SPIN_DOWN: u8 = 0x13;

/// A trainer of levels and of nothing else.
fn levels_only() -> Knobs {
    Knobs {
        offers_power: false,
        power_range: None,
        watts_a_level: 15.0,
        free_power: 60.0,
        ..Knobs::default()
    }
}

#[test]
fn every_refusal_of_a_level_is_met_where_there_is_nothing_but_levels() {
    let unknown: &[&str] = &["does not take", "use the gears"];
    let refused = Some(Cause::ControlRefused);
    // It takes nothing else, so the brake cannot be set at all.
    let none = Some(Cause::NoUsableTarget);
    // The result, what the rider reads, the event, how often op 04 is written, and the cause in the end.
    type Case = (
        u8,
        &'static [&'static str],
        &'static str,
        (usize, usize),
        Option<Cause>,
    );
    let cases: [Case; 7] = [
        (2, unknown, "unsupported", (1, 2), none),
        // Without a word for why, or with one that is reserved: left alone, tried again, and given up after half a minute.
        (3, REFUSED, "target-refused", (2, 40), none),
        (4, REFUSED, "target-refused", (2, 40), none),
        (0, REFUSED, "target-refused", (2, 40), none),
        (6, REFUSED, "target-refused", (2, 40), none),
        (0xFF, REFUSED, "target-refused", (2, 40), none),
        (5, NO_LONGER, "control-refused", (1, 6), refused),
    ];
    for mode in [RideMode::TargetPower, RideMode::EffortOnly] {
        for (result, reads, event, (least, most), cause) in &cases {
            let case = format!("op 04 answered {result:02X} in {mode:?}");
            let fake = Fake::new(Knobs {
                answers: [(LEVEL, *result)].into(),
                ..levels_only()
            });
            let (ride, said, modes) = ridden(&fake, SESSION, mode);
            assert!(matches!(ride.mode(), Mode::Finished(_)), "{case}");
            assert_eq!(ride.rows().len(), 120, "{case}");
            for part in *reads {
                assert!(
                    said.iter().any(|words| words.contains(part)),
                    "{case}: {part:?} in {said:?}"
                );
            }
            assert!(ride.happened(event), "{case}: {:?}", ride.events());
            let times = count(&ride, LEVEL);
            assert!(
                (*least..=*most).contains(&times),
                "{case}: written {times} times"
            );
            let degraded = modes.iter().rev().find_map(|mode| match mode {
                Mode::Degraded { cause, .. } => Some(*cause),
                _ => None,
            });
            // A value that is refused is left alone, and its release may be refused with it.
            let alone = *event == "target-refused"
                && matches!(degraded, None | Some(Cause::ReleaseUnanswered));
            assert!(degraded == *cause || alone, "{case}: {modes:?}");
            // What was never taken is never written down as standing.
            assert!(ride.rows().iter().all(|row| row.brake.is_none()), "{case}");
        }
    }
}

#[test]
fn a_level_in_two_octets_is_tried_where_one_is_invalid_and_both_refusals_are_told() {
    // Service 1.0, 4.16.2.5: op 04 has one octet in steps of 0.1; some machines read a word as the range has it.
    for (octet, word, first, later) in [
        // An octet is invalid, a word is taken: words from then on.
        (3, 1, [2, 3], 3),
        // Both are invalid: the octet again, for good, since the standard has it.
        (3, 3, [2, 3], 2),
        // Any other refusal says nothing of the form.
        (4, 1, [2, 2], 2),
    ] {
        let fake = Fake::new(Knobs {
            level_forms: Some((octet, word)),
            ..levels_only()
        });
        let (ride, said, _) = ridden(&fake, SESSION, RideMode::EffortOnly);
        assert_eq!(ride.rows().len(), 120);
        let lengths: Vec<usize> = ride
            .writes()
            .iter()
            .filter(|(_, bytes)| bytes[0] == LEVEL)
            .map(|(_, bytes)| bytes.len())
            .collect();
        assert_eq!(lengths[..2], first, "{octet:02X} {word:02X}: {lengths:?}");
        assert!(
            lengths[2..].iter().all(|length| *length == later),
            "{octet:02X} {word:02X}: {lengths:?}"
        );
        let told = said.iter().any(|words| words.contains("did not take"));
        assert_eq!(
            told,
            word != 1 || octet != 3,
            "{octet:02X} {word:02X}: {said:?}"
        );
        // The lowest level is the first one of an unknown trainer: confirmed, it is the release.
        let stood = ride.happened("released");
        assert_eq!(stood, octet == 3 && word == 1, "{octet:02X} {word:02X}");
    }
}

#[test]
fn every_refusal_of_a_spin_down_ends_it_and_the_ride_is_ridden() {
    for result in [2, 3, 4, 5, 0, 6, 0xFF] {
        let case = format!("op 13 answered {result:02X}");
        let fake = Fake::new(Knobs {
            spins_down: true,
            answers: [(SPIN_DOWN, result)].into(),
            ..Knobs::default()
        });
        let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
        ride.to(5.0);
        assert!(ride.snapshot().spin_down.offered, "{case}");
        ride.command(Command::SpinDown);
        ride.pass(20.0);
        let guide = ride.snapshot().spin_down.guide.clone().unwrap();
        let SpinDownStage::Failed(why) = guide.stage else {
            panic!("{case}: {guide:?}");
        };
        let lost = matches!(why, SpinDownFailure::Lost | SpinDownFailure::Refused);
        assert!(
            if result == 5 {
                lost
            } else {
                why == SpinDownFailure::Refused
            },
            "{case}: {why:?}"
        );
        assert!(
            guide.sentence.contains("not calibrated"),
            "{case}: {}",
            guide.sentence
        );
        assert_eq!(count(&ride, SPIN_DOWN), 1, "{case}: not insisted on");
        ride.command(Command::LeaveSpinDown);
        fake.turn(|knobs| knobs.answers.clear());
        ride.start();
        let from = ride.now();
        ride.pass(50.0);
        assert_eq!(ride.mode(), Mode::Riding, "{case}");
        let held: Vec<i16> = ride
            .watts()
            .iter()
            .filter(|(at, _)| *at >= from)
            .map(|(_, watts)| *watts)
            .collect();
        assert_eq!(held.last(), Some(&150), "{case}: {held:?}");
    }
}

#[test]
fn of_a_record_in_two_parts_each_loss_costs_that_record_alone() {
    // Service 1.0, 4.9.1.1 and 4.19: bit 0 set means more data and no speed. 203 W (cb00) and 85 rpm (aa00, halves), then
    // 20.00 km/h (d007).
    const FIRST: [u8; 6] = [0x45, 0x00, 0xAA, 0x00, 0xCB, 0x00];
    const LAST: [u8; 4] = [0x00, 0x00, 0xD0, 0x07];
    let first = &FIRST[..];
    let last = &LAST[..];
    // The parts as they come, and whether power and speed are then known.
    let cases: [(&str, Vec<&[u8]>, bool, bool); 7] = [
        ("both", vec![first, last], true, true),
        ("the last one is lost", vec![first], false, false),
        ("the first one is lost", vec![last], false, true),
        ("in the other order", vec![last, first], false, true),
        ("the first one twice", vec![first, first, last], true, true),
        ("the last one twice", vec![first, last, last], true, true),
        (
            "a torn one between",
            vec![first, &FIRST[..3], last],
            true,
            true,
        ),
    ];
    for (case, parts, power, speed) in cases {
        let fake = Fake::new(Knobs {
            mute: true,
            ..Knobs::default()
        });
        let mut ride = Ride::on(&fake, &session(SESSION), &rider(), RideMode::TargetPower);
        ride.to(5.0);
        for part in &parts {
            ride.input(Input::Device(Event::Notified(
                fake.id(),
                INDOOR_BIKE_DATA,
                part.to_vec(),
            )));
        }
        let told = ride.snapshot();
        assert_eq!(told.power.fresh(), power.then_some(Watts(203.0)), "{case}");
        assert_eq!(
            told.speed.fresh().map(|speed| speed.kmh().round()),
            speed.then_some(20.0),
            "{case}"
        );
        if !power {
            assert_eq!(told.power, Reading::NeverSeen, "{case}");
        }
        // The next record is whole again, whatever was left of this one.
        for part in [first, last] {
            ride.input(Input::Device(Event::Notified(
                fake.id(),
                INDOOR_BIKE_DATA,
                part.to_vec(),
            )));
        }
        assert_eq!(ride.snapshot().power.fresh(), Some(Watts(203.0)), "{case}");
    }
}
