//! A bare tokio loop beside the ride: it sleeps until deadlines a quarter of a second apart and takes notifications from a
//! thread that stamps them. What the machine itself makes late is late here too.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use tokio::sync::mpsc;

/// How late it was, microseconds.
#[derive(Default)]
pub struct Late {
    pub woke_us: Vec<u64>,
    pub heard_us: Vec<u64>,
}

pub struct Bare {
    over: Arc<AtomicBool>,
    thread: JoinHandle<Late>,
}

impl Bare {
    pub fn start() -> Self {
        let over = Arc::new(AtomicBool::new(false));
        let seen = Arc::clone(&over);
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread()
                .enable_time()
                .build()
                .unwrap();
            runtime.block_on(run(seen))
        });
        Self { over, thread }
    }

    pub fn end(self) -> Late {
        self.over.store(true, Ordering::Relaxed);
        self.thread.join().unwrap()
    }
}

async fn run(over: Arc<AtomicBool>) -> Late {
    let (send, mut notifications) = mpsc::channel(64);
    let ends = Arc::clone(&over);
    std::thread::spawn(move || {
        while !ends.load(Ordering::Relaxed) {
            std::thread::sleep(Duration::from_millis(247));
            // A full channel would only lose what is measured.
            let _lost = send.try_send(Instant::now());
        }
    });
    let mut late = Late::default();
    let mut due = Instant::now();
    let since = |at: Instant| u64::try_from(at.elapsed().as_micros()).unwrap_or(u64::MAX);
    while !over.load(Ordering::Relaxed) {
        due += Duration::from_millis(250);
        loop {
            tokio::select! {
                () = tokio::time::sleep_until(due.into()) => break,
                Some(stamp) = notifications.recv() => late.heard_us.push(since(stamp)),
            }
        }
        late.woke_us.push(since(due));
    }
    late
}
