//! Rides side by side, block by block, with a flag where something changed that the figures hang on.

use std::collections::HashMap;

use serde::Serialize;

use crate::plan::{Kind, block_in_english, name_in_english};
use crate::record::noted::Fan;
use crate::record::{RideStart, Row};
use crate::review::blocks::BlockResult;
use crate::review::heading::mode;
use crate::review::said::{Day, decimals};
use crate::review::words::{number, plain};
use crate::review::{Recording, Review};
use crate::ride::RideMode;

/// What changed from one ride to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Changed {
    /// Who rode.
    Rider,
    /// The session's text.
    Session,
    /// Who set the load.
    Mode,
    /// The trainer.
    Trainer,
    /// Whose power was taken.
    PowerSource,
    /// The trainer was calibrated by a spin-down.
    Calibration,
    /// Threshold power.
    Threshold,
    /// The fan.
    Fan,
    /// The room's temperature, by 3 °C or more.
    Room,
    /// Sleep of the night before, by 2 h or more.
    Sleep,
    /// Soreness before the ride, by 3 out of ten or more.
    Soreness,
}

/// A change between a ride and the one before it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Flag {
    /// The ride in which it is so, from 1.
    pub ride: usize,
    /// What changed.
    pub changed: Changed,
    /// In words.
    pub words: String,
}

/// A ride among those that are compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// Its folder, or another name for it.
    pub key: String,
    /// The moment of its start, RFC 3339, UTC.
    pub started: String,
    /// The session's name.
    pub session: String,
    /// The rider's name.
    pub rider: String,
    /// Who set the load.
    pub mode: RideMode,
    /// Threshold power, W.
    pub threshold_w: f64,
    /// The trainer's name; none where there was none.
    pub trainer: Option<String>,
    /// Whether a device was a model: then the figures are a model's.
    pub simulated: bool,
    /// Whose power was taken in the most of its seconds, by the key of the role; none without a power.
    pub power_from: Option<String>,
    /// When the trainer was last calibrated, where that is known.
    pub spin_down: Option<String>,
    /// Seconds ridden.
    pub ridden_s: u64,
    /// Mean power, W.
    pub power_w: Option<f64>,
    /// Work, J.
    pub work_j: Option<f64>,
    /// The rating of the whole session, out of ten.
    pub rating: Option<f64>,
    /// Rating × minutes.
    pub load: Option<f64>,
    /// How the day was.
    pub day: Day,
}

/// A block in one of the rides.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Cell {
    /// Seconds ridden.
    pub ridden_s: u64,
    /// Whether it was ridden whole.
    pub whole: bool,
    /// Mean power, W.
    pub power_w: Option<f64>,
    /// Mean power over the threshold of that day.
    pub share_of_threshold: Option<f64>,
    /// The lane's mean, W.
    pub lane_w: Option<f64>,
    /// The share of its compared seconds that lay in the lane.
    pub in_lane: Option<f64>,
    /// Time to settle, s.
    pub settle_s: Option<u32>,
    /// Mean cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Heart rate at its end, bpm.
    pub heart_rate_end_bpm: Option<f64>,
    /// The rating, out of ten.
    pub rating: Option<f64>,
    /// Whether the load was made easier in it.
    pub eased: bool,
}

/// A block over the rides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ComparedBlock {
    /// Its name with its repeat.
    pub name: String,
    /// What it is for.
    pub kind: Kind,
    /// In each ride; none where it was not ridden.
    pub each: Vec<Option<Cell>>,
}

/// Rides side by side.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Comparison {
    /// The rides, the earliest first.
    pub rides: Vec<Compared>,
    /// What changed from one to the next.
    pub flags: Vec<Flag>,
    /// Their blocks in the order of the first ride that has them.
    pub blocks: Vec<ComparedBlock>,
}

/// What a block is known by from ride to ride: its name, what it is for, which repeat, and the how manieth of these.
type BlockKey = (String, Kind, Option<u32>, u32);

/// Compares rides, each with its name.
pub fn compare(rides: &[(String, Recording<'_>, &Review)]) -> Comparison {
    let mut order: Vec<usize> = (0..rides.len()).collect();
    order.sort_by_key(|&index| rides[index].1.start.utc_ms);
    let rides: Vec<_> = order.iter().map(|&index| &rides[index]).collect();
    let mut flags = Vec::new();
    for (number, pair) in (2..).zip(rides.windows(2)) {
        let ((_, before, old), (_, now, new)) = (pair[0], pair[1]);
        let mut changes = changes(before, now);
        changes.extend(of_the_day(&old.said.day, &new.said.day));
        flags.extend(changes.into_iter().map(|(changed, words)| Flag {
            ride: number,
            changed,
            words,
        }));
    }
    let mut places: HashMap<BlockKey, usize> = HashMap::new();
    let mut blocks: Vec<ComparedBlock> = Vec::new();
    for (place, (_, recording, review)) in rides.iter().enumerate() {
        let mut seen: HashMap<(String, Kind, Option<u32>), u32> = HashMap::new();
        for block in &review.blocks {
            let name = block_in_english(&recording.start.session, &block.name);
            let short = (name.to_owned(), block.kind, block.repeat);
            let nth = seen.entry(short.clone()).or_default();
            *nth += 1;
            let key = (short.0, short.1, short.2, *nth);
            let row = *places.entry(key).or_insert_with(|| {
                blocks.push(ComparedBlock {
                    name: plain(&block.title()),
                    kind: block.kind,
                    each: vec![None; rides.len()],
                });
                blocks.len() - 1
            });
            blocks[row].each[place] = Some(cell(block, review.threshold_w));
        }
    }
    Comparison {
        rides: rides
            .iter()
            .map(|(key, recording, review)| compared(key, recording, review))
            .collect(),
        flags,
        blocks,
    }
}

fn cell(block: &BlockResult, threshold: f64) -> Cell {
    Cell {
        ridden_s: block.ridden_s,
        whole: block.whole(),
        power_w: block.power_w,
        share_of_threshold: block
            .power_w
            .filter(|_| threshold > 0.0)
            .map(|power| power / threshold),
        lane_w: block.fitted.mean_w,
        in_lane: block.fitted.share(),
        settle_s: block.settle_s,
        cadence_rpm: block.cadence.mean_rpm,
        heart_rate_end_bpm: block.heart.end_bpm,
        rating: block.rating,
        eased: block.helps.any(),
    }
}

fn compared(key: &str, recording: &Recording<'_>, review: &Review) -> Compared {
    let start = recording.start;
    Compared {
        key: key.to_owned(),
        started: review.started.clone(),
        session: start.session.clone(),
        rider: start.rider.clone(),
        mode: start.mode,
        threshold_w: start.threshold.0,
        trainer: trainer(start).map(|(name, _)| name.to_owned()),
        simulated: start.devices.iter().any(|device| device.3),
        power_from: power_from(recording).map(str::to_owned),
        spin_down: start.spin_down.clone(),
        ridden_s: review.ride.ridden_s,
        power_w: review.ride.power.mean,
        work_j: review.ride.work_j,
        rating: review.ride.rating,
        load: review.ride.load,
        day: review.said.day.clone(),
    }
}

/// The trainer's name and address.
fn trainer(start: &RideStart) -> Option<(&str, &str)> {
    let mut devices = start.devices.iter();
    let device = devices.find(|device| device.0 == "trainer")?;
    Some((&device.1, &device.2))
}

/// Whose power was taken in the most of the seconds. Recordings of before that was kept are told by the devices in use.
fn power_from<'r>(recording: &Recording<'r>) -> Option<&'r str> {
    let mut counts: HashMap<&'static str, u32> = HashMap::new();
    let known = |row: &Row| row.power.and(row.power_from);
    for source in recording.rows.iter().filter_map(known) {
        *counts.entry(source).or_default() += 1;
    }
    let most = counts
        .into_iter()
        .max_by_key(|&(name, count)| (count, name));
    if let Some((source, _)) = most {
        return Some(source);
    }
    if recording.rows.iter().all(|row| row.power.is_none()) {
        return None;
    }
    let has = |role: &str| {
        recording
            .start
            .devices
            .iter()
            .any(|device| device.0 == role)
    };
    ["meter", "trainer"].into_iter().find(|role| has(role))
}

/// Whose power it is, as it is told within a sentence; what is known by no such key as it is.
pub(super) fn source(key: &str) -> &str {
    match key {
        "trainer" => word!("trainer" # "whose power"),
        "meter" => word!("meter" # "whose power"),
        other => other,
    }
}

/// How the fan was, as it is told within a sentence.
fn fan(fan: Fan) -> &'static str {
    match fan {
        Fan::None => word!("none" # "of a fan"),
        Fan::Low => word!("low" # "of a fan"),
        Fan::High => word!("high" # "of a fan"),
    }
}

/// What changed from one ride to the next, with words for it.
fn changes(before: &Recording<'_>, now: &Recording<'_>) -> Vec<(Changed, String)> {
    let (old, new) = (before.start, now.start);
    let mut changes = Vec::new();
    if old.rider != new.rider {
        let words = say!("another rider, {name}", name = plain(&new.rider));
        changes.push((Changed::Rider, words));
    }
    if name_in_english(&old.session) != name_in_english(&new.session) {
        let words = say!("another session, {name}", name = plain(&new.session));
        changes.push((Changed::Session, words));
    } else if old.session == new.session && old.session_text != new.session_text {
        changes.push((
            Changed::Session,
            word!("the session was written otherwise").to_owned(),
        ));
    }
    if old.mode != new.mode {
        let words = say!("ridden in {mode} mode", mode = mode(new.mode));
        changes.push((Changed::Mode, words));
    }
    if trainer(old) != trainer(new) {
        let words = match trainer(new) {
            Some((name, _)) => say!("another trainer, {name}", name = plain(name)),
            None => word!("no trainer").to_owned(),
        };
        changes.push((Changed::Trainer, words));
    }
    let (from, to) = (power_from(before), power_from(now));
    if from != to {
        let words = match to {
            Some(from) => say!("power from the {source}", source = source(from)),
            None => word!("power was not measured").to_owned(),
        };
        changes.push((Changed::PowerSource, words));
    }
    // A calibration that is not known is no change; one that became known is.
    if new.spin_down.is_some() && old.spin_down != new.spin_down {
        let words = word!("the trainer was calibrated since").to_owned();
        changes.push((Changed::Calibration, words));
    }
    if (old.threshold.0 - new.threshold.0).abs() > 0.05 {
        let words = say!(
            "threshold {now} W, before {before} W",
            now = number(Some(new.threshold.0), 0),
            before = number(Some(old.threshold.0), 0)
        );
        changes.push((Changed::Threshold, words));
    }
    changes
}

/// A figure of the day: what changed, its value, from which difference on, and its words.
type DayFigure = (Changed, fn(&Day) -> Option<f64>, f64, fn(&str) -> String);

/// What differs by so much is told (own choice).
const DAY: [DayFigure; 3] = [
    (
        Changed::Room,
        |day| day.room_c,
        3.0,
        |figure| say!("{celsius} °C in the room", celsius = figure),
    ),
    (
        Changed::Sleep,
        |day| day.sleep_h,
        2.0,
        |figure| say!("{hours} h of sleep", hours = figure),
    ),
    (
        Changed::Soreness,
        |day| day.soreness,
        3.0,
        |figure| say!("soreness {figure}", figure),
    ),
];

/// What of the day differs from one ride to the next. What is not known of both is no change.
fn of_the_day(old: &Day, new: &Day) -> Vec<(Changed, String)> {
    let mut changes = Vec::new();
    if let (Some(before), Some(now)) = (old.fan, new.fan)
        && before != now
    {
        let words = say!(
            "fan {now}, before {before}",
            now = fan(now),
            before = fan(before)
        );
        changes.push((Changed::Fan, words));
    }
    for (changed, of, least, words) in DAY {
        // The hair keeps 18.1 and 21.1 from lying less than 3 apart.
        if let (Some(before), Some(now)) = (of(old), of(new))
            && (now - before).abs() + 1e-9 >= least
        {
            let figure = |value| number(Some(value), decimals(value));
            let (now, before) = (words(&figure(now)), figure(before));
            let words = format!("{now}, {} {before}", word!("before" # "a figure"));
            changes.push((changed, words));
        }
    }
    changes
}
