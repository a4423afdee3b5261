//! The rides that there are: a list in short, with an index kept beside them, and one of them opened.
//!
//! A ride is read again where any file from which its line in the list is made is not as long or as old as the index says.
//! What goes unnoticed is a file that was written over by another of the same length and given the old one's time back, as
//! some copying programs do when they are asked to. The time of the folder alone would not do: it stays as it was where a
//! file in it grows. The index is nothing but what can be found again: one that is damaged or of another version is made
//! anew, and deleting it is always right.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::reader::{RideRead, read_raw, read_ride};
use super::text_file::{is_taken, read_text, save_text};
use crate::record::InputLine;
use crate::review::over::compare::{Comparison, compare};
use crate::review::over::{Brief, Listing, Opened};
use crate::review::{self, Asked, Recording, chart, page, picture};
use crate::text::translated;

/// The file beside the rides.
const INDEX: &str = ".stillroad-index";
/// The first line of the index: its version.
const VERSION: &str = "stillroad rides 2";
/// The index of as many rides as are listed is no larger; a larger file is not ours.
const LARGEST_INDEX: u64 = 64 << 20;
/// So many rides are listed at most, the newest by the names of their folders: fifty years of one ride a day. Older ones
/// are opened by the command line.
const MOST_RIDES: usize = 20_000;
/// So many troubles are told in full.
const TOLD: usize = 3;
/// The files that decide whether a ride is as the index knows it, the ride's own first: all that [`Brief::of`] is made from.
const WATCHED: [&str; 7] = [
    "ride.toml",
    "samples.csv",
    "notes.csv",
    "events.csv",
    "session.toml",
    "written.toml",
    "rider.toml",
];

/// How long and how old the watched files are: bytes, and nanoseconds since 1970; −1 where there is none.
type Stamp = [(i64, i64); WATCHED.len()];

/// A line of the index.
#[derive(Serialize, Deserialize)]
struct Known {
    stamp: Stamp,
    brief: Brief,
}

/// The rides of a folder, the newest first. What cannot be read is told, the others are listed all the same. A folder
/// that is not there has no rides yet.
pub fn list(rides: &Path) -> Listing {
    let (mut names, mut listing) = match names(rides) {
        Ok(names) => (names, Listing::default()),
        Err(sentence) => {
            return Listing {
                rides: Vec::new(),
                troubles: vec![sentence],
            };
        }
    };
    // Names begin with the day.
    names.sort_unstable_by(|one, other| other.cmp(one));
    if names.len() > MOST_RIDES {
        listing.troubles.push(say!(
            "There are {number} rides; the newest {most} are listed. Use stillroad review for older ones.",
            number = names.len(),
            most = MOST_RIDES
        ));
        names.truncate(MOST_RIDES);
    }
    let mut index = index(&rides.join(INDEX));
    let before = index.len();
    let (mut kept, mut read, mut failed) = (Vec::with_capacity(names.len()), 0_usize, 0_usize);
    for name in names {
        let folder = rides.join(&name);
        let stamp = stamp(&folder);
        if stamp[0].0 < 0 {
            // A folder without the ride's own file is no ride.
            continue;
        }
        if let Some(known) = index.remove(&name).filter(|known| known.stamp == stamp) {
            kept.push(known);
            continue;
        }
        match read_ride(&folder) {
            Ok(ride) => {
                read += 1;
                let brief = Brief::of(&name, &recording(&ride, &[]));
                kept.push(Known { stamp, brief });
            }
            Err(error) => {
                failed += 1;
                if failed <= TOLD {
                    let sentence = error.to_string();
                    listing.troubles.push(translated(&sentence).into_owned());
                }
            }
        }
    }
    if failed > TOLD {
        let more = failed - TOLD;
        listing
            .troubles
            .push(say!("{more} more rides could not be read.", more));
    }
    if read > 0 || before != kept.len() {
        // An index that cannot be kept costs time at the next start, and nothing else.
        let _ = save_index(&rides.join(INDEX), &kept);
    }
    listing.rides = kept.into_iter().map(|known| known.brief).collect();
    listing
        .rides
        .sort_by_key(|ride| std::cmp::Reverse(ride.started_ms));
    listing
}

/// The names of the folders in it.
fn names(rides: &Path) -> Result<Vec<String>, String> {
    let inside = match fs::read_dir(rides) {
        Ok(inside) => inside,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => {
            return Err(say!(
                "The folder of rides {folder} cannot be read ({error}), so none is listed. Look at its permissions.",
                folder = rides.display(),
                error
            ));
        }
    };
    let names = inside.filter_map(Result::ok).filter_map(|entry| {
        let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        // A name that is no text cannot be one that this program gave.
        is_folder
            .then(|| entry.file_name().into_string().ok())
            .flatten()
    });
    Ok(names.collect())
}

fn stamp(folder: &Path) -> Stamp {
    WATCHED.map(|file| {
        let Ok(about) = fs::metadata(folder.join(file)) else {
            return (-1, -1);
        };
        // A moment that no calendar has is as good as any other: it stays the same while the file does.
        let changed = about.modified().ok();
        let changed = changed.and_then(|at| jiff::Timestamp::try_from(at).ok());
        let nanos = changed.map_or(0, |at| at.as_nanosecond());
        let age = i64::try_from(nanos).unwrap_or(i64::MAX);
        (i64::try_from(about.len()).unwrap_or(i64::MAX), age)
    })
}

fn index(path: &Path) -> HashMap<String, Known> {
    let Ok(text) = read_text(path, entry!("index of rides"), LARGEST_INDEX) else {
        return HashMap::new();
    };
    let mut lines = text.lines();
    if lines.next() != Some(VERSION) {
        return HashMap::new();
    }
    lines
        .filter_map(|line| serde_json::from_str::<Known>(line).ok())
        .map(|known| (known.brief.key.clone(), known))
        .collect()
}

fn save_index(path: &Path, kept: &[Known]) -> Result<(), String> {
    let mut text = String::with_capacity(kept.len() * 512);
    // Writing to a String cannot fail.
    let _ = writeln!(text, "{VERSION}");
    for known in kept {
        if let Ok(line) = serde_json::to_string(known) {
            text += &line;
            text.push('\n');
        }
    }
    save_text(path, entry!("index of rides"), &text)
        .map_err(|error| translated(&error.to_string()).into_owned())
}

/// What was read of a ride's folder, as the review takes it.
pub fn recording<'r>(ride: &'r RideRead, raw: &'r [InputLine]) -> Recording<'r> {
    Recording {
        start: &ride.start,
        finish: ride.finish.as_deref(),
        rows: &ride.rows,
        events: &ride.events,
        notes: &ride.notes,
        raw,
        problems: &ride.problems,
    }
}

/// A ride with its raw inputs; what is wrong with these is among the ride's problems.
fn whole(folder: &Path) -> Result<(RideRead, Vec<InputLine>), String> {
    let mut ride = read_ride(folder).map_err(|error| {
        say!(
            "{error} The ride cannot be shown; the other rides are as they were.",
            error = translated(&error.to_string())
        )
    })?;
    let (raw, mut problems) = read_raw(folder);
    ride.problems.append(&mut problems);
    Ok((ride, raw))
}

/// A ride opened: its review and its strip.
///
/// # Errors
/// A sentence where it cannot be read.
pub fn open(rides: &Path, key: &str) -> Result<Opened, String> {
    let (ride, raw) = whole(&rides.join(key))?;
    let recording = recording(&ride, &raw);
    let review = review::review(&recording);
    Ok(Opened {
        key: key.to_owned(),
        next: review::next::propose(&ride.start, &review),
        review,
        chart: chart::chart(&recording, &Asked::of(&ride.start)),
    })
}

/// Some rides side by side.
///
/// # Errors
/// A sentence where one of them cannot be read.
pub fn compared(rides: &Path, keys: &[String]) -> Result<Comparison, String> {
    let mut read = Vec::with_capacity(keys.len());
    for key in keys {
        let (ride, raw) = whole(&rides.join(key))?;
        read.push((key.clone(), ride, raw));
    }
    Ok(compared_all(&read))
}

/// Rides that were read, each with its name, set side by side.
pub fn compared_all(rides: &[(String, RideRead, Vec<InputLine>)]) -> Comparison {
    let recordings: Vec<_> = rides
        .iter()
        .map(|(name, ride, raw)| (name.clone(), recording(ride, raw)))
        .collect();
    let reviews: Vec<_> = recordings
        .iter()
        .map(|(_, recording)| review::review(recording))
        .collect();
    let all: Vec<_> = recordings
        .into_iter()
        .zip(&reviews)
        .map(|((name, recording), review)| (name, recording, review))
        .collect();
    compare(&all)
}

/// What of a ride can be kept as a file of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// One page to read and to print, HTML.
    Page,
    /// The strip as a drawing, SVG.
    Picture,
    /// The block table for a spreadsheet, CSV.
    Table,
}

/// Keeps it in the ride's own folder, under a name that no file has yet, and gives the path.
///
/// # Errors
/// A sentence where the ride cannot be read, or nothing be written beside it.
pub fn keep(rides: &Path, key: &str, what: Kept) -> Result<PathBuf, String> {
    let folder = rides.join(key);
    let (ride, raw) = whole(&folder)?;
    let recording = recording(&ride, &raw);
    let review = review::review(&recording);
    let (stem, end, name, text) = match what {
        Kept::Page => (
            "review",
            "html",
            entry!("page"),
            page::page(&[(recording, review)]),
        ),
        Kept::Picture => (
            "strip",
            "svg",
            entry!("drawing"),
            picture::svg(&recording, &review),
        ),
        Kept::Table => {
            let table = review::csv_table::csv_table(&[review]);
            ("blocks", "csv", entry!("table"), table)
        }
    };
    let plain = folder.join(format!("{stem}.{end}"));
    let numbered = (2..1000).map(|number| folder.join(format!("{stem}-{number}.{end}")));
    let free = std::iter::once(plain)
        .chain(numbered)
        .find(|path| !is_taken(path));
    let path = free.ok_or_else(|| {
        say!(
            "There are a thousand of these in {folder} already, so none was added. Take some away.",
            folder = folder.display()
        )
    })?;
    save_text(&path, name, &text).map_err(|error| translated(&error.to_string()).into_owned())?;
    Ok(path)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::fs::{File, OpenOptions};
    use std::io::Write as _;
    use std::time::Duration;

    use super::*;

    /// A folder of rides with one in it, and that one's folder.
    fn one_ride(room: &Path) -> (PathBuf, PathBuf) {
        let rides = room.join("rides");
        let folder = rides.join("2026-11-01 0600 Pier");
        fs::create_dir_all(&folder).unwrap();
        let about = "format = 1\nprogram = \"a test\"\nstarted = 2026-11-01T06:00:00Z\n[session]\nname = \"Pier\"\n\
                     mode = \"target-power\"\n[rider]\nname = \"Trial\"\nthreshold_w = 200.0\npower_cap_w = 250.0\n\
                     sprint_cap_w = 400.0\n";
        for (file, text) in [
            ("ride.toml", about),
            ("samples.csv", "ridden_s,plan_s,utc,block,kind,mode\n"),
            ("events.csv", "ridden_s,plan_s,utc,what,detail\n"),
            ("notes.csv", "utc,block,what,rating,text\n"),
            ("session.toml", "# none\n"),
            ("rider.toml", "# none\n"),
        ] {
            fs::write(folder.join(file), text).unwrap();
        }
        (rides, folder)
    }

    /// Writes another name into the index, and says what the list then shows: that name where the index is believed.
    fn listed_behind_a_wrong_index(rides: &Path, change: impl FnOnce()) -> String {
        list(rides);
        let index = rides.join(INDEX);
        let text = fs::read_to_string(&index).unwrap();
        let wrong = text.replace("\"session\":\"Pier\"", "\"session\":\"Wrong\"");
        assert_ne!(wrong, text);
        fs::write(&index, wrong).unwrap();
        change();
        list(rides).rides[0].session.clone()
    }

    #[test]
    fn a_change_of_any_file_that_tells_of_the_ride_is_noticed() {
        let room = tempfile::tempdir().unwrap();
        let (rides, folder) = one_ride(room.path());
        assert_eq!(listed_behind_a_wrong_index(&rides, || {}), "Wrong");
        let _ = fs::remove_file(rides.join(INDEX));
        for file in WATCHED {
            let path = folder.join(file);
            let grow = || {
                let mut options = OpenOptions::new();
                let mut file = options.append(true).create(true).open(&path).unwrap();
                file.write_all(b"# more\n").unwrap();
            };
            assert_eq!(listed_behind_a_wrong_index(&rides, grow), "Pier", "{file}");
            // As long as before, and a little younger.
            let touch = || {
                let file = File::options().write(true).open(&path).unwrap();
                let at = file.metadata().unwrap().modified().unwrap();
                file.set_modified(at + Duration::from_micros(1)).unwrap();
            };
            assert_eq!(listed_behind_a_wrong_index(&rides, touch), "Pier", "{file}");
        }
        // Nothing of a list is made from these.
        let strange = || fs::write(folder.join("review.html"), "<p>").unwrap();
        assert_eq!(listed_behind_a_wrong_index(&rides, strange), "Wrong");
    }
}
