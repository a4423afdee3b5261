//! The legs: a rider who has a cadence habit, gears, a reserve that empties, and no knowledge of the plan.

use std::collections::VecDeque;
use std::f64::consts::TAU;

use super::noise::{Noise, Wander};
use crate::rider::WBalance;
use crate::time::Span;
use crate::units::{Joules, Watts};

/// What the rider is about to do. None of it comes from the session: a held brake is met with the habitual cadence, and
/// what that costs is the brake's doing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Intent {
    /// Turn the pedals at this cadence, rpm, whatever it costs.
    Pedal(f64),
    /// Where the brake is free: make this power in watts, shifting to stay near the habitual cadence. Where it holds a
    /// power of its own: the habitual cadence.
    Aim(f64),
    /// Let the cranks turn at this cadence, rpm, without pushing: cadence without power.
    Twiddle(f64),
    /// Feet still: coasting while the wheel runs on, standing still once it does not.
    Still,
    /// Everything the legs have at every moment, without a thought for what comes; seated, in the gear that is on.
    AllOut,
}

/// A rider who stands with the body's weight on the pedals, and can take it off them only so fast.
///
/// A standing rider does not push the pedals so much as let the body's weight down on them. Where the load under the
/// pedals goes, that weight goes on driving them until it is noticed and carried by hands or saddle instead. Until then
/// what the load no longer takes speeds up the cranks, and a foot that cannot follow them has nothing to stand on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StandingWeight {
    /// Seconds until a load that goes is answered (a simple reaction, about a quarter of a second: *memory*).
    pub reaction: f64,
    /// The quickest fall of torque at the crank after that, Nm a second.
    pub unweighting: f64,
    /// The rise of cadence within one second that feet under a standing body cannot follow, rpm (own choice).
    pub lost_at: f64,
}

impl StandingWeight {
    /// For a rider of this mass in kg: the weight on cranks of 0.17 m makes a mean torque of `m·g·0.17·2/π` (the mean of
    /// a sine over half a turn), of which the hands take over six tenths in a second (own choice). 75 kg: 48 Nm a second.
    pub fn of(mass: f64) -> Self {
        Self {
            reaction: 0.25,
            unweighting: 0.6 * mass * 9.806_65 * 0.17 * 2.0 / std::f64::consts::PI,
            lost_at: 15.0,
        }
    }
}

/// The constants of a rider's legs. Where no source is named, the figure is the model's own choice.
#[derive(Clone, Debug, PartialEq)]
pub struct LegsParameters {
    /// Critical power, W.
    pub critical_power: f64,
    /// Work above critical power that empties the rider, J.
    pub w_prime: f64,
    /// Most power in a sprint, seated, W; reached at half of `most_cadence`.
    pub most_power: f64,
    /// Cadence at which the legs can push no more, rpm. Torque falls in a straight line to there (Dorel et al. 2005;
    /// Gardner et al. 2007, *memory*: best cadence about 120 rpm, so about 240).
    pub most_cadence: f64,
    /// How much more torque standing gives, as a factor (*memory*).
    pub standing: f64,
    /// How the body's weight stands on the pedals; none for a rider who takes it off them at will.
    pub standing_weight: Option<StandingWeight>,
    /// The cadence the rider likes, rpm.
    pub cadence_habit: f64,
    /// Standard deviation of the wandering of cadence, rpm.
    pub cadence_wander: f64,
    /// Standard deviation of the unevenness of torque, as a share.
    pub torque_wander: f64,
    /// Gears as wheel turns for each crank turn, easiest first. 50 × 34 to 50 × 12 by default.
    pub gears: Vec<f64>,
    /// The gear the rider starts in, counted from the easiest, from 0.
    pub first_gear: usize,
    /// Metres that one turn of the wheel makes.
    pub wheel: f64,
    /// The reserve can be spent no faster than in this time constant, s. Short, and the legs give all that is asked for
    /// until the reserve is gone, as the law of critical power says; W′ over greatest less critical power, and they fade
    /// from the first second on (the three-parameter law of Morton 1996, *memory*).
    pub fade: f64,
}

impl LegsParameters {
    /// Legs with this critical power (W) and W′ (J): a sprint of four times critical power, 88 rpm, eleven gears.
    pub fn new(critical_power: f64, w_prime: f64) -> Self {
        Self {
            critical_power,
            w_prime,
            most_power: critical_power * 4.0,
            most_cadence: 240.0,
            standing: 1.2,
            standing_weight: None,
            cadence_habit: 88.0,
            cadence_wander: 0.8,
            torque_wander: 0.03,
            gears: [
                34.0, 30.0, 27.0, 24.0, 21.0, 19.0, 17.0, 15.0, 14.0, 13.0, 12.0,
            ]
            .map(|sprocket| 50.0 / sprocket)
            .to_vec(),
            first_gear: 5,
            wheel: 2.1,
            fade: FADE,
        }
    }

    /// Torque in Nm that fresh seated legs can give at a cadence in rpm: T₀·(1 − c/c₀), with T₀ such that the greatest
    /// power, T₀·ω₀/4 at half of c₀, is `most_power`.
    pub fn torque_ceiling(&self, cadence: f64) -> f64 {
        let most_turning = self.most_cadence / 60.0 * TAU;
        let at_standstill = 4.0 * self.most_power / most_turning;
        at_standstill * (1.0 - cadence / self.most_cadence).max(0.0)
    }
}

/// How fast feet come up to an unloaded crank, and how fast they stop, rpm a second.
const SPIN_UP: f64 = 150.0;
const SPIN_DOWN: f64 = 200.0;
/// How fast a rider lets the wanted cadence rise from a standstill, rpm a second.
const EASE_IN: f64 = 20.0;
/// Seconds of eased feet in a shift.
const SHIFT: f64 = 0.25;
/// How far from the habit cadence may be, rpm, and for how long, s, before an aiming rider shifts. A step of one
/// sprocket is 7 to 14 % (6 to 12 rpm), so the next gear lies inside the band again.
const SHIFT_BAND: f64 = 8.0;
const SHIFT_PATIENCE: f64 = 1.5;
/// By default the last of the reserve is spent in this, s, so that legs fade and do not snap.
const FADE: f64 = 1.0;
/// The rider's steering of cadence: torque for each rad/s of error, Nm, and the time in which a load is felt, s.
const PUSH: f64 = 14.0;
const FEELING: f64 = 0.4;
/// How far the wanted cadence may lead what the wheel carries, and how far feet follow a wheel that runs ahead, rpm;
/// the latter also for a rider who aims for a power and lets the cadence come as it may.
const LEADING: f64 = 25.0;
const OVERRUN: f64 = 6.0;
const SPIN_OUT: f64 = 40.0;
/// Memory of the wandering of cadence and of torque, s.
const CADENCE_MEMORY: f64 = 4.0;
const TORQUE_MEMORY: f64 = 0.3;

/// The state of a rider's legs.
#[derive(Clone, Debug)]
pub struct Legs {
    parameters: LegsParameters,
    intent: Intent,
    standing: bool,
    resting: bool,
    gear: usize,
    cadence: f64,
    wanted: f64,
    felt: f64,
    torque: f64,
    /// For how long the load has asked for less torque than the standing weight makes, s.
    lighter_for: f64,
    /// By how much the cranks ran ahead of what was wanted in the last second, oldest first, and the greatest rise so far.
    ahead: VecDeque<f64>,
    worst_rise: f64,
    reserve: WBalance,
    shifting: f64,
    strayed: f64,
    noise: Noise,
    cadence_wander: Wander,
    torque_wander: Wander,
}

impl Legs {
    /// Fresh legs, feet still.
    pub fn new(parameters: LegsParameters, seed: u64) -> Self {
        let gear = parameters
            .first_gear
            .min(parameters.gears.len().saturating_sub(1));
        Self {
            reserve: WBalance::full(Watts(parameters.critical_power), Joules(parameters.w_prime)),
            parameters,
            intent: Intent::Still,
            standing: false,
            resting: false,
            gear,
            cadence: 0.0,
            wanted: 0.0,
            felt: 0.0,
            torque: 0.0,
            lighter_for: 0.0,
            ahead: VecDeque::new(),
            worst_rise: 0.0,
            shifting: 0.0,
            strayed: 0.0,
            noise: Noise::new(seed, "legs"),
            cadence_wander: Wander::default(),
            torque_wander: Wander::default(),
        }
    }

    /// Changes what the rider is about to do.
    pub fn intend(&mut self, intent: Intent) {
        self.intent = intent;
    }

    /// Stands up, or sits down.
    pub fn stand(&mut self, standing: bool) {
        self.standing = standing;
    }

    /// Stills the feet whatever is intended, or lets them go on.
    pub fn rest_feet(&mut self, rest: bool) {
        self.resting = rest;
    }

    /// Shifts by so many gears, harder where positive, as far as there are any.
    pub fn shift(&mut self, gears: i32) {
        let most = self.parameters.gears.len().saturating_sub(1);
        let aimed = self.gear.saturating_add_signed(gears as isize).min(most);
        if aimed != self.gear {
            self.gear = aimed;
            self.shifting = SHIFT;
        }
    }

    /// Crank revolutions a minute.
    pub fn cadence(&self) -> f64 {
        self.cadence
    }

    /// Torque at the crank, Nm.
    pub fn torque(&self) -> f64 {
        self.torque
    }

    /// Power at the crank, W: P = T·ω.
    pub fn power(&self) -> f64 {
        self.torque * self.cadence / 60.0 * TAU
    }

    /// The force that the legs' torque makes at the rim, N; drive losses are left out.
    pub fn force(&self) -> f64 {
        self.torque * TAU / self.development()
    }

    /// The W′ balance.
    pub fn reserve(&self) -> &WBalance {
        &self.reserve
    }

    /// The gear, counted from the easiest, from 0.
    pub fn gear(&self) -> usize {
        self.gear
    }

    /// Metres at the rim for each crank turn.
    pub fn development(&self) -> f64 {
        self.parameters.gears.get(self.gear).copied().unwrap_or(1.0) * self.parameters.wheel
    }

    /// On by `dt` seconds, with what the machine shows of itself to the feet.
    pub fn step(&mut self, dt: f64, feel: Feel) {
        let habit = self.parameters.cadence_habit;
        let intent = if self.resting {
            Intent::Still
        } else {
            self.intent
        };
        let all_out = intent == Intent::AllOut;
        let (goal, aim) = match intent {
            Intent::AllOut => (self.parameters.most_cadence, None),
            Intent::Pedal(cadence) | Intent::Twiddle(cadence) => (cadence, None),
            Intent::Aim(_) if feel.held => (habit, None),
            Intent::Aim(watts) => (habit, Some(watts)),
            Intent::Still => (0.0, None),
        };
        let pushing = goal > 0.0 && !matches!(intent, Intent::Twiddle(_));
        self.shifting = (self.shifting - dt).max(0.0);
        // The crank cadence that the wheel carries; the freewheel lets feet be slower, never faster.
        let carried = feel.speed / self.development() * 60.0;
        self.want(dt, goal, carried);
        // A rider lets the wheel run ahead rather than spin after it.
        let quickest = match (pushing, aim) {
            (true, None) if all_out => goal,
            // Weight that stands on the pedals goes with them.
            (true, _) if self.stands_with_weight() => self.wanted + SPIN_OUT,
            (true, None) => self.wanted + OVERRUN,
            (true, Some(_)) => habit + SPIN_OUT,
            (false, _) => goal,
        };
        let rate = if self.cadence < quickest {
            SPIN_UP
        } else {
            -SPIN_DOWN
        };
        let spun = toward(self.cadence, quickest, rate * dt);
        self.cadence = spun.min(carried);
        let driving = pushing && spun >= carried;
        self.torque = if driving && all_out && self.shifting == 0.0 {
            self.ceiling((self.cadence / 60.0 * TAU).max(0.1))
        } else if driving && self.shifting == 0.0 {
            self.push(dt, feel.load, aim)
        } else {
            self.felt = 0.0;
            0.0
        };
        self.watch_feet(dt, carried);
        if pushing && !all_out && !feel.held {
            self.shift_by_feel(dt, carried - goal, aim);
        } else {
            self.strayed = 0.0;
        }
        self.reserve
            .ride(Watts(self.power()), Span::from_seconds_f64(dt));
    }

    /// The greatest rise of cadence beyond what was wanted within one second while the rider stood with the weight on the pedals, rpm.
    pub fn worst_rise(&self) -> f64 {
        self.worst_rise
    }

    /// Whether the pedals went from under a standing rider.
    pub fn lost_the_pedals(&self) -> bool {
        let weight = self.parameters.standing_weight;
        weight.is_some_and(|weight| self.worst_rise > weight.lost_at)
    }

    fn stands_with_weight(&self) -> bool {
        self.standing && self.parameters.standing_weight.is_some()
    }

    fn watch_feet(&mut self, dt: f64, carried: f64) {
        if !self.stands_with_weight() {
            self.ahead.clear();
            return;
        }
        // One second of steps; the oldest makes room.
        if self.ahead.len() as f64 * dt >= 1.0 {
            self.ahead.pop_front();
        }
        let ahead = (carried - self.wanted).max(0.0);
        self.ahead.push_back(ahead);
        let least = self.ahead.iter().copied().fold(f64::INFINITY, f64::min);
        self.worst_rise = self.worst_rise.max(ahead - least);
    }

    /// What the weight of a standing body leaves of a wish for less torque.
    fn unweight(&mut self, dt: f64, wish: f64) -> f64 {
        let (Some(weight), true) = (self.parameters.standing_weight, self.standing) else {
            return wish;
        };
        if wish >= self.torque {
            self.lighter_for = 0.0;
            return wish;
        }
        self.lighter_for += dt;
        if self.lighter_for < weight.reaction {
            self.torque
        } else {
            wish.max(self.torque - weight.unweighting * dt)
        }
    }

    /// Lets the wanted cadence follow the goal: at once up to what the wheel carries, gently beyond it.
    fn want(&mut self, dt: f64, goal: f64, carried: f64) {
        let from = self.wanted.max(carried.min(goal));
        let rate = if from < goal { EASE_IN } else { -EASE_IN };
        self.wanted = toward(from, goal, rate * dt).min(carried + LEADING);
        if goal == 0.0 {
            self.wanted = 0.0;
        }
    }

    /// The torque of feet that drive the crank.
    fn push(&mut self, dt: f64, load: f64, aim: Option<f64>) -> f64 {
        let p = &self.parameters;
        let turning = (self.cadence / 60.0 * TAU).max(0.1);
        let uneven = self
            .torque_wander
            .step(&mut self.noise, dt, p.torque_wander, TORQUE_MEMORY);
        let wander =
            self.cadence_wander
                .step(&mut self.noise, dt, p.cadence_wander, CADENCE_MEMORY);
        let ceiling = self.ceiling(turning);
        let wish = if let Some(watts) = aim {
            // Pushed by the power aimed at; from a standstill by no more than half of what there is.
            (watts / turning).min(p.torque_ceiling(0.0) / 2.0)
        } else {
            // What is felt of the load is met, and the cadence steered on top of it. No more can be felt than is met.
            let load = (load * self.development() / TAU).min(ceiling);
            self.felt += (load - self.felt) * (dt / FEELING).min(1.0);
            let error = (self.wanted + wander - self.cadence) / 60.0 * TAU;
            self.felt + PUSH * error
        };
        let wish = self.unweight(dt, wish * (1.0 + uneven));
        wish.clamp(0.0, ceiling)
    }

    /// The most torque there is at this moment, Nm, with the crank turning at so many rad/s.
    fn ceiling(&self, turning: f64) -> f64 {
        let p = &self.parameters;
        let standing = if self.standing { p.standing } else { 1.0 };
        // Near the bottom of the reserve only what is left can be spent; then critical power is all there is.
        let spendable = p.critical_power + self.reserve.left().0.max(0.0) / p.fade;
        (p.torque_ceiling(self.cadence) * standing).min(spendable / turning)
    }

    /// Shifts as a rider does who feels the pedals; `astray` is how far the wheel carries the crank from the cadence
    /// that is wanted, rpm. In held blocks the gear is left alone.
    fn shift_by_feel(&mut self, dt: f64, astray: f64, aim: Option<f64>) {
        let ceiling = self.ceiling((self.cadence / 60.0 * TAU).max(0.1));
        let bogged = astray < -SHIFT_BAND && self.torque > 0.95 * ceiling;
        let shift = match aim {
            Some(_) if astray > SHIFT_BAND => 1,
            Some(_) if astray < -SHIFT_BAND => -1,
            // Pedalling by habit: only a load that the legs cannot turn is a reason to shift.
            None if bogged => -1,
            _ => 0,
        };
        if shift == 0 {
            self.strayed = 0.0;
            return;
        }
        self.strayed += dt;
        if self.strayed >= SHIFT_PATIENCE {
            self.strayed = 0.0;
            self.shift(shift);
        }
    }
}

/// What a machine shows of itself to the feet on its pedals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Feel {
    /// Speed of the rim, m/s.
    pub speed: f64,
    /// Force of brake and friction at the rim, N.
    pub load: f64,
    /// Whether the brake holds a power whatever the cadence.
    pub held: bool,
}

/// From `value` by `change` towards `goal`, and not past it.
fn toward(value: f64, goal: f64, change: f64) -> f64 {
    if change >= 0.0 {
        (value + change).min(goal.max(value))
    } else {
        (value + change).max(goal.min(value))
    }
}
