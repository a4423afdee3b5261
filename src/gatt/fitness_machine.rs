//! What a fitness machine says of itself: features (2ACC), ranges (2AD6, 2AD8), training status (2AD3) and the service
//! data of its advertisement.
//!
//! Bluetooth SIG, Fitness Machine Service 1.0, sections 3.1, 4.3, 4.10, 4.13 and 4.14.

use super::wire::{DecodeError, Reader, bit};
use crate::units::BrakeRange;

/// The two words of Fitness Machine Feature. Reserved bits (17 to 31 of both) are kept and mean nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FitnessMachineFeature {
    /// What the machine measures.
    pub machine: u32,
    /// Which targets it takes.
    pub targets: u32,
}

impl FitnessMachineFeature {
    /// Machine bit 1: cadence.
    pub const CADENCE: u32 = 1 << 1;
    /// Machine bit 2: total distance.
    pub const TOTAL_DISTANCE: u32 = 1 << 2;
    /// Machine bit 7: resistance level.
    pub const RESISTANCE_LEVEL: u32 = 1 << 7;
    /// Machine bit 9: expended energy.
    pub const EXPENDED_ENERGY: u32 = 1 << 9;
    /// Machine bit 10: heart rate.
    pub const HEART_RATE: u32 = 1 << 10;
    /// Machine bit 12: elapsed time.
    pub const ELAPSED_TIME: u32 = 1 << 12;
    /// Machine bit 14: power.
    pub const POWER_MEASUREMENT: u32 = 1 << 14;

    /// Target bit 2: resistance.
    pub const RESISTANCE_TARGET: u32 = 1 << 2;
    /// Target bit 3: power.
    pub const POWER_TARGET: u32 = 1 << 3;
    /// Target bit 13: indoor bike simulation.
    pub const SIMULATION: u32 = 1 << 13;
    /// Target bit 14: wheel circumference.
    pub const WHEEL_CIRCUMFERENCE: u32 = 1 << 14;
    /// Target bit 15: spin-down.
    pub const SPIN_DOWN: u32 = 1 << 15;
    /// Target bit 16: targeted cadence.
    pub const CADENCE_TARGET: u32 = 1 << 16;

    /// Names of the machine bits from 0 on.
    pub const MACHINE_NAMES: [&'static str; 17] = [
        "average speed",
        "cadence",
        "total distance",
        "inclination",
        "elevation gain",
        "pace",
        "step count",
        "resistance level",
        "stride count",
        "expended energy",
        "heart rate measurement",
        "metabolic equivalent",
        "elapsed time",
        "remaining time",
        "power measurement",
        "force on belt and power output",
        "user data retention",
    ];

    /// Names of the target bits from 0 on.
    pub const TARGET_NAMES: [&'static str; 17] = [
        "speed",
        "inclination",
        "resistance",
        "power",
        "heart rate",
        "expended energy",
        "step number",
        "stride number",
        "distance",
        "training time",
        "time in two heart rate zones",
        "time in three heart rate zones",
        "time in five heart rate zones",
        "indoor bike simulation",
        "wheel circumference",
        "spin-down",
        "cadence",
    ];

    /// Reads both words.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under eight octets.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new("Fitness Machine Feature", bytes);
        Ok(Self {
            machine: reader.u32("fitness machine features")?,
            targets: reader.u32("target setting features")?,
        })
    }

    /// Their octets.
    pub fn encode(self) -> Vec<u8> {
        [self.machine.to_le_bytes(), self.targets.to_le_bytes()].concat()
    }

    /// Whether the machine measures all of these.
    pub const fn measures(self, bits: u32) -> bool {
        self.machine & bits == bits
    }

    /// Whether the machine takes all of these targets.
    pub const fn takes(self, bits: u32) -> bool {
        self.targets & bits == bits
    }
}

/// Supported Power Range (2AD8): watts, raw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PowerRange {
    /// Least power, W.
    pub least: i16,
    /// Greatest power, W.
    pub most: i16,
    /// Step, W.
    pub step: u16,
}

impl PowerRange {
    /// Reads a range; surplus octets are ignored.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under six octets.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new("Supported Power Range", bytes);
        Ok(Self {
            least: reader.i16("minimum power")?,
            most: reader.i16("maximum power")?,
            step: reader.u16("minimum increment")?,
        })
    }

    /// Its octets.
    pub fn encode(self) -> Vec<u8> {
        [
            self.least.to_le_bytes(),
            self.most.to_le_bytes(),
            self.step.to_le_bytes(),
        ]
        .concat()
    }

    /// The range in watts.
    pub fn range(self) -> BrakeRange {
        BrakeRange {
            least: f64::from(self.least),
            most: f64::from(self.most),
            step: f64::from(self.step),
        }
    }
}

/// Supported Resistance Level Range (2AD6), raw, in units of 0.1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResistanceRange {
    /// Two signed words and a word: six octets, the form of 2017.
    Words {
        /// Least level.
        least: i16,
        /// Greatest level.
        most: i16,
        /// Step.
        step: u16,
    },
    /// Three octets, the form of later texts.
    Octets {
        /// Least level.
        least: u8,
        /// Greatest level.
        most: u8,
        /// Step.
        step: u8,
    },
}

impl ResistanceRange {
    /// Reads a range in either form: three octets exactly are the short one.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under three octets, and between four and five.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        const LEAST: &str = "minimum resistance level";
        const MOST: &str = "maximum resistance level";
        const STEP: &str = "minimum increment";
        let mut reader = Reader::new("Supported Resistance Level Range", bytes);
        if bytes.len() <= 3 {
            Ok(Self::Octets {
                least: reader.u8(LEAST)?,
                most: reader.u8(MOST)?,
                step: reader.u8(STEP)?,
            })
        } else {
            Ok(Self::Words {
                least: reader.i16(LEAST)?,
                most: reader.i16(MOST)?,
                step: reader.u16(STEP)?,
            })
        }
    }

    /// Its octets, in the same form.
    pub fn encode(self) -> Vec<u8> {
        match self {
            Self::Words { least, most, step } => {
                [least.to_le_bytes(), most.to_le_bytes(), step.to_le_bytes()].concat()
            }
            Self::Octets { least, most, step } => vec![least, most, step],
        }
    }

    /// The greatest level, raw.
    pub const fn raw_most(self) -> i16 {
        match self {
            Self::Words { most, .. } => most,
            Self::Octets { most, .. } => most as i16,
        }
    }

    /// The range in levels, the trainer's own scale.
    pub fn range(self) -> BrakeRange {
        let (least, most, step) = match self {
            Self::Words { least, most, step } => {
                (f64::from(least), f64::from(most), f64::from(step))
            }
            Self::Octets { least, most, step } => {
                (f64::from(least), f64::from(most), f64::from(step))
            }
        };
        BrakeRange {
            least: least / 10.0,
            most: most / 10.0,
            step: step / 10.0,
        }
    }
}

/// What a machine says that it is doing (2AD3).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrainingStatus {
    /// What it is doing.
    pub status: Training,
    /// Text of the machine, in the octets that came; from a stranger, not yet made safe to show.
    pub text: Option<Vec<u8>>,
    /// Whether there is more of the text than came: a long read gets all of it.
    pub text_goes_on: bool,
}

/// What a machine is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Training {
    /// 00: something that has no number.
    Unlisted,
    /// 01.
    Idle,
    /// 02.
    WarmingUp,
    /// 03.
    LowIntensityInterval,
    /// 04.
    HighIntensityInterval,
    /// 05.
    RecoveryInterval,
    /// 06.
    Isometric,
    /// 07.
    HeartRateControl,
    /// 08.
    FitnessTest,
    /// 09.
    SpeedTooLow,
    /// 0A.
    SpeedTooHigh,
    /// 0B.
    CoolDown,
    /// 0C: power is held.
    WattControl,
    /// 0D.
    Manual,
    /// 0E.
    BeforeWorkout,
    /// 0F.
    AfterWorkout,
    /// 10 to FF, reserved; kept.
    Other(u8),
}

impl Training {
    const LISTED: [(Self, &'static str); 16] = [
        (Self::Unlisted, "other"),
        (Self::Idle, "idle"),
        (Self::WarmingUp, "warming up"),
        (Self::LowIntensityInterval, "low intensity interval"),
        (Self::HighIntensityInterval, "high intensity interval"),
        (Self::RecoveryInterval, "recovery interval"),
        (Self::Isometric, "isometric"),
        (Self::HeartRateControl, "heart rate control"),
        (Self::FitnessTest, "fitness test"),
        (Self::SpeedTooLow, "speed outside of control region, low"),
        (Self::SpeedTooHigh, "speed outside of control region, high"),
        (Self::CoolDown, "cool down"),
        (Self::WattControl, "watt control"),
        (Self::Manual, "manual mode"),
        (Self::BeforeWorkout, "pre-workout"),
        (Self::AfterWorkout, "post-workout"),
    ];

    /// From its number.
    pub fn from_code(code: u8) -> Self {
        Self::LISTED
            .get(usize::from(code))
            .map_or(Self::Other(code), |&(status, _)| status)
    }

    /// Its number.
    pub fn code(self) -> u8 {
        match self {
            Self::Other(code) => code,
            listed => (0..)
                .zip(Self::LISTED)
                .find(|&(_, (status, _))| status == listed)
                .map_or(0, |(code, _)| code),
        }
    }

    /// In words; "unknown" for a reserved number.
    pub fn words(self) -> &'static str {
        Self::LISTED
            .get(usize::from(self.code()))
            .map_or("unknown", |&(_, words)| words)
    }
}

impl TrainingStatus {
    /// Reads a status. Reserved flags (2 to 7) are ignored, and so are surplus octets where no text is announced.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under two octets.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new("Training Status", bytes);
        let flags = u32::from(reader.u8("flags")?);
        let status = Training::from_code(reader.u8("training status")?);
        let has_text = bit(flags, 0) || bit(flags, 1);
        Ok(Self {
            status,
            text: has_text.then(|| reader.rest().to_vec()),
            text_goes_on: bit(flags, 1),
        })
    }

    /// Its octets.
    pub fn encode(&self) -> Vec<u8> {
        let flags =
            u8::from(self.text.is_some() && !self.text_goes_on) | u8::from(self.text_goes_on) << 1;
        [
            &[flags, self.status.code()],
            self.text.as_deref().unwrap_or_default(),
        ]
        .concat()
    }
}

/// The service data of a fitness machine's advertisement, without the service's number in front.
///
/// Reserved flags (1 to 7) and types (6 to 15) are kept and mean nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MachineAdvertisement {
    /// Flags; bit 0: the machine can be connected to.
    pub flags: u8,
    /// Machine types; bit 5: indoor bike.
    pub types: u16,
}

impl MachineAdvertisement {
    /// Names of the type bits from 0 on.
    pub const TYPE_NAMES: [&'static str; 6] = [
        "treadmill",
        "cross trainer",
        "step climber",
        "stair climber",
        "rower",
        "indoor bike",
    ];

    /// An indoor bike.
    pub const fn indoor_bike(available: bool) -> Self {
        Self {
            flags: available as u8,
            types: 1 << 5,
        }
    }

    /// Reads service data such as `012000`; surplus octets are ignored.
    ///
    /// # Errors
    /// [`DecodeError::Short`] under three octets. A caller treats that as service data that says nothing.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut reader = Reader::new("Fitness Machine service data", bytes);
        Ok(Self {
            flags: reader.u8("flags")?,
            types: reader.u16("fitness machine type")?,
        })
    }

    /// Its octets.
    pub fn encode(self) -> Vec<u8> {
        let [low, high] = self.types.to_le_bytes();
        vec![self.flags, low, high]
    }

    /// Whether the machine can be connected to now.
    pub const fn is_available(self) -> bool {
        self.flags & 1 == 1
    }

    /// Whether it is, among other things, an indoor bike.
    pub const fn is_indoor_bike(self) -> bool {
        self.types >> 5 & 1 == 1
    }
}
