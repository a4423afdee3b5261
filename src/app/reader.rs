//! Reads long texts over beside the window, so that no frame waits for one.

use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::thread;

use crate::plan::{self, Reading};
use crate::text;

/// One reading at a time: while it runs, no other is begun.
#[derive(Default)]
pub(super) struct Reader {
    /// The version that is read, and where its reading comes out: one only, so the channel is never full.
    runs: Option<(u64, Receiver<Reading>)>,
}

impl Reader {
    /// Begins to read a version of the text, unless one is being read; `done` is called when it is known.
    pub fn begin(&mut self, version: u64, written: String, done: impl FnOnce() + Send + 'static) {
        if self.runs.is_some() {
            return;
        }
        let (sender, receiver) = sync_channel(1);
        let language = text::language();
        let read = move || {
            let reading = text::within(language, || plan::read(&written));
            // Nobody may wait for it any more: then it is let go.
            let _ = sender.send(reading);
            done();
        };
        // Where no thread can be had the text stays unread, and is tried again at the next frame.
        if thread::Builder::new()
            .name("reader".to_owned())
            .spawn(read)
            .is_ok()
        {
            self.runs = Some((version, receiver));
        }
    }

    /// What was read, once, with its version.
    pub fn take(&mut self) -> Option<(u64, Reading)> {
        let (version, receiver) = self.runs.as_ref()?;
        match receiver.try_recv() {
            Ok(reading) => {
                let version = *version;
                self.runs = None;
                Some((version, reading))
            }
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => {
                self.runs = None;
                None
            }
        }
    }
}
