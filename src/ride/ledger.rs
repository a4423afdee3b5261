//! The ledger: every commanded target explained, stage by stage, from the plan to the brake.

use crate::time::Span;
use crate::units::BrakeTarget;

/// The stages in the order in which they act.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// What the plan asks for at this moment (plus lead), through the effort map.
    Plan,
    /// The rider's trim for today.
    Trim,
    /// Easier because the rider tires, or asked for it.
    EaseDown,
    /// Building up over the first seconds of a block, and the limit on the rate of rise.
    BuildUp,
    /// The slow correction towards a separate power meter.
    Meter,
    /// The guard against stalled legs, and stopped pedals.
    Guard,
    /// The rider's caps.
    Cap,
    /// Watts exchanged for the level or slope that makes them, where the trainer cannot hold any.
    SlowHold,
    /// The trainer's range and step.
    Range,
}

impl Stage {
    /// All stages, in order.
    pub const ALL: [Self; 9] = [
        Self::Plan,
        Self::Trim,
        Self::EaseDown,
        Self::BuildUp,
        Self::Meter,
        Self::Guard,
        Self::Cap,
        Self::SlowHold,
        Self::Range,
    ];

    /// A word for files and the ledger view.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Plan => "plan",
            Self::Trim => "trim",
            Self::EaseDown => "ease-down",
            Self::BuildUp => "build-up",
            Self::Meter => "meter",
            Self::Guard => "guard",
            Self::Cap => "cap",
            Self::SlowHold => "slow-hold",
            Self::Range => "range",
        }
    }
}

/// One stage's work: value in, value out, why.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Which stage.
    pub stage: Stage,
    /// The value that came in; equal to `output` for the plan itself.
    pub input: f64,
    /// The value that went on.
    pub output: f64,
    /// Why, in a few words; empty where nothing was changed.
    pub why: &'static str,
}

/// The whole chain for one target.
#[derive(Clone, Debug, PartialEq)]
pub struct Ledger {
    /// The stages, each once, in order. Values are in the unit of `target`; before [`Stage::SlowHold`], where there is
    /// one, in watts.
    pub entries: Vec<Entry>,
    /// What the chain ends in.
    pub target: BrakeTarget,
    /// How far ahead of its beat it is sent; zero where it is not.
    pub lead: Span,
    /// Whether the load is on its way to another value: a ramp under way.
    pub on_its_way: bool,
}

impl Ledger {
    /// The watts that a level or slope is to make, where the slow loop holds them.
    pub fn slow_watts(&self) -> Option<f64> {
        let slow = |entry: &&Entry| entry.stage == Stage::SlowHold;
        self.entries.iter().find(slow).map(|entry| entry.input)
    }
}
