//! The end of a sprint under a rider who stands with the body's weight on the pedals.

use stillroad::device::practice::bike::{Bike, STEP};
use stillroad::device::practice::{
    BrakeParameters, Following, PracticeConfig, Script, Setting, StandingWeight,
};
use stillroad::plan::Brake;
use stillroad::ride::RideMode;

use super::Trial;
use crate::world::{rider, session};

/// When the sprint begins and how long it is, seconds.
const BEAT: f64 = 65.0;
const LENGTH: f64 = 12.0;

/// A heavy wheel with the practice brake's own lags, and a light one with a quick brake: a wheel-on trainer. Both figures
/// were chosen before anything was measured.
fn brakes() -> [(&'static str, BrakeParameters); 2] {
    let heavy = BrakeParameters::default();
    let light = BrakeParameters {
        inertia: 4.0,
        dead_time: 0.1,
        following: Following::FirstOrder {
            rise: 0.15,
            fall: 0.15,
        },
        slew: 400.0,
        ..heavy
    };
    [("heavy", heavy), ("light", light)]
}

/// A rider of 75 kg in 50 × 14 who stands in the sprint and for some seconds after its end.
fn standing(brake: BrakeParameters) -> PracticeConfig {
    let mut config = PracticeConfig::default().noiseless();
    config.brake = brake;
    config.legs.standing_weight = Some(StandingWeight::of(75.0));
    config.script = Script::ride(85.0)
        .shift(4.0, 3)
        .pedal(BEAT, 105.0)
        .stand(BEAT + 4.0, LENGTH + 1.0)
        .pedal(BEAT + LENGTH + 5.0, 85.0);
    config
}

/// The same legs on the same brake, which falls from one setting to the other in one step.
fn dropped(brake: BrakeParameters, from: Setting, to: Setting) -> f64 {
    let mut bike = Bike::new(&standing(brake));
    bike.listen();
    let steps = |seconds: f64| (seconds / STEP.seconds()).round() as u32;
    for _ in 0..steps(BEAT) {
        bike.step();
    }
    bike.brake_mut().set(from);
    for _ in 0..steps(LENGTH) {
        bike.step();
    }
    bike.brake_mut().set(to);
    for _ in 0..steps(5.0) {
        bike.step();
    }
    bike.legs().worst_rise()
}

fn ridden(parameters: BrakeParameters, brake: &str, watts: &str) -> Trial {
    let plan = session(&format!(
        "[[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:12\"\n{watts}\n{brake}\
         [[block]]\nkind = \"recovery\"\ntime = \"1:00\"\nwatts = 80\n"
    ));
    let free = brake.is_empty();
    assert_eq!(
        plan.blocks[1].brake == Brake::Free,
        free,
        "all out up to 15 s is free"
    );
    let mut strong = rider();
    strong.sprint_cap = stillroad::units::Watts(600.0);
    let mut trial = Trial::new(standing(parameters), &plan, &strong, RideMode::TargetPower);
    trial.to(BEAT + LENGTH + 5.0);
    trial
}

#[test]
fn nobody_who_stands_is_dropped_at_the_end_of_a_sprint() {
    let lost = StandingWeight::of(75.0).lost_at;
    println!(
        "rise of cadence beyond the wish within a second, standing; the pedals are lost at {lost} rpm"
    );
    for (name, brake) in brakes() {
        let at_once = dropped(brake, Setting::Power(600.0), Setting::Power(80.0));
        let let_go = dropped(brake, Setting::Power(600.0), Setting::Level(0.0));
        let worst = |trial: &Trial| trial.truths.last().unwrap().worst_rise;
        let held = worst(&ridden(brake, "brake = \"held\"\n", "watts = 600"));
        let free = worst(&ridden(brake, "", "effort = 10"));
        println!(
            "{name}: 600 W to 80 W at once {at_once:.1}, released at once {let_go:.1}, held sprint {held:.1}, free sprint {free:.1}"
        );
        assert!(held < lost, "{name}: {held}");
        assert!(free < lost, "{name}: {free}");
        if name == "light" {
            assert!(
                at_once > lost && let_go > lost,
                "the model would notice: {at_once}, {let_go}"
            );
        }
    }
}

#[test]
fn a_free_sprints_level_stands_on_for_a_second_and_falls_over_one_to_two() {
    let trial = ridden(BrakeParameters::default(), "", "effort = 10");
    let end = BEAT + LENGTH;
    let levels: Vec<(f64, f64)> = trial
        .ride
        .writes()
        .into_iter()
        .filter(|(_, bytes)| bytes[0] == 4)
        .map(|(at, bytes)| {
            let raw = i16::from_le_bytes([bytes[1], bytes.get(2).copied().unwrap_or(0)]);
            (at.0 as f64 / 1e6, f64::from(raw) / 10.0)
        })
        .filter(|(at, _)| *at > 10.0)
        .collect();
    let stood: Vec<_> = levels
        .iter()
        .filter(|(at, _)| *at > BEAT && *at < end + 0.9)
        .collect();
    assert!(stood.is_empty(), "nothing is set in the sprint: {stood:?}");
    let before = levels.iter().rfind(|(at, _)| *at <= BEAT).unwrap().1;
    assert!(before >= 19.0, "{levels:?}");
    let falls: Vec<_> = levels.iter().filter(|(at, _)| *at >= end).collect();
    for (at, level) in &falls {
        // Over a second and a half from the second after the end, and never ahead of that by more than a command.
        let line = before * (1.0 - (at - end - 1.0) / 1.5).clamp(0.0, 1.0);
        assert!(
            (level - line).abs() <= before / 4.0,
            "level {level} at {at}, {line}"
        );
    }
    assert!(falls.len() >= 4, "{falls:?}");
    assert!(
        !trial.ride.watts_in(end + 2.4, end + 5.0).is_empty(),
        "then watts are held again"
    );
}
