//! What the room shows of a ride beside others: the same session before, weeks, the effort map learned.

use super::{Data, State};
use crate::review::over::learned::{Learned, Rated, learn, ratings};
use crate::review::over::weeks::{bests, weeks};
use crate::review::over::{Brief, compare_tables};
use crate::rider::Rider;
use crate::text;

/// The effort map, and what the rider's ratings say of it.
#[derive(Clone, Debug, PartialEq)]
pub struct MapShown {
    /// The share of threshold at each whole effort from 0 to 9, as it stands.
    pub stands: [f64; 10],
    /// What was learned, or why nothing was.
    pub learned: Result<Learned, String>,
    /// The ratings that counted.
    pub rated: Vec<Rated>,
    /// The rider's threshold, W.
    pub threshold_w: f64,
    /// All of it, for a screen reader.
    pub spoken: String,
}

/// So many weeks are shown.
const WEEKS: usize = 16;
/// Best means are set beside those of so many days before.
const DAYS_BEFORE: i64 = 42;

/// The best of the rider's rides in the weeks before.
pub(super) fn before(state: &State, picked: &Brief) -> Vec<(f64, f64)> {
    let least = picked.started_ms - DAYS_BEFORE * 86_400_000;
    let rides = state.rides().iter().filter(|ride| {
        ride.rider == picked.rider
            && ride.key != picked.key
            && (least..picked.started_ms).contains(&ride.started_ms)
            && ride.simulated == picked.simulated
    });
    let best = bests(rides).into_iter();
    best.map(|best| (best.seconds as f64, best.mean_w))
        .collect()
}

fn map<'b>(rides: impl Iterator<Item = &'b Brief>, rider: &Rider) -> MapShown {
    let (rated, count) = ratings(rides, &rider.name);
    let learned = learn(&rated, count, &rider.effort_map)
        .map_err(|why| text::translated(&why.to_string()).into_owned());
    let stands = *rider.effort_map.shares();
    let spoken = match &learned {
        Ok(learned) => {
            let share = |effort: usize| {
                say!(
                    "{effort}: {share:.0} % of threshold, so far {stands:.0} %",
                    effort,
                    share = learned.shares[effort] * 100.0,
                    stands = stands[effort] * 100.0
                )
            };
            (1..10).map(share).collect::<Vec<_>>().join("; ")
        }
        Err(why) => why.clone(),
    };
    MapShown {
        stands,
        learned,
        rated,
        threshold_w: rider.threshold.0,
        spoken,
    }
}

impl Data {
    pub(super) fn over(&mut self, state: &State, picked: &Brief, rider: Option<&Rider>) {
        let keys = state.alike();
        match &state.over {
            _ if keys.len() < 2 => {
                self.lacking = word!(
                    "This session was not ridden before, so there is nothing to set it beside."
                );
            }
            Some((known, Ok(comparison))) if *known == keys => {
                let sentences = compare_tables::sentences(comparison);
                let title = word!("The same session before").to_owned();
                self.story = vec![(title, sentences)];
                self.tables = vec![compare_tables::rides(comparison)];
                self.tables.extend(compare_tables::blocks(comparison));
            }
            Some((known, Err(why))) if *known == keys => {
                let title = word!("The same session before").to_owned();
                self.story = vec![(title, vec![why.clone()])];
            }
            _ => self.lacking = word!("The rides of this session are being read."),
        }
        let own = || {
            state
                .rides()
                .iter()
                .filter(|ride| ride.rider == picked.rider)
        };
        // Rides with practice devices are no weeks of a body's.
        let mut all = weeks(own().filter(|ride| ride.simulated == picked.simulated));
        let first = all.len().saturating_sub(WEEKS);
        self.weeks = all.split_off(first);
        if let Some(rider) = rider.filter(|rider| rider.name == picked.rider) {
            self.map = Some(map(own(), rider));
        }
    }
}
