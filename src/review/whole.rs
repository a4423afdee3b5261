//! The whole ride: time, work, means, load, best means, and how complete its recording is.

use serde::Serialize;

use super::bests::best_means;
use super::blocks::BlockResult;
use super::figures::{
    EFFICIENCY, EFFICIENCY_LEAST, EFFICIENCY_MOST, food_energy, session_load, unevenness,
};
use super::layers::Deviation;
use super::series::{Channel, pieces, stood_ms};
use super::{Asked, Recording};
use crate::units::{Bpm, Effort, Rpm, Watts};

/// Best means are told for these lengths, s.
pub const LENGTHS: [usize; 14] = [
    1, 5, 10, 15, 30, 60, 120, 180, 300, 480, 600, 1200, 1800, 3600,
];
/// The longest of them, an hour.
const LONGEST: usize = 3600;

/// The clock stood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stood {
    /// Why: `rider`, `pedals-stopped`, `gap`, `trainer`.
    pub cause: String,
    /// How often.
    pub count: u32,
    /// How long altogether by the wall, s; none where one was not ended in the recording.
    pub seconds: Option<f64>,
}

/// The greatest mean power over a length of time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Best {
    /// The length, s.
    pub seconds: usize,
    /// The mean, W; none where no stretch of that length was measured without a gap.
    pub mean_w: Option<f64>,
}

/// The food energy that the work cost, by an assumed efficiency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FoodEnergy {
    /// The efficiency assumed, as a share.
    pub efficiency: f64,
    /// By it, kcal.
    pub kcal: f64,
    /// At the greatest efficiency that is reckoned with, 0.25, kcal.
    pub least_kcal: f64,
    /// At the least, 0.20, kcal.
    pub most_kcal: f64,
}

/// What the whole ride came to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Whole {
    /// Seconds ridden: lines of the recording, and those missing between them.
    pub ridden_s: u64,
    /// Seconds of the session that was ridden, by its file; none where the session could not be read.
    pub written_s: Option<f64>,
    /// Lines that are missing in the recording.
    pub missing_rows: u64,
    /// How it ended, in the recording's word; none where the program was killed.
    pub finish: Option<String>,
    /// Work over the seconds in which power was measured, J.
    pub work_j: Option<f64>,
    /// What it cost in food.
    pub food_energy: Option<FoodEnergy>,
    /// Power, W.
    pub power: Channel,
    /// The standard deviation of power over its mean.
    pub unevenness: Option<f64>,
    /// Cadence, rpm.
    pub cadence: Channel,
    /// Heart rate, bpm.
    pub heart_rate: Channel,
    /// Distance by the trainer, m.
    pub distance_m: Option<f64>,
    /// The pauses by cause.
    pub pauses: Vec<Stood>,
    /// The rating of the whole session, out of ten.
    pub rating: Option<f64>,
    /// That rating × minutes.
    pub load: Option<f64>,
    /// Between lane and power, over all blocks.
    pub deviation: Deviation,
    /// Best mean powers over the lengths that are told.
    pub best_means: Vec<Best>,
    /// The same for every whole second up to an hour, W: the first is that of one second.
    pub best_means_every_second_w: Vec<f64>,
}

/// What the ride came to.
pub fn whole(recording: &Recording<'_>, asked: &Asked, blocks: &[BlockResult]) -> Whole {
    let rows = recording.rows;
    let watts = |row: &crate::record::Row| row.power.map(Watts::get);
    let power: Vec<f64> = rows.iter().filter_map(watts).collect();
    let work_j = (!power.is_empty()).then(|| power.iter().map(|power| power.max(0.0)).sum());
    let best = best_means(&pieces(rows, watts), LONGEST);
    let rating = session_rating(recording);
    let ridden_s = rows.last().map_or(0, |row| row.ridden_s);
    Whole {
        ridden_s,
        written_s: asked.plan.as_ref().map(|plan| plan.length().seconds()),
        missing_rows: ridden_s.saturating_sub(rows.len() as u64),
        finish: recording.finish.map(str::to_owned),
        work_j,
        food_energy: work_j.map(|work| FoodEnergy {
            efficiency: EFFICIENCY,
            kcal: food_energy(work, EFFICIENCY),
            least_kcal: food_energy(work, EFFICIENCY_MOST),
            most_kcal: food_energy(work, EFFICIENCY_LEAST),
        }),
        power: Channel::of(rows, watts),
        unevenness: unevenness(&power),
        cadence: Channel::of(rows, |row| row.cadence.map(Rpm::get)),
        heart_rate: Channel::of(rows, |row| row.heart_rate.map(Bpm::get)),
        distance_m: rows
            .iter()
            .rev()
            .find_map(|row| row.distance)
            .map(|distance| distance.0),
        pauses: pauses(recording),
        rating,
        load: rating.map(|rating| session_load(rating, ridden_s as f64)),
        deviation: blocks
            .iter()
            .fold(Deviation::default(), |sum, block| sum.and(&block.deviation)),
        best_means: LENGTHS
            .iter()
            .map(|&seconds| Best {
                seconds,
                mean_w: best.get(seconds - 1).copied(),
            })
            .collect(),
        best_means_every_second_w: best,
    }
}

/// The last rating that was given to the whole session: block ratings never stand in for it.
fn session_rating(recording: &Recording<'_>) -> Option<f64> {
    let mut notes = recording.notes.iter().rev();
    let note = notes.find(|note| note.what == "rating" && note.block.is_none())?;
    note.rating.map(Effort::get)
}

/// The pauses, by cause, in the order in which each cause first came. A pause lasts to the next resume; the last may go
/// to the ride's end.
fn pauses(recording: &Recording<'_>) -> Vec<Stood> {
    let mut stood: Vec<Stood> = Vec::new();
    let mut events = recording.events.iter().peekable();
    while let Some(event) = events.next() {
        if event.what != "pause" {
            continue;
        }
        let ends = |what: &str| matches!(what, "resume" | "end" | "pause" | "recording-closed");
        while events.next_if(|event| !ends(&event.what)).is_some() {}
        let until = events.peek().map(|next| next.utc_ms);
        let seconds = until.map(|until| (until - event.utc_ms).max(0) as f64 / 1000.0);
        match stood.iter_mut().find(|known| known.cause == event.detail) {
            Some(known) => {
                known.count += 1;
                known.seconds = known.seconds.zip(seconds).map(|(sum, more)| sum + more);
            }
            None => stood.push(Stood {
                cause: event.detail.clone(),
                count: 1,
                seconds,
            }),
        }
    }
    stood
}

/// How long the clock stood between the rows, by the wall, s.
pub fn stood_between_rows(recording: &Recording<'_>) -> f64 {
    let pairs = recording.rows.windows(2);
    let stood = pairs.map(|pair| stood_ms(&pair[0], &pair[1]).max(0));
    stood.sum::<i64>() as f64 / 1000.0
}
