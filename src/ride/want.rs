//! What the plan wants of the brake at a moment, for this rider, in this ride mode, on this trainer.

use crate::plan::{Block, Brake, Kind, Load};
use crate::ride::mode::RideMode;
use crate::rider::{self, Rider};
use crate::units::{BrakeRange, Fraction, Grade, Watts};

/// What a trainer takes. All none: nothing can be set.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offer {
    /// Target power, watts.
    pub power: Option<BrakeRange>,
    /// Resistance level on the trainer's own scale.
    pub level: Option<BrakeRange>,
    /// Slope, per cent.
    pub slope: Option<BrakeRange>,
}

impl Offer {
    /// Whether anything can be set.
    pub const fn any(&self) -> bool {
        self.power.is_some() || self.fixed()
    }

    /// Whether a level or a slope can be set.
    pub const fn fixed(&self) -> bool {
        self.level.is_some() || self.slope.is_some()
    }
}

/// What the plan wants of the brake.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Want {
    /// Hold watts.
    Power(Watts),
    /// Hold as much as the rider's cap allows: all out has no figure.
    MostPower,
    /// The fixed level of the session, found in the warm-up or by the rider.
    SessionLevel,
    /// The level of a free sprint in target-power mode: the session's, or the most that is allowed on an unknown trainer.
    SprintLevel,
    /// A share of the trainer's range of resistance.
    Level(Fraction),
    /// A slope.
    Slope(Grade),
    /// The lowest load.
    Lowest,
}

/// What `block` wants at `share` (0 to 1) of its length.
pub fn want(block: &Block, share: f64, rider: &Rider, mode: RideMode, offer: &Offer) -> Want {
    let load = block.target.at(share);
    match load {
        // A block's own level or slope is set in either mode; a trainer that lacks one of the two keeps its level.
        Some(Load::Level(level)) if offer.level.is_some() => Want::Level(level),
        Some(Load::Slope(slope)) if offer.slope.is_some() => Want::Slope(slope),
        _ if mode == RideMode::EffortOnly => Want::SessionLevel,
        _ if block.kind == Kind::Free => Want::Lowest,
        // Where the trainer holds no watts the program's own slow loop does; a sprint is too short for it.
        Some(load)
            if load.is_power()
                && block.brake == Brake::Held
                && (offer.power.is_some() || offer.fixed() && block.kind != Kind::Sprint) =>
        {
            match rider::lane(&load, rider) {
                Some(watts) => Want::Power(watts),
                None => Want::MostPower,
            }
        }
        Some(load) if load.is_power() && block.kind == Kind::Sprint => {
            if offer.fixed() {
                Want::SprintLevel
            } else {
                // A trainer that can only hold watts holds as much as the rider's cap allows.
                Want::MostPower
            }
        }
        Some(_) => Want::SessionLevel,
        None => Want::Lowest,
    }
}
