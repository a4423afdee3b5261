//! Text files read with a bound and a sentence for every failure, and written so that they are never half there.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use super::disk::sync_folder;

/// The most bytes that a session or rider file may have: 256 KiB.
pub const LARGEST_TEXT: u64 = 256 * 1024;

/// Why a file could not be used. Each is a sentence that says what to do.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// There is none.
    #[error("There is no {what} at {place}. Check the path and the name.", place = path.display())]
    Missing {
        /// What was looked for, as "session file".
        what: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// It is a folder.
    #[error("{place} is a folder, not a {what}. Name a file inside it.", place = path.display())]
    Folder {
        /// What was looked for.
        what: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// It has nothing in it.
    #[error("The {what} {place} is empty. Choose another, or write it anew.", place = path.display())]
    Empty {
        /// What was looked for.
        what: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// It is larger than any such file.
    #[error(
        "The {what} {place} is larger than {size} KiB, more than any {what} needs. Check that it is the right file.",
        place = path.display(), size = most / 1024
    )]
    Huge {
        /// What was looked for.
        what: &'static str,
        /// Where.
        path: PathBuf,
        /// The most bytes that are read.
        most: u64,
    },
    /// It is no text.
    #[error(
        "The {what} {place} is not a text in UTF-8. Check that it is the right file, or save it as UTF-8.",
        place = path.display()
    )]
    NotText {
        /// What was looked for.
        what: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// The system does not let it be read.
    #[error("The {what} {place} cannot be read ({error}). Check who may read it, and the disk.", place = path.display())]
    Unreadable {
        /// What was looked for.
        what: &'static str,
        /// Where.
        path: PathBuf,
        /// In the system's words.
        error: io::Error,
    },
    /// The system does not let it be written; what was there before still is.
    #[error(
        "The {what} {place} cannot be saved ({error}). What was there before is unchanged. Check who may write there, and \
         the room on the disk.",
        place = path.display()
    )]
    Unwritable {
        /// What should have been saved.
        what: &'static str,
        /// Where.
        path: PathBuf,
        /// In the system's words.
        error: io::Error,
    },
    /// Somebody else changed or removed it since it was read; what is there now stays.
    #[error(
        "The {what} {place} was changed by another program since it was read, so nothing was saved. Read the file again, \
         look it over, and save then.",
        place = path.display()
    )]
    Changed {
        /// What should have been saved.
        what: &'static str,
        /// Where.
        path: PathBuf,
    },
}

/// Whether a plain file is there.
pub fn is_file(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|about| about.is_file())
}

/// Whether anything is there by this name, a broken link too.
pub fn is_taken(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

/// Reads a text file of at most `most` bytes. `what` names it in sentences, as "session file".
///
/// # Errors
/// Every sort of [`FileError`] but the last.
pub fn read_text(path: &Path, what: &'static str, most: u64) -> Result<String, FileError> {
    let path_owned = || path.to_owned();
    let unreadable = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => FileError::Missing {
            what,
            path: path_owned(),
        },
        io::ErrorKind::IsADirectory => FileError::Folder {
            what,
            path: path_owned(),
        },
        _ => FileError::Unreadable {
            what,
            path: path_owned(),
            error,
        },
    };
    // Asked before it is opened: opening a folder fails with another error on each system, and opening a pipe waits.
    let about = fs::metadata(path).map_err(unreadable)?;
    if about.is_dir() {
        return Err(FileError::Folder {
            what,
            path: path_owned(),
        });
    }
    if !about.is_file() {
        return Err(unreadable(io::Error::other(entry!(
            "it is not a plain file"
        ))));
    }
    let file = File::open(path).map_err(unreadable)?;
    let mut bytes = Vec::new();
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(unreadable)?;
    as_text(bytes, path, what, most)
}

/// Bytes that were read, up to one more than `most`, as a text; `path` names them in sentences.
///
/// # Errors
/// [`FileError::Huge`], [`FileError::NotText`], [`FileError::Empty`].
pub(super) fn as_text(
    bytes: Vec<u8>,
    path: &Path,
    what: &'static str,
    most: u64,
) -> Result<String, FileError> {
    let path_owned = || path.to_owned();
    if bytes.len() as u64 > most {
        return Err(FileError::Huge {
            what,
            path: path_owned(),
            most,
        });
    }
    let text = String::from_utf8(bytes).map_err(|_| FileError::NotText {
        what,
        path: path_owned(),
    })?;
    if text
        .trim_matches(|c: char| c.is_whitespace() || c == '\u{FEFF}')
        .is_empty()
    {
        return Err(FileError::Empty {
            what,
            path: path_owned(),
        });
    }
    Ok(text)
}

/// Saves a text so that either the old or the new one is there, whatever happens: a new file beside it, synced, then
/// renamed over it. Folders that lead to it are made.
///
/// # Errors
/// [`FileError::Unwritable`].
pub fn save_text(path: &Path, what: &'static str, text: &str) -> Result<(), FileError> {
    save_bytes(path, what, text.as_bytes())
}

/// The same for a file that is no text.
///
/// # Errors
/// [`FileError::Unwritable`].
pub(super) fn save_bytes(path: &Path, what: &'static str, bytes: &[u8]) -> Result<(), FileError> {
    replace(path, bytes).map_err(|error| FileError::Unwritable {
        what,
        path: path.to_owned(),
        error,
    })
}

fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let (Some(folder), Some(name)) = (path.parent(), path.file_name()) else {
        return Err(io::ErrorKind::InvalidInput.into());
    };
    // A bare name stands in the folder that the program was started in.
    let folder = match folder.as_os_str().is_empty() {
        true => Path::new("."),
        false => folder,
    };
    fs::create_dir_all(folder)?;
    // The process's number keeps two programs from writing into the same new file.
    let mut new_name = name.to_owned();
    new_name.push(format!(".{}.new", std::process::id()));
    let new = folder.join(new_name);
    let written = write_whole(&new, bytes).and_then(|()| fs::rename(&new, path));
    if let Err(error) = written {
        // Nothing more can be done where even this fails; the file is harmless.
        let _ = fs::remove_file(&new);
        return Err(error);
    }
    // The new text is there, whole and on the disk. That a folder could not be synced (one that may be written in and not
    // be read cannot) only means that after a loss of power the old text may be there again.
    let _ = sync_folder(folder);
    Ok(())
}

fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(true)
        .open(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// What a folder holds, at most so much; nothing where there is no such folder. Listed in the system's order: the bound
/// keeps a folder of a million files from holding up the start.
///
/// # Errors
/// [`FileError::Unreadable`] where it is there and cannot be listed.
pub(super) fn entries(
    folder: &Path,
    what: &'static str,
    most: usize,
) -> Result<Vec<PathBuf>, FileError> {
    let unreadable = |error| FileError::Unreadable {
        what,
        path: folder.to_owned(),
        error,
    };
    match fs::read_dir(folder) {
        Ok(entries) => entries
            .take(most)
            .map(|entry| Ok(entry.map_err(unreadable)?.path()))
            .collect(),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(unreadable(error)),
    }
}

/// The `.toml` files of a folder by name, at most `most` of them; none where the folder does not exist.
///
/// # Errors
/// [`FileError::Unreadable`] where it exists and cannot be listed.
pub(super) fn toml_files(
    folder: &Path,
    what: &'static str,
    most: usize,
) -> Result<Vec<PathBuf>, FileError> {
    let mut files = Vec::new();
    for path in entries(folder, what, most)? {
        let hidden = path
            .file_name()
            .is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if !hidden
            && path
                .extension()
                .is_some_and(|extension| extension == "toml")
        {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}
