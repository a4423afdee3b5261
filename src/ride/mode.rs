//! The modes of a ride and the causes of their changes.
//!
//! ```text
//! Idle → Connecting → Ready → Riding ⇄ Paused → Finished
//!   ↑________|   ↑______|        ⇅       ⇅          ↑
//!                              Degraded{cause, since}┘
//! ```
//! Degraded means that control of the brake was lost. A lost sensor is a reading's state, not a mode.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::time::Instant;

/// Who sets the load, as the rider chose.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RideMode {
    /// The brake holds the session's watts.
    #[default]
    TargetPower,
    /// One fixed level stands; the rider shifts gears by feel and sees no watts.
    EffortOnly,
}

impl RideMode {
    /// As written on the command line and in files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::TargetPower => "target-power",
            Self::EffortOnly => "effort-only",
        }
    }
}

/// Where a ride stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mode {
    /// Nothing was chosen yet.
    Idle,
    /// The chosen devices are being connected.
    Connecting,
    /// Everything that can be had stands; the first turn of the pedals starts.
    Ready,
    /// The clock runs.
    Riding,
    /// The clock stands.
    Paused(PauseCause),
    /// Control of the brake was lost; clock and recording go on as they were.
    Degraded {
        /// Why.
        cause: Cause,
        /// Since when.
        since: Instant,
        /// Whether the clock stands.
        paused: Option<PauseCause>,
    },
    /// The ride is over.
    Finished(Finish),
}

impl Mode {
    /// Whether the clock runs.
    pub const fn runs(self) -> bool {
        matches!(self, Self::Riding | Self::Degraded { paused: None, .. })
    }

    /// Whether a ride has begun and is not over.
    pub const fn under_way(self) -> bool {
        matches!(self, Self::Riding | Self::Paused(_) | Self::Degraded { .. })
    }

    /// A word for logs and files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Idle => "idle",
            Self::Connecting => "connecting",
            Self::Ready => "ready",
            Self::Riding => "riding",
            Self::Paused(_) => "paused",
            Self::Degraded { .. } => "degraded",
            Self::Finished(_) => "finished",
        }
    }
}

/// Why the clock stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PauseCause {
    /// The rider asked.
    Rider,
    /// The pedals stood still for the rider's chosen time.
    PedalsStopped,
    /// The computer slept, or the program was held up for over two seconds.
    Gap,
    /// The trainer's own stop or pause button.
    Trainer,
}

impl PauseCause {
    /// A word for logs and files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Rider => "rider",
            Self::PedalsStopped => "pedals-stopped",
            Self::Gap => "gap",
            Self::Trainer => "trainer",
        }
    }
}

/// Why the brake cannot be set.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// The link to the trainer was lost.
    LinkLost,
    /// Another program took control, or the trainer withdrew it.
    ControlLost,
    /// The trainer does not grant control.
    ControlRefused,
    /// The trainer did not answer a command within thirty seconds.
    Silent,
    /// A release was not answered within one second.
    ReleaseUnanswered,
    /// The trainer refuses every sort of target that the session needs.
    NoUsableTarget,
}

impl Cause {
    /// A word for logs and files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::LinkLost => "link-lost",
            Self::ControlLost => "control-lost",
            Self::ControlRefused => "control-refused",
            Self::Silent => "silent",
            Self::ReleaseUnanswered => "release-unanswered",
            Self::NoUsableTarget => "no-usable-target",
        }
    }
}

/// What happened, what it means for the ride, and what to do.
impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::LinkLost => {
                entry!("The link to the trainer was lost. It may hold its last load: ease off and shift down. \
                 The ride goes on recording while the program reconnects.")
            }
            Self::ControlLost => {
                entry!("Another program or the trainer itself took control of the brake. The session runs on without it: \
                 close other training programs.")
            }
            Self::ControlRefused => {
                entry!("The trainer does not grant control of its brake. Ride on by feel, or close other programs that may \
                 hold it and switch the trainer off and on.")
            }
            Self::Silent => {
                entry!("The trainer did not answer for thirty seconds. It may hold its last load: ease off and shift down. \
                 The program reconnects.")
            }
            Self::ReleaseUnanswered => {
                entry!("The trainer did not confirm that the brake was let off. It may hold its last load: ease off and \
                 shift down.")
            }
            Self::NoUsableTarget => {
                entry!("The trainer takes none of the targets that this session needs. Ride on by feel: the session, the \
                 clock and the recording go on.")
            }
        })
    }
}

/// How a ride ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finish {
    /// The session was ridden to its end.
    Completed,
    /// The rider ended it.
    ByRider,
    /// The program was closed or told to stop.
    Closed,
}

impl Finish {
    /// A word for logs and files.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Completed => "completed",
            Self::ByRider => "by-rider",
            Self::Closed => "closed",
        }
    }
}
