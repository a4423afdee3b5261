//! Weeks: load and time of each, and the best mean powers of a stretch of them.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use serde::Serialize;

use super::Brief;
use crate::review::whole::LENGTHS;

/// No more weeks than these are told: ten years. Rides before them are left out.
const MOST_WEEKS: usize = 530;

/// A week, from Monday by UTC.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Week {
    /// Its Monday, as `2026-11-23`.
    pub monday: String,
    /// Rides.
    pub rides: u32,
    /// Seconds ridden.
    pub ridden_s: u64,
    /// Rating × minutes of those that were rated; none where none was.
    pub load: Option<f64>,
    /// Rides that were not rated, so that the load lacks them.
    pub unrated: u32,
}

/// The day of a ride, by UTC; none for a moment outside of the calendar.
fn day(ride: &Brief) -> Option<Date> {
    let at = Timestamp::from_millisecond(ride.started_ms).ok()?;
    Some(TimeZone::UTC.to_datetime(at).date())
}

/// The Monday of a day's week.
fn monday(day: Date) -> Option<Date> {
    let since = i64::from(day.weekday().to_monday_zero_offset());
    day.checked_sub(since.days()).ok()
}

/// The weeks from the first ride to the last, those without a ride too.
pub fn weeks<'b>(rides: impl Iterator<Item = &'b Brief>) -> Vec<Week> {
    let mut dated: Vec<(Date, &Brief)> = rides
        .filter_map(|ride| Some((monday(day(ride)?)?, ride)))
        .collect();
    dated.sort_by_key(|(monday, _)| *monday);
    let mut weeks: Vec<Week> = Vec::new();
    let mut at: Option<Date> = None;
    let last = dated.last().map(|(monday, _)| *monday);
    let earliest = last.and_then(|last| last.checked_sub((7 * MOST_WEEKS as i64).days()).ok());
    for (monday, ride) in dated
        .into_iter()
        .filter(|(monday, _)| Some(*monday) > earliest)
    {
        while at != Some(monday) {
            let next = at
                .and_then(|at| at.checked_add(7.days()).ok())
                .unwrap_or(monday);
            weeks.push(Week {
                monday: next.to_string(),
                rides: 0,
                ridden_s: 0,
                load: None,
                unrated: 0,
            });
            at = Some(next);
        }
        // A week was just put in, or was there.
        if let Some(week) = weeks.last_mut() {
            week.rides += 1;
            week.ridden_s += ride.ridden_s;
            match ride.load {
                Some(load) => week.load = Some(week.load.unwrap_or(0.0) + load),
                None => week.unrated += 1,
            }
        }
    }
    weeks
}

/// The best mean power over a length, and the ride that it is of.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BestOf {
    /// The length, s.
    pub seconds: usize,
    /// The mean, W.
    pub mean_w: f64,
    /// The ride's folder.
    pub key: String,
}

/// The best mean powers of some rides, at the lengths that are told. Those of ordinary rides are no maximal efforts.
pub fn bests<'b>(rides: impl Iterator<Item = &'b Brief>) -> Vec<BestOf> {
    let mut bests: [Option<(f64, &str)>; LENGTHS.len()] = [None; LENGTHS.len()];
    for ride in rides {
        for (best, mean) in bests.iter_mut().zip(&ride.best_means_w) {
            if best.is_none_or(|(most, _)| *mean > most) {
                *best = Some((*mean, &ride.key));
            }
        }
    }
    let told = LENGTHS.iter().zip(bests);
    told.filter_map(|(&seconds, best)| {
        let (mean_w, key) = best?;
        Some(BestOf {
            seconds,
            mean_w,
            key: key.to_owned(),
        })
    })
    .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::ride::RideMode;

    fn ride(day: &str, load: Option<f64>) -> Brief {
        let at: Timestamp = format!("{day}T12:00:00Z").parse().unwrap();
        Brief {
            key: day.to_owned(),
            started_ms: at.as_millisecond(),
            session: String::new(),
            rider: String::new(),
            mode: RideMode::TargetPower,
            simulated: false,
            threshold_w: 200.0,
            ridden_s: 600,
            power_w: None,
            rating: None,
            load,
            asked: String::new(),
            ridden: String::new(),
            best_means_w: Vec::new(),
            rated: Vec::new(),
        }
    }

    #[test]
    fn weeks_begin_on_monday_and_none_is_left_out() {
        // By the calendar: 22 November 2026 is a Sunday, the 23rd a Monday.
        let rides = [
            ride("2026-11-22", Some(100.0)),
            ride("2026-11-23", Some(50.0)),
            ride("2026-11-29", None),
            ride("2026-12-14", None),
        ];
        let weeks = weeks(rides.iter());
        let told: Vec<_> = weeks
            .iter()
            .map(|week| (week.monday.as_str(), week.rides, week.load, week.unrated))
            .collect();
        assert_eq!(
            told,
            [
                ("2026-11-16", 1, Some(100.0), 0),
                ("2026-11-23", 2, Some(50.0), 1),
                ("2026-11-30", 0, None, 0),
                ("2026-12-07", 0, None, 0),
                ("2026-12-14", 1, None, 1),
            ]
        );
    }

    #[test]
    fn the_best_of_some_rides_names_its_ride() {
        let mut one = ride("2026-11-22", None);
        one.best_means_w = vec![500.0, 300.0];
        let mut other = ride("2026-11-23", None);
        other.best_means_w = vec![450.0, 320.0, 310.0];
        let found = bests([&one, &other].into_iter());
        let told: Vec<_> = found
            .iter()
            .map(|best| (best.seconds, best.mean_w, best.key.as_str()))
            .collect();
        assert_eq!(
            told,
            [
                (1, 500.0, "2026-11-22"),
                (5, 320.0, "2026-11-23"),
                (10, 310.0, "2026-11-23")
            ]
        );
        assert!(bests([].into_iter()).is_empty());
    }
}
