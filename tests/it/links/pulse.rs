//! A heart strap with a name of its own that can go away.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use stillroad::device::{Backend, DeviceId, Event, Failure, Request};
use stillroad::gatt::HeartRateMeasurement;
use stillroad::gatt::uuid16::{HEART_RATE, HEART_RATE_MEASUREMENT};
use stillroad::time::{Instant, Span};
use stillroad::units::Bpm;

#[derive(Debug, Default)]
struct State {
    away: bool,
    queue: BTreeMap<(Instant, u64), Event>,
    number: u64,
    due: Option<Instant>,
}

#[derive(Clone, Debug)]
pub struct Pulse {
    name: &'static str,
    bpm: f64,
    state: Arc<Mutex<State>>,
}

impl Pulse {
    pub fn new(name: &'static str, bpm: f64) -> Self {
        Self {
            name,
            bpm,
            state: Arc::default(),
        }
    }

    pub fn id(&self) -> DeviceId {
        DeviceId::new(self.name)
    }

    /// It is carried out of reach, or comes back.
    pub fn away(&self, now: Instant, away: bool) {
        let mut state = self.state.lock().unwrap();
        state.away = away;
        if away && state.due.take().is_some() {
            state.push(now, Event::Disconnected(self.id()));
        }
    }
}

impl State {
    fn push(&mut self, at: Instant, event: Event) {
        self.number += 1;
        self.queue.insert((at, self.number), event);
    }
}

impl Backend for Pulse {
    fn owns(&self, device: &DeviceId) -> bool {
        device.as_str() == self.name
    }

    fn request(&mut self, now: Instant, request: Request) {
        let mut state = self.state.lock().unwrap();
        let answer = match request {
            Request::Scan(_) => return,
            Request::Connect(id) if state.away => Event::ConnectFailed(id, Failure::NotFound),
            Request::Connect(id) => {
                Event::Connected(id, vec![(HEART_RATE, HEART_RATE_MEASUREMENT)])
            }
            Request::Disconnect(id) => {
                state.due = None;
                Event::Disconnected(id)
            }
            Request::Read(id, what) => Event::Read(id, what, Err(Failure::NotFound)),
            Request::Subscribe(id, what) => {
                state.due = Some(now + Span::from_millis(700));
                Event::Subscribed(id, what, Ok(()))
            }
            Request::Write(id, what, _) => Event::Written(id, what, Err(Failure::NotFound)),
        };
        state.push(now + Span::from_millis(20), answer);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        let mut state = self.state.lock().unwrap();
        if let Some(due) = state.due.filter(|due| *due <= now) {
            state.due = Some(due + Span::from_millis(900));
            let record = HeartRateMeasurement::of(Bpm(self.bpm)).encode();
            let event = Event::Notified(self.id(), HEART_RATE_MEASUREMENT, record);
            state.push(due, event);
        }
        let first = *state.queue.first_key_value()?.0;
        if first.0 > now {
            return None;
        }
        state.queue.pop_first().map(|((at, _), event)| (at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let state = self.state.lock().unwrap();
        let first = state.queue.first_key_value().map(|((at, _), _)| *at);
        first.into_iter().chain(state.due).min()
    }
}
