//! The few things that a recording needs of a disk, as a trait, so that a failing disk can be tried out.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::Path;

/// A disk on which folders and new files can be made. Nothing that exists is ever opened for writing.
pub trait Disk: Send {
    /// Makes a folder and whatever leads to it; no error where it exists.
    ///
    /// # Errors
    /// As the system gives them.
    fn create_folders(&mut self, folder: &Path) -> io::Result<()>;

    /// Makes one folder that does not exist yet.
    ///
    /// # Errors
    /// [`io::ErrorKind::AlreadyExists`], and as the system gives them.
    fn create_folder(&mut self, folder: &Path) -> io::Result<()>;

    /// Makes a file that does not exist yet.
    ///
    /// # Errors
    /// [`io::ErrorKind::AlreadyExists`], and as the system gives them.
    fn create_file(&mut self, file: &Path) -> io::Result<Box<dyn DiskFile>>;

    /// Makes the names inside a folder last through a loss of power.
    ///
    /// # Errors
    /// As the system gives them; none on systems that do not know this.
    fn sync_folder(&mut self, folder: &Path) -> io::Result<()>;
}

/// An open file.
pub trait DiskFile: Send {
    /// Writes some of `bytes` from a place counted from the file's start, and says how many.
    ///
    /// # Errors
    /// As the system gives them.
    fn write_at(&mut self, place: u64, bytes: &[u8]) -> io::Result<usize>;

    /// Makes what was written last through a loss of power.
    ///
    /// # Errors
    /// As the system gives them. What was written since the last success may then be lost.
    fn sync(&mut self) -> io::Result<()>;
}

/// The computer's own disk.
#[derive(Clone, Copy, Debug, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn create_folders(&mut self, folder: &Path) -> io::Result<()> {
        fs::create_dir_all(folder)
    }

    fn create_folder(&mut self, folder: &Path) -> io::Result<()> {
        fs::create_dir(folder)
    }

    fn create_file(&mut self, file: &Path) -> io::Result<Box<dyn DiskFile>> {
        let file = OpenOptions::new().write(true).create_new(true).open(file)?;
        Ok(Box::new(RealFile { file, place: 0 }))
    }

    fn sync_folder(&mut self, folder: &Path) -> io::Result<()> {
        sync_folder(folder)
    }
}

/// Makes the names inside a folder last through a loss of power, where the system has a way to.
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(windows) {
        // A folder cannot be opened as a file there; its file system keeps a journal of names.
        return Ok(());
    }
    match File::open(folder).and_then(|opened| opened.sync_all()) {
        // Some network and FAT drivers have no such call: nothing more can be done there.
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported
            ) =>
        {
            Ok(())
        }
        other => other,
    }
}

struct RealFile {
    file: File,
    /// Where the next byte would go, so that a seek is made only when something is written again.
    place: u64,
}

impl DiskFile for RealFile {
    fn write_at(&mut self, place: u64, bytes: &[u8]) -> io::Result<usize> {
        if place != self.place {
            self.place = self.file.seek(SeekFrom::Start(place))?;
        }
        let count = self.file.write(bytes)?;
        self.place += count as u64;
        Ok(count)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }
}
