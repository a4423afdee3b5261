//! What is remembered between rides, on the disk: `memory.toml` in the data folder, and the thread that keeps it.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread;
use std::time::Duration;

use super::text_file::{FileError, read_text, save_text};
use crate::memory::{Memory, VERSION};
use crate::text::translated;

const WHAT: &str = entry!("memory file");
const LARGEST: u64 = 4 << 20;

/// So many states of the memory may wait for the disk. When it is full the newest waits in the keeper and takes the place
/// of an older one that waits there.
const WAITING: usize = 4;

/// So long the end of the program waits for the disk.
const LAST_WORD: Duration = Duration::from_secs(2);

/// Reads the memory; an empty one where there is none yet. A file that cannot be understood is moved aside, never
/// overwritten, and the sentence says so.
pub fn load(path: &Path) -> (Memory, Option<String>) {
    let (text, why) = match read_text(path, WHAT, LARGEST) {
        Ok(text) => (text, None),
        Err(FileError::Missing { .. }) => return (Memory::default(), None),
        Err(error @ (FileError::Folder { .. } | FileError::Unreadable { .. })) => {
            return (
                Memory::default(),
                Some(translated(&error.to_string()).into_owned()),
            );
        }
        Err(FileError::Empty { .. }) => (String::new(), Some(word!("it is empty").to_owned())),
        Err(FileError::Huge { .. }) => {
            (String::new(), Some(word!("it is far too large").to_owned()))
        }
        Err(_) => (String::new(), Some(word!("it is no text").to_owned())),
    };
    let why = match why {
        Some(why) => why,
        None => match toml::from_str::<Memory>(&text) {
            Ok(memory) if memory.version <= VERSION => return (memory, None),
            Ok(memory) => say!(
                "it is of version {version}, of a newer program",
                version = memory.version
            ),
            Err(error) => error.message().to_owned(),
        },
    };
    let sentence = match move_aside(path) {
        Ok(aside) => say!(
            "What was remembered from earlier rides cannot be read ({why}) and begins anew. The old file was kept \
             as {aside}.",
            why,
            aside = aside.display()
        ),
        Err(error) => say!(
            "What was remembered from earlier rides cannot be read ({why}), and {path} cannot be moved aside ({error}). \
             Look at that file before the next ride.",
            why,
            path = path.display(),
            error
        ),
    };
    (Memory::default(), Some(sentence))
}

/// Saves it, whole or not at all.
///
/// # Errors
/// [`FileError::Unwritable`].
pub fn save(memory: &Memory, path: &Path) -> Result<(), FileError> {
    let text = toml::to_string(memory).map_err(|error| FileError::Unwritable {
        what: WHAT,
        path: path.to_owned(),
        error: std::io::Error::other(error),
    })?;
    save_text(path, WHAT, &text)
}

/// Keeps the memory on the disk without anybody waiting for it: a thread of its own saves the newest state.
pub struct MemoryKeeper {
    to_disk: Option<SyncSender<Memory>>,
    waiting: Option<Memory>,
    /// Why it could not be saved, a sentence each; closed when the thread has ended. Bounded: where nobody reads them
    /// the later ones are dropped.
    troubles: Receiver<String>,
}

impl MemoryKeeper {
    /// Keeps it in this file. Where the system gives no thread nothing is kept.
    pub fn start(path: PathBuf) -> Self {
        let (to_disk, queue) = sync_channel::<Memory>(WAITING);
        let (tell, troubles) = sync_channel(WAITING);
        let spawned = thread::Builder::new()
            .name("memory".to_owned())
            .spawn(move || {
                while let Ok(mut memory) = queue.recv() {
                    while let Ok(newer) = queue.try_recv() {
                        memory = newer;
                    }
                    if let Err(error) = save(&memory, &path) {
                        drop(tell.try_send(error.to_string()));
                    }
                }
            });
        Self {
            to_disk: spawned.is_ok().then_some(to_disk),
            waiting: None,
            troubles,
        }
    }

    /// Hands over the newest state. Never waits.
    pub fn keep(&mut self, memory: Memory) {
        self.waiting = Some(memory);
        self.hand_over();
    }

    /// Tries again what found the queue full; why something could not be saved, a sentence.
    pub fn trouble(&mut self) -> Option<String> {
        self.hand_over();
        self.troubles.try_recv().ok()
    }

    fn hand_over(&mut self) {
        if let (Some(memory), Some(to_disk)) = (self.waiting.take(), &self.to_disk)
            && let Err(TrySendError::Full(memory)) = to_disk.try_send(memory)
        {
            self.waiting = Some(memory);
        }
    }
}

impl Drop for MemoryKeeper {
    /// Waits until what was handed over is on the disk, two seconds at most.
    fn drop(&mut self) {
        self.hand_over();
        drop(self.to_disk.take());
        while self.troubles.recv_timeout(LAST_WORD).is_ok() {}
    }
}

/// Renames a file to the first free of `name.bad`, `name.bad-2` and so on.
fn move_aside(path: &Path) -> std::io::Result<PathBuf> {
    for number in 1..100 {
        let mut name = path.as_os_str().to_owned();
        name.push(if number == 1 {
            ".bad".to_owned()
        } else {
            format!(".bad-{number}")
        });
        let aside = PathBuf::from(name);
        if !aside.try_exists()? {
            return fs::rename(path, &aside).map(|()| aside);
        }
    }
    Err(std::io::ErrorKind::AlreadyExists.into())
}
