//! `stillroad hand-over`: one file of a recording for the coach, with or without the rider's name and heart rate.

use std::path::{Path, PathBuf};

use clap::Args;

use super::export::exported;
use crate::engine::Core;
use crate::engine::replay::LogEnd;
use crate::record::log::{MOST_PARTS, part_file};
use crate::record::{EventLine, NoteLine, Row, Table, package, ride_toml, without_heart};
use crate::store::recording::{Files, Recording, pack};
use crate::text::{self, Language};

/// The texts of a recording; what is not there is passed over.
const TEXTS: [&str; 4] = ["ride.toml", "session.toml", "written.toml", "rider.toml"];

/// The options of a hand-over.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// A ride's folder, or a file that `stillroad export` or `hand-over` made
    #[arg(value_name = "RECORDING")]
    recording: PathBuf,
    /// The file to be made, as ride.zip; one that exists is not overwritten
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// Without the rider's name, and without names and addresses of devices
    #[arg(long)]
    without_name: bool,
    /// Without the heart rate, and what tells of it; the flight recorder's log is then left out
    #[arg(long)]
    without_heart_rate: bool,
}

/// Makes the file and says what is in it.
///
/// # Errors
/// A sentence where the recording cannot be read, or the file not be written.
pub fn run(options: &Options) -> Result<String, String> {
    let recording = Recording::open(&options.recording)?;
    let root = Path::new("");
    let mut early = None;
    let (name, mut files) = if options.without_name {
        let before = super::replay::replay(&recording, |_| {})?;
        match before.end {
            LogEnd::Unusable(why) => {
                return Err(say!(
                    "{recording} cannot be handed over without the name, since that is taken out of the log: {why}",
                    recording = recording.name(),
                    why = text::translated(&why)
                ));
            }
            LogEnd::Gap(line) | LogEnd::Full(line) | LogEnd::Failed(line) => early = Some(line),
            LogEnd::Open(_) | LogEnd::Closed => {}
        }
        // What is told of the rider is taken out of the inputs, and the rest made of them anew: see `export`.
        let made = exported(&recording, true, &mut Core::handle)?;
        let below = |(path, bytes): (PathBuf, Vec<u8>)| {
            let path = path.strip_prefix(&made.root).ok()?.to_owned();
            path.starts_with(&made.name).then_some((path, bytes))
        };
        let files: Files = made.files.into_iter().filter_map(below).collect();
        (made.name, files)
    } else {
        let name = recording.name();
        let files = as_they_are(&recording, &name)?;
        (name, files)
    };
    // What is sent is English, as every recording.
    text::within(Language::English, || {
        if options.without_heart_rate {
            take_heart_out(&mut files, Path::new(&name));
        }
        describe(&mut files, Path::new(&name));
    });
    let count = files.len();
    let size = pack(&options.to, root, &name, &files)?;
    let mut lines = vec![holds(options, &name, count, size)];
    if options.without_name {
        lines.push(word!("Remarks in words were left out, since they may name you.").to_owned());
    }
    if let Some(line) = early {
        lines.push(say!(
            "The log ends early, at line {line}: what was ridden after it is not in the file. With the name it would be whole.",
            line
        ));
    }
    if options.without_heart_rate {
        lines.push(
            word!(
                "The load stays as it was set: where a ceiling of the heart rate eased it, that can be guessed at. Remarks in \
                 words stay as they were written."
            )
            .to_owned(),
        );
    }
    lines.push(
        word!(
            "Look it over before you send it. A word that comes back is taken in with `stillroad note RECORDING --take FILE`."
        )
        .to_owned(),
    );
    Ok(lines.join("\n"))
}

/// What is in the file, and what is not.
fn holds(options: &Options, name: &str, count: usize, size: u64) -> String {
    let file = options.to.display();
    match (options.without_name, options.without_heart_rate) {
        (false, false) => say!(
            "{file} holds {name}: {count} files, {size} bytes, with the rider's name and heart rate.",
            file,
            name,
            count,
            size
        ),
        (true, false) => say!(
            "{file} holds {name}: {count} files, {size} bytes, without the rider's name, and without names and addresses of \
             devices.",
            file,
            name,
            count,
            size
        ),
        (false, true) => say!(
            "{file} holds {name}: {count} files, {size} bytes, without the heart rate and without the flight recorder's log.",
            file,
            name,
            count,
            size
        ),
        (true, true) => say!(
            "{file} holds {name}: {count} files, {size} bytes, without names, heart rate and the flight recorder's log.",
            file,
            name,
            count,
            size
        ),
    }
}

fn as_they_are(recording: &Recording, name: &str) -> Result<Files, String> {
    let mut files = Files::new();
    let tables = [Row::FILE, EventLine::FILE, NoteLine::FILE];
    let logs = (1..=MOST_PARTS).map(|part| part_file(part).into_owned());
    let all = TEXTS.iter().chain(&tables).map(|file| (*file).to_owned());
    for file in all.chain(logs) {
        let bytes = recording.bytes(&file).map_err(|error| {
            say!(
                "{file} of {recording} cannot be read ({error}). Check who may read it, and the disk.",
                file,
                recording = name,
                error
            )
        })?;
        if let Some(bytes) = bytes {
            files.insert(Path::new(name).join(file), bytes);
        }
    }
    if !files.contains_key(&Path::new(name).join("ride.toml")) {
        return Err(say!(
            "There is no ride.toml in {recording}: it is no recording. Name a ride's folder, or a file that `stillroad export` \
             made.",
            recording = name
        ));
    }
    Ok(files)
}

fn take_heart_out(files: &mut Files, folder: &Path) {
    files.retain(|path, _| {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        !(name.starts_with("raw") && name.ends_with(".csv"))
    });
    let mut straps = Vec::new();
    for file in ["ride.toml", "rider.toml"] {
        if let Some(bytes) = files.get_mut(&folder.join(file)) {
            let (text, found) = without_heart::about(&String::from_utf8_lossy(bytes));
            *bytes = text.into_bytes();
            straps.extend(found);
        }
    }
    if let Some(bytes) = files.get_mut(&folder.join(Row::FILE)) {
        *bytes = without_heart::samples(bytes);
    }
    if let Some(bytes) = files.get_mut(&folder.join(EventLine::FILE)) {
        *bytes = without_heart::events(bytes, &straps);
    }
}

/// The data package of what is handed over; none where what was known at the start cannot be read.
fn describe(files: &mut Files, folder: &Path) {
    let text = |file: &str| {
        let bytes = files.get(&folder.join(file));
        String::from_utf8_lossy(bytes.map_or(&[][..], Vec::as_slice)).into_owned()
    };
    let (session, rider) = (text("session.toml"), text("rider.toml"));
    let Ok(start) = ride_toml::read(&text("ride.toml"), session.into(), rider.into()) else {
        return;
    };
    let there = |file: &str| files.get(&folder.join(file)).map(Vec::as_slice);
    let package = package::of_files(&start, there);
    files.insert(folder.join(package::FILE), package.into_bytes());
}
