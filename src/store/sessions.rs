//! The sessions that can be ridden: those built in, then those of the user's folder.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::text_file::{FileError, LARGEST_TEXT, read_text, save_text, toml_files};
use crate::record::slug::slug;

const WHAT: &str = entry!("session file");

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
    for path in toml_files(folder, entry!("folder of sessions"), MOST_FILES)? {
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

/// The names of the user's own sessions, without their ending; none where the folder does not exist.
///
/// # Errors
/// Where the folder exists and cannot be listed.
pub fn keys(folder: &Path) -> Result<Vec<String>, FileError> {
    let files = toml_files(folder, entry!("folder of sessions"), MOST_FILES)?;
    Ok(files.iter().map(|path| key_of(path)).collect())
}

/// One of the user's own sessions as its file says now, by its name; an empty file is an empty text.
///
/// # Errors
/// A sentence for a file that is missing, a folder, over 256 KiB, no text or unreadable.
pub fn load_own(folder: &Path, key: &str) -> Result<Arc<str>, FileError> {
    match load(&folder.join(format!("{key}.toml"))) {
        Err(FileError::Empty { .. }) => Ok(Arc::from("")),
        other => other,
    }
}

/// So many sessions of one name get files of their own.
const MOST_OF_ONE_NAME: u32 = 1000;

/// Saves a session of this name in a file that was not there, and gives the file's name without its ending. It is never
/// one of `taken`.
///
/// # Errors
/// [`FileError::Unwritable`].
pub fn save_new(
    folder: &Path,
    name: &str,
    taken: &[&str],
    text: &str,
) -> Result<String, FileError> {
    let stem = slug(name);
    let path = |key: &str| folder.join(format!("{key}.toml"));
    let free = std::iter::once(stem.clone())
        .chain((2..MOST_OF_ONE_NAME).map(|number| format!("{stem}-{number}")))
        .find(|key| !taken.contains(&key.as_str()) && !path(key).exists());
    let Some(key) = free else {
        return Err(FileError::Unwritable {
            what: WHAT,
            path: path(&stem),
            error: std::io::Error::other(entry!("there are too many sessions of this name")),
        });
    };
    save_text(&path(&key), WHAT, text)?;
    Ok(key)
}

/// Saves a session's text over the file that was read as `known`, whole or not at all. What the file said before stays
/// beside it, with `.previous` behind its name.
///
/// # Errors
/// [`FileError::Changed`] where the file says something else by now or is gone, and those of reading and writing.
pub fn save_over(folder: &Path, key: &str, known: &str, text: &str) -> Result<(), FileError> {
    let path = folder.join(format!("{key}.toml"));
    match load_own(folder, key) {
        Ok(now) if *now == *known => {}
        Ok(_) | Err(FileError::Missing { .. }) => {
            return Err(FileError::Changed { what: WHAT, path });
        }
        Err(error) => return Err(error),
    }
    if known != text {
        save_text(
            &folder.join(format!("{key}.toml.previous")),
            entry!("previous version"),
            known,
        )?;
    }
    save_text(&path, WHAT, text)
}

/// The file of what was written and not saved. Hidden, so that it is no session.
fn draft(folder: &Path) -> PathBuf {
    folder.join(".draft")
}

/// A draft has a line of its own before its text.
const LARGEST_DRAFT: u64 = LARGEST_TEXT + 4096;

/// What was written and not saved; none where there is nothing of that sort.
///
/// # Errors
/// Those of reading.
pub fn load_draft(folder: &Path) -> Result<Option<String>, FileError> {
    match read_text(&draft(folder), entry!("draft of a session"), LARGEST_DRAFT) {
        Err(FileError::Missing { .. } | FileError::Empty { .. }) => Ok(None),
        other => other.map(Some),
    }
}

/// Keeps what is written and not saved, whole or not at all; none takes the draft away.
///
/// # Errors
/// [`FileError::Unwritable`].
pub fn save_draft(folder: &Path, text: Option<&str>) -> Result<(), FileError> {
    let path = draft(folder);
    let Some(text) = text else {
        return match std::fs::remove_file(&path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                Err(FileError::Unwritable {
                    what: entry!("draft of a session"),
                    path,
                    error,
                })
            }
            _ => Ok(()),
        };
    };
    save_text(&path, entry!("draft of a session"), text)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;

    #[test]
    fn a_session_is_saved_over_only_what_was_known_and_the_previous_one_stays() {
        let room = tempfile::tempdir().unwrap();
        let folder = room.path().join("sessions");
        let key = save_new(&folder, "Harbour road", &["Harbour-road"], "one").unwrap();
        assert_eq!(key, "Harbour-road-2", "a built-in session keeps its name");
        assert_eq!(
            save_new(&folder, "Harbour road 2", &[], "x").unwrap(),
            "Harbour-road-2-2",
            "no file is written over"
        );
        save_over(&folder, &key, "one", "two").unwrap();
        assert_eq!(*load_own(&folder, &key).unwrap(), *"two");
        let previous = folder.join("Harbour-road-2.toml.previous");
        assert_eq!(std::fs::read_to_string(&previous).unwrap(), "one");
        for known in ["one", "two\n", ""] {
            let refused = save_over(&folder, &key, known, "three");
            assert!(matches!(refused, Err(FileError::Changed { .. })));
            assert_eq!(*load_own(&folder, &key).unwrap(), *"two");
        }
        std::fs::remove_file(folder.join("Harbour-road-2.toml")).unwrap();
        let gone = save_over(&folder, &key, "two", "three");
        assert!(matches!(gone, Err(FileError::Changed { .. })));
        assert_eq!(keys(&folder).unwrap(), ["Harbour-road-2-2"]);
    }

    #[test]
    fn a_draft_is_no_session_and_goes_away() {
        let room = tempfile::tempdir().unwrap();
        assert_eq!(load_draft(room.path()).unwrap(), None);
        save_draft(room.path(), Some("half a line")).unwrap();
        assert_eq!(
            load_draft(room.path()).unwrap().as_deref(),
            Some("half a line")
        );
        assert_eq!(keys(room.path()).unwrap(), Vec::<String>::new());
        save_draft(room.path(), None).unwrap();
        save_draft(room.path(), None).unwrap();
        assert_eq!(load_draft(room.path()).unwrap(), None);
    }
}
