//! A characteristic's value as JSON, with the units in the names of the fields. Absent fields are left out.

use serde_json::{Map, Value, json};

use super::control_point::{self, Halt, Request, Response, Simulation, SpinDown};
use super::cycling_power::Extremes;
use super::fitness_machine::{FitnessMachineFeature, MachineAdvertisement, PowerRange};
use super::heart_rate::Contact;
use super::status::{SpinDownStatus, Status};
use super::{
    BatteryLevel, CrankCount, CyclingPowerFeature, CyclingPowerMeasurement, DecodeError,
    HeartRateMeasurement, IndoorBikeData, Resistance, ResistanceRange, SpeedAndCadenceFeature,
    SpeedAndCadenceMeasurement, TrainingStatus, Uuid16, WheelCount, uuid16,
};

/// Why a value could not be described.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DescribeError {
    /// The characteristic is not one that this program knows.
    #[error("{0} is not a characteristic that can be decoded here. Known are: {known}.", known = known())]
    Unknown(Uuid16),
    /// Its octets cannot be read.
    #[error(transparent)]
    Decode(#[from] DecodeError),
}

type Describer = fn(&[u8]) -> Result<Fields, DecodeError>;

/// Every characteristic that can be described, and the Fitness Machine service, whose entry is the service data of an
/// advertisement.
const KNOWN: [(Uuid16, &str, Describer); 14] = [
    (
        uuid16::FITNESS_MACHINE,
        "Fitness Machine service data",
        advertisement,
    ),
    (uuid16::BATTERY_LEVEL, "Battery Level", battery),
    (
        uuid16::HEART_RATE_MEASUREMENT,
        "Heart Rate Measurement",
        heart_rate,
    ),
    (
        uuid16::SPEED_AND_CADENCE_MEASUREMENT,
        "CSC Measurement",
        speed_and_cadence,
    ),
    (
        uuid16::SPEED_AND_CADENCE_FEATURE,
        "CSC Feature",
        speed_and_cadence_feature,
    ),
    (
        uuid16::CYCLING_POWER_MEASUREMENT,
        "Cycling Power Measurement",
        cycling_power,
    ),
    (
        uuid16::CYCLING_POWER_FEATURE,
        "Cycling Power Feature",
        cycling_power_feature,
    ),
    (
        uuid16::FITNESS_MACHINE_FEATURE,
        "Fitness Machine Feature",
        feature,
    ),
    (uuid16::INDOOR_BIKE_DATA, "Indoor Bike Data", bike_data),
    (uuid16::TRAINING_STATUS, "Training Status", training_status),
    (
        uuid16::RESISTANCE_RANGE,
        "Supported Resistance Level Range",
        resistance_range,
    ),
    (uuid16::POWER_RANGE, "Supported Power Range", power_range),
    (
        uuid16::CONTROL_POINT,
        "Fitness Machine Control Point",
        control,
    ),
    (
        uuid16::FITNESS_MACHINE_STATUS,
        "Fitness Machine Status",
        status,
    ),
];

fn known() -> String {
    KNOWN
        .iter()
        .map(|(uuid, name, _)| format!("{uuid} ({name})"))
        .collect::<Vec<_>>()
        .join(", ")
}

/// A value's fields as a JSON object whose keys carry the units.
///
/// # Errors
/// [`DescribeError::Unknown`], which lists the known characteristics, or [`DescribeError::Decode`].
pub fn describe(uuid: Uuid16, bytes: &[u8]) -> Result<Value, DescribeError> {
    let (_, name, fields) = KNOWN
        .iter()
        .find(|&&(known, _, _)| known == uuid)
        .ok_or(DescribeError::Unknown(uuid))?;
    let fields = fields(bytes)?.with("characteristic", *name);
    Ok(Value::Object(fields.0))
}

/// A JSON object under construction.
#[derive(Default)]
struct Fields(Map<String, Value>);

impl Fields {
    fn with(mut self, key: &str, value: impl Into<Value>) -> Self {
        self.0.insert(key.into(), value.into());
        self
    }

    fn maybe(self, key: &str, value: Option<impl Into<Value>>) -> Self {
        match value {
            Some(value) => self.with(key, value),
            None => self,
        }
    }

    /// A raw number in a unit that it holds `per_unit` of.
    fn scaled(self, key: &str, raw: Option<impl Into<f64>>, per_unit: f64) -> Self {
        self.maybe(key, raw.map(|raw| raw.into() / per_unit))
    }

    fn level(self, level: Option<Resistance>) -> Self {
        self.maybe("resistance_raw", level.map(Resistance::raw))
            .maybe("resistance_level", level.map(|level| level.level().0))
    }

    fn road(self, road: Simulation) -> Self {
        self.scaled("wind_m_per_s", Some(road.wind), 1000.0)
            .scaled("grade_percent", Some(road.grade), 100.0)
            .scaled("rolling_resistance", Some(road.rolling), 10_000.0)
            .scaled("wind_resistance_kg_per_m", Some(road.drag), 100.0)
    }

    fn counts(self, wheel: Option<WheelCount>, ticks: f64, crank: Option<CrankCount>) -> Self {
        self.maybe("wheel_revolutions", wheel.map(|count| count.revolutions))
            .scaled("wheel_event_s", wheel.map(|count| count.time), ticks)
            .maybe("crank_revolutions", crank.map(|count| count.revolutions))
            .scaled("crank_event_s", crank.map(|count| count.time), 1024.0)
    }

    fn extremes(self, key: &str, pair: Option<Extremes<i16>>, per_unit: f64) -> Self {
        self.scaled(&format!("most_{key}"), pair.map(|pair| pair.most), per_unit)
            .scaled(
                &format!("least_{key}"),
                pair.map(|pair| pair.least),
                per_unit,
            )
    }
}

/// The names of the set bits; a reserved one by its number.
fn names(bits: u32, names: &[&str]) -> Value {
    (0..32)
        .filter(|number| bits >> number & 1 == 1)
        .map(|number: usize| match names.get(number) {
            Some(name) => json!(name),
            None => json!(format!("reserved bit {number}")),
        })
        .collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|octet| format!("{octet:02x}")).collect()
}

fn advertisement(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let data = MachineAdvertisement::decode(bytes)?;
    Ok(Fields::default()
        .with("available", data.is_available())
        .with(
            "types",
            names(u32::from(data.types), &MachineAdvertisement::TYPE_NAMES),
        ))
}

fn battery(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let level = BatteryLevel::decode(bytes)?;
    Ok(Fields::default()
        .with("raw", level.0)
        .maybe("level_percent", level.percent()))
}

fn heart_rate(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let data = HeartRateMeasurement::decode(bytes)?;
    let contact = match data.contact {
        Contact::NotSupported => "not supported",
        Contact::Lost => "none",
        Contact::Held => "yes",
    };
    Ok(Fields::default()
        .with("heart_rate_bpm", data.rate)
        .with("contact", contact)
        .maybe("energy_kj", data.energy)
        .with("intervals_ms", data.intervals_ms().collect::<Vec<_>>()))
}

fn speed_and_cadence(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let data = SpeedAndCadenceMeasurement::decode(bytes)?;
    Ok(Fields::default().counts(data.wheel, 1024.0, data.crank))
}

fn speed_and_cadence_feature(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let bits = SpeedAndCadenceFeature::decode(bytes)?.0;
    Ok(Fields::default().with(
        "features",
        names(u32::from(bits), &SpeedAndCadenceFeature::NAMES),
    ))
}

fn cycling_power(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let data = CyclingPowerMeasurement::decode(bytes)?;
    Ok(Fields::default()
        .with("power_w", data.power)
        .scaled("balance_percent", data.balance, 2.0)
        .with(
            "balance_of",
            if data.balance_of_left {
                "left"
            } else {
                "unknown side"
            },
        )
        .scaled("torque_nm", data.torque, 32.0)
        .with(
            "torque_at",
            if data.torque_at_crank {
                "crank"
            } else {
                "wheel"
            },
        )
        .counts(data.wheel, 2048.0, data.crank)
        .extremes("force_n", data.force, 1.0)
        .extremes("torque_nm", data.extreme_torque, 32.0)
        .maybe("most_angle_degrees", data.angles.map(|angles| angles.most))
        .maybe(
            "least_angle_degrees",
            data.angles.map(|angles| angles.least),
        )
        .maybe("top_dead_spot_degrees", data.top_dead_spot)
        .maybe("bottom_dead_spot_degrees", data.bottom_dead_spot)
        .maybe("energy_kj", data.energy)
        .with("offset_compensation_asked", data.offset_compensation))
}

fn cycling_power_feature(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let bits = CyclingPowerFeature::decode(bytes)?.0;
    Ok(Fields::default().with("features", names(bits, &CyclingPowerFeature::NAMES)))
}

fn feature(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let feature = FitnessMachineFeature::decode(bytes)?;
    Ok(Fields::default()
        .with(
            "measures",
            names(feature.machine, &FitnessMachineFeature::MACHINE_NAMES),
        )
        .with(
            "targets",
            names(feature.targets, &FitnessMachineFeature::TARGET_NAMES),
        ))
}

fn bike_data(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let data = IndoorBikeData::decode(bytes)?;
    Ok(Fields::default()
        .with("more_data", data.more_data())
        .scaled("speed_kmh", data.speed, 100.0)
        .scaled("average_speed_kmh", data.average_speed, 100.0)
        .scaled("cadence_rpm", data.cadence, 2.0)
        .scaled("average_cadence_rpm", data.average_cadence, 2.0)
        .maybe("distance_m", data.distance)
        .level(data.resistance)
        .maybe("power_w", data.power)
        .maybe("average_power_w", data.average_power)
        .maybe(
            "energy_kcal",
            data.energy.and_then(|energy| energy.total_kcal()),
        )
        .maybe(
            "energy_kcal_per_hour",
            data.energy.and_then(|energy| energy.kcal_per_hour()),
        )
        .maybe(
            "energy_kcal_per_minute",
            data.energy.and_then(|energy| energy.kcal_per_minute()),
        )
        .maybe("heart_rate_bpm", data.heart_rate)
        .scaled("metabolic_equivalent", data.metabolic_equivalent, 10.0)
        .maybe("elapsed_s", data.elapsed)
        .maybe("remaining_s", data.remaining))
}

fn training_status(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let data = TrainingStatus::decode(bytes)?;
    Ok(Fields::default()
        .with("status", data.status.words())
        .with("status_code", data.status.code())
        .maybe(
            "text",
            data.text
                .map(|text| String::from_utf8_lossy(&text).into_owned()),
        )
        .with("text_goes_on", data.text_goes_on))
}

fn resistance_range(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let range = ResistanceRange::decode(bytes)?.range();
    Ok(Fields::default()
        .with("least_level", range.least)
        .with("most_level", range.most)
        .with("step_level", range.step))
}

fn power_range(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let range = PowerRange::decode(bytes)?;
    Ok(Fields::default()
        .with("least_w", range.least)
        .with("most_w", range.most)
        .with("step_w", range.step))
}

fn halt(halt: Halt) -> Value {
    match halt {
        Halt::Stop => json!("stop"),
        Halt::Pause => json!("pause"),
        Halt::Other(code) => json!(code),
    }
}

fn control(bytes: &[u8]) -> Result<Fields, DecodeError> {
    if bytes.first() == Some(&control_point::op::RESPONSE) {
        let response = Response::decode(bytes)?;
        let speeds = response.spin_down_speeds();
        return Ok(Fields::default()
            .with("message", "response")
            .with("op", response.op)
            .with("result", response.result.words())
            .with("result_code", response.result.code())
            .scaled("low_speed_kmh", speeds.map(|speeds| speeds.low), 100.0)
            .scaled("high_speed_kmh", speeds.map(|speeds| speeds.high), 100.0)
            .with("parameters_hex", hex(&response.parameters)));
    }
    let request = Request::decode(bytes)?;
    let fields = Fields::default().with("op", request.op());
    let message = |words: &str, fields: Fields| fields.with("message", words);
    Ok(match request {
        Request::RequestControl => message("request control", fields),
        Request::Reset => message("reset", fields),
        Request::Speed(raw) => message("set speed", fields.scaled("speed_kmh", Some(raw), 100.0)),
        Request::Inclination(raw) => message(
            "set inclination",
            fields.scaled("inclination_percent", Some(raw), 10.0),
        ),
        Request::Resistance(level) => message("set resistance", fields.level(Some(level))),
        Request::Power(watts) => message("set power", fields.with("power_w", watts)),
        Request::HeartRate(rate) => message("set heart rate", fields.with("heart_rate_bpm", rate)),
        Request::StartOrResume => message("start or resume", fields),
        Request::StopOrPause(how) => message("stop or pause", fields.with("how", halt(how))),
        Request::Simulation(road) => message("simulate a road", fields.road(road)),
        Request::WheelCircumference(raw) => message(
            "set wheel circumference",
            fields.scaled("circumference_mm", Some(raw), 10.0),
        ),
        Request::SpinDown(action) => {
            let what = match action {
                SpinDown::Start => json!("start"),
                SpinDown::Ignore => json!("ignore"),
                SpinDown::Other(code) => json!(code),
            };
            message("spin down", fields.with("how", what))
        }
        Request::Cadence(raw) => {
            message("set cadence", fields.scaled("cadence_rpm", Some(raw), 2.0))
        }
        Request::Other { parameters, .. } => {
            message("unknown", fields.with("parameters_hex", hex(&parameters)))
        }
    })
}

fn status(bytes: &[u8]) -> Result<Fields, DecodeError> {
    let report = Status::decode(bytes)?;
    let fields = Fields::default().with("code", report.code());
    let message = |words: &str, fields: Fields| fields.with("message", words);
    let zones = |seconds: &[u16], fields: Fields| {
        message(
            "time in zones changed",
            fields.with("zones_s", seconds.to_vec()),
        )
    };
    Ok(match report {
        Status::Reset => message("reset", fields),
        Status::StoppedOrPaused(how) => message(
            "stopped or paused by the user",
            fields.with("how", halt(how)),
        ),
        Status::StoppedBySafetyKey => message("stopped by the safety key", fields),
        Status::StartedOrResumed => message("started or resumed by the user", fields),
        Status::Speed(raw) => message(
            "speed changed",
            fields.scaled("speed_kmh", Some(raw), 100.0),
        ),
        Status::Inclination(raw) => message(
            "inclination changed",
            fields.scaled("inclination_percent", Some(raw), 10.0),
        ),
        Status::Resistance(level) => message("resistance changed", fields.level(Some(level))),
        Status::Power(watts) => message("power changed", fields.with("power_w", watts)),
        Status::HeartRate(rate) => {
            message("heart rate changed", fields.with("heart_rate_bpm", rate))
        }
        Status::Energy(kcal) => message("energy changed", fields.with("energy_kcal", kcal)),
        Status::Steps(steps) => message("steps changed", fields.with("steps", steps)),
        Status::Strides(strides) => message("strides changed", fields.with("strides", strides)),
        Status::Distance(metres) => message("distance changed", fields.with("distance_m", metres)),
        Status::TrainingTime(seconds) => {
            message("training time changed", fields.with("time_s", seconds))
        }
        Status::TwoZones(seconds) => zones(&seconds, fields),
        Status::ThreeZones(seconds) => zones(&seconds, fields),
        Status::FiveZones(seconds) => zones(&seconds, fields),
        Status::Simulation(road) => message("simulation changed", fields.road(road)),
        Status::WheelCircumference(raw) => message(
            "wheel circumference changed",
            fields.scaled("circumference_mm", Some(raw), 10.0),
        ),
        Status::SpinDown(how) => {
            let what = match how {
                SpinDownStatus::Requested => json!("requested"),
                SpinDownStatus::Success => json!("success"),
                SpinDownStatus::Error => json!("error"),
                SpinDownStatus::StopPedalling => json!("stop pedalling"),
                SpinDownStatus::Other(code) => json!(code),
            };
            message("spin-down", fields.with("spin_down", what))
        }
        Status::Cadence(raw) => message(
            "cadence changed",
            fields.scaled("cadence_rpm", Some(raw), 2.0),
        ),
        Status::ControlLost => message("control permission lost", fields),
        Status::Other { parameters, .. } => {
            message("unknown", fields.with("parameters_hex", hex(&parameters)))
        }
    })
}
