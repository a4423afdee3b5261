//! The checkers. Each walks a trace with its own small account of the truth.

use std::collections::BTreeSet;

use stillroad::device::{DeviceId, Event, Failure, Request};
use stillroad::engine::Command;
use stillroad::engine::input::Input;
use stillroad::gatt::uuid16::{
    CONTROL_POINT, CYCLING_POWER_MEASUREMENT, FITNESS_MACHINE_STATUS, HEART_RATE_MEASUREMENT,
    INDOOR_BIKE_DATA,
};
use stillroad::gatt::{CyclingPowerMeasurement, HeartRateMeasurement, IndoorBikeData};
use stillroad::record::Kept;
use stillroad::time::{Instant, Span};

use super::campaign::{LEAST, MOST, Step, Trace, trainer};
use crate::world::{EPOCH_MS, watts_of};

/// The caps of the campaign's rider, W.
const POWER_CAP: i16 = 250;
const SPRINT_CAP: i16 = 400;
/// A sprint's load stands on for a second at most and falls over a second and a half.
const SPRINT_FALL: Span = Span::from_millis(2_500);
/// A reading is fresh for three seconds.
const FRESH: Span = Span::from_seconds(3);

pub fn control_writes(step: &Step) -> impl Iterator<Item = &[u8]> {
    step.requests.iter().filter_map(|request| match request {
        Request::Write(_, CONTROL_POINT, bytes) => Some(bytes.as_slice()),
        _ => None,
    })
}

/// Whether a step's link to the trainer ends, by either side.
fn link_ends(step: &Step) -> bool {
    let lost = matches!(
        &step.input,
        Input::Device(Event::Disconnected(id) | Event::ConnectFailed(id, _)) if *id == trainer()
    );
    lost || step
        .requests
        .iter()
        .any(|request| matches!(request, Request::Disconnect(id) if *id == trainer()))
}

/// What is known of control by listening to the air alone.
#[derive(Default)]
struct Air {
    granted: bool,
    /// Op code, whether its write was acknowledged, whether it was answered.
    running: Option<(u8, bool, bool)>,
}

impl Air {
    fn hear(&mut self, step: &Step) {
        match &step.input {
            Input::Device(Event::Written(_, CONTROL_POINT, result)) => {
                self.running = match (self.running, result) {
                    (Some((op, false, false)), Ok(())) => Some((op, true, false)),
                    (Some((op, true, answered)), _) => Some((op, true, answered)),
                    _ => None,
                };
            }
            Input::Device(Event::Notified(_, CONTROL_POINT, bytes)) => {
                if let ([0x80, op, result, ..], Some((running, written, false))) =
                    (bytes.as_slice(), self.running)
                    && *op == running
                {
                    self.running = (!written).then_some((running, written, true));
                    match (op, result) {
                        (0, result) => self.granted = *result == 1,
                        (_, 5) => self.granted = false,
                        _ => {}
                    }
                }
            }
            Input::Device(Event::Notified(_, FITNESS_MACHINE_STATUS, bytes))
                if matches!(bytes.first(), Some(0xFF | 0x01)) =>
            {
                self.granted = false;
            }
            _ => {}
        }
        if link_ends(step) {
            *self = Self::default();
        }
    }
}

pub fn one_control_procedure_in_flight(trace: &Trace) -> Result<(), String> {
    let mut air = Air::default();
    let mut closed: Option<Instant> = None;
    let mut insisted = false;
    for step in &trace.steps {
        air.hear(step);
        if matches!(step.input, Input::Command(Command::Close)) {
            closed = closed.or(Some(step.now));
        }
        for bytes in control_writes(step) {
            // At the very end the release is written past a command that is not answered, once; what is in flight after
            // that cannot be told from outside.
            let late = closed.is_some_and(|at| step.now.since(at) >= Span::from_millis(700));
            let lets_go = watts_of(bytes) == Some(LEAST) || matches!(bytes, [0x04, 0, ..]);
            if late && air.granted && (insisted || (lets_go && air.running.is_some())) {
                insisted = true;
                continue;
            }
            if let Some((op, ..)) = air.running {
                return Err(format!(
                    "{bytes:02x?} at {:?} while {op:02x} is in flight",
                    step.now
                ));
            }
            if !air.granted && bytes[0] != 0 {
                return Err(format!("{bytes:02x?} at {:?} without control", step.now));
            }
            air.running = Some((bytes[0], false, false));
        }
    }
    Ok(())
}

pub fn nothing_above_the_cap_or_outside_the_range(trace: &Trace) -> Result<(), String> {
    let mut sprint_until = None;
    let mut before = Instant::ZERO;
    for step in &trace.steps {
        // While nothing was handled the clock stood, and with it the way down from a sprint.
        let held_up = step.now.since(before);
        if held_up > Span::from_seconds(2) {
            sprint_until = sprint_until.map(|until: Instant| until + held_up);
        }
        before = step.now;
        if step.held_sprint {
            sprint_until = Some(step.now + SPRINT_FALL);
        }
        let sprint = sprint_until.is_some_and(|until| step.now <= until);
        for bytes in control_writes(step) {
            let told = || format!("{bytes:02x?} at {:?}", step.now);
            match *bytes {
                [0x05, ..] => {
                    let watts = watts_of(bytes).ok_or_else(told)?;
                    let cap = if sprint { SPRINT_CAP } else { POWER_CAP };
                    if watts > cap || !(LEAST..=MOST).contains(&watts) {
                        return Err(told());
                    }
                }
                // The lowest fifth of the levels, as long as nothing was learned of the trainer: 0 to 2.0; the rider's
                // own level may go above it, but never above the range.
                [0x04, level] | [0x04, level, 0] if level <= 100 => {}
                // Spin-down, started or not wanted (4.16.2.18).
                [0x13, 0x01 | 0x02] => {}
                [0x00] | [0x07] | [0x08, 0x01] => {}
                _ => return Err(told()),
            }
        }
    }
    Ok(())
}

/// A true report: when, cadence, power; and until when it could at most be fresh.
struct Told {
    /// The step that brought it.
    step: usize,
    at: Instant,
    until: Instant,
    cadence: Option<f64>,
    power: Option<f64>,
    heart_rate: Option<f64>,
    source: DeviceId,
}

/// What was truly told, each until it is stale, replaced, or of a link or a day that is gone.
fn truth(trace: &Trace) -> Vec<Told> {
    let mut told: Vec<Told> = Vec::new();
    let close = |told: &mut Vec<Told>, source: Option<&DeviceId>, now: Instant| {
        for one in told.iter_mut().rev().take(64) {
            if source.is_none_or(|source| one.source == *source) {
                one.until = one.until.min(now);
            }
        }
    };
    for (index, step) in trace.steps.iter().enumerate() {
        let mut tell = |source: &DeviceId, cadence, power, heart_rate| {
            close(&mut told, Some(source), step.now);
            told.push(Told {
                step: index,
                at: step.now,
                until: step.now + FRESH,
                cadence,
                power,
                heart_rate,
                source: source.clone(),
            });
        };
        match &step.input {
            Input::Device(Event::Notified(id, INDOOR_BIKE_DATA, bytes)) => {
                if let Ok(record) = IndoorBikeData::decode(bytes)
                    && let (Some(cadence), Some(power)) = (record.cadence(), record.power())
                {
                    tell(id, Some(cadence.0), Some(power.0), None);
                }
            }
            Input::Device(Event::Notified(id, CYCLING_POWER_MEASUREMENT, bytes)) => {
                if let Ok(record) = CyclingPowerMeasurement::decode(bytes) {
                    tell(id, None, Some(record.power().0), None);
                }
            }
            Input::Device(Event::Notified(id, HEART_RATE_MEASUREMENT, bytes)) => {
                if let Ok(record) = HeartRateMeasurement::decode(bytes) {
                    tell(id, None, None, record.shown().map(|bpm| bpm.0));
                }
            }
            Input::Device(Event::Disconnected(id)) => close(&mut told, Some(id), step.now),
            Input::Slept(_) => close(&mut told, None, step.now),
            _ => {}
        }
    }
    told
}

/// Whether the trainer turned a target back, with an ATT error or a result: then it changed nothing.
fn turned_back(step: &Step, air: &Air) -> bool {
    let Some((running @ (4 | 5), _, false)) = air.running else {
        return false;
    };
    match &step.input {
        Input::Device(Event::Written(_, CONTROL_POINT, Err(Failure::Att(_)))) => true,
        Input::Device(Event::Notified(_, CONTROL_POINT, bytes)) => {
            matches!(bytes[..], [0x80, op, result] if op == running && result != 1)
        }
        _ => false,
    }
}

pub fn never_raised_on_pedals_that_do_not_turn(trace: &Trace) -> Result<(), String> {
    let told = truth(trace);
    let mut air = Air::default();
    let mut last = LEAST;
    let mut before = LEAST;
    // The level that stands, none while watts are held.
    let mut level: Option<u8> = None;
    let mut level_before = None;
    for (index, step) in trace.steps.iter().enumerate() {
        if turned_back(step, &air) {
            last = before;
            level = level_before;
        }
        air.hear(step);
        // By its own word the trainer holds something else: status 08, target power changed.
        if let Input::Device(Event::Notified(_, FITNESS_MACHINE_STATUS, bytes)) = &step.input
            && let [0x08, low, high, ..] = bytes[..]
        {
            last = i16::from_le_bytes([low, high]);
            // A command that it turns back afterwards leaves it at that.
            before = last;
        }
        // Status 07, target resistance changed.
        if let Input::Device(Event::Notified(_, FITNESS_MACHINE_STATUS, bytes)) = &step.input
            && let [0x07, raw, ..] = bytes[..]
        {
            level = Some(raw);
            level_before = level;
        }
        for bytes in control_writes(step) {
            air.running = Some((bytes[0], false, false));
            let fresh = told
                .iter()
                .rev()
                .filter(|told| told.step <= index)
                .take(64)
                .filter(|told| step.now <= told.until);
            let turning = fresh.into_iter().any(|told| {
                told.cadence.is_some_and(|cadence| cadence > 20.0)
                    || told.power.is_some_and(|power| power > 20.0)
            });
            if let [0x04, raw, ..] = *bytes {
                if raw > 0 && !turning && level.is_none_or(|level| raw > level) {
                    return Err(format!("{level:?} raised to level {raw} at {:?}", step.now));
                }
                level_before = level;
                level = Some(raw);
            }
            let Some(watts) = watts_of(bytes) else {
                continue;
            };
            (level_before, level) = (level, None);
            if watts > last.max(LEAST) && !turning {
                return Err(format!("{last} W raised to {watts} W at {:?}", step.now));
            }
            before = last;
            last = watts;
        }
    }
    Ok(())
}

fn is_release(bytes: &[u8]) -> bool {
    watts_of(bytes) == Some(LEAST) || matches!(bytes, [0x04, 0] | [0x04, 0, 0])
}

/// What a command asks for in its own unit: watts as s16, levels as u8 or s16 (Fitness Machine Service 1.0, 4.16.2.5 and 6).
fn load_of(bytes: &[u8]) -> i16 {
    match *bytes {
        [_, level] => i16::from(level),
        [_, low, high, ..] => i16::from_le_bytes([low, high]),
        _ => 0,
    }
}

/// After the end no load is set, and where the brake is in hand it was let off.
pub fn every_way_out_releases(trace: &Trace) -> Result<(), String> {
    let Some(end) = trace.end() else {
        return Ok(());
    };
    let mut air = Air::default();
    let mut stands: Option<Vec<u8>> = None;
    let mut before = None;
    let mut unknown = BTreeSet::new();
    // After the end whatever is written is a release; that a trainer refuses every sort of it is not the ride's doing.
    let (mut ended, mut sent) = (false, false);
    for step in &trace.steps {
        if turned_back(step, &air) {
            stands.clone_from(&before);
            // Result 02 by its own word: it does not know this sort of target, so it has no such release either.
            if let Input::Device(Event::Notified(_, _, bytes)) = &step.input
                && bytes[2] == 2
            {
                unknown.insert(bytes[1]);
            }
        }
        if link_ends(step) {
            unknown.clear();
        }
        air.hear(step);
        // By its own word the trainer holds something else: status 08, target power changed.
        if let Input::Device(Event::Notified(_, FITNESS_MACHINE_STATUS, bytes)) = &step.input
            && let [0x08, low, high, ..] = bytes[..]
        {
            stands = Some(vec![0x05, low, high]);
            before.clone_from(&stands);
        }
        ended |= step.kept.iter().any(|kept| matches!(kept, Kept::End(_)));
        for bytes in control_writes(step) {
            air.running = Some((bytes[0], false, false));
            if !matches!(bytes[0], 4 | 5) {
                continue;
            }
            // Half of what stood, before the release: the first of the two steps.
            let lowers = !sent
                && stands
                    .as_deref()
                    .is_some_and(|stood| stood[0] == bytes[0] && load_of(bytes) <= load_of(stood));
            if ended && !is_release(bytes) && !lowers {
                return Err(format!(
                    "{bytes:02x?} at {:?} after the end at {end:?}",
                    step.now
                ));
            }
            sent |= ended && is_release(bytes);
            before = stands.replace(bytes.to_vec());
        }
    }
    match stands {
        Some(bytes)
            if air.granted
                && air.running.is_none()
                && !sent
                && unknown.len() < trace.sorts
                && !is_release(&bytes) =>
        {
            Err(format!("{bytes:02x?} stands after the end at {end:?}"))
        }
        _ => Ok(()),
    }
}

/// A row's power and cadence lie between the values that were fresh in its second, and are empty where none was.
pub fn a_stale_value_is_never_written(trace: &Trace) -> Result<(), String> {
    let told = truth(trace);
    let mut slept = 0;
    let mut before = None;
    for step in &trace.steps {
        for kept in &step.kept {
            match kept {
                Kept::Begin(_) => before = Some(step.now),
                Kept::Row(row) => {
                    let ms = u64::try_from(row.utc_ms - EPOCH_MS - slept).unwrap_or(0);
                    // Wall-clock times are whole milliseconds.
                    let (from, to) = (before.unwrap_or(Instant::ZERO), Instant((ms + 1) * 1_000));
                    let fresh: Vec<&Told> = told
                        .iter()
                        .filter(|told| told.at <= to && told.until >= from)
                        .collect();
                    let power: Vec<f64> = fresh.iter().filter_map(|told| told.power).collect();
                    let cadence: Vec<f64> = fresh.iter().filter_map(|told| told.cadence).collect();
                    let heart: Vec<f64> = fresh.iter().filter_map(|told| told.heart_rate).collect();
                    among("power", row.ridden_s, row.power.map(|p| p.0), &power)?;
                    among("cadence", row.ridden_s, row.cadence.map(|c| c.0), &cadence)?;
                    among("heart", row.ridden_s, row.heart_rate.map(|b| b.0), &heart)?;
                    for (what, told, from) in [
                        ("power", row.power.is_some(), row.power_from),
                        ("cadence", row.cadence.is_some(), row.cadence_from),
                        ("heart", row.heart_rate.is_some(), row.heart_rate_from),
                    ] {
                        if told != from.is_some() {
                            let at = row.ridden_s;
                            return Err(format!("row {at}: {what} is told {told}, from {from:?}"));
                        }
                    }
                    before = Some(Instant(ms * 1_000));
                }
                _ => {}
            }
        }
        if let Input::Slept(span) = step.input {
            slept += i64::try_from(span.0 / 1_000).unwrap_or(0);
        }
    }
    Ok(())
}

fn among(what: &str, row: u64, value: Option<f64>, fresh: &[f64]) -> Result<(), String> {
    let Some(value) = value else { return Ok(()) };
    let least = fresh.iter().copied().fold(f64::INFINITY, f64::min);
    let most = fresh.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if value >= least - 1e-6 && value <= most + 1e-6 {
        Ok(())
    } else {
        Err(format!(
            "{what} of {value} in row {row}, where {fresh:?} was fresh"
        ))
    }
}

/// Rows are numbered from 1 without a gap, and there are as many as whole seconds were ridden by the events' account.
pub fn exactly_one_row_per_ridden_second(trace: &Trace) -> Result<(), String> {
    let rows = trace.rows();
    for (expected, row) in (1..).zip(&rows) {
        if row.ridden_s != expected {
            return Err(format!("row {} where {expected} is due", row.ridden_s));
        }
    }
    let mut slept = 0;
    let mut runs_since: Option<i64> = None;
    let mut ridden = 0;
    let mut last = 0;
    let mut before = Instant::ZERO;
    for step in &trace.steps {
        last = i64::try_from(step.now.0 / 1_000).unwrap_or(0);
        for kept in &step.kept {
            let Kept::Event(event) = kept else { continue };
            // An input of sleep shifts the wall clock before its own events are written, but after those of a gap. A group
            // whose beginning was slept over begins behind it.
            let behind = event.what == "start" || step.now.since(before) <= Span::from_seconds(2);
            let shift = match step.input {
                Input::Slept(span) if behind => slept + i64::try_from(span.0 / 1_000).unwrap_or(0),
                _ => slept,
            };
            let when = event.utc_ms - EPOCH_MS - shift;
            match event.what {
                "start" | "resume" => runs_since = Some(runs_since.unwrap_or(when)),
                "pause" | "end" => ridden += runs_since.take().map_or(0, |since| when - since),
                _ => {}
            }
        }
        if let Input::Slept(span) = step.input {
            slept += i64::try_from(span.0 / 1_000).unwrap_or(0);
        }
        before = step.now;
    }
    ridden += runs_since.map_or(0, |since| last - since);
    // Each pause and resume loses up to a millisecond by the wall clock's whole milliseconds.
    let (ridden, slack) = (ridden as f64 / 1e3, 0.3);
    let count = rows.len() as f64;
    if count > ridden + slack || count < ridden - 1.0 - slack {
        return Err(format!("{count} rows in {ridden} s"));
    }
    Ok(())
}

pub fn everything_is_bounded(trace: &Trace) -> Result<(), String> {
    for step in &trace.steps {
        let outputs = step.requests.len() + step.kept.len();
        if outputs > 256 {
            return Err(format!("{outputs} outputs of one input at {:?}", step.now));
        }
    }
    if trace.devices > 64 || trace.ink > 360 {
        return Err(format!("{} devices, {} points", trace.devices, trace.ink));
    }
    Ok(())
}
