//! The file of the window's settings.

use std::path::Path;

use super::text_file::{FileError, LARGEST_TEXT, read_text, save_text};

const WHAT: &str = entry!("file of settings");

/// Its text; an empty one where there is no file yet, or nothing in it.
///
/// # Errors
/// A sentence for a file that is a folder, over 256 KiB, no text or unreadable.
pub fn load(path: &Path) -> Result<String, FileError> {
    match read_text(path, WHAT, LARGEST_TEXT) {
        Err(FileError::Missing { .. } | FileError::Empty { .. }) => Ok(String::new()),
        other => other,
    }
}

/// Saves a text over what was there, whole or not at all.
///
/// # Errors
/// [`FileError::Unwritable`].
pub fn save(path: &Path, text: &str) -> Result<(), FileError> {
    save_text(path, WHAT, text)
}
