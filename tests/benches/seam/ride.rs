//! One ride through the real loop.

use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use jiff::tz::TimeZone;

use stillroad::engine::drive::{Backends, Engine};
use stillroad::engine::{Choice, Command, Role};
use stillroad::plan;
use stillroad::ride::RideMode;
use stillroad::store::{Bounds, RideWriter};
use stillroad::time::Instant;

use crate::disk::SlowDisk;
use crate::trainer;

/// What came of it.
pub struct Ridden {
    /// Writes to the control point, with the moment at which they reached the backend.
    pub writes: Vec<(Instant, Vec<u8>)>,
    /// From a notification's stamp until the loop took it, microseconds.
    pub heard_us: Vec<u64>,
    /// The ride's raw inputs, as they are kept.
    pub raw: Vec<u8>,
    pub syncs: u32,
    /// Whether the recording says that entries were lost.
    pub lost: usize,
}

/// Twelve seconds of 100 W and of 190 W in turn: with their ramps some three commands a second.
fn session() -> Arc<plan::Plan> {
    let mut text =
        "format = 1\nname = \"Seam\"\npurpose = \"For a benchmark and not for legs.\"\n".to_owned();
    for n in 0..100 {
        let watts = if n % 2 == 0 { 100 } else { 190 };
        text += &format!("[[block]]\nkind = \"hold\"\ntime = \"0:12\"\nwatts = {watts}\n");
    }
    let reading = plan::read(&text);
    Arc::new(
        reading
            .plan
            .unwrap_or_else(|| panic!("{:?}", reading.problems)),
    )
}

/// Rides so many seconds of the wall's clock.
pub fn ride(seconds: u64, loaded: bool) -> Ridden {
    let disk = SlowDisk::new(Duration::from_secs(if loaded { 3 } else { 0 }));
    let writer = RideWriter::with_disk(
        Path::new("/rides"),
        Box::new(disk.clone()),
        TimeZone::UTC,
        Bounds::default(),
    );
    let witness = Arc::new(Mutex::new(None));
    let to_witness = Arc::clone(&witness);
    let backends: Backends = Box::new(move |clock, wake| {
        let (trainer, seen) = trainer::trainer(clock, wake);
        *to_witness.lock().unwrap() = Some(seen);
        vec![Box::new(trainer)]
    });
    let mut engine = Engine::start_with(writer, None, 1, backends, Arc::new(|| {})).unwrap();
    let rider =
        "name = \"Bench\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n";
    engine.command(Command::Choose(Box::new(Choice {
        plan: session(),
        rider: Arc::new(stillroad::rider::read(rider).0.unwrap()),
        mode: RideMode::TargetPower,
    })));
    engine.command(Command::Use(Role::Trainer, Some(trainer::id())));
    std::thread::sleep(Duration::from_secs(2));
    engine.command(Command::Start);
    std::thread::sleep(Duration::from_secs(seconds));
    let seen = witness
        .lock()
        .unwrap()
        .clone()
        .expect("the loop has begun")
        .take();
    engine.command(Command::End);
    engine.command(Command::End);
    std::thread::sleep(Duration::from_secs(2));
    engine.close();
    // The writer may still wait for its last syncs.
    std::thread::sleep(Duration::from_secs(if loaded { 15 } else { 1 }));
    let events = String::from_utf8(disk.file("events.csv")).unwrap();
    Ridden {
        writes: seen.writes,
        heard_us: seen.heard_us,
        raw: disk.file("raw.csv"),
        syncs: disk.syncs(),
        lost: events
            .lines()
            .filter(|line| line.contains("not kept"))
            .count(),
    }
}
