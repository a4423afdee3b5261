//! A trainer that was ridden before: what the first ride learned is where the next begins, built up and never jumped.

use stillroad::device::practice::{Device, PracticeConfig, Script, SpeedFrom};
use stillroad::memory::Memory;
use stillroad::ride::RideMode;
use stillroad::units::BrakeTarget;

use super::Trial;
use crate::world::{rider, session};

const SESSION: &str = "[[block]]\nkind = \"warm-up\"\ntime = \"5:00\"\neffort = [2, 5]\n\
    [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 7\ncadence = 90\n";

fn ride(config: PracticeConfig) -> Trial {
    let mut trial = Trial::new(config, &session(SESSION), &rider(), RideMode::EffortOnly);
    trial.to(320.0);
    trial
}

fn level(trial: &Trial) -> f64 {
    match trial.ride.snapshot().brake {
        Some(BrakeTarget::Resistance(level)) => level.0,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_level_of_the_first_ride_is_where_the_next_begins() {
    let first = ride(PracticeConfig::default());
    let found = level(&first);
    // Effort 7 is 82 % of 200 W, 164 W, in the gear of the warm-up (50 × 19 on 2.1 m) at 90 rpm: 8.29 m/s. By the practice
    // brake's documented law, level·(0.1 + 0.05·v)·v, that is level 38.5.
    assert!((found - 38.5).abs() < 4.0, "{found}");
    let memory = first.ride.world.core().memory().clone();
    let known = &memory.trainers[Device::Trainer.address()];
    assert_eq!(known.wheel_speed, Some(true));
    assert!(known.levels.len() > 3 && known.free_target.is_some());
    // Through the file and back.
    let text = toml::to_string(&memory).unwrap();
    let memory: Memory = toml::from_str(&text).unwrap();
    let mut next = Trial::remembering(PracticeConfig::default(), &session(SESSION), &memory);
    let mut last = 0.0;
    let mut at = 5.0;
    while at < 30.0 {
        at += 0.5;
        next.to(at);
        if let Some(BrakeTarget::Resistance(now)) = next.ride.snapshot().brake {
            // Built up over ten seconds, six at least from a release: never more than a sixth of it a second.
            assert!(
                now.0 - last <= found / 6.0 + 1.0,
                "{last} to {} at {at}",
                now.0
            );
            last = now.0;
        }
    }
    assert!((last - found).abs() < 4.0, "{last}, {found}");
}

#[test]
fn nothing_is_learned_of_levels_where_speed_follows_power() {
    let mut config = PracticeConfig::default();
    config.trainer.speed_from = SpeedFrom::Power;
    let trial = ride(config);
    let memory = trial.ride.world.core().memory();
    let known = memory.trainers.get(Device::Trainer.address());
    assert!(known.is_none_or(|known| known.levels.is_empty() && known.wheel_speed.is_none()));
}

#[test]
fn a_remembered_wheel_that_follows_power_after_all_is_forgotten_and_said() {
    let blocks = "[[block]]\nkind = \"hold\"\ntime = \"6:00\"\nwatts = 150\n\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 100\n";
    for (speed_from, expected) in [
        (SpeedFrom::Power, Some(false)),
        (SpeedFrom::Wheel, Some(true)),
    ] {
        let mut memory = Memory::default();
        memory.trainer(Device::Trainer.address()).wheel_speed = Some(true);
        let mut config = PracticeConfig::default().noiseless();
        config.trainer.speed_from = speed_from;
        config.script = Script::ride(90.0)
            .pedal(60.0, 80.0)
            .pedal(120.0, 90.0)
            .pedal(180.0, 80.0)
            .pedal(240.0, 90.0);
        let mode = RideMode::TargetPower;
        let mut trial = Trial::begin(config, &session(blocks), &rider(), mode, Some(&memory));
        trial.to(380.0);
        let known = &trial.ride.world.core().memory().trainers[Device::Trainer.address()];
        assert_eq!(known.wheel_speed, expected, "{speed_from:?}");
        assert_eq!(
            trial.ride.happened("speed-follows-power"),
            expected == Some(false),
            "{speed_from:?}"
        );
    }
}
