//! Riding free: the mode is switched without a jump, sprints end without a drop, every trainer is ridden to the end, and
//! the gear of the last hold is told where it can be known. `cargo test --test it free -- --nocapture` prints the tables.

mod gears;
mod heedless;
mod known;
mod let_off;
mod no_cadence;
mod search;
mod settled;
mod slow_hold;
mod slow_laws;
mod slow_safety;
mod sprints;
mod switching;
mod trainers;

use std::sync::{Arc, Mutex};

use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::engine::input::Input;
use stillroad::engine::{Command, Role};
use stillroad::memory::Memory;
use stillroad::plan::Plan;
use stillroad::ride::RideMode;
use stillroad::rider::Rider;
use stillroad::time::Instant;

use crate::world::{Ride, tap};

/// A practice trainer whose truth can be seen while it is ridden.
#[derive(Clone)]
struct Seen(Arc<Mutex<Practice>>);

impl Backend for Seen {
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

/// The truth at a moment.
#[derive(Clone, Copy, Debug)]
struct Truth {
    second: f64,
    /// Power of the brake, W.
    power: f64,
    /// Metres for one turn of the cranks.
    development: f64,
    worst_rise: f64,
}

struct Trial {
    ride: Ride,
    seen: Seen,
    truths: Vec<Truth>,
}

impl Trial {
    /// Started at second five.
    fn new(config: PracticeConfig, plan: &Arc<Plan>, rider: &Rider, mode: RideMode) -> Self {
        Self::begin(config, plan, rider, mode, None)
    }

    /// The same by effort, with what earlier rides left.
    fn remembering(config: PracticeConfig, plan: &Arc<Plan>, memory: &Memory) -> Self {
        let mode = RideMode::EffortOnly;
        Self::begin(config, plan, &crate::world::rider(), mode, Some(memory))
    }

    fn begin(
        config: PracticeConfig,
        plan: &Arc<Plan>,
        rider: &Rider,
        mode: RideMode,
        memory: Option<&Memory>,
    ) -> Self {
        let seen = Seen(Arc::new(Mutex::new(Practice::new(config))));
        let mut ride = Ride::new(vec![tap(seen.clone())]);
        if let Some(memory) = memory {
            ride.input(Input::Remembered(Box::new(memory.clone())));
        }
        ride.choose(plan, rider, mode);
        ride.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
        ride.start();
        Self {
            ride,
            seen,
            truths: Vec::new(),
        }
    }

    /// On to a second, with the truth written down twenty times a second.
    fn to(&mut self, second: f64) {
        while self.ride.now().0 as f64 / 1e6 < second - 1e-6 {
            self.ride.pass(0.05);
            let practice = self.seen.0.lock().unwrap();
            let bike = practice.bike();
            self.truths.push(Truth {
                second: self.ride.now().0 as f64 / 1e6,
                power: bike.brake().power(),
                development: bike.legs().development(),
                worst_rise: bike.legs().worst_rise(),
            });
        }
    }

    /// The mean power of a second that ends then.
    fn power_before(&self, second: f64) -> f64 {
        let last = |t: &&Truth| t.second > second - 1.0 && t.second <= second + 1e-6;
        let powers: Vec<f64> = self.truths.iter().filter(last).map(|t| t.power).collect();
        powers.iter().sum::<f64>() / powers.len() as f64
    }

    /// The greatest rise and the greatest fall of power within half a second, W, between two seconds.
    fn jumps(&self, from: f64, to: f64) -> (f64, f64) {
        let within: Vec<&Truth> = self
            .truths
            .iter()
            .filter(|t| t.second >= from && t.second <= to)
            .collect();
        let changes = within.iter().zip(within.iter().skip(10));
        changes.fold((0.0_f64, 0.0_f64), |(rise, fall), (a, b)| {
            (rise.max(b.power - a.power), fall.max(a.power - b.power))
        })
    }
}
