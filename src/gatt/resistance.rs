//! A resistance level in its two widths, as it stands in bike data, commands and status.

use super::wire::{DecodeError, Reader, raw};
use crate::units::Level;

/// A raw resistance level: one octet in later texts of the Fitness Machine Service, a signed word in that of 2017.
///
/// Its unit is given as 1 in some places and as 0.1 in others. This program shows raw ÷ 10 everywhere and takes it as
/// the trainer's own scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Resistance {
    /// One octet.
    Octet(u8),
    /// A signed word.
    Word(i16),
}

impl Resistance {
    /// The raw number.
    pub const fn raw(self) -> i16 {
        match self {
            Self::Octet(raw) => raw as i16,
            Self::Word(raw) => raw,
        }
    }

    /// The level on the trainer's own scale.
    pub fn level(self) -> Level {
        Level(f64::from(self.raw()) / 10.0)
    }

    /// The nearest level in one octet, held within it (0 to 25.5).
    pub fn octet(level: Level) -> Self {
        Self::Octet(raw(level.0, 10.0))
    }

    /// The nearest level in a signed word, held within it.
    pub fn word(level: Level) -> Self {
        Self::Word(raw(level.0, 10.0))
    }

    /// Its octets.
    pub fn encode(self) -> Vec<u8> {
        match self {
            Self::Octet(raw) => vec![raw],
            Self::Word(raw) => raw.to_le_bytes().to_vec(),
        }
    }

    pub(super) fn read(reader: &mut Reader<'_>, wide: bool) -> Result<Self, DecodeError> {
        const FIELD: &str = "resistance level";
        if wide {
            reader.i16(FIELD).map(Self::Word)
        } else {
            reader.u8(FIELD).map(Self::Octet)
        }
    }
}
