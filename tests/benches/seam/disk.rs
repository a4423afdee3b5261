//! A disk in memory: its files can be read afterwards, and a sync takes as long as it is told.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use stillroad::store::disk::{Disk, DiskFile};

/// Clones share the same disk.
#[derive(Clone, Default)]
pub struct SlowDisk {
    files: Arc<Mutex<BTreeMap<PathBuf, Vec<u8>>>>,
    syncs: Arc<Mutex<u32>>,
    sync_takes: Duration,
}

impl SlowDisk {
    pub fn new(sync_takes: Duration) -> Self {
        Self {
            sync_takes,
            ..Self::default()
        }
    }

    /// The bytes of the one file of this name.
    pub fn file(&self, name: &str) -> Vec<u8> {
        let files = self.files.lock().unwrap();
        let found = files.iter().find(|(path, _)| path.ends_with(name));
        found.map(|(_, bytes)| bytes.clone()).unwrap_or_default()
    }

    pub fn syncs(&self) -> u32 {
        *self.syncs.lock().unwrap()
    }
}

impl Disk for SlowDisk {
    fn create_folders(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn create_folder(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn create_file(&mut self, file: &Path) -> io::Result<Box<dyn DiskFile>> {
        self.files
            .lock()
            .unwrap()
            .insert(file.to_owned(), Vec::new());
        Ok(Box::new(SlowFile {
            disk: self.clone(),
            path: file.to_owned(),
        }))
    }

    fn sync_folder(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }
}

struct SlowFile {
    disk: SlowDisk,
    path: PathBuf,
}

impl DiskFile for SlowFile {
    fn write_at(&mut self, place: u64, bytes: &[u8]) -> io::Result<usize> {
        let mut files = self.disk.files.lock().unwrap();
        let file = files.get_mut(&self.path).ok_or(io::ErrorKind::NotFound)?;
        file.truncate(usize::try_from(place).unwrap_or(usize::MAX));
        file.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn sync(&mut self) -> io::Result<()> {
        *self.disk.syncs.lock().unwrap() += 1;
        std::thread::sleep(self.disk.sync_takes);
        Ok(())
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        let mut files = self.disk.files.lock().unwrap();
        let file = files.get_mut(&self.path).ok_or(io::ErrorKind::NotFound)?;
        file.truncate(usize::try_from(length).unwrap_or(usize::MAX));
        Ok(())
    }
}
