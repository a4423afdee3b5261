//! The reports of the sensors as they came, placed in time against the ride.
//!
//! The raw log has the program's own clock, the rows and events have the wall's. Both run at the same pace, so that one
//! offset joins them: the one under which the events fall on inputs that were handled at that very moment.

use serde::Deserialize;

use super::figures::median;
use crate::gatt::uuid16::{CONTROL_POINT, CYCLING_POWER_MEASUREMENT, INDOOR_BIKE_DATA};
use crate::gatt::{CyclingPowerMeasurement, IndoorBikeData, RecordJoiner};
use crate::record::log::word;
use crate::record::{EventLine, InputLine, RideStart};
use crate::units::{Rpm, Watts};

/// The offset is tried on so many events at most.
const EVENTS_TRIED: usize = 80;
/// So many starts of the ride and answers of the brake are tried for it at most.
const PLACES_TRIED: usize = 400;
/// So many events of a hundred must fall on an input.
const ENOUGH: usize = 95;
/// A report stands for so long, milliseconds; afterwards the value is not known (rules of the ride: three seconds).
const STANDS_MS: i64 = 3_000;

/// The event with which a killed ride goes on.
const TAKEN_UP: &str = "taken-up";
/// A clock beyond a hundred years is damaged, milliseconds.
const LAST_MS: i64 = 100 * 366 * 86_400_000;

/// One reading of one quantity, stamped when it arrived.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Report {
    /// Wall-clock time, milliseconds since 1970-01-01T00:00:00Z.
    pub utc_ms: i64,
    /// The value.
    pub value: f64,
}

/// The reports that the rows were made from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reports {
    /// Power, W, of the power meter where there was one, else of the trainer.
    pub power: Vec<Report>,
    /// Cadence, rpm, where the trainer's own was used.
    pub cadence: Vec<Report>,
}

#[derive(Deserialize)]
struct Line {
    device: Option<Inner>,
    slept: Option<u64>,
}

#[derive(Deserialize)]
struct Inner {
    notified: Option<(String, u16, Vec<u8>)>,
}

struct Notified {
    at_ms: i64,
    device: String,
    characteristic: u16,
    octets: Vec<u8>,
}

/// The reports of a ride, placed in time: of each part, as a ride that was killed and went on has a log for each with a
/// clock of its own. None for a part whose log is missing or cannot be placed.
pub fn reports(raw: &[InputLine], events: &[EventLine], start: &RideStart) -> Parts {
    let mut logs: Vec<Log> = raw
        .chunk_by(|_, line| line.input != word::HEAD)
        .filter_map(Log::of)
        .collect();
    let parts = events.chunk_by(|_, event| event.what != TAKEN_UP);
    let placed = parts.map(|events| {
        // A log that is missing leaves its events without one.
        let found = logs
            .iter()
            .enumerate()
            .find_map(|(at, log)| Some((at, log.offset(events)?)));
        let reports = found.and_then(|(at, offset)| {
            let log = logs.drain(..=at).next_back()?;
            Some(read(&log.notified, offset, start))
        });
        let begins = events.first().filter(|event| event.what == TAKEN_UP);
        (begins.map_or(0.0, |event| event.ridden_s), reports)
    });
    Parts(placed.collect())
}

/// The reports of each part of a ride, with the ridden second after which it begins.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Parts(Vec<(f64, Option<Reports>)>);

impl Parts {
    /// Of the part in which a second was ridden. The wall's clock alone would not tell: it may have been set back between
    /// two parts.
    pub fn of(&self, ridden_s: u64) -> Option<&Reports> {
        let mut parts = self.0.iter().rev();
        let part = parts.find(|(after_s, _)| *after_s < ridden_s as f64)?;
        part.1.as_ref()
    }
}

/// What of one run's log counts here, by the program's own clock, milliseconds.
struct Log {
    /// When each input was handled.
    times: Vec<i64>,
    /// When the ride was started.
    starts: Vec<i64>,
    notified: Vec<Notified>,
}

impl Log {
    /// None where its clock is damaged.
    fn of(raw: &[InputLine]) -> Option<Self> {
        let mut slept_ms = 0_i64;
        let mut times = Vec::with_capacity(raw.len());
        let mut starts = Vec::new();
        let mut notified = Vec::new();
        for line in raw {
            let read: Option<Line> = match &*line.input {
                "device" | "slept" => serde_json::from_str(&line.content).ok(),
                _ => None,
            };
            if let Some(slept) = read.as_ref().and_then(|line| line.slept) {
                slept_ms = slept_ms.saturating_add(i64::try_from(slept / 1000).unwrap_or(i64::MAX));
            }
            let at_ms = i64::try_from(line.at_us / 1000)
                .ok()?
                .saturating_add(slept_ms);
            if at_ms > LAST_MS {
                return None;
            }
            times.push(at_ms);
            if line.input == "command" && line.content.contains("\"start") {
                starts.push(at_ms);
            }
            if let Some((device, characteristic, octets)) = read.and_then(|l| l.device?.notified) {
                notified.push(Notified {
                    at_ms,
                    device,
                    characteristic,
                    octets,
                });
            }
        }
        Some(Self {
            times,
            starts,
            notified,
        })
    }

    /// The wall's time at the program's time zero, milliseconds.
    fn offset(&self, events: &[EventLine]) -> Option<i64> {
        // The writer's own events are placed at the newest row, and are handled at no input of the core's.
        let tried: Vec<&EventLine> = events
            .iter()
            .filter(|event| {
                let own = event.what.starts_with("recording-") || event.what == "raw-stopped";
                !own && event.what != "gap" && event.what != "pause" && event.what != "disk-trouble"
            })
            .collect();
        let step = tried.len().div_ceil(EVENTS_TRIED).max(1);
        let sample: Vec<i64> = tried
            .iter()
            .step_by(step)
            .map(|event| event.utc_ms)
            .collect();
        let moment = |words: &[&str]| {
            let mut events = tried.iter().filter(|event| words.contains(&&*event.what));
            events.next().map(|event| event.utc_ms)
        };
        let answers = self
            .notified
            .iter()
            .filter(|one| one.characteristic == CONTROL_POINT.0)
            .map(|one| one.at_ms);
        let by_answer = moment(&["target", "released"]).map(|utc| {
            let offsets = answers.take(PLACES_TRIED).map(move |at| utc - at);
            offsets.collect::<Vec<_>>()
        });
        let by_start = moment(&["start"]).map(|utc| {
            let offsets = self
                .starts
                .iter()
                .take(PLACES_TRIED)
                .map(move |at| utc - at);
            offsets.collect::<Vec<_>>()
        });
        let mut best: Option<(usize, i64)> = None;
        for offset in by_start.into_iter().chain(by_answer).flatten() {
            let falls = |utc: &&i64| self.times.binary_search(&(**utc - offset)).is_ok();
            let hits = sample.iter().filter(falls).count();
            if best.is_none_or(|(most, _)| hits > most) {
                best = Some((hits, offset));
            }
        }
        let (hits, offset) = best?;
        (hits * 100 >= sample.len() * ENOUGH && hits > 0).then_some(offset)
    }
}

fn read(notified: &[Notified], offset: i64, start: &RideStart) -> Reports {
    let of_role = |role: &str| {
        let mut devices = start.devices.iter();
        devices
            .find(|device| device.0 == role)
            .map(|device| device.2.as_str())
    };
    let (trainer, meter) = (of_role("trainer"), of_role("meter"));
    let own_cadence = of_role("cadence").is_none() && meter.is_none();
    let mut reports = Reports::default();
    let mut joiner = RecordJoiner::default();
    for one in notified {
        let utc_ms = one.at_ms + offset;
        let mut power = None;
        if Some(one.device.as_str()) == meter && one.characteristic == CYCLING_POWER_MEASUREMENT.0 {
            let read = CyclingPowerMeasurement::decode(&one.octets).ok();
            power = read.map(|measurement| measurement.power());
        } else if Some(one.device.as_str()) == trainer && one.characteristic == INDOOR_BIKE_DATA.0 {
            let part = IndoorBikeData::decode(&one.octets).ok();
            let Some(record) = part.and_then(|part| joiner.put(part)) else {
                continue;
            };
            power = record.power().filter(|_| meter.is_none());
            if let Some(cadence) = record.cadence().filter(|_| own_cadence) {
                let value = Rpm::get(cadence);
                reports.cadence.push(Report { utc_ms, value });
            }
        }
        if let Some(value) = power.map(Watts::get) {
            reports.power.push(Report { utc_ms, value });
        }
    }
    reports
}

/// A piece of the reports between two moments, with the value that stood at the first.
pub fn between(reports: &[Report], from_ms: i64, to_ms: i64) -> Vec<Report> {
    let first = reports.partition_point(|report| report.utc_ms < from_ms);
    let mut piece = Vec::new();
    if let Some(before) = first.checked_sub(1).and_then(|before| reports.get(before)) {
        let stands = before.utc_ms + STANDS_MS > from_ms;
        let at_once = reports
            .get(first)
            .is_some_and(|next| next.utc_ms == from_ms);
        if stands && !at_once {
            piece.push(*before);
        }
    }
    let inside = reports[first..]
        .iter()
        .take_while(|report| report.utc_ms < to_ms);
    piece.extend(inside);
    piece
}

/// The middle time between two reports, seconds: the resolution of what is read off them.
pub fn resolution(reports: &[Report]) -> Option<f64> {
    let apart = reports
        .windows(2)
        .map(|pair| (pair[1].utc_ms - pair[0].utc_ms) as f64 / 1000.0);
    median(apart.collect())
}

/// Integral and known time of a value that stands until the next report, three seconds at most.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Standing {
    /// Value × seconds.
    pub sum: f64,
    /// Seconds in which it is known.
    pub known_s: f64,
}

/// What stood between two moments.
pub fn standing(reports: &[Report], from_ms: i64, to_ms: i64) -> Standing {
    let mut standing = Standing::default();
    let first = reports
        .partition_point(|report| report.utc_ms <= from_ms)
        .saturating_sub(1);
    for (index, report) in reports.iter().enumerate().skip(first) {
        if report.utc_ms >= to_ms {
            break;
        }
        let next = reports.get(index + 1).map_or(i64::MAX, |next| next.utc_ms);
        let until = next.min(report.utc_ms + STANDS_MS).min(to_ms);
        let seconds = (until - report.utc_ms.max(from_ms)) as f64 / 1000.0;
        if seconds > 0.0 {
            standing.sum += report.value * seconds;
            standing.known_s += seconds;
        }
    }
    standing
}

/// The mean over one second that begins at `from_ms`; none where any of it is not known.
pub fn second_from(reports: &[Report], from_ms: i64) -> Option<f64> {
    let standing = standing(reports, from_ms, from_ms + 1000);
    (standing.known_s >= 0.999).then_some(standing.sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(pairs: &[(i64, f64)]) -> Vec<Report> {
        pairs
            .iter()
            .map(|&(utc_ms, value)| Report { utc_ms, value })
            .collect()
    }

    #[test]
    fn a_report_stands_until_the_next_and_three_seconds_at_most() {
        let reports = of(&[(0, 100.0), (400, 300.0), (5000, 200.0)]);
        // By hand: 0.4 s of 100 and 0.6 s of 300.
        assert_eq!(second_from(&reports, 0), Some(220.0));
        let whole = standing(&reports, 0, 6000);
        assert!((whole.known_s - 4.4).abs() < 1e-9, "{whole:?}");
        assert!(
            (whole.sum - (40.0 + 900.0 + 200.0)).abs() < 1e-9,
            "{whole:?}"
        );
        assert_eq!(second_from(&reports, 3000), None);
    }

    #[test]
    fn sleeps_beyond_any_clock_place_nothing() {
        let mut start = InputLine::from(crate::record::RawLine {
            at_us: 0,
            input: "slept",
            content: format!("{{\"slept\":{}}}", u64::MAX),
        });
        start.at_us = 1;
        let lines = vec![start; 600];
        let about = "format = 1\nprogram = \"x\"\nstarted = 2001-09-09T01:46:40Z\n[session]\nname = \"\"\nmode = \"effort-only\"\n\
                     [rider]\nname = \"\"\nthreshold_w = 200.0\npower_cap_w = 300.0\nsprint_cap_w = 400.0\n";
        let start = crate::record::ride_toml::read(about, "".into(), "".into());
        assert_eq!(
            start.map(|start| reports(&lines, &[], &start)),
            Ok(Parts::default())
        );
        assert!(Log::of(&lines).is_none());
    }

    #[test]
    fn a_piece_begins_with_what_stood() {
        let reports = of(&[(0, 100.0), (900, 300.0), (1900, 200.0), (9000, 50.0)]);
        assert_eq!(between(&reports, 1000, 2000), reports[1..3]);
        assert_eq!(between(&reports, 900, 1900), reports[1..2]);
        assert_eq!(between(&reports, 8000, 9001), reports[3..]);
        assert_eq!(resolution(&reports), Some(1.0));
        assert_eq!(resolution(&[]), None);
    }
}
