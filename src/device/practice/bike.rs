//! The whole of rider, brake and sensors, moved in fixed steps.

use super::brake::{Brake, Road, Setting};
use super::config::{PracticeConfig, SpeedFrom};
use super::heart::Heart;
use super::legs::{Feel, Legs};
use super::meter::{Meter, MeterParameters};
use super::script::Script;
use crate::time::Span;

/// The usual step of the physics.
pub const STEP: Span = Span::from_millis(10);

/// Rider and machine at one moment.
#[derive(Clone, Debug)]
pub struct Bike {
    brake: Brake,
    legs: Legs,
    heart: Heart,
    trainer_meter: Meter,
    trainer_cadence: Meter,
    crank_meter: Meter,
    script: Script,
    played: usize,
    /// One step, seconds.
    step: f64,
    /// Seconds since somebody first listened.
    listened: Option<f64>,
    distance: f64,
    crank_turns: f64,
    /// Whole crank turns, and the second on the bike's clock at which the last was complete.
    last_turn: (u64, f64),
    seconds: f64,
    speed_from: SpeedFrom,
    /// The speed of a rider on the road with the brake's power, m/s.
    road_speed: f64,
}

/// The level road on which a speed reckoned from power is ridden: figures of the road-load check of Martin et al. 1998.
const LEVEL_ROAD: Road = Road {
    slope: 0.0,
    head_wind: 0.0,
    rolling: 0.004,
    drag: 0.51,
};
/// Mass of the rider and bicycle that are thought to ride on it, kg.
const ROAD_MASS: f64 = 85.0;

impl Bike {
    /// All at rest.
    pub fn new(config: &PracticeConfig) -> Self {
        Self {
            brake: Brake::new(config.brake),
            legs: Legs::new(config.legs.clone(), config.seed),
            heart: Heart::new(config.heart, config.seed),
            trainer_meter: Meter::new(config.trainer.power_meter, config.seed, "trainer"),
            trainer_cadence: Meter::new(
                MeterParameters {
                    smoothing: config.trainer.cadence_smoothing,
                    ..MeterParameters::EXACT
                },
                config.seed,
                "cadence",
            ),
            crank_meter: Meter::new(config.crank_meter, config.seed, "cranks"),
            script: config.script.clone(),
            played: 0,
            step: config.step.seconds(),
            listened: None,
            distance: 0.0,
            crank_turns: 0.0,
            last_turn: (0, 0.0),
            seconds: 0.0,
            speed_from: config.trainer.speed_from,
            road_speed: 0.0,
        }
    }

    /// Starts the script's time, where it does not run yet.
    pub fn listen(&mut self) {
        self.listened.get_or_insert(0.0);
    }

    /// The brake.
    pub fn brake(&self) -> &Brake {
        &self.brake
    }

    /// The brake, to be set.
    pub fn brake_mut(&mut self) -> &mut Brake {
        &mut self.brake
    }

    /// The legs.
    pub fn legs(&self) -> &Legs {
        &self.legs
    }

    /// Stills the feet whatever they are about to do, or lets them go on.
    pub fn rest_feet(&mut self, rest: bool) {
        self.legs.rest_feet(rest);
    }

    /// The heart.
    pub fn heart(&self) -> &Heart {
        &self.heart
    }

    /// The speed that the trainer reports, m/s.
    pub fn shown_speed(&self) -> f64 {
        match self.speed_from {
            SpeedFrom::Wheel => self.brake.speed(),
            SpeedFrom::Power => self.road_speed,
        }
    }

    /// Metres ridden.
    pub fn distance(&self) -> f64 {
        self.distance
    }

    /// Whole crank turns and the second at which the last of them was complete.
    pub fn last_turn(&self) -> (u64, f64) {
        self.last_turn
    }

    /// What the trainer's own meter reads now, W.
    pub fn read_trainer_power(&mut self) -> f64 {
        self.trainer_meter.read()
    }

    /// What the trainer shows of the cadence now, rpm.
    pub fn read_trainer_cadence(&mut self) -> f64 {
        self.trainer_cadence.read()
    }

    /// What the meter in the cranks reads now, W.
    pub fn read_crank_power(&mut self) -> f64 {
        self.crank_meter.read()
    }

    /// The intervals in seconds of the beats since the last call.
    pub fn take_intervals(&mut self) -> Vec<f64> {
        self.heart.take_intervals()
    }

    /// On by one step.
    pub fn step(&mut self) {
        let dt = self.step;
        if let Some(listened) = &mut self.listened {
            *listened += dt;
            self.played = self.script.play(self.played, *listened, &mut self.legs);
        }
        let held = matches!(self.brake.setting(), Setting::Power(_));
        let feel = Feel {
            speed: self.brake.speed(),
            load: self.brake.force(),
            held,
        };
        self.legs.step(dt, feel);
        self.brake.step(dt, self.legs.force());
        self.heart.step(dt, self.legs.power());
        self.seconds += dt;
        self.distance += self.brake.speed() * dt;
        self.turn(dt);
        // A trainer sees by the wheel's slowing that nothing drives it, and then reports no power.
        let driven = self.legs.torque() > 0.0;
        let power = if driven { self.brake.power() } else { 0.0 };
        let push = power / self.road_speed.max(1.0) - LEVEL_ROAD.force(ROAD_MASS, self.road_speed);
        self.road_speed = (self.road_speed + push / ROAD_MASS * dt).max(0.0);
        self.trainer_meter.step(dt, power);
        self.trainer_cadence.step(dt, self.legs.cadence());
        self.crank_meter.step(dt, self.legs.power());
    }

    fn turn(&mut self, dt: f64) {
        let made = self.legs.cadence() / 60.0 * dt;
        self.crank_turns += made;
        let whole = self.crank_turns as u64;
        if whole > self.last_turn.0 {
            let past = (self.crank_turns - whole as f64) / made * dt;
            self.last_turn = (whole, self.seconds - past);
        }
    }
}
