//! A ride in short: what a list of thousands of rides shows of each, and what trends are reckoned from.

use serde::{Deserialize, Serialize};

use super::learned::Rated;
use crate::record::{NoteLine, RideStart, Row};
use crate::review::bests::bests_at;
use crate::review::blocks::{BlockResult, blocks};
use crate::review::figures::{mean, session_load};
use crate::review::series::pieces;
use crate::review::whole::LENGTHS;
use crate::review::{Asked, Recording};
use crate::ride::RideMode;
use crate::rider::EffortMap;
use crate::units::Watts;

/// A small strip has so many points.
pub const POINTS: usize = 40;

/// A ride in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Brief {
    /// The name of its folder.
    pub key: String,
    /// The moment of its start, milliseconds since 1970-01-01T00:00:00Z.
    pub started_ms: i64,
    /// The session's name.
    pub session: String,
    /// The rider's name.
    pub rider: String,
    /// Who set the load at the start.
    pub mode: RideMode,
    /// Whether any device was a model and no machine.
    pub simulated: bool,
    /// Threshold power on the day, W.
    pub threshold_w: f64,
    /// Seconds ridden.
    pub ridden_s: u64,
    /// Mean power, W.
    pub power_w: Option<f64>,
    /// The rating of the whole session, out of ten.
    pub rating: Option<f64>,
    /// Rating × minutes.
    pub load: Option<f64>,
    /// The effort asked for, thinned: a letter a point, see [`letter`].
    pub asked: String,
    /// The effort ridden, thinned in the same way; all dashes where no power was measured.
    pub ridden: String,
    /// Best mean powers at [`LENGTHS`], W, as far as the ride has any.
    pub best_means_w: Vec<f64>,
    /// The blocks that were rated and ridden whole.
    pub rated: Vec<Rated>,
}

impl Brief {
    /// Of a recording in a folder of this name.
    pub fn of(key: &str, recording: &Recording<'_>) -> Self {
        let rows = recording.rows;
        let start = recording.start;
        let ridden_s = rows.last().map_or(0, |row| row.ridden_s);
        let mut notes = recording.notes.iter().rev();
        let rating = notes
            .find(|note| note.what == "rating" && note.block.is_none())
            .and_then(|note| note.rating)
            .map(|rating| rating.0);
        let known = Asked::of(start);
        let (asked, ridden) = strip(start, &known, rows);
        // Without a rated block nothing of the blocks is needed.
        let is_rated = |note: &NoteLine| note.what == "rating" && note.block.is_some();
        let blocks = if recording.notes.iter().any(is_rated) {
            blocks(recording, &known)
        } else {
            Vec::new()
        };
        Self {
            key: key.to_owned(),
            started_ms: start.utc_ms,
            session: start.session.clone(),
            rider: start.rider.clone(),
            mode: start.mode,
            simulated: start.devices.iter().any(|device| device.3),
            threshold_w: start.threshold.0,
            ridden_s,
            power_w: mean(rows.iter().filter_map(|row| row.power.map(Watts::get))),
            rating,
            load: rating.map(|rating| session_load(rating, ridden_s as f64)),
            asked,
            ridden,
            best_means_w: bests_at(&pieces(rows, |row| row.power.map(Watts::get)), &LENGTHS),
            rated: rated(recording, &blocks),
        }
    }
}

/// What was rated of it, for the effort map. A block that was made easier was not ridden as it began.
fn rated(recording: &Recording<'_>, blocks: &[BlockResult]) -> Vec<Rated> {
    let threshold = recording.start.threshold.0;
    let one = |block: &BlockResult| {
        let fits = block.whole() && !block.helps.any() && threshold > 0.0;
        Some(Rated {
            share: block.power_w.filter(|_| fits)? / threshold,
            minutes: block.ridden_s as f64 / 60.0,
            repeat: block.repeat.unwrap_or(1),
            effort: block.effort,
            rating: block.rating?,
        })
    };
    blocks.iter().filter_map(one).collect()
}

/// The letters of a small strip: effort in fifths from `A`, which is 0, to `s`, which is 10; a dash is nothing known.
pub fn letter(effort: Option<f64>) -> char {
    effort.map_or('-', |effort| {
        let fifths = (effort.clamp(0.0, 10.0) * 5.0).round() as u8;
        char::from(b'A' + fifths)
    })
}

/// The effort of a letter; none for a dash and for what is no such letter.
pub fn effort(letter: char) -> Option<f64> {
    let fifths = u32::from(letter).checked_sub(u32::from('A'))?;
    (fifths <= 50).then(|| f64::from(fifths) / 5.0)
}

fn strip(start: &RideStart, known: &Asked, rows: &[Row]) -> (String, String) {
    let length = rows.last().map_or(0, |row| row.ridden_s).max(1);
    let default = EffortMap::default();
    let map = known
        .rider
        .as_ref()
        .map_or(&default, |rider| &rider.effort_map);
    let mut sums = [[(0.0, 0_u32); 2]; POINTS];
    for row in rows {
        let share = row.ridden_s.saturating_sub(1).saturating_mul(POINTS as u64) / length;
        let place = usize::try_from(share).unwrap_or(0).min(POINTS - 1);
        let ridden = row.power.map(|power| {
            let effort = map.effort(power, start.threshold);
            effort.map_or(10.0, |effort| effort.0)
        });
        for (value, sum) in [row.effort.map(|effort| effort.0), ridden]
            .into_iter()
            .zip(&mut sums[place])
        {
            if let Some(value) = value {
                sum.0 += value;
                sum.1 += 1;
            }
        }
    }
    let line = |which: usize| {
        let point = |sums: &[(f64, u32); 2]| {
            let (sum, count) = sums[which];
            letter((count > 0).then(|| sum / f64::from(count)))
        };
        sums.iter().map(point).collect()
    };
    (line(0), line(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_come_back_to_a_fifth_of_an_effort() {
        for fifths in 0..=50 {
            let value = f64::from(fifths) / 5.0;
            assert_eq!(effort(letter(Some(value))), Some(value));
        }
        assert_eq!(letter(Some(99.0)), 's');
        assert_eq!(effort(letter(None)), None);
        assert_eq!(effort('z'), None);
    }
}
