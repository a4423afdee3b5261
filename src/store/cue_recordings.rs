//! The leader's recordings of cues on the disk: a folder for each session, beside the sessions, of WAV files.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::text_file::{FileError, entries, save_bytes};
use crate::cue::recorded::{self, LARGEST_FILE};
use crate::record::slug::slug;
use crate::text::translated;

/// More recordings than this in one folder are not looked at: a session has some dozens of cues.
const MOST: usize = 1_024;

/// What they are called in sentences.
const WHAT: &str = entry!("recording of a cue");

/// One recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CueRecording {
    /// What it is bound to, by [`recorded::bound`].
    pub bound: u64,
    /// Where it is.
    pub path: PathBuf,
}

/// The folder of a session's recordings, beside sessions that lie in `sessions`.
pub fn folder(sessions: &Path, name: &str) -> PathBuf {
    sessions.join("cues").join(slug(name))
}

/// The recordings in a folder, in the order of their names; none where there is no such folder.
///
/// # Errors
/// [`FileError::Unreadable`] where it is there and cannot be listed.
pub fn list(folder: &Path) -> Result<Vec<CueRecording>, FileError> {
    let mut all = Vec::new();
    for path in entries(folder, WHAT, MOST)? {
        let name = path.file_name().map(|name| name.to_string_lossy());
        if let Some(bound) = name.and_then(|name| recorded::bound_of(&name)) {
            all.push(CueRecording { bound, path });
        }
    }
    all.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(all)
}

/// The samples of a recording.
///
/// # Errors
/// A sentence: why it cannot be played, and what to do.
pub fn load(path: &Path) -> Result<Vec<i16>, String> {
    let read = || -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        if !fs::metadata(path)?.is_file() {
            return Err(io::Error::other(entry!("it is not a plain file")));
        }
        File::open(path)?
            .take(LARGEST_FILE)
            .read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    let bytes = read().map_err(|error| error.to_string());
    let samples = bytes.and_then(|bytes| recorded::decode(&bytes).map_err(str::to_owned));
    samples.map_err(|why| {
        say!(
            "The recording of a cue {path} cannot be played ({why}), so the cue is spoken. Record it again.",
            path = path.display(),
            why = translated(&why)
        )
    })
}

/// Keeps a recording, whole or not at all.
///
/// # Errors
/// [`FileError::Unwritable`].
pub fn save(path: &Path, samples: &[i16]) -> Result<(), FileError> {
    save_bytes(path, WHAT, &recorded::encode(samples))
}

/// A folder that goes when it is dropped, for tests of who plays recordings.
#[cfg(test)]
pub mod testing {
    #![allow(clippy::unwrap_used)]

    /// Makes one.
    pub fn room() -> tempfile::TempDir {
        tempfile::tempdir().unwrap()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn what_is_kept_is_found_again_and_what_is_strange_is_passed_over() {
        let home = tempfile::tempdir().unwrap();
        let folder = folder(home.path(), "Four by seven / hard");
        assert!(folder.ends_with("cues/Four-by-seven-hard"), "{folder:?}");
        assert_eq!(list(&folder).unwrap(), []);
        let path = folder.join(recorded::file_name(3, "Up to six."));
        save(&path, &[1, 2, 3]).unwrap();
        fs::write(folder.join("notes.txt"), "x").unwrap();
        let found = list(&folder).unwrap();
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].bound, recorded::bound("Up to six."));
        assert_eq!(load(&found[0].path).unwrap(), [1, 2, 3]);
        fs::write(&path, "no sound").unwrap();
        assert!(load(&path).unwrap_err().contains("Record it again"));
        assert!(load(&folder).unwrap_err().contains("not a plain file"));
        assert!(load(&folder.join("none.wav")).is_err());
    }
}
