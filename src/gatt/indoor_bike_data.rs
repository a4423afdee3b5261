//! Indoor Bike Data (2AD2): what the trainer measures, about once a second.
//!
//! Fitness Machine Service 1.0, section 4.9. A record may come in parts: all but the last carry the flag *More Data*,
//! and only the last carries the speed. [`RecordJoiner`] puts the parts together.

use super::resistance::Resistance;
use super::wire::{DecodeError, Flagged, Reader, bit, raw, u24_bytes};
use crate::units::{Bpm, Metres, MetresPerSecond, Rpm, Watts};

const NAME: &str = "Indoor Bike Data";

/// One record, or one part of one. Fields hold the raw numbers of the wire; the methods give them in units.
///
/// Reserved flags (13 to 15) and surplus octets are ignored on decoding and never written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct IndoorBikeData {
    /// Instantaneous speed, 0.01 km/h. Absent means that *More Data* is set and further parts follow.
    pub speed: Option<u16>,
    /// Average speed, 0.01 km/h.
    pub average_speed: Option<u16>,
    /// Instantaneous cadence, 0.5 rpm.
    pub cadence: Option<u16>,
    /// Average cadence, 0.5 rpm.
    pub average_cadence: Option<u16>,
    /// Distance since the start of the machine's own session, metres; 24 bits.
    pub distance: Option<u32>,
    /// Resistance level on the trainer's own scale.
    pub resistance: Option<Resistance>,
    /// Instantaneous power, watts.
    pub power: Option<i16>,
    /// Average power, watts.
    pub average_power: Option<i16>,
    /// Expended energy.
    pub energy: Option<Energy>,
    /// Heart rate as received by the trainer, bpm.
    pub heart_rate: Option<u8>,
    /// Metabolic equivalent, 0.1.
    pub metabolic_equivalent: Option<u8>,
    /// Elapsed time of the machine's own session, seconds.
    pub elapsed: Option<u16>,
    /// Remaining time of the machine's own session, seconds.
    pub remaining: Option<u16>,
}

/// Expended energy, raw. All ones in a field mean "not available".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Energy {
    /// Total, kcal; FFFF is "not available".
    pub total: u16,
    /// Per hour, kcal; FFFF is "not available".
    pub per_hour: u16,
    /// Per minute, kcal; FF is "not available".
    pub per_minute: u8,
}

impl Energy {
    /// Total, kcal, where the machine has it.
    pub fn total_kcal(self) -> Option<u16> {
        (self.total != u16::MAX).then_some(self.total)
    }

    /// Per hour, kcal, where the machine has it.
    pub fn kcal_per_hour(self) -> Option<u16> {
        (self.per_hour != u16::MAX).then_some(self.per_hour)
    }

    /// Per minute, kcal, where the machine has it.
    pub fn kcal_per_minute(self) -> Option<u8> {
        (self.per_minute != u8::MAX).then_some(self.per_minute)
    }
}

impl IndoorBikeData {
    /// Reads a record or a part of one.
    ///
    /// The resistance level is one octet in later texts of the standard and two in the first; the total length tells
    /// which. So a two-octet record that lost exactly its last octet cannot be told from a whole one-octet record, nor
    /// a one-octet record with surplus octets from a two-octet record.
    ///
    /// # Errors
    /// [`DecodeError::Short`] where the octets end before a field that the flags announce.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new(NAME, bytes);
        let flags = u32::from(reader.u16("flags")?);
        let wide = bytes.len() > length(flags);
        Ok(Self {
            speed: reader.when(!bit(flags, 0), |r| r.u16("instantaneous speed"))?,
            average_speed: reader.when(bit(flags, 1), |r| r.u16("average speed"))?,
            cadence: reader.when(bit(flags, 2), |r| r.u16("instantaneous cadence"))?,
            average_cadence: reader.when(bit(flags, 3), |r| r.u16("average cadence"))?,
            distance: reader.when(bit(flags, 4), |r| r.u24("total distance"))?,
            resistance: reader.when(bit(flags, 5), |r| Resistance::read(r, wide))?,
            power: reader.when(bit(flags, 6), |r| r.i16("instantaneous power"))?,
            average_power: reader.when(bit(flags, 7), |r| r.i16("average power"))?,
            energy: reader.when(bit(flags, 8), |r| {
                Ok(Energy {
                    total: r.u16("total energy")?,
                    per_hour: r.u16("energy per hour")?,
                    per_minute: r.u8("energy per minute")?,
                })
            })?,
            heart_rate: reader.when(bit(flags, 9), |r| r.u8("heart rate"))?,
            metabolic_equivalent: reader.when(bit(flags, 10), |r| r.u8("metabolic equivalent"))?,
            elapsed: reader.when(bit(flags, 11), |r| r.u16("elapsed time"))?,
            remaining: reader.when(bit(flags, 12), |r| r.u16("remaining time"))?,
        })
    }

    /// The octets of this record. Without a speed it is a part with *More Data* set.
    pub fn encode(&self) -> Vec<u8> {
        let mut record = Flagged::default();
        match self.speed {
            Some(speed) => record.always(&speed.to_le_bytes()),
            None => record.flag(0, true),
        }
        record.field(1, self.average_speed.map(u16::to_le_bytes));
        record.field(2, self.cadence.map(u16::to_le_bytes));
        record.field(3, self.average_cadence.map(u16::to_le_bytes));
        record.field(4, self.distance.map(u24_bytes));
        match self.resistance {
            Some(Resistance::Octet(level)) => record.field(5, Some([level])),
            Some(Resistance::Word(level)) => record.field(5, Some(level.to_le_bytes())),
            None => {}
        }
        record.field(6, self.power.map(i16::to_le_bytes));
        record.field(7, self.average_power.map(i16::to_le_bytes));
        if let Some(energy) = self.energy {
            record.field(8, Some(energy.total.to_le_bytes()));
            record.always(&energy.per_hour.to_le_bytes());
            record.always(&[energy.per_minute]);
        }
        record.field(9, self.heart_rate.map(|rate| [rate]));
        record.field(10, self.metabolic_equivalent.map(|met| [met]));
        record.field(11, self.elapsed.map(u16::to_le_bytes));
        record.field(12, self.remaining.map(u16::to_le_bytes));
        record.with_wide_flags()
    }

    /// Whether further parts of the same record follow.
    pub const fn more_data(&self) -> bool {
        self.speed.is_none()
    }

    /// Speed, where present.
    pub fn speed(&self) -> Option<MetresPerSecond> {
        self.speed
            .map(|raw| MetresPerSecond::from_kmh(f64::from(raw) / 100.0))
    }

    /// Cadence, where present.
    pub fn cadence(&self) -> Option<Rpm> {
        self.cadence.map(|raw| Rpm(f64::from(raw) / 2.0))
    }

    /// Power, where present. It may be negative.
    pub fn power(&self) -> Option<Watts> {
        self.power.map(|raw| Watts(f64::from(raw)))
    }

    /// Distance, where present.
    pub fn distance(&self) -> Option<Metres> {
        self.distance.map(|raw| Metres(f64::from(raw)))
    }

    /// Heart rate, where present and not the 0 that many trainers send when no strap is heard (common practice).
    pub fn heart_rate(&self) -> Option<Bpm> {
        self.heart_rate
            .filter(|&raw| raw != 0)
            .map(|raw| Bpm(f64::from(raw)))
    }

    /// This record with a speed, rounded to 0.01 km/h and held within the field.
    #[must_use]
    pub fn with_speed(self, speed: MetresPerSecond) -> Self {
        Self {
            speed: Some(raw(speed.kmh(), 100.0)),
            ..self
        }
    }

    /// This record with a cadence, rounded to 0.5 rpm and held within the field.
    #[must_use]
    pub fn with_cadence(self, cadence: Rpm) -> Self {
        Self {
            cadence: Some(raw(cadence.0, 2.0)),
            ..self
        }
    }

    /// This record with a power, rounded to 1 W and held within the field.
    #[must_use]
    pub fn with_power(self, power: Watts) -> Self {
        Self {
            power: Some(raw(power.0, 1.0)),
            ..self
        }
    }

    /// This record with a distance, rounded to 1 m and held within 24 bits.
    #[must_use]
    pub fn with_distance(self, distance: Metres) -> Self {
        Self {
            distance: Some(raw::<u32>(distance.0, 1.0).min(0x00FF_FFFF)),
            ..self
        }
    }

    /// The fields of `later` where it has them, and of this record otherwise.
    fn joined_with(self, later: Self) -> Self {
        Self {
            speed: later.speed.or(self.speed),
            average_speed: later.average_speed.or(self.average_speed),
            cadence: later.cadence.or(self.cadence),
            average_cadence: later.average_cadence.or(self.average_cadence),
            distance: later.distance.or(self.distance),
            resistance: later.resistance.or(self.resistance),
            power: later.power.or(self.power),
            average_power: later.average_power.or(self.average_power),
            energy: later.energy.or(self.energy),
            heart_rate: later.heart_rate.or(self.heart_rate),
            metabolic_equivalent: later.metabolic_equivalent.or(self.metabolic_equivalent),
            elapsed: later.elapsed.or(self.elapsed),
            remaining: later.remaining.or(self.remaining),
        }
    }
}

/// The length of a record with these flags whose resistance level, if any, is one octet.
fn length(flags: u32) -> usize {
    // Octets of the field announced by each bit from 1 on.
    const OCTETS: [usize; 12] = [2, 2, 2, 3, 1, 2, 2, 5, 1, 1, 2, 2];
    let speed = if bit(flags, 0) { 0 } else { 2 };
    let others: usize = OCTETS
        .iter()
        .zip(1..)
        .filter(|&(_, number)| bit(flags, number))
        .map(|(octets, _)| octets)
        .sum();
    2 + speed + others
}

/// Puts the parts of a record together. Make a new one, or [`clear`](Self::clear) it, with every new link: a record
/// whose last part never came is dropped. It holds one unfinished record at most; parts that repeat a field replace it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RecordJoiner {
    unfinished: Option<IndoorBikeData>,
}

impl RecordJoiner {
    /// Takes a part, and gives the whole record when this was its last.
    pub fn put(&mut self, part: IndoorBikeData) -> Option<IndoorBikeData> {
        let so_far = self.unfinished.take().unwrap_or_default().joined_with(part);
        if part.more_data() {
            self.unfinished = Some(so_far);
            None
        } else {
            Some(so_far)
        }
    }

    /// Drops an unfinished record; to be called when the link is gone.
    pub fn clear(&mut self) {
        self.unfinished = None;
    }
}
