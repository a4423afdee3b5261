//! Steady states, steps and failures, ridden and then read from the bytes.

use stillroad::device::practice::{
    BrakeParameters, Following, PracticeConfig, Script, TrainerParameters,
};
use stillroad::gatt::control_point::{Request as Ask, Simulation};
use stillroad::gatt::revolutions::Cadence;
use stillroad::gatt::uuid16::{
    CYCLING_POWER_MEASUREMENT, HEART_RATE_MEASUREMENT, INDOOR_BIKE_DATA,
};
use stillroad::gatt::{
    CyclingPowerMeasurement, HeartRateMeasurement, IndoorBikeData, PowerRange, Resistance,
};
use stillroad::time::Span;
use stillroad::units::{Joules, Level, Watts};

use super::{Ridden, Rig, quiet};

fn road(grade: i16, wind: i16) -> Ask {
    Ask::Simulation(Simulation {
        wind,
        grade,
        rolling: 40,
        drag: 51,
    })
}

#[test]
fn the_road_asks_what_the_published_equation_asks_of_a_rider_who_aims_for_a_power() {
    // Martin et al. 1998, reckoned apart for 85 kg, Crr 0.004, ρCdA 0.51: watts and the speed they are good for.
    for (grade, wind, watts, kmh) in [
        (0, 0, 175.355, 30.0),
        (0, 2000, 254.688, 30.0),
        (500, 0, 293.482, 20.0),
        (0, 0, 200.0, 31.4997),
    ] {
        let mut config = quiet().scripted(Script::still().aim(3.0, watts));
        // A rider who does not tire, so that a steady state exists above critical power too.
        config.legs.w_prime = 1e9;
        let mut rig = Rig::riding(config);
        rig.write(&road(grade, wind));
        rig.run_to(240.0);
        let lately = rig.lately(30.0);
        // The record's own steps are 0.01 km/h and 1 W.
        assert!((lately.kmh - kmh).abs() < 0.02, "{watts} W: {lately:?}");
        assert!((lately.watts - watts).abs() < 0.6, "{watts} W: {lately:?}");
    }
}

#[test]
fn a_descent_is_not_ridden_backwards() {
    // The equation gives −167.94 W at 40 km/h and −6 %: the brake cannot push, so only its friction is left, and a
    // wheel at 0.05·v + 2 N of friction takes 28.4 W at 40 km/h.
    let mut rig = Rig::riding(quiet().scripted(Script::still().aim(3.0, 28.4).shift(2.0, 5)));
    rig.write(&road(-600, 0));
    rig.run_to(400.0);
    let lately = rig.lately(30.0);
    assert!((lately.kmh - 40.0).abs() < 0.3, "{lately:?}");
    assert!((lately.watts - 28.4).abs() < 0.6, "{lately:?}");
}

#[test]
fn a_held_power_is_torque_times_turning() {
    // P = T·ω: 250 W at 90 rpm is 26.526 Nm, 1000 W at 120 rpm 79.577 Nm.
    for (watts, rpm, torque) in [(250_i16, 90.0, 26.526), (1000, 120.0, 79.577)] {
        let mut config = quiet().scripted(Script::ride(rpm));
        config.legs.w_prime = 1e9;
        config.legs.most_power = 2000.0;
        let mut rig = Rig::riding(config);
        rig.run_to(10.0);
        rig.write(&Ask::Power(watts));
        rig.run_to(90.0);
        let lately = rig.lately(10.0);
        assert!((lately.watts - f64::from(watts)).abs() < 1.0, "{lately:?}");
        assert!((lately.rpm - rpm).abs() < 0.6, "{lately:?}");
        let legs = rig.practice.bike().legs();
        assert!((legs.torque() - torque).abs() < 0.1, "{}", legs.torque());
    }
}

#[test]
fn a_held_power_above_critical_lasts_as_long_as_the_hyperbola_says() {
    // t = W′/(P − CP), Monod & Scherrer 1965; Hill 1993. CP 250 W, W′ 20 kJ.
    for (watts, seconds) in [(300, 400.0), (350, 200.0), (450, 100.0), (650, 50.0)] {
        let mut rig = Rig::riding(quiet());
        rig.run_to(15.0);
        rig.write(&Ask::Power(200));
        rig.run_to(60.0);
        rig.write(&Ask::Power(watts));
        rig.run_to(60.0 + seconds * 1.5);
        let failed = rig
            .ridden()
            .iter()
            .find(|r| r.second > 61.0 && r.rpm < 55.0)
            .map(|r| r.second - 60.0)
            .unwrap();
        // Later by the brake's delay and by what the flywheel gives before the cadence is gone (some 250 J).
        let allowed = 2.0 + 300.0 / f64::from(watts - 250);
        assert!(
            failed > seconds - 1.0 && failed < seconds + allowed,
            "{watts} W lasted {failed} s"
        );
    }
}

#[test]
fn the_reserve_of_a_ridden_hold_follows_the_published_balance() {
    // Skiba et al. 2015: 60 s at 400 W leave 11 000 J of 20 000, 60 s at 100 W then fill to 14 261.35 J. The brake's
    // delay and the legs' ups and downs at the edges are allowed 400 J, under 3 s at 150 W.
    let mut rig = Rig::riding(quiet());
    rig.run_to(15.0);
    rig.write(&Ask::Power(100));
    rig.run_to(60.0);
    rig.write(&Ask::Power(400));
    rig.run_to(120.0);
    let left = rig.practice.bike().legs().reserve().left().0;
    assert!((left - 11_000.0).abs() < 400.0, "{left}");
    rig.write(&Ask::Power(100));
    rig.run_to(180.0);
    let left = rig.practice.bike().legs().reserve().left().0;
    assert!((left - 14_261.35).abs() < 400.0, "{left}");
}

#[test]
fn the_heart_settles_at_its_share_of_the_reserve() {
    // Karvonen 1957: (180, 60, 0.70) gives 144 bpm; 0.70 of 250 W is 175 W.
    let mut config = quiet();
    config.heart.rest = 60.0;
    config.heart.most = 180.0;
    config.heart.drift = 0.0;
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    rig.write(&Ask::Power(175));
    rig.run_to(400.0);
    let (_, last) = rig.notified(HEART_RATE_MEASUREMENT).last().unwrap();
    let heart = HeartRateMeasurement::decode(last).unwrap();
    assert_eq!(heart.shown().unwrap().0, 144.0);
    // 60 s / 144 is 416.7 ms.
    for interval in heart.intervals_ms() {
        assert!((interval - 416.7).abs() < 1.5, "{interval}");
    }
}

/// Seconds from the write until the reported power has made this share of its step.
fn crossing(records: &[Ridden], written: f64, from: f64, to: f64, share: f64) -> f64 {
    let after = records.iter().position(|r| r.second > written).unwrap();
    let level = from + share * (to - from);
    let up = to > from;
    let index = (after..records.len())
        .find(|&i| (records[i].watts > level) == up)
        .unwrap();
    let (before, there) = (records[index - 1], records[index]);
    before.second
        + (there.second - before.second) * (level - before.watts) / (there.watts - before.watts)
        - written
}

#[test]
fn a_step_shows_the_brakes_dead_time_and_lag_in_the_reported_power() {
    // A first-order lag has made 63.2 % after one time constant (any control text).
    let mut config = quiet();
    config.trainer.report_period = Span::from_millis(20);
    config.trainer.power_meter.smoothing = 0.0;
    // A wheel so heavy that its speed hardly moves: the step is then the brake's alone.
    config.brake.inertia = 400.0;
    config.script = Script::still().aim(3.0, 200.0);
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    rig.write(&Ask::Power(150));
    rig.run_to(300.0);
    rig.write(&Ask::Power(200));
    rig.run_to(320.0);
    rig.write(&Ask::Power(150));
    rig.run_to(340.0);
    let records = rig.ridden();
    for (written, from, to, tau) in [(300.0, 150.0, 200.0, 0.6), (320.0, 200.0, 150.0, 0.4)] {
        let first = crossing(&records, written, from, to, 0.02);
        let most = crossing(&records, written, from, to, 0.632);
        assert!((first - 0.3).abs() < 0.06, "moved after {first} s");
        assert!((most - 0.3 - tau).abs() < 0.06, "63 % after {most} s");
    }
}

#[test]
fn a_brake_of_second_order_and_of_coarse_steps_can_stand_in() {
    let mut config = quiet();
    config.brake = BrakeParameters {
        following: Following::SecondOrder {
            natural: 4.0,
            damping: 0.5,
        },
        ..BrakeParameters::default()
    };
    config.trainer = TrainerParameters {
        power_range: PowerRange {
            least: 50,
            most: 400,
            step: 5,
        },
        ..config.trainer
    };
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    rig.write(&Ask::Power(100));
    rig.run_to(40.0);
    // Rounded down to its step: 203 is 200.
    rig.write(&Ask::Power(203));
    rig.run_to(44.0);
    let peak = rig
        .ridden()
        .iter()
        .filter(|r| r.second > 40.0)
        .map(|r| r.watts)
        .fold(0.0, f64::max);
    assert!(peak > 205.0, "no overshoot: {peak}");
    rig.run_to(80.0);
    assert!((rig.lately(10.0).watts - 200.0).abs() < 1.0);
}

#[test]
fn legs_stall_under_a_power_far_above_them_and_turn_again_after_a_release() {
    let mut rig = Rig::riding(quiet());
    rig.run_to(15.0);
    rig.write(&Ask::Power(1500));
    rig.run_to(30.0);
    assert!(rig.lately(2.0).rpm < 20.0, "{:?}", rig.lately(2.0));
    assert!(rig.lately(2.0).watts < 20.0);
    rig.write(&Ask::Resistance(Resistance::word(Level(0.0))));
    rig.run_to(45.0);
    assert!(
        (rig.lately(3.0).rpm - 88.0).abs() < 2.0,
        "{:?}",
        rig.lately(3.0)
    );
    // Nor does the rider leap: the cadence never goes far over the habit.
    assert!(rig.ridden().iter().all(|r| r.rpm < 100.0));
}

#[test]
fn a_stopped_rider_shows_no_cadence_and_no_power_while_the_wheel_runs_down() {
    let mut rig = Rig::riding(quiet().scripted(Script::ride(88.0).coast(20.0, 10.0, 88.0)));
    rig.run_to(21.0);
    let rolling = rig.lately(0.25);
    rig.run_to(29.0);
    let later = rig.lately(0.25);
    assert!(rolling.kmh > 10.0 && later.kmh < rolling.kmh - 1.0);
    assert!(later.kmh > 0.0, "a released wheel runs on: {later:?}");
    for record in rig.ridden().iter().filter(|r| r.second > 24.0) {
        assert_eq!((record.rpm, record.watts), (0.0, 0.0), "{record:?}");
    }
    rig.run_to(45.0);
    assert!((rig.lately(3.0).rpm - 88.0).abs() < 1.0);
}

#[test]
fn standing_raises_what_legs_can_hold() {
    // 640 W at 60 rpm needs 101.9 Nm; seated legs of 1000 W have 159.15·(1 − 60/240) = 119.4 Nm, of 800 W 95.5 Nm,
    // and standing 1.2 times that, 114.6 Nm.
    for (standing, holds) in [(false, false), (true, true)] {
        let mut config = quiet();
        config.legs.most_power = 800.0;
        config.legs.w_prime = 1e9;
        let script = Script::ride(60.0);
        config.script = if standing {
            script.stand(10.0, 100.0)
        } else {
            script
        };
        let mut rig = Rig::riding(config);
        rig.run_to(15.0);
        for (at, watts) in [(25.0, 300), (35.0, 500), (55.0, 640)] {
            rig.write(&Ask::Power(watts));
            rig.run_to(at);
        }
        assert_eq!(rig.lately(2.0).rpm > 55.0, holds, "{:?}", rig.lately(2.0));
    }
}

#[test]
fn an_aiming_rider_shifts_until_the_cadence_suits() {
    let mut config = quiet().scripted(Script::still().aim(3.0, 240.0));
    config.legs.first_gear = 0;
    let mut rig = Rig::riding(config);
    rig.write(&road(0, 0));
    rig.run_to(120.0);
    assert!(rig.practice.bike().legs().gear() > 3);
    assert!(
        (rig.lately(10.0).rpm - 88.0).abs() < 8.0,
        "{:?}",
        rig.lately(10.0)
    );
}

#[test]
fn the_crank_meter_tells_the_same_cadence_and_its_own_power() {
    let mut rig = Rig::riding(quiet());
    rig.run_to(10.0);
    rig.write(&Ask::Power(200));
    rig.run_to(60.0);
    let mut cadence = Cadence::default();
    let mut seen = Vec::new();
    for (at, bytes) in rig.notified(CYCLING_POWER_MEASUREMENT) {
        let measured = CyclingPowerMeasurement::decode(bytes).unwrap();
        let rpm = cadence.put(at, measured.crank.unwrap());
        seen.push((at.seconds(), measured.power().0, rpm));
    }
    // One report a second.
    assert_eq!(seen.len(), 60);
    for &(second, watts, rpm) in seen.iter().filter(|(second, ..)| *second > 40.0) {
        // It reads 1.5 % high: 203 W.
        assert!((watts - 203.0).abs() <= 1.0, "{second}: {watts} W");
        assert!((rpm.unwrap().0 - 88.0).abs() < 0.5, "{second}: {rpm:?}");
    }
}

#[test]
fn a_level_costs_what_its_law_says_at_the_cadence_ridden() {
    // The documented law of the model's scale: force = level·(0.1 + 0.05·v) newtons. At 88 rpm in 50 × 19 on a wheel
    // of 2.1 m the rim runs at 88/60·2.1·50/19 = 8.105 m/s, so level 50 is 50·0.50526·8.105 = 204.8 W.
    let mut rig = Rig::riding(quiet());
    rig.run_to(10.0);
    rig.write(&Ask::Resistance(Resistance::word(Level(50.0))));
    rig.run_to(60.0);
    let lately = rig.lately(10.0);
    assert!((lately.watts - 204.8).abs() < 0.6, "{lately:?}");
    assert!((lately.kmh - 29.18).abs() < 0.02, "{lately:?}");
    let (_, bytes) = rig.notified(INDOOR_BIKE_DATA).last().unwrap();
    let record = IndoorBikeData::decode(bytes).unwrap();
    assert_eq!(record.resistance, Some(Resistance::Word(500)));
}

#[test]
fn a_level_too_hard_to_turn_is_met_by_an_easier_gear() {
    // Level 100 at 88 rpm in the first gear asks for 410 W, which this rider has for 50 s at most.
    let config = PracticeConfig::for_critical_power(Watts(200.0), Joules(10_000.0)).noiseless();
    let mut rig = Rig::riding(config);
    rig.run_to(10.0);
    let before = rig.practice.bike().legs().gear();
    rig.write(&Ask::Resistance(Resistance::word(Level(100.0))));
    rig.run_to(240.0);
    assert!(rig.practice.bike().legs().gear() < before);
    let lately = rig.lately(20.0);
    assert!(lately.rpm > 78.0, "{lately:?}");
    assert!(lately.watts < 205.0, "{lately:?}");
}

#[test]
fn feet_can_turn_without_pushing() {
    let mut rig = Rig::riding(quiet().scripted(Script::ride(88.0).twiddle(20.0, 50.0)));
    rig.run_to(24.0);
    let lately = rig.lately(2.0);
    assert_eq!((lately.rpm, lately.watts), (50.0, 0.0));
}

#[test]
fn feet_do_not_spin_after_a_wheel_that_runs_ahead() {
    // The rider wants 60 rpm from second 20 on, 20 rpm a second more slowly; a released wheel of 12 kg slows by less
    // than 1 km/h a second. Two seconds later the wheel could still carry over 80 rpm.
    let mut rig = Rig::riding(quiet().scripted(Script::ride(88.0).pedal(20.0, 60.0)));
    rig.run_to(22.5);
    let records = rig.ridden();
    let last = records.last().unwrap();
    // 50 × 19 on a wheel of 2.1 m: 5.526 m a turn.
    let carried = last.kmh / 3.6 / 5.526 * 60.0;
    assert!(carried > 80.0, "{last:?}");
    assert!((60.0..70.0).contains(&last.rpm), "{last:?}");
    assert_eq!(last.watts, 0.0);
}
