//! `stillroad resume`: goes on with a ride whose program was killed, in its own recording, or closes that recording.

use std::path::{Path, PathBuf};

use clap::Args;

use super::ride::{self, Kit};
use crate::app;
use crate::engine::Role;
use crate::engine::drive::wall_ms;
use crate::engine::take_up::TakeUp;
use crate::store::Places;
use crate::store::left_open::{self, LeftOpen};
use crate::text::{self, Language};
use crate::time::Span;

/// The options of going on.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The ride's folder; if left out the newest among the rides that was never closed
    #[arg(value_name = "RECORDING")]
    recording: Option<PathBuf>,
    /// Close the recording instead: what was ridden stays, and nothing is added to it but a closing line
    #[arg(long)]
    close: bool,
    /// The folder of the rides; if left out the rides' folder (see `stillroad where`)
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
    #[command(flatten)]
    kit: Kit,
}

/// Goes on with a ride, or closes its recording.
///
/// # Errors
/// A sentence: there is none, it cannot be gone on with, or what a ride needs is missing.
pub fn run(options: &Options) -> Result<(String, bool), String> {
    let folder = recording(options)?;
    if options.close {
        text::within(Language::English, || left_open::close(&folder, wall_ms()))?;
        let name = folder.file_name().unwrap_or_default().to_string_lossy();
        let closed = say!("{name} is closed. What was ridden is in it.", name);
        return Ok((closed, true));
    }
    let left = left_open::open(&folder)?;
    for problem in &left.ride.problems {
        super::print(&text::translated(problem));
    }
    let take_up = app::take_up(&left)?;
    let kit = kit(&options.kit, &left);
    super::print(&format!("{}\n", going_on(&take_up, wall_ms())));
    let rides = folder.canonicalize().ok();
    let rides = rides.as_deref().unwrap_or(&folder).parent();
    let out = rides.unwrap_or(Path::new(".")).to_owned();
    let choice = take_up.choice.clone();
    let devices = ride::devices(&kit, &ride::remembered(kit.pace));
    ride::ride(&choice, vec![take_up.command()], &[], &devices, out, &kit)
}

/// The recording that is meant.
fn recording(options: &Options) -> Result<PathBuf, String> {
    let rides = || match &options.out {
        Some(folder) => Ok(folder.clone()),
        None => Places::find()
            .map(|places| places.rides)
            .map_err(|error| error.to_string()),
    };
    match &options.recording {
        // A bare name is looked for among the rides where it is no folder here.
        Some(given) if !given.is_dir() && given.file_name() == Some(given.as_os_str()) => {
            Ok(rides()?.join(given))
        }
        Some(given) => Ok(given.clone()),
        None => {
            let rides = rides()?;
            let newest = left_open::find(&rides).into_iter().next();
            newest.ok_or_else(|| {
                say!(
                    "No recording in {folder} was left open: there is nothing to go on with. Begin a ride with `stillroad ride`.",
                    folder = rides.display()
                )
            })
        }
    }
}

/// The devices of the recording, where the command line names no others.
fn kit(given: &Kit, left: &LeftOpen) -> Kit {
    let mut kit = given.clone();
    let recorded = |role: Role| {
        let devices = &left.ride.start.devices;
        let found = devices.iter().find(|(key, ..)| key == role.key());
        Some(found.map_or_else(|| "none".to_owned(), |(_, _, address, _)| address.clone()))
    };
    for (role, named) in [
        (Role::Trainer, &mut kit.trainer),
        (Role::Heart, &mut kit.heart),
        (Role::SecondHeart, &mut kit.second_heart),
        (Role::Meter, &mut kit.meter),
        (Role::Cadence, &mut kit.cadence),
    ] {
        *named = named.take().or_else(|| recorded(role));
    }
    kit
}

fn going_on(take_up: &TakeUp, now_ms: i64) -> String {
    let gap = Span::from_millis(take_up.gap_ms(now_ms).unsigned_abs());
    say!(
        "On with {ride}: {ridden} ridden, {left} left. Its last second was kept {gap} ago.",
        ride = take_up.ride,
        ridden = take_up.ridden(),
        left = take_up.left(),
        gap
    )
}

/// What is said before another ride while a recording is left open; empty where none is.
pub(super) fn left_open(rides: &Path) -> String {
    let open = left_open::find(rides);
    let Some(newest) = open.first().and_then(|folder| folder.file_name()) else {
        return String::new();
    };
    say!(
        "A recording was never closed: {ride}. This is a ride of its own; `stillroad resume` goes on with that one, \
         `stillroad resume --close` closes it.",
        ride = newest.to_string_lossy()
    ) + "\n"
}
