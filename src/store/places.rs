//! Where everything lives on this computer.

use std::env;
use std::ffi::OsString;
use std::fmt::Write as _;
use std::fs::{self, OpenOptions};
use std::path::{self, Path, PathBuf};

use directories::ProjectDirs;

/// The variable that puts everything under one folder: for tests, and for a program carried on a stick.
pub const HOME_VARIABLE: &str = "STILLROAD_HOME";

/// Every folder in use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Places {
    /// The user's own sessions.
    pub sessions: PathBuf,
    /// The riders' files.
    pub riders: PathBuf,
    /// What was ridden, a folder a ride.
    pub rides: PathBuf,
    /// The file of what is remembered between rides.
    pub memory: PathBuf,
    /// The file of the window's settings.
    pub settings: PathBuf,
}

/// The system names no home folder for this user.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "The system names no home folder for this user, so there is no place for riders and rides. Set {HOME_VARIABLE} \
     to a folder."
)]
pub struct NoHome;

impl Places {
    /// From the environment: [`HOME_VARIABLE`], else where the system keeps a program's settings and data.
    ///
    /// # Errors
    /// [`NoHome`].
    pub fn find() -> Result<Self, NoHome> {
        Self::from_variable(env::var_os(HOME_VARIABLE))
    }

    /// The same from the variable's value; none and empty are both taken as not set. A relative folder is taken from the
    /// one in which the program was started, and stays there.
    ///
    /// # Errors
    /// [`NoHome`].
    pub fn from_variable(home: Option<OsString>) -> Result<Self, NoHome> {
        if let Some(home) = home.filter(|home| !home.is_empty()) {
            let home = PathBuf::from(home);
            // Where the current folder is not known it stays relative, and the disk says what is wrong.
            return Ok(Self::under(&path::absolute(&home).unwrap_or(home)));
        }
        let system = ProjectDirs::from("", "", "stillroad").ok_or(NoHome)?;
        Ok(Self {
            sessions: system.config_dir().join("sessions"),
            riders: system.config_dir().join("riders"),
            rides: system.data_dir().join("rides"),
            memory: system.data_dir().join("memory.toml"),
            settings: system.config_dir().join("settings.toml"),
        })
    }

    /// Everything under one folder.
    pub fn under(home: &Path) -> Self {
        Self {
            sessions: home.join("sessions"),
            riders: home.join("riders"),
            rides: home.join("rides"),
            memory: home.join("memory.toml"),
            settings: home.join("settings.toml"),
        }
    }

    /// Each place with its path, whether it is there and whether it can be written: what `stillroad where` prints.
    ///
    /// Writing is tried with an empty file that is removed at once, since permissions alone do not tell.
    pub fn describe(&self) -> String {
        let places = [
            (
                word!("sessions"),
                &self.sessions,
                folder_state(&self.sessions),
            ),
            (word!("riders"), &self.riders, folder_state(&self.riders)),
            (word!("rides"), &self.rides, folder_state(&self.rides)),
            (word!("memory"), &self.memory, file_state(&self.memory)),
            (
                word!("settings"),
                &self.settings,
                file_state(&self.settings),
            ),
        ];
        let widest = places.iter().map(|(what, ..)| what.chars().count()).max();
        let wide = widest.unwrap_or(0) + 1;
        let mut text = String::new();
        for (what, path, state) in places {
            // Writing to a String cannot fail.
            let _ = writeln!(
                text,
                "{what:<wide$} {}\n{:<wide$} {state}",
                path.display(),
                ""
            );
        }
        let last = say!(
            "Set {variable} to a folder to keep all of this under that folder instead.",
            variable = HOME_VARIABLE
        );
        let _ = writeln!(text, "{last}");
        text
    }
}

fn folder_state(folder: &Path) -> String {
    match fs::metadata(folder) {
        Ok(about) if !about.is_dir() => {
            word!("is a file where a folder should be: move it away").to_owned()
        }
        Ok(_) => match try_writing(folder) {
            Ok(()) => word!("is there, can be written").to_owned(),
            Err(error) => say!("is there, cannot be written ({error})", error),
        },
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => not_there_yet(folder),
        Err(error) => say!("cannot be looked at ({error})", error),
    }
}

fn file_state(file: &Path) -> String {
    if file.is_dir() {
        return word!("is a folder where a file should be: move it away").to_owned();
    }
    let folder = file.parent().unwrap_or(file);
    let there = file.exists();
    if !there && !folder.exists() {
        return not_there_yet(folder);
    }
    // It is saved by a new file in its folder, so that the folder decides.
    match (there, try_writing(folder)) {
        (true, Ok(())) => word!("is there, can be written").to_owned(),
        (false, Ok(())) => word!("is not there yet, is made when first needed").to_owned(),
        (true, Err(error)) => say!("is there, cannot be written ({error})", error),
        (false, Err(error)) => say!("is not there yet and cannot be made ({error})", error),
    }
}

/// A folder that does not exist is made inside the nearest one that does.
fn not_there_yet(folder: &Path) -> String {
    let nearest = folder.ancestors().skip(1).find(|path| path.exists());
    match nearest.map(|nearest| (nearest, try_writing(nearest))) {
        Some((_, Ok(()))) => word!("is not there yet, is made when first needed").to_owned(),
        Some((nearest, Err(error))) => say!(
            "is not there yet and cannot be made: {folder} cannot be written ({error})",
            folder = nearest.display(),
            error
        ),
        // A relative path whose first part is not there either stands in the current folder.
        None => word!("is not there yet").to_owned(),
    }
}

fn try_writing(folder: &Path) -> std::io::Result<()> {
    let probe = folder.join(format!(".stillroad-{}.probe", std::process::id()));
    OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&probe)?;
    fs::remove_file(&probe)
}
