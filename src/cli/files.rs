//! Finding the session and the rider that the command line names.

use std::path::Path;

use crate::plan::{self, Plan};
use crate::rider::{self, Rider};
use crate::store::{FileError, Places, riders, sessions, text_file};
use crate::text::translated;
use crate::toml_table::{Problem, Severity};

/// The bytes of a session: a file, else a built-in session, else one in the user's folder, by its name.
///
/// # Errors
/// A sentence where there is none, or where it cannot be read.
pub fn session_bytes(path: &Path) -> Result<Vec<u8>, String> {
    let name = path.to_string_lossy();
    if !text_file::is_file(path) {
        if let Some((_, text)) = plan::builtin().iter().find(|(key, _)| **key == *name) {
            return Ok(text.as_bytes().to_vec());
        }
        // Only a bare name is looked for there: a path is a path.
        if path.file_name() == Some(path.as_os_str())
            && let Ok(places) = Places::find()
        {
            let own = places.sessions.join(format!("{name}.toml"));
            if text_file::is_file(&own) {
                return load(&own).map_err(|error| error.to_string());
            }
        }
    }
    load(path).map_err(|error| match error {
        FileError::Missing { .. } => {
            let built_in: Vec<_> = plan::builtin().iter().map(|(key, _)| *key).collect();
            say!(
                "{error} Built-in sessions are {names}.",
                error = translated(&error.to_string()),
                names = built_in.join(", ")
            )
        }
        other => other.to_string(),
    })
}

fn load(path: &Path) -> Result<Vec<u8>, FileError> {
    sessions::load(path).map(|text| text.as_bytes().to_vec())
}

/// The session itself, and what should be looked at in it.
///
/// # Errors
/// Every problem of the file, a line each.
pub fn session(path: &Path) -> Result<(Plan, Vec<Problem>), String> {
    let reading = plan::read_bytes(&session_bytes(path)?);
    match reading.plan {
        Some(plan) => Ok((plan, reading.problems)),
        None => {
            let refused = say!("The session {file} cannot be used:", file = path.display());
            Err(refused + &errors(path, &reading.problems))
        }
    }
}

/// The rider of a file, else the first in the riders' folder, else the cautious rider of a first start.
///
/// # Errors
/// A sentence, or every problem of the file.
pub fn rider(path: Option<&Path>) -> Result<Rider, String> {
    let path = match path {
        Some(path) => path.to_owned(),
        None => {
            let first = Places::find()
                .ok()
                .and_then(|places| riders::list(&places.riders).ok()?.into_iter().next());
            match first {
                Some(file) => file.path,
                None => return Ok(Rider::default()),
            }
        }
    };
    let text = riders::load(&path).map_err(|error| error.to_string())?;
    let (rider, problems) = rider::read(&text);
    rider.ok_or_else(|| {
        let refused = say!("The rider {file} cannot be used:", file = path.display());
        refused + &errors(&path, &problems)
    })
}

/// The errors of a file, a line each.
fn errors(path: &Path, problems: &[Problem]) -> String {
    problems
        .iter()
        .filter(|problem| problem.severity == Severity::Error)
        .map(|problem| format!("\n  {}:{problem}", path.display()))
        .collect()
}
