//! What a trainer's levels ask for, learned from rides: level and speed give power, with its doubt.
//!
//! A level is the maker's secret: nothing says what it means in newtons. But where one stood and was ridden, its power at
//! that speed is known, and two things hold for every brake: more level or more speed is never less power, and power
//! rises with speed at least as the speed itself (a constant force) and at most as its cube (a fan or a fluid). Between
//! what was ridden the table interpolates; beyond it these two bounds are all that it says.

use crate::memory::LevelPoint;

/// Levels closer than this share of the range are kept as one.
pub const LEVEL_STEP: f64 = 0.02;

/// Rates within a tenth of each other are kept as one.
const RATE_STEP: f64 = 1.1;

/// So many points at most; when it is full the one with the least time in it makes room.
const MOST_POINTS: usize = 160;

/// Time counts up to so many seconds, so that a brake which has changed is learned anew within a minute or two.
const MOST_SECONDS: f64 = 120.0;

/// A point with less time in it says nothing yet, seconds.
const LEAST_SECONDS: f64 = 2.0;

/// No figure is surer than this share: brakes drift by some per cent as they warm up (common practice, no source).
const LEAST_DOUBT: f64 = 0.03;

/// Nothing is said of a rate that is further than this factor from all that were ridden at a level.
const FURTHEST: f64 = 2.0;

/// Power is taken to rise with the square of the rate where one point alone was ridden: an eddy-current or magnetic
/// brake, whose force rises with speed (Wouterse 1991, from memory).
const LIKELY_POWER: f64 = 2.0;

/// A power, with what it is at least and at most, W.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// At least.
    pub low: f64,
    /// Most likely.
    pub likely: f64,
    /// At most.
    pub high: f64,
}

/// Where a power is found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Found {
    /// At this level, as a share of the range.
    At(f64),
    /// Above the highest level that is known, which is this one.
    Above(f64),
    /// Below the lowest level that is known, which is this one.
    Below(f64),
}

/// The table of one trainer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// In the order of level, then of rate.
    points: Vec<LevelPoint>,
}

fn level_of(share: f64) -> i64 {
    (share / LEVEL_STEP).round() as i64
}

fn rate_of(rate: f64) -> i64 {
    (rate.ln() / RATE_STEP.ln()).floor() as i64
}

impl Table {
    /// From what was remembered; what could not have been learned is left out.
    pub fn from_points(points: &[LevelPoint]) -> Self {
        let sound = |point: &&LevelPoint| {
            (0.0..=1.0).contains(&point.share)
                && point.rate > 0.0
                && point.rate < 1e3
                && (0.0..1e4).contains(&point.watts)
                && (0.0..1e4).contains(&point.spread)
                && (0.0..=MOST_SECONDS).contains(&point.seconds)
        };
        let mut points: Vec<LevelPoint> = points
            .iter()
            .filter(sound)
            .take(MOST_POINTS)
            .copied()
            .collect();
        points.sort_by_key(|p| (level_of(p.share), rate_of(p.rate)));
        Self { points }
    }

    /// To be remembered.
    pub fn points(&self) -> &[LevelPoint] {
        &self.points
    }

    /// Whether nothing was learned yet.
    pub fn is_empty(&self) -> bool {
        !self.points.iter().any(|p| p.seconds >= LEAST_SECONDS)
    }

    /// Takes in what was ridden for `seconds` at a level that stood: a share of the range, the wheel's speed in m/s,
    /// and watts.
    pub fn learn(&mut self, share: f64, rate: f64, watts: f64, seconds: f64) {
        let sound = (0.0..=1.0).contains(&share) && rate > 0.0 && watts > 0.0 && seconds > 0.0;
        if !(sound && watts < 1e4 && rate < 1e3) {
            return;
        }
        let cell = (level_of(share), rate_of(rate));
        if let Some(point) = self
            .points
            .iter_mut()
            .find(|p| (level_of(p.share), rate_of(p.rate)) == cell)
        {
            let weight = seconds / (point.seconds + seconds);
            // Compared at one rate: within a tenth the likely law is near enough for every brake.
            let there = watts * (point.rate / rate).powf(LIKELY_POWER);
            let off = there - point.watts;
            let variance = (1.0 - weight) * (point.spread.powi(2) + weight * off * off);
            point.watts += weight * off;
            // The mean rate moves too, and the power with it.
            let moved = (point.rate + weight * (rate - point.rate)) / point.rate;
            if rate_of(point.rate * moved) == cell.1 {
                point.rate *= moved;
                point.watts *= moved.powf(LIKELY_POWER);
            }
            point.share += weight * (share - point.share);
            point.spread = variance.sqrt();
            point.seconds = (point.seconds + seconds).min(MOST_SECONDS);
            return;
        }
        if self.points.len() >= MOST_POINTS {
            let lightest = (0..self.points.len())
                .min_by(|&a, &b| self.points[a].seconds.total_cmp(&self.points[b].seconds));
            if let Some(lightest) = lightest {
                self.points.remove(lightest);
            }
        }
        let place = self
            .points
            .partition_point(|p| (level_of(p.share), rate_of(p.rate)) < cell);
        self.points.insert(
            place,
            LevelPoint {
                share,
                rate,
                watts,
                spread: 0.0,
                seconds,
            },
        );
    }

    /// What each level that was ridden asks for at a rate, in the order of levels, never falling.
    fn levels(&self, rate: f64) -> Vec<(f64, Estimate)> {
        let mut levels: Vec<(f64, Estimate)> = Vec::new();
        let mut rest = self.points.as_slice();
        while let Some(first) = rest.first() {
            let same = rest.partition_point(|p| level_of(p.share) == level_of(first.share));
            let (level, others) = rest.split_at(same.max(1));
            rest = others;
            let told: Vec<&LevelPoint> = level
                .iter()
                .filter(|p| p.seconds >= LEAST_SECONDS)
                .collect();
            if let Some(estimate) = at_rate(&told, rate) {
                let share = told.iter().map(|p| p.share).sum::<f64>() / told.len() as f64;
                levels.push((share, estimate));
            }
        }
        // More level is never less power: what a lower level asks for at least, a higher one does, and the other way.
        pool(&mut levels);
        for at in 1..levels.len() {
            levels[at].1.low = levels[at].1.low.max(levels[at - 1].1.low);
        }
        for at in (1..levels.len()).rev() {
            levels[at - 1].1.high = levels[at - 1].1.high.min(levels[at].1.high);
        }
        for (_, estimate) in &mut levels {
            estimate.likely = estimate
                .likely
                .clamp(estimate.low.min(estimate.high), estimate.high);
        }
        levels
    }

    /// What a level asks for at a rate; nothing where the level is above all that were ridden, or the rate far from them.
    pub fn estimate(&self, share: f64, rate: f64) -> Option<Estimate> {
        let levels = self.levels(rate);
        let above = levels.iter().find(|(s, _)| *s >= share - 1e-6)?;
        let below = levels.iter().rfind(|(s, _)| *s <= share + 1e-6);
        let Some(below) = below else {
            return Some(Estimate {
                low: 0.0,
                ..above.1
            });
        };
        let width = above.0 - below.0;
        let part = if width > 1e-9 {
            ((share - below.0) / width).clamp(0.0, 1.0)
        } else {
            0.0
        };
        Some(Estimate {
            low: below.1.low,
            likely: below.1.likely + part * (above.1.likely - below.1.likely),
            high: above.1.high,
        })
    }

    /// The highest level that asks for no more than `most` watts at a rate, by what it asks for at most, and whether
    /// a higher one that was ridden may ask for more. Never above the levels that were ridden. Nothing where nothing is known at this rate.
    pub fn most_share(&self, most: f64, rate: f64) -> Option<(f64, bool)> {
        let levels = self.levels(rate);
        match levels.iter().position(|(_, e)| e.high > most) {
            Some(0) => {
                let (share, least) = levels[0];
                Some((share * (most / least.high).clamp(0.0, 1.0), true))
            }
            // Between two levels a straight line. A scale that is steeper at its lower end asks for more there until that was
            // ridden too, and then the line is shorter.
            Some(over) => {
                let ((low, a), (high, b)) = (levels[over - 1], levels[over]);
                let part = (most - a.high) / (b.high - a.high).max(1e-9);
                Some((low + part.clamp(0.0, 1.0) * (high - low), true))
            }
            None => levels.last().map(|(share, _)| (*share, false)),
        }
    }

    /// The level that most likely asks for so many watts at a rate. Nothing where nothing is known at this rate.
    pub fn share_for(&self, watts: f64, rate: f64) -> Option<Found> {
        let levels = self.levels(rate);
        let over = levels.iter().position(|(_, e)| e.likely >= watts);
        match over {
            Some(0) if levels[0].0 < LEVEL_STEP / 2.0 => Some(Found::At(0.0)),
            Some(0) => Some(Found::Below(levels[0].0)),
            Some(over) => {
                let ((low, a), (high, b)) = (levels[over - 1], levels[over]);
                let part = (watts - a.likely) / (b.likely - a.likely).max(1e-9);
                Some(Found::At(low + part.clamp(0.0, 1.0) * (high - low)))
            }
            None => levels.last().map(|(share, _)| Found::Above(*share)),
        }
    }
}

/// What one level asks for at a rate, from the points that were ridden at it.
fn at_rate(points: &[&LevelPoint], rate: f64) -> Option<Estimate> {
    let doubt = |p: &LevelPoint| (2.0 * p.spread).max(LEAST_DOUBT * p.watts);
    let scaled = |p: &LevelPoint, likely: f64| {
        let factor = rate / p.rate;
        let (least, most) = if factor >= 1.0 {
            (factor, factor.powi(3))
        } else {
            (factor.powi(3), factor)
        };
        Estimate {
            low: (p.watts - doubt(p)).max(0.0) * least,
            likely: p.watts * factor.powf(likely),
            high: (p.watts + doubt(p)) * most,
        }
    };
    let slower = points.iter().rfind(|p| p.rate <= rate);
    let faster = points.iter().find(|p| p.rate > rate);
    match (slower, faster) {
        (Some(slower), Some(faster)) => {
            let law = law_between(slower, faster);
            let (up, down) = (scaled(slower, law), scaled(faster, law));
            // Both sides bind: at least as much as either says at least, at most as little as either says at most.
            let part = (rate / slower.rate).ln() / (faster.rate / slower.rate).ln();
            let likely = up.likely + part * (down.likely - up.likely);
            let low = up.low.max(down.low);
            let high = up.high.min(down.high);
            Some(if low <= high {
                Estimate {
                    low,
                    likely: likely.clamp(low, high),
                    high,
                }
            } else {
                // The two contradict each other: then the wider of what they say.
                Estimate {
                    low: up.low.min(down.low),
                    likely,
                    high: up.high.max(down.high),
                }
            })
        }
        (Some(near), None) | (None, Some(near)) => {
            let factor = (rate / near.rate).max(near.rate / rate);
            let law = match points {
                [first, .., last] => law_between(first, last),
                _ => LIKELY_POWER,
            };
            (factor <= FURTHEST).then(|| scaled(near, law))
        }
        (None, None) => None,
    }
}

/// The power of the rate with which the watts of two points rise, 1 to 3.
fn law_between(a: &LevelPoint, b: &LevelPoint) -> f64 {
    let law = (b.watts.max(1.0) / a.watts.max(1.0)).ln() / (b.rate / a.rate).ln();
    if law.is_finite() {
        law.clamp(1.0, 3.0)
    } else {
        LIKELY_POWER
    }
}

/// Pools neighbours that fall until nothing does: the closest line that never falls (pool adjacent violators; Ayer et al.
/// 1955).
fn pool(levels: &mut [(f64, Estimate)]) {
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (_, estimate) in levels.iter() {
        pools.push((estimate.likely, 1));
        while let [.., (before, n), (last, m)] = pools[..]
            && before > last
        {
            let mean = (before * n as f64 + last * m as f64) / (n + m) as f64;
            pools.truncate(pools.len() - 2);
            pools.push((mean, n + m));
        }
    }
    let flat = pools
        .into_iter()
        .flat_map(|(likely, n)| std::iter::repeat_n(likely, n));
    for ((_, estimate), likely) in levels.iter_mut().zip(flat) {
        estimate.likely = likely;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    /// Three laws of a brake, W at a share and m/s, reckoned by hand and not by the practice brake: a constant force with
    /// a curved scale, a magnetic brake whose force rises with speed, a fan whose power rises with the cube.
    const LAWS: [fn(f64, f64) -> f64; 3] = [
        |share, v| (3.0 + 60.0 * share.sqrt()) * v,
        |share, v| (2.0 + 9.0 * share * v) * v,
        |share, v| (2.0 + 1.1 * share * v * v) * v,
    ];

    fn ridden(law: fn(f64, f64) -> f64, shares: &[f64], speeds: &[f64]) -> Table {
        let mut table = Table::default();
        for _ in 0..5 {
            for &share in shares {
                for &speed in speeds {
                    table.learn(share, speed, law(share, speed), 1.0);
                }
            }
        }
        table
    }

    #[test]
    fn the_truth_lies_between_the_bounds_on_every_brake_at_speeds_that_were_not_ridden() {
        for law in LAWS {
            let table = ridden(law, &[0.0, 0.1, 0.2, 0.3, 0.4], &[5.0, 7.0, 9.0]);
            for percent in 0..=40 {
                for tenth in 30..160 {
                    let (share, v) = (f64::from(percent) / 100.0, f64::from(tenth) / 10.0);
                    let truth = law(share, v);
                    let said = table.estimate(share, v).unwrap();
                    assert!(
                        said.low <= truth + 1e-6 && truth <= said.high + 1e-6,
                        "{share} at {v} m/s: {said:?}, {truth}"
                    );
                    // Where it was ridden it is near.
                    if percent % 10 == 0 && (50..=90).contains(&tenth) {
                        assert!((said.likely / truth - 1.0).abs() < 0.05, "{said:?} {truth}");
                    }
                }
            }
        }
    }

    #[test]
    fn more_level_and_more_speed_are_never_less_power() {
        // A noisy brake, one of whose levels was ridden with a wrong reading.
        let mut table = ridden(LAWS[1], &[0.0, 0.1, 0.2, 0.3], &[6.0, 8.0, 10.0]);
        for _ in 0..5 {
            table.learn(0.2, 8.0, 40.0, 1.0);
        }
        for tenth in 40..=140 {
            let v = f64::from(tenth) / 10.0;
            let mut last = 0.0;
            for percent in 0..=30 {
                let said = table.estimate(f64::from(percent) / 100.0, v).unwrap();
                assert!(said.likely >= last - 1e-9, "{percent} at {v}");
                last = said.likely;
            }
        }
    }

    #[test]
    fn the_bound_keeps_every_brake_under_the_cap_and_never_leaves_what_was_ridden() {
        for (number, law) in LAWS.into_iter().enumerate() {
            for cap in [60.0, 120.0, 200.0, 250.0, 1000.0] {
                for v in [7.0, 8.0, 9.0, 11.0] {
                    let mut table = ridden(law, &[0.0, 0.1, 0.2, 0.3], &[6.0, 7.0, 8.0]);
                    // A curved scale is found out by riding where the bound lies; the two straight ones need none of it.
                    for _ in 0..if number == 0 { 8 } else { 0 } {
                        let (most, _) = table.most_share(cap, v).unwrap();
                        for _ in 0..5 {
                            table.learn(most, v, law(most, v), 1.0);
                        }
                    }
                    let (most, over) = table.most_share(cap, v).unwrap();
                    assert!(most <= 0.3 + 1e-9);
                    assert!(over || law(0.3, v) <= cap, "{cap} W at {v} m/s");
                    let said = law(most, v);
                    assert!(
                        most == 0.0 || said <= cap * (1.0 + LEAST_DOUBT),
                        "level {most} at {v} m/s is {said} W of {cap} W"
                    );
                }
            }
        }
        // Far from what was ridden it says nothing.
        let table = ridden(LAWS[0], &[0.1], &[4.0]);
        assert_eq!(table.most_share(200.0, 8.1), None);
        assert!(table.most_share(200.0, 7.9).is_some());
        assert_eq!(Table::default().most_share(200.0, 8.0), None);
    }

    #[test]
    fn the_level_for_a_load_is_found_between_those_that_were_ridden() {
        // By the magnetic law, 8 m/s: share 0.2 is (2 + 14.4)·8 = 131.2 W, share 0.3 (2 + 21.6)·8 = 188.8 W.
        let table = ridden(LAWS[1], &[0.0, 0.1, 0.2, 0.3], &[8.0]);
        let Some(Found::At(share)) = table.share_for(160.0, 8.0) else {
            panic!();
        };
        assert!((share - 0.25).abs() < 0.002, "{share}");
        assert_eq!(table.share_for(300.0, 8.0), Some(Found::Above(0.3)));
        assert_eq!(table.share_for(5.0, 8.0), Some(Found::At(0.0)));
        assert_eq!(Table::default().share_for(100.0, 8.0), None);
        // Less than was ridden is not taken for the lowest level there is.
        let table = ridden(LAWS[1], &[0.2], &[8.0]);
        assert_eq!(table.share_for(60.0, 8.0), Some(Found::Below(0.2)));
    }

    #[test]
    fn readings_that_differ_make_doubt() {
        // 60 W and 160 W at the same level and speed are 110 W, give or take 50 W, twice of which is taken.
        let mut table = Table::default();
        for _ in 0..10 {
            table.learn(0.1, 8.0, 60.0, 1.0);
            table.learn(0.1, 8.0, 160.0, 1.0);
        }
        let said = table.estimate(0.1, 8.0).unwrap();
        assert!((said.likely - 110.0).abs() < 10.0, "{said:?}");
        assert!(said.high > 190.0 && said.low < 30.0, "{said:?}");
    }

    #[test]
    fn what_is_remembered_is_bounded_and_what_is_broken_is_left_out() {
        let mut table = Table::default();
        for level in 0..=100 {
            for speed in 1..40 {
                table.learn(f64::from(level) / 100.0, f64::from(speed) * 0.5, 100.0, 1.0);
            }
        }
        assert!(table.points().len() <= MOST_POINTS);
        let again = Table::from_points(table.points());
        assert_eq!(again, table);
        let bad = |share, rate, watts| LevelPoint {
            share,
            rate,
            watts,
            spread: 0.0,
            seconds: 10.0,
        };
        let broken = [
            bad(1.5, 8.0, 100.0),
            bad(0.1, 0.0, 100.0),
            bad(0.1, 8.0, f64::NAN),
            bad(f64::NAN, 8.0, 100.0),
            bad(0.1, 8.0, -5.0),
        ];
        assert!(Table::from_points(&broken).points().is_empty());
        for (share, rate, watts) in [
            (1.1, 8.0, 100.0),
            (0.1, -1.0, 100.0),
            (0.1, 8.0, f64::INFINITY),
        ] {
            table = Table::default();
            table.learn(share, rate, watts, 1.0);
            assert!(table.points().is_empty());
        }
    }
}
