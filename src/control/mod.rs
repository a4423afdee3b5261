//! The control of a trainer's brake: the procedures of the Fitness Machine control point as a machine that reads no
//! clock and knows no device.
//!
//! [`Procedures`] takes what happens (`link_up`, `want`, `release`, `written`, `indicated`, …) with its time, and gives
//! octets to write, events, and the time at which it wants to be woken. It never changes a target: what the ledger
//! worked out is sent as it is, or refused.

pub mod abilities;
pub mod answer;
pub mod event;
mod heed;
pub mod lag;
mod pace;
pub mod procedures;
pub mod spin_down;
mod split;

pub use abilities::{Abilities, ResistanceForm, Sort, Warning};
pub use answer::Answer;
pub use event::{ControlEvent, Loss, Refusal, WriteFailure};
pub use heed::{Heed, Heeding, Moment};
pub use lag::Identification;
pub use procedures::Procedures;
pub use spin_down::{SpinDownFailure, SpinDownGuide, SpinDownStage};
pub use split::{Expected, Split, Targets};
