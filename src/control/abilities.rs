//! What a trainer's brake can be told, from the octets of its features and ranges.

use std::fmt;

use crate::gatt::{FitnessMachineFeature, PowerRange, ResistanceRange};
use crate::units::{BrakeRange, BrakeTarget, legal};

/// The three sorts of target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sort {
    /// Watts (op 05).
    Power,
    /// A level (op 04).
    Resistance,
    /// A slope (op 11).
    Slope,
}

impl Sort {
    /// All sorts.
    pub const ALL: [Self; 3] = [Self::Power, Self::Resistance, Self::Slope];

    /// The sort of a target.
    pub const fn of(target: BrakeTarget) -> Self {
        match target {
            BrakeTarget::Power(_) => Self::Power,
            BrakeTarget::Resistance(_) => Self::Resistance,
            BrakeTarget::Slope(_) => Self::Slope,
        }
    }
}

impl fmt::Display for Sort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Power => entry!("target power"),
            Self::Resistance => entry!("resistance levels"),
            Self::Slope => entry!("slopes"),
        })
    }
}

/// The width in which a resistance level is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ResistanceForm {
    /// One octet, as the standard has it.
    #[default]
    Octet,
    /// A signed word: needed where the range's raw maximum is over 255, and what many trainers expect.
    Word,
}

/// What had to be assumed of a trainer, worded for the rider.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Warning {
    /// Its features could not be read.
    FeatureMissing,
    /// It takes target power, but does not say from where to where.
    PowerRangeMissing,
    /// It takes resistance levels, but does not say from where to where.
    ResistanceRangeMissing,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::FeatureMissing => {
                entry!("The trainer does not say what it can do. Only what it gives a range for is used. If the brake does \
                 not answer, switch the trainer off and on.")
            }
            Self::PowerRangeMissing => {
                entry!("The trainer does not say which powers it can hold, so 0 to 4000 W is assumed. Your own caps stand. \
                 It may refuse a target now and then.")
            }
            Self::ResistanceRangeMissing => {
                entry!("The trainer does not say which resistance levels it has, so levels are not used. Blocks that ask \
                 for a level are ridden by feel.")
            }
        })
    }
}

/// What a trainer's brake can be told. Ranges are in the units of [`BrakeTarget`], and what the ledger rounds to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Abilities {
    /// Target power, where the trainer takes it. Never below 0 W: a brake does not push.
    pub power: Option<BrakeRange>,
    /// Resistance levels, where the trainer takes them.
    pub resistance: Option<BrakeRange>,
    /// How a level is written.
    pub resistance_form: ResistanceForm,
    /// Whether it imitates slopes.
    pub simulation: bool,
    /// Whether it can be calibrated by a spin-down.
    pub spin_down: bool,
    /// What had to be assumed; each at most once.
    pub warnings: Vec<Warning>,
}

/// What is assumed where a trainer takes target power and gives no range (common practice, no source).
const ASSUMED_POWER: BrakeRange = BrakeRange {
    least: 0.0,
    most: 4000.0,
    step: 1.0,
};

impl Abilities {
    /// From the octets of Fitness Machine Feature (2ACC), Supported Power Range (2AD8) and Supported Resistance Level
    /// Range (2AD6), each of which may be missing or unreadable.
    ///
    /// Without features, what has a range counts as offered. Fitness Machine Profile 1.0, 4.4.1 and 4.4.9 to 13.
    pub fn from_bytes(
        feature: Option<&[u8]>,
        power: Option<&[u8]>,
        resistance: Option<&[u8]>,
    ) -> Self {
        let feature = feature.and_then(|bytes| FitnessMachineFeature::decode(bytes).ok());
        let power = power
            .and_then(|bytes| PowerRange::decode(bytes).ok())
            .and_then(|range| usable(range.range(), 1.0));
        let levels = resistance.and_then(|bytes| ResistanceRange::decode(bytes).ok());
        let level_range = levels.and_then(|range| usable(range.range(), 0.1));
        let takes = |bit, has_range: bool| feature.map_or(has_range, |feature| feature.takes(bit));

        let mut abilities = Self {
            resistance_form: match levels {
                Some(range) if range.raw_most() > 255 => ResistanceForm::Word,
                _ => ResistanceForm::Octet,
            },
            simulation: takes(FitnessMachineFeature::SIMULATION, false),
            spin_down: takes(FitnessMachineFeature::SPIN_DOWN, false),
            ..Self::default()
        };
        if feature.is_none() {
            abilities.warnings.push(Warning::FeatureMissing);
        }
        if takes(FitnessMachineFeature::POWER_TARGET, power.is_some()) {
            abilities.power = Some(power.unwrap_or(ASSUMED_POWER));
            if power.is_none() {
                abilities.warnings.push(Warning::PowerRangeMissing);
            }
        }
        if takes(
            FitnessMachineFeature::RESISTANCE_TARGET,
            level_range.is_some(),
        ) {
            abilities.resistance = level_range;
            if level_range.is_none() {
                abilities.warnings.push(Warning::ResistanceRangeMissing);
            }
        }
        abilities
    }

    /// The range of a sort; none where the trainer does not take it. Slopes have no range in the standard: the legal
    /// slopes of a session are taken.
    pub const fn range(&self, sort: Sort) -> Option<BrakeRange> {
        match sort {
            Sort::Power => self.power,
            Sort::Resistance => self.resistance,
            Sort::Slope if self.simulation => Some(BrakeRange {
                least: legal::SLOPE.least,
                most: legal::SLOPE.most,
                step: 0.0,
            }),
            Sort::Slope => None,
        }
    }

    /// Whether the brake takes any target at all.
    pub const fn any(&self) -> bool {
        self.power.is_some() || self.resistance.is_some() || self.simulation
    }

    /// Whether a target is of a sort that is taken, inside its range and on its step.
    pub fn accepts(&self, target: BrakeTarget) -> bool {
        // A hair for sums of tenths.
        const HAIR: f64 = 1e-6;
        self.range(Sort::of(target)).is_some_and(|range| {
            let value = target.value();
            let steps = (value - range.least) / range.step;
            value >= range.least - HAIR
                && value <= range.most + HAIR
                && (range.step <= 0.0 || (steps - steps.round()).abs() < 1e-3)
        })
    }
}

/// A range that can be used: nothing where it is empty; without negative values; a step of 0 taken as the finest.
fn usable(range: BrakeRange, finest: f64) -> Option<BrakeRange> {
    let step = if range.step > 0.0 { range.step } else { finest };
    let least = if range.least < 0.0 {
        range.least + (-range.least / step).ceil() * step
    } else {
        range.least
    };
    (range.most > least).then_some(BrakeRange {
        least,
        step,
        ..range
    })
}
