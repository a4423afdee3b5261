//! The loudspeaker where none is built yet.

use std::sync::Arc;

/// Never opened.
#[derive(Debug)]
pub enum Speaker {}

impl Speaker {
    /// Says that there is none.
    ///
    /// # Errors
    /// Always.
    pub fn open() -> Result<Self, String> {
        Err(entry!("sound is not built for this system yet").to_owned())
    }

    /// Never called.
    pub fn play(&self, _samples: Arc<[i16]>) {}

    /// Never called.
    pub fn stop(&self) {}

    /// Never called.
    pub fn fed(&self) -> u64 {
        0
    }
}

/// The microphone where none is built yet.
#[derive(Debug)]
pub enum Microphone {}

impl Microphone {
    /// Says that there is none.
    ///
    /// # Errors
    /// Always.
    pub fn open() -> Result<Self, String> {
        Err(entry!("sound is not built for this system yet").to_owned())
    }

    /// Never called.
    pub fn count(&self) -> usize {
        0
    }

    /// Never called.
    pub fn samples(&self) -> Vec<i16> {
        Vec::new()
    }
}
