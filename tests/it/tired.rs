//! Riders who tire: what the brake does to their legs, and what lets it go.

mod flywheel;
mod lost_signals;
mod meter;
mod ordinary;
mod other_legs;
mod picture;
mod rides;
mod stall;
mod strap;

use std::sync::{Arc, Mutex};

use stillroad::device::practice::{Practice, PracticeConfig, Script};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::rider::Rider;
use stillroad::time::Instant;
use stillroad::units::{Joules, Watts};

/// A practice trainer whose rider's legs can be looked at while the program rides it.
#[derive(Clone)]
struct Watched(Arc<Mutex<Practice>>);

impl Watched {
    fn new(config: PracticeConfig) -> Self {
        Self(Arc::new(Mutex::new(Practice::new(config))))
    }

    /// The cadence of the legs themselves, rpm.
    fn cadence(&self) -> f64 {
        self.0.lock().unwrap().bike().legs().cadence()
    }
}

impl Backend for Watched {
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

/// Legs with this critical power (W) and W′ (J) that like a cadence (rpm).
fn legs(critical_power: f64, w_prime: f64, cadence: f64) -> PracticeConfig {
    let mut config = PracticeConfig::for_critical_power(Watts(critical_power), Joules(w_prime));
    config.legs.cadence_habit = cadence;
    config.scripted(Script::ride(cadence))
}

/// A rider whose caps bind nothing here.
fn uncapped(threshold: f64) -> Rider {
    let text =
        format!("threshold = {threshold}\npower_cap = 900\nsprint_cap = 1200\nw_prime = 20000\n");
    stillroad::rider::read(&text).0.unwrap()
}
