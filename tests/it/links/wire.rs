//! A fake trainer behind a wire on which requests are refused, answers stay away and discoveries come back short.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard};

use stillroad::device::{Backend, DeviceId, Event, Failure, Request};
use stillroad::gatt::Uuid16;
use stillroad::gatt::uuid16::CONTROL_POINT;
use stillroad::time::{Instant, Span};

use crate::world::Fake;

/// What the wire does; may be changed at any time.
#[derive(Debug, Default)]
pub struct Rule {
    /// So many requests to subscribe to this fail so.
    pub refuse: Option<(Uuid16, Failure, usize)>,
    /// So many discoveries lack these characteristics.
    pub short: (usize, Vec<Uuid16>),
    /// Discoveries find these too, as after a device changed its services.
    pub more: Vec<(Uuid16, Uuid16)>,
    /// Requests to connect are not answered.
    pub deaf: bool,
    /// Requests to subscribe to this are not answered.
    pub keeps: Option<Uuid16>,
    /// A resistance level in one octet is an invalid parameter (result 03); one in a word is passed on.
    pub words_only: bool,
    /// The adapter is gone: requests to connect fail so.
    pub off: Option<String>,
    made_up: BTreeMap<(Instant, u64), Event>,
    number: u64,
}

/// The trainer behind the wire.
#[derive(Clone, Debug)]
pub struct Wire {
    pub fake: Fake,
    rule: Arc<Mutex<Rule>>,
}

impl Wire {
    pub fn new(fake: &Fake) -> Self {
        Self {
            fake: fake.clone(),
            rule: Arc::default(),
        }
    }

    pub fn rule(&self) -> MutexGuard<'_, Rule> {
        self.rule.lock().unwrap()
    }

    /// Says something of its own.
    pub fn say(&self, at: Instant, event: Event) {
        let mut rule = self.rule();
        rule.number += 1;
        let number = rule.number;
        rule.made_up.insert((at, number), event);
    }
}

impl Backend for Wire {
    fn owns(&self, device: &DeviceId) -> bool {
        self.fake.owns(device)
    }

    fn request(&mut self, now: Instant, request: Request) {
        let soon = now + Span::from_millis(20);
        let mut answers = Vec::new();
        {
            let mut rule = self.rule();
            match &request {
                Request::Connect(id) if rule.off.is_some() => {
                    let why = rule.off.clone().unwrap_or_default();
                    answers.push(Event::ConnectFailed(id.clone(), Failure::Other(why)));
                }
                Request::Connect(_) if rule.deaf => return,
                Request::Subscribe(_, what) if rule.keeps == Some(*what) => return,
                Request::Subscribe(id, what) => {
                    if let Some((refused, why, left)) = &mut rule.refuse
                        && refused == what
                        && *left > 0
                    {
                        *left -= 1;
                        answers.push(Event::Subscribed(id.clone(), *what, Err(why.clone())));
                    }
                }
                Request::Write(id, CONTROL_POINT, bytes)
                    if rule.words_only && bytes[0] == 0x04 && bytes.len() == 2 =>
                {
                    answers.push(Event::Written(id.clone(), CONTROL_POINT, Ok(())));
                    let invalid = vec![0x80, 0x04, 0x03];
                    answers.push(Event::Notified(id.clone(), CONTROL_POINT, invalid));
                }
                _ => {}
            }
        }
        if answers.is_empty() {
            self.fake.request(now, request);
        }
        for answer in answers {
            self.say(soon, answer);
        }
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        while let Some((at, event)) = self.fake.poll_event(now) {
            let event = match event {
                Event::Connected(id, mut found) => {
                    let mut rule = self.rule();
                    let (left, missing) = &mut rule.short;
                    if *left > 0 {
                        *left -= 1;
                        found.retain(|(_, one)| !missing.contains(one));
                    }
                    found.extend(&rule.more);
                    Event::Connected(id, found)
                }
                other => other,
            };
            self.say(at, event);
        }
        let mut rule = self.rule();
        let first = *rule.made_up.first_key_value()?.0;
        if first.0 > now {
            return None;
        }
        rule.made_up.pop_first().map(|((at, _), event)| (at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let made_up = self
            .rule()
            .made_up
            .first_key_value()
            .map(|((at, _), _)| *at);
        made_up.into_iter().chain(self.fake.poll_timeout()).min()
    }
}
