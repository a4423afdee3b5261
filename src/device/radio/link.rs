//! One device's link: made, used and closed by a task of its own.
//!
//! ```text
//! Idle ──Connect──→ Connecting ──→ Standing ──lost or Disconnect──→ Idle
//!   ↑──failed, cancelled──┘
//! ```

use std::pin::Pin;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use btleplug::api::{Characteristic, Peripheral as _, ValueNotification};
use btleplug::platform::Peripheral;
use futures::future::BoxFuture;
use futures::stream::{Stream, StreamExt};
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::time::{interval, sleep, timeout};

use super::failure::failure;
use super::lane::Lane;
use super::listener::{Found, Notice, Order, Sought};
use super::outbox::Outbox;
use super::uuids::short;
use super::{crowded, refusal};
use crate::device::{DeviceId, Event, Failure, Request};
use crate::gatt::Uuid16;

/// Time for a link to stand, with its characteristics known, from the request.
const CONNECT: Duration = Duration::from_secs(20);
/// Time to hear the device; after it the system's memory is asked, since a paired device may not show itself for long.
const HEAR: Duration = Duration::from_secs(12);
/// Before a link is closed, what was to be written gets so long: the last of it may let the brake off.
const LAST_WRITES: Duration = Duration::from_secs(1);
/// Time for the system to close a link; it takes two seconds as a rule.
const DISCONNECT: Duration = Duration::from_secs(4);
/// The same at the program's end.
const FAREWELL: Duration = Duration::from_secs(3);
/// How often the system is asked whether the link still stands: its service can die without a word.
const LOOK: Duration = Duration::from_secs(2);

type Values = Pin<Box<dyn Stream<Item = ValueNotification> + Send>>;

/// A link that was just made.
struct Standing {
    peripheral: Peripheral,
    values: Values,
}

/// How a phase of the link's life ended.
enum After {
    /// Ready for the next connection.
    Idle,
    /// The program ends.
    End,
}

/// The task of one device.
pub(super) struct Link {
    device: DeviceId,
    mailbox: mpsc::Receiver<Request>,
    orders: mpsc::Sender<Order>,
    notices: broadcast::Receiver<Notice>,
    outbox: Outbox,
}

impl Link {
    pub(super) fn new(
        device: DeviceId,
        mailbox: mpsc::Receiver<Request>,
        orders: mpsc::Sender<Order>,
        notices: broadcast::Receiver<Notice>,
        outbox: Outbox,
    ) -> Self {
        Self {
            device,
            mailbox,
            orders,
            notices,
            outbox,
        }
    }

    /// Runs until the mailbox is closed, then closes the link.
    pub(super) async fn run(mut self) {
        while let Some(request) = self.mailbox.recv().await {
            match request {
                Request::Connect(_) => {
                    if let After::End = self.connect().await {
                        return;
                    }
                }
                other => self.outbox.answer(refusal(other, Failure::LinkLost)),
            }
        }
    }

    /// Connecting: every request for a connection that comes meanwhile gets the same answer.
    async fn connect(&mut self) -> After {
        let mut asked: u32 = 1;
        let mut late = Box::pin(sleep(CONNECT));
        // What the attempt found, so that it can be told to stop whatever becomes of the attempt.
        let found = Arc::new(OnceLock::new());
        let attempt = attempt(
            self.device.clone(),
            self.orders.clone(),
            self.notices.resubscribe(),
            Arc::clone(&found),
        );
        let mut attempt = Box::pin(attempt);
        let result = loop {
            tokio::select! {
                result = &mut attempt => break result,
                () = &mut late => break Err(Failure::TimedOut),
                request = self.mailbox.recv() => match request {
                    Some(Request::Connect(_)) => asked = asked.saturating_add(1),
                    Some(Request::Disconnect(device)) => {
                        drop(attempt);
                        close(found.get(), DISCONNECT).await;
                        self.outbox.answer(Event::Disconnected(device));
                        return After::Idle;
                    }
                    Some(other) => self.outbox.answer(refusal(other, Failure::LinkLost)),
                    None => {
                        drop(attempt);
                        close(found.get(), FAREWELL).await;
                        return After::End;
                    }
                },
            }
        };
        drop(attempt);
        match result {
            Ok(standing) => self.stand(standing, asked).await,
            Err(why) => {
                tracing::debug!(device = %self.device, ?why, "no link");
                for _ in 0..asked {
                    self.outbox
                        .answer(Event::ConnectFailed(self.device.clone(), why.clone()));
                }
                // The system may still be trying.
                close(found.get(), DISCONNECT).await;
                After::Idle
            }
        }
    }

    /// The link stands: requests are carried out until it goes.
    async fn stand(&mut self, standing: Standing, asked: u32) -> After {
        let Standing { peripheral, values } = standing;
        let characteristics: Vec<Characteristic> =
            peripheral.characteristics().into_iter().collect();
        let listed = pairs(&characteristics);
        for _ in 0..asked {
            self.outbox
                .answer(Event::Connected(self.device.clone(), listed.clone()));
        }
        let subscribed = watch::Sender::new(Vec::new());
        let mut pump = tokio::spawn(pump(
            self.device.clone(),
            values,
            subscribed.subscribe(),
            self.outbox.clone(),
        ));
        let mut reads = Lane::default();
        let mut writes = Lane::default();
        let mut look = interval(LOOK);
        let mut looking: Option<BoxFuture<'static, bool>> = None;
        let (after, asked_to_close) = loop {
            tokio::select! {
                request = self.mailbox.recv() => {
                    let Some(request) = request else {
                        break (After::End, false);
                    };
                    match request {
                        Request::Connect(device) => {
                            self.outbox.answer(Event::Connected(device, listed.clone()));
                        }
                        Request::Disconnect(_) => break (After::Idle, true),
                        Request::Scan(_) => {}
                        other => {
                            let lane = if matches!(other, Request::Write(..)) { &mut writes } else { &mut reads };
                            if let Some(refused) = lane.push(other) {
                                self.outbox.answer(refusal(refused, crowded()));
                            }
                        }
                    }
                }
                event = reads.done() => {
                    if let Event::Subscribed(_, what, Err(_)) = &event {
                        subscribed.send_modify(|all| all.retain(|one| one != what));
                    }
                    self.outbox.answer(event);
                }
                event = writes.done() => self.outbox.answer(event),
                notice = self.notices.recv() => match notice {
                    Ok(Notice::Down(device)) if device != self.device => {}
                    Ok(Notice::Up(_)) => {}
                    // Down, or too far behind to know: the system knows. A notice may be of an earlier link.
                    Ok(Notice::Down(_)) | Err(_) => {
                        looking = Some(Box::pin(stands(peripheral.clone())));
                    }
                },
                up = watch_for(&mut looking) => if !up {
                    break (After::Idle, false);
                },
                _ = look.tick(), if looking.is_none() => {
                    looking = Some(Box::pin(stands(peripheral.clone())));
                }
                _ = &mut pump => {
                    tracing::debug!(device = %self.device, "notifications ended");
                    break (After::Idle, false);
                }
            }
            reads.start(
                &self.device,
                &peripheral,
                &characteristics,
                &subscribed,
                self.outbox.now(),
            );
            writes.start(
                &self.device,
                &peripheral,
                &characteristics,
                &subscribed,
                self.outbox.now(),
            );
        };
        // Behind a write that hangs nothing can be written any more, and whoever closes the link may wait for the next.
        if asked_to_close && !writes.hangs(self.outbox.now()) {
            let last = async {
                while !writes.is_idle() {
                    writes.start(
                        &self.device,
                        &peripheral,
                        &characteristics,
                        &subscribed,
                        self.outbox.now(),
                    );
                    if writes.is_idle() {
                        break;
                    }
                    let event = writes.done().await;
                    self.outbox.answer(event);
                }
            };
            let _late = timeout(LAST_WRITES, last).await;
        }
        // Nothing of this link may come after its end.
        if !pump.is_finished() {
            pump.abort();
            let _ = (&mut pump).await;
        }
        drop(reads);
        drop(writes);
        match after {
            After::End => close(Some(&peripheral), FAREWELL).await,
            After::Idle if asked_to_close => close(Some(&peripheral), DISCONNECT).await,
            After::Idle => tracing::info!(device = %self.device, "link lost"),
        }
        self.outbox.answer(Event::Disconnected(self.device.clone()));
        after
    }
}

/// Finds the device, connects and learns its characteristics; once more where the link broke off at once, as the first
/// one after a while often does.
async fn attempt(
    device: DeviceId,
    orders: mpsc::Sender<Order>,
    mut notices: broadcast::Receiver<Notice>,
    found: Arc<OnceLock<Peripheral>>,
) -> Result<Standing, Failure> {
    let mut again = true;
    loop {
        // Kept until the link stands: listening rests as long.
        let at_hand = find(&device, &orders).await?;
        let peripheral = &at_hand.peripheral;
        // The same device each time, so the first handle does.
        let _ = found.set(peripheral.clone());
        match set_up(&device, peripheral, &mut notices).await {
            Err(Failure::LinkLost) if std::mem::take(&mut again) => {
                tracing::debug!(%device, "the link broke off; once more");
                // The system may still think that it stands.
                close(Some(peripheral), DISCONNECT).await;
            }
            result => return result,
        }
    }
}

/// Waits until the device is heard; then falls back on the system's memory.
async fn find(device: &DeviceId, orders: &mpsc::Sender<Order>) -> Result<Found, Failure> {
    let ask = async |order: fn(DeviceId, Sought) -> Order| {
        let (reply, found) = oneshot::channel();
        // Neither fails while the program runs: the listener outlives the links.
        let sent = orders.send(order(device.clone(), reply)).await;
        sent.map_err(|_| Failure::LinkLost)?;
        found.await.unwrap_or(Err(Failure::LinkLost))
    };
    match timeout(HEAR, ask(Order::Seek)).await {
        Ok(answer) => answer,
        Err(_) => ask(Order::Recall).await,
    }
}

/// Connects, and gives up as soon as the link is known to be lost again: the client library would wait 30 s more.
async fn set_up(
    device: &DeviceId,
    peripheral: &Peripheral,
    notices: &mut broadcast::Receiver<Notice>,
) -> Result<Standing, Failure> {
    // What was said of earlier links does not matter.
    while !matches!(
        notices.try_recv(),
        Err(broadcast::error::TryRecvError::Empty | broadcast::error::TryRecvError::Closed)
    ) {}
    let made = async {
        peripheral.connect().await?;
        // Listening first: a notification may come as soon as one is asked for.
        let values = peripheral.notifications().await?;
        peripheral.discover_services().await?;
        Ok(values)
    };
    tokio::select! {
        made = made => match made {
            Ok(values) => Ok(Standing { peripheral: peripheral.clone(), values }),
            Err(error) => Err(failure(&error)),
        },
        () = broken_off(device, notices) => Err(Failure::LinkLost),
    }
}

/// Ends when a link to the device came up and went down again. A loss alone may be an earlier link's.
async fn broken_off(device: &DeviceId, notices: &mut broadcast::Receiver<Notice>) {
    let mut up = false;
    loop {
        match notices.recv().await {
            Ok(Notice::Up(other)) if other == *device => up = true,
            Ok(Notice::Down(other)) if other == *device && up => return,
            Ok(_) | Err(broadcast::error::RecvError::Lagged(_)) => {}
            Err(broadcast::error::RecvError::Closed) => std::future::pending().await,
        }
    }
}

/// Stamps each notification and passes it on, nothing else. What a read returned is delivered on the same stream (BlueZ
/// does so), so only what was subscribed to passes.
async fn pump(
    device: DeviceId,
    mut values: Values,
    subscribed: watch::Receiver<Vec<Uuid16>>,
    outbox: Outbox,
) {
    while let Some(value) = values.next().await {
        let at = outbox.now();
        if let Some(what) = short(value.uuid)
            && subscribed.borrow().contains(&what)
        {
            outbox.report(at, Event::Notified(device.clone(), what, value.value));
        }
    }
}

/// Whether the system still holds the link. Where it does not answer in time, nothing is known and the link is kept.
async fn stands(peripheral: Peripheral) -> bool {
    match timeout(LOOK, peripheral.is_connected()).await {
        Ok(Ok(up)) => up,
        // The object that stood for the device is gone, or the service.
        Ok(Err(error)) => {
            tracing::debug!(?error, "the system no longer knows the device");
            false
        }
        Err(_) => true,
    }
}

/// The answer to a look at the link; waits for ever where none is taken.
async fn watch_for(looking: &mut Option<BoxFuture<'static, bool>>) -> bool {
    match looking {
        Some(look) => {
            let up = look.await;
            *looking = None;
            up
        }
        None => std::future::pending().await,
    }
}

/// Closes a link, or an attempt at one, within `limit`.
async fn close(peripheral: Option<&Peripheral>, limit: Duration) {
    let Some(peripheral) = peripheral else {
        return;
    };
    match timeout(limit, peripheral.disconnect()).await {
        Ok(Ok(())) => {}
        Ok(Err(error)) => tracing::debug!(%error, "nothing to close"),
        Err(_) => tracing::warn!("the system did not close a link in time"),
    }
}

/// Service and characteristic of each, as far as the Bluetooth SIG numbered them.
fn pairs(characteristics: &[Characteristic]) -> Vec<(Uuid16, Uuid16)> {
    characteristics
        .iter()
        .filter_map(|one| Some((short(one.service_uuid)?, short(one.uuid)?)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::radio::uuids::long;
    use btleplug::api::CharPropFlags;
    use std::collections::BTreeSet;

    #[test]
    fn makers_own_characteristics_and_services_are_not_listed() {
        let own = uuid::Uuid::from_u128(0xA026_EE01_0A7D_4AB3_97FA_F150_0F9F_EB8B);
        let one = |service, uuid| Characteristic {
            uuid,
            service_uuid: service,
            properties: CharPropFlags::READ,
            descriptors: BTreeSet::new(),
        };
        let (machine, data) = (Uuid16(0x1826), Uuid16(0x2AD2));
        assert_eq!(
            pairs(&[
                one(long(machine), own),
                one(own, long(data)),
                one(long(machine), long(data)),
            ]),
            [(machine, data)]
        );
    }

    #[tokio::test]
    async fn a_link_breaks_off_only_after_it_came_up() {
        let (notices, mut reader) = broadcast::channel(8);
        let (this, other) = (DeviceId::new("A"), DeviceId::new("B"));
        for notice in [
            Notice::Down(this.clone()),
            Notice::Up(other.clone()),
            Notice::Down(other),
            Notice::Up(this.clone()),
        ] {
            let _ = notices.send(notice);
        }
        let mut wait = Box::pin(broken_off(&this, &mut reader));
        assert!(futures::poll!(&mut wait).is_pending());
        let _ = notices.send(Notice::Down(this.clone()));
        assert!(futures::poll!(&mut wait).is_ready());
    }
}
