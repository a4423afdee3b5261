//! What is kept of a ride: rows, events, raw inputs, and their encoding. The disk is somebody else's.

pub mod cell;
pub mod columns;
pub mod compare;
pub mod lines;
pub mod log;
pub mod noted;
pub mod package;
pub mod ride_toml;
pub mod slug;
pub mod table;
pub mod without_heart;

pub use lines::{EventLine, InputLine, MARK, MOST_MARKS, NoteLine};
pub use table::{Decoded, LineProblem, Table, decode, encode, encode_header};

use crate::plan::Kind;
use crate::plan::fit::Fitting;
use crate::ride::{Finish, RideMode};
use crate::units::{Bpm, BrakeTarget, Effort, Joules, Metres, MetresPerSecond, Rpm, Watts};

/// One ridden second. What was not fresh is none, and becomes an empty cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The ridden second, from 1; one row each, without gaps, pauses left out.
    pub ridden_s: u64,
    /// Session time at the end of the second, seconds: it jumps where blocks are skipped or stretched.
    pub plan_s: f64,
    /// Wall-clock time at the end of the second, milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: i64,
    /// The block's number in the session, from 1.
    pub block: u32,
    /// The block's kind.
    pub kind: Kind,
    /// Who sets the load.
    pub mode: RideMode,
    /// The effort of the plan; none in a free block.
    pub effort: Option<Effort>,
    /// The lane: what the plan means in watts for this rider today.
    pub lane: Option<Watts>,
    /// What the brake was last told and has taken.
    pub brake: Option<BrakeTarget>,
    /// Whether the brake was let off on purpose; none where no brake was in hand.
    pub released: Option<bool>,
    /// The power that the brake could have shown by its answer to what it was told, time-weighted mean over the second;
    /// none where it holds no watts or its answer is not known.
    pub could: Option<Watts>,
    /// Time-weighted mean over the second.
    pub power: Option<Watts>,
    /// Time-weighted mean over the second.
    pub cadence: Option<Rpm>,
    /// The last fresh value.
    pub heart_rate: Option<Bpm>,
    /// The last fresh value.
    pub speed: Option<MetresPerSecond>,
    /// The trainer's own distance, or the speed summed up; none where neither is known.
    pub distance: Option<Metres>,
    /// Estimated W′ left.
    pub w_balance: Option<Joules>,
    /// Whose device the power comes from, by the key of its role, one of [`columns::SOURCES`]; none without a power.
    pub power_from: Option<&'static str>,
    /// Whose the cadence; none without one.
    pub cadence_from: Option<&'static str>,
    /// Whose the heart rate; none without one.
    pub heart_rate_from: Option<&'static str>,
}

/// Something that happened and is worth a line in `events.csv`.
#[derive(Clone, Debug, PartialEq)]
pub struct RideEvent {
    /// The ridden time at which it happened, seconds.
    pub ridden_s: f64,
    /// Session time, seconds.
    pub plan_s: f64,
    /// Wall-clock time, milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: i64,
    /// A word from a closed list, such as `pause`, `resume`, `skip`, `link-lost`, `guard`.
    pub what: &'static str,
    /// The rest, in a sentence or a figure.
    pub detail: String,
}

/// A rating or remark for `notes.csv`.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// Wall-clock time, milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: i64,
    /// The block's number, from 1; none for the whole session.
    pub block: Option<u32>,
    /// A word: `rating`.
    pub what: &'static str,
    /// The rating out of ten, where it is one.
    pub rating: Option<Effort>,
    /// Words.
    pub text: String,
}

/// What a ridden session was fitted from; becomes a part of `ride.toml`, and `written.toml`.
#[derive(Clone, Debug, PartialEq)]
pub struct FittedFrom {
    /// The session as it was written, what was wished for, and which written block each ridden one is.
    pub fitting: std::sync::Arc<Fitting>,
    /// What was changed, a sentence each.
    pub changes: Vec<String>,
}

/// What was known at the start; becomes `ride.toml`, `session.toml` and `rider.toml`.
#[derive(Clone, Debug, PartialEq)]
pub struct RideStart {
    /// Wall-clock time of the start, milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: i64,
    /// The session's name.
    pub session: String,
    /// The session's text as it was read.
    pub session_text: std::sync::Arc<str>,
    /// What the session was fitted from; none where it is ridden as it was written.
    pub fitted: Option<FittedFrom>,
    /// The rider's name.
    pub rider: String,
    /// The rider's text as it was read.
    pub rider_text: std::sync::Arc<str>,
    /// Who sets the load.
    pub mode: RideMode,
    /// Threshold power on the day.
    pub threshold: Watts,
    /// Power cap on the day.
    pub power_cap: Watts,
    /// Sprint cap on the day.
    pub sprint_cap: Watts,
    /// When the trainer was last calibrated by a spin-down from here, in UTC as `2026-11-24T18:00:00Z`; none where it is
    /// not known.
    pub spin_down: Option<String>,
    /// The devices in use: role, name, address, simulated.
    pub devices: Vec<(String, String, String, bool)>,
}

/// So many lines a recording holds, header lines and the writer's own events left out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct KeptLines {
    /// Of `samples.csv`: so many seconds were ridden.
    pub rows: u64,
    /// Of `events.csv`.
    pub events: u64,
    /// Of `notes.csv`.
    pub notes: u64,
}

/// A ride that goes on in the recording in which it began.
#[derive(Clone, Debug, PartialEq)]
pub struct GoesOn {
    /// The name of its folder, among the rides.
    pub ride: String,
    /// Which part of the ride begins, from 2.
    pub part: u32,
    /// What is in its files so far.
    pub kept: KeptLines,
    /// Seconds of the session's clock where it goes on.
    pub plan_s: f64,
    /// What is known now; becomes a recording of its own only where that one cannot be gone on with.
    pub start: RideStart,
}

/// One thing for the writer to keep, in the order in which they happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Kept {
    /// The ride begins: until now nothing is on the disk.
    Begin(Box<RideStart>),
    /// A ride goes on that an earlier run of the program left open.
    GoOn(Box<GoesOn>),
    /// A ridden second.
    Row(Box<Row>),
    /// An event.
    Event(RideEvent),
    /// A rating or remark.
    Note(Note),
    /// One input of the core as a line of `raw.csv`: its moment in microseconds, its kind, its content.
    Raw(RawLine),
    /// The ride is over.
    End(Finish),
    /// Another ride was chosen: what comes with the next input belongs to it.
    Left,
}

/// One line of `raw.csv`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawLine {
    /// The core's clock when the input was handled, microseconds.
    pub at_us: u64,
    /// What sort of input.
    pub input: &'static str,
    /// Its content, as JSON.
    pub content: String,
}
