//! A recording to be replayed or sent: a ride's folder, or one file that holds it.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Cursor, Read, Write};
use std::path::{Path, PathBuf};

use super::disk::{Appended, Disk, DiskFile, Hold};
use super::text_file::{FileError, as_text, read_text};
use crate::text::translated;

/// The most that is read of one file: the bound of `raw.csv` with some room, bytes.
const LARGEST_FILE: u64 = 300 << 20;

/// The most files that are read of one archive.
const MOST_FILES: usize = 64;

/// Where a recording lies.
#[derive(Clone, Debug)]
enum Place {
    Folder(PathBuf),
    /// A folder of an archive: the files by path, and the folder's name.
    Archive(
        std::sync::Arc<BTreeMap<String, std::sync::Arc<[u8]>>>,
        String,
    ),
}

/// A ride's files, wherever they lie.
#[derive(Clone, Debug)]
pub struct Recording {
    place: Place,
}

impl Recording {
    /// A ride's folder, which may not be there.
    pub(super) fn folder(path: &Path) -> Self {
        Self {
            place: Place::Folder(path.to_owned()),
        }
    }

    /// A ride's folder, or a file made of one by `stillroad hand-over` or `stillroad export`.
    ///
    /// # Errors
    /// A sentence where there is neither.
    pub fn open(path: &Path) -> Result<Self, String> {
        if path.is_dir() {
            return Ok(Self::folder(path));
        }
        let what = entry!("recording");
        let file = File::open(path).map_err(|error| {
            let path = path.to_owned();
            match error.kind() {
                io::ErrorKind::NotFound => FileError::Missing { what, path },
                _ => FileError::Unreadable { what, path, error },
            }
            .to_string()
        });
        let file = file.map_err(|sentence| translated(&sentence).into_owned())?;
        Self::unpack(file).map_err(|why| {
            say!(
                "{path} is no recording: {why}. Name a ride's folder, or a file that `stillroad hand-over` or `stillroad export` made.",
                path = path.display(),
                why
            )
        })
    }

    fn unpack(file: File) -> Result<Self, String> {
        let mut archive =
            zip::ZipArchive::new(BufReader::new(file)).map_err(|error| error.to_string())?;
        let mut files = BTreeMap::new();
        let mut name = None;
        if archive.len() > MOST_FILES {
            return Err(say!("it holds more than {most} files", most = MOST_FILES));
        }
        // Bounded over all of it: a few kilobytes could be made to unpack to more than a memory holds.
        let mut room = LARGEST_FILE;
        for at in 0..archive.len() {
            let entry = archive.by_index(at).map_err(|error| error.to_string())?;
            let path = entry
                .name()
                .map_err(|error| error.to_string())?
                .into_owned();
            let mut bytes = Vec::new();
            entry
                .take(room + 1)
                .read_to_end(&mut bytes)
                .map_err(|error| error.to_string())?;
            room = room.checked_sub(bytes.len() as u64).ok_or_else(|| {
                say!(
                    "it unpacks to more than {most} MiB",
                    most = LARGEST_FILE >> 20
                )
            })?;
            if let Some((folder, _)) = path.split_once('/') {
                name.get_or_insert_with(|| folder.to_owned());
            }
            files.insert(path, bytes.into());
        }
        let name = name.ok_or_else(|| word!("it holds no folder").to_owned())?;
        Ok(Self {
            place: Place::Archive(files.into(), name),
        })
    }

    /// What it is called.
    pub fn name(&self) -> String {
        match &self.place {
            Place::Folder(folder) => folder
                .canonicalize()
                .ok()
                .as_deref()
                .unwrap_or(folder)
                .file_name()
                .map_or_else(String::new, |name| name.to_string_lossy().into()),
            Place::Archive(_, name) => name.clone(),
        }
    }

    /// Where it lies, for sentences: its folder, or its name in the file that holds it.
    pub(super) fn place(&self) -> String {
        match &self.place {
            Place::Folder(folder) => folder.display().to_string(),
            Place::Archive(_, name) => name.clone(),
        }
    }

    /// The recording in the folder of this name beside it; none where there is none, or the name is a path.
    pub fn beside(&self, name: &str) -> Option<Self> {
        if name.is_empty() || name.starts_with('.') || name.contains(['/', '\\', ':', '\0']) {
            return None;
        }
        let place = match &self.place {
            Place::Folder(folder) => {
                let beside = folder.canonicalize().ok()?.parent()?.join(name);
                Place::Folder(beside.is_dir().then_some(beside)?)
            }
            Place::Archive(files, _) => {
                let folder = format!("{name}/");
                let there = files.keys().any(|path| path.starts_with(&folder));
                Place::Archive(there.then(|| files.clone())?, name.to_owned())
            }
        };
        Some(Self { place })
    }

    /// A text of it of at most `most` bytes; `what` names it in sentences.
    ///
    /// # Errors
    /// Every sort of [`FileError`] that a file to be read can give.
    pub fn text(&self, file: &str, what: &'static str, most: u64) -> Result<String, FileError> {
        match &self.place {
            Place::Folder(folder) => read_text(&folder.join(file), what, most),
            Place::Archive(files, name) => {
                let path = format!("{name}/{file}");
                match files.get(&path) {
                    Some(bytes) => as_text(bytes.to_vec(), Path::new(&path), what, most),
                    None => Err(FileError::Missing {
                        what,
                        path: path.into(),
                    }),
                }
            }
        }
    }

    /// A file of it, whole. Bounded: beyond the bound of a file nothing is read.
    ///
    /// # Errors
    /// As the system gives them; none where there is no such file.
    pub fn bytes(&self, file: &str) -> io::Result<Option<Vec<u8>>> {
        let mut bytes = Vec::new();
        match self.lines(file)? {
            Some(mut input) => input.read_to_end(&mut bytes).map(|_| Some(bytes)),
            None => Ok(None),
        }
    }

    /// A file of it, to be read bit by bit.
    ///
    /// # Errors
    /// As the system gives them, and where it is no plain file; none where there is no such file.
    pub fn lines(&self, file: &str) -> io::Result<Option<Box<dyn BufRead>>> {
        match &self.place {
            Place::Folder(folder) => match plain_file(&folder.join(file)) {
                Ok(file) => Ok(Some(Box::new(BufReader::with_capacity(
                    1 << 16,
                    file.take(LARGEST_FILE),
                )))),
                Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
                Err(error) => Err(error),
            },
            Place::Archive(files, name) => {
                let bytes = files.get(&format!("{name}/{file}")).cloned();
                Ok(bytes.map(|bytes| Box::new(Cursor::new(bytes)) as Box<dyn BufRead>))
            }
        }
    }
}

/// A pipe of that name would be waited for without end.
fn plain_file(path: &Path) -> io::Result<File> {
    if !std::fs::metadata(path)?.is_file() {
        return Err(io::Error::other(entry!("it is no file")));
    }
    File::open(path)
}

/// The files that a writer made in memory, by path.
pub type Files = BTreeMap<PathBuf, Vec<u8>>;

/// A disk in memory, for recordings that are written to be packed. Bounded by what is written to it, which is bounded by
/// the log that it comes from.
#[derive(Clone, Debug, Default)]
pub struct MemoryDisk(std::sync::Arc<std::sync::Mutex<Files>>);

impl MemoryDisk {
    /// What was written.
    pub fn files(&self) -> Files {
        self.with(|files| files.clone())
    }

    fn with<T>(&self, act: impl FnOnce(&mut Files) -> T) -> T {
        // Nothing panics while the lock is held; were it so, what is there is still what was written.
        let mut files = self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        act(&mut files)
    }
}

impl Disk for MemoryDisk {
    fn create_folders(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn create_folder(&mut self, folder: &Path) -> io::Result<()> {
        let taken = self.with(|files| files.keys().any(|file| file.starts_with(folder)));
        if taken {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        Ok(())
    }

    fn create_file(&mut self, file: &Path) -> io::Result<Box<dyn DiskFile>> {
        self.with(|files| files.insert(file.to_owned(), Vec::new()));
        Ok(Box::new(MemoryFile {
            disk: self.clone(),
            path: file.to_owned(),
        }))
    }

    fn append_file(&mut self, file: &Path) -> io::Result<Appended> {
        let (length, torn) = self.with(|files| {
            let bytes = files.get_mut(file).ok_or(io::ErrorKind::NotFound)?;
            let lines = bytes.iter().rposition(|byte| *byte == b'\n');
            let torn = bytes.split_off(lines.map_or(0, |at| at + 1));
            Ok::<_, io::Error>((bytes.len() as u64, torn))
        })?;
        Ok(Appended {
            file: Box::new(MemoryFile {
                disk: self.clone(),
                path: file.to_owned(),
            }),
            length,
            torn,
        })
    }

    fn hold(&mut self, folder: &Path) -> io::Result<Hold> {
        // A ride goes on only in a folder that is there.
        if self.with(|files| files.keys().any(|file| file.starts_with(folder))) {
            Ok(Hold(None))
        } else {
            Err(io::ErrorKind::NotFound.into())
        }
    }

    fn sync_folder(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }
}

struct MemoryFile {
    disk: MemoryDisk,
    path: PathBuf,
}

impl DiskFile for MemoryFile {
    fn write_at(&mut self, place: u64, bytes: &[u8]) -> io::Result<usize> {
        self.disk.with(|files| {
            let file = files.entry(self.path.clone()).or_default();
            let place = usize::try_from(place).map_err(io::Error::other)?;
            file.truncate(place);
            file.extend_from_slice(bytes);
            Ok(bytes.len())
        })
    }

    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.disk.with(|files| {
            let length = usize::try_from(length).map_err(io::Error::other)?;
            files.entry(self.path.clone()).or_default().truncate(length);
            Ok(())
        })
    }
}

/// Packs files into one, each under its path below `root`; those of `first` come first, and are the recording.
///
/// # Errors
/// A sentence where it cannot be written; a file that exists is not overwritten.
pub fn pack(to: &Path, root: &Path, first: &str, files: &Files) -> Result<u64, String> {
    let failed = |error: String| {
        say!(
            "{path} cannot be written: {error}. Choose another name or another folder.",
            path = to.display(),
            error
        )
    };
    let mut paths: Vec<_> = files
        .iter()
        .filter_map(|(path, bytes)| Some((path.strip_prefix(root).ok()?, bytes)))
        .collect();
    paths.sort_by_key(|(path, _)| !path.starts_with(first));
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    // No moment of the files' making: it would tell the day.
    let options = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .last_modified_time(zip::DateTime::default());
    for (path, bytes) in paths {
        let name: Vec<_> = path.iter().map(|part| part.to_string_lossy()).collect();
        archive
            .start_file(name.join("/"), options)
            .map_err(|error| failed(error.to_string()))?;
        archive
            .write_all(bytes)
            .map_err(|error| failed(error.to_string()))?;
    }
    let packed = archive
        .finish()
        .map_err(|error| failed(error.to_string()))?
        .into_inner();
    let written = File::create_new(to).and_then(|mut file| {
        file.write_all(&packed)?;
        file.sync_all()
    });
    written.map_err(|error| failed(error.to_string()))?;
    Ok(packed.len() as u64)
}
