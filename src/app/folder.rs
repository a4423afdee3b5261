//! Showing a folder in the system's own file manager.

use std::process::{Command, Stdio};

#[cfg(target_os = "macos")]
const PROGRAM: &str = "open";
#[cfg(target_os = "windows")]
const PROGRAM: &str = "explorer";
#[cfg(not(any(target_os = "macos", target_os = "windows")))]
const PROGRAM: &str = "xdg-open";

/// Has the system show a folder. Waits for nothing: whoever shows it lives on without this program.
///
/// # Errors
/// A sentence where the system has no program for it.
pub(super) fn show(folder: &str) -> Result<(), String> {
    let refused = |error: std::io::Error| {
        say!(
            "The folder cannot be opened from here ({program}: {error}). Copy its path instead.",
            program = PROGRAM,
            error
        )
    };
    let mut child = Command::new(PROGRAM)
        .arg(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map_err(refused)?;
    // Somebody has to take its exit status, or it stays as a dead entry in the system's table.
    std::thread::Builder::new()
        .name("folder".to_owned())
        .spawn(move || drop(child.wait()))
        .map(drop)
        .map_err(refused)
}
