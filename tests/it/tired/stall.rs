//! The stall: shown without the guard, and then with it, for a range of legs, targets, cadences, brakes and reports.

use stillroad::device::practice::{Device, Following, Practice, PracticeConfig};
use stillroad::device::{Backend, Request};
use stillroad::engine::{Command, Role};
use stillroad::gatt::control_point::Request as Ask;
use stillroad::gatt::uuid16::{CONTROL_POINT, INDOOR_BIKE_DATA};
use stillroad::ride::RideMode;
use stillroad::time::{Instant, Span};

use super::{Watched, legs, uncapped};
use crate::world::{Ride, at, session, tap};

/// Cadence and torque of the legs, a pair a second, where the brake is set to `watts` at second 20 and then left alone:
/// what a program without a guard does.
pub fn left_alone(config: PracticeConfig, watts: i16, seconds: u64) -> Vec<(f64, f64)> {
    let mut practice = Practice::new(config);
    let trainer = Device::Trainer.id();
    let run_to =
        |practice: &mut Practice, now: Instant| while practice.poll_event(now).is_some() {};
    let write = |ask: &Ask| Request::Write(trainer.clone(), CONTROL_POINT, ask.encode());
    practice.request(at(0.0), Request::Connect(trainer.clone()));
    run_to(&mut practice, at(1.0));
    for what in [INDOOR_BIKE_DATA, CONTROL_POINT] {
        practice.request(at(1.0), Request::Subscribe(trainer.clone(), what));
    }
    run_to(&mut practice, at(1.5));
    practice.request(at(1.5), write(&Ask::RequestControl));
    run_to(&mut practice, at(10.0));
    practice.request(at(10.0), write(&Ask::Power(100)));
    run_to(&mut practice, at(20.0));
    practice.request(at(20.0), write(&Ask::Power(watts)));
    (20..20 + seconds)
        .map(|second| {
            run_to(&mut practice, Instant::ZERO + Span::from_seconds(second));
            let legs = practice.bike().legs();
            (legs.cadence(), legs.torque())
        })
        .collect()
}

#[test]
fn without_a_guard_held_watts_grind_spent_legs_to_a_stop_while_torque_rises() {
    // Critical power 200 W and 4 kJ: 260 W empty them in 67 s (t = W′/(P − CP), Monod & Scherrer 1965).
    let seconds = left_alone(legs(200.0, 4_000.0, 88.0).noiseless(), 260, 140);
    let full = &seconds[40];
    // P = T·ω: 260 W at 88 rpm are 28.2 Nm.
    assert!(
        (full.0 - 88.0).abs() < 2.0 && (full.1 - 28.2).abs() < 1.0,
        "{full:?}"
    );
    let stalls = seconds
        .iter()
        .position(|(cadence, _)| *cadence < 20.0)
        .unwrap();
    assert!((60..110).contains(&stalls), "stopped after {stalls} s");
    // On the way down torque is above what it was at 88 rpm although the legs give less power.
    let going = seconds
        .iter()
        .skip(50)
        .find(|(cadence, _)| *cadence < 60.0)
        .unwrap();
    assert!(going.1 > full.1 + 2.0, "{going:?}");
    for (cadence, torque) in &seconds {
        println!("{cadence:5.1} rpm {torque:5.1} Nm");
    }
    // And they stay there: nothing in the brake lets them go.
    assert!(
        seconds[stalls + 5..]
            .iter()
            .all(|(cadence, _)| *cadence < 20.0)
    );
}

/// One ride into a stall.
#[derive(Clone, Copy, Debug)]
struct Case {
    critical_power: f64,
    /// The hold, as a multiple of critical power.
    target: f64,
    cadence: f64,
    /// Dead time, and lag up and down, s.
    brake: (f64, f64, f64),
    /// Between two reports, ms.
    reports: u64,
    /// Smoothing of the reported power, s.
    smoothing: f64,
}

/// What came of it.
#[derive(Debug)]
struct Outcome {
    guards: usize,
    /// Seconds from the guard's act, and from the first moment under 55 rpm, until the legs were in their band again;
    /// the longest of the ride.
    back_after: f64,
    back_after_55: f64,
    least_cadence: f64,
    /// Seconds with the legs under 20 rpm.
    stopped: f64,
}

fn ride(case: Case, seed: u64) -> Outcome {
    let mut config = legs(case.critical_power, 2_500.0, case.cadence).seeded(seed);
    config.brake.dead_time = case.brake.0;
    config.brake.following = Following::FirstOrder {
        rise: case.brake.1,
        fall: case.brake.2,
    };
    config.trainer.report_period = Span::from_millis(case.reports);
    config.trainer.power_meter.smoothing = case.smoothing;
    let low = case.cadence - 5.0;
    let plan = session(&format!(
        "[[block]]\nkind = \"warm-up\"\ntime = \"0:20\"\nwatts = {:.0}\n[[block]]\nkind = \"hold\"\ntime = \"2:00\"\n\
         watts = {:.0}\ncadence = [{low:.0}, {:.0}]\n",
        case.critical_power * 0.5,
        case.critical_power * case.target,
        case.cadence + 5.0,
    ));
    let watched = Watched::new(config);
    let mut ride = Ride::new(vec![tap(watched.clone())]);
    ride.choose(&plan, &uncapped(case.critical_power), RideMode::TargetPower);
    ride.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    ride.start();
    ride.to(25.0);
    let mut outcome = Outcome {
        guards: 0,
        back_after: 0.0,
        back_after_55: 0.0,
        least_cadence: f64::INFINITY,
        stopped: 0.0,
    };
    // When the guard acted, and when the legs fell under 55, where they are not back yet.
    let (mut acted, mut under): (Option<f64>, Option<f64>) = (None, None);
    let mut second = 25.0;
    while second < 144.0 {
        second += 0.1;
        ride.to(second);
        let cadence = watched.cadence();
        let guards = ride.snapshot().released.contains("stalling");
        if guards && acted.is_none() && cadence < low {
            outcome.guards += 1;
            acted = Some(second);
        }
        if cadence < 55.0 {
            under.get_or_insert(second);
        }
        if cadence < 20.0 {
            outcome.stopped += 0.1;
        }
        // In the band, but for the wandering of a cadence that is aimed at its middle.
        if cadence >= low {
            if let Some(acted) = acted.take() {
                outcome.back_after = outcome.back_after.max(second - acted);
            }
            if let Some(under) = under.take() {
                outcome.back_after_55 = outcome.back_after_55.max(second - under);
            }
        }
        outcome.least_cadence = outcome.least_cadence.min(cadence);
    }
    outcome
}

#[test]
fn with_the_guard_feet_are_back_in_the_band_within_eight_seconds() {
    let mut worst = (0.0, 0.0);
    let mut rides = 0;
    println!(
        "  CP  target   rpm  dead up  down  report smooth | acts  back  from 55  least rpm  stopped"
    );
    for critical_power in [130.0, 200.0, 300.0] {
        for target in [1.1, 1.4, 1.8] {
            for cadence in [75.0, 98.0] {
                for brake in [
                    (0.1, 0.2, 0.2),
                    (0.3, 0.6, 0.4),
                    (0.8, 1.0, 1.0),
                    (1.0, 2.0, 1.5),
                ] {
                    for (reports, smoothing) in [(250, 0.25), (1_000, 0.5)] {
                        let case = Case {
                            critical_power,
                            target,
                            cadence,
                            brake,
                            reports,
                            smoothing,
                        };
                        rides += 1;
                        let outcome = ride(case, rides);
                        println!(
                            "{critical_power:4.0} {target:7.1} {cadence:5.0} {:5.1} {:.1} {:5.1} {reports:7} {smoothing:6.2} | {:4} \
                             {:5.1} {:8.1} {:10.1} {:8.1}",
                            brake.0,
                            brake.1,
                            brake.2,
                            outcome.guards,
                            outcome.back_after,
                            outcome.back_after_55,
                            outcome.least_cadence,
                            outcome.stopped
                        );
                        worst.0 = f64::max(worst.0, outcome.back_after);
                        worst.1 = f64::max(worst.1, outcome.back_after_55);
                    }
                }
            }
        }
    }
    println!(
        "{rides} rides: back in the band within {:.1} s of the guard's act, {:.1} s of the first moment under 55",
        worst.0, worst.1
    );
    assert!(worst.0 <= 8.0 && worst.1 <= 8.0);
}
