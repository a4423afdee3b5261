//! A spin-down from the request to its end, on the practice trainer and against the rules of the ride.

use stillroad::control::{SpinDownFailure, SpinDownStage};
use stillroad::device::practice::{Device, Practice, PracticeConfig, Script, SpinDownManner};
use stillroad::device::{Backend, Event};
use stillroad::engine::input::Input;
use stillroad::engine::{Command, Role};
use stillroad::gatt::uuid16::{CONTROL_POINT, FITNESS_MACHINE_STATUS};
use stillroad::record::Kept;
use stillroad::ride::{Mode, RideMode};

use crate::world::{Ride, rider, session};

const BLOCKS: &str = "[[block]]\nkind = \"warm-up\"\ntime = \"10:00\"\neffort = 3\n";

fn config(manner: SpinDownManner) -> PracticeConfig {
    let mut config = PracticeConfig::default().scripted(Script::ride(88.0));
    config.trainer.spin_down = manner;
    config
}

fn on(config: PracticeConfig) -> Ride {
    let mut ride = Ride::practice(config, &session(BLOCKS), &rider(), RideMode::TargetPower);
    ride.to(10.0);
    ride
}

fn stage(ride: &Ride) -> Option<SpinDownStage> {
    ride.snapshot()
        .spin_down
        .guide
        .as_ref()
        .map(|guide| guide.stage)
}

/// Lets time pass until the guide is over, two minutes at most, and gives every sentence that was shown.
fn to_its_end(ride: &mut Ride) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for _ in 0..900 {
        let snapshot = ride.snapshot();
        let Some(guide) = &snapshot.spin_down.guide else {
            break;
        };
        if said.last() != Some(&guide.sentence) {
            said.push(guide.sentence.clone());
        }
        if guide.stage.is_over() {
            break;
        }
        ride.pass(0.25);
    }
    said
}

/// Fitness Machine Service 1.0, 4.16.2.20 and 4.17: 13 01 asks, the answer gives the speeds, 14 04 says stop, 14 02
/// success.
#[test]
fn a_rider_is_guided_through_it_and_it_is_remembered() {
    let mut ride = on(config(SpinDownManner::Works));
    assert!(ride.snapshot().spin_down.offered);
    assert_eq!(ride.snapshot().spin_down.last, None);
    ride.command(Command::SpinDown);
    let said = to_its_end(&mut ride);
    let has = |words: &str| said.iter().any(|each| each.contains(words));
    assert!(
        has("Asking") && has("Stop pedalling now") && has("Feet still"),
        "{said:?}"
    );
    assert_eq!(stage(&ride), Some(SpinDownStage::Done), "{said:?}");
    let writes = ride.writes();
    let asked: Vec<_> = writes
        .iter()
        .filter(|(_, bytes)| bytes[0] == 0x13)
        .collect();
    assert_eq!(asked.len(), 1);
    assert_eq!(asked[0].1, [0x13, 0x01]);
    // The lowest load stands before it, and no load is asked for while it runs.
    let before: Vec<_> = writes.iter().filter(|(at, _)| *at <= asked[0].0).collect();
    let last_load = before.iter().rev().find(|(_, bytes)| bytes[0] == 0x05);
    assert_eq!(last_load.unwrap().1, [0x05, 0, 0]);
    assert!(
        writes
            .iter()
            .filter(|(at, _)| *at > asked[0].0)
            .all(|(_, bytes)| bytes[..] == [0x05, 0, 0]),
        "{writes:?}"
    );
    // Kept for this trainer, and written at the start of the next ride. Time nought is 2026-01-01T00:00:00Z.
    let memory = ride.world.remembered().unwrap();
    let when = memory.trainers[Device::Trainer.id().as_str()]
        .spin_down
        .clone();
    let when = when.unwrap();
    assert!(
        when.starts_with("2026-01-01T00:0") && when.ends_with('Z'),
        "{when}"
    );
    ride.command(Command::LeaveSpinDown);
    assert_eq!(stage(&ride), None);
    ride.command(Command::Start);
    let start = ride.kept().into_iter().find_map(|(_, kept)| match kept {
        Kept::Begin(start) => Some(start),
        _ => None,
    });
    let start = start.unwrap();
    assert_eq!(start.spin_down.as_ref(), Some(&when));
    let text = stillroad::record::ride_toml::write(&start).unwrap();
    assert!(text.contains(&format!("spin_down = {when}")), "{text}");
}

#[test]
fn every_way_in_which_it_goes_wrong_is_told() {
    for (manner, why) in [
        (SpinDownManner::Refuses, SpinDownFailure::Refused),
        (SpinDownManner::Unanswered, SpinDownFailure::Unanswered),
        (SpinDownManner::NeverStops, SpinDownFailure::NeverStopped),
        (SpinDownManner::Errs, SpinDownFailure::Error),
    ] {
        let mut ride = on(config(manner));
        ride.command(Command::SpinDown);
        let said = to_its_end(&mut ride);
        assert_eq!(stage(&ride), Some(SpinDownStage::Failed(why)), "{said:?}");
        assert!(said.last().unwrap().contains("not calibrated"), "{said:?}");
        let remembered = ride.world.remembered();
        let kept = remembered.and_then(|memory| {
            memory
                .trainers
                .values()
                .find_map(|trainer| trainer.spin_down.clone())
        });
        assert_eq!(kept, None, "nothing was calibrated");
    }
    // Nobody pedals.
    let still = PracticeConfig::default().scripted(Script::still());
    let mut ride = on(still);
    ride.command(Command::SpinDown);
    to_its_end(&mut ride);
    assert_eq!(
        stage(&ride),
        Some(SpinDownStage::Failed(SpinDownFailure::NobodyPedals))
    );
    // A rider who pedals on after the word to stop.
    let mut stubborn = config(SpinDownManner::Works);
    stubborn.heeds_spin_down = false;
    let mut ride = on(stubborn);
    ride.command(Command::SpinDown);
    to_its_end(&mut ride);
    assert_eq!(
        stage(&ride),
        Some(SpinDownStage::Failed(SpinDownFailure::Error))
    );
}

#[test]
fn a_trainer_that_does_not_offer_it_is_not_asked() {
    let mut ride = on(config(SpinDownManner::None));
    assert!(!ride.snapshot().spin_down.offered);
    ride.command(Command::SpinDown);
    ride.pass(5.0);
    assert_eq!(stage(&ride), None);
    assert!(ride.writes().iter().all(|(_, bytes)| bytes[0] != 0x13));
}

#[test]
fn brake_off_another_trainer_and_a_start_end_it() {
    let left = Some(SpinDownStage::Failed(SpinDownFailure::Left));
    let mut ride = on(config(SpinDownManner::Works));
    ride.command(Command::SpinDown);
    ride.pass(1.0);
    assert_eq!(stage(&ride), Some(SpinDownStage::Speeding));
    ride.command(Command::BrakeOff);
    assert_eq!(stage(&ride), left);

    let mut ride = on(config(SpinDownManner::NeverStops));
    ride.command(Command::SpinDown);
    ride.pass(1.0);
    ride.command(Command::Use(Role::Trainer, None));
    assert_eq!(
        stage(&ride),
        Some(SpinDownStage::Failed(SpinDownFailure::Lost))
    );

    let mut ride = on(config(SpinDownManner::NeverStops));
    ride.command(Command::SpinDown);
    ride.pass(1.0);
    ride.command(Command::Start);
    assert_eq!((ride.mode(), stage(&ride)), (Mode::Riding, None));
    // Not in a ride, and the pedals that turn for it start none.
    ride.command(Command::SpinDown);
    ride.pass(5.0);
    assert_eq!(stage(&ride), None);
    let spins = ride
        .writes()
        .iter()
        .filter(|(_, bytes)| bytes[0] == 0x13)
        .count();
    assert_eq!(spins, 1);

    let mut ride = on(config(SpinDownManner::NeverStops));
    ride.command(Command::StartWithPedals);
    // The pedals turn already: a start that waited for them has begun.
    assert_eq!(ride.mode(), Mode::Riding);
}

#[test]
fn a_lost_link_ends_it() {
    let mut ride = on(config(SpinDownManner::NeverStops));
    ride.command(Command::SpinDown);
    ride.pass(1.0);
    ride.input(Input::Device(Event::Disconnected(Device::Trainer.id())));
    assert_eq!(
        stage(&ride),
        Some(SpinDownStage::Failed(SpinDownFailure::Lost))
    );
}

/// The status octets are 14 01: the machine asks for one.
#[test]
fn what_the_trainer_asks_for_is_said_before_a_ride_and_never_in_it() {
    let asks = || {
        Input::Device(Event::Notified(
            Device::Trainer.id(),
            FITNESS_MACHINE_STATUS,
            vec![0x14, 0x01],
        ))
    };
    let mut ride = on(config(SpinDownManner::Works));
    ride.input(asks());
    let snapshot = ride.snapshot();
    assert!(snapshot.spin_down.asked_for);
    assert!(snapshot.notice.as_ref().unwrap().contains("spin-down"));
    // Not wanted now: 13 02.
    ride.command(Command::LeaveSpinDown);
    ride.pass(1.0);
    assert!(!ride.snapshot().spin_down.asked_for);
    assert_eq!(ride.writes().last().unwrap().1, [0x13, 0x02]);

    let mut ride = on(config(SpinDownManner::Works));
    ride.command(Command::Start);
    ride.pass(30.0);
    ride.input(asks());
    let snapshot = ride.snapshot();
    assert!(!snapshot.spin_down.asked_for && snapshot.spin_down.guide.is_none());
    assert!(snapshot.notice.is_none(), "{:?}", snapshot.notice);
    ride.command(Command::End);
    ride.command(Command::End);
    ride.pass(5.0);
    assert!(
        ride.snapshot().spin_down.asked_for,
        "told once the ride is over"
    );
}

#[test]
fn the_practice_trainer_asks_by_its_status() {
    let mut practice = Practice::new(config(SpinDownManner::Works));
    let now = stillroad::time::Instant::ZERO;
    let id = Device::Trainer.id();
    use stillroad::device::Request;
    practice.request(now, Request::Connect(id.clone()));
    for characteristic in [CONTROL_POINT, FITNESS_MACHINE_STATUS] {
        practice.request(now, Request::Subscribe(id.clone(), characteristic));
    }
    let later = now + stillroad::time::Span::from_seconds(2);
    practice.ask_for_spin_down(later);
    let mut told = Vec::new();
    while let Some((_, event)) = practice.poll_event(later) {
        told.push(event);
    }
    assert!(told.contains(&Event::Notified(
        id,
        FITNESS_MACHINE_STATUS,
        vec![0x14, 0x01]
    )));
}
