//! The few things that a recording needs of a disk, as a trait, so that a failing disk can be tried out.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The file in a ride's folder that is locked while a program writes the ride. The lock goes with the program, however
/// it ends; the file is taken away when the recording is closed.
pub const LOCK: &str = "recording.lock";

/// So much of a file's end is searched for its last line end: more than any line of a recording, bytes.
const LAST_LINE: u64 = 2 << 20;

/// A disk on which folders and new files can be made. What exists is opened for writing only to add to a ride that was
/// left open.
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

    /// Opens a file that exists to add lines to it. What stands behind its last line end is no line and is taken out of
    /// it.
    ///
    /// # Errors
    /// As the system gives them.
    fn append_file(&mut self, _file: &Path) -> io::Result<Appended> {
        Err(io::ErrorKind::Unsupported.into())
    }

    /// Keeps other programs from writing the ride of this folder as long as what comes back is kept.
    ///
    /// # Errors
    /// [`io::ErrorKind::WouldBlock`] where another program writes it, and as the system gives them.
    fn hold(&mut self, _folder: &Path) -> io::Result<Hold> {
        Ok(Hold(None))
    }

    /// Makes the names inside a folder last through a loss of power.
    ///
    /// # Errors
    /// As the system gives them; none on systems that do not know this.
    fn sync_folder(&mut self, folder: &Path) -> io::Result<()>;
}

/// A file that is added to.
pub struct Appended {
    /// The file.
    pub file: Box<dyn DiskFile>,
    /// So many bytes of whole lines it holds.
    pub length: u64,
    /// What stood behind them.
    pub torn: Vec<u8>,
}

/// Keeps other programs from writing a ride; see [`LOCK`].
#[derive(Debug)]
pub struct Hold(pub(super) Option<(File, PathBuf)>);

impl Drop for Hold {
    /// The recording is closed, or given up with the program: the name goes first, so that nobody's lock is taken away.
    fn drop(&mut self) {
        if let Some((file, path)) = self.0.take() {
            drop(fs::remove_file(path));
            drop(file);
        }
    }
}

/// Opens a file that exists to add lines to it, changing nothing: with so many bytes of whole lines, and what stands
/// behind them.
pub(super) fn open_to_add(file: &Path) -> io::Result<(File, u64, Vec<u8>)> {
    let mut file = OpenOptions::new().read(true).write(true).open(file)?;
    let length = file.seek(SeekFrom::End(0))?;
    let from = length.saturating_sub(LAST_LINE);
    file.seek(SeekFrom::Start(from))?;
    let mut end = Vec::new();
    (&file).take(LAST_LINE).read_to_end(&mut end)?;
    let lines = end.iter().rposition(|byte| *byte == b'\n');
    if lines.is_none() && from > 0 {
        return Err(io::Error::other(entry!("its end is no text of lines")));
    }
    let torn = end.split_off(lines.map_or(0, |at| at + 1));
    let place = from + end.len() as u64;
    Ok((file, place, torn))
}

/// Whether a program writes the ride of this folder now. Where the system has no locks nobody is known to.
pub(super) fn is_held(folder: &Path) -> bool {
    // Not made where it is not there: nobody holds it then.
    let Ok(file) = OpenOptions::new().write(true).open(folder.join(LOCK)) else {
        return false;
    };
    matches!(file.try_lock(), Err(TryLockError::WouldBlock))
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

    /// Takes away what stands behind so many bytes.
    ///
    /// # Errors
    /// As the system gives them.
    fn cut(&mut self, length: u64) -> io::Result<()>;
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

    fn append_file(&mut self, file: &Path) -> io::Result<Appended> {
        let (mut file, place, torn) = open_to_add(file)?;
        if !torn.is_empty() {
            file.set_len(place)?;
        }
        file.seek(SeekFrom::Start(place))?;
        Ok(Appended {
            file: Box::new(RealFile { file, place }),
            length: place,
            torn,
        })
    }

    fn hold(&mut self, folder: &Path) -> io::Result<Hold> {
        let path = folder.join(LOCK);
        let file = OpenOptions::new()
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)?;
        match file.try_lock() {
            Ok(()) => Ok(Hold(Some((file, path)))),
            Err(TryLockError::WouldBlock) => Err(io::ErrorKind::WouldBlock.into()),
            // A file system without locks: the ride is kept all the same, and other programs are not kept out.
            Err(TryLockError::Error(_)) => Ok(Hold(None)),
        }
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

    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.file.set_len(length)
    }
}
