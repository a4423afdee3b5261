//! `stillroad effort-map`: what a rider's own ratings say of their effort map, and its adoption when they say so.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use crate::review::over::learned::{Learned, learn, ratings};
use crate::review::words::{change, number, per_cent, plain};
use crate::rider::{self, Rider};
use crate::store::{Places, ride_list, riders};
use crate::text::{self, Language, figure};

/// The options of the effort map.
#[derive(Args, Clone, Debug)]
pub struct Options {
    /// The rider's file; the first in the riders' folder if left out
    #[arg(long, value_name = "FILE")]
    rider: Option<PathBuf>,
    /// Write what was learned into the rider's file; without it nothing is changed
    #[arg(long)]
    adopt: bool,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Learns from the kept rides, tells it, and adopts it where that is asked for.
///
/// # Errors
/// A sentence where there is no rider, too little to learn from, or the file cannot be written.
pub fn run(options: &Options) -> Result<String, String> {
    let places = Places::find().map_err(|error| error.to_string())?;
    let path = match &options.rider {
        Some(path) => path.clone(),
        None => riders::list(&places.riders)
            .ok()
            .and_then(|files| files.into_iter().next())
            .map(|file| file.path)
            .ok_or(word!(
                "There is no rider's file, so there is no map to learn for. Save a rider in the window, or name a file by --rider."
            ))?,
    };
    let read = riders::load(&path).map_err(|error| error.to_string())?;
    let (rider, problems) = rider::read(&read);
    let rider = rider.ok_or_else(|| {
        let first = problems
            .first()
            .map(ToString::to_string)
            .unwrap_or_default();
        say!(
            "The rider {file} cannot be used: {first}",
            file = path.display(),
            first
        )
    })?;
    let listing = ride_list::list(&places.rides);
    let (rated, rides) = ratings(listing.rides.iter(), &rider.name);
    let learned = learn(&rated, rides, &rider.effort_map).map_err(|error| {
        let mut all = text::translated(&error.to_string()).into_owned();
        for trouble in &listing.troubles {
            all.push('\n');
            all += &text::translated(trouble);
        }
        all
    })?;
    let mut adopted = false;
    if options.adopt {
        let map = learned.map().ok_or(word!(
            "What was learned is no map that rises, so it was not adopted."
        ))?;
        let changed = Rider {
            effort_map: map,
            ..rider.clone()
        };
        // The file is English, whoever reads what is printed.
        let changed = text::within(Language::English, || rider::amended(&changed));
        // The file must still say what was read of it.
        let now = riders::load(&path).map_err(|error| error.to_string())?;
        if now != read {
            return Err(say!(
                "The rider file {file} was changed since it was read, so nothing was saved. Try again.",
                file = path.display()
            ));
        }
        riders::save(&path, &changed).map_err(|error| error.to_string())?;
        adopted = true;
    }
    if options.json {
        let whole = json!({
            "version": 1, "rider": rider.name, "learned": learned, "adopted": adopted, "troubles": listing.troubles,
        });
        return Ok(format!("{whole:#}\n"));
    }
    let mut told = told(&rider, &learned);
    told += if adopted {
        word!(
            "It was written into the rider's file. Sessions are ridden by it from the next ride on."
        )
    } else {
        word!("Nothing was changed. --adopt writes it into the rider's file.")
    };
    told.push('\n');
    for trouble in &listing.troubles {
        told += &format!("{}\n", text::translated(trouble));
    }
    Ok(told)
}

fn told(rider: &Rider, learned: &Learned) -> String {
    let [_, _, length, repeat] = learned.figures;
    let mut text = say!(
        "Effort map of {rider}, from {ratings} ratings in {rides} rides. An estimate.",
        rider = plain(rider.called()),
        ratings = learned.ratings,
        rides = learned.rides
    );
    text += "\n\n";
    // The columns stand under these words: they begin where they do in every language.
    text += word!("effort   so far    learned   doubt     watts");
    text.push('\n');
    for effort in 0..10 {
        let (before, now, doubt) = (
            learned.before[effort],
            learned.shares[effort],
            learned.doubt[effort],
        );
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "{effort:>6}   {:>6}    {:>6}    ±{:>5}    {:>4}",
            figure(&per_cent(Some(before), 1)),
            figure(&per_cent(Some(now), 1)),
            figure(&number(Some(doubt * 100.0), 1)),
            number(Some(now * rider.threshold.0), 0),
        );
    }
    text.push('\n');
    text += &say!(
        "Ratings lie {scatter} of ten from what is expected of them (one standard deviation).",
        scatter = number(Some(learned.scatter), 1)
    );
    text.push('\n');
    text += &say!(
        "A block twice as long is rated {length} higher, each later repeat {repeat}. The map is for a first repeat of eight \
         minutes.",
        length = change(Some(length * std::f64::consts::LN_2), 1),
        repeat = change(Some(repeat), 1)
    );
    text.push('\n');
    text
}
