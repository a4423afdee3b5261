//! Opens a ride back: its folder, or the one file that it was handed over as.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::recording::Recording;
use super::text_file::{FileError, LARGEST_TEXT, is_file};
use crate::record::log::{MOST_PARTS, part_file};
use crate::record::ride_toml::{self, RideTomlError};
use crate::record::{Decoded, EventLine, InputLine, NoteLine, RideStart, Row, Table, decode};

/// A ride as its folder holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct RideRead {
    /// The folder; or the file that holds it.
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
    /// What was wrong with the files, each in an English sentence, since programs read it too; the ride holds what could
    /// be read all the same.
    pub problems: Vec<String>,
}

/// Why a folder or file cannot be opened as a ride.
#[derive(Debug, thiserror::Error)]
pub enum RideError {
    /// It is a file, and not one that holds a ride.
    #[error("{0}")]
    NotPacked(String),
    /// Its `ride.toml` cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// Its `ride.toml` is broken or of a newer program.
    #[error("{}: {}.", folder.display(), crate::text::translated(&problem.to_string()))]
    About {
        /// The ride's folder, or the file that holds it.
        folder: PathBuf,
        /// What is wrong.
        problem: RideTomlError,
    },
}

/// The files of a ride. A place where nothing is counts as a folder, so that the sentence names the file that is missing.
fn files(path: &Path) -> Result<Recording, RideError> {
    if is_file(path) {
        Recording::open(path).map_err(RideError::NotPacked)
    } else {
        Ok(Recording::folder(path))
    }
}

/// Opens a ride: its folder, or a file that `stillroad hand-over` or `stillroad export` made. Missing and damaged files
/// other than `ride.toml` are problems, not errors.
///
/// # Errors
/// Where `ride.toml` is missing, broken or of a newer program, and where a file holds no ride.
pub fn read_ride(folder: &Path) -> Result<RideRead, RideError> {
    let files = files(folder)?;
    let mut problems = Vec::new();
    let about = files.text("ride.toml", "ride.toml", LARGEST_TEXT)?;
    let mut text = |name, what| match files.text(name, what, LARGEST_TEXT) {
        Ok(text) => Arc::from(text),
        // A session or rider can have no text: a default rider was read from nowhere.
        Err(FileError::Empty { .. }) => Arc::from(""),
        Err(error) => {
            problems.push(error.to_string());
            Arc::from("")
        }
    };
    let session_text = text("session.toml", entry!("session file"));
    let rider_text = text("rider.toml", entry!("rider file"));
    let mut start =
        ride_toml::read(&about, session_text, rider_text).map_err(|problem| RideError::About {
            folder: folder.to_owned(),
            problem,
        })?;
    if let Some(fitted) = &mut start.fitted {
        let written = text("written.toml", entry!("session as it was written"));
        Arc::make_mut(&mut fitted.fitting).written = written;
    }
    let rows: Vec<Row> = read_table(&files, &mut problems);
    let events: Vec<EventLine> = read_table(&files, &mut problems);
    let notes = read_table(&files, &mut problems);
    for pair in rows.windows(2) {
        if pair[1].ridden_s != pair[0].ridden_s + 1 {
            problems.push(kept!(
                "samples.csv: second {before} is followed by second {after}.",
                before = pair[0].ridden_s,
                after = pair[1].ridden_s
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

/// The raw inputs of a ride, of all its parts one after the other, with what was wrong in sentences.
pub fn read_raw(folder: &Path) -> (Vec<InputLine>, Vec<String>) {
    let files = match files(folder) {
        Ok(files) => files,
        Err(error) => return (Vec::new(), vec![error.to_string()]),
    };
    let mut problems = Vec::new();
    let mut lines: Vec<InputLine> = read_table(&files, &mut problems);
    for part in 2..=MOST_PARTS {
        let file = part_file(part);
        match open_table(&files, &file) {
            Ok(Some(decoded)) => {
                say_problems(&file, &decoded, &mut problems);
                lines.extend(decoded.records);
            }
            Ok(None) => break,
            Err(error) => problems.push(kept!("{file} cannot be read ({error}).")),
        }
    }
    (lines, problems)
}

fn read_table<T: Table>(files: &Recording, problems: &mut Vec<String>) -> Vec<T> {
    match open_table::<T>(files, T::FILE) {
        Ok(Some(decoded)) => {
            say_problems(T::FILE, &decoded, problems);
            decoded.records
        }
        Ok(None) => {
            problems.push(kept!(
                "There is no {file} in {place}.",
                file = T::FILE,
                place = files.place()
            ));
            Vec::new()
        }
        Err(error) => {
            problems.push(kept!("{file} cannot be read ({error}).", file = T::FILE));
            Vec::new()
        }
    }
}

fn open_table<T: Table>(files: &Recording, file: &str) -> io::Result<Option<Decoded<T>>> {
    files.lines(file)?.map(decode).transpose()
}

fn say_problems<T: Table>(file: &str, decoded: &Decoded<T>, problems: &mut Vec<String>) {
    for problem in &decoded.problems {
        problems.push(kept!("{file}, {problem}; the line was skipped."));
    }
    let untold = decoded.bad_lines - decoded.problems.len() as u64;
    if untold > 0 {
        problems.push(kept!("{file}: {untold} more lines were skipped."));
    }
    if let Some(line) = decoded.torn_line {
        problems.push(kept!(
            "{file}, line {line}: the file was cut off inside its last line, which was dropped."
        ));
    }
}
