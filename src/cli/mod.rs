//! The command line: the same core as the window, without one. One file a verb.

pub mod check;
pub mod class_sheet;
pub mod compare;
pub mod critical_power;
pub mod cue_sheet;
pub mod cues;
pub mod decode;
pub mod devices;
pub mod effort_map;
pub mod export;
mod files;
pub mod fit;
pub mod forecast;
pub mod hand_over;
mod help;
mod language;
mod logs;
pub mod next;
pub mod note;
pub mod rehearse;
pub mod replay;
pub mod resume;
pub mod review;
pub mod ride;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::store::Places;
use crate::text::{self, Language};
use crate::time::Span;
pub use language::{asked, spoken};

/// Ride indoor interval sessions on a smart trainer, and keep what was ridden.
///
/// Without a verb it opens the window.
#[derive(Debug, Parser)]
#[command(name = "stillroad", version, max_term_width = 100)]
pub struct Arguments {
    #[command(subcommand)]
    verb: Option<Verb>,
    /// Let the practice devices misbehave as radios do, by this seed; real devices never do
    #[arg(long, value_name = "SEED", hide = true)]
    pub faults: Option<u64>,
    /// The language of what is printed and shown; else the setting, else the system's
    #[arg(long, global = true, value_name = "LANGUAGE", value_parser = language::parser())]
    pub language: Option<Language>,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Look a session file over: its timing, its totals and every problem in it
    Check {
        /// Session files, or names of built-in sessions or of those in your folder
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// The rider whose watts are shown
        #[arg(long, value_name = "FILE")]
        rider: Option<PathBuf>,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Fit a session to the day: to the time there is, with a longer warm-up, with easier recoveries
    Fit(fit::Options),
    /// Tell what a session would ask of this rider: W′, heart rate, work, and what is beyond them. Estimates
    Forecast(forecast::Options),
    /// Ride a session without a window
    Ride(Box<ride::Options>),
    /// Go on with a ride whose program was killed, in its own recording; or close that recording
    Resume(Box<resume::Options>),
    /// Tell what recordings hold: how each block went, what the brake did and what the legs did
    Review(review::Options),
    /// Make the next session from a ride: a copy of its session with a change or two, or why none. A proposal
    Next(next::Options),
    /// Set rides side by side, block by block, and tell what changed between them
    Compare(compare::Options),
    /// Make one page of a class: riders as rows, blocks as columns
    ClassSheet(class_sheet::Options),
    /// Tell what your ratings say of your effort map, and adopt it when you say so
    EffortMap(effort_map::Options),
    /// Reckon critical power and W′ from efforts that were maximal
    CriticalPower(critical_power::Options),
    /// List the devices that are heard, what each can do, and why one cannot be used
    Devices {
        /// How long to listen, 1 to 300 seconds
        #[arg(long, default_value_t = 8, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=300))]
        seconds: u64,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Read the bytes of a Bluetooth characteristic, as JSON
    Decode {
        /// The characteristic's number, as 2AD2
        uuid: String,
        /// Its bytes, as 4400990cb500fd00
        hex: String,
    },
    /// Ride a recording again through the same program, and show what is not as it was kept
    ///
    /// Ends with 0 where all is the same, with 1 where anything differs.
    Replay(replay::Options),
    /// Make one file of a recording to send, with names, addresses, paths and the day taken out
    Export(export::Options),
    /// Make one file of a recording for the coach, with its name and heart rate or without
    HandOver(hand_over::Options),
    /// Add words to a recording's notes, the coach's too, or take in those that somebody sent
    Note(note::Options),
    /// Go through a session's cues as they come due, without devices, and tell which of them come late
    ///
    /// Ends with 0 where all come in time, with 1 where any is late.
    Rehearse(rehearse::Options),
    /// Make a page to print and to lead from: what is said when, a column for each speaker
    CueSheet(cue_sheet::Options),
    /// List a session's cues with their numbers, and which of them the leader has recorded
    Cues(cues::List),
    /// Record a cue by the system's microphone, to be played in place of the voice
    RecordCue(cues::Record),
    /// Show where sessions, riders and rides are kept
    Where,
}

impl Verb {
    /// Whether what is printed is for a program to read, which is English. The review sees to it itself: it can make a
    /// page for a reader in the same run.
    fn is_for_programs(&self) -> bool {
        match self {
            Self::Check { json, .. } | Self::Devices { json, .. } => *json,
            Self::Forecast(options) => options.json,
            Self::Next(options) => options.json,
            Self::Compare(options) => options.json,
            Self::EffortMap(options) => options.json,
            Self::CriticalPower(options) => options.json,
            _ => false,
        }
    }
}

/// Runs what the command line asks for. Nothing where it asks for the window.
pub fn run(arguments: Arguments) -> Option<ExitCode> {
    let verb = arguments.verb?;
    let language = if verb.is_for_programs() {
        Language::English
    } else {
        text::language()
    };
    Some(match text::within(language, || outcome(verb)) {
        Ok((text, well)) => {
            print(&text);
            if well {
                ExitCode::SUCCESS
            } else {
                ExitCode::FAILURE
            }
        }
        Err(sentence) => {
            // Why there is nothing for a program is for a reader again.
            eprintln!("stillroad: {}", text::translated(&sentence));
            ExitCode::FAILURE
        }
    })
}

/// Does what a verb asks for. Gives what to print, and whether all is well.
fn outcome(verb: Verb) -> Result<(String, bool), String> {
    match verb {
        Verb::Check { files, rider, json } => check_files(&files, rider.as_deref(), json),
        Verb::Fit(options) => fit::run(&options).map(|text| (text, true)),
        Verb::Forecast(options) => forecast::run(&options).map(|text| (text, true)),
        Verb::Ride(options) => ride::run(&options),
        Verb::Resume(options) => resume::run(&options),
        Verb::Review(options) => review::run(&options),
        Verb::Next(options) => next::run(&options),
        Verb::Compare(options) => compare::run(&options),
        Verb::ClassSheet(options) => class_sheet::run(&options),
        Verb::EffortMap(options) => effort_map::run(&options).map(|text| (text, true)),
        Verb::CriticalPower(options) => critical_power::run(&options).map(|text| (text, true)),
        Verb::Devices { seconds, json } => {
            Ok((devices::run(Span::from_seconds(seconds), json), true))
        }
        Verb::Decode { uuid, hex } => decode::decode(&uuid, &hex).map(|text| (text, true)),
        Verb::Replay(options) => replay::run(&options),
        Verb::Export(options) => export::run(&options).map(|text| (text, true)),
        Verb::HandOver(options) => hand_over::run(&options).map(|text| (text, true)),
        Verb::Note(options) => note::run(&options).map(|text| (text, true)),
        Verb::Rehearse(options) => rehearse::run(&options),
        Verb::CueSheet(options) => cue_sheet::run(&options).map(|text| (text, true)),
        Verb::Cues(options) => cues::list(&options).map(|text| (text, true)),
        Verb::RecordCue(options) => cues::record(&options).map(|text| (text, true)),
        Verb::Where => Places::find()
            .map(|places| (places.describe(), true))
            .map_err(|error| error.to_string()),
    }
}

fn check_files(
    files: &[PathBuf],
    rider: Option<&Path>,
    json: bool,
) -> Result<(String, bool), String> {
    let rider = files::rider(rider)?;
    let given: Vec<_> = files
        .iter()
        .map(|file| (file.display().to_string(), files::session_bytes(file)))
        .collect();
    let (report, failed) = check::check(&given, &rider, json);
    Ok((report, !failed))
}

/// Prints to standard output; a reader that has gone away is no error of ours.
fn print(text: &str) {
    use std::io::Write;
    if !text.is_empty() {
        drop(writeln!(std::io::stdout(), "{}", text.trim_end()));
    }
}
