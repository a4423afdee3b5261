//! Where the window keeps the rider's own files: the folder of riders, and whatever else it may change.

use crate::rider::{self, Rider};
use crate::store::{Places, riders};

use super::Desk;

/// The files of this computer.
#[derive(Clone, Debug)]
pub struct Files {
    places: Places,
}

impl Files {
    /// In these places.
    pub const fn new(places: Places) -> Self {
        Self { places }
    }
}

impl Desk for Files {
    fn save_rider(&mut self, key: Option<&str>, rider: &Rider) -> Result<String, String> {
        let text = rider::amended(rider);
        let folder = &self.places.riders;
        let saved = match key {
            Some(key) => riders::save_over(folder, key, &rider.source, &text),
            None => riders::save_new(folder, &rider.name, &text),
        };
        saved.map_err(|error| error.to_string())
    }

    fn save_settings(&mut self, _text: &str) -> Result<(), String> {
        Err("This window keeps no settings yet.".to_owned())
    }
}
