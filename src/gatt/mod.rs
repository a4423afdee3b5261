//! Codecs for the Bluetooth SIG's characteristics: bytes to values and back. No clock, no device.
//!
//! Each characteristic has a value type with `decode` beside `encode`. Decoders return on any octets; numbers that the
//! standard reserves are kept. For octets that a machine of today's standard would send, `encode(decode(b)) == b`;
//! reserved flags and surplus octets are ignored on decoding, as the profiles ask, and are not written again.

pub mod battery;
pub mod control_point;
pub mod cycling_power;
mod describe;
pub mod fitness_machine;
pub mod heart_rate;
pub mod indoor_bike_data;
pub mod resistance;
pub mod revolutions;
pub mod speed_and_cadence;
pub mod status;
pub mod uuid16;
mod wire;

pub use battery::BatteryLevel;
pub use cycling_power::{CyclingPowerFeature, CyclingPowerMeasurement};
pub use describe::{DescribeError, describe};
pub use fitness_machine::{
    FitnessMachineFeature, MachineAdvertisement, PowerRange, ResistanceRange, TrainingStatus,
};
pub use heart_rate::HeartRateMeasurement;
pub use indoor_bike_data::{IndoorBikeData, RecordJoiner};
pub use resistance::Resistance;
pub use revolutions::{CrankCount, WheelCount};
pub use speed_and_cadence::{SpeedAndCadenceFeature, SpeedAndCadenceMeasurement};
pub use status::Status;
pub use uuid16::Uuid16;
pub use wire::DecodeError;
