//! The listener: the adapter's state, scanning, and who was heard.
//!
//! It listens while the program wants advertisements or a link looks for its device, and rests while a link is being
//! made. On Linux it listens without a filter; elsewhere for the services that the program knows. Each device is told
//! at most twice a second, with all that it sent so far. An adapter that is absent, switched off or out of reach is
//! looked at every two seconds as long as it is needed, and never switched on from here.

use std::collections::HashMap;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use btleplug::api::{
    Central, CentralEvent, CentralState, Manager as _, Peripheral as _, ScanFilter,
};
use btleplug::platform::{Adapter as PlatformAdapter, Manager, Peripheral, PeripheralId};
use futures::stream::{Stream, StreamExt};
use tokio::sync::{broadcast, mpsc, oneshot};
use tokio::time::{MissedTickBehavior, interval, timeout};

use super::adapter::{PATIENCE, choose, in_time};
use super::failure::{already_listening, bus_lost, switched_off, trouble, unanswered};
use super::heard::{advertisement, device_id};
use super::outbox::Outbox;
use super::throttle::Throttle;
use super::uuids::{KNOWN, long};
use crate::device::{Adapter, DeviceId, Event, Failure};
use crate::time::{Instant, Span};

/// How often the adapter is looked at while it is needed.
const CHECK: Duration = Duration::from_secs(2);
/// How often reports held back are looked at.
const FLUSH: Duration = Duration::from_millis(250);
/// At most two reports a second of one device.
const REPORT_PERIOD: Span = Span::from_millis(500);
/// How many devices are remembered. The one heard longest ago and not linked makes room.
const HEARD: usize = 256;
/// A device heard this recently is still there: the system forgets unpaired ones only after some 30 s.
const RECENT: Span = Span::from_seconds(10);
/// Nothing heard for so long while listening: it is asked for again, in case the service was started anew meanwhile.
const SILENCE: Span = Span::from_seconds(10);

/// How long listening rests for the sake of a link that is being made. Making one while listening takes BlueZ ten
/// seconds more; one that takes so long itself must not keep the others from being heard.
const REST: Span = Span::from_seconds(8);
/// How long a link waits for an adapter: after its service is started anew the system has none for a moment.
const ADAPTER_PATIENCE: Span = Span::from_seconds(3);

/// A device that was found. While it is kept, listening rests.
pub(super) struct Found {
    /// The device.
    pub(super) peripheral: Peripheral,
    _rest: Arc<()>,
}

/// What becomes of looking for a device.
pub(super) type Sought = oneshot::Sender<Result<Found, Failure>>;

/// What the other tasks ask of the listener.
pub(super) enum Order {
    /// The program wants to hear advertisements, or no longer.
    Scan(bool),
    /// A link wants its device: answered when it is heard, or at once where it was heard lately or is linked already.
    Seek(DeviceId, Sought),
    /// A link wants its device from the system's memory, heard or not.
    Recall(DeviceId, Sought),
}

/// What the system says of links, for the links' tasks.
#[derive(Clone, Debug)]
pub(super) enum Notice {
    /// A link to this device came up.
    Up(DeviceId),
    /// It went down.
    Down(DeviceId),
}

/// A device that was heard or is linked.
struct Known {
    device: DeviceId,
    heard: Option<Instant>,
    linked: bool,
}

type Centrals = Pin<Box<dyn Stream<Item = CentralEvent> + Send>>;

pub(super) struct Listener {
    orders: mpsc::Receiver<Order>,
    notices: broadcast::Sender<Notice>,
    outbox: Outbox,
    manager: Option<Manager>,
    /// The adapter in use with the system's name for it.
    adapter: Option<(String, PlatformAdapter)>,
    events: Option<Centrals>,
    /// Whether the program wants advertisements.
    wanted: bool,
    /// Whether the system was told to listen.
    listening: bool,
    /// When something was last heard, or listening began.
    last_heard: Instant,
    /// Links that wait to hear their device, since when. One a link, so no more than there are links.
    seekers: Vec<(DeviceId, Instant, Sought)>,
    /// Held by every link that is being made.
    rest: Arc<()>,
    /// When the last of them began.
    rest_since: Instant,
    known: HashMap<PeripheralId, Known>,
    throttle: Throttle<PeripheralId>,
    /// The state last told.
    told: Option<Adapter>,
}

impl Listener {
    pub(super) fn new(
        orders: mpsc::Receiver<Order>,
        notices: broadcast::Sender<Notice>,
        outbox: Outbox,
    ) -> Self {
        Self {
            orders,
            notices,
            outbox,
            manager: None,
            adapter: None,
            events: None,
            wanted: false,
            listening: false,
            last_heard: Instant::ZERO,
            seekers: Vec::new(),
            rest: Arc::new(()),
            rest_since: Instant::ZERO,
            known: HashMap::new(),
            throttle: Throttle::new(REPORT_PERIOD, HEARD),
            told: None,
        }
    }

    /// Runs until nobody can give an order any more.
    pub(super) async fn run(mut self) {
        let mut check = interval(CHECK);
        let mut flush = interval(FLUSH);
        check.set_missed_tick_behavior(MissedTickBehavior::Delay);
        flush.set_missed_tick_behavior(MissedTickBehavior::Delay);
        loop {
            let needed = self.needed();
            tokio::select! {
                order = self.orders.recv() => match order {
                    Some(order) => self.obey(order).await,
                    None => break,
                },
                event = next(&mut self.events) => self.take(event).await,
                _ = flush.tick(), if needed => {
                    for id in self.throttle.due(self.outbox.now()) {
                        self.look_at(&id).await;
                    }
                    if !self.listening && self.events.is_some() && !self.resting() {
                        self.check(false).await;
                    }
                }
                _ = check.tick(), if needed => self.check(false).await,
            }
        }
        self.wanted = false;
        self.seekers.clear();
        self.quieten().await;
    }

    /// Whether anybody needs the adapter to listen.
    fn needed(&mut self) -> bool {
        self.seekers.retain(|(_, _, reply)| !reply.is_closed());
        self.wanted || !self.seekers.is_empty()
    }

    /// Whether listening rests because a link is being made.
    fn resting(&self) -> bool {
        Arc::strong_count(&self.rest) > 1 && self.outbox.now().since(self.rest_since) < REST
    }

    /// Hands a device to whoever looked for it; listening rests from here.
    async fn hand_over(&mut self, peripheral: Peripheral, replies: Vec<Sought>) {
        if replies.is_empty() {
            return;
        }
        self.quieten().await;
        self.rest_since = self.outbox.now();
        for reply in replies {
            let _ = reply.send(Ok(Found {
                peripheral: peripheral.clone(),
                _rest: Arc::clone(&self.rest),
            }));
        }
    }

    async fn obey(&mut self, order: Order) {
        match order {
            Order::Scan(true) => {
                self.wanted = true;
                self.check(true).await;
            }
            Order::Scan(false) => {
                self.wanted = false;
                if !self.needed() {
                    self.quieten().await;
                }
                let state = match self.told.take() {
                    Some(Adapter::Listening) | None => Adapter::Quiet,
                    Some(other) => other,
                };
                self.tell(state, true);
            }
            Order::Seek(device, reply) => self.seek(device, reply).await,
            Order::Recall(device, reply) => {
                match self.recall(&device).await {
                    Some(peripheral) => self.hand_over(peripheral, vec![reply]).await,
                    // Neither heard nor remembered. Whether it exists nobody can tell: it did not answer.
                    None => drop(reply.send(Err(Failure::TimedOut))),
                }
            }
        }
    }

    async fn seek(&mut self, device: DeviceId, reply: Sought) {
        let now = self.outbox.now();
        let at_hand = self
            .known
            .iter()
            .find(|(_, known)| known.device == device)
            .filter(|(_, known)| {
                known.linked || known.heard.is_some_and(|at| now.since(at) < RECENT)
            })
            .map(|(id, _)| id.clone());
        if let (Some(id), Some((_, adapter))) = (at_hand, &self.adapter)
            && let Ok(Ok(peripheral)) = timeout(PATIENCE, adapter.peripheral(&id)).await
        {
            self.hand_over(peripheral, vec![reply]).await;
            return;
        }
        self.seekers.push((device, now, reply));
        self.check(false).await;
    }

    /// The device as the system remembers it.
    async fn recall(&mut self, device: &DeviceId) -> Option<Peripheral> {
        let (_, adapter) = self.adapter.as_ref()?;
        let all = timeout(PATIENCE, adapter.peripherals()).await.ok()?.ok()?;
        all.into_iter()
            .find(|peripheral| device_id(peripheral) == *device)
    }

    /// Tells the state of the adapter: always as an answer, else only where it changed.
    fn tell(&mut self, state: Adapter, answer: bool) {
        if answer || self.told.as_ref() != Some(&state) {
            tracing::debug!(?state, "adapter");
            self.outbox.answer(Event::Adapter(state.clone()));
        }
        self.told = Some(state);
    }

    /// Brings the adapter to where it is wanted and tells how it stands.
    async fn check(&mut self, answer: bool) {
        let state = match self.bring_up().await {
            Ok(()) if self.wanted => Adapter::Listening,
            Ok(()) => Adapter::Quiet,
            Err(state) => {
                self.lose_adapter(&state);
                state
            }
        };
        self.tell(state, answer);
    }

    /// Without an adapter every link is lost, and there is no use in waiting long: whoever seeks is told so.
    fn lose_adapter(&mut self, state: &Adapter) {
        self.listening = false;
        self.events = None;
        self.adapter = None;
        let why = match state {
            Adapter::Missing(why) | Adapter::Off(why) => Failure::Other(why.clone()),
            Adapter::Forbidden(why) => Failure::Forbidden(why.clone()),
            Adapter::Listening | Adapter::Quiet => Failure::LinkLost,
        };
        let now = self.outbox.now();
        for (device, since, reply) in std::mem::take(&mut self.seekers) {
            if now.since(since) >= ADAPTER_PATIENCE {
                let _ = reply.send(Err(why.clone()));
            } else {
                self.seekers.push((device, since, reply));
            }
        }
        for known in self.known.values_mut() {
            known.heard = None;
            if std::mem::take(&mut known.linked) {
                let _ = self.notices.send(Notice::Down(known.device.clone()));
            }
        }
    }

    async fn bring_up(&mut self) -> Result<(), Adapter> {
        let manager = match &self.manager {
            Some(manager) => manager.clone(),
            None => {
                let manager = in_time(Manager::new()).await?;
                self.manager.insert(manager).clone()
            }
        };
        let adapters = match timeout(PATIENCE, manager.adapters()).await {
            Ok(Ok(adapters)) => adapters,
            Ok(Err(error)) => {
                if bus_lost(&error) {
                    self.manager = None;
                }
                return Err(trouble(&error));
            }
            Err(_) => return Err(unanswered()),
        };
        let used = self.adapter.as_ref().map(|(name, _)| name.clone());
        let (name, adapter, on) = choose(adapters, used).await?;
        if self.adapter.as_ref().is_none_or(|(old, _)| *old != name) {
            self.events = None;
            self.listening = false;
            self.adapter = Some((name, adapter.clone()));
        }
        if !on {
            // Asking to listen would switch it on; that is for its owner to do.
            return Err(switched_off());
        }
        if self.events.is_none() {
            self.events = Some(in_time(adapter.events()).await?);
        }
        let silent = self.outbox.now().since(self.last_heard) >= SILENCE;
        if self.needed() && !self.resting() && (!self.listening || silent) {
            // BlueZ merges the filters of all programs and may hide devices that list no service, so none is set
            // there; other systems hear only what is asked for.
            let services = if cfg!(target_os = "linux") {
                Vec::new()
            } else {
                KNOWN.map(long).to_vec()
            };
            match timeout(PATIENCE, adapter.start_scan(ScanFilter { services })).await {
                Ok(Ok(())) => {}
                // This program's own, or another's that is just being started: its advertisements arrive here too, and
                // silence leads back to here.
                Ok(Err(error)) if already_listening(&error) => {}
                Ok(Err(error)) => return Err(trouble(&error)),
                Err(_) => return Err(unanswered()),
            }
            self.listening = true;
            self.last_heard = self.outbox.now();
        }
        Ok(())
    }

    /// Stops listening.
    async fn quieten(&mut self) {
        if std::mem::take(&mut self.listening)
            && let Some((_, adapter)) = &self.adapter
            && let Ok(Err(error)) = timeout(PATIENCE / 4, adapter.stop_scan()).await
        {
            tracing::debug!(%error, "listening was not stopped");
        }
    }

    async fn take(&mut self, event: Option<CentralEvent>) {
        match event {
            None => {
                self.events = None;
                self.listening = false;
            }
            Some(CentralEvent::DeviceConnected(id)) => self.linked(&id, true).await,
            Some(CentralEvent::DeviceDisconnected(id)) => self.linked(&id, false).await,
            Some(CentralEvent::StateUpdate(CentralState::PoweredOff)) => {
                let state = switched_off();
                self.lose_adapter(&state);
                self.tell(state, false);
            }
            Some(CentralEvent::StateUpdate(_)) => self.check(false).await,
            Some(
                CentralEvent::DeviceDiscovered(id)
                | CentralEvent::DeviceUpdated(id)
                | CentralEvent::ManufacturerDataAdvertisement { id, .. }
                | CentralEvent::ServiceDataAdvertisement { id, .. }
                | CentralEvent::ServicesAdvertisement { id, .. }
                | CentralEvent::RssiUpdate { id, .. },
            ) => {
                if self.needed() && self.throttle.admits(&id, self.outbox.now()) {
                    self.look_at(&id).await;
                }
            }
            Some(CentralEvent::DeviceServicesModified(_)) => {}
        }
    }

    async fn linked(&mut self, id: &PeripheralId, up: bool) {
        if !self.known.contains_key(id) {
            let Some((_, adapter)) = &self.adapter else {
                return;
            };
            // A device that the system has already forgotten is nobody's.
            let Ok(Ok(peripheral)) = timeout(PATIENCE, adapter.peripheral(id)).await else {
                return;
            };
            self.remember(id, device_id(&peripheral));
        }
        if let Some(known) = self.known.get_mut(id) {
            known.linked = up;
            if !up {
                // It has to be heard again before a link to it is tried again.
                known.heard = None;
            }
            let device = known.device.clone();
            // Nobody listens where no link was asked for.
            let _ = self.notices.send(if up {
                Notice::Up(device)
            } else {
                Notice::Down(device)
            });
        }
        if up && self.wanted {
            self.look_at(id).await;
        }
    }

    fn remember(&mut self, id: &PeripheralId, device: DeviceId) {
        if self.known.len() >= HEARD
            && !self.known.contains_key(id)
            && let Some(oldest) = self
                .known
                .iter()
                .filter(|(_, known)| !known.linked)
                .min_by_key(|(_, known)| known.heard)
                .map(|(id, _)| id.clone())
        {
            self.known.remove(&oldest);
        }
        self.known.entry(id.clone()).or_insert(Known {
            device,
            heard: None,
            linked: false,
        });
    }

    /// Asks the system what it knows of a device that was just heard, and passes it on.
    async fn look_at(&mut self, id: &PeripheralId) {
        let Some((_, adapter)) = &self.adapter else {
            return;
        };
        let asked = timeout(PATIENCE, async {
            let peripheral = adapter.peripheral(id).await?;
            let properties = peripheral.properties().await?;
            Ok::<_, btleplug::Error>((peripheral, properties))
        });
        // A device can be forgotten between being listed and being asked for: that is ordinary.
        let Ok(Ok((peripheral, Some(properties)))) = asked.await else {
            return;
        };
        let device = device_id(&peripheral);
        self.remember(id, device.clone());
        let now = self.outbox.now();
        let Some(known) = self.known.get_mut(id) else {
            return;
        };
        // BlueZ lists what it remembers too; only what is heard in this scan has a signal strength.
        if properties.rssi.is_some() {
            known.heard = Some(now);
            self.last_heard = now;
        } else if !known.linked {
            return;
        }
        if self.wanted
            && let Some(advertisement) = advertisement(device.clone(), properties)
        {
            self.outbox.report(now, Event::Heard(advertisement));
        }
        let (sought, rest): (Vec<_>, Vec<_>) = std::mem::take(&mut self.seekers)
            .into_iter()
            .partition(|(other, _, _)| *other == device);
        self.seekers = rest;
        let replies = sought.into_iter().map(|(_, _, reply)| reply).collect();
        self.hand_over(peripheral, replies).await;
    }
}

/// The next event of the adapter; waits for ever where there is no adapter.
async fn next(events: &mut Option<Centrals>) -> Option<CentralEvent> {
    match events {
        Some(events) => events.next().await,
        None => std::future::pending().await,
    }
}
