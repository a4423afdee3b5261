//! Recordings that were never closed: found, opened to be gone on with, or closed later.

use std::fs::{self, File};
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use super::disk::{Disk, RealDisk, is_held, open_to_add};
use super::reader::{RideRead, read_ride};
use super::ride_file::RideFile;
use super::ride_folder::{bytes, header};
use crate::record::log::{MOST_PARTS, part_file};
use crate::record::{EventLine, NoteLine, Row, Table};
use crate::text::translated;

/// So many of the newest rides are looked at: what was left open long ago is not in the way of anything.
const MOST_LOOKED_AT: usize = 50;

/// So much of the end of `events.csv` is searched for the closing event, which is the last of its lines.
const END: u64 = 64 << 10;

/// The word of the last event of a recording.
const CLOSED: &str = "recording-closed";

/// What the closing event says of a recording that was closed by a later run of the program.
pub const CLOSED_LATER: &str = "closed-later";

/// A recording that was never closed and that nobody writes.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOpen {
    /// The name of its folder.
    pub name: String,
    /// What it holds.
    pub ride: RideRead,
    /// Which part of the ride would come next, from 2.
    pub part: u32,
}

/// The recordings inside `rides` that were never closed and that no program writes now, the newest first. Of the newest
/// fifty folders, told by their names, which begin with the day.
pub fn find(rides: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(rides) else {
        return Vec::new();
    };
    let mut folders: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.join("ride.toml").is_file())
        .collect();
    folders.sort_by(|a, b| b.cmp(a));
    folders.truncate(MOST_LOOKED_AT);
    folders.retain(|folder| !is_closed(folder) && !is_held(folder));
    folders
}

pub(super) fn is_closed(folder: &Path) -> bool {
    let end = File::open(folder.join(EventLine::FILE)).and_then(|mut file| {
        let length = file.seek(SeekFrom::End(0))?;
        file.seek(SeekFrom::Start(length.saturating_sub(END)))?;
        let mut end = Vec::new();
        file.take(END).read_to_end(&mut end)?;
        Ok(end)
    });
    let word = format!(",{CLOSED},");
    end.is_ok_and(|end| end.windows(word.len()).any(|at| at == word.as_bytes()))
}

/// Opens a recording that was left open.
///
/// # Errors
/// A sentence where it cannot be read, is closed, is written by another program now, or has other columns than this
/// program writes.
pub fn open(folder: &Path) -> Result<LeftOpen, String> {
    let ride = read_ride(folder).map_err(|error| translated(&error.to_string()).into_owned())?;
    let name = folder_name(folder);
    if is_closed(folder) {
        return Err(say!(
            "{name} was closed when it ended: there is nothing to go on with. Choose a session anew.",
            name
        ));
    }
    if is_held(folder) {
        return Err(in_use(&name));
    }
    let other = [
        (Row::FILE, header::<Row>()),
        (EventLine::FILE, header::<EventLine>()),
        (NoteLine::FILE, header::<NoteLine>()),
    ]
    .into_iter()
    .find(|(file, ours)| {
        // A file that is not there, or holds no whole line, gets its header line when it is added to.
        let begins = File::open(folder.join(file)).and_then(|file| {
            let mut begins = Vec::new();
            file.take(ours.len() as u64).read_to_end(&mut begins)?;
            Ok(begins)
        });
        begins.is_ok_and(|begins| !ours.starts_with(&begins))
    });
    if let Some((file, _)) = other {
        return Err(say!(
            "{name} cannot be gone on with: {file} has other columns than this program writes. What was ridden stays as it is; close the recording, and choose a session anew.",
            name,
            file
        ));
    }
    for file in [Row::FILE, EventLine::FILE, NoteLine::FILE] {
        // One that is not there is made.
        if let Err(error) = open_to_add(&folder.join(file))
            && error.kind() != std::io::ErrorKind::NotFound
        {
            return Err(say!(
                "{name} cannot be gone on with: {file} cannot be added to ({error}). What was ridden stays as it is; choose a session anew.",
                name,
                file,
                error = translated(&error.to_string())
            ));
        }
    }
    let part = (2..=MOST_PARTS)
        .find(|part| !folder.join(&*part_file(*part)).exists())
        .ok_or_else(|| {
            say!(
                "{name} was gone on with {times} times: close it.",
                name,
                times = MOST_PARTS
            )
        })?;
    Ok(LeftOpen { name, ride, part })
}

/// Closes a recording that was left open: a last event says that this was done later, at `utc_ms`. Nothing else changes.
///
/// # Errors
/// A sentence where it is closed, is written by another program now, or the disk refuses.
pub fn close(folder: &Path, utc_ms: i64) -> Result<(), String> {
    let name = folder_name(folder);
    let ride = read_ride(folder).map_err(|error| translated(&error.to_string()).into_owned())?;
    if is_closed(folder) {
        return Err(say!("{name} is closed already.", name));
    }
    let failed = |error: std::io::Error| match error.kind() {
        std::io::ErrorKind::WouldBlock => in_use(&name),
        _ => say!(
            "{name} cannot be closed ({error}). What was ridden stays as it is: make room on the disk, or allow writing there, and try again.",
            name,
            error = translated(&error.to_string())
        ),
    };
    let mut disk = RealDisk;
    let _hold = disk.hold(folder).map_err(failed)?;
    let mut file = RideFile::new(EventLine::FILE, usize::MAX, u64::MAX);
    let torn = file
        .open_to_add(&mut disk, folder, &header::<EventLine>())
        .map_err(failed)?;
    let last = ride.rows.last();
    let mut event = |what: &str, detail: String| {
        let event = EventLine {
            ridden_s: last.map_or(0.0, |row| row.ridden_s as f64),
            plan_s: last.map_or(0.0, |row| row.plan_s),
            utc_ms,
            what: what.to_owned().into(),
            detail,
        };
        file.push(&bytes(&event));
    };
    if !torn.is_empty() {
        let torn = String::from_utf8_lossy(&torn).into_owned();
        event("recording-torn", torn_says(EventLine::FILE, &torn));
    }
    event(CLOSED, CLOSED_LATER.to_owned());
    file.flush(&mut disk, folder).map_err(failed)
}

/// What is said of a line that was taken out of a file.
pub(super) fn torn_says(file: &str, torn: &str) -> String {
    kept!("{file} was cut off inside its last line, which was taken out of it: {torn}")
}

fn in_use(name: &str) -> String {
    say!(
        "{name} is being written by another program now. End the ride there first.",
        name
    )
}

fn folder_name(folder: &Path) -> String {
    let whole = folder.canonicalize();
    let name = whole.as_deref().unwrap_or(folder).file_name();
    name.map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}
