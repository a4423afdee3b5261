//! Cycling Power Measurement (2A63) and Cycling Power Feature (2A65).
//!
//! Bluetooth SIG, Cycling Power Service 1.1 and the GATT Specification Supplement.

use super::revolutions::{CrankCount, WheelCount};
use super::wire::{DecodeError, Flagged, Reader, bit, raw, u24_bytes};
use crate::units::Watts;

const NAME: &str = "Cycling Power Measurement";

/// The greatest and the least of a quantity over one turn of the crank, raw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extremes<T> {
    /// The greatest.
    pub most: T,
    /// The least.
    pub least: T,
}

/// One measurement. Fields hold the raw numbers of the wire.
///
/// Reserved flags (13 to 15) and surplus octets are ignored on decoding and never written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CyclingPowerMeasurement {
    /// Instantaneous power, watts.
    pub power: i16,
    /// Pedal power balance, 0.5 %: the share of the left pedal if [`balance_of_left`](Self::balance_of_left), and
    /// otherwise of a side that the meter does not know.
    pub balance: Option<u8>,
    /// Whether the balance is known to be the left pedal's.
    pub balance_of_left: bool,
    /// Accumulated torque, 1/32 Nm; wraps.
    pub torque: Option<u16>,
    /// Whether the torque is taken at the crank, and not at the wheel.
    pub torque_at_crank: bool,
    /// Wheel revolutions; the time of the last in **1/2048 s**.
    pub wheel: Option<WheelCount>,
    /// Crank revolutions; the time of the last in 1/1024 s.
    pub crank: Option<CrankCount>,
    /// Extreme forces, N.
    pub force: Option<Extremes<i16>>,
    /// Extreme torques, 1/32 Nm.
    pub extreme_torque: Option<Extremes<i16>>,
    /// Crank angles of the extremes, degrees; 12 bits each.
    pub angles: Option<Extremes<u16>>,
    /// Angle of the top dead spot, degrees.
    pub top_dead_spot: Option<u16>,
    /// Angle of the bottom dead spot, degrees.
    pub bottom_dead_spot: Option<u16>,
    /// Accumulated energy, kJ.
    pub energy: Option<u16>,
    /// Whether the meter asks for its offset to be compensated.
    pub offset_compensation: bool,
}

impl CyclingPowerMeasurement {
    /// Reads a measurement.
    ///
    /// # Errors
    /// [`DecodeError::Short`] where the octets end before a field that the flags announce.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new(NAME, bytes);
        let flags = u32::from(reader.u16("flags")?);
        Ok(Self {
            power: reader.i16("instantaneous power")?,
            balance: reader.when(bit(flags, 0), |r| r.u8("pedal power balance"))?,
            balance_of_left: bit(flags, 1),
            torque: reader.when(bit(flags, 2), |r| r.u16("accumulated torque"))?,
            torque_at_crank: bit(flags, 3),
            wheel: reader.when(bit(flags, 4), WheelCount::read)?,
            crank: reader.when(bit(flags, 5), CrankCount::read)?,
            force: reader.when(bit(flags, 6), |r| {
                Ok(Extremes {
                    most: r.i16("maximum force magnitude")?,
                    least: r.i16("minimum force magnitude")?,
                })
            })?,
            extreme_torque: reader.when(bit(flags, 7), |r| {
                Ok(Extremes {
                    most: r.i16("maximum torque magnitude")?,
                    least: r.i16("minimum torque magnitude")?,
                })
            })?,
            angles: reader.when(bit(flags, 8), |r| {
                let both = r.u24("extreme angles")?;
                Ok(Extremes {
                    most: (both & 0xFFF) as u16,
                    least: (both >> 12) as u16,
                })
            })?,
            top_dead_spot: reader.when(bit(flags, 9), |r| r.u16("top dead spot angle"))?,
            bottom_dead_spot: reader.when(bit(flags, 10), |r| r.u16("bottom dead spot angle"))?,
            energy: reader.when(bit(flags, 11), |r| r.u16("accumulated energy"))?,
            offset_compensation: bit(flags, 12),
        })
    }

    /// The octets of this measurement.
    pub fn encode(&self) -> Vec<u8> {
        let mut record = Flagged::default();
        record.always(&self.power.to_le_bytes());
        record.field(0, self.balance.map(|share| [share]));
        record.flag(1, self.balance_of_left);
        record.field(2, self.torque.map(u16::to_le_bytes));
        record.flag(3, self.torque_at_crank);
        record.field(4, self.wheel.map(WheelCount::encode));
        record.field(5, self.crank.map(CrankCount::encode));
        for (number, pair) in [(6, self.force), (7, self.extreme_torque)] {
            if let Some(pair) = pair {
                record.field(number, Some(pair.most.to_le_bytes()));
                record.always(&pair.least.to_le_bytes());
            }
        }
        record.field(
            8,
            self.angles.map(|angles| {
                u24_bytes(u32::from(angles.most & 0xFFF) | u32::from(angles.least & 0xFFF) << 12)
            }),
        );
        record.field(9, self.top_dead_spot.map(u16::to_le_bytes));
        record.field(10, self.bottom_dead_spot.map(u16::to_le_bytes));
        record.field(11, self.energy.map(u16::to_le_bytes));
        record.flag(12, self.offset_compensation);
        record.with_wide_flags()
    }

    /// A measurement of this power and nothing else, rounded to 1 W and held within the field.
    pub fn of(power: Watts) -> Self {
        Self {
            power: raw(power.0, 1.0),
            ..Self::default()
        }
    }

    /// Power. It may be negative.
    pub fn power(&self) -> Watts {
        Watts(f64::from(self.power))
    }

    /// The left pedal's share of the power in per cent, where the meter knows which side it measures.
    pub fn left_share_percent(&self) -> Option<f64> {
        self.balance
            .filter(|_| self.balance_of_left)
            .map(|share| f64::from(share) / 2.0)
    }
}

/// What a power meter says that it can do: 32 bits. Reserved bits are kept and mean nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CyclingPowerFeature(pub u32);

impl CyclingPowerFeature {
    /// Bit 0: pedal power balance.
    pub const PEDAL_POWER_BALANCE: u32 = 1 << 0;
    /// Bit 1: accumulated torque.
    pub const ACCUMULATED_TORQUE: u32 = 1 << 1;
    /// Bit 2: wheel revolutions.
    pub const WHEEL_REVOLUTIONS: u32 = 1 << 2;
    /// Bit 3: crank revolutions.
    pub const CRANK_REVOLUTIONS: u32 = 1 << 3;
    /// Bit 9: offset compensation can be asked for.
    pub const OFFSET_COMPENSATION: u32 = 1 << 9;

    /// Names of the bits from 0 on, in the words of the Bluetooth SIG.
    pub const NAMES: [&'static str; 20] = [
        "pedal power balance",
        "accumulated torque",
        "wheel revolution data",
        "crank revolution data",
        "extreme magnitudes",
        "extreme angles",
        "top and bottom dead spot angles",
        "accumulated energy",
        "offset compensation indicator",
        "offset compensation",
        "cycling power measurement characteristic content masking",
        "multiple sensor locations",
        "crank length adjustment",
        "chain length adjustment",
        "chain weight adjustment",
        "span length adjustment",
        "sensor measurement context: torque",
        "instantaneous measurement direction",
        "factory calibration date",
        "enhanced offset compensation procedure",
    ];

    /// Reads the bits.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under four octets.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        Reader::new("Cycling Power Feature", bytes)
            .u32("feature bits")
            .map(Self)
    }

    /// Its octets.
    pub fn encode(self) -> Vec<u8> {
        self.0.to_le_bytes().to_vec()
    }

    /// Whether all of these bits are set.
    pub const fn has(self, bits: u32) -> bool {
        self.0 & bits == bits
    }
}
