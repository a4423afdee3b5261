//! Fitness Machine Status (2ADA): what changed on the machine, by its user or by another client.
//!
//! Bluetooth SIG, Fitness Machine Service 1.0, section 4.17. A change made by this client is reported to the others
//! only, so nothing here is an echo of a command.

use super::control_point::{Halt, Simulation};
use super::resistance::Resistance;
use super::wire::{DecodeError, Reader, u24_bytes};
use crate::units::{BrakeTarget, Watts};

/// One report. Parameters are the raw numbers of the wire; surplus octets are ignored on decoding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Status {
    /// 01.
    Reset,
    /// 02: by the user.
    StoppedOrPaused(Halt),
    /// 03.
    StoppedBySafetyKey,
    /// 04: by the user.
    StartedOrResumed,
    /// 05: 0.01 km/h.
    Speed(u16),
    /// 06: 0.1 %.
    Inclination(i16),
    /// 07.
    Resistance(Resistance),
    /// 08: W.
    Power(i16),
    /// 09: bpm.
    HeartRate(u8),
    /// 0A: kcal.
    Energy(u16),
    /// 0B.
    Steps(u16),
    /// 0C.
    Strides(u16),
    /// 0D: m, 24 bits.
    Distance(u32),
    /// 0E: s.
    TrainingTime(u16),
    /// 0F: s in each zone.
    TwoZones([u16; 2]),
    /// 10: s in each zone.
    ThreeZones([u16; 3]),
    /// 11: s in each zone.
    FiveZones([u16; 5]),
    /// 12.
    Simulation(Simulation),
    /// 13: 0.1 mm.
    WheelCircumference(u16),
    /// 14.
    SpinDown(SpinDownStatus),
    /// 15: 0.5 rpm.
    Cadence(u16),
    /// FF: this client no longer holds control.
    ControlLost,
    /// 00 and 16 to FE, reserved; kept.
    Other {
        /// The code.
        code: u8,
        /// What followed.
        parameters: Vec<u8>,
    },
}

/// How a spin-down stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpinDownStatus {
    /// 1: the machine asks for one.
    Requested,
    /// 2.
    Success,
    /// 3.
    Error,
    /// 4: the rider is to stop pedalling.
    StopPedalling,
    /// Reserved; kept.
    Other(u8),
}

impl SpinDownStatus {
    /// From its number.
    pub const fn from_code(code: u8) -> Self {
        match code {
            1 => Self::Requested,
            2 => Self::Success,
            3 => Self::Error,
            4 => Self::StopPedalling,
            other => Self::Other(other),
        }
    }

    /// Its number.
    pub const fn code(self) -> u8 {
        match self {
            Self::Requested => 1,
            Self::Success => 2,
            Self::Error => 3,
            Self::StopPedalling => 4,
            Self::Other(code) => code,
        }
    }
}

fn words<const N: usize>(reader: &mut Reader<'_>) -> Result<[u16; N], DecodeError> {
    let mut all = [0; N];
    for word in &mut all {
        *word = reader.u16("targeted time in zone")?;
    }
    Ok(all)
}

impl Status {
    /// Reads a report. A resistance level of one octet is short, of two or more is wide.
    ///
    /// # Errors
    /// [`DecodeError::Short`] where the code or a parameter is not whole.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new("Fitness Machine Status", bytes);
        let r = &mut reader;
        Ok(match r.u8("op code")? {
            0x01 => Self::Reset,
            0x02 => Self::StoppedOrPaused(Halt::from_code(r.u8("control information")?)),
            0x03 => Self::StoppedBySafetyKey,
            0x04 => Self::StartedOrResumed,
            0x05 => Self::Speed(r.u16("target speed")?),
            0x06 => Self::Inclination(r.i16("target inclination")?),
            0x07 => Self::Resistance(Resistance::read(r, bytes.len() > 2)?),
            0x08 => Self::Power(r.i16("target power")?),
            0x09 => Self::HeartRate(r.u8("target heart rate")?),
            0x0A => Self::Energy(r.u16("targeted expended energy")?),
            0x0B => Self::Steps(r.u16("targeted number of steps")?),
            0x0C => Self::Strides(r.u16("targeted number of strides")?),
            0x0D => Self::Distance(r.u24("targeted distance")?),
            0x0E => Self::TrainingTime(r.u16("targeted training time")?),
            0x0F => Self::TwoZones(words(r)?),
            0x10 => Self::ThreeZones(words(r)?),
            0x11 => Self::FiveZones(words(r)?),
            0x12 => Self::Simulation(Simulation::read(r)?),
            0x13 => Self::WheelCircumference(r.u16("wheel circumference")?),
            0x14 => Self::SpinDown(SpinDownStatus::from_code(r.u8("spin-down status")?)),
            0x15 => Self::Cadence(r.u16("targeted cadence")?),
            0xFF => Self::ControlLost,
            code => Self::Other {
                code,
                parameters: r.rest().to_vec(),
            },
        })
    }

    /// Its code.
    pub const fn code(&self) -> u8 {
        match self {
            Self::Reset => 0x01,
            Self::StoppedOrPaused(_) => 0x02,
            Self::StoppedBySafetyKey => 0x03,
            Self::StartedOrResumed => 0x04,
            Self::Speed(_) => 0x05,
            Self::Inclination(_) => 0x06,
            Self::Resistance(_) => 0x07,
            Self::Power(_) => 0x08,
            Self::HeartRate(_) => 0x09,
            Self::Energy(_) => 0x0A,
            Self::Steps(_) => 0x0B,
            Self::Strides(_) => 0x0C,
            Self::Distance(_) => 0x0D,
            Self::TrainingTime(_) => 0x0E,
            Self::TwoZones(_) => 0x0F,
            Self::ThreeZones(_) => 0x10,
            Self::FiveZones(_) => 0x11,
            Self::Simulation(_) => 0x12,
            Self::WheelCircumference(_) => 0x13,
            Self::SpinDown(_) => 0x14,
            Self::Cadence(_) => 0x15,
            Self::ControlLost => 0xFF,
            Self::Other { code, .. } => *code,
        }
    }

    /// Its octets.
    pub fn encode(&self) -> Vec<u8> {
        let zones = |all: &[u16]| all.iter().flat_map(|word| word.to_le_bytes()).collect();
        let parameters: Vec<u8> = match self {
            Self::Reset | Self::StoppedBySafetyKey | Self::StartedOrResumed | Self::ControlLost => {
                Vec::new()
            }
            Self::StoppedOrPaused(halt) => vec![halt.code()],
            Self::Inclination(word) | Self::Power(word) => word.to_le_bytes().to_vec(),
            Self::Speed(word)
            | Self::Energy(word)
            | Self::Steps(word)
            | Self::Strides(word)
            | Self::TrainingTime(word)
            | Self::WheelCircumference(word)
            | Self::Cadence(word) => word.to_le_bytes().to_vec(),
            Self::Resistance(level) => level.encode(),
            Self::HeartRate(rate) => vec![*rate],
            Self::Distance(metres) => u24_bytes(*metres).to_vec(),
            Self::TwoZones(all) => zones(all),
            Self::ThreeZones(all) => zones(all),
            Self::FiveZones(all) => zones(all),
            Self::Simulation(road) => road.encode(),
            Self::SpinDown(status) => vec![status.code()],
            Self::Other { parameters, .. } => parameters.clone(),
        };
        [&[self.code()], parameters.as_slice()].concat()
    }

    /// The brake target that was set by someone else, where the report is of one.
    pub fn target(&self) -> Option<BrakeTarget> {
        match self {
            Self::Resistance(level) => Some(BrakeTarget::Resistance(level.level())),
            Self::Power(watts) => Some(BrakeTarget::Power(Watts(f64::from(*watts)))),
            Self::Simulation(road) => Some(BrakeTarget::Slope(road.grade())),
            _ => None,
        }
    }
}
