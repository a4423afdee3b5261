//! A disk in memory that can be full, lose what was not synced, and refuse.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use stillroad::store::disk::{Disk, DiskFile};

#[derive(Default)]
struct State {
    folders: BTreeSet<PathBuf>,
    files: BTreeMap<PathBuf, Vec<u8>>,
    synced: BTreeMap<PathBuf, usize>,
    room: Option<usize>,
    failing_syncs: u32,
    failing_creates: u32,
    syncs: u32,
}

/// Clones share the same disk.
#[derive(Clone, Default)]
pub(super) struct FaultDisk(Arc<Mutex<State>>);

impl FaultDisk {
    /// So many more bytes fit; none lifts the limit.
    pub(super) fn set_room(&self, room: Option<usize>) {
        self.0.lock().unwrap().room = room;
    }

    /// The next syncs fail, and what they should have saved turns to zeros, as some systems do.
    pub(super) fn fail_syncs(&self, count: u32) {
        self.0.lock().unwrap().failing_syncs = count;
    }

    /// The next folders and files cannot be made.
    pub(super) fn fail_creates(&self, count: u32) {
        self.0.lock().unwrap().failing_creates = count;
    }

    pub(super) fn syncs(&self) -> u32 {
        self.0.lock().unwrap().syncs
    }

    /// The text of the one file whose path ends so.
    pub(super) fn text(&self, end: &str) -> String {
        let state = self.0.lock().unwrap();
        let mut found = state.files.iter().filter(|(path, _)| path.ends_with(end));
        let (_, bytes) = found.next().unwrap();
        assert!(found.next().is_none());
        String::from_utf8(bytes.clone()).unwrap()
    }

    /// The bytes of all files.
    pub(super) fn size(&self) -> usize {
        self.0.lock().unwrap().files.values().map(Vec::len).sum()
    }

    pub(super) fn folders(&self) -> Vec<PathBuf> {
        self.0.lock().unwrap().folders.iter().cloned().collect()
    }
}

impl State {
    fn create(&mut self) -> io::Result<()> {
        if self.failing_creates > 0 {
            self.failing_creates -= 1;
            return Err(io::ErrorKind::PermissionDenied.into());
        }
        Ok(())
    }
}

impl Disk for FaultDisk {
    fn create_folders(&mut self, _: &Path) -> io::Result<()> {
        self.0.lock().unwrap().create()
    }

    fn create_folder(&mut self, folder: &Path) -> io::Result<()> {
        let mut state = self.0.lock().unwrap();
        state.create()?;
        if !state.folders.insert(folder.to_owned()) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        Ok(())
    }

    fn create_file(&mut self, file: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut state = self.0.lock().unwrap();
        state.create()?;
        if state.files.contains_key(file) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        state.files.insert(file.to_owned(), Vec::new());
        Ok(Box::new(FaultFile(self.clone(), file.to_owned())))
    }

    fn sync_folder(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }
}

struct FaultFile(FaultDisk, PathBuf);

impl DiskFile for FaultFile {
    fn write_at(&mut self, place: u64, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.0.0.lock().unwrap();
        let place = place as usize;
        let length = state.files[&self.1].len();
        let wanted = (place + bytes.len()).saturating_sub(length);
        let granted = state.room.map_or(wanted, |room| wanted.min(room));
        let count = bytes.len() - (wanted - granted);
        if count == 0 && !bytes.is_empty() {
            return Err(io::ErrorKind::StorageFull.into());
        }
        if let Some(room) = &mut state.room {
            *room -= granted;
        }
        let content = state.files.get_mut(&self.1).unwrap();
        content.resize(length.max(place + count), 0);
        content[place..place + count].copy_from_slice(&bytes[..count]);
        Ok(count)
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.0.0.lock().unwrap();
        let synced = state.synced.get(&self.1).copied().unwrap_or(0);
        if state.failing_syncs > 0 {
            state.failing_syncs -= 1;
            state.files.get_mut(&self.1).unwrap()[synced..].fill(0);
            return Err(io::Error::other("the device is gone"));
        }
        state.syncs += 1;
        let length = state.files[&self.1].len();
        state.synced.insert(self.1.clone(), length);
        Ok(())
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        let mut state = self.0.0.lock().unwrap();
        let content = state.files.get_mut(&self.1).unwrap();
        let freed = content.len().saturating_sub(length as usize);
        content.truncate(length as usize);
        if let Some(room) = &mut state.room {
            *room += freed;
        }
        Ok(())
    }
}
