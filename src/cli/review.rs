//! `stillroad review`: what a recording tells, in sentences and tables, as JSON, as a table for a spreadsheet, as a page.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use crate::record::InputLine;
use crate::review::csv_table::csv_table;
use crate::review::page::page;
use crate::review::tables::{as_text, tables};
use crate::review::words::{heading, plain, sentences};
use crate::review::{self, Recording, Review, VERSION};
use crate::store::{Places, RideRead, read_raw, read_ride, ride_list, text_file};
use crate::text::{self, Language};

/// The width that the report keeps to, characters.
const WIDTH: usize = 100;

/// The options of a review.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// Rides: their folders, their names among the rides (see `stillroad where`), or files that were handed over
    #[arg(required = true, value_name = "RECORDING")]
    recordings: Vec<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Also write one page to read and to print
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Also write the block table for a spreadsheet
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Replace the page and the table where they are there already
    #[arg(long)]
    replace: bool,
}

/// Reviews rides, and gives what to print and whether every recording could be opened.
///
/// # Errors
/// A sentence where a file cannot be written, or where no recording can be opened.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    let made = [&options.html, &options.csv].into_iter().flatten();
    for path in made {
        // A bare name lies in the folder where the program was started.
        if text_file::is_taken(&Path::new(".").join(path)) && !options.replace {
            return Err(say!(
                "{file} is there already, so nothing was written. Choose another name, or add --replace.",
                file = path.display()
            ));
        }
    }
    if options.html.is_some() && options.html == options.csv {
        return Err(word!(
            "The page and the table cannot be one file. Give --html and --csv different names."
        )
        .to_owned());
    }
    // Programs read the table and JSON, and a reader the page: all may be made in one run.
    let reader = text::language();
    let printed_in = if options.json {
        Language::English
    } else {
        reader
    };
    let (rides, troubles) = text::within(printed_in, || read(&options.recordings));
    if rides.is_empty() {
        let troubles: Vec<_> = troubles.iter().map(|one| text::translated(one)).collect();
        return Err(troubles.join("\n"));
    }
    let reviewed = reviewed(&rides, printed_in);
    if let Some(path) = &options.html {
        let page = if reader == printed_in {
            page(&reviewed)
        } else {
            text::within(reader, || page(&self::reviewed(&rides, reader)))
        };
        write(path, entry!("page"), &page)?;
    }
    let alone = |all: Vec<(Recording<'_>, Review)>| -> Vec<Review> {
        all.into_iter().map(|(_, review)| review).collect()
    };
    let reviews = alone(reviewed);
    if let Some(path) = &options.csv {
        let table = text::within(Language::English, || match printed_in {
            Language::English => csv_table(&reviews),
            _ => csv_table(&alone(self::reviewed(&rides, Language::English))),
        });
        write(path, entry!("block table"), &table)?;
    }
    let mut printed = String::new();
    if options.json {
        let whole = json!({
            "version": VERSION,
            "rides": reviews,
            "troubles": troubles,
        });
        printed += &format!("{whole:#}\n");
    } else {
        let texts: Vec<String> = reviews.iter().map(told).collect();
        printed += &texts.join("\n");
        for trouble in &troubles {
            printed += &format!("\n{trouble}\n");
        }
    }
    Ok((printed, troubles.is_empty()))
}

/// A ride with the lines of its raw log.
type Read = (RideRead, Vec<InputLine>);

/// The recordings that can be opened, and why the others cannot.
fn read(recordings: &[PathBuf]) -> (Vec<Read>, Vec<String>) {
    let mut troubles = Vec::new();
    let mut rides = Vec::new();
    for path in recordings {
        let folder = folder(path);
        match read_ride(&folder) {
            Ok(mut ride) => {
                let (raw, mut problems) = read_raw(&folder);
                ride.problems.append(&mut problems);
                rides.push((ride, raw));
            }
            Err(error) => troubles.push(say!(
                "{error} {path} was not reviewed; name the folder of a ride, or the file that it was handed over as.",
                error = text::translated(&error.to_string()),
                path = path.display()
            )),
        }
    }
    (rides, troubles)
}

fn reviewed(rides: &[Read], language: Language) -> Vec<(Recording<'_>, Review)> {
    text::within(language, || {
        let recordings = rides
            .iter()
            .map(|(ride, raw)| ride_list::recording(ride, raw));
        recordings
            .map(|recording| {
                let review = review::review(&recording);
                (recording, review)
            })
            .collect()
    })
}

/// The folder itself, else the one of that name among the rides.
pub(super) fn folder(path: &Path) -> PathBuf {
    let is_ride = |folder: &Path| text_file::is_file(&folder.join("ride.toml"));
    if !is_ride(path)
        && path.file_name() == Some(path.as_os_str())
        && let Ok(places) = Places::find()
    {
        let kept = places.rides.join(path);
        if is_ride(&kept) {
            return kept;
        }
    }
    path.to_owned()
}

fn write(path: &Path, what: &'static str, text: &str) -> Result<(), String> {
    // A bare name lies in the folder where the program was started.
    let here = Path::new(".").join(path);
    text_file::save_text(&here, what, text).map_err(|error| error.to_string())
}

fn told(review: &Review) -> String {
    let mut text = format!("{}\n{}", plain(&review.session), wrapped(&heading(review)));
    let mut paragraphs = |title: &str, lines: &[String]| {
        if !lines.is_empty() {
            text += &format!("\n{title}\n");
            for line in lines {
                text += &wrapped(&text::translated(line));
            }
        }
    };
    paragraphs(word!("What happened"), &sentences(review));
    paragraphs(word!("Said and noted"), &review::said::sentences(review));
    paragraphs(
        word!("For the next ride"),
        &review::suggest::suggestions(review),
    );
    paragraphs(word!("What is missing"), &review.missing);
    for table in tables(review) {
        text.push('\n');
        text += &as_text(&table, WIDTH);
        text += &wrapped(&text::translated(table.note));
    }
    text
}

/// Text in lines of the report's width.
pub(super) fn wrapped(text: &str) -> String {
    let mut lines = String::new();
    let mut width = 0;
    for word in text.split_whitespace() {
        let long = word.chars().count();
        if width > 0 && width + 1 + long > WIDTH {
            lines.push('\n');
            width = 0;
        } else if width > 0 {
            lines.push(' ');
            width += 1;
        }
        lines.push_str(word);
        width += long;
    }
    lines.push('\n');
    lines
}
