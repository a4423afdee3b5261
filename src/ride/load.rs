//! The load of a held block at a moment, by rule alone.
//!
//! The runner asks the brake by these functions and the strip draws what is coming by the same ones, so that the lane is
//! the load as it will be commanded.

use crate::plan::{Block, Brake, Kind, Load, Plan};
use crate::ride::build_up::{BUILD_UP, BuildUp, MOST_RISE};
use crate::ride::timeline::Lap;
use crate::rider::{self, Rider};
use crate::time::{Instant, Span};
use crate::units::{Effort, Watts};

/// One press of trim, a share of the load.
pub const TRIM_STEP: f64 = 0.02;

/// A load that was not reckoned for longer than this rises by no more than this time's worth at once.
pub const RISE_AT_ONCE: Span = Span::from_seconds(1);

/// What a kind's load is multiplied by after so many presses of trim.
pub fn trim_factor(presses: i32) -> f64 {
    1.0 + TRIM_STEP * f64::from(presses)
}

/// The rider's cap in a block. A sprint that the rider makes, and that a trainer can only hold, stays under the power cap.
pub fn cap(block: &Block, rider: &Rider) -> Watts {
    if block.kind == Kind::Sprint && block.brake == Brake::Held {
        rider.sprint_cap
    } else {
        rider.power_cap
    }
}

/// Whether the brake holds watts in this block where it can: the session names a power, and leaves it to the brake.
pub fn is_held(block: &Block, share: f64) -> bool {
    block.kind != Kind::Free
        && block.brake == Brake::Held
        && block.target.at(share).is_some_and(Load::is_power)
}

/// The way of the load into a block: from what stands at its beat. `from_held_sprint` says that a sprint's watts stand.
/// `back` is what is left at the beat of a rise from nothing: a return from a release is cut short by no beat, not by a
/// sprint's either.
pub fn way_into(
    block: &Block,
    from: f64,
    beat: Instant,
    from_held_sprint: bool,
    back: Span,
) -> BuildUp {
    let over = rise_over(block).max(back);
    if from_held_sprint {
        BuildUp::after_sprint(from, beat, over)
    } else {
        BuildUp::new(from, beat, over)
    }
}

/// How long a rise into a block takes: as written, else ten seconds, and no time for a held sprint.
pub fn rise_over(block: &Block) -> Span {
    if block.kind == Kind::Sprint && block.brake == Brake::Held {
        block.build_up.unwrap_or(Span::ZERO)
    } else {
        block.build_up.unwrap_or(BUILD_UP)
    }
}

/// The load of a recovery for this rider: the session's own next or last one, else effort 4. Watts.
pub fn recovery_load(plan: &Plan, laps: &[Lap], here: usize, rider: &Rider) -> f64 {
    let recovery = |lap: &Lap| {
        let block = plan.blocks.get(lap.block)?;
        let load = (block.kind == Kind::Recovery)
            .then(|| block.target.at(0.5))
            .flatten()?;
        rider::lane(&load, rider)
    };
    let (before, after) = laps.split_at(here.min(laps.len()));
    let own = after
        .iter()
        .find_map(recovery)
        .or_else(|| before.iter().rev().find_map(recovery));
    let default = rider.effort_map.watts(Effort(4.0), rider.threshold);
    own.or(default).map_or(0.0, |watts| watts.0)
}

/// What eases a block's load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ease {
    /// The share of the load that is left, 0 to 1.
    pub factor: f64,
    /// The load of a recovery, watts: nothing is eased below it.
    pub floor: f64,
    /// Why the load falls to a recovery's: a signal was lost while it limited the load.
    pub to_recovery: Option<&'static str>,
}

impl Ease {
    /// Nothing is eased.
    pub const NONE: Self = Self {
        factor: 1.0,
        floor: 0.0,
        to_recovery: None,
    };

    /// The load that is left of these watts, and why.
    pub fn of(&self, watts: f64) -> (f64, &'static str) {
        let floor = self.floor.min(watts);
        if let Some(why) = self.to_recovery {
            return (floor, why);
        }
        (
            (watts * self.factor).max(floor),
            entry!("eased for this block"),
        )
    }
}

/// A held load, stage by stage, before what limits its rise, the caps and the trainer's range. Watts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps {
    /// What the session means for this rider; the cap itself where it is all out.
    pub planned: f64,
    /// After today's trim.
    pub trimmed: f64,
    /// After easing.
    pub eased: f64,
    /// Why it was eased; to be said only where it was.
    pub why_eased: &'static str,
    /// On its way from what stood at the beat.
    pub built: f64,
}

/// The stages of a held load at `now`. `watts` is what the session means; none where it is all out, which is neither
/// trimmed nor planned but as much as the cap allows. `falls_to` is the most that a way down from a sprint leads to.
pub fn steps(
    watts: Option<Watts>,
    cap: Watts,
    trim: f64,
    ease: Ease,
    build: &BuildUp,
    now: Instant,
    falls_to: f64,
) -> Steps {
    let planned = watts.unwrap_or(cap).0;
    let trimmed = if watts.is_some() {
        planned * trim
    } else {
        planned
    };
    let (eased, why_eased) = ease.of(trimmed);
    Steps {
        planned,
        trimmed,
        eased,
        why_eased,
        built: build.at(now, eased.min(falls_to)),
    }
}

/// The most that the load may be on its way to, watts: after a sprint it falls to what the next block may hold, also
/// where that one wants more.
pub fn falls_to(after_sprint: bool, rider: &Rider) -> f64 {
    if after_sprint {
        rider.power_cap.0
    } else {
        f64::INFINITY
    }
}

/// How far a load may rise from where it had risen to, `gone` ago. No rise outside a sprint is faster than
/// [`MOST_RISE`].
pub fn limit_rise(wanted: f64, risen: f64, gone: Span) -> f64 {
    wanted.min(risen + MOST_RISE * gone.min(RISE_AT_ONCE).seconds())
}
