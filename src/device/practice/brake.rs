//! The brake and its flywheel: what the legs push against.
//!
//! All is reckoned at the rim of a driven wheel. The moving parts are one equivalent mass `m`, so
//! `m·dv/dt = F_legs − F_brake`, with the brake's force following what is asked after a dead time, a lag and a limit on
//! its rate. A brake can only resist: its force never falls below its own friction, and never turns the wheel backwards.

use std::collections::VecDeque;

/// Standard gravity, m/s² (exact by convention: CGPM 1901).
const GRAVITY: f64 = 9.806_65;

/// What the road asks for: slope, wind, rolling and air resistance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Road {
    /// Slope as a share: 0.05 climbs five metres in a hundred along the level.
    pub slope: f64,
    /// Wind against the rider, m/s; negative from behind.
    pub head_wind: f64,
    /// Coefficient of rolling resistance.
    pub rolling: f64,
    /// Air density × drag coefficient × area, kg/m. The Fitness Machine service's "Cw" is read as this: an assumption,
    /// since the service gives its unit (kg/m) and not its formula.
    pub drag: f64,
}

impl Road {
    /// The force in newtons at a speed in m/s on a system of `mass` kilograms:
    /// m·g·sinθ + Crr·m·g·cosθ + ½·ρCdA·va·|va| (Martin et al. 1998, without bearings, drive losses and inertia).
    /// Negative where the slope more than pays for the rest.
    pub fn force(&self, mass: f64, speed: f64) -> f64 {
        let cosine = 1.0 / (1.0 + self.slope * self.slope).sqrt();
        let sine = self.slope * cosine;
        let air = speed + self.head_wind;
        mass * GRAVITY * (sine + self.rolling * cosine) + 0.5 * self.drag * air * air.abs()
    }
}

/// What the brake is set to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Setting {
    /// Hold this many watts: force = power / speed.
    Power(f64),
    /// Stand at this level of the trainer's scale: a force that rises with speed.
    Level(f64),
    /// Imitate a road.
    Road(Road),
}

/// How the brake's force follows what is asked, after the dead time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Following {
    /// First order, with time constants for rise and fall in seconds.
    FirstOrder {
        /// Seconds to 63 % of a rise.
        rise: f64,
        /// Seconds to 63 % of a fall.
        fall: f64,
    },
    /// Second order: F″ = ω²·(asked − F) − 2·ζ·ω·F′. A plant of another structure than identification assumes.
    SecondOrder {
        /// Natural frequency ω, rad/s.
        natural: f64,
        /// Damping ratio ζ; under 1 it overshoots.
        damping: f64,
    },
}

/// The constants of a brake. Where no source is named, the figure is the model's own choice, of the size that is
/// common practice in trainers with a heavy wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BrakeParameters {
    /// Equivalent mass of flywheel and drive at the rim, kg. 12 kg holds 384 J at 8 m/s.
    pub inertia: f64,
    /// Seconds from a command until the force moves.
    pub dead_time: f64,
    /// How the force follows after that.
    pub following: Following,
    /// Most change of force a second, N/s.
    pub slew: f64,
    /// Most force the brake can give, N.
    pub most_force: f64,
    /// Friction at standstill, N, which no setting removes.
    pub friction: f64,
    /// Friction that rises with speed, N per m/s.
    pub viscous_friction: f64,
    /// Below this speed in m/s a held power is no longer divided by the speed but by this: the force stops growing.
    /// At 1.5 m/s it is, from 300 W on, more than most legs can turn, which is what stalls a rider.
    pub least_held_speed: f64,
    /// Force of one level at standstill, N.
    pub level_force: f64,
    /// Force of one level that rises with speed, N per m/s: an eddy-current brake below its critical speed, where
    /// force is proportional to speed (Wouterse 1991, *memory*).
    pub level_slope: f64,
    /// Force of one level that rises with the square of speed, N per (m/s)²: a fan or a fluid brake, whose power rises
    /// with the cube.
    pub level_square: f64,
    /// Mass of rider and bicycle that a road is imitated for, kg.
    pub mass: f64,
    /// A held power is rounded down to a multiple of this, W, whatever the trainer says that it takes; 0 for none.
    pub power_step: f64,
}

impl Default for BrakeParameters {
    fn default() -> Self {
        Self {
            inertia: 12.0,
            dead_time: 0.3,
            following: Following::FirstOrder {
                rise: 0.6,
                fall: 0.4,
            },
            slew: 80.0,
            most_force: 400.0,
            friction: 2.0,
            viscous_friction: 0.05,
            least_held_speed: 1.5,
            level_force: 0.1,
            level_slope: 0.05,
            level_square: 0.0,
            mass: 85.0,
            power_step: 0.0,
        }
    }
}

/// How many commands may wait for their dead time to pass. At four commands a second and a dead time under a second no
/// more than four wait; when it is full the oldest takes effect at once.
const WAITING: usize = 64;

/// The state of a brake.
#[derive(Clone, Debug)]
pub struct Brake {
    parameters: BrakeParameters,
    setting: Setting,
    /// Commands on their way: seconds left of their dead time.
    waiting: VecDeque<(f64, Setting)>,
    force: f64,
    force_rate: f64,
    speed: f64,
}

impl Brake {
    /// A brake at rest at level 0.
    pub fn new(parameters: BrakeParameters) -> Self {
        Self {
            parameters,
            setting: Setting::Level(0.0),
            waiting: VecDeque::new(),
            force: 0.0,
            force_rate: 0.0,
            speed: 0.0,
        }
    }

    /// Takes a command; it acts after the dead time.
    pub fn set(&mut self, setting: Setting) {
        if self.waiting.len() >= WAITING
            && let Some((_, oldest)) = self.waiting.pop_front()
        {
            self.setting = oldest;
        }
        self.waiting.push_back((self.parameters.dead_time, setting));
    }

    /// What acts now.
    pub fn setting(&self) -> Setting {
        self.setting
    }

    /// What was last commanded, whether it acts yet or not.
    pub fn commanded(&self) -> Setting {
        self.waiting.back().map_or(self.setting, |&(_, last)| last)
    }

    /// Speed of the rim, m/s.
    pub fn speed(&self) -> f64 {
        self.speed
    }

    /// The force of brake and friction together at this moment, N.
    pub fn force(&self) -> f64 {
        let friction = self.parameters.friction + self.parameters.viscous_friction * self.speed;
        // Friction is counted into what a setting asks for, as a calibrated brake does, and is the least there is.
        self.force.min(self.parameters.most_force).max(friction)
    }

    /// The power that brake and friction take out of the wheel, W.
    pub fn power(&self) -> f64 {
        self.force() * self.speed
    }

    /// On by `dt` seconds with the legs' force at the rim in newtons.
    pub fn step(&mut self, dt: f64, legs_force: f64) {
        for (left, _) in &mut self.waiting {
            *left -= dt;
        }
        // Half a step of tolerance: sums of steps miss the dead time by rounding.
        while let Some(&(left, setting)) = self.waiting.front()
            && left <= dt / 2.0
        {
            self.setting = setting;
            self.waiting.pop_front();
        }
        self.follow(dt);
        let accelerated = self.speed + (legs_force - self.force()) / self.parameters.inertia * dt;
        self.speed = accelerated.max(0.0);
    }

    /// The force that the setting asks for at the present speed, before lag and limits, N.
    fn asked(&self) -> f64 {
        let p = &self.parameters;
        match self.setting {
            Setting::Power(watts) if p.power_step > 0.0 => {
                (watts / p.power_step).floor() * p.power_step / self.speed.max(p.least_held_speed)
            }
            Setting::Power(watts) => watts / self.speed.max(p.least_held_speed),
            Setting::Level(level) => {
                let rising = p.level_slope + p.level_square * self.speed;
                level * (p.level_force + rising * self.speed)
            }
            Setting::Road(road) => road.force(p.mass, self.speed),
        }
        .min(p.most_force)
        .max(0.0)
    }

    fn follow(&mut self, dt: f64) {
        let asked = self.asked();
        let slew = self.parameters.slew;
        let rate = match self.parameters.following {
            Following::FirstOrder { rise, fall } => {
                let tau = if asked > self.force { rise } else { fall };
                // The exact step of a first-order lag, so that the answer does not depend on the step's length.
                (asked - self.force) * (1.0 - (-dt / tau.max(1e-6)).exp()) / dt
            }
            Following::SecondOrder { natural, damping } => {
                let push = natural * natural * (asked - self.force)
                    - 2.0 * damping * natural * self.force_rate;
                self.force_rate + push * dt
            }
        };
        self.force_rate = rate.clamp(-slew, slew);
        self.force = (self.force + self.force_rate * dt).max(0.0);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const STEP: f64 = 0.01;

    fn flat() -> Road {
        Road {
            slope: 0.0,
            head_wind: 0.0,
            rolling: 0.004,
            drag: 0.51,
        }
    }

    #[test]
    fn road_load_is_that_of_the_equation_reckoned_apart() {
        // Martin et al. 1998, reckoned outside this code for 85 kg, Crr 0.004, ρCdA 0.51.
        for (kmh, road, watts) in [
            (30.0, flat(), 175.355),
            (
                30.0,
                Road {
                    head_wind: 2.0,
                    ..flat()
                },
                254.688,
            ),
            (
                20.0,
                Road {
                    slope: 0.05,
                    ..flat()
                },
                293.482,
            ),
            (
                40.0,
                Road {
                    slope: -0.06,
                    ..flat()
                },
                -167.94,
            ),
        ] {
            let speed = kmh / 3.6;
            let power = road.force(85.0, speed) * speed;
            assert!((power - watts).abs() < 0.01, "{kmh} km/h: {power} W");
        }
    }

    /// A wheel that is kept at one speed by whatever force that takes, so that the brake alone is seen.
    fn held_at(speed: f64, brake: &mut Brake) {
        brake.speed = speed;
        let force = brake.force();
        brake.step(STEP, force);
        brake.speed = speed;
    }

    #[test]
    fn a_step_of_power_shows_dead_time_then_the_lag_of_its_direction() {
        // A first-order lag has made 1 − 1/e = 63.2 % of a step after one time constant (any control text).
        for (from, to, tau) in [(100.0, 200.0, 0.6), (200.0, 100.0, 0.4)] {
            let mut brake = Brake::new(BrakeParameters::default());
            brake.set(Setting::Power(from));
            for _ in 0..2000 {
                held_at(8.0, &mut brake);
            }
            assert!((brake.power() - from).abs() < 0.01, "{}", brake.power());
            brake.set(Setting::Power(to));
            let moves = |brake: &Brake, share: f64| {
                ((brake.power() - from) / (to - from) - share).signum() > 0.0
            };
            let (mut first, mut most) = (None, None);
            for step in 1..400 {
                held_at(8.0, &mut brake);
                if first.is_none() && moves(&brake, 0.001) {
                    first = Some(f64::from(step) * STEP);
                }
                if most.is_none() && moves(&brake, 0.632) {
                    most = Some(f64::from(step) * STEP);
                }
            }
            assert!((first.unwrap() - 0.3).abs() < 0.021, "{first:?}");
            assert!((most.unwrap() - 0.3 - tau).abs() < 0.021, "{most:?}");
        }
    }

    #[test]
    fn a_leap_is_held_back_to_the_slew_limit() {
        let mut brake = Brake::new(BrakeParameters::default());
        brake.set(Setting::Power(1200.0));
        let mut last = brake.force();
        for _ in 0..300 {
            held_at(8.0, &mut brake);
            let force = brake.force();
            // Friction is the floor, so the first move out of it may be smaller but never larger.
            assert!(force - last <= 80.0 * STEP + 1e-9);
            last = force;
        }
        assert!(brake.power() > 1100.0, "{}", brake.power());
    }

    #[test]
    fn a_second_order_brake_overshoots_by_its_damping() {
        // Overshoot of a step = exp(−πζ/√(1−ζ²)): ζ = 0.5 gives 16.3 % (any control text).
        let mut brake = Brake::new(BrakeParameters {
            following: Following::SecondOrder {
                natural: 4.0,
                damping: 0.5,
            },
            slew: 1e9,
            ..BrakeParameters::default()
        });
        brake.set(Setting::Power(100.0));
        for _ in 0..2000 {
            held_at(8.0, &mut brake);
        }
        brake.set(Setting::Power(200.0));
        let mut most: f64 = 0.0;
        for _ in 0..2000 {
            held_at(8.0, &mut brake);
            most = most.max(brake.power());
        }
        assert!((most - 216.3).abs() < 2.0, "{most}");
        assert!((brake.power() - 200.0).abs() < 0.01);
    }

    #[test]
    fn a_level_asks_for_more_the_faster_the_wheel_turns() {
        // By the documented law, level·(0.1 + 0.05·v): level 50 at 8 m/s is 25 N, 200 W; at 4 m/s 15 N, 60 W.
        for (speed, watts) in [(8.0, 200.0), (4.0, 60.0)] {
            let mut brake = Brake::new(BrakeParameters::default());
            brake.set(Setting::Level(50.0));
            for _ in 0..2000 {
                held_at(speed, &mut brake);
            }
            assert!((brake.power() - watts).abs() < 0.01, "{}", brake.power());
        }
    }

    #[test]
    fn a_wheel_left_alone_runs_down_and_stands_still() {
        let mut brake = Brake::new(BrakeParameters::default());
        brake.speed = 8.0;
        let mut seconds = 0.0;
        let mut last = 8.0;
        while brake.speed() > 0.0 && seconds < 200.0 {
            brake.step(STEP, 0.0);
            assert!(brake.speed() <= last);
            last = brake.speed();
            seconds += STEP;
        }
        // m·dv/dt = −(a + b·v) stops after m/b·ln(1 + b·v/a) = 12/0.05·ln(1.2) = 43.76 s.
        assert!((seconds - 43.76).abs() < 0.05, "{seconds}");
        for _ in 0..100 {
            brake.step(STEP, 0.0);
        }
        assert_eq!(brake.speed(), 0.0);
    }

    #[test]
    fn a_descent_cannot_push() {
        let mut brake = Brake::new(BrakeParameters::default());
        brake.set(Setting::Road(Road {
            slope: -0.06,
            ..flat()
        }));
        for _ in 0..2000 {
            held_at(40.0 / 3.6, &mut brake);
        }
        // Friction alone is left: 2 + 0.05·11.11 = 2.5556 N, 28.395 W.
        assert!((brake.power() - 28.395).abs() < 0.01, "{}", brake.power());
    }
}
