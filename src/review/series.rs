//! One quantity over the ridden seconds: what was measured, where it is missing, and where the ride stood still.

use serde::Serialize;

use crate::record::Row;

/// More missing seconds than this in a row are a gap; a gap breaks a window of best means.
pub const GAP: u64 = 3;

/// The ridden pieces of one quantity without a gap in them. Up to three missing seconds are bridged by a straight line
/// between their neighbours; more, and a pause of more than three seconds, end a piece.
pub fn pieces(rows: &[Row], of: impl Fn(&Row) -> Option<f64>) -> Vec<Vec<f64>> {
    let mut pieces: Vec<Vec<f64>> = Vec::new();
    let mut last: Option<(u64, f64)> = None;
    let mut before: Option<&Row> = None;
    for row in rows {
        if before.is_some_and(|before| stood_ms(before, row) > GAP as i64 * 1000) {
            last = None;
        }
        before = Some(row);
        let Some(value) = of(row) else { continue };
        let missing = last.map(|(at, _)| row.ridden_s.saturating_sub(at + 1));
        match (last, missing, pieces.last_mut()) {
            (Some((at, old)), Some(missing), Some(piece))
                if missing <= GAP && row.ridden_s > at =>
            {
                let step = (value - old) / (missing + 1) as f64;
                piece.extend((1..=missing).map(|number| old + step * number as f64));
                piece.push(value);
            }
            _ => pieces.push(vec![value]),
        }
        last = Some((row.ridden_s, value));
    }
    pieces
}

/// How long the clock stood between two rows, by the wall, milliseconds.
pub fn stood_ms(before: &Row, row: &Row) -> i64 {
    let ridden = row.ridden_s.saturating_sub(before.ridden_s);
    let ridden_ms = i64::try_from(ridden)
        .unwrap_or(i64::MAX)
        .saturating_mul(1000);
    row.utc_ms
        .saturating_sub(before.utc_ms)
        .saturating_sub(ridden_ms)
}

/// How complete one quantity is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Channel {
    /// Seconds in which it was measured.
    pub seconds: u64,
    /// How often it was missing for more than three seconds together.
    pub gaps: u32,
    /// The longest of these gaps, seconds; none where there is none.
    pub longest_gap_s: Option<u64>,
    /// The mean over the seconds measured.
    pub mean: Option<f64>,
    /// The greatest of the seconds' values.
    pub most: Option<f64>,
}

impl Channel {
    /// Of all rows; lines that are missing in the file count as missing seconds, pauses do not.
    pub fn of(rows: &[Row], of: impl Fn(&Row) -> Option<f64>) -> Self {
        let mut channel = Self::default();
        let mut sum = 0.0;
        let (mut missing, mut at) = (0, 0);
        let close = |channel: &mut Self, missing: u64| {
            if missing > GAP {
                channel.gaps += 1;
                channel.longest_gap_s = channel.longest_gap_s.max(Some(missing));
            }
        };
        for row in rows {
            missing += row.ridden_s.saturating_sub(at + 1);
            at = row.ridden_s;
            let Some(value) = of(row) else {
                missing += 1;
                continue;
            };
            close(&mut channel, missing);
            missing = 0;
            channel.seconds += 1;
            sum += value;
            channel.most = Some(channel.most.map_or(value, |most| most.max(value)));
        }
        close(&mut channel, missing);
        channel.mean = (channel.seconds > 0).then(|| sum / channel.seconds as f64);
        channel
    }
}
