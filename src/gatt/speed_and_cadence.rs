//! CSC Measurement (2A5B) and CSC Feature (2A5C): counts of wheel and crank.
//!
//! Bluetooth SIG, Cycling Speed and Cadence Service 1.0.

use super::revolutions::{CrankCount, WheelCount};
use super::wire::{DecodeError, Flagged, Reader, bit};

/// One measurement; both times in 1/1024 s. Reserved flags and surplus octets are ignored on decoding.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SpeedAndCadenceMeasurement {
    /// Wheel revolutions and the time of the last, 1/1024 s.
    pub wheel: Option<WheelCount>,
    /// Crank revolutions and the time of the last, 1/1024 s.
    pub crank: Option<CrankCount>,
}

impl SpeedAndCadenceMeasurement {
    /// Reads a measurement.
    ///
    /// # Errors
    /// [`DecodeError::Short`] where the octets end before a field that the flags announce.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new("CSC Measurement", bytes);
        let flags = u32::from(reader.u8("flags")?);
        Ok(Self {
            wheel: reader.when(bit(flags, 0), WheelCount::read)?,
            crank: reader.when(bit(flags, 1), CrankCount::read)?,
        })
    }

    /// The octets of this measurement.
    pub fn encode(&self) -> Vec<u8> {
        let mut record = Flagged::default();
        record.field(0, self.wheel.map(WheelCount::encode));
        record.field(1, self.crank.map(CrankCount::encode));
        record.with_narrow_flags()
    }
}

/// What a speed and cadence sensor says that it can do: 16 bits. Reserved bits are kept and mean nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SpeedAndCadenceFeature(pub u16);

impl SpeedAndCadenceFeature {
    /// Bit 0: wheel revolutions.
    pub const WHEEL_REVOLUTIONS: u16 = 1 << 0;
    /// Bit 1: crank revolutions.
    pub const CRANK_REVOLUTIONS: u16 = 1 << 1;

    /// Names of the bits from 0 on, in the words of the Bluetooth SIG.
    pub const NAMES: [&'static str; 3] = [
        "wheel revolution data",
        "crank revolution data",
        "multiple sensor locations",
    ];

    /// Reads the bits.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under two octets.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        Reader::new("CSC Feature", bytes)
            .u16("feature bits")
            .map(Self)
    }

    /// Its octets.
    pub fn encode(self) -> Vec<u8> {
        self.0.to_le_bytes().to_vec()
    }

    /// Whether all of these bits are set.
    pub const fn has(self, bits: u16) -> bool {
        self.0 & bits == bits
    }
}
