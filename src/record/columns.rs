//! The one table of the columns of `samples.csv`.

use super::Row;
use super::cell::{Sort, Value};
use super::table::{Column, Table};
use crate::plan::Kind;
use crate::ride::RideMode;
use crate::units::{
    Bpm, BrakeTarget, Effort, Grade, Joules, Level, Metres, MetresPerSecond, Rpm, Watts,
};

const KINDS: [&str; Kind::ALL.len()] = {
    let mut keys = [""; Kind::ALL.len()];
    let mut index = 0;
    while index < keys.len() {
        keys[index] = Kind::ALL[index].key();
        index += 1;
    }
    keys
};
const MODES: [&str; 2] = [RideMode::TargetPower.key(), RideMode::EffortOnly.key()];
/// Whose device a value comes from, in the keys of the roles that a device can have.
pub const SOURCES: [&str; 5] = ["trainer", "meter", "cadence", "heart", "second-heart"];
const BRAKE_UNITS: [&str; 3] = ["W", "level", "%"];

/// The unit of a brake target, as in the column `brake_unit`.
pub const fn brake_unit(target: BrakeTarget) -> &'static str {
    match target {
        BrakeTarget::Power(_) => BRAKE_UNITS[0],
        BrakeTarget::Resistance(_) => BRAKE_UNITS[1],
        BrakeTarget::Slope(_) => BRAKE_UNITS[2],
    }
}

/// The target whose number was read before its unit.
fn with_unit(target: Option<BrakeTarget>, unit: &str) -> Result<Option<BrakeTarget>, String> {
    match (target.map(BrakeTarget::value), unit) {
        (None, "") => Ok(None),
        (Some(value), "W") => Ok(Some(BrakeTarget::Power(Watts(value)))),
        (Some(value), "level") => Ok(Some(BrakeTarget::Resistance(Level(value)))),
        (Some(value), "%") => Ok(Some(BrakeTarget::Slope(Grade(value)))),
        (None, _) => Err(entry!("stands without a brake_target").to_owned()),
        (Some(_), _) => Err(entry!("is empty although there is a brake_target").to_owned()),
    }
}

/// No ride is longer, seconds: a hundred hours. A larger figure is damage, and a picture of it would have no end.
pub const LONGEST_RIDE_S: u64 = 360_000;
/// No power, cadence, heart rate, speed, level or effort that a device can tell lies beyond: it has sixteen bits at most.
const MOST_TOLD: f64 = 65_535.0;
/// No distance or work of a hundred hours lies beyond.
const MOST_SUMMED: f64 = 1e9;

/// A number of a file that is not beyond all that can be.
///
/// # Errors
/// A few words to follow the column's name.
pub(super) fn bounded(value: &Value<'_>, most: f64) -> Result<Option<f64>, String> {
    match value.as_number() {
        Some(number) if number.abs() > most => {
            Err(kept!("{number} is beyond {most}, which is damage"))
        }
        number => Ok(number),
    }
}

/// A column whose cell may be empty and holds a quantity.
macro_rules! quantity_column {
    ($name:literal, $decimals:literal, $most:expr, $field:ident, $type:ident, $says:literal) => {
        Column {
            name: $name,
            sort: Sort::Decimal($decimals),
            needed: false,
            says: $says,
            get: |row| Value::number(row.$field.map($type::get)),
            set: |row, value| {
                row.$field = bounded(value, $most)?.map($type);
                Ok(())
            },
        }
    };
}

/// A column that tells whose device the value of another comes from.
macro_rules! source_column {
    ($name:literal, $field:ident, $says:literal) => {
        Column {
            name: $name,
            sort: Sort::Word(&SOURCES),
            needed: false,
            says: $says,
            get: |row| row.$field.map_or(Value::Missing, Value::text),
            set: |row, value| {
                let word = value.as_text();
                row.$field = SOURCES.into_iter().find(|source| *source == word);
                Ok(())
            },
        }
    };
}

impl Table for Row {
    const FILE: &'static str = "samples.csv";

    const ADDED: &'static [&'static str] = &["power_from", "cadence_from", "heart_rate_from"];

    const COLUMNS: &'static [Column<Self>] = &[
        Column {
            name: "ridden_s",
            sort: Sort::Whole,
            needed: true,
            says: "Seconds ridden so far, from 1; one line each, pauses left out.",
            get: |row| Value::Whole(row.ridden_s),
            set: |row, value| {
                row.ridden_s = value.as_whole();
                if row.ridden_s > LONGEST_RIDE_S {
                    return Err(kept!(
                        "{second} is beyond {most}, a hundred hours, which is damage",
                        second = row.ridden_s,
                        most = LONGEST_RIDE_S
                    ));
                }
                Ok(())
            },
        },
        Column {
            name: "plan_s",
            sort: Sort::Decimal(3),
            needed: true,
            says: "Seconds of the session's clock at the end of this second; it jumps where blocks are skipped.",
            get: |row| Value::Number(row.plan_s),
            set: |row, value| {
                row.plan_s = bounded(value, LONGEST_RIDE_S as f64)?.unwrap_or(0.0);
                Ok(())
            },
        },
        Column {
            name: "utc",
            sort: Sort::Time,
            needed: true,
            says: "Wall-clock time at the end of this second.",
            get: |row| Value::Time(row.utc_ms),
            set: |row, value| {
                row.utc_ms = value.as_time();
                Ok(())
            },
        },
        Column {
            name: "block",
            sort: Sort::Whole,
            needed: true,
            says: "The number of the session's block, from 1.",
            get: |row| Value::Whole(u64::from(row.block)),
            set: |row, value| {
                row.block = u32::try_from(value.as_whole())
                    .map_err(|_| entry!("is larger than any session has blocks").to_owned())?;
                Ok(())
            },
        },
        Column {
            name: "kind",
            sort: Sort::Word(&KINDS),
            needed: true,
            says: "What the block is for.",
            get: |row| Value::text(row.kind.key()),
            set: |row, value| {
                let word = value.as_text();
                row.kind = Kind::ALL
                    .into_iter()
                    .find(|kind| kind.key() == word)
                    .ok_or_else(|| kept!("“{word}” is no kind of block"))?;
                Ok(())
            },
        },
        Column {
            name: "mode",
            sort: Sort::Word(&MODES),
            needed: true,
            says: "Who sets the load: the brake holds watts, or the rider shifts by feel.",
            get: |row| Value::text(row.mode.key()),
            set: |row, value| {
                row.mode = if value.as_text() == RideMode::EffortOnly.key() {
                    RideMode::EffortOnly
                } else {
                    RideMode::TargetPower
                };
                Ok(())
            },
        },
        quantity_column!(
            "effort",
            2,
            MOST_TOLD,
            effort,
            Effort,
            "The plan's effort out of ten at the end of this second; empty in a free block."
        ),
        quantity_column!(
            "lane_w",
            1,
            MOST_TOLD,
            lane,
            Watts,
            "What the plan means in watts for this rider on the day; empty where it asks for none."
        ),
        Column {
            name: "brake_target",
            sort: Sort::Decimal(2),
            needed: false,
            says: "What the brake was last told and has taken, in the unit of the next column; empty where it was told nothing.",
            get: |row| Value::number(row.brake.map(BrakeTarget::value)),
            set: |row, value| {
                row.brake =
                    bounded(value, MOST_TOLD)?.map(|number| BrakeTarget::Power(Watts(number)));
                Ok(())
            },
        },
        Column {
            name: "brake_unit",
            sort: Sort::Word(&BRAKE_UNITS),
            needed: false,
            says: "Watts, a resistance level on the trainer's own scale, or a slope in per cent.",
            get: |row| {
                row.brake
                    .map_or(Value::Missing, |target| Value::text(brake_unit(target)))
            },
            set: |row, value| {
                row.brake = with_unit(row.brake, value.as_text())?;
                Ok(())
            },
        },
        Column {
            name: "released",
            sort: Sort::Flag,
            needed: false,
            says: "Whether the brake was let off on purpose: before the start, on still pedals, by hand, in a pause. Empty where no brake was in hand.",
            get: |row| row.released.map_or(Value::Missing, Value::Flag),
            set: |row, value| {
                row.released = value.as_flag();
                Ok(())
            },
        },
        quantity_column!(
            "brake_could_w",
            1,
            MOST_TOLD,
            could,
            Watts,
            "The power that the brake could have shown by its answer to what it was told, watts: time-weighted mean over the second. Power less this is the legs' doing, this less the lane the brake's and the targets'. Empty where it held no watts or its answer was not known."
        ),
        quantity_column!(
            "power_w",
            1,
            MOST_TOLD,
            power,
            Watts,
            "Power, watts: time-weighted mean over the second."
        ),
        quantity_column!(
            "cadence_rpm",
            1,
            MOST_TOLD,
            cadence,
            Rpm,
            "Cadence, crank revolutions a minute: time-weighted mean over the second."
        ),
        quantity_column!(
            "heart_rate_bpm",
            0,
            MOST_TOLD,
            heart_rate,
            Bpm,
            "Heart rate, beats a minute: the last fresh value."
        ),
        Column {
            name: "speed_kmh",
            sort: Sort::Decimal(2),
            needed: false,
            says: "The wheel's speed, kilometres an hour: the last fresh value.",
            get: |row| Value::number(row.speed.map(MetresPerSecond::kmh)),
            set: |row, value| {
                row.speed = bounded(value, MOST_TOLD)?.map(MetresPerSecond::from_kmh);
                Ok(())
            },
        },
        quantity_column!(
            "distance_m",
            1,
            MOST_SUMMED,
            distance,
            Metres,
            "Distance since the start, metres: the trainer's own, else the speed summed up."
        ),
        quantity_column!(
            "w_balance_j",
            0,
            MOST_SUMMED,
            w_balance,
            Joules,
            "Estimate of the work above threshold power, which stands for critical power, that is left, joules; empty while no power was ever measured."
        ),
        source_column!(
            "power_from",
            power_from,
            "Whose device the power comes from: the one that last counted in this second. Empty where there is no power."
        ),
        source_column!("cadence_from", cadence_from, "The same of the cadence."),
        source_column!(
            "heart_rate_from",
            heart_rate_from,
            "The same of the heart rate."
        ),
    ];

    fn blank() -> Self {
        Self {
            ridden_s: 0,
            plan_s: 0.0,
            utc_ms: 0,
            block: 0,
            kind: Kind::Free,
            mode: RideMode::TargetPower,
            effort: None,
            lane: None,
            brake: None,
            released: None,
            could: None,
            power: None,
            cadence: None,
            heart_rate: None,
            speed: None,
            distance: None,
            w_balance: None,
            power_from: None,
            cadence_from: None,
            heart_rate_from: None,
        }
    }
}
