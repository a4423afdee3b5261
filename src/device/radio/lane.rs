//! A lane of a link: operations carried out one after the other, each within its time.
//!
//! BlueZ refuses a second operation on a characteristic while one runs, and attribute requests go one at a time over the
//! air in any case.

use std::collections::VecDeque;
use std::future::Future;
use std::time::Duration;

use btleplug::api::{Characteristic, Peripheral as _, WriteType};
use btleplug::platform::Peripheral;
use futures::future::BoxFuture;
use tokio::sync::watch;
use tokio::time::timeout;

use super::MAILBOX;
use super::failure::failure;
use super::uuids::short;
use crate::device::{DeviceId, Event, Failure, Request};
use crate::gatt::Uuid16;
use crate::time::{Instant, Span};

/// Time for a read or a subscription, from when it begins.
const READ: Duration = Duration::from_secs(5);
/// Time for a write to be acknowledged. The procedure's own 30 s are the core's to watch.
const WRITE: Duration = Duration::from_secs(10);

/// A write that is not acknowledged within this is not waited for when the link is closed: nothing behind it can be
/// written on this link, and the next one is sooner there (common practice, no source).
const HANGS_AFTER: Span = Span::from_millis(1_500);

/// One operation that runs and those that wait, at most [`MAILBOX`] of them.
#[derive(Default)]
pub(super) struct Lane {
    waiting: VecDeque<Request>,
    running: Option<BoxFuture<'static, Event>>,
    /// When the newest operation was begun.
    begun: Instant,
}

impl Lane {
    /// Queues an operation; gives it back where the lane is full.
    pub(super) fn push(&mut self, request: Request) -> Option<Request> {
        if self.waiting.len() >= MAILBOX {
            return Some(request);
        }
        self.waiting.push_back(request);
        None
    }

    /// Begins the next operation where none runs. A subscription counts from its beginning: the first notification may
    /// come before the system's answer.
    pub(super) fn start(
        &mut self,
        device: &DeviceId,
        peripheral: &Peripheral,
        characteristics: &[Characteristic],
        subscribed: &watch::Sender<Vec<Uuid16>>,
        now: Instant,
    ) {
        if self.running.is_some() {
            return;
        }
        let Some(request) = self.waiting.pop_front() else {
            return;
        };
        if let Request::Subscribe(_, what) = &request {
            subscribed.send_modify(|all| {
                if !all.contains(what) {
                    all.push(*what);
                }
            });
        }
        self.begun = now;
        self.running = operation(device.clone(), peripheral.clone(), characteristics, request);
    }

    /// Whether nothing runs and nothing waits.
    pub(super) fn is_idle(&self) -> bool {
        self.running.is_none() && self.waiting.is_empty()
    }

    /// Whether what runs has not been answered for so long that nothing behind it is waited for.
    pub(super) fn hangs(&self, now: Instant) -> bool {
        self.running.is_some() && now.since(self.begun) >= HANGS_AFTER
    }

    /// The answer to the operation that runs; waits for ever where none does.
    pub(super) async fn done(&mut self) -> Event {
        match &mut self.running {
            Some(running) => {
                let event = running.await;
                self.running = None;
                event
            }
            None => std::future::pending().await,
        }
    }
}

/// The request as something to wait for, with its answer.
fn operation(
    device: DeviceId,
    peripheral: Peripheral,
    characteristics: &[Characteristic],
    request: Request,
) -> Option<BoxFuture<'static, Event>> {
    let find = |what: Uuid16| {
        characteristics
            .iter()
            .find(|one| short(one.uuid) == Some(what))
            .cloned()
            .ok_or(Failure::NotFound)
    };
    Some(match request {
        Request::Read(_, what) => {
            let one = find(what);
            Box::pin(async move {
                let read = async { within(READ, peripheral.read(&one?)).await };
                Event::Read(device, what, read.await)
            })
        }
        Request::Subscribe(_, what) => {
            let one = find(what);
            Box::pin(async move {
                let subscribed = async { within(READ, peripheral.subscribe(&one?)).await };
                Event::Subscribed(device, what, subscribed.await)
            })
        }
        Request::Write(_, what, bytes) => {
            let one = find(what);
            Box::pin(async move {
                let written = async {
                    let one = one?;
                    within(
                        WRITE,
                        peripheral.write(&one, &bytes, WriteType::WithResponse),
                    )
                    .await
                };
                Event::Written(device, what, written.await)
            })
        }
        // Never put in a lane.
        Request::Scan(_) | Request::Connect(_) | Request::Disconnect(_) => return None,
    })
}

async fn within<T>(
    limit: Duration,
    asked: impl Future<Output = Result<T, btleplug::Error>>,
) -> Result<T, Failure> {
    match timeout(limit, asked).await {
        Ok(answer) => answer.map_err(|error| failure(&error)),
        Err(_) => Err(Failure::TimedOut),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn read(n: u16) -> Request {
        Request::Read(DeviceId::new("A"), Uuid16(n))
    }

    #[test]
    fn a_full_lane_gives_back_what_it_cannot_take() {
        let mut lane = Lane::default();
        for n in 0..MAILBOX as u16 {
            assert_eq!(lane.push(read(n)), None);
        }
        assert_eq!(lane.push(read(99)), Some(read(99)));
        assert_eq!(lane.waiting.pop_front(), Some(read(0)), "first come first");
        assert_eq!(lane.push(read(100)), None);
    }

    #[tokio::test]
    async fn an_idle_lane_is_never_done_and_an_answer_comes_once() {
        let mut lane = Lane::default();
        assert!(futures::poll!(Box::pin(lane.done())).is_pending());
        let answer = Event::Written(DeviceId::new("A"), Uuid16(1), Ok(()));
        lane.running = Some(Box::pin(std::future::ready(answer.clone())));
        assert_eq!(lane.done().await, answer);
        assert!(futures::poll!(Box::pin(lane.done())).is_pending());
    }

    #[tokio::test]
    async fn what_is_not_acknowledged_hangs_after_its_time_and_no_longer_once_it_is() {
        let mut lane = Lane::default();
        let after = |millis| Instant::ZERO + Span::from_millis(millis);
        assert!(!lane.hangs(after(60_000)), "nothing runs");
        lane.begun = after(1_000);
        lane.running = Some(Box::pin(std::future::pending()));
        assert_eq!(lane.push(read(1)), None);
        assert!(!lane.hangs(after(2_499)));
        assert!(lane.hangs(after(2_500)));
        let answer = Event::Written(DeviceId::new("A"), Uuid16(1), Ok(()));
        lane.running = Some(Box::pin(std::future::ready(answer)));
        lane.done().await;
        assert!(!lane.hangs(after(60_000)));
    }

    #[tokio::test]
    async fn what_does_not_answer_in_time_has_failed() {
        let never = std::future::pending::<Result<(), btleplug::Error>>();
        // No time at all, so that nothing has to be waited for.
        assert_eq!(within(Duration::ZERO, never).await, Err(Failure::TimedOut));
        let lost = async { Err::<(), _>(btleplug::Error::NotConnected) };
        assert_eq!(within(READ, lost).await, Err(Failure::LinkLost));
        assert_eq!(within(READ, async { Ok(7) }).await, Ok(7));
    }
}
