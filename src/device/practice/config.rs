//! The figures of a practice ride.

use crate::gatt::{PowerRange, ResistanceRange};
use crate::time::Span;
use crate::units::{Joules, Watts};

use super::bike::STEP;
use super::brake::BrakeParameters;
use super::heart::HeartParameters;
use super::legs::LegsParameters;
use super::meter::MeterParameters;
use super::script::Script;
use super::spin_down::SpinDownManner;

/// The sorts of target that the trainer takes: what its features say, and what its control point accepts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Takes {
    /// Target power, op 05.
    pub power: bool,
    /// Resistance levels, op 04.
    pub levels: bool,
    /// Slopes, op 11.
    pub slopes: bool,
}

impl Takes {
    /// All three.
    pub const ALL: Self = Self {
        power: true,
        levels: true,
        slopes: true,
    };
    /// Nothing can be set.
    pub const NOTHING: Self = Self {
        power: false,
        levels: false,
        slopes: false,
    };
}

/// The manners of trainer that can be asked for by a word, each with what it is.
pub const MANNERS: [(&str, &str); 7] = [
    ("levels", entry!("takes resistance levels and nothing else")),
    ("coarse", entry!("the same, with twenty levels")),
    (
        "reckoned",
        entry!("takes levels, and reckons its speed from power"),
    ),
    ("slopes", entry!("takes slopes and nothing else")),
    ("watts", entry!("takes target power and nothing else")),
    ("nothing", entry!("cannot be set")),
    (
        "heedless",
        entry!("takes target power, says so, and does not act on it"),
    ),
];

/// What the trainer reports as its speed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpeedFrom {
    /// The rim's own speed.
    Wheel,
    /// The speed that its power would give a rider of 85 kg on a level road: it follows power, whatever the gear.
    Power,
}

/// How the trainer behaves as a machine on the air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrainerParameters {
    /// The sorts of target it takes.
    pub takes: Takes,
    /// Whether it acts on the target powers that it takes; else its brake stays at one level.
    pub heeds_power: bool,
    /// What it reports as its speed.
    pub speed_from: SpeedFrom,
    /// The target powers it takes.
    pub power_range: PowerRange,
    /// The resistance levels it takes.
    pub resistance_range: ResistanceRange,
    /// From a control-point write to its indication.
    pub answer_delay: Span,
    /// Between two reports of indoor bike data.
    pub report_period: Span,
    /// What the trainer makes of the brake's power.
    pub power_meter: MeterParameters,
    /// Time constant of the smoothing of the cadence that it reports, s; 0 for none.
    pub cadence_smoothing: f64,
    /// Whether it tells its own client of changes that this client made. The standard has them told to the others.
    pub echoes_status: bool,
    /// What it makes of a spin-down.
    pub spin_down: SpinDownManner,
}

impl Default for TrainerParameters {
    fn default() -> Self {
        Self {
            takes: Takes::ALL,
            heeds_power: true,
            speed_from: SpeedFrom::Wheel,
            power_range: PowerRange {
                least: 0,
                most: 1500,
                step: 1,
            },
            // Level 0 to 100 in whole levels.
            resistance_range: ResistanceRange::Words {
                least: 0,
                most: 1000,
                step: 10,
            },
            answer_delay: Span::from_millis(60),
            report_period: Span::from_millis(250),
            power_meter: MeterParameters {
                offset: 0.0,
                noise: 0.01,
                smoothing: 0.25,
                mean_over: 0.0,
            },
            cadence_smoothing: 0.0,
            echoes_status: false,
            spin_down: SpinDownManner::Works,
        }
    }
}

/// Everything that a practice ride follows from: the same configuration and the same requests give the same bytes.
#[derive(Clone, Debug, PartialEq)]
pub struct PracticeConfig {
    /// What all noise is drawn from.
    pub seed: u64,
    /// The rider's legs.
    pub legs: LegsParameters,
    /// The rider's heart.
    pub heart: HeartParameters,
    /// What the rider does, and when.
    pub script: Script,
    /// The brake and its flywheel.
    pub brake: BrakeParameters,
    /// The trainer on the air.
    pub trainer: TrainerParameters,
    /// Whether the rider stops pedalling when the trainer says so in a spin-down.
    pub heeds_spin_down: bool,
    /// The power meter in the cranks.
    pub crank_meter: MeterParameters,
    /// The step of the physics: usually 10 ms, a millisecond at least.
    pub step: Span,
}

impl Default for PracticeConfig {
    /// A rider with a threshold of 240 W and a W′ of 20 kJ.
    fn default() -> Self {
        Self::for_rider(Watts(240.0), Joules(20_000.0))
    }
}

/// Critical power over threshold power: usually several per cent higher (*memory*).
const CRITICAL_OVER_THRESHOLD: f64 = 1.05;

impl PracticeConfig {
    /// A rider with this threshold power and W′, both above nothing.
    pub fn for_rider(threshold: Watts, w_prime: Joules) -> Self {
        Self::for_critical_power(threshold * CRITICAL_OVER_THRESHOLD, w_prime)
    }

    /// A rider with this critical power and W′, both above nothing.
    pub fn for_critical_power(critical_power: Watts, w_prime: Joules) -> Self {
        let legs = LegsParameters::new(critical_power.0, w_prime.0);
        Self {
            seed: 1,
            script: Script::ride(legs.cadence_habit),
            legs,
            heart: HeartParameters::for_critical_power(critical_power.0),
            brake: BrakeParameters::default(),
            trainer: TrainerParameters::default(),
            heeds_spin_down: true,
            crank_meter: MeterParameters {
                offset: 0.015,
                noise: 0.01,
                smoothing: 0.7,
                mean_over: 0.0,
            },
            step: STEP,
        }
    }

    /// The same coarsely, for who wants to know what a whole session comes to and not how it goes from second to second:
    /// the physics in steps of 50 ms, and a report of the trainer each second.
    #[must_use]
    pub fn coarse(mut self) -> Self {
        self.step = Span::from_millis(50);
        self.trainer.report_period = Span::from_seconds(1);
        self
    }

    /// The same without noise of any sort, for checks against equations.
    #[must_use]
    pub fn noiseless(mut self) -> Self {
        self.legs.cadence_wander = 0.0;
        self.legs.torque_wander = 0.0;
        self.heart.unevenness = 0.0;
        self.trainer.power_meter.noise = 0.0;
        self.crank_meter.noise = 0.0;
        self
    }

    /// The same with feet that rest for a second, twice in the first minutes, as those of riders do who settle in the
    /// saddle: only feet that have stopped once show that cadence is not smoothed.
    #[must_use]
    pub fn settling_in(mut self) -> Self {
        let habit = self.legs.cadence_habit;
        self.script = self.script.coast(50.0, 1.2, habit).coast(95.0, 1.2, habit);
        self
    }

    /// The same on a trainer that takes these sorts of target.
    #[must_use]
    pub fn taking(mut self, takes: Takes) -> Self {
        self.trainer.takes = takes;
        self
    }

    /// The same on a trainer of one of the [`MANNERS`]; nothing for a word that is none of them.
    #[must_use]
    pub fn behaving(mut self, word: &str) -> Option<Self> {
        let levels = Takes {
            levels: true,
            ..Takes::NOTHING
        };
        let trainer = &mut self.trainer;
        trainer.takes = match word {
            "levels" => levels,
            "coarse" => {
                trainer.resistance_range = ResistanceRange::Words {
                    least: 0,
                    most: 1000,
                    step: 50,
                };
                levels
            }
            "reckoned" => {
                trainer.speed_from = SpeedFrom::Power;
                levels
            }
            "slopes" => Takes {
                slopes: true,
                ..Takes::NOTHING
            },
            "watts" => Takes {
                power: true,
                ..Takes::NOTHING
            },
            "nothing" => Takes::NOTHING,
            "heedless" => {
                trainer.heeds_power = false;
                Takes::ALL
            }
            _ => return None,
        };
        Some(self)
    }

    /// The same with another seed.
    #[must_use]
    pub fn seeded(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }

    /// The same with another script.
    #[must_use]
    pub fn scripted(mut self, script: Script) -> Self {
        self.script = script;
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_manner_is_another_trainer_and_other_words_are_none() {
        let mut seen = vec![TrainerParameters::default()];
        for (word, _) in MANNERS {
            let config = PracticeConfig::default().behaving(word);
            let trainer = config.map(|config| config.trainer);
            assert!(
                trainer.is_some_and(|trainer| !seen.contains(&trainer)),
                "{word}"
            );
            seen.extend(trainer);
        }
        for word in ["", "trainer", "Levels", "level"] {
            assert_eq!(PracticeConfig::default().behaving(word), None);
        }
    }
}
