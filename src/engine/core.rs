//! The pure core: takes `(now, input)`, gives outputs, and reads no clock.
//!
//! Every input is handled in the same order: seconds that are over are written as rows, the input is taken in, the facts
//! are gathered, and then one `match` on the mode decides. Each edge of the mode diagram is a `to_…` method that says
//! why it was taken.

mod brake;
mod close;
mod commands;
mod doubt;
mod due;
mod flywheel;
mod group;
mod heed;
mod held;
mod hung;
mod identify;
mod known;
mod learned;
mod left;
mod log;
mod notes;
mod pause;
mod rows;
mod sources;
mod spin_down;
mod take_up;
mod threshold_test;
mod training;
mod view;
mod world;

use std::collections::{BTreeSet, VecDeque};
use std::sync::Arc;

use crate::control::{Answer, Heed, Identification, Procedures, Targets};
use crate::device::{Adapter, DeviceId, Request};
use crate::engine::command::{Choice, Role};
use crate::engine::input::{Input, Output};
use crate::engine::links::Links;
use crate::engine::notices::Notices;
use crate::engine::rows::Rows;
use crate::engine::snapshot::{Armed, InkPoint, Question, RecordState};
use crate::engine::tally::Tally;
use crate::memory::Memory;
use crate::record::Kept;
use crate::ride::last_like::LastLike;
use crate::ride::pedals::Pedals;
use crate::ride::{Facts, Finish, Lead, Mode, PauseCause, Runner};
use crate::time::{Instant, Span};
use crate::units::BrakeTarget;

/// If nothing was handled for longer than this while the clock ran, the program was held up: that is a pause.
const GAP: Span = Span::from_seconds(2);

/// A button that needs a second press waits this long for it.
const ARMED_FOR: Span = Span::from_seconds(3);

/// A skip, stretch or cut can be taken back for this long.
const UNDO_FOR: Span = Span::from_seconds(10);

/// Ink is kept four times a second for ninety seconds.
const INK_STEP: Span = Span::from_millis(250);
const INK_POINTS: usize = 360;

/// After the end the links get so long to close before the loop ends without them.
const CLOSE_WITHIN: Span = Span::from_seconds(5);
/// The brake's release gets so long of it before the links are closed. It is written at once, but behind a command that
/// the trainer has not answered yet it waits a moment.
const RELEASE_WITHIN: Span = Span::from_seconds(3);

/// Outputs that nobody fetched are bounded: the loop fetches all after each input, so more than this means that there is
/// no loop. Then rows are dropped before requests are.
const MOST_OUTPUTS: usize = 4_096;

/// The core.
#[derive(Debug)]
pub struct Core {
    /// Wall-clock time at the clock's zero, milliseconds since 1970-01-01T00:00:00Z.
    epoch_ms: i64,
    /// How far the rider's own time is ahead of UTC, seconds.
    zone_s: i32,
    choice: Option<Choice>,
    /// The ride that begins is one that was left open.
    take_up: Option<Box<crate::engine::take_up::TakeUp>>,
    mode: Mode,
    links: Links,
    control: Procedures,
    adapter: Adapter,
    ride: Option<Ride>,
    /// The first turn of the pedals starts the ride.
    start_with_pedals: bool,
    /// Whose clock the ride follows.
    group: group::Group,
    handled: Instant,
    notices: Notices,
    record: RecordState,
    /// The folder of the recording, as text; empty before it was made.
    folder: String,
    asked: Asked,
    brake: Option<BrakeTarget>,
    ledger: Option<Arc<crate::ride::Ledger>>,
    /// The trainer is to be told that the session stops, once its brake is let off.
    stop_due: bool,
    /// What is known of the load that the trainer's brake holds.
    load: Load,
    /// How the trainer's brake answers, and of which trainer that is.
    identification: Identification,
    identified: Option<DeviceId>,
    /// The target powers that the trainer took lately.
    targets: Targets,
    /// Whether the trainer acts on what it takes.
    heed: Heed,
    /// Whether rises are sent ahead.
    leads: bool,
    /// Whether this is a forecast: nothing is logged, and how the brake answers is not looked for.
    forecasts: bool,
    memory: Memory,
    /// The roles for which the rider chose a device, or none, since the start: nothing is taken for them by itself.
    chosen: BTreeSet<Role>,
    /// Whether `memory` has changed since it was put out.
    memory_changed: bool,
    /// The trainers whose brakes an earlier run of the program left held, until each is let off.
    left_held: Vec<DeviceId>,
    /// Since when one of them was taken and has not come up.
    left_held_tried: Option<Instant>,
    /// The trainer that was remembered when the program started: it is taken again once those are let off.
    usual_trainer: Option<DeviceId>,
    /// What a device was used for that came back in a ride as another one: the rider may take it again. One for a role.
    changed: Vec<(Role, DeviceId)>,
    /// A link was given up because a write hung on it, and no release was confirmed since.
    gave_up_hung: bool,
    doubts: doubt::Doubts,
    asked_for_control: doubt::AskedForControl,
    spin_down: spin_down::SpinDownState,
    trainer_text: training::TrainerText,
    closing: Option<Closing>,
    /// Whether the log has its head.
    headed: bool,
    outputs: VecDeque<Output>,
}

/// What the brake was last asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Asked {
    Nothing,
    Release,
    Target(BrakeTarget),
}

/// What is known of the load on the brake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Load {
    /// None was set, or the trainer confirmed that it is let off.
    Off,
    /// A target was sent.
    On,
    /// A target was sent, and then the trainer did not answer, refused, or was lost.
    Doubtful,
}

/// The end of everything: release, then links, then done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Closing {
    since: Instant,
    /// The release was written past a command that the trainer has not answered.
    insisted: bool,
    /// The trainer's link hung and is made anew, which takes longer.
    remade: bool,
    links_closed: bool,
    done: bool,
}

/// What belongs to one ride.
#[derive(Debug)]
struct Ride {
    runner: Runner,
    rows: Rows,
    ink: VecDeque<InkPoint>,
    last_like: LastLike,
    ink_due: Instant,
    armed: Option<(Armed, Instant)>,
    undo_until: Option<Instant>,
    question: Option<Question>,
    lap: Option<usize>,
    /// The trainer that the runner knows, and the lap for which its learning was last kept.
    trainer: Option<crate::device::DeviceId>,
    learned_lap: Option<usize>,
    tally: Tally,
    /// How many moments were marked; the last of them has this number.
    marks: u32,
    /// Whose device each quantity last came from.
    sources: crate::engine::links::Sources,
    test: Option<threshold_test::TestWatch>,
}

impl Core {
    /// With nothing chosen. `epoch_ms` is the wall-clock time at the clock's zero, in milliseconds since 1970.
    pub fn new(epoch_ms: i64) -> Self {
        Self {
            epoch_ms,
            zone_s: 0,
            choice: None,
            take_up: None,
            mode: Mode::Idle,
            links: Links::default(),
            control: Procedures::new(),
            adapter: Adapter::Quiet,
            ride: None,
            start_with_pedals: false,
            group: group::Group::default(),
            handled: Instant::ZERO,
            notices: Notices::default(),
            record: RecordState::NotYet,
            folder: String::new(),
            asked: Asked::Nothing,
            brake: None,
            ledger: None,
            stop_due: false,
            load: Load::Off,
            identification: Identification::default(),
            identified: None,
            targets: Targets::default(),
            heed: Heed::default(),
            leads: true,
            forecasts: false,
            memory: Memory::default(),
            chosen: BTreeSet::new(),
            memory_changed: false,
            left_held: Vec::new(),
            left_held_tried: None,
            usual_trainer: None,
            changed: Vec::new(),
            gave_up_hung: false,
            doubts: doubt::Doubts::default(),
            asked_for_control: doubt::AskedForControl::default(),
            spin_down: spin_down::SpinDownState::default(),
            trainer_text: training::TrainerText::default(),
            closing: None,
            headed: false,
            outputs: VecDeque::new(),
        }
    }

    /// Sends nothing ahead of its beat, whatever is known of the brake: for comparisons.
    pub const fn without_lead(&mut self) {
        self.leads = false;
    }

    /// How the trainer's brake answers, as far as it is known.
    pub const fn answer(&self) -> &Answer {
        self.identification.answer()
    }

    /// Where the ride stands.
    pub const fn mode(&self) -> Mode {
        self.mode
    }

    /// Whether the device used for a role is connected and set up.
    pub fn is_up(&self, role: Role) -> bool {
        self.links
            .used_for(role)
            .is_some_and(|id| self.links.is_up(id))
    }

    /// Takes an input. `now` never goes back; an earlier one is taken as the last.
    pub fn handle(&mut self, now: Instant, input: Input) {
        let now = now.max(self.handled);
        self.log_input(now, &input);
        self.notice_gap(now);
        self.age_readings(now);
        self.close_seconds(now);
        self.handled = now;
        match input {
            Input::Wake => self.tend_hung(now),
            Input::Command(command) => self.command(now, command),
            Input::Device(event) => self.device(now, event),
            Input::Slept(span) => self.slept(now, span),
            Input::Recorder(report) => self.recorder(now, report),
            Input::Remembered(memory) => self.remembered_at_start(now, *memory),
            Input::Zone(seconds) => self.zone_s = seconds,
        }
        self.settle(now);
    }

    /// The next output.
    pub fn poll_output(&mut self) -> Option<Output> {
        self.outputs.pop_front()
    }

    fn put(&mut self, output: Output) {
        if self.outputs.len() >= MOST_OUTPUTS {
            let spare = self
                .outputs
                .iter()
                .position(|kept| !matches!(kept, Output::Request(_)));
            match spare {
                Some(at) => {
                    self.outputs.remove(at);
                }
                None => return,
            }
        }
        self.outputs.push_back(output);
    }

    fn keep(&mut self, kept: Kept) {
        self.put(Output::Kept(kept));
    }

    fn request(&mut self, request: Request) {
        self.log_request(&request);
        self.put(Output::Request(request));
    }

    fn utc_ms(&self, now: Instant) -> i64 {
        self.epoch_ms
            .saturating_add(i64::try_from(now.0 / 1_000).unwrap_or(i64::MAX))
    }

    /// Facts first, then one match on the mode.
    fn settle(&mut self, now: Instant) {
        if let Some(event) = self.links.handle_timeout(now) {
            self.link_changed(now, &event);
        }
        let facts = self.facts(now);
        self.hold_rises(now, &facts);
        // What is due is sent only after the demand of this moment: that of the last one would be too old by up to a
        // quarter of a second.
        self.control.expire(now);
        self.control_events(now);
        let facts = self.facts(now);
        if let Some(ride) = &mut self.ride
            && self.mode.under_way()
        {
            ride.runner.see(now, &facts);
        }
        self.tend_test(now, &facts);
        self.tend_sources(now);
        self.tend_doubts(now);
        self.settle_degraded(now, &facts);
        self.tend_known(now);
        self.tend_spin_down(now, &facts);
        match self.mode {
            Mode::Idle | Mode::Connecting | Mode::Ready => self.settle_before(now, &facts),
            Mode::Riding | Mode::Degraded { paused: None, .. } => self.settle_running(now),
            Mode::Paused(cause)
            | Mode::Degraded {
                paused: Some(cause),
                ..
            } => self.settle_paused(now, cause),
            Mode::Finished(_) => {}
        }
        self.ask_brake(now, &facts);
        self.control.handle_timeout(now);
        self.tell_happenings(now);
        self.settle_learned(now);
        self.stand(now, &facts);
        self.expire(now);
        self.close(now);
        while let Some(request) = self.links.poll_request() {
            self.request(request);
        }
        self.write_control();
        if std::mem::take(&mut self.memory_changed) {
            self.put(Output::Remember(Box::new(self.memory.clone())));
        }
    }

    /// What is remembered between rides, to be changed.
    fn remember(&mut self) -> &mut Memory {
        self.memory_changed = true;
        &mut self.memory
    }

    fn facts(&self, now: Instant) -> Facts {
        Facts {
            power: self.links.power(now).reading(now).fresh(),
            cadence: self.links.cadence(now).reading(now).fresh(),
            heart_rate: self.links.heart_rate(now).reading(now).fresh(),
            speed: self.links.speed(now).reading(now).fresh(),
            most_cadence: self.links.most_cadence(now),
            most_power: self.links.most_power(now),
            offer: self.offer(),
            taken: self.control.last_taken(),
            meter: self.links.separate_meter(now).reading(now).fresh(),
            trainer: self.links.trainer_power(now).reading(now).fresh(),
            lead: if self.leads {
                self.identification.answer().lead()
            } else {
                Lead::NONE
            },
        }
    }

    fn settle_before(&mut self, now: Instant, facts: &Facts) {
        let trainer = self.links.used_for(Role::Trainer);
        let waiting =
            trainer.is_some_and(|id| !self.links.is_up(id) && !self.links.is_unusable(id));
        self.mode = match (&self.choice, waiting) {
            (None, _) => Mode::Idle,
            (Some(_), true) => Mode::Connecting,
            (Some(_), false) => Mode::Ready,
        };
        let turning = facts
            .most_cadence
            .is_some_and(|cadence| cadence > crate::ride::pedals::TURNING_CADENCE)
            || facts
                .most_power
                .is_some_and(|power| power > crate::ride::pedals::TURNING_POWER);
        // A group's clock waits for no device: one that is late is taken in on the way.
        let by_clock = self.mode != Mode::Idle && self.group_begins(now);
        let by_pedals = self.mode == Mode::Ready
            && self.start_with_pedals
            && turning
            && !self.group_is_ahead(now);
        if by_clock || by_pedals {
            self.to_riding(now);
        }
    }

    fn settle_running(&mut self, now: Instant) {
        let Some(ride) = &self.ride else { return };
        if ride.runner.is_over(now) {
            self.to_finished(now, Finish::Completed);
            return;
        }
        if self.pause_due().is_some_and(|due| now >= due) {
            self.to_paused(now, now, PauseCause::PedalsStopped);
            self.say(
                now,
                entry!("Paused: the pedals stand still. Turn them to go on.").to_owned(),
            );
        }
    }

    /// Degraded → Riding or Paused, as the clock runs or stands: the brake can be set again.
    fn settle_degraded(&mut self, now: Instant, facts: &Facts) {
        let unreleased = self.still_unreleased(now);
        if let Mode::Degraded { paused, .. } = self.mode
            && self.control.granted()
            && facts.offer.any()
            && !unreleased
        {
            self.mode = paused.map_or(Mode::Riding, Mode::Paused);
            self.event(
                now,
                "brake-back",
                entry!("The brake can be set again: the load builds up from nothing."),
            );
            let words = match paused {
                None => entry!("The brake is back: the load builds up gently."),
                Some(_) => entry!("The brake is back."),
            };
            self.say(now, words.to_owned());
        }
    }

    fn settle_paused(&mut self, now: Instant, cause: PauseCause) {
        let Some(ride) = &self.ride else { return };
        let by_itself = matches!(cause, PauseCause::PedalsStopped | PauseCause::Gap);
        if by_itself && ride.runner.pedals() == Pedals::Turning {
            self.to_resumed(now);
        }
    }

    fn expire(&mut self, now: Instant) {
        self.notices.settle(now);
        if let Some(ride) = &mut self.ride {
            if ride.armed.is_some_and(|(_, until)| now >= until) {
                ride.armed = None;
            }
            if ride.undo_until.is_some_and(|until| now >= until) {
                ride.undo_until = None;
                ride.runner.forget_undo();
            }
        }
    }
}
