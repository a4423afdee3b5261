//! A ride that a killed program left open, taken up again: what its recording tells is put together here, and handed to
//! the core as a command, so that the log of what follows holds all that it begins with.

use serde::{Deserialize, Serialize};

use crate::device::DeviceId;
use crate::engine::command::{Choice, Command, Role};
use crate::engine::replay::is_the_writers_own;
use crate::engine::rows::{CameTo, ROW};
use crate::engine::snapshot::Question;
use crate::engine::tally::Tally;
use crate::plan::{self, Plan};
use crate::record::{EventLine, KeptLines, NoteLine, RideStart, Row};
use crate::ride::{LeftAt, Runner, Timeline};
use crate::rider;
use crate::time::{Instant, Span};

/// So many presses of trim are believed of a recording at most.
const MOST_TRIM: i32 = 10;

/// Where a ride goes on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TakeUp {
    /// The session, the rider's figures of the day, and who set the load in the last row.
    pub choice: Choice,
    /// The name of the ride's folder, among the rides.
    pub ride: String,
    /// Which part of the ride this is, from 2: its raw log is a file of its own.
    pub part: u32,
    /// What is in the files so far.
    pub kept: KeptLines,
    /// Seconds of the session's clock in the last row.
    pub plan_s: f64,
    /// How much of the session was passed over to be with a group.
    jumped: Span,
    /// How long each lap is today.
    lengths: Vec<Span>,
    /// Presses of trim, of work and of recovery.
    trims: (i32, i32),
    /// The trainer that was ridden.
    #[serde(default)]
    trainer: Option<DeviceId>,
    /// The level that was set, as a share of the trainer's range.
    #[serde(default)]
    level: Option<f64>,
    /// Whether the brake was let off by hand.
    #[serde(default)]
    by_hand: bool,
    /// Whether a heart rate that limited the load was lost.
    #[serde(default)]
    heart_lost: bool,
    /// Wall-clock time of the last row, milliseconds since 1970-01-01T00:00:00Z.
    last_ms: i64,
    came_to: CameTo,
    tally: Tally,
    /// The number of the last moment that was marked.
    #[serde(default)]
    marks: u32,
}

impl TakeUp {
    /// From what a recording holds. `ride` is the name of its folder, `part` the number of the part that begins.
    ///
    /// # Errors
    /// A sentence where it cannot be gone on with: it is over, nothing of it was ridden, it is a threshold test, or its
    /// session or rider cannot be read.
    pub fn of(
        ride: &str,
        part: u32,
        start: &RideStart,
        rows: &[Row],
        events: &[EventLine],
        notes: &[NoteLine],
    ) -> Result<Self, String> {
        let refused = |why: &str| {
            kept!(
                "{ride} cannot be gone on with: {why}. What was ridden stays as it is; close the recording, and choose a session anew."
            )
        };
        let mut plan = plan::read(&start.session_text)
            .plan
            .ok_or_else(|| refused(entry!("its session cannot be read")))?;
        plan.fitted = start.fitted.as_ref().map(|fitted| fitted.fitting.clone());
        let rider = rider::read(&start.rider_text)
            .0
            .ok_or_else(|| refused(entry!("its rider's figures cannot be read")))?;
        // The text was made by the program, so any tear shows; and nobody rides on above their caps.
        let figures = (rider.threshold, rider.power_cap, rider.sprint_cap);
        if figures != (start.threshold, start.power_cap, start.sprint_cap)
            || rider::to_toml(&rider) != *start.rider_text
        {
            return Err(refused(entry!(
                "its rider.toml is damaged, and the caps in it are not to be trusted"
            )));
        }
        if events.iter().any(|event| event.what == "end") {
            return Err(refused(entry!("it was ridden to its end")));
        }
        if plan.test.is_some() {
            // Its steps may have been over for good, and a load that could not be borne is not set again.
            return Err(refused(entry!(
                "it is a threshold test, of which a part proves nothing"
            )));
        }
        let last = rows.last().ok_or_else(|| {
            refused(entry!("the program ended before a second of it was kept, so there is nothing to go on from"))
        })?;
        let (timeline, jumps) = timeline(&plan, events);
        let jumped = jumps.last().map_or(Span::ZERO, |(_, jumped)| *jumped);
        let mut tally = Tally::default();
        let mut to_come = jumps.iter().peekable();
        for row in rows {
            // A jump was kept before the second that follows it.
            while let Some((_, jumped)) =
                to_come.next_if(|(ridden, _)| ROW * row.ridden_s > *ridden)
            {
                tally.jump(*jumped);
            }
            tally.row(row, row.brake.is_some() || row.released.is_some());
        }
        for note in notes {
            if let (Some(rating), "rating") = (note.rating, &*note.what) {
                let block = note.block.and_then(|block| block.checked_sub(1));
                tally.rate(
                    block.map_or(Question::RateSession, |block| {
                        Question::RateBlock(block as usize)
                    }),
                    rating,
                );
            }
        }
        let own = |event: &&EventLine| !is_the_writers_own(&event.what);
        let kept = KeptLines {
            rows: last.ridden_s,
            events: events.iter().filter(own).count() as u64,
            notes: notes.len() as u64,
        };
        if ROW * kept.rows + jumped >= timeline.length() {
            return Err(refused(entry!("all of it was ridden")));
        }
        Ok(Self {
            choice: Choice {
                plan: plan.into(),
                rider: rider.into(),
                mode: last.mode,
            },
            ride: ride.to_owned(),
            part,
            kept,
            plan_s: last.plan_s,
            jumped,
            lengths: timeline.laps().iter().map(|lap| lap.length).collect(),
            trims: (trim(events, "work "), trim(events, "recovery ")),
            trainer: start
                .devices
                .iter()
                .find(|(role, ..)| role == Role::Trainer.key())
                .map(|(_, _, address, _)| DeviceId::new(address)),
            level: level(events),
            by_hand: stands(events, "brake-off", &["brake-on"]),
            heart_lost: stands(events, "heart-lost", &["heart-back", "heart-waived"]),
            last_ms: last.utc_ms,
            came_to: CameTo::of(rows),
            tally,
            marks: events.iter().filter_map(EventLine::mark).max().unwrap_or(0),
        })
    }

    /// What holds the load back at first, for the screen.
    pub const fn held_back(&self) -> &'static str {
        match (self.by_hand, self.heart_lost) {
            (true, _) => entry!("The brake stays off until you set it again."),
            (false, true) => entry!("The load stays a recovery's until your heart rate is back."),
            (false, false) => entry!("The load builds up gently."),
        }
    }

    /// The command that tells the core.
    pub fn command(self) -> Command {
        Command::TakeUp(Box::new(self))
    }

    /// What was ridden so far.
    pub fn ridden(&self) -> Span {
        ROW * self.kept.rows
    }

    /// What is left of the session as it stands today.
    pub fn left(&self) -> Span {
        let length: Span = self.lengths.iter().copied().sum();
        length.less(self.ridden() + self.jumped)
    }

    /// The same ride by another rider, at another moment of the wall clock, on a trainer of another name.
    pub fn disguise(
        &mut self,
        choice: Choice,
        moment: impl Fn(i64) -> i64,
        other: impl Fn(&DeviceId) -> DeviceId,
    ) {
        self.choice = choice;
        self.last_ms = moment(self.last_ms);
        self.trainer = self.trainer.as_ref().map(other);
    }

    /// Milliseconds from the last row to `utc_ms`, by the wall clock.
    pub fn gap_ms(&self, utc_ms: i64) -> i64 {
        utc_ms.saturating_sub(self.last_ms).max(0)
    }

    /// What the rows so far came to.
    pub const fn came_to(&self) -> &CameTo {
        &self.came_to
    }

    /// The number of the last moment that was marked; 0 where none was.
    pub const fn marks(&self) -> u32 {
        self.marks
    }

    /// What was counted so far.
    pub fn tally(&self) -> Tally {
        self.tally.clone()
    }

    /// The ride under way again on this trainer: its brake is released, and its clock begins to run at `now`.
    pub fn runner(&self, now: Instant, trainer: Option<&DeviceId>) -> Runner {
        // A share of one trainer's range says nothing of another's.
        let same = trainer.is_some() && self.trainer.as_ref() == trainer;
        let Choice { plan, rider, mode } = &self.choice;
        let mut runner = Runner::new(plan.clone(), rider.clone(), *mode, now);
        let left = LeftAt {
            ridden: self.ridden(),
            jumped: self.jumped,
            lengths: &self.lengths,
            trims: self.trims,
            level: self.level.filter(|_| same),
            by_hand: self.by_hand,
            heart_lost: self.heart_lost,
        };
        runner.take_up(now, &left);
        runner
    }
}

/// The devices that a recording names, each with what it was used for.
pub fn devices(start: &RideStart) -> Vec<(Role, DeviceId)> {
    let role = |key: &str| Role::ALL.into_iter().find(|role| role.key() == key);
    let named = start.devices.iter();
    named
        .filter_map(|(key, _, address, _)| Some((role(key)?, DeviceId::new(address))))
        .collect()
}

/// Whether the trainer that a recording names was a model.
pub fn on_practice(start: &RideStart) -> bool {
    let mut named = start.devices.iter();
    named.any(|(key, _, _, simulated)| *simulated && key == Role::Trainer.key())
}

/// The laps as the hand left them, and how much of the session was passed over after which time ridden.
fn timeline(plan: &Plan, events: &[EventLine]) -> (Timeline, Vec<(Span, Span)>) {
    let mut timeline = Timeline::new(plan);
    let mut jumps: Vec<(Span, Span)> = Vec::new();
    for event in events {
        let ridden = Span::from_seconds_f64(event.ridden_s);
        let session = ridden + jumps.last().map_or(Span::ZERO, |(_, jumped)| *jumped);
        match &*event.what {
            "skip" => timeline.skip(session),
            "stretch" => {
                timeline.stretch(plan, session);
            }
            "cut" => {
                timeline.cut(plan, session);
            }
            "undo" => {
                timeline.undo();
            }
            "group" | "rejoin" => {
                // The session stands where the plan as it was written says, and all of it is as written again.
                timeline = Timeline::new(plan);
                jumps.push((ridden, Span::from_seconds_f64(event.plan_s).less(ridden)));
            }
            _ => {}
        }
    }
    (timeline, jumps)
}

/// Whether the last of these events is the one that begins it.
fn stands(events: &[EventLine], begins: &str, ends: &[&str]) -> bool {
    let last = events
        .iter()
        .rev()
        .find(|event| event.what == begins || ends.contains(&&*event.what));
    last.is_some_and(|event| event.what == begins)
}

/// The level that an event last told, such as `34 % of the range`, as a share.
fn level(events: &[EventLine]) -> Option<f64> {
    let told = events.iter().rev().find(|event| event.what == "level")?;
    let percent: f64 = told.detail.split_once(" %")?.0.parse().ok()?;
    Some((percent / 100.0).clamp(0.0, 1.0))
}

/// The presses of trim that an event last told, such as `work +4 %`; none where it was never pressed.
fn trim(events: &[EventLine], of: &str) -> i32 {
    let told = events
        .iter()
        .rev()
        .filter(|event| event.what == "trim")
        .find_map(|event| event.detail.strip_prefix(of)?.strip_suffix(" %"));
    let percent: i32 = told.and_then(|told| told.parse().ok()).unwrap_or(0);
    (percent / 2).clamp(-MOST_TRIM, MOST_TRIM)
}
