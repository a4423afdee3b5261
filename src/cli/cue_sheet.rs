//! `stillroad cue-sheet`: what is said when, as a page to print.

use std::path::PathBuf;

use clap::Args;

use crate::lead::sheet;
use crate::store::text_file;

/// The options of a cue sheet.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The session: a file, or the name of a built-in session or of one in your folder
    #[arg(value_name = "SESSION")]
    session: PathBuf,
    /// The page to write, HTML in one file
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Replace the file where it is there already
    #[arg(long)]
    replace: bool,
}

/// Writes the sheet and says so.
///
/// # Errors
/// A sentence: what cannot be read or written.
pub fn run(options: &Options) -> Result<String, String> {
    let (plan, _) = super::files::session(&options.session)?;
    // A bare file name lies in the folder that one stands in.
    let here = std::path::Path::new(".").join(&options.out);
    if text_file::is_taken(&here) && !options.replace {
        return Err(say!(
            "{file} is there already, so nothing was written. Choose another name, or add --replace.",
            file = options.out.display()
        ));
    }
    text_file::save_text(&here, entry!("cue sheet"), &sheet(&plan))
        .map_err(|error| error.to_string())?;
    Ok(say!(
        "The cue sheet of {session} is in {file}: open it in a browser and print it.",
        session = plan.name,
        file = options.out.display()
    ))
}
