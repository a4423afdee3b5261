//! `stillroad note`: words about a recording, added to its notes, or to a file that is sent and taken in elsewhere.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::engine::drive::wall_ms;
use crate::record::NoteLine;
use crate::store::{notes, read_ride};

/// Words of a note are no more than this, bytes: some pages.
const LONGEST: usize = 16 << 10;

/// The options of a note.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The ride's folder; or, with --to, any recording that the note is about
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// What is to be said
    #[arg(
        value_name = "WORDS",
        required_unless_present = "take",
        conflicts_with = "take"
    )]
    words: Option<String>,
    /// Who says it
    #[arg(long, default_value = "rider", value_name = "WHO")]
    from: Who,
    /// The number of the block it is about, from 1; if left out it is about the whole session
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    block: Option<u32>,
    /// Put it into a file of its own instead, to be sent; one that exists is not overwritten
    #[arg(long, value_name = "FILE")]
    to: Option<PathBuf>,
    /// Take in the notes of a file that somebody sent
    #[arg(long, value_name = "FILE", conflicts_with = "to")]
    take: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Who {
    /// Who rode it
    Rider,
    /// Who wrote the session, or reads the recording
    Coach,
}

/// Adds the note, and says so.
///
/// # Errors
/// A sentence where there is no such recording, or it cannot be added to.
pub fn run(options: &Options) -> Result<String, String> {
    if let Some(file) = &options.take {
        let sent = notes::read(file)?;
        read_ride(&options.recording).map_err(|error| error.to_string())?;
        if sent.iter().any(|note| note.rating.is_some()) {
            return Err(format!(
                "{} holds ratings, which are the rider's own: nothing was added. Take them out of it first.",
                file.display()
            ));
        }
        let added = notes::add(&options.recording, &sent)?;
        let known = sent.len() - added;
        return Ok(match known {
            0 => format!(
                "{added} notes are added to {}.",
                options.recording.display()
            ),
            _ => format!(
                "{added} notes are added to {}; {known} were in it already.",
                options.recording.display()
            ),
        });
    }
    let words = options.words.as_deref().unwrap_or_default().trim();
    if words.is_empty() || words.len() > LONGEST {
        return Err(format!(
            "A note is some words, {LONGEST} bytes of them at most. Nothing was kept."
        ));
    }
    let note = NoteLine {
        utc_ms: wall_ms(),
        block: options.block,
        what: match options.from {
            Who::Rider => "remark",
            Who::Coach => "coach",
        }
        .into(),
        rating: None,
        text: words.to_owned(),
    };
    if let Some(to) = &options.to {
        notes::write(to, &note)?;
        return Ok(format!(
            "{} holds the note. Whoever has the ride takes it in with `stillroad note RECORDING --take FILE`.",
            to.display()
        ));
    }
    let ride = read_ride(&options.recording).map_err(|error| error.to_string())?;
    notes::add(&options.recording, &[note])?;
    Ok(format!("The note is added to {}.", ride.folder.display()))
}
