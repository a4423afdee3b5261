//! What one device has told: its notifications decoded, each quantity with its age.

use crate::gatt::indoor_bike_data::{IndoorBikeData, RecordJoiner};
use crate::gatt::revolutions::{Cadence, WheelClock, WheelSpeed};
use crate::gatt::{
    BatteryLevel, CyclingPowerMeasurement, DecodeError, HeartRateMeasurement,
    SpeedAndCadenceMeasurement, Uuid16, uuid16,
};
use crate::ride::pedals::TURNING_POWER;
use crate::ride::reading::Latest;
use crate::time::Instant;
use crate::units::{Bpm, Metres, MetresPerSecond, Rpm, Watts};

/// The circumference of a road wheel, 700×25C; speed of a wheel sensor is shown, never used for control.
const WHEEL: Metres = Metres(2.105);

/// The quantities that one characteristic gives.
#[derive(Clone, Copy, Debug, Default)]
struct Stream {
    power: Latest<Watts>,
    cadence: Latest<Rpm>,
    speed: Latest<MetresPerSecond>,
    heart_rate: Latest<Bpm>,
}

impl Stream {
    fn lose(&mut self) {
        self.power.lose();
        self.cadence.lose();
        self.speed.lose();
        self.heart_rate.lose();
    }
}

/// What one device has told on its present link.
#[derive(Clone, Debug)]
pub struct Sensor {
    joiner: RecordJoiner,
    crank: Cadence,
    sensor_crank: Cadence,
    sensor_wheel: WheelSpeed,
    /// Indoor Bike Data.
    machine: Stream,
    /// Cycling Power Measurement.
    meter: Stream,
    /// CSC Measurement.
    speed_sensor: Stream,
    /// Heart Rate Measurement.
    strap: Stream,
    /// The last record of Indoor Bike Data that told of turning pedals, and since when it has been the same.
    repeated: Option<(Vec<u8>, Instant)>,
    /// Battery, per cent.
    pub battery: Option<u8>,
    /// Records that could not be read.
    pub bad_records: u32,
}

impl Default for Sensor {
    fn default() -> Self {
        Self {
            joiner: RecordJoiner::default(),
            crank: Cadence::default(),
            sensor_crank: Cadence::default(),
            sensor_wheel: WheelSpeed::new(WheelClock::SpeedSensor, WHEEL),
            machine: Stream::default(),
            meter: Stream::default(),
            speed_sensor: Stream::default(),
            strap: Stream::default(),
            repeated: None,
            battery: None,
            bad_records: 0,
        }
    }
}

impl Sensor {
    /// Takes a notification, or the value of a battery that was read.
    ///
    /// # Errors
    /// The decoder's, naming the field that is short; it is also counted in `bad_records`.
    pub fn take(
        &mut self,
        at: Instant,
        characteristic: Uuid16,
        bytes: &[u8],
    ) -> Result<(), DecodeError> {
        let taken = self.decode(at, characteristic, bytes);
        if taken.is_err() {
            self.bad_records = self.bad_records.saturating_add(1);
        }
        taken
    }

    fn decode(
        &mut self,
        at: Instant,
        characteristic: Uuid16,
        bytes: &[u8],
    ) -> Result<(), DecodeError> {
        match characteristic {
            uuid16::INDOOR_BIKE_DATA => {
                let part = IndoorBikeData::decode(bytes)?;
                let turns = part.power().is_some_and(|power| power > TURNING_POWER);
                match &self.repeated {
                    Some((last, _)) if turns && last == bytes => {}
                    _ => self.repeated = turns.then(|| (bytes.to_vec(), at)),
                }
                if let Some(record) = self.joiner.put(part) {
                    let stream = &mut self.machine;
                    put(&mut stream.power, at, record.power());
                    put(&mut stream.cadence, at, record.cadence());
                    put(&mut stream.speed, at, record.speed());
                    // A machine without a strap reports a heart rate of zero.
                    put(
                        &mut stream.heart_rate,
                        at,
                        record.heart_rate().filter(|bpm| bpm.0 > 0.0),
                    );
                }
            }
            uuid16::CYCLING_POWER_MEASUREMENT => {
                let record = CyclingPowerMeasurement::decode(bytes)?;
                self.meter.power.put(at, record.power());
                if let Some(count) = record.crank {
                    let cadence = self.crank.put(at, count);
                    put(&mut self.meter.cadence, at, cadence);
                }
            }
            uuid16::SPEED_AND_CADENCE_MEASUREMENT => {
                let record = SpeedAndCadenceMeasurement::decode(bytes)?;
                if let Some(count) = record.crank {
                    let cadence = self.sensor_crank.put(at, count);
                    put(&mut self.speed_sensor.cadence, at, cadence);
                }
                if let Some(count) = record.wheel {
                    let speed = self.sensor_wheel.put(at, count);
                    put(&mut self.speed_sensor.speed, at, speed);
                }
            }
            uuid16::HEART_RATE_MEASUREMENT => {
                let record = HeartRateMeasurement::decode(bytes)?;
                match record.shown() {
                    Some(rate) => self.strap.heart_rate.put(at, rate),
                    // Contact lost: no number, and the last one is not one either.
                    None => self.strap.heart_rate.lose(),
                }
            }
            uuid16::BATTERY_LEVEL => self.battery = Some(BatteryLevel::decode(bytes)?.0),
            _ => {}
        }
        Ok(())
    }

    /// A fresh start on a new link; only the count of bad records goes on.
    #[must_use]
    pub fn on_a_new_link(&self) -> Self {
        Self {
            bad_records: self.bad_records,
            ..Self::default()
        }
    }

    /// The link is lost: nothing of it counts any more, and counts start anew with the next.
    pub fn lose(&mut self) {
        for stream in [
            &mut self.machine,
            &mut self.meter,
            &mut self.speed_sensor,
            &mut self.strap,
        ] {
            stream.lose();
        }
        self.repeated = None;
        self.joiner.clear();
        self.crank = Cadence::default();
        self.sensor_crank = Cadence::default();
        self.sensor_wheel = WheelSpeed::new(WheelClock::SpeedSensor, WHEEL);
    }

    /// Since when the machine has told the very same record, of pedals that turn.
    pub fn repeats_since(&self) -> Option<Instant> {
        self.repeated.as_ref().map(|(_, since)| *since)
    }

    /// Power: the machine's own stream first, since its meter stream is a second telling of the same.
    pub fn power(&self, now: Instant) -> Latest<Watts> {
        first_fresh(now, [self.machine.power, self.meter.power])
    }

    /// The power that the machine's own stream brought at this very moment, with the cadence of the same record. A
    /// second stream of the same device is left out: its smoothing may be another.
    pub fn report(&self, now: Instant) -> Option<(Watts, Option<Rpm>)> {
        let power = self.machine.power.put_at(now)?;
        Some((power, self.machine.cadence.put_at(now)))
    }

    /// Cadence, from whichever stream has it. Zero at over twenty watts is no cadence: some trainers report that.
    pub fn cadence(&self, now: Instant) -> Latest<Rpm> {
        let power = self.power(now).reading(now).fresh();
        let turning = power.is_some_and(|power| power > TURNING_POWER);
        let told = |latest: Latest<Rpm>| {
            let zero = latest
                .reading(now)
                .fresh()
                .is_some_and(|cadence| cadence.0 <= 0.0);
            if zero && turning {
                Latest::default()
            } else {
                latest
            }
        };
        first_fresh(
            now,
            [
                self.machine.cadence,
                self.meter.cadence,
                self.speed_sensor.cadence,
            ]
            .map(told),
        )
    }

    /// The wheel's speed.
    pub fn speed(&self, now: Instant) -> Latest<MetresPerSecond> {
        first_fresh(now, [self.machine.speed, self.speed_sensor.speed])
    }

    /// Heart rate.
    pub fn heart_rate(&self, now: Instant) -> Latest<Bpm> {
        first_fresh(now, [self.strap.heart_rate, self.machine.heart_rate])
    }

    /// When any reading next changes by age alone.
    pub fn next_change(&self, now: Instant) -> Option<Instant> {
        [self.machine, self.meter, self.speed_sensor, self.strap]
            .iter()
            .flat_map(|stream| {
                [
                    stream.power.next_change(now),
                    stream.cadence.next_change(now),
                    stream.speed.next_change(now),
                    stream.heart_rate.next_change(now),
                ]
            })
            .flatten()
            .min()
    }
}

fn put<T: Copy>(latest: &mut Latest<T>, at: Instant, value: Option<T>) {
    if let Some(value) = value {
        latest.put(at, value);
    }
}

/// The first of several tellings that is fresh; else the first that was ever seen.
pub fn first_fresh<T: Copy + Default, const N: usize>(
    now: Instant,
    tellings: [Latest<T>; N],
) -> Latest<T> {
    let fresh = tellings
        .iter()
        .find(|latest| latest.reading(now).fresh().is_some());
    let seen = || tellings.iter().find(|latest| latest.was_seen());
    fresh.or_else(seen).copied().unwrap_or_default()
}
