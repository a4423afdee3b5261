//! The brakes that are ridden. They were written down before anything was tuned, and stay.

use stillroad::device::practice::{Following, PracticeConfig, Script};
use stillroad::gatt::PowerRange;
use stillroad::time::Span;
use stillroad::units::{Joules, Watts};

/// A brake with its manner of reporting.
pub struct Plant {
    pub name: String,
    pub config: PracticeConfig,
    /// Dead time and mean lag of the load, seconds, where the brake is of first order or nearly so.
    pub dead: f64,
    pub lag: f64,
}

fn base() -> PracticeConfig {
    let mut config = PracticeConfig::for_rider(Watts(320.0), Joules(40_000.0));
    // Feet that rest for a second, once, as they do in most rides.
    config.script = config.script.coast(45.0, 1.2, config.legs.cadence_habit);
    config
}

fn first_order(dead: f64, lag: f64) -> PracticeConfig {
    let mut config = base();
    config.brake.dead_time = dead;
    config.brake.following = Following::FirstOrder {
        rise: lag,
        fall: lag * 0.7,
    };
    config
}

fn plant(
    name: impl Into<String>,
    dead: f64,
    lag: f64,
    change: impl FnOnce(&mut PracticeConfig),
) -> Plant {
    let mut config = first_order(dead, lag);
    change(&mut config);
    Plant {
        name: name.into(),
        config,
        dead,
        lag,
    }
}

fn second_order(natural: f64, damping: f64, dead: f64) -> Plant {
    let mut config = first_order(dead, 0.1);
    config.brake.following = Following::SecondOrder { natural, damping };
    Plant {
        name: format!("2nd order w={natural} z={damping} dead {dead}"),
        config,
        dead,
        // The mean delay of a second-order answer.
        lag: 2.0 * damping / natural,
    }
}

/// All of them.
pub fn plants() -> Vec<Plant> {
    let mut all = Vec::new();
    for dead in [0.0, 0.3, 0.6, 1.0] {
        for lag in [0.2, 0.5, 0.7, 1.0, 2.0, 3.0] {
            all.push(plant(format!("dead {dead} lag {lag}"), dead, lag, |_| {}));
        }
    }
    for (dead, lag) in [(0.3, 0.7), (0.3, 2.0)] {
        for millis in [500, 1000] {
            all.push(plant(
                format!("dead {dead} lag {lag}, every {millis} ms"),
                dead,
                lag,
                |c| {
                    c.trainer.report_period = Span::from_millis(millis);
                },
            ));
        }
        for smoothing in [0.0, 1.0, 2.0] {
            all.push(plant(
                format!("dead {dead} lag {lag}, smoothed {smoothing}"),
                dead,
                lag,
                |c| {
                    c.trainer.power_meter.smoothing = smoothing;
                },
            ));
        }
        all.push(plant(
            format!("dead {dead} lag {lag}, mean of 3 s"),
            dead,
            lag,
            |c| {
                c.trainer.power_meter.smoothing = 0.0;
                c.trainer.power_meter.mean_over = 3.0;
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, 1 Hz smoothed 1"),
            dead,
            lag,
            |c| {
                c.trainer.report_period = Span::from_seconds(1);
                c.trainer.power_meter.smoothing = 1.0;
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, 5 W steps"),
            dead,
            lag,
            |c| {
                c.trainer.power_range = PowerRange {
                    least: 0,
                    most: 1500,
                    step: 5,
                };
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, hidden 5 W steps"),
            dead,
            lag,
            |c| {
                c.brake.power_step = 5.0;
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, slew 12 N/s"),
            dead,
            lag,
            |c| {
                c.brake.slew = 12.0;
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, light wheel"),
            dead,
            lag,
            |c| {
                c.brake.inertia = 4.0;
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, heavy wheel"),
            dead,
            lag,
            |c| {
                c.brake.inertia = 60.0;
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, noise 4 %"),
            dead,
            lag,
            |c| {
                c.trainer.power_meter.noise = 0.04;
            },
        ));
    }
    // Brakes that are quick while their reports are slow: here nothing may come early.
    for smoothing in [1.0, 2.0, 3.0] {
        all.push(plant(
            format!("quick, smoothed {smoothing}"),
            0.1,
            0.1,
            |c| {
                c.trainer.power_meter.smoothing = smoothing;
            },
        ));
    }
    for mean in [1.0, 3.0] {
        all.push(plant(format!("quick, mean of {mean} s"), 0.1, 0.1, |c| {
            c.trainer.power_meter.smoothing = 0.0;
            c.trainer.power_meter.mean_over = mean;
        }));
    }
    all.push(plant("quick, 1 Hz mean of 3 s", 0.1, 0.1, |c| {
        c.trainer.report_period = Span::from_seconds(1);
        c.trainer.power_meter.smoothing = 0.0;
        c.trainer.power_meter.mean_over = 3.0;
    }));
    // Reports of a manner that the identification does not assume.
    for (dead, lag) in [(0.1, 0.1), (0.3, 0.7), (0.3, 2.0)] {
        all.push(plant(
            format!("dead {dead} lag {lag}, mean of 2 s, smoothed 0.7"),
            dead,
            lag,
            |c| {
                c.trainer.power_meter.smoothing = 0.7;
                c.trainer.power_meter.mean_over = 2.0;
            },
        ));
        all.push(plant(
            format!("dead {dead} lag {lag}, mean of 6 s"),
            dead,
            lag,
            |c| {
                c.trainer.power_meter.smoothing = 0.0;
                c.trainer.power_meter.mean_over = 6.0;
            },
        ));
    }
    all.push(plant("dead 0.3 lag 0.7, feet never rest", 0.3, 0.7, |c| {
        c.script = Script::ride(c.legs.cadence_habit);
    }));
    for smoothing in [0.5, 1.0, 2.0] {
        all.push(plant(
            format!("quick, power and cadence smoothed {smoothing}"),
            0.1,
            0.1,
            |c| {
                c.trainer.power_meter.smoothing = smoothing;
                c.trainer.cadence_smoothing = smoothing;
            },
        ));
    }
    for (natural, damping, dead) in [
        (6.0, 1.0, 0.3),
        (4.0, 0.5, 0.3),
        (2.0, 0.7, 0.3),
        (1.5, 1.0, 0.0),
        (1.5, 1.0, 0.6),
    ] {
        all.push(second_order(natural, damping, dead));
    }
    all
}
