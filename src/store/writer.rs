//! The writer's thread, and the sender through which the ride's loop reaches it without ever waiting.

use std::collections::VecDeque;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread;
use std::time::Duration;

use super::record_report::RecordReport;
use super::ride_writer::RideWriter;
use crate::record::Kept;

/// How deep the queue to the writer is by default: over an hour of rows.
pub const CAPACITY: usize = 4096;

/// So many reports may wait for the loop to read them. When it is full, counts of rows are dropped (the next one says
/// more) and anything else waits inside the writer.
const REPORTS: usize = 256;

/// So often a disk in trouble is tried once more after the program has let go of the writer, once a second.
const LAST_TRIES: u32 = 5;

enum Message {
    Keep(Kept),
    Gap(u64),
}

/// The recording thread.
pub struct Writer;

impl Writer {
    /// Starts a thread that keeps rides in folders inside `rides`, behind a queue of `capacity` ([`CAPACITY`]).
    ///
    /// To end it drop the sender; the receiver then gives what is left and closes when everything is on the disk, or
    /// when the disk refused it for five seconds more, which is said.
    pub fn start(rides: &Path, capacity: usize) -> (RecordSender, Receiver<RecordReport>) {
        Self::start_with(RideWriter::new(rides), capacity)
    }

    /// The same round a writer with a disk of its own.
    pub fn start_with(
        writer: RideWriter,
        capacity: usize,
    ) -> (RecordSender, Receiver<RecordReport>) {
        let (to_writer, queue) = sync_channel(capacity.max(8));
        let (to_loop, reports) = sync_channel(REPORTS);
        let waiting = Arc::new(AtomicUsize::new(0));
        let sender = RecordSender {
            to_writer,
            waiting: waiting.clone(),
            // A flood of raw inputs may not crowd out the rows.
            raw_most: capacity.max(8) / 4 * 3,
            untold: 0,
            lost: 0,
        };
        let failure = to_loop.clone();
        let spawned = thread::Builder::new()
            .name("recording".to_owned())
            .spawn(move || run(writer, &queue, &waiting, &to_loop));
        if let Err(error) = spawned {
            // The queue is gone with the thread, so the sender counts everything as lost.
            let _ = failure.try_send(RecordReport::Trouble(say!(
                "The recording could not be started ({error}). The ride is not recorded: close other programs and \
                 start again.",
                error
            )));
        }
        (sender, reports)
    }
}

/// The way to the writer. Nothing here waits.
pub struct RecordSender {
    /// Bounded: when it is full the thing is lost and counted, and the count is written as an event.
    to_writer: SyncSender<Message>,
    waiting: Arc<AtomicUsize>,
    raw_most: usize,
    untold: u64,
    lost: u64,
}

impl RecordSender {
    /// Hands over one thing to keep. Gives false where it was lost because the queue is full or the thread is gone.
    pub fn try_send(&mut self, kept: Kept) -> bool {
        if self.untold > 0 && self.hand_over(Message::Gap(self.untold)) {
            self.untold = 0;
        }
        let crowded = self.waiting.load(Ordering::Relaxed) >= self.raw_most;
        let sent =
            !(crowded && matches!(kept, Kept::Raw(_))) && self.hand_over(Message::Keep(kept));
        if !sent {
            self.untold += 1;
            self.lost += 1;
        }
        sent
    }

    /// How many things were lost in all.
    pub fn lost(&self) -> u64 {
        self.lost
    }

    fn hand_over(&self, message: Message) -> bool {
        // Counted first, or the thread could take it off before it was counted.
        self.waiting.fetch_add(1, Ordering::Relaxed);
        match self.to_writer.try_send(message) {
            Ok(()) => true,
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => {
                self.waiting.fetch_sub(1, Ordering::Relaxed);
                false
            }
        }
    }
}

/// Reports on their way to the loop.
struct Outbox<'a> {
    to_loop: &'a SyncSender<RecordReport>,
    /// What did not fit, without counts of rows. Bounded by the sorts of trouble and the number of rides in a row;
    /// beyond its bound the oldest is dropped.
    held: VecDeque<RecordReport>,
}

impl Outbox<'_> {
    fn send(&mut self, reports: Vec<RecordReport>) {
        for report in reports {
            self.held.push_back(report);
        }
        while let Some(report) = self.held.pop_front() {
            match self.to_loop.try_send(report) {
                Ok(()) => {}
                Err(TrySendError::Full(report)) => {
                    self.held.push_front(report);
                    break;
                }
                Err(TrySendError::Disconnected(_)) => self.held.clear(),
            }
        }
        self.held
            .retain(|report| !matches!(report, RecordReport::Rows(_)));
        while self.held.len() > REPORTS {
            self.held.pop_front();
        }
    }
}

fn run(
    mut writer: RideWriter,
    queue: &Receiver<Message>,
    waiting: &AtomicUsize,
    to_loop: &SyncSender<RecordReport>,
) {
    let mut outbox = Outbox {
        to_loop,
        held: VecDeque::new(),
    };
    let take = |writer: &mut RideWriter, message| {
        waiting.fetch_sub(1, Ordering::Relaxed);
        match message {
            Message::Keep(kept) => writer.take(kept),
            Message::Gap(lost) => writer.gap(lost),
        }
    };
    loop {
        // The rows come once a second and make a tick due by themselves; a second of silence does too.
        let silent = match queue.recv_timeout(Duration::from_secs(1)) {
            Ok(message) => {
                take(&mut writer, message);
                // After a slow sync much may wait: it is all taken first, so that one sync serves it all. Bounded, or
                // a flood would keep the disk waiting.
                for message in queue.try_iter().take(CAPACITY) {
                    take(&mut writer, message);
                }
                false
            }
            Err(RecvTimeoutError::Timeout) => true,
            Err(RecvTimeoutError::Disconnected) => break,
        };
        if silent {
            writer.silence();
        }
        if writer.due() || (silent && !writer.settled()) {
            writer.tick();
        }
        outbox.send(writer.reports());
    }
    let mut safe = writer.finish();
    outbox.send(writer.reports());
    for _ in 0..LAST_TRIES {
        if safe && outbox.held.is_empty() {
            break;
        }
        thread::sleep(Duration::from_secs(1));
        safe = writer.finish();
        outbox.send(writer.reports());
    }
    if !safe {
        outbox.send(vec![RecordReport::Trouble(say!(
            "The end of the recording could not be written: {rows} rows were lost. What was written before is whole.",
            rows = writer.rows_at_risk()
        ))]);
    }
}
