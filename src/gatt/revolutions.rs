//! Cadence and speed from running counts of revolutions and the time of the last one.
//!
//! Bluetooth SIG, Cycling Speed and Cadence Service 1.0 and Cycling Power Service 1.1: counts and times are differences
//! modulo their width, and the clock of the times wraps within a minute or so. What the texts leave open is decided
//! here: see `Counter`.

use super::wire::{DecodeError, Reader};
use crate::time::{Instant, Span};
use crate::units::{Metres, MetresPerSecond, Rpm};

/// Crank revolutions and the time of the last, in 1/1024 s. Both wrap.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CrankCount {
    /// Revolutions so far.
    pub revolutions: u16,
    /// When the last was complete, on the sensor's own clock.
    pub time: u16,
}

/// Wheel revolutions and the time of the last. Both wrap; the count may also be set or fall.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WheelCount {
    /// Revolutions so far.
    pub revolutions: u32,
    /// When the last was complete, on the sensor's own clock: see [`WheelClock`].
    pub time: u16,
}

impl CrankCount {
    pub(super) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(Self {
            revolutions: reader.u16("cumulative crank revolutions")?,
            time: reader.u16("last crank event time")?,
        })
    }

    pub(super) fn encode(self) -> [u8; 4] {
        let ([a, b], [c, d]) = (self.revolutions.to_le_bytes(), self.time.to_le_bytes());
        [a, b, c, d]
    }
}

impl WheelCount {
    pub(super) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(Self {
            revolutions: reader.u32("cumulative wheel revolutions")?,
            time: reader.u16("last wheel event time")?,
        })
    }

    pub(super) fn encode(self) -> [u8; 6] {
        let ([a, b, c, d], [e, f]) = (self.revolutions.to_le_bytes(), self.time.to_le_bytes());
        [a, b, c, d, e, f]
    }
}

/// The clock of a wheel's times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WheelClock {
    /// CSC Measurement: 1/1024 s.
    SpeedSensor,
    /// Cycling Power Measurement: 1/2048 s.
    PowerMeter,
}

impl WheelClock {
    /// Ticks in a second.
    pub const fn ticks_per_second(self) -> u32 {
        match self {
            Self::SpeedSensor => 1024,
            Self::PowerMeter => 2048,
        }
    }
}

/// With no new revolution for this long the rate is zero: slower than 20 a minute is not pedalling. With no record for
/// this long it is unknown (common practice, no source).
const ZERO_AFTER: Span = Span::from_seconds(3);

/// Times are those of arrival, up to a second or two after the event, so the pair is given up this much before the
/// sensor's clock has certainly wrapped (common practice, no source).
const ARRIVAL_MARGIN: Span = Span::from_seconds(2);

/// No leg turns faster than 300 a minute; a wheel at 150 km/h turns some 20 times a second. What is faster comes from a
/// count that was set or a sensor that started anew (common practice, no source).
const MOST_CRANK_PER_SECOND: f64 = 5.0;
const MOST_WHEEL_PER_SECOND: f64 = 25.0;

/// Revolutions a second from a count.
///
/// - The first record of a link is a baseline and gives nothing.
/// - Records without a new event: the rate is not held. It cannot be more than one revolution in the time since, and
///   after three seconds it is zero. No records at all for three seconds: it is unknown.
/// - The same time with more revolutions: the record is passed over.
/// - So long without an event that the sensor's clock may have wrapped, a count that fell, or a rate that cannot be:
///   the record is a new baseline.
#[derive(Clone, Copy, Debug)]
struct Counter {
    ticks_per_second: u32,
    most_per_second: f64,
    /// The last event: its time on the sensor's clock, and when it was first heard of.
    last: Option<(u16, Instant)>,
    /// Revolutions a second between the last two events; none while that cannot be told.
    rate: Option<f64>,
    /// When any record last came.
    heard: Instant,
}

impl Counter {
    const fn new(ticks_per_second: u32, most_per_second: f64) -> Self {
        Self {
            ticks_per_second,
            most_per_second,
            last: None,
            rate: None,
            heard: Instant::ZERO,
        }
    }

    /// A record: the signed difference of its count from the last *accepted* one, and its time. Tells whether the
    /// record became the one to reckon from.
    fn put(&mut self, at: Instant, difference: i64, time: u16) -> bool {
        self.heard = at;
        let Some((last_time, last_at)) = self.last else {
            self.last = Some((time, at));
            return true;
        };
        let ticks = time.wrapping_sub(last_time);
        if ticks == 0 && difference >= 0 {
            // Nothing new, or revolutions that took no time.
            return false;
        }
        if ticks != 0 && difference == 0 {
            // Some sensors move the time without a revolution; reckoning goes on from the last real event.
            return false;
        }
        let wrap = Span::from_seconds(65_536 / u64::from(self.ticks_per_second));
        let rate = difference as f64 * f64::from(self.ticks_per_second) / f64::from(ticks);
        let credible = difference > 0
            && rate <= self.most_per_second
            && at.since(last_at) < wrap.less(ARRIVAL_MARGIN);
        self.rate = credible.then_some(rate);
        self.last = Some((time, at));
        true
    }

    fn rate(&self, now: Instant) -> Option<f64> {
        let (_, event) = self.last?;
        if now.since(self.heard) >= ZERO_AFTER {
            // No records at all: unknown, which is not zero.
            return None;
        }
        let since_event = now.since(event);
        if since_event >= ZERO_AFTER {
            return Some(0.0);
        }
        // Dividing by no time gives infinity, which bounds nothing.
        self.rate.map(|rate| rate.min(1.0 / since_event.seconds()))
    }
}

/// Cadence from crank counts. One for each link: the first record is a baseline.
#[derive(Clone, Copy, Debug)]
pub struct Cadence {
    counter: Counter,
    revolutions: u16,
}

impl Default for Cadence {
    fn default() -> Self {
        Self {
            counter: Counter::new(1024, MOST_CRANK_PER_SECOND),
            revolutions: 0,
        }
    }
}

impl Cadence {
    /// Takes a record that arrived at `at`, and gives the cadence then; nothing while it cannot be told.
    pub fn put(&mut self, at: Instant, count: CrankCount) -> Option<Rpm> {
        let difference = count.revolutions.wrapping_sub(self.revolutions);
        if self.counter.put(at, i64::from(difference), count.time) {
            self.revolutions = count.revolutions;
        }
        self.at(at)
    }

    /// The cadence at `now`, falling to zero while no revolution is heard of; nothing while it cannot be told.
    pub fn at(&self, now: Instant) -> Option<Rpm> {
        self.counter
            .rate(now)
            .map(|per_second| Rpm(per_second * 60.0))
    }
}

/// Speed from wheel counts. One for each link: the first record is a baseline.
#[derive(Clone, Copy, Debug)]
pub struct WheelSpeed {
    counter: Counter,
    revolutions: u32,
    circumference: Metres,
}

impl WheelSpeed {
    /// For a wheel of this circumference.
    pub const fn new(clock: WheelClock, circumference: Metres) -> Self {
        Self {
            counter: Counter::new(clock.ticks_per_second(), MOST_WHEEL_PER_SECOND),
            revolutions: 0,
            circumference,
        }
    }

    /// Takes a record that arrived at `at`, and gives the speed then; nothing while it cannot be told.
    pub fn put(&mut self, at: Instant, count: WheelCount) -> Option<MetresPerSecond> {
        // Modulo the width, and taken as signed: a small step back is a count that fell, not four thousand million
        // revolutions.
        let difference = count
            .revolutions
            .wrapping_sub(self.revolutions)
            .cast_signed();
        if self.counter.put(at, i64::from(difference), count.time) {
            self.revolutions = count.revolutions;
        }
        self.at(at)
    }

    /// The speed at `now`, falling to zero while no revolution is heard of; nothing while it cannot be told.
    pub fn at(&self, now: Instant) -> Option<MetresPerSecond> {
        self.counter
            .rate(now)
            .map(|per_second| MetresPerSecond(per_second * self.circumference.0))
    }
}
