//! A whole ride in virtual time: the core and its backends, stepped from one deadline to the next.
//!
//! The same core that the loop drives in real time runs here thousands of times faster than life: for rides at the
//! greatest pace, for forecasts, and for tests.

use std::sync::Arc;

use crate::device::{Backend, Event, pass};
use crate::engine::command::Command;
use crate::engine::core::Core;
use crate::engine::input::{Input, Output};
use crate::engine::snapshot::Snapshot;
use crate::memory::Memory;
use crate::record::Kept;
use crate::time::Instant;

/// So many steps without the time moving on mean that two deadlines chase each other: the step is then forced.
const MOST_STEPS_AT_ONCE: u32 = 10_000;

/// The core, its backends and a time of its own.
pub struct World<'k> {
    core: Core,
    backends: Vec<Box<dyn Backend + 'k>>,
    now: Instant,
    keep: Box<dyn FnMut(Instant, Kept) + 'k>,
    remembered: Option<Box<Memory>>,
    done: bool,
    stuck: u32,
}

impl<'k> World<'k> {
    /// At time zero. `epoch_ms` is the wall clock then; `keep` gets everything that is to be recorded.
    pub fn new(
        epoch_ms: i64,
        backends: Vec<Box<dyn Backend + 'k>>,
        keep: impl FnMut(Instant, Kept) + 'k,
    ) -> Self {
        Self {
            core: Core::new(epoch_ms),
            backends,
            now: Instant::ZERO,
            keep: Box::new(keep),
            remembered: None,
            done: false,
            stuck: 0,
        }
    }

    /// The time.
    pub const fn now(&self) -> Instant {
        self.now
    }

    /// Sends nothing ahead of its beat: for comparisons.
    pub const fn without_lead(&mut self) {
        self.core.without_lead();
    }

    /// Rides only to see what comes of it.
    pub const fn as_forecast(&mut self) {
        self.core.as_forecast();
    }

    /// The core, to look at.
    pub const fn core(&self) -> &Core {
        &self.core
    }

    /// The picture now.
    pub fn snapshot(&self) -> Arc<Snapshot> {
        Arc::new(self.core.snapshot(self.now))
    }

    /// What is to be remembered, as it was last put out; none where nothing changed. A ride in virtual time leaves nothing
    /// behind but its recording, unless somebody takes this.
    pub fn remembered(&self) -> Option<&Memory> {
        self.remembered.as_deref()
    }

    /// Whether the core has let everything go.
    pub const fn is_done(&self) -> bool {
        self.done
    }

    /// Hands the core a command now.
    pub fn command(&mut self, command: Command) {
        self.input(Input::Command(command));
    }

    /// Hands the core any input now.
    pub fn input(&mut self, input: Input) {
        self.core.handle(self.now, input);
        self.put_out();
    }

    /// On to the next deadline, but not past `until`; all that is due there is handled. False where nothing is due
    /// before `until`, which is then the time.
    pub fn step(&mut self, until: Instant) -> bool {
        let device = self
            .backends
            .iter()
            .filter_map(|backend| backend.poll_timeout())
            .min();
        let due = device.into_iter().chain(self.core.poll_timeout()).min();
        let Some(due) = due.filter(|&due| due <= until) else {
            self.now = self.now.max(until);
            return false;
        };
        self.stuck = if due > self.now { 0 } else { self.stuck + 1 };
        let forced = crate::time::Span(u64::from(self.stuck > MOST_STEPS_AT_ONCE));
        self.now = self.now.max(due) + forced;
        let mut events: Vec<(Instant, Event)> = Vec::new();
        for backend in &mut self.backends {
            while let Some(event) = backend.poll_event(self.now) {
                events.push(event);
            }
        }
        for (_, event) in events {
            self.core.handle(self.now, Input::Device(event));
            self.put_out();
        }
        if self.core.poll_timeout().is_some_and(|due| due <= self.now) {
            self.core.handle(self.now, Input::Wake);
            self.put_out();
        }
        true
    }

    /// The time moves on and nobody is woken: the program was held up.
    pub fn hold_up(&mut self, span: crate::time::Span) {
        self.now += span;
    }

    /// Steps until the time is `until`.
    pub fn run_until(&mut self, until: Instant) {
        while self.step(until) {}
    }

    /// Steps while `goes_on` says so, and until `until` at the latest. True where `goes_on` ended it.
    pub fn run_while(&mut self, until: Instant, goes_on: impl Fn(&Core) -> bool) -> bool {
        while goes_on(&self.core) {
            if !self.step(until) {
                return !goes_on(&self.core);
            }
        }
        true
    }

    fn put_out(&mut self) {
        while let Some(output) = self.core.poll_output() {
            match output {
                Output::Request(request) => pass(&mut self.backends, self.now, &request),
                Output::Kept(kept) => (self.keep)(self.now, kept),
                Output::Remember(memory) => self.remembered = Some(memory),
                Output::Done => self.done = true,
            }
        }
    }
}
