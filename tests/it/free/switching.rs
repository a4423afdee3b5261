//! The size of the jump when the mode is switched, in the true power of the brake.

use stillroad::device::practice::{BrakeParameters, PracticeConfig, Script};
use stillroad::engine::Command;
use stillroad::ride::RideMode;

use super::Trial;
use crate::world::{Fake, Knobs, Ride, rider, session};

/// Rises outside sprints are no faster than 50 W a second: 25 W in half a second, and one target more, of the four that
/// go out a second, that may fall into it: 12.5 W. The lag of a brake cannot make a rise steeper.
const MOST_RISE: f64 = 37.5;

/// Falls go over two seconds: a quarter of what stood in half a second, and one more target of an eighth.
const FALL_SHARE: f64 = 0.375;

/// Where nothing is known of the levels the watts fall to 50 W before they are exchanged for the lowest level, which may
/// ask for anything down to friction; the exchange may come in the same half second as the last of the fall.
const UNKNOWN: f64 = 50.0;

/// Three laws of a level: an eddy-current brake, a fan, and a force that does not know speed. The constants were chosen so
/// that a fifth of the range asks for some 150 W at 8 m/s, and before anything was measured.
fn brakes() -> [(&'static str, BrakeParameters); 3] {
    let plain = BrakeParameters {
        level_force: 0.0,
        level_slope: 0.0,
        level_square: 0.0,
        ..BrakeParameters::default()
    };
    [
        (
            "eddy",
            BrakeParameters {
                level_force: 0.2,
                level_slope: 0.09,
                ..plain
            },
        ),
        (
            "fan",
            BrakeParameters {
                level_square: 0.0146,
                ..plain
            },
        ),
        (
            "even",
            BrakeParameters {
                level_force: 0.94,
                ..plain
            },
        ),
    ]
}

#[test]
fn switching_the_mode_makes_no_jump() {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"20:00\"\nwatts = 150\n");
    println!("brake  gear rpm  level    to      known  before  after  rise/.5s  fall/.5s");
    let mut cases = 0;
    for (name, brake) in brakes() {
        for gear in [-3, 0, 2] {
            for rpm in [75.0, 90.0] {
                for presses in [2, 5, 9] {
                    let mut config = PracticeConfig::default().noiseless();
                    config.brake = brake;
                    config.script = Script::ride(rpm).shift(4.0, gear);
                    let mut trial = Trial::new(config, &plan, &rider(), RideMode::TargetPower);
                    trial.to(40.0);
                    let switches = [40.0, 90.0, 130.0];
                    for (number, at) in switches.into_iter().enumerate() {
                        let before = trial.power_before(at);
                        trial.ride.command(Command::SwitchMode);
                        trial.to(at + 14.0);
                        let after = trial.power_before(at + 14.0);
                        let (rise, fall) = trial.jumps(at - 0.5, at + 14.0);
                        let to_level = number != 1;
                        let fell = trial.ride.watts_in(at + 0.01, at + 14.0).len() > 1;
                        let known = to_level && !fell;
                        println!(
                            "{name:5} {gear:5} {rpm:4.0} {presses:5}    {:7} {known:5} {before:7.1}{after:7.1} {rise:9.1} {fall:9.1}",
                            if to_level { "level" } else { "watts" },
                        );
                        assert!(rise <= MOST_RISE, "{rise} W in half a second");
                        let most = if to_level && !known {
                            FALL_SHARE * (before - UNKNOWN) + UNKNOWN
                        } else {
                            FALL_SHARE * before
                        };
                        assert!(
                            fall <= most + 1.0,
                            "{fall} W in half a second from {before} W"
                        );
                        cases += 1;
                        if number == 0 {
                            trial.to(60.0);
                            for _ in 0..presses {
                                trial.ride.command(Command::Trim(1));
                                let now = trial.ride.now().0 as f64 / 1e6;
                                trial.to(now + 3.0);
                            }
                        }
                        if let Some(next) = switches.get(number + 1) {
                            trial.to(*next);
                        }
                    }
                }
            }
        }
    }
    assert_eq!(cases, 162);
}

#[test]
fn a_switch_that_was_taken_back_leaves_the_next_one_its_fall() {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"20:00\"\nwatts = 240\n");
    let fake = Fake::new(Knobs::default());
    let mut ride = Ride::on(&fake, &plan, &rider(), RideMode::TargetPower);
    ride.start();
    ride.to(40.0);
    ride.command(Command::SwitchMode);
    ride.to(41.0);
    ride.command(Command::SwitchMode);
    ride.to(100.0);
    assert_eq!(fake.state().holds, Some(240));
    ride.command(Command::SwitchMode);
    ride.to(110.0);
    let writes = ride.writes();
    let level = writes
        .iter()
        .map(|(now, bytes)| (now.0 as f64 / 1e6, bytes[0]))
        .find(|(now, op)| *now > 100.0 && *op == 0x04);
    let (exchanged, _) = level.unwrap();
    let fell = ride.watts_in(100.0, exchanged);
    // Over two seconds, and the last but one of eight targets on the way from 240 W to 50 W is at 74 W.
    assert!(exchanged >= 101.5, "{exchanged} {fell:?}");
    assert!(fell.last().unwrap().1 <= 75, "{exchanged} {fell:?}");
}
