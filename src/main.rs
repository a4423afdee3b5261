//! Stillroad: without a verb it opens the window; with one it works on the command line.

use std::process::ExitCode;

use stillroad::{app, cli, text};
use tracing_subscriber::EnvFilter;

fn main() -> ExitCode {
    // Silent but for errors; RUST_LOG asks for more. The sound server's client calls its own end an error.
    let filter = EnvFilter::try_from_default_env()
        .unwrap_or_else(|_| EnvFilter::new("error,pulseaudio=off"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .init();
    let arguments = cli::asked();
    text::choose(cli::spoken(arguments.language));
    text::speak_to_the_reader();
    let (faults, language) = (arguments.faults, arguments.language);
    match cli::run(arguments) {
        Some(code) => code,
        None => match app::open(faults, language) {
            Ok(()) => ExitCode::SUCCESS,
            Err(sentence) => {
                eprintln!("stillroad: {}", text::translated(&sentence));
                ExitCode::FAILURE
            }
        },
    }
}
