//! A flywheel that is fixed to the pedals: asked once for each trainer, remembered, respected.

use stillroad::engine::input::Input;
use stillroad::engine::snapshot::Flywheel;
use stillroad::engine::{Command, Role};
use stillroad::memory::Memory;
use stillroad::ride::{Mode, PauseCause, RideMode};
use stillroad::rider::PauseAfter;
use stillroad::time::Span;

use crate::world::{Fake, Knobs, Ride, rider, session};

fn hold() -> std::sync::Arc<stillroad::plan::Plan> {
    session("[[block]]\nkind = \"hold\"\ntime = \"5:00\"\nwatts = 150\n")
}

fn before_a_ride(memory: Option<Memory>) -> (Fake, Ride) {
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::new(vec![crate::world::tap(fake.clone())]);
    ride.input(Input::Remembered(Box::new(memory.unwrap_or_default())));
    let rider = stillroad::rider::Rider {
        pause_after: PauseAfter::After(Span::from_seconds(20)),
        ..rider()
    };
    ride.choose(&hold(), &rider, RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(fake.id())));
    (fake, ride)
}

fn answered(fixed: bool) -> Memory {
    let mut memory = Memory::default();
    memory.trainer("fake:trainer").fixed_flywheel = Some(fixed);
    memory
}

#[test]
fn it_is_asked_once_a_trainer_is_there_and_the_answer_is_kept() {
    let (_, mut ride) = before_a_ride(None);
    assert!(!ride.snapshot().flywheel.asks, "nothing is connected yet");
    ride.to(4.0);
    assert_eq!(
        ride.snapshot().flywheel,
        Flywheel {
            asks: true,
            fixed: None
        }
    );
    ride.command(Command::FixedFlywheel(true));
    let told = ride.snapshot().flywheel;
    assert_eq!((told.asks, told.fixed), (false, Some(true)));
    assert!(
        told.caution()
            .unwrap()
            .contains("never stop the legs suddenly")
    );
    assert!(ride.happened("flywheel"));
    // A second answer counts too, and no trainer, no answer.
    ride.command(Command::FixedFlywheel(false));
    assert_eq!(ride.snapshot().flywheel.fixed, Some(false));
    assert_eq!(ride.snapshot().flywheel.caution(), None);
    ride.command(Command::Use(Role::Trainer, None));
    ride.to(6.0);
    ride.command(Command::FixedFlywheel(true));
    assert_eq!(ride.snapshot().flywheel, Flywheel::default());
}

#[test]
fn the_answer_stands_in_the_memory_as_it_is_written() {
    let text = toml::to_string(&answered(true)).unwrap();
    assert!(text.contains("fixed_flywheel = true"), "{text}");
    assert_eq!(toml::from_str::<Memory>(&text).unwrap(), answered(true));
    let unasked = toml::to_string(&Memory::default()).unwrap();
    assert!(!unasked.contains("flywheel"));
    let (_, mut ride) = before_a_ride(Some(answered(true)));
    ride.to(4.0);
    let told = ride.snapshot().flywheel;
    assert_eq!(
        (told.asks, told.fixed),
        (false, Some(true)),
        "not asked again"
    );
}

#[test]
fn a_wheel_that_carries_the_legs_round_is_no_reason_to_pause() {
    const PAUSED: Mode = Mode::Paused(PauseCause::PedalsStopped);
    // The sensors say that the pedals stand still. The fake's wheel turns with its cadence, 0.1 m/s for each rpm: at
    // 15 rpm, under the 20 that count as pedalling, it is 1.5 m/s.
    for (fixed, cadence, pauses) in [
        (Some(true), 15.0, false),
        (Some(true), 0.0, true),
        (Some(false), 15.0, true),
        (None, 15.0, true),
    ] {
        let (fake, mut ride) = before_a_ride(fixed.map(answered));
        ride.start();
        assert_eq!(
            ride.notice().contains("never stop the legs suddenly"),
            fixed == Some(true),
            "{}",
            ride.notice()
        );
        ride.to(40.0);
        fake.turn(|knobs| {
            knobs.cadence = cadence;
            knobs.slack = true;
        });
        ride.to(44.0);
        // Released all the same: the lowest load is the safe one.
        assert_eq!(fake.state().holds, Some(0));
        ride.to(75.0);
        assert_eq!(ride.mode() == PAUSED, pauses, "{fixed:?} {cadence}");
    }
}
