//! The loop on its own thread, and the one clock of the program.
//!
//! The loop sleeps until the core's next deadline, a command, a device's event or a report of the writer, whichever comes
//! first. It waits for nobody: rows go to the writer by `try_send`, snapshots go into a channel that keeps the newest.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::watch;

use crate::device::{Backend, DeviceId, Request, pass};
use crate::engine::command::Command;
use crate::engine::core::Core;
use crate::engine::input::{Input, Output, Recorder};
use crate::engine::snapshot::Snapshot;
use crate::ride::{Finish, Mode};
use crate::store::writer::{CAPACITY, RecordSender, Writer};
use crate::store::{MemoryKeeper, RecordReport, RideWriter, memory};
use crate::time::{Instant, Span};

/// The program's one clock: monotonic, made once, handed down as a handle.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    start: std::time::Instant,
    pace: u32,
}

impl Clock {
    /// Starts at zero, and gives the wall-clock time of that moment in milliseconds since 1970.
    fn start(pace: u32) -> (Self, i64) {
        let clock = Self {
            start: std::time::Instant::now(),
            pace: pace.max(1),
        };
        (clock, wall_ms())
    }

    /// A clock of its own, at life's pace, for what runs no ride.
    #[must_use]
    #[expect(clippy::new_without_default, reason = "a clock is made on purpose")]
    pub fn new() -> Self {
        Self::start(1).0
    }

    /// The moment now.
    pub fn now(&self) -> Instant {
        let micros = self.start.elapsed().as_micros() * u128::from(self.pace);
        Instant(u64::try_from(micros).unwrap_or(u64::MAX))
    }

    /// How long to wait by the world's clock until `due`.
    fn until(&self, due: Instant) -> Duration {
        Duration::from_micros(due.since(self.now()).0 / u64::from(self.pace) + 1)
    }
}

/// The wall clock, milliseconds since 1970. A ride needs it once, at its start, which dates rows in virtual time too.
#[must_use]
pub fn wall_ms() -> i64 {
    jiff::Timestamp::now().as_millisecond()
}

/// How far the rider's own time is ahead of UTC, seconds. Asked once: a ride that goes on while summer time ends has its
/// midnight an hour off.
#[must_use]
pub fn zone_s() -> i32 {
    let now = jiff::Timestamp::now();
    jiff::tz::TimeZone::system().to_offset(now).seconds()
}

/// Commands that wait: the rider presses a key or two a second, so this is never full unless the loop is stuck. Then the
/// command is refused, and the sender is told.
const COMMANDS: usize = 256;

/// While something changes, the screen is told this often; while nothing does, it is told nothing.
const SNAPSHOT_EVERY: Span = Span::from_millis(50);

/// While nothing is due, the loop looks this often whether the computer slept.
const IDLE: Duration = Duration::from_millis(500);

/// If wall clock and monotonic clock drift apart by more than this between two looks, the computer slept.
const SLEPT: Span = Span::from_seconds(2);

/// When all is let go, the writer gets so long to put the rest on the disk.
const LAST_WORD: Duration = Duration::from_secs(8);

/// After a failure of the core the release gets so long to be written, and the link so long to close.
const LAST_RELEASE: Duration = Duration::from_millis(1_000);
const LAST_LINK: Duration = Duration::from_millis(2_500);

/// What is said then.
const FAILED: &str = entry!(
    "The program failed and the ride is over. The brake was let off as far as the trainer listens: ease off and shift \
     down if it holds. What was ridden until then is on the disk; start again."
);

/// What wakes the loop.
enum Wake {
    Command(Command),
    /// A backend has events.
    Device,
}

/// The screen's ends of the channels. Dropping it reaches the core as [`Command::Close`].
#[derive(Debug)]
pub struct Engine {
    commands: SyncSender<Wake>,
    pub(crate) snapshots: watch::Receiver<Arc<Snapshot>>,
    clock: Clock,
    thread: Option<JoinHandle<()>>,
}

/// Called by a backend whenever it has an event.
pub type Waker = Arc<dyn Fn() + Send + Sync>;

/// Makes the backends once the clock and the waker exist.
pub type Backends = Box<dyn FnOnce(Clock, Waker) -> Vec<Box<dyn Backend>> + Send>;

impl Engine {
    /// Starts the loop. `rides` is the folder under which rides are kept; `memory` the file of what is remembered between
    /// rides, where anything shall be; `pace` is 1 but for practice rides that run
    /// faster than life; `redraw` is called after each new snapshot, except between two in which the clock of the ride
    /// runs, since the screen then draws at a rate of its own; and once more when the loop has ended.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn start(
        rides: PathBuf,
        memory: Option<PathBuf>,
        pace: u32,
        backends: Backends,
        redraw: Waker,
    ) -> Result<Self, String> {
        Self::start_with(RideWriter::new(&rides), memory, pace, backends, redraw)
    }

    /// The same with a writer that has a disk of its own.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn start_with(
        writer: RideWriter,
        memory: Option<PathBuf>,
        pace: u32,
        backends: Backends,
        redraw: Waker,
    ) -> Result<Self, String> {
        let (clock, epoch_ms) = Clock::start(pace);
        let (commands, wakes) = sync_channel(COMMANDS);
        let core = Core::new(epoch_ms);
        let (snapshot_ends, snapshots) = watch::channel(Arc::new(core.snapshot(clock.now())));
        let asked = Arc::new(AtomicBool::new(false));
        let waker = {
            let commands = commands.clone();
            let asked = Arc::clone(&asked);
            // One wake-up that waits is as good as many, and many would crowd out the rider's commands.
            Arc::new(move || {
                if !asked.swap(true, Ordering::Relaxed) {
                    drop(commands.try_send(Wake::Device));
                }
            })
        };
        let thread = std::thread::Builder::new()
            .name("ride".to_owned())
            .spawn(move || {
                let (records, reports) = Writer::start_with(writer, CAPACITY);
                let mut core = core;
                core.handle(clock.now(), Input::Zone(zone_s()));
                let memory = memory.map(|path| {
                    let (memory, trouble) = memory::load(&path);
                    let now = clock.now();
                    core.handle(now, Input::Remembered(Box::new(memory)));
                    if let Some(why) = trouble {
                        core.handle(now, Input::Recorder(Recorder::Forgotten(why)));
                    }
                    MemoryKeeper::start(path)
                });
                let backends = backends(clock, waker);
                let last_word = Arc::clone(&redraw);
                let ride = Loop {
                    core,
                    clock,
                    backends,
                    records,
                    memory,
                    lost: 0,
                    reports,
                    wakes,
                    asked,
                    snapshot_ends,
                    redraw,
                    looked: Instant::ZERO,
                    owed: false,
                    sleep: SleepWatch::new(),
                    last_resort: None,
                };
                // Whatever happens, the screen hears that it is over: with the loop its end of the channel goes, which
                // is what `is_over` looks at. A panic that comes so far was reported by the hook.
                drop(catch_unwind(AssertUnwindSafe(|| ride.run())));
                last_word();
            })
            .map_err(|error| {
                kept!("The system gave no thread for the ride: {error}. Nothing was started; close other programs and try again.")
            })?;
        Ok(Self {
            commands,
            snapshots,
            clock,
            thread: Some(thread),
        })
    }

    /// A handle on the one clock.
    pub const fn clock(&self) -> Clock {
        self.clock
    }

    /// Sends a command. False where the loop does not take it: it is stuck or over.
    pub fn command(&self, command: Command) -> bool {
        self.commands.try_send(Wake::Command(command)).is_ok()
    }

    /// The newest snapshot.
    pub fn snapshot(&mut self) -> Arc<Snapshot> {
        self.snapshots.borrow_and_update().clone()
    }

    /// A handle with which another thread (a signal handler, a panic hook) can send a command.
    pub fn remote(&self) -> impl Fn(Command) + Send + Sync + 'static {
        let commands = self.commands.clone();
        move |command| {
            if let Err(TrySendError::Full(wake)) = commands.try_send(Wake::Command(command)) {
                // Only a close matters so much that it may wait.
                if let Wake::Command(Command::Close) = wake {
                    drop(commands.send(wake));
                }
            }
        }
    }

    /// Whether the loop has ended: it holds the snapshots' other end.
    pub fn is_over(&self) -> bool {
        self.snapshots.has_changed().is_err()
    }

    /// Tells the core to let go and waits until the loop has ended: a second for the brake, four more for the links.
    pub fn close(&mut self) {
        drop(self.commands.send(Wake::Command(Command::Close)));
        if let Some(thread) = self.thread.take() {
            drop(thread.join());
        }
    }
}

impl Drop for Engine {
    fn drop(&mut self) {
        self.close();
    }
}

struct Loop {
    core: Core,
    clock: Clock,
    backends: Vec<Box<dyn Backend>>,
    records: RecordSender,
    /// Where anything shall be remembered between rides.
    memory: Option<MemoryKeeper>,
    /// How many entries were lost, as far as the core was told.
    lost: u64,
    reports: Receiver<RecordReport>,
    wakes: Receiver<Wake>,
    /// Whether a wake-up of a backend waits already.
    asked: Arc<AtomicBool>,
    snapshot_ends: watch::Sender<Arc<Snapshot>>,
    redraw: Waker,
    /// When it was last looked whether the screen is to be told something.
    looked: Instant,
    /// Whether something was handled since then.
    owed: bool,
    sleep: SleepWatch,
    /// What lets the brake off if the core fails: kept outside of it.
    last_resort: Option<(DeviceId, Request)>,
}

impl Loop {
    fn run(mut self) {
        loop {
            match catch_unwind(AssertUnwindSafe(|| self.turn())) {
                Ok(false) => {}
                Ok(true) => return self.end(),
                Err(_) => return self.fail(),
            }
        }
    }

    /// Waits for whatever comes first and handles it. True where the core is done.
    fn turn(&mut self) -> bool {
        let due = self
            .backends
            .iter()
            .filter_map(|backend| backend.poll_timeout())
            .chain(self.core.poll_timeout())
            .chain(self.owed.then_some(self.looked + SNAPSHOT_EVERY))
            .min();
        let wait = due.map_or(IDLE, |due| self.clock.until(due).min(IDLE));
        let wake = match self.wakes.recv_timeout(wait) {
            Ok(wake) => Some(wake),
            Err(RecvTimeoutError::Timeout) => None,
            // Every handle is gone: nobody is left to ask for anything.
            Err(RecvTimeoutError::Disconnected) => Some(Wake::Command(Command::Close)),
        };
        // Before the backends are asked: what comes after this wakes the loop anew.
        self.asked.store(false, Ordering::Relaxed);
        let now = self.clock.now();
        if let Some(slept) = self.sleep.look() {
            self.core.handle(now, Input::Slept(slept));
        }
        let commanded = matches!(wake, Some(Wake::Command(_)));
        if let Some(Wake::Command(command)) = wake {
            self.core.handle(now, Input::Command(command));
        }
        self.take_reports(now);
        let mut done = self.take_events(now);
        if self.core.poll_timeout().is_some_and(|due| due <= now) {
            self.core.handle(now, Input::Wake);
        }
        done |= self.put_out(now);
        self.last_resort = self.core.last_resort();
        self.owed = true;
        if commanded || done || now.since(self.looked) >= SNAPSHOT_EVERY {
            self.looked = now;
            self.owed = false;
            self.show(self.core.snapshot(now));
        }
        done
    }

    /// Shows a snapshot that differs in what is to be seen.
    fn show(&self, snapshot: Snapshot) {
        let before = self.snapshot_ends.borrow().clone();
        if !before.is_outdated_by(&snapshot) {
            return;
        }
        let screen_runs = before.mode.runs() && snapshot.mode.runs();
        drop(self.snapshot_ends.send(Arc::new(snapshot)));
        if !screen_runs {
            (self.redraw)();
        }
    }

    /// The core has failed. Nothing of it is asked any more: the brake is let off with the octets that were kept for
    /// this, the link is closed, and the writer puts what it has on the disk.
    fn fail(mut self) {
        if let Some((device, release)) = self.last_resort.take() {
            let now = self.clock.now();
            pass(&mut self.backends, now, &release);
            self.listen_for(LAST_RELEASE);
            let now = self.clock.now();
            pass(&mut self.backends, now, &Request::Disconnect(device));
            self.listen_for(LAST_LINK);
        }
        // What it had put out before it failed is kept: the input on which it failed is the last of it.
        while let Some(output) = self.core.poll_output() {
            if let Output::Kept(kept) = output {
                // What finds no room is lost with the rest; there is nobody left to tell.
                let _ = self.records.try_send(kept);
            }
        }
        let last = self.snapshot_ends.borrow().clone();
        let mut snapshot = Snapshot::clone(&last);
        snapshot.notice = Some(Arc::from(FAILED));
        snapshot.mode = Mode::Finished(Finish::Closed);
        self.show(snapshot);
    }

    /// Lets the backends work for a while.
    fn listen_for(&mut self, span: Duration) {
        let until = std::time::Instant::now() + span;
        while std::time::Instant::now() < until {
            let now = self.clock.now();
            for backend in &mut self.backends {
                while backend.poll_event(now).is_some() {}
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Waits for the writer's last word and shows it.
    fn end(mut self) {
        let now = self.clock.now();
        self.take_reports(now);
        // Dropping the sender tells the writer that nothing more comes.
        let Self {
            mut core,
            records,
            reports,
            snapshot_ends,
            redraw,
            ..
        } = self;
        drop(records);
        while let Ok(report) = reports.recv_timeout(LAST_WORD) {
            if let Some(report) = recorder(report) {
                core.handle(now, Input::Recorder(report));
            }
        }
        drop(snapshot_ends.send(Arc::new(core.snapshot(now))));
        redraw();
    }

    fn take_reports(&mut self, now: Instant) {
        while let Ok(report) = self.reports.try_recv() {
            if let Some(report) = recorder(report) {
                self.core.handle(now, Input::Recorder(report));
            }
        }
        if let Some(why) = self.memory.as_mut().and_then(MemoryKeeper::trouble) {
            self.core
                .handle(now, Input::Recorder(Recorder::Forgotten(why)));
        }
        let lost = self.records.lost();
        if lost > self.lost {
            self.core
                .handle(now, Input::Recorder(Recorder::Dropped(lost - self.lost)));
            self.lost = lost;
        }
    }

    /// True where the core is done.
    fn take_events(&mut self, now: Instant) -> bool {
        let mut done = false;
        // The clock may have moved on since `now`; what arrived in between waits for the next turn.
        for at in 0..self.backends.len() {
            while let Some((stamp, event)) = self.backends[at].poll_event(now) {
                self.core.handle(stamp, Input::Device(event));
                done |= self.put_out(now);
            }
        }
        done
    }

    /// Passes everything on. True where the core is done.
    fn put_out(&mut self, now: Instant) -> bool {
        let mut done = false;
        while let Some(output) = self.core.poll_output() {
            match output {
                Output::Request(request) => pass(&mut self.backends, now, &request),
                // What finds the queue full is counted, told to the rider and written as an event.
                Output::Kept(kept) => drop(self.records.try_send(kept)),
                Output::Remember(memory) => {
                    if let Some(keeper) = &mut self.memory {
                        keeper.keep(*memory);
                    }
                }
                Output::Done => done = true,
            }
        }
        done
    }
}

/// A writer's report as an input of the core; what the core reckons itself is left out.
pub fn recorder(report: RecordReport) -> Option<Recorder> {
    match report {
        RecordReport::Began(folder) => Some(Recorder::Began(folder.display().to_string())),
        RecordReport::Trouble(why) => Some(Recorder::Trouble(why)),
        RecordReport::Recovered => Some(Recorder::Recovered),
        RecordReport::Closed(folder, _) => Some(Recorder::Closed(folder.display().to_string())),
        RecordReport::Rows(_) => None,
    }
}

/// Notices that the computer slept: the wall clock went on while the monotonic clock stood.
struct SleepWatch {
    wall_ms: i64,
    at: std::time::Instant,
}

impl SleepWatch {
    fn new() -> Self {
        Self {
            wall_ms: wall_ms(),
            at: std::time::Instant::now(),
        }
    }

    fn look(&mut self) -> Option<Span> {
        let now = Self::new();
        let wall = Span::from_millis(u64::try_from(now.wall_ms - self.wall_ms).unwrap_or(0));
        let awake = Span(u64::try_from(now.at.duration_since(self.at).as_micros()).unwrap_or(0));
        *self = now;
        let slept = wall.less(awake);
        (slept > SLEPT).then_some(slept)
    }
}
