//! One file of a ride: lines are kept in memory until the disk has taken them for good.

use std::borrow::Cow;
use std::io;
use std::path::Path;

use super::disk::{Disk, DiskFile};

/// What became of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pushed {
    /// It will be written.
    Kept,
    /// The memory for what waits is full; it was dropped and counted.
    MemoryFull,
    /// The file has its full size; it was dropped and counted.
    FileFull,
}

/// A file that grows line by line.
///
/// Invariant: bytes leave `unsynced` only after a sync that succeeded. When one fails the system may have thrown away
/// what it held, so everything since the last success is written again, at the same place.
pub(super) struct RideFile {
    name: Cow<'static, str>,
    open: Option<Box<dyn DiskFile>>,
    /// So many bytes of the file are safe.
    safe: u64,
    /// What comes after them. Bounded by `memory`: a line that does not fit is dropped and counted.
    unsynced: Vec<u8>,
    /// So many bytes of `unsynced` were handed to the disk since its last success.
    written: usize,
    memory: usize,
    most: u64,
    pub(super) dropped: u64,
}

impl RideFile {
    /// A file that holds at most `memory` bytes that are not yet safe, and grows to at most `most` bytes.
    pub(super) fn new(name: impl Into<Cow<'static, str>>, memory: usize, most: u64) -> Self {
        Self {
            name: name.into(),
            open: None,
            safe: 0,
            unsynced: Vec::new(),
            written: 0,
            memory,
            most,
            dropped: 0,
        }
    }

    /// Another name, as long as nothing was opened.
    pub(super) fn rename(&mut self, name: &'static str) {
        self.name = name.into();
        self.open = None;
    }

    /// Opens a file that exists, to add to it; one that is not there is made. `header` comes first where the file holds no
    /// line. Gives what stood behind its last line end.
    pub(super) fn open_to_add(
        &mut self,
        disk: &mut dyn Disk,
        folder: &Path,
        header: &[u8],
    ) -> io::Result<Vec<u8>> {
        if self.open.is_some() {
            return Ok(Vec::new());
        }
        let path = folder.join(&*self.name);
        let torn = match disk.append_file(&path) {
            Ok(appended) => {
                self.safe = appended.length;
                self.open = Some(appended.file);
                appended.torn
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                self.open = Some(disk.create_file(&path)?);
                Vec::new()
            }
            Err(error) => return Err(error),
        };
        if self.safe == 0 {
            self.begin_with(header);
        }
        Ok(torn)
    }

    /// Makes a file that does not exist yet, before anything is written.
    pub(super) fn create(&mut self, disk: &mut dyn Disk, folder: &Path) -> io::Result<()> {
        if self.open.is_none() {
            self.open = Some(disk.create_file(&folder.join(&*self.name))?);
        }
        Ok(())
    }

    /// Puts lines before all that waits, as long as nothing was written.
    pub(super) fn begin_with(&mut self, lines: &[u8]) {
        self.unsynced.splice(0..0, lines.iter().copied());
    }

    /// Takes whole lines.
    pub(super) fn push(&mut self, lines: &[u8]) -> Pushed {
        let size = self.safe + (self.unsynced.len() + lines.len()) as u64;
        if size > self.most {
            self.dropped += 1;
            Pushed::FileFull
        } else if self.unsynced.len() + lines.len() > self.memory {
            self.dropped += 1;
            Pushed::MemoryFull
        } else {
            self.unsynced.extend_from_slice(lines);
            Pushed::Kept
        }
    }

    /// So many bytes still fit into the file.
    pub(super) fn room(&self) -> u64 {
        self.most
            .saturating_sub(self.safe + self.unsynced.len() as u64)
    }

    /// Whether all of it is safe on the disk.
    pub(super) fn settled(&self) -> bool {
        self.open.is_some() && self.unsynced.is_empty()
    }

    /// Gives the disk back the room of what is not yet safe: it is written again at the next flush. Where that fails it
    /// stays as it is.
    pub(super) fn give_back(&mut self) {
        let Some(open) = &mut self.open else { return };
        if open.cut(self.safe).is_ok() {
            self.written = 0;
        }
    }

    /// Brings everything to the disk for good.
    pub(super) fn flush(&mut self, disk: &mut dyn Disk, folder: &Path) -> io::Result<()> {
        let open = match &mut self.open {
            Some(open) => open,
            None => self
                .open
                .insert(disk.create_file(&folder.join(&*self.name))?),
        };
        if self.unsynced.is_empty() {
            return Ok(());
        }
        while self.written < self.unsynced.len() {
            let place = self.safe + self.written as u64;
            match open.write_at(place, &self.unsynced[self.written..]) {
                Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
                Ok(count) => self.written += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        if let Err(error) = open.sync() {
            self.written = 0;
            return Err(error);
        }
        self.safe += self.unsynced.len() as u64;
        self.unsynced.clear();
        self.written = 0;
        // A long trouble leaves a large buffer behind.
        self.unsynced.shrink_to(64 * 1024);
        Ok(())
    }
}
