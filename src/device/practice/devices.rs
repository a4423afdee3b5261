//! The three practice devices as they look on the air: names, services, characteristics, and what is read from them.

use crate::device::{Advertisement, DeviceId};
use crate::gatt::uuid16::{
    CONTROL_POINT, CYCLING_POWER, CYCLING_POWER_FEATURE, CYCLING_POWER_MEASUREMENT,
    FITNESS_MACHINE, FITNESS_MACHINE_FEATURE, FITNESS_MACHINE_STATUS, HEART_RATE,
    HEART_RATE_MEASUREMENT, INDOOR_BIKE_DATA, POWER_RANGE, RESISTANCE_RANGE,
};
use crate::gatt::{CyclingPowerFeature, FitnessMachineFeature, MachineAdvertisement, Uuid16};

use super::config::TrainerParameters;
use super::spin_down::SpinDownManner;

/// The address of the practice trainer.
pub const TRAINER: &str = "practice:trainer";
/// The address of the practice heart strap.
pub const HEART: &str = "practice:heart";
/// The address of the practice power meter.
pub const METER: &str = "practice:meter";
/// What the addresses of practice devices begin with.
pub const PREFIX: &str = crate::device::SIMULATED;

/// One of the practice devices.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Device {
    /// The trainer.
    Trainer,
    /// The heart strap.
    Heart,
    /// The power meter in the cranks.
    Meter,
}

/// What can be done with a characteristic.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Read.
    Read,
    /// Subscribe to notifications.
    Notify,
    /// Write with response, and subscribe to indications.
    WriteIndicate,
}

/// A service, a characteristic of it, and what can be done with it.
pub type Characteristic = (Uuid16, Uuid16, Access);

impl Device {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Trainer, Self::Heart, Self::Meter];

    /// The device at an address.
    pub fn at(id: &DeviceId) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|device| device.address() == id.as_str())
    }

    /// Its address.
    pub const fn address(self) -> &'static str {
        match self {
            Self::Trainer => TRAINER,
            Self::Heart => HEART,
            Self::Meter => METER,
        }
    }

    /// Its address as the seam carries it.
    pub fn id(self) -> DeviceId {
        DeviceId::new(self.address())
    }

    /// The characteristic that carries its measurements.
    pub const fn measurement(self) -> Uuid16 {
        match self {
            Self::Trainer => INDOOR_BIKE_DATA,
            Self::Heart => HEART_RATE_MEASUREMENT,
            Self::Meter => CYCLING_POWER_MEASUREMENT,
        }
    }

    /// Its characteristics.
    pub const fn characteristics(self) -> &'static [Characteristic] {
        match self {
            Self::Trainer => &[
                (FITNESS_MACHINE, FITNESS_MACHINE_FEATURE, Access::Read),
                (FITNESS_MACHINE, INDOOR_BIKE_DATA, Access::Notify),
                (FITNESS_MACHINE, RESISTANCE_RANGE, Access::Read),
                (FITNESS_MACHINE, POWER_RANGE, Access::Read),
                (FITNESS_MACHINE, CONTROL_POINT, Access::WriteIndicate),
                (FITNESS_MACHINE, FITNESS_MACHINE_STATUS, Access::Notify),
            ],
            Self::Heart => &[(HEART_RATE, HEART_RATE_MEASUREMENT, Access::Notify)],
            Self::Meter => &[
                (CYCLING_POWER, CYCLING_POWER_MEASUREMENT, Access::Notify),
                (CYCLING_POWER, CYCLING_POWER_FEATURE, Access::Read),
            ],
        }
    }

    /// What can be done with one of its characteristics; nothing where it has none of that number.
    pub fn access(self, characteristic: Uuid16) -> Option<Access> {
        self.characteristics()
            .iter()
            .find(|(_, uuid, _)| *uuid == characteristic)
            .map(|(_, _, access)| *access)
    }

    /// The value of a characteristic that can be read.
    pub fn value(self, characteristic: Uuid16, trainer: &TrainerParameters) -> Option<Vec<u8>> {
        match (self, characteristic) {
            (Self::Trainer, FITNESS_MACHINE_FEATURE) => Some(
                FitnessMachineFeature {
                    machine: FitnessMachineFeature::CADENCE
                        | FitnessMachineFeature::TOTAL_DISTANCE
                        | FitnessMachineFeature::RESISTANCE_LEVEL
                        | FitnessMachineFeature::POWER_MEASUREMENT,
                    targets: [
                        (
                            trainer.takes.levels,
                            FitnessMachineFeature::RESISTANCE_TARGET,
                        ),
                        (trainer.takes.power, FitnessMachineFeature::POWER_TARGET),
                        (trainer.takes.slopes, FitnessMachineFeature::SIMULATION),
                        (
                            trainer.spin_down != SpinDownManner::None,
                            FitnessMachineFeature::SPIN_DOWN,
                        ),
                    ]
                    .into_iter()
                    .filter_map(|(takes, bit)| takes.then_some(bit))
                    .fold(0, |bits, bit| bits | bit),
                }
                .encode(),
            ),
            (Self::Trainer, RESISTANCE_RANGE) if trainer.takes.levels => {
                Some(trainer.resistance_range.encode())
            }
            (Self::Trainer, POWER_RANGE) if trainer.takes.power => {
                Some(trainer.power_range.encode())
            }
            (Self::Meter, CYCLING_POWER_FEATURE) => {
                Some(CyclingPowerFeature(CyclingPowerFeature::CRANK_REVOLUTIONS).encode())
            }
            _ => None,
        }
    }

    /// What it advertises.
    pub fn advertisement(self) -> Advertisement {
        let (name, service, machine_data) = match self {
            Self::Trainer => (
                entry!("Practice trainer"),
                FITNESS_MACHINE,
                Some(MachineAdvertisement::indoor_bike(true).encode()),
            ),
            Self::Heart => (entry!("Practice heart strap"), HEART_RATE, None),
            Self::Meter => (entry!("Practice power meter"), CYCLING_POWER, None),
        };
        Advertisement {
            device: self.id(),
            name: Some(name.to_owned()),
            services: vec![service],
            machine_data,
            rssi: Some(-50),
            simulated: true,
        }
    }
}
