//! The radio: real devices over the system's Bluetooth. The only place that names the client library.
//!
//! ```text
//! request ─try_send→ dispatcher ─try_send→ link task, one a device ─→ the system
//!                        └─────→ listener: adapter, scan, who was heard ┘
//! poll_event ←──── outbox (stamped, bounded) ←── pump task, one a link; links; listener
//! ```
//!
//! Everything runs on one thread of its own, so that stamping an event and queueing it cannot be torn apart by another
//! task, and events leave in the order of their stamps. The dispatcher never waits; each device has its own task, so a
//! slow connection to one does not delay a write to another; a link's writes and its reads go in two lanes, so a read
//! that hangs does not hold up a release of the brake.
//!
//! Bounds: requests 256 (one too many is answered at once as failed), each link's mailbox and lanes 32 (the same),
//! links 16 (the same), events 4096 (readings are dropped first and counted, see [`Event::Lost`]), devices heard 256
//! (the one heard longest ago is forgotten). The client library's own streams are unbounded on Linux and 16 deep
//! elsewhere; they are drained by tasks that do nothing else.
//!
//! Known limits: of two characteristics with the same number in two services only the first is reached; BlueZ may merge
//! two notifications of one characteristic that arrive within the same turn of its loop.

mod adapter;
mod failure;
mod heard;
mod lane;
mod link;
mod listener;
mod outbox;
mod throttle;
mod uuids;

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;
use std::sync::mpsc as blocking;
use std::time::Duration;

use tokio::sync::{broadcast, mpsc};
use tokio::task::JoinSet;

use self::link::Link;
use self::listener::{Listener, Notice, Order};
use self::outbox::Outbox;
use super::{Adapter, Backend, DeviceId, Event, Failure, Request};
use crate::time::Instant;

/// The clock, read wherever an event is stamped. The radio makes none of its own.
pub type Now = Arc<dyn Fn() -> Instant + Send + Sync>;

/// Called after each event was queued, from the radio's thread, so that whoever polls wakes up. Must not block.
pub type Wake = Arc<dyn Fn() + Send + Sync>;

/// How many requests may wait for the dispatcher.
const REQUESTS: usize = 256;
/// How many requests may wait for one device.
const MAILBOX: usize = 32;
/// How many devices may be linked or asked for.
const LINKS: usize = 16;
/// How many answers to refused requests may wait to be polled.
const REFUSALS: usize = 256;
/// How long the end may take: the system's own disconnect takes two seconds.
const ENDING: Duration = Duration::from_secs(4);
/// How long the links may take of it.
const CLOSING: Duration = Duration::from_millis(3400);

/// The backend for real devices. Dropping it closes every link, within four seconds.
pub struct Radio {
    now: Now,
    /// None only while it is dropped.
    requests: Option<mpsc::Sender<Request>>,
    events: mpsc::Receiver<(Instant, Event)>,
    /// The next event, taken out to look at its stamp.
    next: Option<(Instant, Event)>,
    /// Answers to requests that could not be passed on; at most [`REFUSALS`], then they are counted as lost.
    refusals: VecDeque<(Instant, Event)>,
    ended: blocking::Receiver<()>,
}

impl Radio {
    /// Starts the radio's thread. It touches Bluetooth at the first request, not before.
    ///
    /// Where the thread cannot be made, every request is answered as failed.
    pub fn start(now: Now, wake: Wake) -> Self {
        let (outbox, events) = Outbox::new(Arc::clone(&now), wake);
        let (requests, inbox) = mpsc::channel(REQUESTS);
        let (end, ended) = blocking::channel();
        let spawned = std::thread::Builder::new()
            .name("radio".to_owned())
            .spawn(move || {
                let runtime = tokio::runtime::Builder::new_current_thread()
                    .enable_all()
                    .build();
                match runtime {
                    Ok(runtime) => {
                        runtime.block_on(dispatch(inbox, outbox));
                        // Calls that still hang in the system are left to it.
                        runtime.shutdown_timeout(Duration::from_millis(100));
                    }
                    Err(error) => {
                        outbox.answer(Event::Adapter(unable(&error)));
                    }
                }
                // Nobody may be waiting any more.
                let _ = end.send(());
            });
        if let Err(error) = spawned {
            tracing::error!(%error, "no thread for the radio");
        }
        Self {
            now,
            requests: Some(requests),
            events,
            next: None,
            refusals: VecDeque::new(),
            ended,
        }
    }

    fn refuse(&mut self, at: Instant, request: Request, why: Failure) {
        if self.refusals.len() < REFUSALS {
            self.refusals.push_back((at, refusal(request, why)));
        } else {
            tracing::warn!("an answer to a refused request was lost");
        }
    }
}

fn unable(error: &std::io::Error) -> Adapter {
    Adapter::Missing(kept!(
        "The program could not set up its Bluetooth thread ({error}), so no device can be reached: close other \
         programs and start it again."
    ))
}

/// The event that answers a request which will not be carried out.
fn refusal(request: Request, why: Failure) -> Event {
    match request {
        Request::Scan(_) => Event::Adapter(Adapter::Missing(
            entry!(
                "Bluetooth does not answer, so no device can be reached: start the program again."
            )
            .to_owned(),
        )),
        Request::Connect(device) => Event::ConnectFailed(device, why),
        Request::Read(device, what) => Event::Read(device, what, Err(why)),
        Request::Subscribe(device, what) => Event::Subscribed(device, what, Err(why)),
        Request::Write(device, what, _) => Event::Written(device, what, Err(why)),
        Request::Disconnect(device) => Event::Disconnected(device),
    }
}

impl Backend for Radio {
    fn owns(&self, device: &DeviceId) -> bool {
        !device.as_str().starts_with("practice:")
    }

    fn request(&mut self, now: Instant, request: Request) {
        let Some(requests) = &self.requests else {
            return;
        };
        match requests.try_send(request) {
            Ok(()) => {}
            Err(mpsc::error::TrySendError::Full(request)) => {
                self.refuse(now, request, crowded());
            }
            Err(mpsc::error::TrySendError::Closed(request)) => {
                let why = Failure::Other(entry!("the radio has stopped").to_owned());
                self.refuse(now, request, why);
            }
        }
    }

    fn poll_event(&mut self, now: Instant) -> Option<(Instant, Event)> {
        if self.next.is_none() {
            self.next = self.events.try_recv().ok();
        }
        let refused = self.refusals.front().map(|(at, _)| *at);
        let queued = self.next.as_ref().map(|(at, _)| *at);
        let refused_first = match (refused, queued) {
            (Some(refused), Some(queued)) => refused < queued,
            (refused, _) => refused.is_some(),
        };
        if refused_first {
            self.refusals.pop_front_if(|(at, _)| *at <= now)
        } else {
            self.next.take_if(|(at, _)| *at <= now)
        }
    }

    fn poll_timeout(&self) -> Option<Instant> {
        // What is still in the queue announced itself by the wake.
        let next = self.next.as_ref().map(|(at, _)| *at);
        let refused = self.refusals.front().map(|(at, _)| *at);
        next.into_iter().chain(refused).min()
    }
}

impl Drop for Radio {
    fn drop(&mut self) {
        // The dispatcher's inbox ends; it closes the links and then the thread ends.
        self.requests = None;
        if self.ended.recv_timeout(ENDING) == Err(blocking::RecvTimeoutError::Timeout) {
            tracing::warn!(at = ?(self.now)(), "the links were not all closed in time; the system closes them");
        }
    }
}

fn crowded() -> Failure {
    Failure::Other(entry!("too many requests at once").to_owned())
}

/// Passes requests on until there are no more, then closes everything.
async fn dispatch(mut inbox: mpsc::Receiver<Request>, outbox: Outbox) {
    // Orders: from the dispatcher and from links that look for their device; full makes a link wait, not lose.
    let (orders, listener_inbox) = mpsc::channel(MAILBOX);
    // Notices of links up and down: a link that falls behind asks the system instead.
    let (notices, _) = broadcast::channel(64);
    let listener = Listener::new(listener_inbox, notices.clone(), outbox.clone());
    let listener = tokio::spawn(listener.run());
    let mut links = Links {
        mailboxes: HashMap::new(),
        tasks: JoinSet::new(),
        orders,
        notices,
        outbox,
    };
    while let Some(request) = inbox.recv().await {
        links.pass(request);
    }
    let Links {
        mailboxes,
        mut tasks,
        orders,
        ..
    } = links;
    drop(mailboxes);
    drop(orders);
    let closed = tokio::time::timeout(CLOSING, async {
        while tasks.join_next().await.is_some() {}
        let _ = listener.await;
    });
    if closed.await.is_err() {
        tracing::warn!("a link did not close in time");
    }
}

/// The tasks of the devices asked for so far, and how to reach them.
struct Links {
    mailboxes: HashMap<DeviceId, mpsc::Sender<Request>>,
    tasks: JoinSet<()>,
    orders: mpsc::Sender<Order>,
    notices: broadcast::Sender<Notice>,
    outbox: Outbox,
}

impl Links {
    fn pass(&mut self, request: Request) {
        let refused = match &request {
            Request::Scan(wanted) => self
                .orders
                .try_send(Order::Scan(*wanted))
                .err()
                .map(|_| request),
            Request::Connect(device)
            | Request::Read(device, _)
            | Request::Subscribe(device, _)
            | Request::Write(device, _, _)
            | Request::Disconnect(device) => {
                let device = device.clone();
                match self.mailbox(&device) {
                    Some(mailbox) => mailbox
                        .try_send(request)
                        .err()
                        .map(mpsc::error::TrySendError::into_inner),
                    None => Some(request),
                }
            }
        };
        if let Some(request) = refused {
            self.outbox.answer(refusal(request, crowded()));
        }
    }

    fn mailbox(&mut self, device: &DeviceId) -> Option<&mpsc::Sender<Request>> {
        if !self.mailboxes.contains_key(device) {
            if self.mailboxes.len() >= LINKS {
                return None;
            }
            let (mailbox, reader) = mpsc::channel(MAILBOX);
            let link = Link::new(
                device.clone(),
                reader,
                self.orders.clone(),
                self.notices.subscribe(),
                self.outbox.clone(),
            );
            self.tasks.spawn(link.run());
            self.mailboxes.insert(device.clone(), mailbox);
        }
        self.mailboxes.get(device)
    }
}

#[cfg(test)]
mod tests;
