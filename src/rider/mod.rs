//! The rider: threshold, caps, W′, and what an effort means to them in watts.
//!
//! The values of a first start are cautious and marked "check me" until the rider has confirmed them.

mod amend;
mod drivetrain;
mod effort_map;
pub mod fields;
mod file;
mod lane;
mod w_balance;

pub use amend::amended;
pub use drivetrain::Drivetrain;
pub use effort_map::EffortMap;
pub use file::{read, read_bytes, to_toml};
pub use lane::{effort_of, lane};
pub use w_balance::WBalance;

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::time::Span;
use crate::units::{Bpm, Joules, Watts};

/// When the clock pauses after the pedals have stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PauseAfter {
    /// The clock runs on whatever the legs do.
    Never,
    /// After so long, 5 to 120 s.
    After(Span),
}

/// One rider, as their file says.
#[derive(Clone, Debug, PartialEq)]
pub struct Rider {
    /// What the rider is called on the screen and in file names.
    pub name: String,
    /// Threshold power: what can be held for about an hour.
    pub threshold: Watts,
    /// No held target is above this outside sprints.
    pub power_cap: Watts,
    /// No held target is above this in sprints.
    pub sprint_cap: Watts,
    /// Work above critical power that empties the rider.
    pub w_prime: Joules,
    /// Age in years, where the rider gave it.
    pub age: Option<u8>,
    /// Maximal heart rate, where measured.
    pub max_heart_rate: Option<Bpm>,
    /// Heart rate at rest, where measured.
    pub rest_heart_rate: Option<Bpm>,
    /// Above this heart rate the load is eased; set by the rider alone.
    pub heart_rate_ceiling: Option<Bpm>,
    /// When the clock pauses after the pedals have stopped.
    pub pause_after: PauseAfter,
    /// Whether a separate meter's watts are held rather than the trainer's own.
    pub meter_led: bool,
    /// The gears of the bicycle on the trainer, where the rider gave them.
    pub drivetrain: Drivetrain,
    /// Efforts in watts.
    pub effort_map: EffortMap,
    /// The keys of the figures that nobody has confirmed yet ("check me"), in the file's order.
    pub unconfirmed: Vec<String>,
    /// The text it was read from, kept beside the recording.
    pub source: Arc<str>,
}

/// Who has no name yet.
const UNNAMED: &str = entry!("Rider");

impl Rider {
    /// Their name as it is shown.
    pub fn called(&self) -> &str {
        called(&self.name)
    }
}

/// A rider's name as it is shown: for one without a name it is a word of the program, in the reader's language.
pub fn called(name: &str) -> &str {
    match name {
        UNNAMED => crate::text::word(UNNAMED),
        name => name,
    }
}

impl Default for Rider {
    /// The cautious rider of a first start: 120 W, caps of 200 and 300 W, 12 kJ, nothing about the heart.
    fn default() -> Self {
        Self {
            // In English, since files are named after it: see `called`.
            name: UNNAMED.to_owned(),
            threshold: Watts(120.0),
            power_cap: Watts(200.0),
            sprint_cap: Watts(300.0),
            w_prime: Joules(12_000.0),
            age: None,
            max_heart_rate: None,
            rest_heart_rate: None,
            heart_rate_ceiling: None,
            pause_after: PauseAfter::After(Span::from_seconds(20)),
            meter_led: false,
            drivetrain: Drivetrain::default(),
            effort_map: EffortMap::default(),
            unconfirmed: ["threshold", "power_cap", "sprint_cap", "w_prime"]
                .map(str::to_owned)
                .to_vec(),
            source: Arc::from(""),
        }
    }
}
