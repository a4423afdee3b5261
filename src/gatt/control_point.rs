//! Fitness Machine Control Point (2AD9): requests that are written, and the responses that are indicated.
//!
//! Bluetooth SIG, Fitness Machine Service 1.0, section 4.16.

use super::resistance::Resistance;
use super::wire::{DecodeError, Reader, raw};
use crate::units::{BrakeTarget, Grade, Watts};

const NAME: &str = "Fitness Machine Control Point";

/// Op codes.
pub mod op {
    /// Request control.
    pub const REQUEST_CONTROL: u8 = 0x00;
    /// Reset.
    pub const RESET: u8 = 0x01;
    /// Set target speed.
    pub const SPEED: u8 = 0x02;
    /// Set target inclination.
    pub const INCLINATION: u8 = 0x03;
    /// Set target resistance level.
    pub const RESISTANCE: u8 = 0x04;
    /// Set target power.
    pub const POWER: u8 = 0x05;
    /// Set target heart rate.
    pub const HEART_RATE: u8 = 0x06;
    /// Start or resume.
    pub const START_OR_RESUME: u8 = 0x07;
    /// Stop or pause.
    pub const STOP_OR_PAUSE: u8 = 0x08;
    /// Set indoor bike simulation parameters.
    pub const SIMULATION: u8 = 0x11;
    /// Set wheel circumference.
    pub const WHEEL_CIRCUMFERENCE: u8 = 0x12;
    /// Spin-down control.
    pub const SPIN_DOWN: u8 = 0x13;
    /// Set targeted cadence.
    pub const CADENCE: u8 = 0x14;
    /// Response.
    pub const RESPONSE: u8 = 0x80;
}

/// What is asked of the machine. Parameters are the raw numbers of the wire.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Request {
    /// 00: control, for this connection.
    RequestControl,
    /// 01: targets to their defaults, times to zero, control given up.
    Reset,
    /// 02: speed, 0.01 km/h.
    Speed(u16),
    /// 03: inclination, 0.1 %.
    Inclination(i16),
    /// 04: resistance level.
    Resistance(Resistance),
    /// 05: power, W.
    Power(i16),
    /// 06: heart rate, bpm.
    HeartRate(u8),
    /// 07.
    StartOrResume,
    /// 08.
    StopOrPause(Halt),
    /// 11: wind, slope and losses of a road. It carries no mass.
    Simulation(Simulation),
    /// 12: wheel circumference, 0.1 mm.
    WheelCircumference(u16),
    /// 13.
    SpinDown(SpinDown),
    /// 14: cadence, 0.5 rpm.
    Cadence(u16),
    /// Any other op code, with its parameters as they came. Never sent by this program.
    Other {
        /// The op code.
        op: u8,
        /// What followed.
        parameters: Vec<u8>,
    },
}

/// Whether to stop or to pause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Halt {
    /// 1.
    Stop,
    /// 2.
    Pause,
    /// Reserved; kept.
    Other(u8),
}

impl Halt {
    /// From its number.
    pub const fn from_code(code: u8) -> Self {
        match code {
            1 => Self::Stop,
            2 => Self::Pause,
            other => Self::Other(other),
        }
    }

    /// Its number.
    pub const fn code(self) -> u8 {
        match self {
            Self::Stop => 1,
            Self::Pause => 2,
            Self::Other(code) => code,
        }
    }
}

/// What to do about a spin-down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpinDown {
    /// 1.
    Start,
    /// 2.
    Ignore,
    /// Reserved; kept.
    Other(u8),
}

impl SpinDown {
    /// From its number.
    pub const fn from_code(code: u8) -> Self {
        match code {
            1 => Self::Start,
            2 => Self::Ignore,
            other => Self::Other(other),
        }
    }

    /// Its number.
    pub const fn code(self) -> u8 {
        match self {
            Self::Start => 1,
            Self::Ignore => 2,
            Self::Other(code) => code,
        }
    }
}

/// The road that an indoor bike imitates, raw. All four are sent each time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Simulation {
    /// Head wind, 0.001 m/s.
    pub wind: i16,
    /// Slope, 0.01 %.
    pub grade: i16,
    /// Coefficient of rolling resistance, 0.0001.
    pub rolling: u8,
    /// Wind resistance coefficient, 0.01 kg/m.
    pub drag: u8,
}

impl Simulation {
    /// This slope in still air, on tarmac and in an upright seat: rolling resistance 0.0040, drag 0.51 kg/m (the
    /// figures usual for a road bicycle; common practice).
    pub fn of_slope(grade: Grade) -> Self {
        Self {
            wind: 0,
            grade: raw(grade.0, 100.0),
            rolling: 40,
            drag: 51,
        }
    }

    /// The slope.
    pub fn grade(self) -> Grade {
        Grade(f64::from(self.grade) / 100.0)
    }

    pub(super) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(Self {
            wind: reader.i16("wind speed")?,
            grade: reader.i16("grade")?,
            rolling: reader.u8("coefficient of rolling resistance")?,
            drag: reader.u8("wind resistance coefficient")?,
        })
    }

    pub(super) fn encode(self) -> Vec<u8> {
        [
            self.wind.to_le_bytes(),
            self.grade.to_le_bytes(),
            [self.rolling, self.drag],
        ]
        .concat()
    }
}

impl Request {
    /// Power of a target, to the nearest watt and held within the field.
    pub fn power(power: Watts) -> Self {
        Self::Power(raw(power.0, 1.0))
    }

    /// The request that asks for a target. A resistance level is a signed word where `wide`, and an octet otherwise.
    pub fn target(target: BrakeTarget, wide: bool) -> Self {
        match target {
            BrakeTarget::Power(power) => Self::power(power),
            BrakeTarget::Resistance(level) if wide => Self::Resistance(Resistance::word(level)),
            BrakeTarget::Resistance(level) => Self::Resistance(Resistance::octet(level)),
            BrakeTarget::Slope(grade) => Self::Simulation(Simulation::of_slope(grade)),
        }
    }

    /// Its op code.
    pub const fn op(&self) -> u8 {
        match self {
            Self::RequestControl => op::REQUEST_CONTROL,
            Self::Reset => op::RESET,
            Self::Speed(_) => op::SPEED,
            Self::Inclination(_) => op::INCLINATION,
            Self::Resistance(_) => op::RESISTANCE,
            Self::Power(_) => op::POWER,
            Self::HeartRate(_) => op::HEART_RATE,
            Self::StartOrResume => op::START_OR_RESUME,
            Self::StopOrPause(_) => op::STOP_OR_PAUSE,
            Self::Simulation(_) => op::SIMULATION,
            Self::WheelCircumference(_) => op::WHEEL_CIRCUMFERENCE,
            Self::SpinDown(_) => op::SPIN_DOWN,
            Self::Cadence(_) => op::CADENCE,
            Self::Other { op, .. } => *op,
        }
    }

    /// Reads a request, as a machine does. A resistance level of one octet is short, of two or more is wide.
    ///
    /// # Errors
    /// [`DecodeError::Short`] where the op code or a parameter is not whole.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new(NAME, bytes);
        Ok(match reader.u8("op code")? {
            op::REQUEST_CONTROL => Self::RequestControl,
            op::RESET => Self::Reset,
            op::SPEED => Self::Speed(reader.u16("target speed")?),
            op::INCLINATION => Self::Inclination(reader.i16("target inclination")?),
            op::RESISTANCE => Self::Resistance(Resistance::read(&mut reader, bytes.len() > 2)?),
            op::POWER => Self::Power(reader.i16("target power")?),
            op::HEART_RATE => Self::HeartRate(reader.u8("target heart rate")?),
            op::START_OR_RESUME => Self::StartOrResume,
            op::STOP_OR_PAUSE => {
                Self::StopOrPause(Halt::from_code(reader.u8("control information")?))
            }
            op::SIMULATION => Self::Simulation(Simulation::read(&mut reader)?),
            op::WHEEL_CIRCUMFERENCE => Self::WheelCircumference(reader.u16("wheel circumference")?),
            op::SPIN_DOWN => Self::SpinDown(SpinDown::from_code(reader.u8("control parameter")?)),
            op::CADENCE => Self::Cadence(reader.u16("targeted cadence")?),
            op => Self::Other {
                op,
                parameters: reader.rest().to_vec(),
            },
        })
    }

    /// Its octets, in the exact sizes that the standard gives.
    pub fn encode(&self) -> Vec<u8> {
        let parameters = match self {
            Self::RequestControl | Self::Reset | Self::StartOrResume => Vec::new(),
            Self::Speed(word) | Self::WheelCircumference(word) | Self::Cadence(word) => {
                word.to_le_bytes().to_vec()
            }
            Self::Inclination(word) | Self::Power(word) => word.to_le_bytes().to_vec(),
            Self::Resistance(level) => level.encode(),
            Self::HeartRate(rate) => vec![*rate],
            Self::StopOrPause(halt) => vec![halt.code()],
            Self::Simulation(road) => road.encode(),
            Self::SpinDown(action) => vec![action.code()],
            Self::Other { parameters, .. } => parameters.clone(),
        };
        [&[self.op()], parameters.as_slice()].concat()
    }
}

/// How a procedure ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResultCode {
    /// 01.
    Success,
    /// 02: the machine does not know the op code.
    NotSupported,
    /// 03: a parameter is outside what the machine accepts.
    InvalidParameter,
    /// 04: for any other reason; also to a start when running and a stop when stopped.
    Failed,
    /// 05: this client does not hold control.
    NotPermitted,
    /// Reserved; kept, and never a success.
    Other(u8),
}

impl ResultCode {
    /// From its number.
    pub const fn from_code(code: u8) -> Self {
        match code {
            1 => Self::Success,
            2 => Self::NotSupported,
            3 => Self::InvalidParameter,
            4 => Self::Failed,
            5 => Self::NotPermitted,
            other => Self::Other(other),
        }
    }

    /// Its number.
    pub const fn code(self) -> u8 {
        match self {
            Self::Success => 1,
            Self::NotSupported => 2,
            Self::InvalidParameter => 3,
            Self::Failed => 4,
            Self::NotPermitted => 5,
            Self::Other(code) => code,
        }
    }

    /// In the words of the standard.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Success => "success",
            Self::NotSupported => "op code not supported",
            Self::InvalidParameter => "invalid parameter",
            Self::Failed => "operation failed",
            Self::NotPermitted => "control not permitted",
            Self::Other(_) => "a reserved result",
        }
    }
}

/// The machine's answer to a request.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Response {
    /// The op code that is answered.
    pub op: u8,
    /// How it ended.
    pub result: ResultCode,
    /// What followed: speeds after a spin-down, nothing otherwise.
    pub parameters: Vec<u8>,
}

/// The speeds that a spin-down asks for, raw, 0.01 km/h.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SpinDownSpeeds {
    /// The lower.
    pub low: u16,
    /// The higher.
    pub high: u16,
}

impl Response {
    /// An answer without parameters.
    pub const fn new(op: u8, result: ResultCode) -> Self {
        Self {
            op,
            result,
            parameters: Vec::new(),
        }
    }

    /// The success of a spin-down request, with the speeds to ride at.
    pub fn spin_down(speeds: SpinDownSpeeds) -> Self {
        Self {
            op: op::SPIN_DOWN,
            result: ResultCode::Success,
            parameters: [speeds.low.to_le_bytes(), speeds.high.to_le_bytes()].concat(),
        }
    }

    /// Reads an indication.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under three octets, [`DecodeError::Unexpected`] where the first is not 80.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new(NAME, bytes);
        match reader.u8("response code")? {
            op::RESPONSE => Ok(Self {
                op: reader.u8("request op code")?,
                result: ResultCode::from_code(reader.u8("result code")?),
                parameters: reader.rest().to_vec(),
            }),
            found => Err(DecodeError::Unexpected {
                characteristic: NAME,
                field: "response code",
                found,
            }),
        }
    }

    /// Its octets.
    pub fn encode(&self) -> Vec<u8> {
        [
            &[op::RESPONSE, self.op, self.result.code()],
            self.parameters.as_slice(),
        ]
        .concat()
    }

    /// The speeds of a successful spin-down, where it gives both.
    pub fn spin_down_speeds(&self) -> Option<SpinDownSpeeds> {
        match (self.op, self.result, self.parameters.as_slice()) {
            (op::SPIN_DOWN, ResultCode::Success, &[a, b, c, d, ..]) => Some(SpinDownSpeeds {
                low: u16::from_le_bytes([a, b]),
                high: u16::from_le_bytes([c, d]),
            }),
            _ => None,
        }
    }
}
