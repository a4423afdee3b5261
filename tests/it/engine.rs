//! The loop itself, on its own thread with its own clock: what happens when something in it fails.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant as WallInstant};

use stillroad::device::practice::{Device, Practice, PracticeConfig};
use stillroad::device::{Backend, DeviceId, Event, Request};
use stillroad::engine::drive::Engine;
use stillroad::engine::{Choice, Command, Role};
use stillroad::gatt::uuid16::CONTROL_POINT;
use stillroad::plan;
use stillroad::ride::{Finish, Mode, RideMode};
use stillroad::time::Instant;

use crate::world::rider;

/// The practice trainer, until it is told to blow: then whoever polls it panics once.
struct Fuse {
    practice: Practice,
    blow: Arc<AtomicBool>,
    writes: Arc<Mutex<Vec<Vec<u8>>>>,
}

impl Backend for Fuse {
    fn owns(&self, device: &DeviceId) -> bool {
        self.practice.owns(device)
    }

    fn request(&mut self, now: Instant, request: Request) {
        if let Request::Write(_, CONTROL_POINT, bytes) = &request {
            self.writes.lock().unwrap().push(bytes.clone());
        }
        self.practice.request(now, request);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        assert!(
            !self.blow.swap(false, Ordering::Relaxed),
            "the fuse blows, as this test wants it"
        );
        self.practice.poll_event(now)
    }

    fn poll_timeout(&self) -> Option<Instant> {
        self.practice.poll_timeout()
    }
}

/// Waits until something is so; a minute is far more than it takes.
fn until(mut is_so: impl FnMut() -> bool) {
    let deadline = WallInstant::now() + Duration::from_secs(60);
    while !is_so() {
        assert!(WallInstant::now() < deadline, "it never came about");
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn a_failure_in_the_loop_lets_the_brake_off_and_keeps_the_rows() {
    let (blow, writes) = (
        Arc::new(AtomicBool::new(false)),
        Arc::new(Mutex::new(Vec::new())),
    );
    let fuse = Fuse {
        practice: Practice::new(PracticeConfig::default()),
        blow: Arc::clone(&blow),
        writes: Arc::clone(&writes),
    };
    let folder = tempfile::tempdir().unwrap();
    let backends = Box::new(move |_, _| {
        let backends: Vec<Box<dyn Backend>> = vec![Box::new(fuse)];
        backends
    });
    let mut engine = Engine::start(
        folder.path().to_owned(),
        None,
        10,
        backends,
        Arc::new(|| {}),
    )
    .unwrap();
    let (_, text) = plan::builtin()[1];
    engine.command(Command::Choose(Box::new(Choice {
        plan: Arc::new(plan::read(text).plan.unwrap()),
        rider: Arc::new(rider()),
        mode: RideMode::TargetPower,
    })));
    engine.command(Command::Use(Role::Trainer, Some(Device::Trainer.id())));
    engine.command(Command::StartWithPedals);
    until(|| {
        engine
            .snapshot()
            .brake
            .is_some_and(|brake| brake.value() > 20.0)
    });
    let loaded = writes.lock().unwrap().last().cloned().unwrap();
    assert!(loaded[0] == 5 && loaded[1] > 20, "{loaded:?}");
    blow.store(true, Ordering::Relaxed);
    until(|| engine.is_over());
    // Op 05 with the practice trainer's least, 0 W.
    assert_eq!(writes.lock().unwrap().last(), Some(&vec![5, 0, 0]));
    let last = engine.snapshot();
    assert_eq!(last.mode, Mode::Finished(Finish::Closed));
    assert!(last.notice.as_ref().unwrap().contains("The program failed"));
    let ride = std::fs::read_dir(folder.path())
        .unwrap()
        .next()
        .unwrap()
        .unwrap();
    let rows = std::fs::read_to_string(ride.path().join("samples.csv")).unwrap();
    assert!(rows.lines().count() > 1 && rows.ends_with('\n'), "{rows}");
}

#[test]
fn the_screen_is_not_woken_for_what_it_shows_already() {
    let folder = tempfile::tempdir().unwrap();
    let (woken, counted) = {
        let woken = Arc::new(std::sync::atomic::AtomicUsize::new(0));
        (Arc::clone(&woken), woken)
    };
    let redraw = move || {
        counted.fetch_add(1, Ordering::SeqCst);
    };
    let no_backends = Box::new(|_, _| Vec::new());
    let mut engine = Engine::start(
        folder.path().to_owned(),
        None,
        1,
        no_backends,
        Arc::new(redraw),
    )
    .unwrap();
    // A command is answered by a look at the snapshot at once; these change nothing of it.
    for _ in 0..100 {
        assert!(engine.command(Command::Scan(true)));
    }
    engine.command(Command::Close);
    until(|| engine.is_over());
    assert!(matches!(
        engine.snapshot().mode,
        Mode::Finished(_) | Mode::Idle
    ));
    // That it closes, that all is let go, the writer's last word, and that it is over.
    let woken = woken.load(Ordering::SeqCst);
    assert!((1..=4).contains(&woken), "woken {woken} times");
}
