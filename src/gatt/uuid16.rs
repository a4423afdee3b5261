//! The services and characteristics that the program knows, from the Bluetooth SIG's assigned numbers.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A 16-bit UUID assigned by the Bluetooth SIG. Services and characteristics with longer ones are makers' own and are
/// passed over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Uuid16(pub u16);

impl fmt::Display for Uuid16 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04X}", self.0)
    }
}

/// Fitness Machine service.
pub const FITNESS_MACHINE: Uuid16 = Uuid16(0x1826);
/// Fitness Machine Feature, read.
pub const FITNESS_MACHINE_FEATURE: Uuid16 = Uuid16(0x2ACC);
/// Indoor Bike Data, notify.
pub const INDOOR_BIKE_DATA: Uuid16 = Uuid16(0x2AD2);
/// Training Status, read and notify.
pub const TRAINING_STATUS: Uuid16 = Uuid16(0x2AD3);
/// Supported Resistance Level Range, read.
pub const RESISTANCE_RANGE: Uuid16 = Uuid16(0x2AD6);
/// Supported Power Range, read.
pub const POWER_RANGE: Uuid16 = Uuid16(0x2AD8);
/// Fitness Machine Control Point, write and indicate.
pub const CONTROL_POINT: Uuid16 = Uuid16(0x2AD9);
/// Fitness Machine Status, notify.
pub const FITNESS_MACHINE_STATUS: Uuid16 = Uuid16(0x2ADA);
/// Cycling Power service.
pub const CYCLING_POWER: Uuid16 = Uuid16(0x1818);
/// Cycling Power Measurement, notify.
pub const CYCLING_POWER_MEASUREMENT: Uuid16 = Uuid16(0x2A63);
/// Cycling Power Feature, read.
pub const CYCLING_POWER_FEATURE: Uuid16 = Uuid16(0x2A65);
/// Cycling Speed and Cadence service.
pub const SPEED_AND_CADENCE: Uuid16 = Uuid16(0x1816);
/// CSC Measurement, notify.
pub const SPEED_AND_CADENCE_MEASUREMENT: Uuid16 = Uuid16(0x2A5B);
/// CSC Feature, read.
pub const SPEED_AND_CADENCE_FEATURE: Uuid16 = Uuid16(0x2A5C);
/// Heart Rate service.
pub const HEART_RATE: Uuid16 = Uuid16(0x180D);
/// Heart Rate Measurement, notify.
pub const HEART_RATE_MEASUREMENT: Uuid16 = Uuid16(0x2A37);
/// Battery service.
pub const BATTERY: Uuid16 = Uuid16(0x180F);
/// Battery Level, read and notify.
pub const BATTERY_LEVEL: Uuid16 = Uuid16(0x2A19);
/// Device Information service.
pub const DEVICE_INFORMATION: Uuid16 = Uuid16(0x180A);
