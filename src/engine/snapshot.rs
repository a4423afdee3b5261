//! What the screen is told: one complete picture of the ride, stamped, of which only the newest matters.

use std::sync::Arc;

use crate::control::{SpinDownStage, Split};
use crate::device::{Adapter, DeviceId};
use crate::engine::command::Role;
pub use crate::engine::tally::{BrakeLeft, Channel, Pauses, Summary};
use crate::plan::fit::Recoveries;
use crate::plan::{Plan, ThresholdTest};
pub use crate::ride::Lap;
use crate::ride::threshold_test::Finding;
use crate::ride::{GearWords, Going, Ledger, Mode, Reading, RideMode};
use crate::rider::Rider;
use crate::time::{Instant, Span};
use crate::units::{Bpm, BrakeTarget, Effort, Joules, MetresPerSecond, Rpm, Watts};

/// How a device's link stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Link {
    /// Heard, not asked for.
    Heard,
    /// Being connected and set up.
    Connecting,
    /// In use.
    Connected,
    /// Lost; the program tries again.
    Lost,
    /// It cannot be used, and why, in a sentence.
    Unusable(String),
}

/// One device, as Prepare lists it.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceRow {
    /// Which device.
    pub id: DeviceId,
    /// Its name, made safe to show; where another device has the same one, with the end of its address behind it.
    pub name: String,
    /// What it could be used for. A device that tells only its name may be anything and lists every role: what it is
    /// shows once it is connected.
    pub can: Vec<Role>,
    /// What it is used for.
    pub used_for: Vec<Role>,
    /// Its link.
    pub link: Link,
    /// Battery, per cent.
    pub battery: Option<u8>,
    /// Signal strength, dBm.
    pub rssi: Option<i16>,
    /// When it was last heard, on the air or over its link.
    pub last_heard: Option<Instant>,
    /// Its newest figures in a few words, as "148 W, 86 rpm".
    pub live: String,
    /// Records of it that could not be read, so far.
    pub bad_records: u32,
    /// Whether it is a model and not a machine.
    pub simulated: bool,
    /// Whether it is remembered in a role that it can fill: before a ride it is taken for it by itself when it is heard,
    /// unless the rider has chosen otherwise; a model only where no machine is remembered or heard.
    pub known: bool,
}

/// One point of the ink: what the rider did at a moment of the session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InkPoint {
    /// Session time.
    pub at: Span,
    /// Power, where it was fresh.
    pub power: Option<Watts>,
    /// Cadence, where it was fresh.
    pub cadence: Option<Rpm>,
    /// What the lane stood at: the watts that the brake was asked to hold, else those of the plan. In effort-only mode
    /// what the rider's last block like this one was ridden at, once there was one.
    pub lane: Option<Watts>,
}

/// A question to the rider. It waits; nothing depends on the answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Question {
    /// How hard was that block, 0 to 10? Holds the block's index in the plan.
    RateBlock(usize),
    /// How hard was the whole session, 0 to 10?
    RateSession,
}

/// A button that waits for its second press.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Armed {
    /// Skip.
    Skip,
    /// End.
    End,
}

/// What became of the recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RecordState {
    /// Nothing to record yet.
    NotYet,
    /// Rows are written; so many so far. Holds the ride's folder as text.
    Writing(String, u64),
    /// The folder cannot be written, or the disk is full; a sentence. The ride goes on.
    Trouble(String),
    /// Whole and closed; so many rows.
    Closed(String, u64),
}

/// What a threshold test came to.
#[derive(Clone, Debug, PartialEq)]
pub struct TestOutcome {
    /// Which test.
    pub test: ThresholdTest,
    /// What it found, or why nothing, a sentence each.
    pub found: Result<Finding, Vec<String>>,
    /// The threshold in the rider's file when the ride began.
    pub before: Watts,
    /// W′ there.
    pub w_prime_before: Joules,
    /// Whether the rider took it; none while that is not answered.
    pub taken: Option<bool>,
}

/// A spin-down that is under way, or the last one until it is left.
#[derive(Clone, Debug, PartialEq)]
pub struct SpinDownView {
    /// Where it stands.
    pub stage: SpinDownStage,
    /// What the rider is told now, large.
    pub sentence: String,
    /// The target speeds, low and high, where the trainer gave them.
    pub window: Option<(MetresPerSecond, MetresPerSecond)>,
}

/// What is known of spin-downs on the trainer in use.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpinDowns {
    /// Whether one can be asked for now.
    pub offered: bool,
    /// Whether the trainer asks for one. Never told during a ride.
    pub asked_for: bool,
    /// When it was last done from here, in UTC as `2026-11-24T18:00:00Z`.
    pub last: Option<String>,
    /// The guide. Never there during a ride.
    pub guide: Option<SpinDownView>,
}

/// Whether the trainer's flywheel is fixed to the pedals. Such trainers advertise themselves like any other, so the rider
/// is asked once for each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flywheel {
    /// Whether the question waits for its answer: a trainer is connected, and nothing is known of its flywheel. Nothing
    /// waits for it: unanswered, the flywheel counts as one that runs on.
    pub asks: bool,
    /// The answer for the trainer in use.
    pub fixed: Option<bool>,
}

impl Flywheel {
    /// The question, as Prepare asks it.
    pub const QUESTION: &'static str =
        entry!("Can you stop the pedals of this trainer while its wheel turns on?");
    /// The answer of a flywheel that runs on.
    pub const RUNS_ON: &'static str = entry!("Yes, it runs on");
    /// The answer of a flywheel that is fixed to the pedals.
    pub const FIXED: &'static str = entry!("No, they go round with it");

    /// What is shown while such a trainer is ridden.
    pub fn caution(self) -> Option<&'static str> {
        (self.fixed == Some(true)).then_some(entry!(
            "Fixed flywheel: never stop the legs suddenly. Slow the wheel down with them."
        ))
    }
}

/// The group's clock, before a ride and in one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GroupView {
    /// When the group begins or began, seconds of the rider's day; none where the session is joined at a minute.
    pub clock: Option<u32>,
    /// How far into the session it is joined; only before a ride.
    pub join: Option<Span>,
    /// Whether the rider is ready and the ride begins by the clock alone.
    pub waits: bool,
    /// The beginning of the group's session on the snapshots' clock, microseconds; negative before the program began, none
    /// while it is not known.
    pub zero_us: Option<i64>,
    /// How far the rider is behind the group, in whole seconds; none where they are with it or ahead, or before a ride.
    pub behind: Option<Span>,
}

impl GroupView {
    /// How long until the group begins; none where it has begun or that is not known.
    pub fn starts_in(&self, now: Instant) -> Option<Span> {
        let now = i64::try_from(now.0).unwrap_or(i64::MAX);
        let ahead = self.zero_us?.saturating_sub(now);
        (ahead > 0).then(|| Span(ahead.unsigned_abs()))
    }

    /// How far the group is into its session; none before it begins or where that is not known.
    pub fn is_at(&self, now: Instant) -> Option<Span> {
        let now = i64::try_from(now.0).unwrap_or(i64::MAX);
        let since = now.saturating_sub(self.zero_us?);
        (since >= 0).then(|| Span(since.unsigned_abs()))
    }

    /// The time of the day as a clock on the wall shows it: `18:30`, or `18:30:15` off the minute.
    pub fn clock_words(&self) -> Option<String> {
        let clock = self.clock?;
        let (hours, minutes, seconds) = (clock / 3600, clock / 60 % 60, clock % 60);
        Some(if seconds == 0 {
            format!("{hours}:{minutes:02}")
        } else {
            format!("{hours}:{minutes:02}:{seconds:02}")
        })
    }
}

/// A ride that a killed program left open and that goes on at the next start, in its own recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenUp {
    /// The name of its folder.
    pub ride: String,
    /// What was ridden of it.
    pub ridden: Span,
    /// What is left of the session as it stands today.
    pub left: Span,
    /// What holds the load back at first, in a sentence.
    pub held_back: &'static str,
}

/// The whole picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// When it was taken.
    pub at: Instant,
    /// Where the ride stands.
    pub mode: Mode,
    /// Whether the first turn of the pedals starts the ride.
    pub waits_for_pedals: bool,
    /// Who sets the load.
    pub ride_mode: RideMode,
    /// The session; none before one was chosen.
    pub plan: Option<Arc<Plan>>,
    /// The rider; none before one was chosen.
    pub rider: Option<Arc<Rider>>,
    /// The blocks as they stand today.
    pub laps: Arc<[Lap]>,
    /// Which lap is ridden now.
    pub lap: usize,
    /// Session time at [`at`](Self::at): it runs on with the clock while [`Mode::runs`].
    pub session: Span,
    /// The length of the session as it stands today.
    pub session_length: Span,
    /// Time ridden, pauses left out.
    pub ridden: Span,
    /// The ride that goes on at the start; only before it, and none where a ride of its own begins.
    pub taken_up: Option<TakenUp>,
    /// The group's clock; none where the ride follows the rider's own.
    pub group: Option<GroupView>,
    /// Power: the chosen meter's, else the trainer's.
    pub power: Reading<Watts>,
    /// Cadence, from the chosen sensor, meter or trainer.
    pub cadence: Reading<Rpm>,
    /// Heart rate.
    pub heart_rate: Reading<Bpm>,
    /// The wheel's speed.
    pub speed: Reading<MetresPerSecond>,
    /// The watts of the lane now, for this rider today; none where the block asks for none.
    pub lane: Option<Watts>,
    /// The effort of the plan now; none in a free block.
    pub effort: Option<Effort>,
    /// How the ride stands, as far as the held loads to come follow from it; none where no watts can be held.
    pub going: Option<Going>,
    /// What the brake was last told and has taken; none where it was told nothing.
    pub brake: Option<BrakeTarget>,
    /// Whether the brake is released, and by what in a few words; empty where it is not.
    pub released: &'static str,
    /// Whether the trainer's brake can be set now.
    pub brake_in_hand: bool,
    /// What to say of gears, now and for the next block; empty where the brake holds the watts.
    pub gear: GearWords,
    /// The chain behind the newest target.
    pub ledger: Option<Arc<Ledger>>,
    /// What is between the lane and the power now, split between brake and legs; none where the brake holds no watts.
    pub split: Option<Split>,
    /// How the brake answers a command, and whether rises are sent ahead, in a sentence.
    pub brake_answer: String,
    /// How a separate meter corrects the load, in a sentence; none where it does not.
    pub meter_led: Option<String>,
    /// Whether the trainer's flywheel is fixed to the pedals, and whether that is asked.
    pub flywheel: Flywheel,
    /// Today's trim of work, per cent.
    pub trim_work: i32,
    /// Today's trim of recovery, per cent.
    pub trim_recovery: i32,
    /// The last ninety seconds of ink.
    pub ink: Arc<[InkPoint]>,
    /// The cue that stands now, its fields filled.
    pub cue: Option<Arc<str>>,
    /// One sentence that matters now: an error, a guard acting, what is missing.
    pub notice: Option<Arc<str>>,
    /// What waits for an answer.
    pub question: Option<Question>,
    /// What waits for a second press.
    pub armed: Option<Armed>,
    /// Whether the last skip, stretch or cut can still be taken back.
    pub can_undo: bool,
    /// The computer's Bluetooth.
    pub adapter: Adapter,
    /// Every device known, in the order in which they were first heard.
    pub devices: Arc<[DeviceRow]>,
    /// What a device was used for that came back in the ride with other services, and is used no more: it can be taken
    /// again by [`Command::Use`](crate::engine::Command::Use).
    pub changed: Vec<(Role, DeviceId)>,
    /// The trainers that may hold a load since an earlier run of the program, and that are let go before another is taken,
    /// as they are heard; none once a trainer was chosen.
    pub let_go_first: Vec<DeviceId>,
    /// What is missing before a start, each in a sentence; empty where the ride can begin.
    pub missing: Vec<String>,
    /// The recording.
    pub record: RecordState,
    /// Estimated W′ left, joules: an estimate, shown as one.
    pub w_balance: Option<f64>,
    /// Work done, joules.
    pub work: f64,
    /// What the ride came to; only once it is over.
    pub summary: Option<Arc<Summary>>,
    /// What a threshold test came to; only once the ride is over.
    pub test: Option<Arc<TestOutcome>>,
    /// Spin-downs of the trainer in use.
    pub spin_down: SpinDowns,
    /// Whether the cautions were seen and taken on this day, by the rider's own midnight.
    pub cautions_seen_today: bool,
    /// How the recoveries of the chosen session were last ridden.
    pub last_recoveries: Recoveries,
}

/// A device that is heard anew counts as news to the screen once its last sign is so old: its age is shown in whole
/// seconds, and up to two are "now".
const HEARD_ANEW: Span = Span::from_seconds(1);

impl Snapshot {
    /// Whether `newer` has something to show that this one has not: everything counts but the stamp itself, and but a
    /// device heard again within a second.
    pub fn is_outdated_by(&self, newer: &Self) -> bool {
        let heard_anew = |old: &DeviceRow, new: &DeviceRow| match (old.last_heard, new.last_heard) {
            (Some(old), Some(new)) => new.since(old) >= HEARD_ANEW,
            (old, new) => old != new,
        };
        let same_row = |old: &DeviceRow, new: &DeviceRow| {
            let old = DeviceRow {
                last_heard: new.last_heard,
                ..old.clone()
            };
            old == *new
        };
        if self.devices.len() != newer.devices.len() {
            return true;
        }
        let mut rows = self.devices.iter().zip(newer.devices.iter());
        if rows.any(|(old, new)| heard_anew(old, new) || !same_row(old, new)) {
            return true;
        }
        let stamped = Self {
            at: newer.at,
            devices: Arc::clone(&newer.devices),
            ..self.clone()
        };
        stamped != *newer
    }
}
