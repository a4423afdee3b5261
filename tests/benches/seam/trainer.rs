//! A trainer behind the seam on a thread of its own: it stamps what it sends and queues it, as the radio's pumps do, wakes the
//! loop, and writes down when each request came and when each notification was taken.

use std::collections::BTreeMap;
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use stillroad::device::{Backend, DeviceId, Event, Failure, Request};
use stillroad::engine::drive::{Clock, Waker};
use stillroad::gatt::uuid16::{
    CONTROL_POINT, FITNESS_MACHINE, FITNESS_MACHINE_FEATURE, FITNESS_MACHINE_STATUS,
    INDOOR_BIKE_DATA, POWER_RANGE, RESISTANCE_RANGE,
};
use stillroad::time::{Instant, Span};

/// From a request to its answer, and from the write response to the indication.
const REPLY: Span = Span::from_millis(15);
/// Between two reports: not a divisor of a second.
const REPORTS: Span = Span::from_millis(247);
/// 32.25 km/h, 85 rpm, 100 W (Fitness Machine Service 1.0.1, 4.9).
const RECORD: [u8; 8] = [0x44, 0x00, 0x99, 0x0C, 0xAA, 0x00, 0x64, 0x00];

/// What was seen at the seam.
#[derive(Debug, Default)]
pub struct Seen {
    /// Writes to the control point, with the moment at which the request came.
    pub writes: Vec<(Instant, Vec<u8>)>,
    /// From the stamp of each notification until the loop took it, microseconds.
    pub heard_us: Vec<u64>,
}

#[derive(Default)]
struct State {
    /// What is to happen and when; the thread moves what is due to `ready`.
    coming: BTreeMap<(Instant, u64), Event>,
    ready: Vec<(Instant, Event)>,
    number: u64,
    reports: bool,
    over: bool,
    seen: Seen,
}

struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

/// The backend.
pub struct Trainer {
    clock: Clock,
    shared: Arc<Shared>,
}

/// What is left of it after the ride.
#[derive(Clone)]
pub struct Witness(Arc<Shared>);

impl Witness {
    pub fn take(&self) -> Seen {
        std::mem::take(&mut self.0.state.lock().unwrap().seen)
    }
}

pub fn id() -> DeviceId {
    DeviceId::new("bench:trainer")
}

/// The backend and its witness, and the thread that stands for the radio.
pub fn trainer(clock: Clock, wake: Waker) -> (Trainer, Witness) {
    let shared = Arc::new(Shared {
        state: Mutex::default(),
        changed: Condvar::new(),
    });
    let pump = Arc::clone(&shared);
    std::thread::spawn(move || run(clock, &pump, &wake));
    let witness = Witness(Arc::clone(&shared));
    (Trainer { clock, shared }, witness)
}

fn run(clock: Clock, shared: &Shared, wake: &Waker) {
    let mut next_report = Instant::ZERO;
    let mut state = shared.state.lock().unwrap();
    while !state.over {
        let now = clock.now();
        if state.reports && now >= next_report {
            let event = Event::Notified(id(), INDOOR_BIKE_DATA, RECORD.to_vec());
            state.ready.push((now, event));
            next_report = now + REPORTS;
        }
        while let Some(first) = state
            .coming
            .first_entry()
            .filter(|first| first.key().0 <= now)
        {
            // Stamped when it is there, as what comes over the air is.
            let event = first.remove();
            state.ready.push((now, event));
        }
        if !state.ready.is_empty() {
            wake();
        }
        let first = state.coming.first_key_value().map(|((at, _), _)| *at);
        let due = first
            .into_iter()
            .chain(state.reports.then_some(next_report))
            .min();
        let wait = due.map_or(500_000, |due| due.since(clock.now()).0);
        let (back, _) = shared
            .changed
            .wait_timeout(state, Duration::from_micros(wait))
            .unwrap();
        state = back;
    }
}

impl Drop for Trainer {
    fn drop(&mut self) {
        self.shared.state.lock().unwrap().over = true;
        self.shared.changed.notify_all();
    }
}

/// A trainer that takes 0 to 1000 W by 1 and levels of 0 to 10.
fn value(what: stillroad::gatt::Uuid16) -> Result<Vec<u8>, Failure> {
    match what {
        FITNESS_MACHINE_FEATURE => Ok(vec![0x02, 0x40, 0, 0, 0x0C, 0, 0, 0]),
        POWER_RANGE => Ok(vec![0, 0, 0xE8, 0x03, 1, 0]),
        RESISTANCE_RANGE => Ok(vec![0, 100, 1]),
        _ => Err(Failure::NotFound),
    }
}

impl Backend for Trainer {
    fn owns(&self, device: &DeviceId) -> bool {
        *device == id()
    }

    fn request(&mut self, _: Instant, request: Request) {
        // The moment itself, not the loop's `now`: what the loop does in between counts.
        let now = self.clock.now();
        let mut state = self.shared.state.lock().unwrap();
        let answer = match request {
            Request::Scan(_) => return,
            Request::Connect(id) => {
                let has = [
                    FITNESS_MACHINE_FEATURE,
                    INDOOR_BIKE_DATA,
                    FITNESS_MACHINE_STATUS,
                    POWER_RANGE,
                    RESISTANCE_RANGE,
                    CONTROL_POINT,
                ];
                Event::Connected(id, has.map(|found| (FITNESS_MACHINE, found)).to_vec())
            }
            Request::Disconnect(id) => {
                state.reports = false;
                Event::Disconnected(id)
            }
            Request::Read(id, what) => Event::Read(id, what, value(what)),
            Request::Subscribe(id, what) => {
                state.reports |= what == INDOOR_BIKE_DATA;
                Event::Subscribed(id, what, Ok(()))
            }
            Request::Write(id, what, bytes) => {
                let answer = vec![0x80, bytes[0], 0x01];
                state.seen.writes.push((now, bytes));
                state.number += 1;
                let place = (now + REPLY + REPLY, state.number);
                state
                    .coming
                    .insert(place, Event::Notified(id.clone(), what, answer));
                Event::Written(id, what, Ok(()))
            }
        };
        state.number += 1;
        let place = (now + REPLY, state.number);
        state.coming.insert(place, answer);
        drop(state);
        self.shared.changed.notify_all();
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        let mut state = self.shared.state.lock().unwrap();
        if state.ready.first().is_none_or(|(at, _)| *at > now) {
            return None;
        }
        let (at, event) = state.ready.remove(0);
        if matches!(event, Event::Notified(..)) {
            let taken = self.clock.now().since(at).0;
            state.seen.heard_us.push(taken);
        }
        Some((at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        // Like the radio: what came after the loop looked is due at once, and the waker tells the rest.
        self.shared
            .state
            .lock()
            .unwrap()
            .ready
            .first()
            .map(|(at, _)| *at)
    }
}
