//! One ride on one brake, and what the load did round each beat.

use std::sync::{Arc, Mutex};

use stillroad::device::practice::{Device, Practice, PracticeConfig, Setting};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::engine::input::Input;
use stillroad::engine::{Choice, Command, Role, World};
use stillroad::memory::Memory;
use stillroad::plan;
use stillroad::ride::RideMode;
use stillroad::time::{Instant, Span};
use stillroad::units::BrakeLag;

/// Watts of the recoveries, of the holds and of the sprints.
pub const LOW: f64 = 100.0;
pub const HOLD: f64 = 200.0;
pub const SPRINT: f64 = 300.0;
/// Changes that are ridden before any is measured, and measured ones.
const LEARNING: usize = 5;
const MEASURED: usize = 6;
/// Time between two looks at the truth.
pub const LOOK: Span = Span::from_millis(20);
/// The start of the ride.
const START: f64 = 5.0;

/// The practice trainer, shared with whoever looks at its truth.
struct Shared(Arc<Mutex<Practice>>);

impl Backend for Shared {
    fn owns(&self, device: &DeviceId) -> bool {
        self.0.lock().unwrap().owns(device)
    }
    fn request(&mut self, now: Instant, request: Request) {
        self.0.lock().unwrap().request(now, request);
    }
    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        self.0.lock().unwrap().poll_event(now)
    }
    fn poll_timeout(&self) -> Option<Instant> {
        self.0.lock().unwrap().poll_timeout()
    }
}

/// The load at one moment.
#[derive(Clone, Copy)]
pub struct Look {
    pub second: f64,
    /// True power of the brake, watts.
    pub load: f64,
    /// The power that was commanded, watts.
    pub told: f64,
}

/// What a ride came to.
pub struct Ridden {
    pub looks: Vec<Look>,
    /// The beats of the measured holds and sprints, seconds.
    pub holds: Vec<f64>,
    pub sprints: Vec<f64>,
    /// What was said of the brake in the end.
    pub words: String,
    /// How far ahead ramps and steps were sent in the end, seconds.
    pub lead: (f64, f64),
    /// What the next ride on this trainer would know.
    pub remembers: Option<BrakeLag>,
    pub debug: String,
}

fn session() -> (String, Vec<f64>, Vec<f64>) {
    let mut text = String::from(
        "format = 1\nname = \"Bench\"\npurpose = \"Ramps and steps.\"\n\
         [[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\nwatts = 100\n",
    );
    let (mut at, mut holds, mut sprints) = (START + 60.0, Vec::new(), Vec::new());
    for index in 0..LEARNING + MEASURED {
        holds.push(at);
        // Lengths that are no whole multiple of a report's period, so that beats fall anywhere between two reports.
        let hold = 30 + index % 3;
        text += &format!("[[block]]\nkind = \"hold\"\ntime = \"0:{hold}\"\nwatts = 200\n");
        text += "[[block]]\nkind = \"recovery\"\ntime = \"0:30\"\nwatts = 100\n";
        at += hold as f64 + 30.0;
        if index >= LEARNING {
            sprints.push(at);
            text +=
                "[[block]]\nkind = \"sprint\"\ntime = \"0:12\"\nwatts = 300\nbrake = \"held\"\n";
            text += "[[block]]\nkind = \"recovery\"\ntime = \"0:40\"\nwatts = 100\n";
            at += 52.0;
        }
    }
    holds.drain(..LEARNING);
    text += "[[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\nwatts = 80\n";
    (text, holds, sprints)
}

/// Rides it.
pub fn ride(config: &PracticeConfig, remembered: Option<BrakeLag>, leads: bool) -> Ridden {
    let (text, holds, sprints) = session();
    let plan = Arc::new(plan::read(&text).plan.unwrap());
    let rider =
        "name = \"Bench\"\nthreshold = 320\npower_cap = 500\nsprint_cap = 600\nw_prime = 40000\n";
    let rider = Arc::new(stillroad::rider::read(rider).0.unwrap());
    let practice = Arc::new(Mutex::new(Practice::new(config.clone())));
    let backends: Vec<Box<dyn Backend>> = vec![Box::new(Shared(practice.clone()))];
    let mut world = World::new(0, backends, |_, _| {});
    if !leads {
        world.without_lead();
    }
    let mut memory = Memory::default();
    memory.trainer(Device::Trainer.id().as_str()).lag = remembered;
    world.input(Input::Remembered(Box::new(memory)));
    world.command(Command::Choose(Box::new(Choice {
        plan,
        rider,
        mode: RideMode::TargetPower,
    })));
    world.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    world.run_until(Instant::ZERO + Span::from_seconds_f64(START));
    world.command(Command::Start);
    let end = sprints.last().unwrap() + 40.0;
    let mut looks = Vec::new();
    while world.now().seconds() < end {
        let next = world.now() + LOOK;
        world.run_until(next);
        let mut practice = practice.lock().unwrap();
        practice.move_to(next);
        let told = match practice.bike().brake().commanded() {
            Setting::Power(watts) => watts,
            _ => 0.0,
        };
        looks.push(Look {
            second: next.seconds(),
            load: practice.bike().brake().power(),
            told,
        });
    }
    let answer = *world.core().answer();
    let lead = if leads {
        answer.lead()
    } else {
        stillroad::ride::Lead::NONE
    };
    Ridden {
        looks,
        holds,
        sprints,
        words: answer.words(),
        lead: (lead.ramp.seconds(), lead.step.seconds()),
        remembers: answer.to_remember(),
        debug: format!("{:?}", answer.rise),
    }
}
