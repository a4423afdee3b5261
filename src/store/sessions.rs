//! The sessions that can be ridden: those built in, then those of the user's folder.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::text_file::{FileError, LARGEST_TEXT, read_text, toml_files};

const WHAT: &str = "session file";

/// So many files of the user's folder are looked at; further ones are passed over.
const MOST_FILES: usize = 2000;

/// Where a session comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Origin {
    /// It is part of the program.
    BuiltIn,
    /// A file.
    File(PathBuf),
}

/// One session, not yet parsed.
#[derive(Debug)]
pub struct SessionText {
    /// What it is called in lists: the file's name without its ending.
    pub key: String,
    /// Where it comes from.
    pub origin: Origin,
    /// Its text, or why it cannot be read.
    pub text: Result<Arc<str>, FileError>,
}

/// Every session: those built in (pairs of key and text) as given, then the user's by name. A file that cannot be read
/// stands in the list with its reason.
///
/// # Errors
/// Where the user's folder exists and cannot be listed.
pub fn list(built_in: &[(&str, &str)], folder: &Path) -> Result<Vec<SessionText>, FileError> {
    let mut sessions: Vec<_> = built_in
        .iter()
        .map(|(key, text)| SessionText {
            key: (*key).to_owned(),
            origin: Origin::BuiltIn,
            text: Ok(Arc::from(*text)),
        })
        .collect();
    for path in toml_files(folder, "folder of sessions", MOST_FILES)? {
        sessions.push(SessionText {
            key: key_of(&path),
            text: load(&path),
            origin: Origin::File(path),
        });
    }
    Ok(sessions)
}

/// One session file's text.
///
/// # Errors
/// A sentence for a file that is missing, a folder, empty, over 256 KiB, no text or unreadable.
pub fn load(path: &Path) -> Result<Arc<str>, FileError> {
    read_text(path, WHAT, LARGEST_TEXT).map(Arc::from)
}

/// A file's name without its ending.
pub(super) fn key_of(path: &Path) -> String {
    path.file_stem()
        .map(|stem| stem.to_string_lossy().into_owned())
        .unwrap_or_default()
}
