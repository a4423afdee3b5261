//! What the screen and the command line can ask of the core.

use std::sync::Arc;

use crate::device::DeviceId;
use crate::engine::take_up::TakeUp;
use crate::plan::fit::Fitting;
use crate::plan::{self, Plan};
use crate::ride::RideMode;
use crate::rider::{self, Rider};
use crate::time::Span;
use crate::units::Effort;

/// What a device is used for. One device may fill several roles; a trainer usually also gives power and cadence.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Its brake is set, and its own power, cadence and speed are used where no sensor has been chosen for them.
    Trainer,
    /// A separate power meter.
    Meter,
    /// A separate cadence sensor.
    Cadence,
    /// A heart strap.
    Heart,
    /// Another heart strap, which counts while the first is not heard.
    SecondHeart,
}

impl Role {
    /// All roles, in the order in which they are shown.
    pub const ALL: [Self; 5] = [
        Self::Trainer,
        Self::Meter,
        Self::Cadence,
        Self::Heart,
        Self::SecondHeart,
    ];

    /// As written on the command line and in files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Trainer => "trainer",
            Self::Meter => "meter",
            Self::Cadence => "cadence",
            Self::Heart => "heart",
            Self::SecondHeart => "second-heart",
        }
    }

    /// What a device must be able to do for it: the second strap is a strap.
    pub const fn kind(self) -> Self {
        match self {
            Self::SecondHeart => Self::Heart,
            other => other,
        }
    }

    /// As it is called in a sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Trainer => entry!("trainer"),
            Self::Meter => entry!("power meter"),
            Self::Cadence => entry!("cadence sensor"),
            Self::Heart => entry!("heart strap"),
            Self::SecondHeart => entry!("second heart strap"),
        }
    }
}

/// What will be ridden, by whom, and how.
///
/// In a log it stands as the texts it was read from.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(into = "ChoiceText", try_from = "ChoiceText")]
pub struct Choice {
    /// The session.
    pub plan: Arc<Plan>,
    /// The rider.
    pub rider: Arc<Rider>,
    /// Who sets the load.
    pub mode: RideMode,
}

#[derive(serde::Serialize, serde::Deserialize)]
struct ChoiceText {
    session: String,
    rider: String,
    mode: RideMode,
    /// Where the session was fitted to the day; logs of before do not have it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    fitted: Option<Arc<Fitting>>,
}

impl From<Choice> for ChoiceText {
    fn from(choice: Choice) -> Self {
        Self {
            session: choice.plan.source.to_string(),
            rider: rider::to_toml(&choice.rider),
            mode: choice.mode,
            fitted: choice.plan.fitted.clone(),
        }
    }
}

impl TryFrom<ChoiceText> for Choice {
    type Error = String;

    fn try_from(text: ChoiceText) -> Result<Self, String> {
        let mut plan = plan::read(&text.session)
            .plan
            .ok_or(entry!("the logged session cannot be read"))?;
        plan.fitted = text.fitted;
        let rider = rider::read(&text.rider)
            .0
            .ok_or(entry!("the logged rider cannot be read"))?;
        Ok(Self {
            plan: Arc::new(plan),
            rider: Arc::new(rider),
            mode: text.mode,
        })
    }
}

/// Whose clock a ride follows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GroupClock {
    /// The rider's own: the session begins with the ride.
    #[default]
    Own,
    /// The session begins for everybody at this second of the rider's day, 0 to 86 399. Where it is under way since then
    /// it is joined where the group is; else the next such time is meant.
    At(u32),
    /// The session is joined this far into it.
    Join(Span),
}

/// A command. Each is legal in every mode; where it makes no sense it does nothing.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Command {
    /// Take this session, rider and mode. Only before a ride, or after one.
    Choose(Box<Choice>),
    /// Go on with a ride that a killed program left open, in its own recording. Only before a ride, or after one.
    TakeUp(Box<TakeUp>),
    /// Listen for devices, or stop.
    Scan(bool),
    /// Use this device for a role, or nothing.
    Use(Role, Option<DeviceId>),
    /// Start with the first turn of the pedals.
    StartWithPedals,
    /// Start now, without waiting for the pedals. Where a group begins later, the ride begins with the group.
    Start,
    /// Whose clock the ride follows. Only before a ride; another session keeps it, the end of a ride does not.
    Clock(GroupClock),
    /// On to where the group is, after a pause or when behind; the clock runs on. Only in a group's clock.
    Rejoin,
    /// The clock stands.
    Pause,
    /// The clock runs on. After the brake was let off by hand, this also sets it again, built up gently.
    Resume,
    /// Two per cent up or down a step, for work or for recovery, whichever is ridden now.
    /// In effort-only mode: the fixed level up or down a step.
    Trim(i8),
    /// Ten per cent off the rest of this block.
    EaseBlock,
    /// Thirty seconds more of this block.
    Stretch,
    /// Leave out the next block that may be cut; undone by [`Command::Undo`].
    Cut,
    /// On to the next block. Needs a second press within three seconds.
    Skip,
    /// End the ride. Needs a second press within three seconds.
    End,
    /// Takes back the last skip, stretch or cut, within ten seconds.
    Undo,
    /// Let the brake off now, in two quick steps; it stays off until [`Command::Resume`].
    BrakeOff,
    /// Note the gear that is ridden now, for the next block of the same kind.
    NoteGear,
    /// This moment is kept under the next number, to be talked about afterwards. The ride goes on as if nothing was pressed.
    Mark,
    /// The other of the two ride modes, from the load that stands.
    SwitchMode,
    /// Hold a separate meter's watts by a slow correction, or the trainer's own. For this ride; the rider file says how
    /// a ride begins.
    HoldByMeter(bool),
    /// The answer to whether the flywheel of the trainer in use is fixed to the pedals (`true`) or runs on without them.
    FixedFlywheel(bool),
    /// The answer to a question for a rating.
    Rate(Effort),
    /// The question for a rating is not answered.
    PassRating,
    /// The rider has seen the cautions: they are not asked for again before midnight.
    CautionsSeen,
    /// This device is remembered no more, and fills no role. Only before a ride, or after one.
    Forget(DeviceId),
    /// What a threshold test found is taken, or not: after the ride, once. The window saves the rider's file first.
    TakeThreshold(bool),
    /// The trainer is to calibrate itself by a spin-down. Only before a ride, or after one, where it offers that.
    SpinDown,
    /// The guide through a spin-down is left, or the one that the trainer asks for is not wanted now.
    LeaveSpinDown,
    /// The window was closed, the program was told to stop, or the window's thread panicked: release and finish.
    Close,
}
