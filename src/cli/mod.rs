//! The command line: the same core as the window, without one. One file a verb.

pub mod ride;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::plan;
use crate::rider::{self, Rider};
use crate::store::places::Places;

/// Ride indoor interval sessions on a smart trainer, and keep what was ridden.
///
/// Without a verb it opens the window.
#[derive(Debug, Parser)]
#[command(name = "stillroad", version, max_term_width = 100)]
pub struct Arguments {
    #[command(subcommand)]
    verb: Option<Verb>,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Look a session file over: its timing, its totals and every problem in it
    Check {
        /// Session files
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// The rider whose watts are shown
        #[arg(long, value_name = "FILE")]
        rider: Option<PathBuf>,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Ride a session without a window
    Ride(Box<ride::Options>),
    /// List the devices that are heard, what each can do, and why one cannot be used
    Devices {
        /// How long to listen
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
    /// Show where sessions, riders and rides are kept
    Where,
}

/// Runs what the command line asks for. Nothing where it asks for the window.
pub fn run(arguments: Arguments) -> Option<ExitCode> {
    let outcome = match arguments.verb? {
        Verb::Check { files, rider, json } => check_files(&files, rider.as_deref(), json),
        Verb::Ride(options) => ride::run(&options),
        Verb::Devices { seconds, json } => devices::run(seconds, json).map(|text| (text, true)),
        Verb::Decode { uuid, hex } => decode::decode(&uuid, &hex).map(|text| (text, true)),
        Verb::Where => Places::find().map(|places| (where_::text(&places), true)),
    };
    Some(match outcome {
        Ok((text, well)) => {
            print(&text);
            if well { ExitCode::SUCCESS } else { ExitCode::FAILURE }
        }
        Err(sentence) => {
            eprintln!("stillroad: {sentence}");
            ExitCode::FAILURE
        }
    })
}

/// Prints to standard output; a reader that has gone away is no error of ours.
fn print(text: &str) {
    use std::io::Write;
    if !text.is_empty() {
        drop(writeln!(std::io::stdout(), "{}", text.trim_end()));
    }
}
