//! Heart Rate Measurement (2A37).
//!
//! Bluetooth SIG, Heart Rate Service 1.0, section 3.1.

use super::wire::{DecodeError, Flagged, Reader, bit, raw};
use crate::units::Bpm;

/// Whether the strap feels skin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Contact {
    /// The strap cannot tell.
    #[default]
    NotSupported,
    /// The strap can tell, and there is none: its rate is not to be shown.
    Lost,
    /// The strap can tell, and there is contact.
    Held,
}

/// One measurement.
///
/// Reserved flags (5 to 7), an odd octet after the intervals and surplus octets are ignored on decoding. On encoding
/// the rate takes one octet where it fits.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HeartRateMeasurement {
    /// The rate as sent, bpm. See [`shown`](Self::shown) for what may be used.
    pub rate: u16,
    /// Contact with the skin.
    pub contact: Contact,
    /// Energy since the last reset, kJ; stays at FFFF when full. Only in some records.
    pub energy: Option<u16>,
    /// Times between beats, 1/1024 s, oldest first. As many as came: never more than the octets of one value allow.
    pub intervals: Vec<u16>,
}

impl HeartRateMeasurement {
    /// Reads a measurement.
    ///
    /// # Errors
    /// [`DecodeError::Short`] where the octets end before a field that the flags announce.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new("Heart Rate Measurement", bytes);
        let flags = u32::from(reader.u8("flags")?);
        Ok(Self {
            rate: if bit(flags, 0) {
                reader.u16("heart rate measurement value")?
            } else {
                u16::from(reader.u8("heart rate measurement value")?)
            },
            contact: match flags >> 1 & 0b11 {
                2 => Contact::Lost,
                3 => Contact::Held,
                _ => Contact::NotSupported,
            },
            energy: reader.when(bit(flags, 3), |r| r.u16("energy expended"))?,
            intervals: if bit(flags, 4) {
                reader
                    .rest()
                    .chunks_exact(2)
                    .map(|pair| u16::from_le_bytes([pair[0], pair[1]]))
                    .collect()
            } else {
                Vec::new()
            },
        })
    }

    /// The octets of this measurement.
    pub fn encode(&self) -> Vec<u8> {
        let mut record = Flagged::default();
        if let Ok(narrow) = u8::try_from(self.rate) {
            record.always(&[narrow]);
        } else {
            record.field(0, Some(self.rate.to_le_bytes()));
        }
        record.flag(1, self.contact == Contact::Held);
        record.flag(2, self.contact != Contact::NotSupported);
        record.field(3, self.energy.map(u16::to_le_bytes));
        for interval in &self.intervals {
            record.field(4, Some(interval.to_le_bytes()));
        }
        record.with_narrow_flags()
    }

    /// A measurement of this rate with contact, rounded to 1 bpm.
    pub fn of(rate: Bpm) -> Self {
        Self {
            rate: raw(rate.0, 1.0),
            contact: Contact::Held,
            ..Self::default()
        }
    }

    /// The rate that may be shown and used: none without contact, and none for the 0 that straps send before they
    /// have found a beat (common practice).
    pub fn shown(&self) -> Option<Bpm> {
        (self.contact != Contact::Lost && self.rate != 0).then(|| Bpm(f64::from(self.rate)))
    }

    /// The times between beats in milliseconds, oldest first.
    pub fn intervals_ms(&self) -> impl Iterator<Item = f64> + '_ {
        self.intervals
            .iter()
            .map(|&raw| f64::from(raw) * 1000.0 / 1024.0)
    }
}
