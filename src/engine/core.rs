//! The pure core: takes `(now, input)`, gives outputs, and reads no clock.
//!
//! Every input is handled in the same order: seconds that are over are written as rows, the input is taken in, the facts
//! are gathered, and then one `match` on the mode decides. Each edge of the mode diagram is a `to_…` method that says
//! why it was taken.

mod brake;
mod commands;
mod notes;
mod view;

use std::collections::VecDeque;
use std::sync::Arc;

use crate::control::Procedures;
use crate::device::{Adapter, Event, Request};
use crate::engine::command::{Choice, Role};
use crate::engine::input::{Input, Output, Recorder};
use crate::engine::links::{LinkEvent, Links};
use crate::engine::rows::Rows;
use crate::engine::snapshot::{Armed, InkPoint, Question, RecordState};
use crate::gatt::{Status, Uuid16, uuid16};
use crate::plan::Kind;
use crate::record::{Kept, Row};
use crate::ride::pedals::Pedals;
use crate::ride::{Cause, Facts, Finish, Mode, PauseCause, Runner};
use crate::rider::PauseAfter;
use crate::time::{Instant, Span};
use crate::units::BrakeTarget;

/// If nothing was handled for longer than this while the clock ran, the program was held up: that is a pause.
const GAP: Span = Span::from_seconds(2);

/// A button that needs a second press waits this long for it.
const ARMED_FOR: Span = Span::from_seconds(3);

/// A skip, stretch or cut can be taken back for this long.
const UNDO_FOR: Span = Span::from_seconds(10);

/// A notice stands this long.
const NOTICE_FOR: Span = Span::from_seconds(8);

/// No pause by still pedals so close to a sprint.
const NEAR_SPRINT: Span = Span::from_seconds(10);

/// Ink is kept four times a second for ninety seconds.
const INK_STEP: Span = Span::from_millis(250);
const INK_POINTS: usize = 360;

/// After the end the links get so long to close before the loop ends without them.
const CLOSE_WITHIN: Span = Span::from_seconds(5);
/// The brake's release gets so long of it before the links are closed.
const RELEASE_WITHIN: Span = Span::from_seconds(1);

/// Outputs that nobody fetched are bounded: the loop fetches all after each input, so more than this means that there is
/// no loop. Then rows are dropped before requests are.
const MOST_OUTPUTS: usize = 4_096;

/// The core.
#[derive(Debug)]
pub struct Core {
    /// Wall-clock time at the clock's zero, milliseconds since 1970-01-01T00:00:00Z.
    epoch_ms: i64,
    choice: Option<Choice>,
    mode: Mode,
    links: Links,
    control: Procedures,
    adapter: Adapter,
    ride: Option<Ride>,
    /// The first turn of the pedals starts the ride.
    start_with_pedals: bool,
    handled: Instant,
    notice: Option<(Instant, Arc<str>)>,
    record: RecordState,
    /// The folder of the recording, as text; empty before it was made.
    folder: String,
    asked: Asked,
    brake: Option<BrakeTarget>,
    ledger: Option<Arc<crate::ride::Ledger>>,
    closing: Option<Closing>,
    outputs: VecDeque<Output>,
}

/// What the brake was last asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Asked {
    Nothing,
    Release,
    Target(BrakeTarget),
}

/// The end of everything: release, then links, then done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Closing {
    since: Instant,
    links_closed: bool,
    done: bool,
}

/// What belongs to one ride.
#[derive(Debug)]
struct Ride {
    runner: Runner,
    rows: Rows,
    ink: VecDeque<InkPoint>,
    ink_due: Instant,
    armed: Option<(Armed, Instant)>,
    undo_until: Option<Instant>,
    question: Option<Question>,
    lap: Option<usize>,
}

impl Core {
    /// With nothing chosen. `epoch_ms` is the wall-clock time at the clock's zero, in milliseconds since 1970.
    pub fn new(epoch_ms: i64) -> Self {
        Self {
            epoch_ms,
            choice: None,
            mode: Mode::Idle,
            links: Links::default(),
            control: Procedures::new(),
            adapter: Adapter::Quiet,
            ride: None,
            start_with_pedals: false,
            handled: Instant::ZERO,
            notice: None,
            record: RecordState::NotYet,
            folder: String::new(),
            asked: Asked::Nothing,
            brake: None,
            ledger: None,
            closing: None,
            outputs: VecDeque::new(),
        }
    }

    /// Where the ride stands.
    pub const fn mode(&self) -> Mode {
        self.mode
    }

    /// Takes an input. `now` never goes back; an earlier one is taken as the last.
    pub fn handle(&mut self, now: Instant, input: Input) {
        let now = now.max(self.handled);
        self.keep(Kept::Raw(input.to_raw(now)));
        self.notice_gap(now);
        self.age_readings(now);
        self.close_seconds(now);
        self.handled = now;
        match input {
            Input::Wake => {}
            Input::Command(command) => self.command(now, command),
            Input::Device(event) => self.device(now, event),
            Input::Slept(span) => self.slept(now, span),
            Input::Recorder(report) => self.recorder(now, report),
        }
        self.settle(now);
    }

    /// When [`handle`](Self::handle) next wants a [`Input::Wake`].
    pub fn poll_timeout(&self) -> Option<Instant> {
        let now = self.handled;
        let mut times = vec![self.links.poll_timeout(now), self.control.poll_timeout()];
        if let Some(ride) = &self.ride
            && self.mode.under_way()
        {
            times.push(ride.runner.poll_timeout(now));
            times.push(ride.runner.clock().reaches(ride.rows.due()));
            times.push(self.mode.runs().then_some(ride.ink_due));
            times.push(ride.armed.map(|(_, until)| until));
            times.push(ride.undo_until);
            times.push(self.pause_due());
        }
        times.push(self.notice.as_ref().map(|(until, _)| *until));
        if let Some(closing) = &self.closing
            && !closing.done
        {
            let next = if closing.links_closed {
                CLOSE_WITHIN
            } else {
                RELEASE_WITHIN
            };
            times.push(Some(closing.since + next));
        }
        // A deadline that has passed and is still named would spin the loop: never earlier than a hair from now.
        times
            .into_iter()
            .flatten()
            .min()
            .map(|due| due.max(now + Span(1)))
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
        self.put(Output::Request(request));
    }

    fn utc_ms(&self, now: Instant) -> i64 {
        self.epoch_ms
            .saturating_add(i64::try_from(now.0 / 1_000).unwrap_or(i64::MAX))
    }

    /// The program was held up: the clock stood from the last input on.
    fn notice_gap(&mut self, now: Instant) {
        if self.mode.runs() && now.since(self.handled) > GAP {
            let gap = now.since(self.handled);
            let at = self.handled;
            self.to_paused(at, PauseCause::Gap);
            self.stand(at, &Facts::default());
            let detail = format!(
                "Nothing was handled for {:.1} s: the clock stood. Turn the pedals to go on.",
                gap.seconds()
            );
            self.event(now, "gap", &detail);
            self.say(now, detail);
        }
    }

    /// A value that grew stale since the last input stood only until then, however late this input comes.
    fn age_readings(&mut self, now: Instant) {
        let mut from = self.handled;
        while let Some(at) = self.links.next_ageing(from).filter(|at| *at <= now) {
            self.close_seconds(at);
            let facts = self.facts(at);
            self.hold_rises(at, &facts);
            self.stand(at, &facts);
            from = at;
        }
    }

    fn slept(&mut self, now: Instant, span: Span) {
        // The monotonic clock stood while the wall clock went on.
        self.epoch_ms = self
            .epoch_ms
            .saturating_add(i64::try_from(span.0 / 1_000).unwrap_or(0));
        // Readings that seem fresh are from before the sleep, and what the brake holds is not known any more.
        self.links.lose_readings();
        self.asked = Asked::Nothing;
        if let Some(ride) = &mut self.ride {
            ride.runner.brake_unknown();
        }
        if self.mode.runs() && span > GAP {
            self.to_paused(now, PauseCause::Gap);
            let detail = format!(
                "The computer slept for {span}: the clock stood. Turn the pedals to go on."
            );
            self.event(now, "gap", &detail);
            self.say(now, detail);
        }
    }

    fn recorder(&mut self, now: Instant, report: Recorder) {
        let rows = self.ride.as_ref().map_or(0, |ride| ride.rows.written());
        match report {
            Recorder::Began(folder) => {
                self.folder.clone_from(&folder);
                self.record = RecordState::Writing(folder, rows);
            }
            Recorder::Trouble(why) => {
                self.say(now, why.clone());
                self.record = RecordState::Trouble(why);
            }
            Recorder::Recovered => {
                self.record = RecordState::Writing(self.folder.clone(), rows);
                self.say(
                    now,
                    "The recording is on the disk again, and nothing of it was lost.".to_owned(),
                );
            }
            Recorder::Dropped(count) => {
                self.say(
                    now,
                    format!(
                        "{count} entries of the recording were lost: the disk did not keep up."
                    ),
                );
            }
            Recorder::Closed(folder) => self.record = RecordState::Closed(folder, rows),
        }
    }

    fn device(&mut self, now: Instant, event: Event) {
        match &event {
            Event::Adapter(adapter) => self.adapter_changed(now, adapter.clone()),
            Event::Heard(heard) => self.links.heard(now, heard.clone()),
            Event::Lost(count) => {
                let detail = format!("{count} reports of devices were lost: a buffer was full.");
                self.event(now, "reports-lost", &detail);
            }
            Event::Written(id, characteristic, result) if self.is_control(id, *characteristic) => {
                self.control
                    .written(now, result.clone().map_err(brake::write_failure));
            }
            Event::Subscribed(id, characteristic, result)
                if self.is_control(id, *characteristic) =>
            {
                self.control
                    .subscribed(now, result.clone().map_err(brake::write_failure));
            }
            Event::Notified(id, characteristic, bytes)
                if self.links.used_for(Role::Trainer) == Some(id) =>
            {
                match *characteristic {
                    uuid16::CONTROL_POINT => self.control.indicated(now, bytes),
                    uuid16::FITNESS_MACHINE_STATUS => {
                        // A status that cannot be read says nothing; the links count it.
                        if let Ok(status) = Status::decode(bytes) {
                            self.control.status(now, &status);
                        }
                    }
                    _ => {}
                }
            }
            _ => {}
        }
        if let Some(event) = self.links.handle(now, &event) {
            self.link_changed(now, &event);
        }
    }

    fn is_control(&self, id: &crate::device::DeviceId, characteristic: Uuid16) -> bool {
        characteristic == uuid16::CONTROL_POINT && self.links.used_for(Role::Trainer) == Some(id)
    }

    fn adapter_changed(&mut self, now: Instant, adapter: Adapter) {
        if let Adapter::Missing(why) | Adapter::Off(why) | Adapter::Forbidden(why) = &adapter
            && self.adapter != adapter
        {
            self.say(now, why.clone());
        }
        self.adapter = adapter;
    }

    fn link_changed(&mut self, now: Instant, event: &LinkEvent) {
        let (LinkEvent::Up(id) | LinkEvent::Lost(id, _) | LinkEvent::Unusable(id, _)) = event;
        let trainer = self.links.used_for(Role::Trainer) == Some(id);
        let name = self.links.name(id);
        match event {
            LinkEvent::Up(_) => {
                self.event(now, "connected", &name);
                if trainer {
                    self.trainer_up(now, id);
                }
            }
            LinkEvent::Lost(_, why) => {
                self.event(now, "link-lost", why);
                if trainer {
                    self.control.link_down(now);
                    self.lose_brake(now, Cause::LinkLost);
                }
                self.say(now, why.clone());
            }
            LinkEvent::Unusable(_, why) => {
                self.event(now, "unusable", why);
                self.say(now, why.clone());
            }
        }
    }

    /// Facts first, then one match on the mode.
    fn settle(&mut self, now: Instant) {
        if let Some(event) = self.links.handle_timeout(now) {
            self.link_changed(now, &event);
        }
        let facts = self.facts(now);
        self.hold_rises(now, &facts);
        self.control.handle_timeout(now);
        self.control_events(now);
        let facts = self.facts(now);
        if let Some(ride) = &mut self.ride
            && self.mode.under_way()
        {
            ride.runner.see(now, &facts);
        }
        self.settle_degraded(now, &facts);
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
        self.tell_happenings(now);
        self.stand(now, &facts);
        self.expire(now);
        self.close(now);
        while let Some(request) = self.links.poll_request() {
            self.request(request);
        }
        self.write_control();
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
        if self.mode == Mode::Ready && self.start_with_pedals && turning {
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
            self.to_paused(now, PauseCause::PedalsStopped);
            self.say(
                now,
                "Paused: the pedals stand still. Turn them to go on.".to_owned(),
            );
        }
    }

    /// Degraded → Riding or Paused, as the clock runs or stands: the brake can be set again.
    fn settle_degraded(&mut self, now: Instant, facts: &Facts) {
        if let Mode::Degraded { cause, paused, .. } = self.mode
            && self.control.granted()
            && facts.offer.any()
            && cause != Cause::NoUsableTarget
        {
            self.mode = paused.map_or(Mode::Riding, Mode::Paused);
            self.event(
                now,
                "brake-back",
                "The brake can be set again: the load builds up from nothing.",
            );
            self.say(
                now,
                "The brake is back: the load builds up gently.".to_owned(),
            );
        }
    }

    fn settle_paused(&mut self, now: Instant, cause: PauseCause) {
        let Some(ride) = &self.ride else { return };
        let by_itself = matches!(cause, PauseCause::PedalsStopped | PauseCause::Gap);
        if by_itself && ride.runner.pedals() == Pedals::Turning {
            self.to_resumed(now);
        }
    }

    /// When still pedals pause the clock.
    fn pause_due(&self) -> Option<Instant> {
        let ride = self.ride.as_ref()?;
        let choice = self.choice.as_ref()?;
        let (true, Pedals::Stopped(since)) = (self.mode.runs(), ride.runner.pedals()) else {
            return None;
        };
        let PauseAfter::After(span) = choice.rider.pause_after else {
            return None;
        };
        let now = self.handled;
        let place = ride.runner.place(now)?;
        let timeline = ride.runner.timeline();
        let kind = |lap: usize| choice.plan.blocks[timeline.laps()[lap].block].kind;
        let near = |lap: Option<usize>, away: Span| {
            away <= NEAR_SPRINT && lap.is_some_and(|lap| kind(lap) == Kind::Sprint)
        };
        let held_off = kind(place.lap) == Kind::Free
            || near(Some(place.lap), Span::ZERO)
            || near(timeline.next(place.lap), place.left)
            || near(timeline.previous(place.lap), place.into);
        // A pause that is held off falls due when the reason is past: looked at again every second.
        Some((since + span).max(if held_off {
            now + Span::from_seconds(1)
        } else {
            Instant::ZERO
        }))
    }

    /// Values that stand from now on, for the means of the row; none while the clock stands. Ink beside it.
    fn stand(&mut self, now: Instant, facts: &Facts) {
        let runs = self.mode.runs();
        let Some(ride) = &mut self.ride else { return };
        let of = |value: bool| value.then_some(());
        ride.rows.stand(
            now,
            of(runs).and(facts.power),
            of(runs).and(facts.cadence),
            of(runs).and(facts.speed),
        );
        if runs && now >= ride.ink_due {
            if ride.ink.len() == INK_POINTS {
                ride.ink.pop_front();
            }
            let point = InkPoint {
                at: ride.runner.session(now),
                power: facts.power,
                cadence: facts.cadence,
                lane: ride.runner.lane(now),
            };
            ride.ink.push_back(point);
            ride.ink_due = now + INK_STEP;
        }
    }

    /// Writes a row for every ridden second that is over.
    fn close_seconds(&mut self, now: Instant) {
        while let Some(ride) = &mut self.ride {
            let Some(due) = ride.runner.clock().reaches(ride.rows.due()) else {
                return;
            };
            // The second that ends with the session is a whole one; none begins after it.
            if due > now
                || ride.rows.due() > ride.runner.timeline().length()
                || !self.mode.under_way()
            {
                return;
            }
            let second = ride.rows.close(due);
            let mut row = self.row(due);
            second.fill(&mut row);
            if let RecordState::Writing(_, rows) = &mut self.record {
                *rows = second.number;
            }
            self.keep(Kept::Row(Box::new(row)));
        }
    }

    /// The row of the second that ends at `at`, without the second's own means.
    fn row(&self, at: Instant) -> Row {
        // The second belongs to the block in which it began: a hair before its end.
        let inside = at - Span(1);
        let runner = self.ride.as_ref().map(|ride| &ride.runner);
        let place = runner.and_then(|runner| runner.place(inside));
        let plan = self.choice.as_ref().map(|choice| &choice.plan);
        let block = runner.zip(place).map_or(0, |(runner, place)| {
            runner.timeline().laps()[place.lap].block
        });
        let written_start: Span = plan.map_or(Span::ZERO, |plan| {
            plan.blocks[..block].iter().map(|b| b.length).sum()
        });
        let into = place.map_or(0.0, |place| place.into.seconds());
        Row {
            ridden_s: 0,
            plan_s: written_start.seconds() + into + 1e-6,
            utc_ms: self.utc_ms(at),
            block: u32::try_from(block + 1).unwrap_or(u32::MAX),
            kind: plan.map_or(Kind::Free, |plan| plan.blocks[block].kind),
            mode: runner.map(Runner::ride_mode).unwrap_or_default(),
            effort: runner.and_then(|runner| runner.effort(inside)),
            lane: runner.and_then(|runner| runner.lane(inside)),
            brake: self.brake,
            released: self.control.released(),
            power: None,
            cadence: None,
            heart_rate: self.links.heart_rate(at).reading(at).fresh(),
            speed: self.links.speed(at).reading(at).fresh(),
            distance: None,
            w_balance: None,
        }
    }

    fn expire(&mut self, now: Instant) {
        if self.notice.as_ref().is_some_and(|(until, _)| now >= *until) {
            self.notice = None;
        }
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

    /// After everything is told to end: the release first, then the links, then done.
    fn close(&mut self, now: Instant) {
        let Some(closing) = self.closing else { return };
        if closing.done {
            return;
        }
        let gone = now.since(closing.since);
        let released = self.control.released() || !self.control.granted();
        if !closing.links_closed && (self.at_rest(released) || gone >= RELEASE_WITHIN) {
            self.links.close_all(now);
            self.closing = Some(Closing {
                links_closed: true,
                ..closing
            });
        } else if closing.links_closed && (!self.links.any_open() || gone >= CLOSE_WITHIN) {
            self.closing = Some(Closing {
                done: true,
                ..closing
            });
            self.put(Output::Done);
        }
    }

    fn at_rest(&self, released: bool) -> bool {
        released && !self.control.in_flight()
    }
}
