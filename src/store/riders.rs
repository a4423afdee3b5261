//! The riders of this computer, a file each.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::sessions::key_of;
use super::text_file::{FileError, LARGEST_TEXT, read_text, save_text, toml_files};
use crate::record::slug::slug;

const WHAT: &str = entry!("rider file");

/// So many files of the folder are looked at; further ones are passed over.
const MOST_FILES: usize = 500;

/// One rider's file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RiderFile {
    /// The file's name without its ending.
    pub key: String,
    /// Where it is.
    pub path: PathBuf,
}

/// The riders' files, by name; none where the folder does not exist yet.
///
/// # Errors
/// Where the folder exists and cannot be listed.
pub fn list(folder: &Path) -> Result<Vec<RiderFile>, FileError> {
    Ok(toml_files(folder, entry!("folder of riders"), MOST_FILES)?
        .into_iter()
        .map(|path| RiderFile {
            key: key_of(&path),
            path,
        })
        .collect())
}

/// One rider's text. An empty one is a rider too: every figure keeps its cautious value.
///
/// # Errors
/// A sentence for a file that is missing, a folder, over 256 KiB, no text or unreadable.
pub fn load(path: &Path) -> Result<Arc<str>, FileError> {
    match read_text(path, WHAT, LARGEST_TEXT) {
        Err(FileError::Empty { .. }) => Ok(Arc::from("")),
        other => other.map(Arc::from),
    }
}

/// Where the file of a rider of this name belongs.
pub fn path_for(folder: &Path, name: &str) -> PathBuf {
    folder.join(format!("{}.toml", slug(name)))
}

/// Saves a rider's text over the file that was read as `read`, whole or not at all. A mark of byte order that `read`
/// lacks is no change.
///
/// # Errors
/// [`FileError::Changed`] where the file says something else by now or is gone, and those of reading and writing.
pub fn save_over(folder: &Path, key: &str, read: &str, text: &str) -> Result<(), FileError> {
    let path = folder.join(format!("{key}.toml"));
    match load(&path) {
        Ok(now) if now.trim_start_matches('\u{FEFF}') == read.trim_start_matches('\u{FEFF}') => {}
        Ok(_) | Err(FileError::Missing { .. }) => {
            return Err(FileError::Changed { what: WHAT, path });
        }
        Err(error) => return Err(error),
    }
    save(&path, text)
}

/// Saves a rider's text over what was there, whole or not at all.
///
/// # Errors
/// [`FileError::Unwritable`].
pub fn save(path: &Path, text: &str) -> Result<(), FileError> {
    // A link stays one: the file behind it is written.
    let path = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    save_text(&path, WHAT, text)
}
