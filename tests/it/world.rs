//! A whole ride in virtual time, with everything that was asked of the devices and everything that was kept.

pub mod fake;

use std::sync::{Arc, Mutex};

use stillroad::device::practice::{Practice, PracticeConfig};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::engine::input::Input;
use stillroad::engine::{Choice, Command, Core, Role, Snapshot, World};
use stillroad::gatt::uuid16::CONTROL_POINT;
use stillroad::memory::Memory;
use stillroad::plan::{self, Plan};
use stillroad::record::{Kept, RideEvent, Row};
use stillroad::ride::{Mode, RideMode};
use stillroad::rider::Rider;
use stillroad::time::{Instant, Span};
use stillroad::units::BrakeLag;

pub use fake::{Fake, Knobs};

/// 2026-01-01T00:00:00Z.
pub const EPOCH_MS: i64 = 1_767_225_600_000;

/// Something that crossed the seam or was kept, with its time.
#[derive(Clone, Debug, PartialEq)]
pub enum Seen {
    Asked(Request),
    Kept(Kept),
}

type Log = Arc<Mutex<Vec<(Instant, Seen)>>>;

/// A backend that is listened to.
struct Tap<B> {
    inner: B,
    log: Log,
}

impl<B: Backend> Backend for Tap<B> {
    fn owns(&self, device: &DeviceId) -> bool {
        self.inner.owns(device)
    }

    fn request(&mut self, now: Instant, request: Request) {
        if request.device().is_some() {
            let seen = Seen::Asked(request.clone());
            self.log.lock().unwrap().push((now, seen));
        }
        self.inner.request(now, request);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        self.inner.poll_event(now)
    }

    fn poll_timeout(&self) -> Option<Instant> {
        self.inner.poll_timeout()
    }
}

/// A ride in a world of its own.
pub struct Ride {
    pub world: World<'static>,
    log: Log,
}

/// So many seconds after the start of time.
pub fn at(seconds: f64) -> Instant {
    Instant((seconds * 1e6).round() as u64)
}

/// A session from the blocks of its text; the head is written here.
pub fn session(blocks: &str) -> Arc<Plan> {
    let head = "format = 1\nname = \"Trial\"\npurpose = \"A trial of the rules.\"\n";
    let reading = plan::read(&format!("{head}{blocks}"));
    Arc::new(
        reading
            .plan
            .unwrap_or_else(|| panic!("{:?}", reading.problems)),
    )
}

/// That earlier rides found a brake so slow that rises are sent ahead as far as they ever are.
pub fn slow(trainer: &DeviceId) -> Input {
    let lag = BrakeLag {
        dead_time: 0.5,
        rise: 2.5,
        fall: 2.5,
        least: 2.5,
        least_half: 1.6,
        cadence_prompt: true,
    };
    remembering(trainer, Some(lag))
}

/// What earlier rides found of a trainer's brake, as the core's input.
pub fn remembering(trainer: &DeviceId, lag: Option<BrakeLag>) -> Input {
    let mut memory = Memory::default();
    memory.trainer(trainer.as_str()).lag = lag;
    Input::Remembered(Box::new(memory))
}

/// A rider with a threshold of 200 W and caps of 250 W and 400 W.
pub fn rider() -> Rider {
    let text =
        "name = \"Trial\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n";
    stillroad::rider::read(text).0.unwrap()
}

impl Ride {
    pub fn new(backends: Vec<Tapped>) -> Self {
        Self::begun(EPOCH_MS, backends)
    }

    /// The same from another moment of the wall clock.
    pub fn begun(utc_ms: i64, backends: Vec<Tapped>) -> Self {
        let log = Log::default();
        let tapped = backends
            .into_iter()
            .map(|make| make(TapTo(log.clone())))
            .collect();
        let keep = log.clone();
        let world = World::new(utc_ms, tapped, move |now, kept| {
            keep.lock().unwrap().push((now, Seen::Kept(kept)));
        });
        Self { world, log }
    }

    /// With one fake trainer, chosen for its role.
    pub fn on(fake: &Fake, plan: &Arc<Plan>, rider: &Rider, mode: RideMode) -> Self {
        let mut ride = Self::new(vec![tap(fake.clone())]);
        ride.choose(plan, rider, mode);
        ride.command(Command::Use(Role::Trainer, Some(fake.id())));
        ride
    }

    /// With the practice trainer, heart strap and power meter, the first two chosen for their roles.
    pub fn practice(
        config: PracticeConfig,
        plan: &Arc<Plan>,
        rider: &Rider,
        mode: RideMode,
    ) -> Self {
        use stillroad::device::practice::Device;
        let mut ride = Self::new(vec![tap(Practice::new(config))]);
        ride.choose(plan, rider, mode);
        ride.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
        ride.command(Command::Use(Role::Heart, Some(Device::Heart.id())));
        ride
    }

    pub fn choose(&mut self, plan: &Arc<Plan>, rider: &Rider, mode: RideMode) {
        self.command(Command::Choose(Box::new(Choice {
            plan: plan.clone(),
            rider: Arc::new(rider.clone()),
            mode,
        })));
    }

    pub fn command(&mut self, command: Command) {
        self.world.command(command);
    }

    pub fn input(&mut self, input: Input) {
        self.world.input(input);
    }

    /// Steps until so many seconds after the start of time.
    pub fn to(&mut self, seconds: f64) {
        self.world.run_until(at(seconds));
    }

    /// Lets so many seconds pass.
    pub fn pass(&mut self, seconds: f64) {
        let until = self.world.now() + Span::from_seconds_f64(seconds);
        self.world.run_until(until);
    }

    /// Lets the devices come up, five seconds of time, and starts: the ride's second nought is time five.
    pub fn start(&mut self) {
        self.to(5.0);
        self.command(Command::Start);
    }

    /// Rides to the end of the session and a few seconds more.
    #[expect(clippy::wrong_self_convention, reason = "it rides to the end")]
    pub fn to_the_end(&mut self, most: f64) {
        let over = |core: &Core| !matches!(core.mode(), Mode::Finished(_));
        assert!(
            self.world.run_while(at(most), over),
            "the ride does not end"
        );
        self.pass(5.0);
    }

    pub fn now(&self) -> Instant {
        self.world.now()
    }

    pub fn mode(&self) -> Mode {
        self.world.core().mode()
    }

    pub fn snapshot(&self) -> Arc<Snapshot> {
        self.world.snapshot()
    }

    /// The sentence on the screen; empty where there is none.
    pub fn notice(&self) -> String {
        self.snapshot()
            .notice
            .as_deref()
            .unwrap_or_default()
            .to_owned()
    }

    pub fn seen(&self) -> Vec<(Instant, Seen)> {
        self.log.lock().unwrap().clone()
    }

    pub fn kept(&self) -> Vec<(Instant, Kept)> {
        let kept = |(at, seen)| match seen {
            Seen::Kept(kept) => Some((at, kept)),
            Seen::Asked(_) => None,
        };
        self.seen().into_iter().filter_map(kept).collect()
    }

    pub fn requests(&self) -> Vec<(Instant, Request)> {
        let asked = |(at, seen)| match seen {
            Seen::Asked(request) => Some((at, request)),
            Seen::Kept(_) => None,
        };
        self.seen().into_iter().filter_map(asked).collect()
    }

    /// What was written to a control point, with its time.
    pub fn writes(&self) -> Vec<(Instant, Vec<u8>)> {
        let write = |(at, request)| match request {
            Request::Write(_, CONTROL_POINT, bytes) => Some((at, bytes)),
            _ => None,
        };
        self.requests().into_iter().filter_map(write).collect()
    }

    /// The watts written (op 05, Fitness Machine Service 1.0, 4.16.2.6), with their times.
    pub fn watts(&self) -> Vec<(Instant, i16)> {
        let power = |(at, bytes): (Instant, Vec<u8>)| Some((at, watts_of(&bytes)?));
        self.writes().into_iter().filter_map(power).collect()
    }

    /// The watts written between two seconds of time.
    pub fn watts_in(&self, from: f64, to: f64) -> Vec<(f64, i16)> {
        self.watts()
            .into_iter()
            .map(|(at, watts)| (at.0 as f64 / 1e6, watts))
            .filter(|(at, _)| *at >= from && *at < to)
            .collect()
    }

    pub fn rows(&self) -> Vec<Row> {
        let row = |(_, kept)| match kept {
            Kept::Row(row) => Some(*row),
            _ => None,
        };
        self.kept().into_iter().filter_map(row).collect()
    }

    pub fn events(&self) -> Vec<RideEvent> {
        let event = |(_, kept)| match kept {
            Kept::Event(event) => Some(event),
            _ => None,
        };
        self.kept().into_iter().filter_map(event).collect()
    }

    /// Whether an event of this word was kept.
    pub fn happened(&self, what: &str) -> bool {
        self.events().iter().any(|event| event.what == what)
    }
}

/// The watts of a write of op 05: a signed word, little end first.
pub fn watts_of(bytes: &[u8]) -> Option<i16> {
    match *bytes {
        [0x05, low, high] => Some(i16::from_le_bytes([low, high])),
        _ => None,
    }
}

/// Where a tapped backend's requests are written down.
pub struct TapTo(Log);

/// Makes a backend once it has a tap.
pub type Tapped = Box<dyn FnOnce(TapTo) -> Box<dyn Backend>>;

/// A backend to be listened to.
pub fn tap(backend: impl Backend + 'static) -> Tapped {
    Box::new(|to| {
        Box::new(Tap {
            inner: backend,
            log: to.0,
        })
    })
}
