//! The effort map learned from ratings: rating is the response, load was set.
//!
//! A rating is regressed on the load, as the effort that the default map gives it, on the length and on the repeat:
//! rating = a + s·effort + b·ln(length / 8 min) + c·(repeat − 1). The default map is where it starts, a = 0 and s = 1 with
//! b = c = 0, and that start weighs as much as a few ratings (own choice), so that the map moves with evidence and not
//! with one bad day. s stays above nought: a rating never falls with the load. The map is then read off backwards for a
//! first repeat of eight minutes.

use serde::{Deserialize, Serialize};

use super::Brief;
use crate::rider::EffortMap;
use crate::units::{Effort, Fraction, Watts};

/// Blocks of three minutes and more are rated (rules of the ride).
const SHORTEST_S: f64 = 180.0;
/// The length that the map stands for, min: around 8 of 10 is said of holds of 8 to 20 min (common practice).
const OWN_MINUTES: f64 = 8.0;
/// So many ratings of so many rides at least, over so wide a spread of load, before anything is proposed (own choice).
const FEWEST: usize = 8;
const FEWEST_RIDES: usize = 3;
const LEAST_SPREAD: f64 = 0.10;
/// The start, as ratings that nobody gave (own choice): what stands for the load, the rating, and how many it weighs. The
/// first lies in the middle of what is rated, at effort 7, or the slope would follow whoever rates all a little higher.
const START: [([f64; 4], f64, f64); 4] = [
    ([1.0, 7.0, 0.0, 0.0], 7.0, 4.0),
    ([0.0, 1.0, 0.0, 0.0], 1.0, 40.0),
    ([0.0, 0.0, 1.0, 0.0], 0.0, 4.0),
    ([0.0, 0.0, 0.0, 1.0], 0.0, 8.0),
];
/// The slope of rating over effort stays between these (own choice).
const SLOPES: (f64, f64) = (0.4, 2.5);
/// Below this effort the map goes back to the one so far, which is nought at nought: easy riding is seldom rated.
const OWN_FROM: f64 = 3.0;
/// No figure goes further from the default than this share of it (own choice): beyond the loads that were rated a line
/// means little.
const MOST_MOVED: f64 = 0.25;
/// The ratings of so many of the newest rides count: a rider changes.
const MOST_RIDES: usize = 200;

/// A rated block.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rated {
    /// Mean power over the threshold of the day.
    pub share: f64,
    /// How long, min.
    pub minutes: f64,
    /// Which repeat, from 1.
    pub repeat: u32,
    /// The effort that was planned; none where there was none.
    pub effort: Option<f64>,
    /// The rating, out of ten.
    pub rating: f64,
}

/// What was learned.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Learned {
    /// Ratings that counted.
    pub ratings: usize,
    /// Rides that they are of.
    pub rides: usize,
    /// a, s, b and c.
    pub figures: [f64; 4],
    /// How far ratings lie from what is expected of them: one standard deviation, of ten.
    pub scatter: f64,
    /// The share of threshold at each whole effort from 0 to 9, as it would be.
    pub shares: [f64; 10],
    /// One standard error of each, as a share.
    pub doubt: [f64; 10],
    /// The same as they are so far.
    pub before: [f64; 10],
}

impl Learned {
    /// The map that is proposed.
    pub fn map(&self) -> Option<EffortMap> {
        EffortMap::new(self.shares)
    }
}

/// Why nothing is proposed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TooLittle {
    /// Too few ratings or rides.
    #[error(
        "There are {ratings} ratings of blocks in {rides} rides. {FEWEST} of them in {FEWEST_RIDES} rides are needed before \
         the map can learn. Rate blocks of three minutes and more."
    )]
    Ratings {
        /// Ratings.
        ratings: usize,
        /// Rides.
        rides: usize,
    },
    /// All of much the same load.
    #[error(
        "The rated blocks were all ridden at much the same load, {least:.0} to {most:.0} % of threshold, which tells nothing of \
         others. Rate easier and harder blocks too."
    )]
    Spread {
        /// The least load, % of threshold.
        least: f64,
        /// The greatest.
        most: f64,
    },
}

/// The ratings of a rider's rides that count: no practice devices, blocks of three minutes and more, the newest rides.
pub fn ratings<'b>(rides: impl Iterator<Item = &'b Brief>, rider: &str) -> (Vec<Rated>, usize) {
    let mut rides: Vec<&Brief> = rides
        .filter(|ride| ride.rider == rider && !ride.simulated && !ride.rated.is_empty())
        .collect();
    rides.sort_by_key(|ride| std::cmp::Reverse(ride.started_ms));
    rides.truncate(MOST_RIDES);
    let counts = |rated: &&Rated| {
        rated.minutes * 60.0 >= SHORTEST_S
            && rated.share > 0.1
            && rated.share < 2.0
            && (0.0..=10.0).contains(&rated.rating)
            // All out has no place on the map.
            && rated.effort.is_none_or(|effort| effort <= 9.0)
    };
    let of: Vec<Vec<Rated>> = rides
        .iter()
        .map(|ride| ride.rated.iter().filter(counts).copied().collect())
        .collect();
    let count = of.iter().filter(|rated| !rated.is_empty()).count();
    (of.into_iter().flatten().collect(), count)
}

/// The effort of a share on the map so far; beyond effort 9 it goes on in a straight line.
fn effort_of(share: f64, map: &EffortMap) -> f64 {
    let shares = map.shares();
    let (below, last) = (shares[8], shares[9]);
    match map.effort(Watts(share * 100.0), Watts(100.0)) {
        Some(effort) => effort.0,
        None => 9.0 + (share - last) / (last - below),
    }
}

/// The share of an effort on the map so far, beyond 9 and below 0 in straight lines.
fn share_of(effort: f64, map: &EffortMap) -> f64 {
    let shares = map.shares();
    match map.share(Effort(effort)) {
        Some(Fraction(share)) => share,
        None if effort > 9.0 => shares[9] + (effort - 9.0) * (shares[9] - shares[8]),
        None => effort * (shares[1] - shares[0]),
    }
}

fn row(rated: &Rated, map: &EffortMap) -> [f64; 4] {
    [
        1.0,
        effort_of(rated.share, map),
        (rated.minutes / OWN_MINUTES).ln(),
        f64::from(rated.repeat.max(1) - 1),
    ]
}

/// Learns from ratings, starting from the default map, so that what was adopted before is not counted twice. `stands` is
/// the map that is ridden by now.
///
/// # Errors
/// [`TooLittle`].
pub fn learn(rated: &[Rated], rides: usize, stands: &EffortMap) -> Result<Learned, TooLittle> {
    let so_far = &EffortMap::default();
    if rated.len() < FEWEST || rides < FEWEST_RIDES {
        return Err(TooLittle::Ratings {
            ratings: rated.len(),
            rides,
        });
    }
    let shares = rated.iter().map(|rated| rated.share);
    let (least, most) = (
        shares.clone().fold(f64::INFINITY, f64::min),
        shares.fold(0.0, f64::max),
    );
    if most - least < LEAST_SPREAD {
        return Err(TooLittle::Spread {
            least: least * 100.0,
            most: most * 100.0,
        });
    }
    let rows: Vec<[f64; 4]> = rated.iter().map(|rated| row(rated, so_far)).collect();
    let given: Vec<f64> = rated.iter().map(|rated| rated.rating).collect();
    let free = solve(&rows, &given, None);
    // Where the slope would leave its bounds it stands at the bound, and the others are found anew.
    let slope = free.0[1].clamp(SLOPES.0, SLOPES.1);
    let (figures, inverse) = if slope == free.0[1] {
        free
    } else {
        solve(&rows, &given, Some(slope))
    };
    let rest: f64 = rows
        .iter()
        .zip(&given)
        .map(|(row, rating)| {
            let expected: f64 = row.iter().zip(&figures).map(|(x, figure)| x * figure).sum();
            (rating - expected).powi(2)
        })
        .sum();
    let scatter = (rest / (rated.len() as f64 - 4.0).max(1.0)).sqrt();
    let (mut shares, mut doubt) = ([0.0; 10], [0.0; 10]);
    for whole in 1..10_u8 {
        let effort = f64::from(whole);
        let weight = (effort / OWN_FROM).min(1.0);
        let place = (effort - figures[0]) / figures[1];
        let moved = effort + (place - effort) * weight;
        let own = so_far.shares()[usize::from(whole)];
        shares[usize::from(whole)] =
            share_of(moved, so_far).clamp(own * (1.0 - MOST_MOVED), own * (1.0 + MOST_MOVED));
        // By the slopes of the place on a and s; the map's own slope there carries it over.
        let slopes = [-1.0 / figures[1], -place / figures[1]];
        let variance = slopes[0] * slopes[0] * inverse[0][0]
            + 2.0 * slopes[0] * slopes[1] * inverse[0][1]
            + slopes[1] * slopes[1] * inverse[1][1];
        let along = share_of(moved + 0.5, so_far) - share_of(moved - 0.5, so_far);
        doubt[usize::from(whole)] = (variance.max(0.0)).sqrt() * scatter * weight * along;
    }
    rising(&mut shares);
    Ok(Learned {
        ratings: rated.len(),
        rides,
        figures,
        scatter,
        shares,
        doubt,
        before: *stands.shares(),
    })
}

/// The least slope and the ends of a map: from nought, a hundredth at least from effort to effort, two at most.
fn rising(shares: &mut [f64; 10]) {
    const STEP: f64 = 0.01;
    shares[0] = 0.0;
    for index in 1..10 {
        shares[index] = shares[index].max(shares[index - 1] + STEP);
    }
    // From the top down, so that the steps stay.
    let mut most = 2.0;
    for share in shares.iter_mut().rev() {
        *share = share.min(most);
        most = *share - STEP;
    }
    shares[0] = 0.0;
    for share in shares.iter_mut() {
        // As many decimals as a hand would write.
        *share = (*share * 1000.0).round() / 1000.0;
    }
}

type Square = [[f64; 4]; 4];

/// Least squares with a start that weighs: the figures, and the inverse of the normal matrix. With `slope` the second is
/// held at it.
fn solve(rows: &[[f64; 4]], given: &[f64], slope: Option<f64>) -> ([f64; 4], Square) {
    let mut normal: Square = [[0.0; 4]; 4];
    let mut right = [0.0; 4];
    let ratings = rows.iter().zip(given);
    let all = ratings
        .map(|(row, rating)| (*row, *rating, 1.0))
        .chain(START);
    for (row, rating, weighs) in all {
        for i in 0..4 {
            for j in 0..4 {
                normal[i][j] += weighs * row[i] * row[j];
            }
            right[i] += weighs * row[i] * rating;
        }
    }
    if let Some(slope) = slope {
        for i in 0..4 {
            if i != 1 {
                right[i] -= normal[i][1] * slope;
                normal[i][1] = 0.0;
                normal[1][i] = 0.0;
            }
        }
        normal[1][1] = 1.0;
        right[1] = slope;
    }
    let mut inverse = inverted(normal);
    let mut figures = [0.0; 4];
    for (figure, row) in figures.iter_mut().zip(&inverse) {
        *figure = row.iter().zip(&right).map(|(a, b)| a * b).sum();
    }
    if slope.is_some() {
        inverse[1] = [0.0; 4];
    }
    (figures, inverse)
}

/// The inverse by Gauss and Jordan. The start's weights on the diagonal make the matrix positive, so that it has one.
fn inverted(mut matrix: Square) -> Square {
    let mut inverse: Square = [[0.0; 4]; 4];
    for (index, row) in inverse.iter_mut().enumerate() {
        row[index] = 1.0;
    }
    for column in 0..4 {
        let best = (column..4)
            .max_by(|&a, &b| matrix[a][column].abs().total_cmp(&matrix[b][column].abs()));
        let best = best.unwrap_or(column);
        matrix.swap(column, best);
        inverse.swap(column, best);
        let pivot = matrix[column][column];
        for index in 0..4 {
            matrix[column][index] /= pivot;
            inverse[column][index] /= pivot;
        }
        for other in (0..4).filter(|&other| other != column) {
            let factor = matrix[other][column];
            for index in 0..4 {
                matrix[other][index] -= factor * matrix[column][index];
                inverse[other][index] -= factor * inverse[column][index];
            }
        }
    }
    inverse
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use proptest::prelude::*;

    use super::*;

    fn rated(share: f64, minutes: f64, repeat: u32, rating: f64) -> Rated {
        Rated {
            share,
            minutes,
            repeat,
            effort: None,
            rating,
        }
    }

    /// Ratings of a rider who finds every load as hard as the default says, but for an offset.
    fn rider(offset: f64, count: usize) -> Vec<Rated> {
        let map = EffortMap::default();
        (0..count)
            .map(|index| {
                let share = 0.55 + 0.40 * (index % 9) as f64 / 8.0;
                rated(share, 8.0, 1, effort_of(share, &map) + offset)
            })
            .collect()
    }

    #[test]
    fn it_starts_at_the_default_and_moves_with_evidence() {
        let map = EffortMap::default();
        let eight = |count| learn(&rider(1.0, count), 9, &map).unwrap().shares[8];
        let same = learn(&rider(0.0, 40), 9, &map).unwrap();
        for (one, other) in same.shares.iter().zip(map.shares()) {
            assert!((one - other).abs() < 2e-3, "{same:?}");
        }
        // A rider who rates everything one higher: their 8 is the default's 7, and a few ratings go a part of the way.
        let (few, some, many) = (eight(8), eight(40), eight(2000));
        assert!(
            few < 0.91 && few > some && some > many,
            "{few} {some} {many}"
        );
        assert!((many - 0.82).abs() < 5e-3, "{many}");
    }

    #[test]
    fn too_little_is_refused() {
        let map = EffortMap::default();
        let few = learn(&rider(1.0, 7), 9, &map).unwrap_err();
        assert_eq!(
            few,
            TooLittle::Ratings {
                ratings: 7,
                rides: 9
            }
        );
        assert!(learn(&rider(1.0, 40), 2, &map).is_err());
        let same: Vec<_> = (0..40).map(|_| rated(0.8, 8.0, 1, 7.0)).collect();
        assert!(matches!(
            learn(&same, 9, &map),
            Err(TooLittle::Spread { .. })
        ));
    }

    /// A law of another structure than the model: ratings by a power of load, rounded to whole figures as they are given,
    /// harder in later repeats and in longer blocks. The map lands near the truth all the same.
    #[test]
    fn ratings_of_another_law_are_learned_near_enough() {
        let mut ratings = Vec::new();
        for ride in 0..30_u32 {
            for repeat in 1..=4_u32 {
                let share = 0.60 + 0.10 * f64::from((ride * 7 + repeat * 3) % 5);
                let minutes = [4.0, 8.0, 12.0][(ride % 3) as usize];
                let truth = 10.0 * (share / 1.05_f64).powf(1.4)
                    + 0.02 * (minutes - 8.0)
                    + 0.25 * f64::from(repeat - 1);
                let noise = [-0.6, 0.3, 0.5, -0.2][((ride + repeat) % 4) as usize];
                ratings.push(rated(
                    share,
                    minutes,
                    repeat,
                    (truth + noise).clamp(0.0, 10.0).round(),
                ));
            }
        }
        let learned = learn(&ratings, 30, &EffortMap::default()).unwrap();
        // What that law calls 6, 7 and 8 in a first repeat of eight minutes: 1.05 · (effort / 10)^(1 / 1.4).
        for effort in 6..=8_u8 {
            let truth = 1.05 * (f64::from(effort) / 10.0).powf(1.0 / 1.4);
            let found = learned.shares[usize::from(effort)];
            assert!(
                (found - truth).abs() < 0.03,
                "{effort}: {found} for {truth}; {learned:?}"
            );
        }
        assert!(
            learned.figures[3] > 0.1,
            "later repeats rate higher: {learned:?}"
        );
        assert!(learned.doubt[7] > 0.0 && learned.doubt[7] < 0.05);
    }

    #[test]
    fn practice_rides_and_other_riders_teach_nothing() {
        let ride = |rider: &str, simulated: bool| Brief {
            key: String::new(),
            started_ms: 0,
            session: String::new(),
            rider: rider.to_owned(),
            mode: crate::ride::RideMode::TargetPower,
            simulated,
            threshold_w: 200.0,
            ridden_s: 0,
            power_w: None,
            rating: None,
            load: None,
            asked: String::new(),
            ridden: String::new(),
            best_means_w: Vec::new(),
            rated: vec![rated(0.8, 8.0, 1, 7.0), rated(0.8, 2.0, 1, 7.0)],
        };
        let all = [ride("A", false), ride("B", false), ride("A", true)];
        let (found, rides) = ratings(all.iter(), "A");
        assert_eq!(
            (found.len(), rides),
            (1, 1),
            "one of three minutes and more"
        );
    }

    proptest! {
        /// Whatever was rated, the map is one that a rider can have: it rises, from nought, and ends at two at most.
        #[test]
        fn any_ratings_give_a_map_that_rises(
            given in proptest::collection::vec((0.1..2.0_f64, 3.0..120.0_f64, 1..20_u32, 0.0..=10.0_f64), 8..60),
        ) {
            let given: Vec<_> = given.into_iter().map(|(share, minutes, repeat, rating)| rated(share, minutes, repeat, rating)).collect();
            if let Ok(learned) = learn(&given, 5, &EffortMap::default()) {
                prop_assert!(learned.map().is_some(), "{:?}", learned);
                prop_assert!(learned.figures[1] >= SLOPES.0 && learned.figures[1] <= SLOPES.1);
                prop_assert!(learned.doubt.iter().all(|doubt| doubt.is_finite() && *doubt >= 0.0));
                prop_assert!(learned.scatter.is_finite());
            }
        }
    }
}
