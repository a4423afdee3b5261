//! Battery Level (2A19).

use super::wire::{DecodeError, Reader};

/// The state of charge as sent: 0 to 100 %. Higher numbers are reserved and kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BatteryLevel(pub u8);

impl BatteryLevel {
    /// Reads a level; surplus octets are ignored.
    ///
    /// # Errors
    /// [`DecodeError::Short`] where nothing came.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        Reader::new("Battery Level", bytes).u8("battery level").map(Self)
    }

    /// Its octet.
    pub fn encode(self) -> Vec<u8> {
        vec![self.0]
    }

    /// Per cent, where the number is one that the standard allows.
    pub fn percent(self) -> Option<u8> {
        (self.0 <= 100).then_some(self.0)
    }
}
