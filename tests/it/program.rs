//! The program itself, started by hand as a rider would, with everything of its own under `kept` in a folder.

use std::path::Path;
use std::process::{Command, Output};

/// Runs it to its end.
pub fn stillroad(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stillroad"))
        .args(arguments)
        .current_dir(folder)
        .env("STILLROAD_HOME", "kept")
        .env("LC_ALL", "C")
        .env_remove("LANGUAGE")
        .output()
        .unwrap()
}

/// What it printed.
pub fn printed(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}
