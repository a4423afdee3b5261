//! A panic while the window draws, in the middle of a real ride: the brake is let off and the recording is whole.
//!
//! Nothing in the program is there to bring a panic about; here it comes from the ride that the window draws, which asks
//! it for the moment in the midst of each frame.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::rc::Rc;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant as WallInstant};

use egui_kittest::Harness;
use stillroad::app::{App, Ride};
use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::engine::drive::Engine;
use stillroad::engine::{Choice, Command, Role, Snapshot};
use stillroad::gatt::uuid16::CONTROL_POINT;
use stillroad::plan;
use stillroad::ride::RideMode;
use stillroad::store::reader::read_ride;
use stillroad::time::Instant;

use super::hand::{Drawer, shelf};
use crate::world::rider;

/// What was written to the trainer's control point.
type Writes = Arc<Mutex<Vec<Vec<u8>>>>;

/// The practice trainer, whose control point is listened to.
struct Heard(Practice, Writes);

impl Backend for Heard {
    fn owns(&self, device: &DeviceId) -> bool {
        self.0.owns(device)
    }

    fn request(&mut self, now: Instant, request: Request) {
        if let Request::Write(_, CONTROL_POINT, bytes) = &request {
            self.1.lock().unwrap().push(bytes.clone());
        }
        self.0.request(now, request);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        self.0.poll_event(now)
    }

    fn poll_timeout(&self) -> Option<Instant> {
        self.0.poll_timeout()
    }
}

/// The real engine, until it is broken: then whoever draws it panics.
struct Fragile {
    engine: Engine,
    broken: Rc<Cell<bool>>,
}

impl Ride for Fragile {
    fn snapshot(&mut self) -> Arc<Snapshot> {
        self.engine.snapshot()
    }

    fn now(&self) -> Instant {
        assert!(
            !self.broken.get(),
            "the drawing fails, as this test wants it"
        );
        self.engine.clock().now()
    }

    fn command(&mut self, command: Command) {
        self.engine.command(command);
    }
}

/// A ride under load, with rows on the disk. A minute is far more than it takes.
fn loaded(folder: &Path, writes: &Writes) -> Engine {
    let heard = Heard(Practice::new(PracticeConfig::default()), Arc::clone(writes));
    let backends = Box::new(move |_, _| {
        let backends: Vec<Box<dyn Backend>> = vec![Box::new(heard)];
        backends
    });
    let quiet = Arc::new(|| {});
    let mut engine = Engine::start(folder.to_owned(), None, 10, backends, quiet).unwrap();
    let (_, text) = plan::builtin()[1];
    engine.command(Command::Choose(Box::new(Choice {
        plan: Arc::new(plan::read(text).plan.unwrap()),
        rider: Arc::new(rider()),
        mode: RideMode::TargetPower,
    })));
    engine.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    engine.command(Command::StartWithPedals);
    let deadline = WallInstant::now() + Duration::from_secs(60);
    let loaded = |snapshot: &Snapshot| {
        snapshot.brake.is_some_and(|brake| brake.value() > 20.0)
            && snapshot.ridden.whole_seconds() >= 5
    };
    while !loaded(&engine.snapshot()) {
        assert!(WallInstant::now() < deadline, "it was never loaded");
        std::thread::sleep(Duration::from_millis(10));
    }
    engine
}

#[test]
fn a_panic_while_drawing_lets_the_brake_off_and_keeps_the_ride() {
    let folder = tempfile::tempdir().unwrap();
    let writes = Writes::default();
    let engine = loaded(folder.path(), &writes);
    let broken = Rc::new(Cell::new(false));
    let ride = Fragile {
        engine,
        broken: Rc::clone(&broken),
    };
    let last = writes.lock().unwrap().last().cloned().unwrap();
    assert!(last[0] == 5 && last[1] > 20, "not under load: {last:?}");
    // As in the program: the window is dropped while the panic unwinds, and whoever called it goes on.
    let outcome = catch_unwind(AssertUnwindSafe(move || {
        let mut harness = Harness::builder().build_eframe(move |cc| {
            App::new(cc, Box::new(ride), shelf(), Box::<Drawer>::default())
        });
        harness.run_steps(2);
        broken.set(true);
        harness.step();
    }));
    let why = outcome.unwrap_err();
    let why = why.downcast_ref::<&str>().copied().unwrap_or_default();
    assert!(why.contains("as this test wants it"), "{why}");
    // Op 05 with the practice trainer's least, 0 W; then op 08, parameter 01: stop. Fitness Machine Service 1.0, 4.16.1.
    let writes = writes.lock().unwrap();
    assert_eq!(writes[writes.len() - 2..], [vec![5, 0, 0], vec![8, 1]]);
    let kept = std::fs::read_dir(folder.path())
        .unwrap()
        .next()
        .unwrap()
        .unwrap();
    let ride = read_ride(&kept.path()).unwrap();
    assert_eq!(ride.problems, Vec::<String>::new());
    assert_eq!(ride.finish.as_deref(), Some("closed"));
    assert!(ride.rows.len() >= 5, "{} rows", ride.rows.len());
}
