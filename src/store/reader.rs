//! Opens a ride's folder back.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::text_file::{FileError, LARGEST_TEXT, read_text};
use crate::record::ride_toml::{self, RideTomlError};
use crate::record::{Decoded, EventLine, InputLine, NoteLine, RideStart, Row, Table, decode};

/// The most that is read of one file: the bound of `raw.csv` with some room.
const LARGEST_FILE: u64 = 300 << 20;

/// A ride as its folder holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct RideRead {
    /// The folder.
    pub folder: PathBuf,
    /// What was known at the start.
    pub start: RideStart,
    /// How it ended, in the word of the event `recording-closed`; or else of `end`; none where the program
    /// was killed before.
    pub finish: Option<String>,
    /// The ridden seconds.
    pub rows: Vec<Row>,
    /// What happened.
    pub events: Vec<EventLine>,
    /// Ratings and remarks.
    pub notes: Vec<NoteLine>,
    /// What was wrong with the files, each in a sentence; the ride holds what could be read all the same.
    pub problems: Vec<String>,
}

/// Why a folder cannot be opened as a ride.
#[derive(Debug, thiserror::Error)]
pub enum RideError {
    /// Its `ride.toml` cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// Its `ride.toml` is broken or of a newer program.
    #[error("{}: {problem}.", folder.display())]
    About {
        /// The ride's folder.
        folder: PathBuf,
        /// What is wrong.
        problem: RideTomlError,
    },
}

/// Opens a ride's folder. Missing and damaged files other than `ride.toml` are problems, not errors.
///
/// # Errors
/// Where `ride.toml` is missing, broken or of a newer program.
pub fn read_ride(folder: &Path) -> Result<RideRead, RideError> {
    let mut problems = Vec::new();
    let about = read_text(&folder.join("ride.toml"), "ride.toml", LARGEST_TEXT)?;
    let mut text = |name, what| match read_text(&folder.join(name), what, LARGEST_TEXT) {
        Ok(text) => Arc::from(text),
        // A session or rider can have no text: a default rider was read from nowhere.
        Err(FileError::Empty { .. }) => Arc::from(""),
        Err(error) => {
            problems.push(error.to_string());
            Arc::from("")
        }
    };
    let session_text = text("session.toml", "session file");
    let rider_text = text("rider.toml", "rider file");
    let mut start =
        ride_toml::read(&about, session_text, rider_text).map_err(|problem| RideError::About {
            folder: folder.to_owned(),
            problem,
        })?;
    if let Some(fitted) = &mut start.fitted {
        let written = text("written.toml", "session as it was written");
        Arc::make_mut(&mut fitted.fitting).written = written;
    }
    let rows: Vec<Row> = read_table(folder, &mut problems);
    let events: Vec<EventLine> = read_table(folder, &mut problems);
    let notes = read_table(folder, &mut problems);
    for pair in rows.windows(2) {
        if pair[1].ridden_s != pair[0].ridden_s + 1 {
            problems.push(format!(
                "samples.csv: second {} is followed by second {}.",
                pair[0].ridden_s, pair[1].ridden_s
            ));
        }
    }
    let finish = events
        .iter()
        .rev()
        .find(|event| event.what == "recording-closed")
        // Killed in the seconds after its end, a ride was ridden to it all the same.
        .or_else(|| events.iter().rev().find(|event| event.what == "end"))
        .map(|event| event.detail.clone());
    Ok(RideRead {
        folder: folder.to_owned(),
        start,
        finish,
        rows,
        events,
        notes,
        problems,
    })
}

/// The raw inputs of a ride, with what was wrong in sentences.
pub fn read_raw(folder: &Path) -> (Vec<InputLine>, Vec<String>) {
    let mut problems = Vec::new();
    let lines = read_table(folder, &mut problems);
    (lines, problems)
}

fn read_table<T: Table>(folder: &Path, problems: &mut Vec<String>) -> Vec<T> {
    match open_table::<T>(folder) {
        Ok(decoded) => {
            say_problems(&decoded, problems);
            decoded.records
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            problems.push(format!("There is no {} in {}.", T::FILE, folder.display()));
            Vec::new()
        }
        Err(error) => {
            problems.push(format!("{} cannot be read ({error}).", T::FILE));
            Vec::new()
        }
    }
}

fn open_table<T: Table>(folder: &Path) -> io::Result<Decoded<T>> {
    let path = folder.join(T::FILE);
    // A pipe of that name would be waited for without end.
    if !fs::metadata(&path)?.is_file() {
        return Err(io::Error::other("it is no file"));
    }
    decode(File::open(path)?.take(LARGEST_FILE))
}

fn say_problems<T: Table>(decoded: &Decoded<T>, problems: &mut Vec<String>) {
    for problem in &decoded.problems {
        problems.push(format!("{}, {problem}; the line was skipped.", T::FILE));
    }
    let untold = decoded.bad_lines - decoded.problems.len() as u64;
    if untold > 0 {
        problems.push(format!("{}: {untold} more lines were skipped.", T::FILE));
    }
    if let Some(line) = decoded.torn_line {
        problems.push(format!(
            "{}, line {line}: the file was cut off inside its last line, which was dropped.",
            T::FILE
        ));
    }
}
