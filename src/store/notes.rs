//! Words about a ride that come after it: added to `notes.csv`, or kept in a file of their own to be sent.

use std::fs::File;
use std::io::{self, Write};
use std::path::Path;

use super::disk::{Disk, RealDisk};
use super::ride_file::RideFile;
use super::ride_folder::{bytes, header};
use super::text_file::is_file;
use crate::record::{NoteLine, Table, decode};
use crate::text::translated;

/// The most that is read of a file of notes, bytes.
const LARGEST: u64 = 4 << 20;

/// Adds notes to a recording; those that are in it already, to the letter, are not added again. Gives how many were.
///
/// # Errors
/// A sentence where the recording is being written by a program now, or the disk refuses.
pub fn add(folder: &Path, notes: &[NoteLine]) -> Result<usize, String> {
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::WouldBlock => say!(
            "{folder} is being written by a program now. End the ride there first.",
            folder = folder.display()
        ),
        _ => say!(
            "The note cannot be kept in {folder} ({error}). Nothing was changed: make room on the disk, or allow writing there, and try again.",
            folder = folder.display(),
            error = translated(&error.to_string())
        ),
    };
    if is_file(folder) {
        return Err(say!(
            "{file} is a file that a ride was handed over as, and nothing is added to it. Put the note into a file of its own \
             with --to, for whoever has the ride.",
            file = folder.display()
        ));
    }
    let mut disk = RealDisk;
    let _hold = disk.hold(folder).map_err(failed)?;
    let path = folder.join(NoteLine::FILE);
    let there = match File::open(&path) {
        Ok(file) => decode::<NoteLine>(file).map_err(failed)?.records,
        Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
        Err(error) => return Err(failed(error)),
    };
    let mut file = RideFile::new(NoteLine::FILE, usize::MAX, u64::MAX);
    file.open_to_add(&mut disk, folder, &header::<NoteLine>())
        .map_err(failed)?;
    let new: Vec<_> = notes.iter().filter(|note| !there.contains(note)).collect();
    for note in &new {
        file.push(&bytes(*note));
    }
    file.flush(&mut disk, folder).map_err(failed)?;
    Ok(new.len())
}

/// Puts a note into a file of its own, which must not exist.
///
/// # Errors
/// A sentence where it cannot be written.
pub fn write(to: &Path, note: &NoteLine) -> Result<(), String> {
    let written = File::create_new(to).and_then(|mut file| {
        file.write_all(&header::<NoteLine>())?;
        file.write_all(&bytes(note))?;
        file.sync_all()
    });
    written.map_err(|error| {
        say!(
            "{path} cannot be written: {error}. Choose another name or another folder.",
            path = to.display(),
            error
        )
    })
}

/// The notes of a file that somebody sent.
///
/// # Errors
/// A sentence where it cannot be read, or holds none.
pub fn read(path: &Path) -> Result<Vec<NoteLine>, String> {
    let decoded = File::open(path)
        .and_then(|file| decode::<NoteLine>(io::Read::take(file, LARGEST)))
        .map_err(|error| {
            say!(
                "{path} cannot be read ({error}). Check its name, and who may read it.",
                path = path.display(),
                error
            )
        })?;
    if decoded.records.is_empty() {
        return Err(say!(
            "{path} holds no note. Name a file that `stillroad note --to` made.",
            path = path.display()
        ));
    }
    Ok(decoded.records)
}
