//! `stillroad class-sheet`: one page of a class, riders as rows and blocks as columns.

use std::path::{Path, PathBuf};

use clap::Args;

use super::compare::compared;
use crate::review::over::class_sheet::class_sheet;
use crate::store::text_file::{is_taken, save_text};

/// The options of a class sheet.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The riders' recordings: folders of rides, or their names among the rides
    #[arg(required = true, value_name = "RECORDING")]
    recordings: Vec<PathBuf>,
    /// The page to write; one that exists is not overwritten
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// Writes the page, and says what it holds and whether every recording could be opened.
///
/// # Errors
/// A sentence where no recording can be opened, or the page not be written.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    // A bare name lies in the folder where the program was started.
    let out = Path::new(".").join(&options.out);
    if is_taken(&out) {
        return Err(say!(
            "{file} is there already and was not overwritten. Give --out another name.",
            file = options.out.display()
        ));
    }
    let (comparison, troubles) = compared(&options.recordings)?;
    save_text(&out, entry!("page"), &class_sheet(&comparison))
        .map_err(|error| error.to_string())?;
    let mut text = say!(
        "Written to {file}: {rides} rides, {blocks} blocks.",
        file = options.out.display(),
        rides = comparison.rides.len(),
        blocks = comparison.blocks.len()
    );
    text.push('\n');
    for trouble in &troubles {
        text += &format!("{trouble}\n");
    }
    Ok((text, troubles.is_empty()))
}
