//! Faults on purpose: wraps any backend, and by a seed lets happen to it what happens to radios.
//!
//! Notifications are dropped, delayed (and so change places), corrupted and sent twice; requests are refused, or never
//! answered although they may have been carried out; discoveries come back short; links break, fall silent or repeat
//! themselves; the adapter goes away for a while. The same seed gives the same faults for the same ride.

use std::collections::BTreeMap;

use crate::device::{Adapter, Backend, DeviceId, Event, Failure, Request};
use crate::gatt::{Uuid16, uuid16};
use crate::time::{Instant, Span};

/// From a request to the refusal that is made up here.
const REPLY: Span = Span::from_millis(20);
/// When the system gives up waiting, as the radio does: a link, a write, a read or subscription.
const CONNECT_GIVEN_UP: Span = Span::from_seconds(20);
const WRITE_GIVEN_UP: Span = Span::from_seconds(10);
const READ_GIVEN_UP: Span = Span::from_seconds(5);
/// A notification comes late by this at most: over a second, so that others overtake it.
const LATEST: Span = Span::from_millis(2_500);
/// How long a link is silent, repeats itself, and how long the adapter is gone.
const SILENT_FOR: Span = Span::from_seconds(7);
const FROZEN_FOR: Span = Span::from_seconds(20);
const OFF_FOR: Span = Span::from_seconds(9);

/// Events that may wait: those of some seconds. What finds it full is dropped, like any other notification here.
const WAITING: usize = 4_096;

const SWITCHED_OFF: &str = entry!(
    "Bluetooth is switched off, so no device can be reached (a fault on purpose). It comes back by itself."
);

/// What happens how often.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Faults {
    /// Where the numbers begin.
    pub seed: u64,
    /// Notifications that are lost, of a thousand.
    pub dropped: u32,
    /// Notifications that come late, of a thousand.
    pub delayed: u32,
    /// Notifications with a bit turned, cut or lengthened, of a thousand.
    pub corrupted: u32,
    /// Notifications that come twice, of a thousand.
    pub doubled: u32,
    /// Requests that are refused, of a thousand.
    pub refused: u32,
    /// Requests that are never answered, carried out or not, of a thousand.
    pub unanswered: u32,
    /// Discoveries that miss something, of a thousand.
    pub short: u32,
    /// A link breaks about so often.
    pub breaks: Span,
    /// A link falls silent about so often, or repeats itself.
    pub silences: Span,
    /// The adapter goes away about so often.
    pub adapter_off: Span,
    /// From here on nothing goes wrong any more; never where there is none.
    pub until: Option<Instant>,
}

impl Faults {
    /// Bad weather: enough for every fault to come in half an hour, and not so much that no ride is left. Our own choice.
    pub const fn of(seed: u64) -> Self {
        Self {
            seed,
            dropped: 20,
            delayed: 20,
            corrupted: 10,
            doubled: 10,
            refused: 30,
            unanswered: 10,
            short: 100,
            breaks: Span::from_seconds(150),
            silences: Span::from_seconds(120),
            adapter_off: Span::from_seconds(600),
            until: None,
        }
    }
}

/// A link as the faults see it.
#[derive(Debug)]
struct Link {
    breaks_at: Instant,
    trouble_at: Instant,
    silent_until: Instant,
    frozen_until: Instant,
    /// What each characteristic told last: as many as the device has.
    last: BTreeMap<Uuid16, Vec<u8>>,
}

/// A backend with faults.
pub struct Faulty<'b> {
    inner: Box<dyn Backend + 'b>,
    faults: Faults,
    numbers: fastrand::Rng,
    links: BTreeMap<DeviceId, Link>,
    /// Answers that are not passed on: one a request, so bounded by what is asked on a link.
    swallowed: Vec<Event>,
    queue: BTreeMap<(Instant, u64), Event>,
    sequence: u64,
    off_at: Option<Instant>,
    off_until: Option<Instant>,
}

impl<'b> Faulty<'b> {
    /// Wraps a backend.
    pub fn new(inner: Box<dyn Backend + 'b>, faults: Faults) -> Self {
        Self {
            inner,
            faults,
            numbers: fastrand::Rng::with_seed(faults.seed),
            links: BTreeMap::new(),
            swallowed: Vec::new(),
            queue: BTreeMap::new(),
            sequence: 0,
            off_at: None,
            off_until: None,
        }
    }

    fn calm(&self, now: Instant) -> bool {
        self.faults.until.is_some_and(|until| now >= until)
    }

    /// Whether it happens now, where it happens `of_a_thousand` times.
    fn strikes(&mut self, now: Instant, of_a_thousand: u32) -> bool {
        let drawn = self.numbers.u32(0..1_000);
        drawn < of_a_thousand && !self.calm(now)
    }

    /// A moment about `every` from now: half of it to one and a half.
    fn about(&mut self, now: Instant, every: Span) -> Instant {
        now + Span(every.0 / 2 + self.numbers.u64(0..every.0.max(1)))
    }

    fn push(&mut self, at: Instant, event: Event) {
        if self.queue.len() < WAITING || !matches!(event, Event::Notified(..)) {
            self.sequence += 1;
            self.queue.insert((at, self.sequence), event);
        }
    }

    /// The link is gone: with it what was still to come of it.
    fn forget(&mut self, id: &DeviceId) {
        self.links.remove(id);
        self.swallowed.retain(|event| device_of(event) != Some(id));
        self.queue.retain(|_, event| device_of(event) != Some(id));
    }

    /// Links that break and fall silent now, and the adapter that goes or comes back.
    fn happen(&mut self, now: Instant) {
        if let Some(until) = self.off_until
            && now >= until
        {
            self.off_until = None;
            self.push(now, Event::Adapter(Adapter::Quiet));
        }
        if self.calm(now) {
            return;
        }
        let off = self.off_at.is_some_and(|at| now >= at);
        if off {
            let every = self.faults.adapter_off;
            self.off_at = Some(self.about(now, every));
            self.off_until = Some(now + OFF_FOR);
            let state = Adapter::Off(SWITCHED_OFF.to_owned());
            self.push(now, Event::Adapter(state));
        }
        let ids: Vec<DeviceId> = self.links.keys().cloned().collect();
        for id in ids {
            let breaks = self
                .links
                .get(&id)
                .is_some_and(|link| now >= link.breaks_at);
            if off || breaks {
                let again = self.about(now, self.faults.breaks);
                if let Some(link) = self.links.get_mut(&id) {
                    link.breaks_at = again;
                }
                // Its end is reported by whoever holds the link.
                self.inner.request(now, Request::Disconnect(id));
                continue;
            }
            let again = self.about(now, self.faults.silences);
            let frozen = self.numbers.bool();
            if let Some(link) = self.links.get_mut(&id)
                && now >= link.trouble_at
            {
                link.trouble_at = again;
                if frozen {
                    link.frozen_until = now + FROZEN_FOR;
                } else {
                    link.silent_until = now + SILENT_FOR;
                }
            }
        }
    }

    /// What comes from the wrapped backend.
    fn take(&mut self, at: Instant, event: Event) {
        if let Some(index) = self.swallowed.iter().position(|one| answers(one, &event)) {
            self.swallowed.swap_remove(index);
            return;
        }
        match event {
            Event::Connected(id, characteristics) => {
                let breaks = self.faults.breaks;
                let silences = self.faults.silences;
                let link = Link {
                    breaks_at: self.about(at, breaks),
                    trouble_at: self.about(at, silences),
                    silent_until: Instant::ZERO,
                    frozen_until: Instant::ZERO,
                    last: BTreeMap::new(),
                };
                self.links.insert(id.clone(), link);
                if self.off_at.is_none() {
                    let every = self.faults.adapter_off;
                    self.off_at = Some(self.about(at, every));
                }
                let mut found = characteristics;
                if self.strikes(at, self.faults.short) {
                    found.truncate(self.numbers.usize(0..=found.len() / 2));
                }
                self.push(at, Event::Connected(id, found));
            }
            Event::Disconnected(id) => {
                self.forget(&id);
                self.push(at, Event::Disconnected(id));
            }
            Event::Notified(id, what, bytes) => self.notified(at, id, what, bytes),
            Event::Heard(_) if self.off_until.is_some() => {}
            other => self.push(at, other),
        }
    }

    fn notified(&mut self, at: Instant, id: DeviceId, what: Uuid16, mut bytes: Vec<u8>) {
        if let Some(link) = self.links.get_mut(&id)
            && what != uuid16::CONTROL_POINT
        {
            if at < link.silent_until {
                return;
            }
            if at < link.frozen_until
                && let Some(last) = link.last.get(&what)
            {
                bytes.clone_from(last);
            }
            link.last.insert(what, bytes.clone());
        }
        if self.strikes(at, self.faults.dropped) {
            return;
        }
        if self.strikes(at, self.faults.corrupted) {
            self.corrupt(what, &mut bytes);
        }
        let late = if self.strikes(at, self.faults.delayed) {
            Span(self.numbers.u64(0..LATEST.0))
        } else {
            Span::ZERO
        };
        if self.strikes(at, self.faults.doubled) {
            let twin = Event::Notified(id.clone(), what, bytes.clone());
            self.push(at + late, twin);
        }
        self.push(at + late, Event::Notified(id, what, bytes));
    }

    /// The link layer's checksum lets no turned bit through: only a device's own program turns them, in what it measures.
    /// An answer of the control point is cut or lengthened, which makes no sense of it, and never made another answer.
    fn corrupt(&mut self, what: Uuid16, bytes: &mut Vec<u8>) {
        match self.numbers.u8(0..3) {
            0 if !bytes.is_empty() && what != uuid16::CONTROL_POINT => {
                let at = self.numbers.usize(0..bytes.len());
                bytes[at] ^= 1 << self.numbers.u8(0..8);
            }
            1 => bytes.truncate(self.numbers.usize(0..=bytes.len())),
            _ => bytes.push(self.numbers.u8(..)),
        }
    }

    /// A refusal as devices and systems give them; none that asks to be paired, which would end the brake for good.
    fn refusal(&mut self, request: &Request) -> Failure {
        match request {
            Request::Connect(_) => Failure::LinkLost,
            Request::Write(..) => Failure::Att([0x80, 0xFE, 0xFD, 0x0E][self.numbers.usize(0..4)]),
            _ if self.numbers.bool() => Failure::Att(0x0E),
            _ => Failure::Other(entry!("the operation failed").to_owned()),
        }
    }
}

impl Backend for Faulty<'_> {
    fn owns(&self, device: &DeviceId) -> bool {
        self.inner.owns(device)
    }

    fn request(&mut self, now: Instant, request: Request) {
        if self.off_until.is_some_and(|until| now < until)
            && matches!(request, Request::Connect(_) | Request::Scan(true))
        {
            let event = match answer(&request, Failure::Other(SWITCHED_OFF.to_owned())) {
                Some(event) => event,
                None => Event::Adapter(Adapter::Off(SWITCHED_OFF.to_owned())),
            };
            self.push(now + REPLY, event);
            return;
        }
        // Letting go is never prevented here: whoever wraps a backend can still close it.
        if matches!(request, Request::Scan(_) | Request::Disconnect(_)) {
            self.inner.request(now, request);
            return;
        }
        if self.strikes(now, self.faults.refused) {
            let why = self.refusal(&request);
            if let Some(event) = answer(&request, why) {
                self.push(now + REPLY, event);
            }
            return;
        }
        if self.strikes(now, self.faults.unanswered) {
            let after = match request {
                Request::Connect(_) => CONNECT_GIVEN_UP,
                Request::Write(..) => WRITE_GIVEN_UP,
                _ => READ_GIVEN_UP,
            };
            if let Some(event) = answer(&request, Failure::TimedOut) {
                self.push(now + after, event.clone());
                // A write may have arrived all the same.
                if matches!(request, Request::Write(..)) && self.numbers.bool() {
                    self.swallowed.push(event);
                    self.inner.request(now, request);
                }
            }
            return;
        }
        self.inner.request(now, request);
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        self.happen(now);
        while let Some((at, event)) = self.inner.poll_event(now) {
            self.take(at, event);
        }
        let first = *self.queue.first_key_value()?.0;
        if first.0 > now {
            return None;
        }
        self.queue.pop_first().map(|((at, _), event)| (at, event))
    }

    fn poll_timeout(&self) -> Option<Instant> {
        let first = self.queue.first_key_value().map(|((at, _), _)| *at);
        let links = self
            .links
            .values()
            .flat_map(|link| [link.breaks_at, link.trouble_at])
            .chain(self.off_at)
            .filter(|at| !self.calm(*at));
        links
            .chain(first)
            .chain(self.off_until)
            .chain(self.inner.poll_timeout())
            .min()
    }
}

fn device_of(event: &Event) -> Option<&DeviceId> {
    match event {
        Event::Adapter(_) | Event::Lost(_) => None,
        Event::Heard(heard) => Some(&heard.device),
        Event::Connected(id, _)
        | Event::ConnectFailed(id, _)
        | Event::Disconnected(id)
        | Event::Read(id, ..)
        | Event::Subscribed(id, ..)
        | Event::Written(id, ..)
        | Event::Notified(id, ..) => Some(id),
    }
}

/// The answer to a request that fails; none for a scan.
fn answer(request: &Request, why: Failure) -> Option<Event> {
    Some(match request.clone() {
        Request::Scan(_) => return None,
        Request::Connect(id) => Event::ConnectFailed(id, why),
        Request::Read(id, what) => Event::Read(id, what, Err(why)),
        Request::Subscribe(id, what) => Event::Subscribed(id, what, Err(why)),
        Request::Write(id, what, _) => Event::Written(id, what, Err(why)),
        Request::Disconnect(id) => Event::Disconnected(id),
    })
}

/// Whether an event is the answer in whose place `made_up` stands.
fn answers(made_up: &Event, event: &Event) -> bool {
    match (made_up, event) {
        (Event::Written(a, what, _), Event::Written(b, other, _)) => a == b && what == other,
        _ => false,
    }
}
