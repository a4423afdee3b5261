//! The procedures of the Fitness Machine control point, one at a time.
//!
//! Fitness Machine Profile 1.0, 4.4.14 and 4.7, and Service 1.0, 4.16. In short: nothing before *request control* was
//! granted on this link; one procedure in flight; success comes only from the indication; thirty seconds without one
//! end all control on this link.
//!
//! ```text
//!                    ┌── 05, FF, reset ──┐
//! link_up → Asking → Held ──────────────→ Lost → (a pause) → Asking
//!              └─ refused four times, or once after FF, or unpaired → Refused → ask_again → Asking
//! any → TimedOut (until the next link_up)         any → Down (link_down)
//! ```

mod next;
mod outcome;
mod spin_down;
mod state;

use std::collections::VecDeque;

use self::state::{Control, Phase, Purpose, Release, Running, Width};
use super::abilities::{Abilities, ResistanceForm, Sort};
use super::event::{ControlEvent, Loss, Refusal, WriteFailure};
use super::pace::Pace;
use crate::gatt::control_point::{Halt, Response, ResultCode, SpinDown};
use crate::gatt::status::{SpinDownStatus, Status};
use crate::time::{Instant, Span};
use crate::units::BrakeTarget;

/// Without an answer for this long, counted from the write response, a procedure has timed out (Fitness Machine Profile
/// 1.0, 4.4.14.3). A write that is not even acknowledged is given the same, as ATT does.
const ANSWER_WITHIN: Span = Span::from_seconds(30);

/// A release that is not confirmed within this is said.
const RELEASE_WITHIN: Span = Span::from_seconds(1);

/// A busy trainer (ATT error FE) is asked again after this, so often.
const BUSY_PAUSE: Span = Span::from_millis(200);
const BUSY_RETRIES: u8 = 2;

/// How long a caller may take to subscribe again after ATT error FD.
const SUBSCRIBE_WITHIN: Span = Span::from_seconds(10);

/// Events that wait to be polled. The caller polls after every input, and no input makes ten; when full the oldest is
/// dropped.
const MOST_EVENTS: usize = 64;

/// The machine. After every input poll the writes, the events and the next wake-up.
#[derive(Clone, Debug)]
pub struct Procedures {
    control: Control,
    abilities: Abilities,
    running: Option<Running>,
    outgoing: Option<Vec<u8>>,
    events: VecDeque<ControlEvent>,
    pace: Pace,
    release: Release,
    release_due: Option<Instant>,
    /// Whether the second within which a release is to be confirmed has begun.
    release_timed: bool,
    /// Whether it was said on this link that the trainer has no release at all.
    said_unreleasable: bool,
    release_on_return: bool,
    last_taken: Option<BrakeTarget>,
    /// A release was written since.
    taken_in_doubt: bool,
    /// Answered as unsupported; and refused so often that it is no longer tried. As many as there are sorts.
    unsupported: Vec<Sort>,
    given_up: Vec<Sort>,
    /// The last wanted target that was turned away here: said once.
    turned_away: Option<BrakeTarget>,
    width: Width,
    /// Refusals of control since a target was last taken.
    refusals: usize,
    /// Control was withdrawn on this link, so that it is asked for once more and then only by the rider.
    withdrawn: bool,
    /// The request for control was not acknowledged on an earlier link, so that only the rider asks for it.
    unacknowledged: bool,
    /// Op 07 is to be sent now.
    start_wanted: bool,
    /// Op 07 is to be sent before the next target.
    start_first: bool,
    /// It was answered since control was granted.
    has_started: bool,
    stop_wanted: bool,
    /// Op 13 is to be sent, once the brake is let off.
    spin_down_wanted: Option<SpinDown>,
    spins_down: bool,
}

impl Default for Procedures {
    fn default() -> Self {
        Self::new()
    }
}

impl Procedures {
    /// Without a link.
    pub fn new() -> Self {
        Self {
            control: Control::Down,
            abilities: Abilities::default(),
            running: None,
            outgoing: None,
            events: VecDeque::new(),
            pace: Pace::default(),
            release: Release::Idle,
            release_due: None,
            release_timed: false,
            said_unreleasable: false,
            release_on_return: false,
            last_taken: None,
            taken_in_doubt: false,
            unsupported: Vec::new(),
            given_up: Vec::new(),
            turned_away: None,
            width: Width::Octet,
            refusals: 0,
            withdrawn: false,
            unacknowledged: false,
            start_wanted: false,
            start_first: false,
            has_started: false,
            stop_wanted: false,
            spin_down_wanted: None,
            spins_down: false,
        }
    }

    /// A new link whose subscriptions stand, indications of the control point among them. Control is asked for at once,
    /// unless the trainer takes no targets at all or did not acknowledge an earlier request. If an earlier link was lost after a target was sent, the first thing
    /// sent on this one is a release.
    pub fn link_up(&mut self, now: Instant, abilities: Abilities) {
        self.link_down(now);
        let release_on_return = self.release_on_return;
        let unacknowledged = self.unacknowledged;
        let events = std::mem::take(&mut self.events);
        let width = match abilities.resistance_form {
            ResistanceForm::Word => Width::Word,
            // What was learned of a trainer holds for its next link.
            ResistanceForm::Octet if abilities == self.abilities => self.width,
            ResistanceForm::Octet => Width::Octet,
        };
        *self = Self {
            control: Control::Without {
                ask_at: (abilities.any() && !unacknowledged).then_some(now),
            },
            width,
            abilities,
            events,
            release_on_return,
            unacknowledged,
            start_wanted: true,
            ..Self::new()
        };
        if release_on_return {
            self.release(now);
        }
        self.pump(now);
    }

    /// The link is gone: control, what was in flight and what was wanted are gone with it.
    pub fn link_down(&mut self, _now: Instant) {
        if let Some(running) = self.running.take()
            && let Purpose::Target(target) = running.purpose
            && !matches!(running.phase, Phase::Answered(_))
        {
            self.refuse(target, Refusal::LinkLost);
        }
        self.forget();
        self.control = Control::Down;
    }

    /// The next link is to another trainer: nothing that was learned of this one holds for it.
    pub fn other_trainer(&mut self, now: Instant) {
        self.link_down(now);
        self.unacknowledged = false;
    }

    /// Asks for this target: it replaces any that waits. It must lie in the trainer's range and on its step, as the
    /// ledger leaves it; otherwise it is refused by an event and nothing is sent. Without a link it is forgotten, and
    /// after [`ControlEvent::Granted`] it is to be said again. May be called as often as one likes.
    pub fn want(&mut self, now: Instant, target: BrakeTarget) {
        self.want_on_the_way(now, target, false);
    }

    /// The same for a target that is `on_its_way`: in a ramp whose end is asked for by [`want`](Self::want). Then a
    /// change that is not worth a command waits for the next one, however slow the ramp.
    pub fn want_on_the_way(&mut self, now: Instant, target: BrakeTarget, on_its_way: bool) {
        if !self.is_up() {
            return;
        }
        let sort = Sort::of(target);
        let why = if !self.takes(sort) {
            Some(Refusal::NotOffered)
        } else if !self.abilities.accepts(target) {
            Some(Refusal::OutsideRange)
        } else {
            None
        };
        if let Some(why) = why {
            if self.turned_away != Some(target) {
                self.turned_away = Some(target);
                self.refuse(target, why);
            }
            return;
        }
        self.turned_away = None;
        self.pace.want(now, target, on_its_way);
        self.pump(now);
    }

    /// Whether a target is known to be no rise: what the trainer last confirmed is of its sort and not lower.
    pub fn lowers(&self, target: BrakeTarget) -> bool {
        self.last_taken()
            .is_some_and(|taken| taken.same_sort(target) && target.value() <= taken.value())
    }

    /// A target that waits, be it for its turn or to be written again, is forgotten, unless it is known to be no rise.
    pub fn forget_rise(&mut self) {
        if let Some(running) = &self.running
            && let Purpose::Target(target) = running.purpose
            && matches!(running.phase, Phase::Busy(_) | Phase::Subscribing(_))
            && !self.lowers(target)
        {
            self.running = None;
        }
        if self
            .pace
            .wanted()
            .is_some_and(|wanted| !self.lowers(wanted))
        {
            self.pace.forget_wanted();
        }
    }

    /// Lets the brake off: the lowest target power, else the lowest resistance level. What was wanted is forgotten. It
    /// goes out as soon as the procedure in flight ends. A second call while one is under way changes nothing.
    pub fn release(&mut self, now: Instant) {
        if !self.is_up() {
            return;
        }
        self.pace.forget_wanted();
        if let Release::Pending { insisted, .. } = &mut self.release {
            *insisted = true;
        }
        if self.release == Release::Idle {
            if self.release_target(None).is_some() {
                self.release = Release::Pending {
                    tried: None,
                    not_before: now,
                    round: 0,
                    insisted: true,
                };
                self.release_timed = self.granted();
                self.release_due = self.release_timed.then_some(now + RELEASE_WITHIN);
            } else if !self.said_unreleasable {
                self.said_unreleasable = true;
                self.say(ControlEvent::ReleaseRefused);
            }
        }
        self.drop_what_is_not_to_be_written_again();
        self.pump(now);
    }

    /// Ends the trainer's own session (op 08 01), after a release, which is sent first if the brake
    /// is not let off yet. Only for the end of a ride.
    pub fn stop(&mut self, now: Instant) {
        if self.is_up() {
            self.stop_wanted = true;
            self.release(now);
        }
    }

    /// Starts the trainer's own session, or resumes it after its stop or pause button (op 07), before the next target.
    /// Done unasked once after control was granted, since some trainers let no target act before.
    pub fn start(&mut self, now: Instant) {
        if self.is_up() {
            self.start_wanted = true;
            self.pump(now);
        }
    }

    /// Asks for control again after [`ControlEvent::Refused`] or a loss, as the rider wished.
    pub fn ask_again(&mut self, now: Instant) {
        if let Control::Without { .. } = self.control
            && self.abilities.any()
        {
            self.refusals = 0;
            self.withdrawn = false;
            self.unacknowledged = false;
            self.control = Control::Without { ask_at: Some(now) };
            self.pump(now);
        }
    }

    /// The answer to the write that was last polled.
    pub fn written(&mut self, now: Instant, outcome: Result<(), WriteFailure>) {
        let Some(running) = &mut self.running else {
            return;
        };
        match (running.phase, outcome) {
            (Phase::Answered(_), _) => self.running = None,
            (Phase::Writing(_), Ok(())) => running.phase = Phase::Waiting(now),
            (Phase::Writing(_), Err(WriteFailure::Att(0xFE))) if running.busy < BUSY_RETRIES => {
                running.busy += 1;
                running.phase = Phase::Busy(now + BUSY_PAUSE);
            }
            (Phase::Writing(_), Err(WriteFailure::Att(0xFD))) if !running.subscribed_again => {
                running.subscribed_again = true;
                running.phase = Phase::Subscribing(now + SUBSCRIBE_WITHIN);
                self.say(ControlEvent::SubscribeAgain);
            }
            (Phase::Writing(_), Err(WriteFailure::TimedOut)) => self.time_out(),
            (Phase::Writing(_), Err(failure)) => {
                let purpose = running.purpose;
                self.running = None;
                self.failed(now, purpose, Refusal::Write(failure));
            }
            // A second response to the same write, or one to a write that was not made.
            (Phase::Waiting(_) | Phase::Busy(_) | Phase::Subscribing(_), _) => {}
        }
        self.drop_what_is_not_to_be_written_again();
        self.pump(now);
    }

    /// The subscription that [`ControlEvent::SubscribeAgain`] asked for was answered.
    pub fn subscribed(&mut self, now: Instant, outcome: Result<(), WriteFailure>) {
        if let Some(running) = &mut self.running
            && let Phase::Subscribing(_) = running.phase
        {
            match outcome {
                Ok(()) => running.phase = Phase::Busy(now),
                Err(failure) => {
                    let purpose = running.purpose;
                    self.running = None;
                    self.failed(now, purpose, Refusal::Write(failure));
                }
            }
            self.pump(now);
        }
    }

    /// An indication of the control point.
    pub fn indicated(&mut self, now: Instant, bytes: &[u8]) {
        let Some(running) = &mut self.running else {
            self.say(ControlEvent::LateAnswer);
            return;
        };
        let Ok(response) = Response::decode(bytes) else {
            self.say(ControlEvent::BadAnswer);
            return;
        };
        let awaited = matches!(running.phase, Phase::Writing(_) | Phase::Waiting(_));
        if !awaited || running.bytes.first() != Some(&response.op) {
            let event = if awaited {
                ControlEvent::BadAnswer
            } else {
                ControlEvent::LateAnswer
            };
            self.say(event);
            return;
        }
        let purpose = running.purpose;
        match running.phase {
            Phase::Writing(since) => running.phase = Phase::Answered(since),
            _ => self.running = None,
        }
        if let ResultCode::Other(_) = response.result {
            self.say(ControlEvent::BadAnswer);
        }
        match response.result {
            ResultCode::Success => self.succeeded(purpose, &response),
            result => self.failed(now, purpose, Refusal::Result(result)),
        }
        self.pump(now);
    }

    /// A report of Fitness Machine Status.
    pub fn status(&mut self, now: Instant, status: &Status) {
        if !self.is_up() {
            return;
        }
        match status {
            Status::ControlLost => {
                if self.granted() {
                    self.lose(now, Loss::Withdrawn);
                }
            }
            Status::Reset => {
                if self.granted() {
                    self.lose(now, Loss::Reset);
                }
            }
            Status::StoppedOrPaused(Halt::Pause) => self.say(ControlEvent::TrainerPaused),
            Status::StoppedOrPaused(_) => self.say(ControlEvent::TrainerStopped),
            Status::StoppedBySafetyKey => self.say(ControlEvent::SafetyKey),
            Status::StartedOrResumed => self.say(ControlEvent::TrainerStarted),
            Status::SpinDown(SpinDownStatus::Requested) => self.say(ControlEvent::SpinDownAsked),
            Status::SpinDown(how) => self.spin_down_said(*how),
            other => {
                if let Some(target) = other.target() {
                    self.changed_elsewhere(now, target);
                }
            }
        }
        self.pump(now);
    }

    /// Deals with whatever is due at `now`; harmless when nothing is.
    pub fn handle_timeout(&mut self, now: Instant) {
        self.expire(now);
        self.pump(now);
    }

    /// The octets to write to the control point now, with response. Its answer is to be given to
    /// [`written`](Self::written).
    pub fn poll_write(&mut self) -> Option<Vec<u8>> {
        self.outgoing.take()
    }

    /// The next event.
    pub fn poll_event(&mut self) -> Option<ControlEvent> {
        self.events.pop_front()
    }

    /// When [`handle_timeout`](Self::handle_timeout) is next to be called.
    pub fn poll_timeout(&self) -> Option<Instant> {
        let phase = self.running.as_ref().map(|running| match running.phase {
            Phase::Writing(since) | Phase::Waiting(since) | Phase::Answered(since) => {
                since + ANSWER_WITHIN
            }
            Phase::Busy(at) | Phase::Subscribing(at) => at,
        });
        let idle = if self.running.is_some() {
            None
        } else {
            self.next_at()
        };
        [phase, idle, self.release_due].into_iter().flatten().min()
    }

    /// Whether control is held on this link.
    pub fn granted(&self) -> bool {
        self.control == Control::Held
    }

    /// Whether a procedure timed out on this link, so that only a new link brings control back.
    pub fn timed_out(&self) -> bool {
        self.control == Control::TimedOut
    }

    /// What the trainer last confirmed, or was set to by someone else, on this link; a release too. Nothing from a
    /// release that was written until something is confirmed.
    pub fn last_taken(&self) -> Option<BrakeTarget> {
        self.last_taken.filter(|_| !self.taken_in_doubt)
    }

    /// When a target or release was last written.
    pub const fn last_sent(&self) -> Option<Instant> {
        self.pace.last_sent()
    }

    /// Whether a procedure is in flight.
    pub const fn in_flight(&self) -> bool {
        self.running.is_some()
    }

    /// Since when a command to the brake has waited for the trainer's answer, written or acknowledged.
    pub fn unanswered_since(&self) -> Option<Instant> {
        let running = self.running.as_ref()?;
        match (running.purpose, running.phase) {
            (Purpose::Target(_), Phase::Writing(since) | Phase::Waiting(since)) => Some(since),
            _ => None,
        }
    }

    /// Whether the brake is let off: the release was confirmed, and nothing was sent since.
    pub fn released(&self) -> bool {
        self.release == Release::Done
    }

    /// Whether a release is under way.
    pub const fn releasing(&self) -> bool {
        matches!(self.release, Release::Pending { .. })
    }

    /// Whether this sort of target is offered and was not found out to be unsupported.
    pub fn takes(&self, sort: Sort) -> bool {
        self.abilities.range(sort).is_some()
            && !self.unsupported.contains(&sort)
            && !self.given_up.contains(&sort)
    }

    /// What this trainer can be told.
    pub const fn abilities(&self) -> &Abilities {
        &self.abilities
    }
}
