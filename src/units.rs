//! Quantities with their units in their types, and the one table of legal ranges.
//!
//! Every quantity is a thin wrapper over `f64` so that a power cannot be added to a cadence by mistake. Rounding to
//! whole watts or tenths happens where bytes are made, never here.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Declares a quantity: its name, its unit as written after the number, and the decimals it is shown with.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $decimals:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit as it is written after the number.
            pub const UNIT: &'static str = $unit;

            /// The bare number, in the unit of the type.
            pub const fn get(self) -> f64 {
                self.0
            }

            /// The smaller of two.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of two.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                // Adding zero turns a rounded −0 into 0.
                let scale = 10f64.powi($decimals);
                let shown = (self.0 * scale).round() / scale + 0.0;
                if $unit.is_empty() {
                    write!(f, "{shown:.*}", $decimals)
                } else {
                    write!(f, "{shown:.*} {}", $decimals, $unit)
                }
            }
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
    };
}

quantity!(
    /// Mechanical power, watts.
    Watts, "W", 0
);
quantity!(
    /// Heart rate, beats a minute.
    Bpm, "bpm", 0
);
quantity!(
    /// Cadence, crank revolutions a minute.
    Rpm, "rpm", 0
);
quantity!(
    /// Distance, metres.
    Metres, "m", 0
);
quantity!(
    /// Speed, metres a second.
    MetresPerSecond, "m/s", 1
);
quantity!(
    /// Work, joules.
    Joules, "J", 0
);
quantity!(
    /// Slope in per cent: 5.0 climbs five metres in a hundred along the level.
    Grade, "%", 1
);
quantity!(
    /// Effort out of ten, the linear scale that sessions are written in (common practice, no source). 0 to 10.
    Effort, "", 1
);
quantity!(
    /// A share: 1.0 is the whole. Of threshold power, or of a trainer's range of resistance.
    Fraction, "", 2
);
quantity!(
    /// A resistance level on the trainer's own scale, in units of the service's 0.1 steps divided by ten
    /// (raw 120 is level 12.0). What it means in newtons is the maker's secret.
    Level, "", 1
);

impl MetresPerSecond {
    /// From kilometres an hour.
    pub fn from_kmh(kmh: f64) -> Self {
        Self(kmh / 3.6)
    }

    /// In kilometres an hour.
    pub fn kmh(self) -> f64 {
        self.0 * 3.6
    }
}

/// What the brake is asked for: one of the three targets of the Fitness Machine control point that this program uses.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BrakeTarget {
    /// Hold this power whatever the cadence (op 05).
    Power(Watts),
    /// Stand at this resistance level (op 04).
    Resistance(Level),
    /// Imitate this slope in still air (op 11).
    Slope(Grade),
}

impl BrakeTarget {
    /// The bare number, in the unit of the variant.
    pub fn value(self) -> f64 {
        match self {
            Self::Power(watts) => watts.0,
            Self::Resistance(level) => level.0,
            Self::Slope(grade) => grade.0,
        }
    }

    /// Whether it holds watts.
    pub const fn is_power(self) -> bool {
        matches!(self, Self::Power(_))
    }

    /// Whether both ask for the same sort of thing, so that their numbers can be compared.
    pub fn same_sort(self, other: Self) -> bool {
        std::mem::discriminant(&self) == std::mem::discriminant(&other)
    }
}

/// Always in English: recordings keep it.
impl fmt::Display for BrakeTarget {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Power(watts) => write!(f, "{watts}"),
            Self::Resistance(level) => f.write_str(&kept!("level {level}")),
            Self::Slope(slope) => f.write_str(&kept!("slope {slope}")),
        }
    }
}

/// What a trainer accepts for one sort of target: least, most, and the step between values, in the target's own unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BrakeRange {
    /// The least value that is accepted.
    pub least: f64,
    /// The greatest value that is accepted.
    pub most: f64,
    /// The step between accepted values, counted from `least`; 0 where any value is accepted.
    pub step: f64,
}

impl BrakeRange {
    /// The greatest accepted value that is not above `value`; `least` where `value` lies below the range.
    ///
    /// Rounding is always down: a step rounded up could pass the rider's cap.
    pub fn round_down(self, value: f64) -> f64 {
        let inside = value.clamp(self.least, self.most.max(self.least));
        if self.step > 0.0 {
            // The hair keeps 205 / 5 from becoming 40.999… and losing a whole step.
            let steps = ((inside - self.least) / self.step + 1e-9).floor();
            self.least + steps * self.step
        } else {
            inside
        }
    }
}

/// How a brake answers a command, identified from rides and kept per trainer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BrakeLag {
    /// Seconds from the command until anything moves.
    pub dead_time: f64,
    /// First-order time constant of a rise, seconds.
    pub rise: f64,
    /// First-order time constant of a fall, seconds.
    pub fall: f64,
    /// The lower bound of dead time and rise together, seconds; 0 where the brake and its reports could not be told
    /// apart.
    #[serde(default)]
    pub least: f64,
    /// The lower bound of the time until half of a step up stands, seconds; 0 as above.
    #[serde(default)]
    pub least_half: f64,
    /// Whether its cadence has shown that it is not smoothed much.
    #[serde(default)]
    pub cadence_prompt: bool,
}

/// One row of the table of legal ranges: what a figure is called, its unit and its bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Legal {
    /// What the figure is called in a sentence.
    pub what: &'static str,
    /// The unit as written after a number; empty where there is none.
    pub unit: &'static str,
    /// The least legal value.
    pub least: f64,
    /// The greatest legal value.
    pub most: f64,
}

/// A figure outside its legal range, worded for the person who wrote it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutOfRange {
    /// The row of the table that was broken.
    pub legal: Legal,
    /// The value found.
    pub value: f64,
}

impl std::error::Error for OutOfRange {}

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Legal {
            what,
            unit,
            least,
            most,
        } = self.legal;
        let counted = |figure: f64| match unit {
            "" => figure.to_string(),
            "years" => format!("{figure} {}", word!("years" # "of so many")),
            "teeth" => format!("{figure} {}", word!("teeth" # "of so many")),
            _ => format!("{figure} {}", crate::text::word(unit)),
        };
        f.write_str(&say!(
            "{what} of {value} is outside {least} to {most}",
            what = crate::text::word(what),
            value = counted(self.value),
            least,
            most = counted(most)
        ))
    }
}

impl Legal {
    const fn new(what: &'static str, unit: &'static str, least: f64, most: f64) -> Self {
        Self {
            what,
            unit,
            least,
            most,
        }
    }

    /// The value itself where it is legal.
    ///
    /// # Errors
    /// [`OutOfRange`], worded, where it is outside the bounds or not a number.
    pub fn check(self, value: f64) -> Result<f64, OutOfRange> {
        if value >= self.least && value <= self.most {
            Ok(value)
        } else {
            Err(OutOfRange { legal: self, value })
        }
    }
}

/// The table of legal ranges. Bounds are common practice (no source): wide enough for any rider, narrow enough to
/// catch a slip of the hand.
pub mod legal {
    use super::Legal;

    /// Effort out of ten.
    pub const EFFORT: Legal = Legal::new(entry!("an effort"), "", 0.0, 10.0);
    /// A share of threshold power.
    pub const THRESHOLD_SHARE: Legal = Legal::new(entry!("a share of threshold"), "", 0.0, 3.0);
    /// A power target in a session.
    pub const POWER: Legal = Legal::new(entry!("a power"), "W", 0.0, 2000.0);
    /// A share of the trainer's range of resistance.
    pub const LEVEL_SHARE: Legal =
        Legal::new(entry!("a share of the resistance range"), "", 0.0, 1.0);
    /// A slope.
    pub const SLOPE: Legal = Legal::new(entry!("a slope"), "%", -10.0, 20.0);
    /// A cadence.
    pub const CADENCE: Legal = Legal::new(entry!("a cadence"), "rpm", 30.0, 180.0);
    /// Seconds of one block.
    pub const BLOCK_SECONDS: Legal = Legal::new(entry!("a block's length"), "s", 1.0, 14_400.0);
    /// Seconds of build-up at the start of a block.
    pub const BUILD_UP_SECONDS: Legal = Legal::new(entry!("a build-up"), "s", 0.0, 120.0);
    /// How often a set may repeat.
    pub const REPEATS: Legal = Legal::new(entry!("a number of repeats"), "", 1.0, 100.0);
    /// A rider's threshold power.
    pub const THRESHOLD: Legal = Legal::new(entry!("a threshold"), "W", 30.0, 600.0);
    /// A rider's power cap.
    pub const POWER_CAP: Legal = Legal::new(entry!("a power cap"), "W", 30.0, 1500.0);
    /// A rider's sprint cap.
    pub const SPRINT_CAP: Legal = Legal::new(entry!("a sprint cap"), "W", 30.0, 2500.0);
    /// A rider's W′, joules.
    pub const W_PRIME: Legal = Legal::new(entry!("a W′"), "J", 1000.0, 60_000.0);
    /// A heart rate.
    pub const HEART_RATE: Legal = Legal::new(entry!("a heart rate"), "bpm", 30.0, 240.0);
    /// A rider's age.
    pub const AGE: Legal = Legal::new(entry!("an age"), entry!("years"), 10.0, 110.0);
    /// Teeth of a chainring.
    pub const CHAINRING: Legal = Legal::new(entry!("a chainring"), entry!("teeth"), 20.0, 70.0);
    /// Teeth of a sprocket.
    pub const SPROCKET: Legal = Legal::new(entry!("a sprocket"), entry!("teeth"), 8.0, 60.0);
    /// Seconds of stopped pedals after which the clock pauses.
    pub const PAUSE_AFTER_SECONDS: Legal =
        Legal::new(entry!("a pause after stopped pedals"), "s", 5.0, 120.0);
    /// The temperature of the room that was ridden in.
    pub const ROOM: Legal = Legal::new(entry!("a room's temperature"), "°C", -10.0, 50.0);
    /// Hours of sleep of the night before.
    pub const SLEEP: Legal = Legal::new(entry!("a night's sleep"), "h", 0.0, 24.0);
    /// Soreness of the legs before a ride, out of ten.
    pub const SORENESS: Legal = Legal::new(entry!("a soreness"), "", 0.0, 10.0);
    /// A rating of effort.
    pub const RATING: Legal = Legal::new(entry!("a rating"), "", 0.0, 10.0);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    #[test]
    fn a_step_is_rounded_down_and_never_past_the_range() {
        let range = BrakeRange {
            least: 50.0,
            most: 400.0,
            step: 5.0,
        };
        // Values of the conformance sheet's row C13, rounded down where it rounds to the nearest.
        for (asked, expected) in [
            (37.0, 50.0),
            (203.0, 200.0),
            (205.0, 205.0),
            (900.0, 400.0),
            (54.999, 50.0),
        ] {
            assert_eq!(range.round_down(asked), expected, "asked {asked}");
        }
        let odd = BrakeRange {
            least: 0.0,
            most: 32.0,
            step: 0.1,
        };
        assert!((odd.round_down(12.3) - 12.3).abs() < 1e-9);
        assert!(odd.round_down(12.39) <= 12.39);
    }

    #[test]
    fn a_figure_outside_its_range_is_named_with_its_unit() {
        let error = legal::CADENCE.check(300.0).unwrap_err();
        assert_eq!(
            error.to_string(),
            "a cadence of 300 rpm is outside 30 to 180 rpm"
        );
        assert!(legal::EFFORT.check(f64::NAN).is_err());
        assert_eq!(legal::EFFORT.check(10.0), Ok(10.0));
    }

    #[test]
    fn quantities_are_written_with_their_unit() {
        assert_eq!(Watts(249.6).to_string(), "250 W");
        assert_eq!(Watts(-0.2).to_string(), "0 W");
        assert_eq!(Effort(7.5).to_string(), "7.5");
        assert_eq!(MetresPerSecond::from_kmh(36.0), MetresPerSecond(10.0));
    }
}
