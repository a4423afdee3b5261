//! `stillroad compare`: rides side by side, block by block, with a flag where something changed that the figures hang on.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::review::{folder, wrapped};
use crate::record::InputLine;
use crate::review::VERSION;
use crate::review::over::compare::Comparison;
use crate::review::over::compare_tables;
use crate::review::tables::as_text;
use crate::store::{RideRead, read_raw, read_ride, ride_list};
use crate::text::{self, Language};

/// The width that the report keeps to, characters.
const WIDTH: usize = 100;

/// The options of a comparison.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// Rides: their folders, their names among the rides (see `stillroad where`), or files that were handed over
    #[arg(required = true, num_args = 2.., value_name = "RECORDING")]
    recordings: Vec<PathBuf>,
    /// As JSON
    #[arg(long, conflicts_with = "csv")]
    pub(super) json: bool,
    /// As a table for a spreadsheet, a line each block and ride
    #[arg(long)]
    csv: bool,
}

/// Compares, and gives what to print and whether every recording could be opened.
///
/// # Errors
/// A sentence where fewer than two recordings can be opened.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    // A table for a spreadsheet is read by a program.
    let language = if options.csv {
        Language::English
    } else {
        text::language()
    };
    let (comparison, troubles) = text::within(language, || compared(&options.recordings))?;
    if comparison.rides.len() < 2 {
        let one = word!("There is one ride, and nothing to compare it with. Name another.");
        let all = troubles.iter().map(String::as_str).chain([one]);
        return Err(all.collect::<Vec<_>>().join("\n"));
    }
    let mut printed = if options.json {
        let whole = json!({ "version": VERSION, "comparison": comparison, "troubles": troubles });
        return Ok((format!("{whole:#}\n"), troubles.is_empty()));
    } else if options.csv {
        text::within(language, || compare_tables::csv(&comparison))
    } else {
        told(&comparison)
    };
    // A table for a spreadsheet is only that.
    if options.csv {
        for trouble in &troubles {
            eprintln!("stillroad: {}", text::translated(trouble));
        }
    } else {
        for trouble in &troubles {
            printed += &format!("\n{trouble}\n");
        }
    }
    Ok((printed, troubles.is_empty()))
}

/// Recordings compared, with what could not be opened in sentences.
///
/// # Errors
/// These sentences, where none can be opened.
pub(super) fn compared(recordings: &[PathBuf]) -> Result<(Comparison, Vec<String>), String> {
    let mut troubles = Vec::new();
    let mut rides: Vec<(String, RideRead, Vec<InputLine>)> = Vec::new();
    for path in recordings {
        let folder = folder(path);
        match read_ride(&folder) {
            Ok(ride) => {
                let name = folder
                    .file_name()
                    .map(|name| name.to_string_lossy().into_owned());
                let (raw, _) = read_raw(&folder);
                for problem in &ride.problems {
                    let problem = text::translated(problem);
                    eprintln!("stillroad: {}: {problem}", folder.display());
                }
                rides.push((name.unwrap_or_default(), ride, raw));
            }
            Err(error) => troubles.push(say!(
                "{error} {path} was not compared; name the folder of a ride, or the file that it was handed over as.",
                error = text::translated(&error.to_string()),
                path = path.display()
            )),
        }
    }
    if rides.is_empty() {
        return Err(troubles.join("\n"));
    }
    Ok((ride_list::compared_all(&rides), troubles))
}

fn told(comparison: &Comparison) -> String {
    let mut text = String::new();
    for sentence in compare_tables::sentences(comparison) {
        text += &wrapped(&sentence);
    }
    let tables = std::iter::once(compare_tables::rides(comparison));
    for table in tables.chain(compare_tables::blocks(comparison)) {
        text.push('\n');
        text += &as_text(&table, WIDTH);
    }
    text += &wrapped(word!(
        "*: something changed since the ride before. ½: ridden in part. A dash is not known."
    ));
    text
}
