//! The shell round what is heard: a thread of its own that looks at the ride, asks [`cue`](crate::cue) what is due, and
//! has the loudspeaker and the system's voice say it. The ride never waits for it, and rides on without it.

#[cfg(target_os = "linux")]
mod linux;
mod listen;
#[cfg(not(target_os = "linux"))]
mod none;
mod output;
mod recorded;
mod tone;
mod voice;

#[cfg(target_os = "linux")]
pub use linux::Microphone;
#[cfg(target_os = "linux")]
use linux::Speaker;
#[cfg(not(target_os = "linux"))]
pub use none::Microphone;
#[cfg(not(target_os = "linux"))]
use none::Speaker;

use std::path::PathBuf;
use std::sync::mpsc::{SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use crate::cue::Kinds;
use crate::engine::drive::Engine;
use listen::Listener;

pub use tone::{RATE, notes, samples};

/// Changes of the settings that wait: a rider makes one a second at most, and each is taken within a tenth of a second.
/// Where it is full all the same the newest is dropped, and sent again with the next look of the window.
const ORDERS: usize = 16;

/// What is wrong with sound and voice, as the thread last found it.
type Troubles = Arc<Mutex<Told>>;

/// What is known of loudspeaker and voice.
#[derive(Clone, Debug, Default)]
struct Told {
    /// Whether both were looked for.
    looked: bool,
    /// Why nothing is heard, or no words.
    trouble: Option<String>,
}

/// The sound of a program: the window's end of the thread.
#[derive(Debug)]
pub struct Sound {
    orders: Option<SyncSender<Kinds>>,
    told: Troubles,
    kinds: Kinds,
    thread: Option<JoinHandle<()>>,
}

impl Sound {
    /// Starts listening to an engine's ride; the leader's recordings of cues lie beside the sessions of these folders. Where the system gives no thread, nothing is heard and
    /// [`trouble`](Self::trouble) says so.
    pub fn start(engine: &Engine, kinds: Kinds, sessions: Vec<PathBuf>) -> Self {
        let (orders, ordered) = sync_channel(ORDERS);
        let told = Troubles::default();
        let listener = Listener::new(
            engine.snapshots.clone(),
            engine.clock(),
            kinds,
            sessions,
            Arc::clone(&told),
        );
        let thread = std::thread::Builder::new()
            .name("sound".to_owned())
            .spawn(move || listener.run(&ordered));
        let thread = match thread {
            Ok(thread) => Some(thread),
            Err(error) => {
                tell(
                    &told,
                    Some(say!(
                        "The system gave no thread for sound ({error}): nothing will be heard. The ride is led on the screen.",
                        error
                    )),
                );
                None
            }
        };
        Self {
            orders: Some(orders),
            told,
            kinds,
            thread,
        }
    }

    /// Says which kinds are heard from now on. Returns at once.
    pub fn set(&mut self, kinds: Kinds) {
        if kinds == self.kinds {
            return;
        }
        if let Some(orders) = &self.orders
            && orders.try_send(kinds).is_ok()
        {
            self.kinds = kinds;
        }
    }

    /// Why nothing is heard, or no words, in a sentence; nothing while all is well, is muted, or is not known yet.
    pub fn trouble(&self) -> Option<String> {
        let told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        self.kinds.on.then(|| told.trouble.clone()).flatten()
    }

    /// Whether it is still looked for, so that [`trouble`](Self::trouble) may change.
    pub fn is_asking(&self) -> bool {
        let told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        self.kinds.on && self.thread.is_some() && !told.looked
    }
}

impl Drop for Sound {
    /// Ends the thread, and with it the stream and the voice: within a tenth of a second, or once the server answers.
    fn drop(&mut self) {
        drop(self.orders.take());
        if let Some(thread) = self.thread.take() {
            drop(thread.join());
        }
    }
}

fn tell(told: &Troubles, trouble: Option<String>) {
    let mut told = told.lock().unwrap_or_else(PoisonError::into_inner);
    *told = Told {
        looked: true,
        trouble,
    };
}
