//! A heart strap that says what the test wants.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use stillroad::device::{Backend, DeviceId, Event, Failure, Request};
use stillroad::gatt::HeartRateMeasurement;
use stillroad::gatt::uuid16::{HEART_RATE, HEART_RATE_MEASUREMENT};
use stillroad::time::{Instant, Span};
use stillroad::units::Bpm;

const ID: &str = "fake:strap";

#[derive(Debug)]
struct State {
    bpm: u16,
    silent: bool,
    queue: BTreeMap<(Instant, u64), Event>,
    number: u64,
    due: Option<Instant>,
}

#[derive(Clone, Debug)]
pub struct Strap(Arc<Mutex<State>>);

impl Strap {
    pub fn new(bpm: u16) -> Self {
        Self(Arc::new(Mutex::new(State {
            bpm,
            silent: false,
            queue: BTreeMap::new(),
            number: 0,
            due: None,
        })))
    }

    pub fn id(&self) -> DeviceId {
        DeviceId::new(ID)
    }

    pub fn beats(&self, bpm: u16) {
        self.0.lock().unwrap().bpm = bpm;
    }

    pub fn silent(&self, silent: bool) {
        self.0.lock().unwrap().silent = silent;
    }
}

impl State {
    fn push(&mut self, at: Instant, event: Event) {
        self.number += 1;
        self.queue.insert((at, self.number), event);
    }
}

impl Backend for Strap {
    fn owns(&self, device: &DeviceId) -> bool {
        device.as_str() == ID
    }

    fn request(&mut self, now: Instant, request: Request) {
        let mut state = self.0.lock().unwrap();
        let answer = match request {
            Request::Scan(_) => return,
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
        let mut state = self.0.lock().unwrap();
        while let Some(due) = state.due.filter(|due| *due <= now) {
            state.due = Some(due + Span::from_seconds(1));
            if !state.silent {
                let bytes = HeartRateMeasurement::of(Bpm(f64::from(state.bpm))).encode();
                let event = Event::Notified(self.id(), HEART_RATE_MEASUREMENT, bytes);
                state.push(due, event);
            }
        }
        let first = *state.queue.first_key_value()?.0;
        if first.0 > now {
            return None;
        }
        state.queue.pop_first().map(|((at, _), event)| (at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let state = self.0.lock().unwrap();
        let first = state.queue.first_key_value().map(|((at, _), _)| *at);
        first.into_iter().chain(state.due).min()
    }
}
