//! The desk of a window on this computer: riders and settings, kept as files.

use std::sync::Arc;

use super::{Desk, SessionFiles};
use crate::plan;
use crate::rider::{self, Rider};
use crate::store::{FileError, Places, riders, sessions, settings, text_file};
use crate::text;

/// So many riders of one name get files of their own.
const MOST_OF_ONE_NAME: u32 = 1000;

/// What is told of a file that could not be read or saved.
fn told(error: FileError) -> String {
    text::translated(&error.to_string()).into_owned()
}

/// Files in the places of this computer.
#[derive(Clone, Debug)]
pub struct Files {
    places: Places,
}

impl Files {
    /// In these places.
    pub const fn new(places: Places) -> Self {
        Self { places }
    }

    /// A key that no file has yet: the name's own, else with a number behind it.
    fn free_key(&self, name: &str) -> Option<String> {
        let plain = riders::path_for(&self.places.riders, name);
        let stem = plain.file_stem()?.to_str()?.to_owned();
        let is_free =
            |key: &String| !text_file::is_file(&self.places.riders.join(format!("{key}.toml")));
        std::iter::once(stem.clone())
            .chain((2..MOST_OF_ONE_NAME).map(|number| format!("{stem}-{number}")))
            .find(is_free)
    }
}

impl Desk for Files {
    fn save_rider(&mut self, key: Option<&str>, rider: &Rider) -> Result<String, String> {
        let text = rider::amended(rider);
        let key = match key {
            Some(key) => {
                let saved = riders::save_over(&self.places.riders, key, &rider.source, &text);
                return saved.map(|()| key.to_owned()).map_err(told);
            }
            None => self.free_key(&rider.name).ok_or_else(|| {
                say!(
                    "There are too many riders named {name}, so this one was not saved. Give another name.",
                    name = rider.name
                )
            })?,
        };
        let path = self.places.riders.join(format!("{key}.toml"));
        riders::save(&path, &text).map(|()| key).map_err(told)
    }

    fn read_rider(&mut self, key: &str) -> Result<Rider, String> {
        let path = self.places.riders.join(format!("{key}.toml"));
        let text = riders::load(&path).map_err(told)?;
        let (rider, problems) = rider::read(&text);
        rider.ok_or_else(|| {
            let first = problems
                .first()
                .map(ToString::to_string)
                .unwrap_or_default();
            say!(
                "The rider file {key} has something wrong, so it was not taken: {first}",
                key,
                first
            )
        })
    }

    fn save_settings(&mut self, text: &str) -> Result<(), String> {
        settings::save(&self.places.settings, text).map_err(told)
    }
}

impl SessionFiles for Files {
    fn keys(&mut self) -> Result<Vec<String>, String> {
        sessions::keys(&self.places.sessions).map_err(told)
    }

    fn load(&mut self, key: &str) -> Result<Option<Arc<str>>, String> {
        match sessions::load_own(&self.places.sessions, key) {
            Ok(text) => Ok(Some(text)),
            Err(FileError::Missing { .. }) => Ok(None),
            Err(error) => Err(told(error)),
        }
    }

    fn save_new(&mut self, name: &str, text: &str) -> Result<String, String> {
        let taken: Vec<&str> = plan::builtin().iter().map(|(key, _)| *key).collect();
        sessions::save_new(&self.places.sessions, name, &taken, text).map_err(told)
    }

    fn save_over(&mut self, key: &str, known: &str, text: &str) -> Result<bool, String> {
        match sessions::save_over(&self.places.sessions, key, known, text) {
            Ok(()) => Ok(true),
            Err(FileError::Changed { .. }) => Ok(false),
            Err(error) => Err(told(error)),
        }
    }

    fn draft(&mut self) -> Result<Option<String>, String> {
        sessions::load_draft(&self.places.sessions).map_err(told)
    }

    fn keep_draft(&mut self, text: Option<&str>) -> Result<(), String> {
        sessions::save_draft(&self.places.sessions, text).map_err(told)
    }
}
