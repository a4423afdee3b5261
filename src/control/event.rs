//! What the procedures report, each worded: what happened, what it means for the ride, what to do.

use std::fmt;

use super::abilities::Sort;
use crate::gatt::control_point::{ResultCode, SpinDownSpeeds};
use crate::gatt::status::SpinDownStatus;
use crate::units::BrakeTarget;

/// Why a write to the control point failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WriteFailure {
    /// The trainer's ATT error: nothing was started.
    Att(u8),
    /// The system gave up waiting: whether anything was started is not known.
    TimedOut,
    /// Anything else, a lost link among others.
    Other,
}

/// Why a target was not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The trainer's result.
    Result(ResultCode),
    /// The write failed.
    Write(WriteFailure),
    /// The link was lost before the trainer answered.
    LinkLost,
    /// It lies outside the trainer's range or off its step, so it was not sent.
    OutsideRange,
    /// The trainer does not take this sort of target, so it was not sent.
    NotOffered,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Result(ResultCode::Success) => f.write_str(entry!("success (01)")),
            Self::Result(ResultCode::NotSupported) => {
                f.write_str(entry!("op code not supported (02)"))
            }
            Self::Result(ResultCode::InvalidParameter) => {
                f.write_str(entry!("invalid parameter (03)"))
            }
            Self::Result(ResultCode::Failed) => f.write_str(entry!("operation failed (04)")),
            Self::Result(ResultCode::NotPermitted) => {
                f.write_str(entry!("control not permitted (05)"))
            }
            Self::Result(ResultCode::Other(code)) => {
                f.write_str(&kept!("a reserved result ({code:02X})"))
            }
            Self::Write(WriteFailure::Att(0xFE)) => f.write_str(entry!("it is busy (FE)")),
            Self::Write(WriteFailure::Att(0x05 | 0x0F)) => {
                f.write_str(entry!("it wants to be paired with this computer first"))
            }
            Self::Write(WriteFailure::Att(code)) => {
                f.write_str(&kept!("Bluetooth error {code:02X}"))
            }
            Self::Write(WriteFailure::TimedOut) => {
                f.write_str(entry!("the command was not acknowledged"))
            }
            Self::Write(WriteFailure::Other) => {
                f.write_str(entry!("the command could not be sent"))
            }
            Self::LinkLost => f.write_str(entry!("the link was lost before it answered")),
            Self::OutsideRange => f.write_str(entry!("it lies outside the trainer's range")),
            Self::NotOffered => f.write_str(entry!("the trainer does not offer this")),
        }
    }
}

/// Why control was lost on a link that stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// Status FF: the trainer gave it to another program, or took it back.
    Withdrawn,
    /// A command was answered with result 05.
    NotPermitted,
    /// The trainer was reset.
    Reset,
}

/// What the procedures report.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ControlEvent {
    /// Control was granted. What is wanted is to be said again.
    Granted,
    /// Control was asked for as often as is decent, and is not granted.
    Refused,
    /// The trainer wants to be paired before it lets anything be written to its control point. Asked again on the next
    /// link, or by the rider.
    PairingWanted,
    /// Control was lost while the link stands.
    Lost(Loss),
    /// The trainer confirmed a target.
    Taken(BrakeTarget),
    /// A target was not taken; the last one that was still stands.
    TargetRefused {
        /// Which.
        target: BrakeTarget,
        /// Why.
        why: Refusal,
    },
    /// The trainer does not know this sort of target, whatever its features say: it is not sent again on this link.
    SortUnsupported(Sort),
    /// The trainer confirmed the release.
    Released,
    /// A release was not confirmed within one second.
    ReleaseUnanswered,
    /// The trainer takes no release, or refused every one that was tried.
    ReleaseRefused,
    /// The trainer confirmed the stop at the end.
    Stopped,
    /// No answer within thirty seconds. Nothing more is written on this link: the caller closes it and reconnects.
    TimedOut,
    /// The request for control was not even acknowledged, as happens where the trainer wants to be paired first. The
    /// caller closes the link and reconnects; control is then asked for only by the rider.
    Unacknowledged,
    /// The trainer's own stop button.
    TrainerStopped,
    /// The trainer's own pause button.
    TrainerPaused,
    /// The trainer's safety key.
    SafetyKey,
    /// The trainer's own start button.
    TrainerStarted,
    /// The trainer asks for a spin-down.
    SpinDownAsked,
    /// The trainer agreed to a spin-down, with its target speeds where it gives them.
    SpinDownBegun(Option<SpinDownSpeeds>),
    /// The trainer did not agree to a spin-down.
    SpinDownRefused(Refusal),
    /// The trainer says how a spin-down goes.
    SpinDownSaid(SpinDownStatus),
    /// Someone else changed the target: its buttons, or another program.
    ChangedElsewhere(BrakeTarget),
    /// An answer to nothing that was running. It changes nothing.
    LateAnswer,
    /// An answer that makes no sense. It changes nothing.
    BadAnswer,
    /// The trainer forgot that it is listened to (ATT error FD): the caller subscribes to the control point again and
    /// then calls [`subscribed`](super::Procedures::subscribed).
    SubscribeAgain,
}

impl fmt::Display for ControlEvent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Granted => entry!("The trainer granted control of its brake. The session sets the load from here on."),
            Self::Refused => {
                entry!("The trainer does not grant control of its brake. The session runs on without it: close other \
                 training programs, then ask for control again.")
            }
            Self::PairingWanted => {
                entry!("The trainer wants to be paired with this computer before its brake can be set. The session runs on \
                 without the brake: pair it in the system's Bluetooth settings, then ask for control again.")
            }
            Self::Lost(Loss::Withdrawn) => {
                entry!("Another program or the trainer itself took control of the brake. The session runs on without it: \
                 close other training programs, then ask for control again.")
            }
            Self::Lost(Loss::NotPermitted) => {
                entry!("The trainer no longer lets this program set its brake. The load may stay as it is: the program asks \
                 for control again; ease off and shift down if the load is wrong.")
            }
            Self::Lost(Loss::Reset) => {
                entry!("The trainer was reset and has forgotten its load. The program asks for control again; pedal on.")
            }
            Self::Taken(target) => {
                return f.write_str(&kept!(
                    "The brake has taken {target}. The ride goes on; nothing to do."
                ));
            }
            Self::TargetRefused { target, why } => {
                return f.write_str(&kept!(
                    "The brake did not take {target}: {why}. The load before it still stands: ride on, and use the \
                     gears if it does not suit."
                ));
            }
            Self::SortUnsupported(sort) => {
                return f.write_str(&kept!(
                    "The trainer does not take {sort}, although it says so. The session goes on without them: use \
                     the gears for those blocks."
                ));
            }
            Self::Released => entry!("The brake is let off. Pedal lightly, or rest."),
            Self::ReleaseUnanswered => {
                entry!("The trainer did not confirm within a second that the brake was let off. It may hold its last load: \
                 ease off and shift down.")
            }
            Self::ReleaseRefused => {
                entry!("The trainer does not let its brake off. It may hold its last load: ease off and shift down, and \
                 switch it off if it does not give.")
            }
            Self::Stopped => entry!("The trainer has ended its own session. The ride is over; nothing to do."),
            Self::TimedOut => {
                entry!("The trainer did not answer for thirty seconds. It may hold its last load: ease off and shift down. \
                 The program reconnects.")
            }
            Self::Unacknowledged => {
                entry!("The trainer did not acknowledge the request for control of its brake; it may want to be paired first. \
                 The session runs on without the brake: pair the trainer in the system's Bluetooth settings, then ask \
                 for control again.")
            }
            Self::TrainerStopped => {
                entry!("The trainer was stopped at its own button. The ride pauses: resume when you are ready.")
            }
            Self::TrainerPaused => {
                entry!("The trainer was paused at its own button. The ride pauses: resume when you are ready.")
            }
            Self::SafetyKey => {
                entry!("The trainer's safety key was pulled. The ride pauses: put the key back, then resume.")
            }
            Self::TrainerStarted => entry!("The trainer was started at its own button. The ride goes on."),
            Self::SpinDownAsked => {
                entry!("The trainer asks to be calibrated by a spin-down. Rides go on as they are: calibrate it from the devices \
                 in Prepare, after ten minutes of riding.")
            }
            Self::SpinDownBegun(_) => {
                entry!("The trainer agreed to be calibrated. Follow the guide: speed up, then stop pedalling when it says so.")
            }
            Self::SpinDownRefused(why) => {
                return f.write_str(&kept!(
                    "The trainer did not begin a spin-down: {why}. Its old calibration stands: ride ten minutes to warm \
                     it and try again."
                ));
            }
            Self::SpinDownSaid(SpinDownStatus::Success) => {
                entry!("The trainer has calibrated itself. Its rides are measured by this from here on; nothing to do.")
            }
            Self::SpinDownSaid(SpinDownStatus::Error) => {
                entry!("The trainer found an error while it calibrated itself. Its old calibration stands: try again.")
            }
            Self::SpinDownSaid(SpinDownStatus::StopPedalling) => {
                entry!("The trainer measures its wheel. It runs down by itself: stop pedalling.")
            }
            Self::SpinDownSaid(_) => {
                entry!("The trainer says something about a spin-down that this program does not know. Nothing changes; \
                 nothing to do.")
            }
            Self::ChangedElsewhere(target) => {
                return f.write_str(&kept!(
                    "The load was changed to {target}, at the trainer or by another program. The session sets its \
                     own again shortly: close other training programs if it keeps changing."
                ));
            }
            Self::LateAnswer => {
                entry!("The trainer answered a command that was no longer waiting. Nothing changes; nothing to do.")
            }
            Self::BadAnswer => {
                entry!("The trainer's answer to a command makes no sense and is left out. The load may be an older one: \
                 if it happens often, its firmware may need an update.")
            }
            Self::SubscribeAgain => {
                entry!("The trainer forgot that this program listens to its answers. The program subscribes again; nothing \
                 to do.")
            }
        })
    }
}
