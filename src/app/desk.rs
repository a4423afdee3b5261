//! The desk of a window on this computer: riders and settings, kept as files.

use super::Desk;
use crate::rider::{self, Rider};
use crate::store::{Places, riders, settings, text_file};

/// So many riders of one name get files of their own.
const MOST_OF_ONE_NAME: u32 = 1000;

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
                return saved
                    .map(|()| key.to_owned())
                    .map_err(|error| error.to_string());
            }
            None => self.free_key(&rider.name).ok_or_else(|| {
                format!(
                    "There are too many riders named {}, so this one was not saved. Give another name.",
                    rider.name
                )
            })?,
        };
        let path = self.places.riders.join(format!("{key}.toml"));
        riders::save(&path, &text)
            .map(|()| key)
            .map_err(|error| error.to_string())
    }

    fn read_rider(&mut self, key: &str) -> Result<Rider, String> {
        let path = self.places.riders.join(format!("{key}.toml"));
        let text = riders::load(&path).map_err(|error| error.to_string())?;
        let (rider, problems) = rider::read(&text);
        rider.ok_or_else(|| {
            let first = problems
                .first()
                .map(ToString::to_string)
                .unwrap_or_default();
            format!("The rider file {key} has something wrong, so it was not taken: {first}")
        })
    }

    fn save_settings(&mut self, text: &str) -> Result<(), String> {
        settings::save(&self.places.settings, text).map_err(|error| error.to_string())
    }
}
