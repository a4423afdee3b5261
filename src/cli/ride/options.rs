//! What `stillroad ride` is told on the command line.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::engine::GroupClock;
use crate::time::Span;

/// The options of a ride.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The session: a file, or the name of a built-in session or of one in your folder
    #[arg(value_name = "SESSION")]
    pub(super) session: PathBuf,
    #[command(flatten)]
    pub(super) wish: crate::cli::fit::WishOptions,
    /// Who sets the load
    #[arg(long, default_value = "target-power")]
    pub(super) mode: ModeWord,
    /// The rider's file; if left out the first in the riders' folder (see `stillroad where`), else cautious figures
    #[arg(long, value_name = "FILE")]
    pub(super) rider: Option<PathBuf>,
    /// The folder in which the ride's own folder is made; if left out the rides' folder (see `stillroad where`)
    #[arg(long, value_name = "FOLDER")]
    pub(super) out: Option<PathBuf>,
    /// Begin with a group at this time of the day, as 18:30; where its session is under way since then, join it where it is
    #[arg(long, value_name = "TIME", conflicts_with = "join")]
    pub(super) at: Option<TimeOfDay>,
    /// Join a group this far into the session: minutes, or minutes and seconds as 12:30. The blocks before are passed over
    #[arg(long, value_name = "MINUTE")]
    pub(super) join: Option<MinuteIn>,
    #[command(flatten)]
    pub(super) kit: Kit,
}

/// With what is ridden, and how fast.
#[derive(Args, Clone, Debug)]
pub(in crate::cli) struct Kit {
    /// The trainer: practice, none, or a device's name or address; if left out the one last used, else practice. Practice in
    /// another manner: practice:levels, coarse, reckoned, slopes, watts, nothing or heedless (see docs/practice-trainer.md)
    #[arg(long, value_name = "DEVICE")]
    pub(in crate::cli) trainer: Option<String>,
    /// The heart strap: practice, none, or a device's name or address; if left out the one last used, if it is heard
    #[arg(long, value_name = "DEVICE")]
    pub(in crate::cli) heart: Option<String>,
    /// A second heart strap, for when the first is lost: none, or a device's name or address; if left out the one last used, if it is heard
    #[arg(long, value_name = "DEVICE")]
    pub(in crate::cli) second_heart: Option<String>,
    /// A separate power meter: practice, none, or a device's name or address; if left out the one last used, if it is heard
    #[arg(long, value_name = "DEVICE")]
    pub(in crate::cli) meter: Option<String>,
    /// A separate cadence sensor: practice, none, or a device's name or address; if left out the one last used, if it is heard
    #[arg(long, value_name = "DEVICE")]
    pub(in crate::cli) cadence: Option<String>,
    /// How fast: real, a whole number of times life's pace (100 at most), or max (virtual time). Other than real only with practice devices
    #[arg(long, default_value = "real", value_name = "PACE")]
    pub(in crate::cli) pace: Pace,
    /// The seed of the practice rider
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub(super) seed: u64,
    /// The session as it was named: its leader's own recordings lie beside it. Not an option of its own
    #[arg(skip)]
    pub(super) session: PathBuf,
    /// Let it be heard: tones, and cues by the system's voice
    #[arg(long)]
    pub(super) sound: bool,
    /// Let the practice devices misbehave as radios do, by this seed; real devices never do
    #[arg(long, value_name = "SEED", hide = true)]
    pub(super) faults: Option<u64>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum ModeWord {
    /// The brake holds the session's watts
    TargetPower,
    /// One fixed level stands and the rider shifts gears
    EffortOnly,
}

/// How fast a ride runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) enum Pace {
    /// So many times life's pace.
    Times(u32),
    /// As fast as it goes.
    Most,
}

impl std::str::FromStr for Pace {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "real" => Ok(Self::Times(1)),
            "max" => Ok(Self::Most),
            number => match number.parse() {
                Ok(times @ 1..=100) => Ok(Self::Times(times)),
                _ => Err("a pace is real, max, or a whole number from 1 to 100".to_owned()),
            },
        }
    }
}

/// A time of the day, in seconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) struct TimeOfDay(u32);

impl std::str::FromStr for TimeOfDay {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        crate::toml_table::time_of_day(text).map(Self)
    }
}

/// So far into a session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) struct MinuteIn(Span);

impl std::str::FromStr for MinuteIn {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.parse::<u64>() {
            Ok(minutes @ 0..=1_440) => Ok(Self(Span::from_seconds(minutes * 60))),
            _ => crate::toml_table::clock_from(text).map(Self).map_err(|_| {
                "write the minute, as 12, or minutes and seconds, as 12:30".to_owned()
            }),
        }
    }
}

impl Options {
    /// Whose clock the ride follows.
    pub(super) fn clock(&self) -> GroupClock {
        match (self.at, self.join) {
            (Some(TimeOfDay(second)), _) => GroupClock::At(second),
            (None, Some(MinuteIn(into))) => GroupClock::Join(into),
            (None, None) => GroupClock::Own,
        }
    }
}
