//! The way back from the radio's tasks: events stamped and queued, never more than the queue holds.

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use tokio::sync::mpsc;

use super::{Now, Wake};
use crate::device::Event;
use crate::time::Instant;

/// How many events may wait. A trainer, a meter and a strap together send some ten a second, so this is minutes.
pub(super) const DEPTH: usize = 4096;

/// The part of the queue kept for answers and changes of state. Notifications and advertisements are dropped and counted
/// before they reach it: a lost reading is one missing figure, a lost answer would leave the core waiting.
pub(super) const RESERVE: usize = 1024;

/// The sending end, one for each task of the radio.
#[derive(Clone)]
pub(super) struct Outbox {
    now: Now,
    wake: Wake,
    queue: mpsc::Sender<(Instant, Event)>,
    lost: Arc<AtomicU32>,
}

impl Outbox {
    /// A queue of [`DEPTH`] events and the end it is read at.
    pub(super) fn new(now: Now, wake: Wake) -> (Self, mpsc::Receiver<(Instant, Event)>) {
        let (queue, reader) = mpsc::channel(DEPTH);
        let outbox = Self {
            now,
            wake,
            queue,
            lost: Arc::new(AtomicU32::new(0)),
        };
        (outbox, reader)
    }

    /// The clock's time.
    pub(super) fn now(&self) -> Instant {
        (self.now)()
    }

    /// Sends what the core waits for: an answer, a link, the adapter. Only a queue full to the last place loses one.
    pub(super) fn answer(&self, event: Event) {
        self.push((self.now)(), event);
    }

    /// Sends what is one of many and happened at `at`: a notification or an advertisement. Dropped and counted when the
    /// queue is full but for its reserve; the next one that fits is preceded by [`Event::Lost`].
    pub(super) fn report(&self, at: Instant, event: Event) {
        if self.queue.capacity() <= RESERVE {
            self.lost.fetch_add(1, Ordering::Relaxed);
            (self.wake)();
            return;
        }
        let lost = self.lost.swap(0, Ordering::Relaxed);
        if lost > 0 {
            self.push(at, Event::Lost(lost));
        }
        self.push(at, event);
    }

    fn push(&self, at: Instant, event: Event) {
        if self.queue.try_send((at, event)).is_err() {
            self.lost.fetch_add(1, Ordering::Relaxed);
        }
        (self.wake)();
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::device::{Adapter, DeviceId};
    use crate::gatt::Uuid16;

    fn notified(n: usize) -> Event {
        Event::Notified(DeviceId::new("A"), Uuid16(0x2AD2), n.to_le_bytes().to_vec())
    }

    #[test]
    fn a_full_queue_drops_readings_first_and_says_how_many() {
        let (outbox, mut reader) = Outbox::new(Arc::new(|| Instant(7)), Arc::new(|| ()));
        for n in 0..DEPTH {
            outbox.report(Instant(n as u64), notified(n));
        }
        // What is kept is the oldest; the reserve is still free for an answer.
        outbox.answer(Event::Adapter(Adapter::Quiet));
        assert_eq!(reader.len(), DEPTH - RESERVE + 1);
        for n in 0..DEPTH - RESERVE {
            assert_eq!(reader.try_recv().unwrap(), (Instant(n as u64), notified(n)));
        }
        assert_eq!(
            reader.try_recv().unwrap(),
            (Instant(7), Event::Adapter(Adapter::Quiet))
        );
        assert!(reader.try_recv().is_err());
        // The count comes before the next reading, once.
        outbox.report(Instant(9000), notified(1));
        outbox.report(Instant(9001), notified(2));
        assert_eq!(
            reader.try_recv().unwrap(),
            (Instant(9000), Event::Lost(RESERVE as u32))
        );
        assert_eq!(reader.try_recv().unwrap(), (Instant(9000), notified(1)));
        assert_eq!(reader.try_recv().unwrap(), (Instant(9001), notified(2)));
        assert!(reader.try_recv().is_err());
    }

    #[test]
    fn answers_too_are_bounded_and_counted() {
        let (outbox, mut reader) = Outbox::new(Arc::new(|| Instant(1)), Arc::new(|| ()));
        for _ in 0..DEPTH + 3 {
            outbox.answer(Event::Adapter(Adapter::Quiet));
        }
        assert_eq!(reader.len(), DEPTH);
        while reader.try_recv().is_ok() {}
        outbox.report(Instant(2), notified(0));
        assert_eq!(reader.try_recv().unwrap(), (Instant(2), Event::Lost(3)));
    }

    #[test]
    fn every_event_wakes_the_reader_also_a_lost_one() {
        let woken = Arc::new(AtomicU32::new(0));
        let count = Arc::clone(&woken);
        let (outbox, reader) = Outbox::new(
            Arc::new(|| Instant(1)),
            Arc::new(move || {
                count.fetch_add(1, Ordering::Relaxed);
            }),
        );
        outbox.answer(Event::Adapter(Adapter::Quiet));
        outbox.report(Instant(1), notified(0));
        drop(reader);
        outbox.answer(Event::Adapter(Adapter::Quiet));
        assert_eq!(woken.load(Ordering::Relaxed), 3);
    }
}
