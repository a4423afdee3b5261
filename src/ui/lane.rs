//! The lane: what the session asks for at every moment, for this rider today, on the effort scale of the strip.
//!
//! Where the brake holds the watts the lane ahead is reckoned by the ride itself, in `ride::ahead`, and drawn as it will
//! be commanded. Where the rider makes them it is the plan's, with today's trim, under the rider's caps.

use crate::engine::Snapshot;
use crate::engine::snapshot::Lap;
use crate::plan::{Block, Brake, Kind, Load, Plan};
use crate::ride::ahead::{self, Coming, Going, Today};
use crate::ride::build_up::FALL;
use crate::ride::{RideMode, load};
use crate::rider::{self, EffortMap, Rider};
use crate::time::Span;
use crate::units::{Effort, Watts};

/// Half the lane's width where the brake holds the watts.
pub const TOLERANCE_HELD: f64 = 0.05;

/// Half the lane's width where the rider makes the watts (common practice: 8 to 10 %).
pub const TOLERANCE_FREE: f64 = 0.09;

/// What is asked for at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked {
    /// An effort on the scale, and its watts for this rider today where they are known.
    Level(Effort, Option<Watts>),
    /// All out: no figure.
    AllOut,
    /// Nothing that has a place on the scale: a free block, a resistance level, a slope.
    Open,
}

/// Everything that decides where the lane lies.
#[derive(Clone, Copy, Debug)]
pub struct Lanes<'a> {
    /// The session.
    pub plan: &'a Plan,
    /// The blocks as they stand today.
    pub laps: &'a [Lap],
    /// The rider; without one there are no watts, and loads given in watts are open.
    pub rider: Option<&'a Rider>,
    /// Who sets the load.
    pub mode: RideMode,
    /// Today's trim of work, per cent.
    pub trim_work: i32,
    /// Today's trim of recovery, per cent.
    pub trim_recovery: i32,
}

impl<'a> Lanes<'a> {
    /// Of a snapshot; nothing before a session was chosen.
    pub fn of(snapshot: &'a Snapshot) -> Option<Self> {
        Some(Self {
            plan: snapshot.plan.as_deref()?,
            laps: &snapshot.laps,
            rider: snapshot.rider.as_deref(),
            mode: snapshot.ride_mode,
            trim_work: snapshot.trim_work,
            trim_recovery: snapshot.trim_recovery,
        })
    }

    /// The block of a lap.
    pub fn block(&self, lap: usize) -> Option<&'a Block> {
        self.plan.blocks.get(self.laps.get(lap)?.block)
    }

    /// The lap that holds a moment of the session; the last with any length, after the end.
    pub fn lap_at(&self, at: Span) -> Option<usize> {
        let ridden = |lap: &Lap| lap.length > Span::ZERO;
        let first = self.not_over(at);
        self.laps[first..]
            .iter()
            .position(ridden)
            .map(|beyond| first + beyond)
            .or_else(|| self.laps.iter().rposition(ridden))
    }

    /// The first lap that ends after a moment; as many as there are, where none does. Laps follow each other in time, so
    /// that it is found in few steps however many there are.
    pub fn not_over(&self, at: Span) -> usize {
        self.laps.partition_point(|lap| lap.end() <= at)
    }

    /// The next lap after this one that has any length.
    pub fn next(&self, lap: usize) -> Option<usize> {
        (lap + 1..self.laps.len()).find(|&next| self.laps[next].length > Span::ZERO)
    }

    /// Half the lane's width in a lap, as a share of its watts.
    pub fn tolerance(&self, lap: usize) -> f64 {
        match self.block(lap).map(|block| block.brake) {
            Some(Brake::Held) if self.mode == RideMode::TargetPower => TOLERANCE_HELD,
            _ => TOLERANCE_FREE,
        }
    }

    /// What a load means for this rider today in a block.
    pub fn load(&self, asked: Load, block: &Block) -> Asked {
        if asked.is_all_out() {
            return Asked::AllOut;
        }
        let Some(rider) = self.rider else {
            return match asked {
                Load::Effort(effort) => Asked::Level(effort, None),
                _ => Asked::Open,
            };
        };
        let Some(planned) = rider::lane(&asked, rider) else {
            return Asked::Open;
        };
        // In effort-only mode the lane is the plan's effort itself: trim moves the fixed level and not the aim.
        if self.mode == RideMode::EffortOnly {
            return match asked {
                Load::Effort(effort) => Asked::Level(effort, None),
                _ => on_scale(rider, planned, false),
            };
        }
        let trim = if block.kind.is_work() {
            self.trim_work
        } else {
            self.trim_recovery
        };
        let watts = (planned * (1.0 + f64::from(trim) / 100.0)).min(load::cap(block, rider));
        on_scale(rider, watts, true)
    }

    /// What is asked for at a moment of the session, with build-up and fall as they are commanded.
    pub fn at(&self, at: Span) -> Asked {
        let Some(lap) = self.lap_at(at) else {
            return Asked::Open;
        };
        let asked = self.flat(lap, at);
        let Some(before) = self.ridden_before(lap) else {
            return asked;
        };
        let from = self.flat(before, self.laps[before].start + self.laps[before].length);
        let (Asked::Level(low, low_watts), Asked::Level(high, high_watts)) = (from, asked) else {
            return asked;
        };
        let ramp = self.ramp(lap, high > low);
        let into = at.less(self.laps[lap].start);
        if into >= ramp {
            return asked;
        }
        let share = into.seconds() / ramp.seconds();
        let effort = Effort(low.0 + (high.0 - low.0) * share);
        let watts = low_watts
            .zip(high_watts)
            .map(|(low, high)| low + (high - low) * share);
        Asked::Level(effort, watts)
    }

    /// How long the load takes to come to a lap's own.
    pub fn ramp(&self, lap: usize, rising: bool) -> Span {
        let Some(block) = self.block(lap) else {
            return Span::ZERO;
        };
        match block.build_up {
            None if block.kind == Kind::Sprint => Span::ZERO,
            _ if rising => load::rise_over(block),
            _ => FALL,
        }
    }

    /// The held loads from `going` on until `until`; nothing where there is no rider.
    pub fn ahead(&self, going: &Going, until: Span) -> Vec<Coming> {
        let Some(rider) = self.rider else {
            return Vec::new();
        };
        let today = Today {
            plan: self.plan,
            laps: self.laps,
            rider,
        };
        ahead::ahead(&today, going, until)
    }

    /// Held watts as they lie on the scale, at a moment of a lap; all out keeps its open lane once it stands.
    pub fn held(&self, lap: usize, at: Span, watts: Watts) -> Asked {
        match (self.flat(lap, at), self.rider) {
            (Asked::AllOut, _) => Asked::AllOut,
            (_, Some(rider)) => on_scale(rider, watts, true),
            (flat, None) => flat,
        }
    }

    fn ridden_before(&self, lap: usize) -> Option<usize> {
        self.laps[..lap]
            .iter()
            .rposition(|before| before.length > Span::ZERO)
    }

    fn flat(&self, lap: usize, at: Span) -> Asked {
        let (Some(block), Some(place)) = (self.block(lap), self.laps.get(lap)) else {
            return Asked::Open;
        };
        let share = if place.length > Span::ZERO {
            at.less(place.start).seconds() / place.length.seconds()
        } else {
            0.0
        };
        block
            .target
            .at(share)
            .map_or(Asked::Open, |load| self.load(load, block))
    }
}

/// Where watts lie on the scale; what lies beyond effort 9 is drawn at 9.5, below the all-out lane.
fn on_scale(rider: &Rider, watts: Watts, show: bool) -> Asked {
    let effort = rider
        .effort_map
        .effort(watts, rider.threshold)
        .unwrap_or(Effort(9.5));
    Asked::Level(effort, show.then_some(watts))
}

/// The lower and upper edge on the scale of effort of what is asked for, at this tolerance, a share of watts. Nothing
/// where nothing is asked; no upper edge where it is all out.
pub fn edges(asked: Asked, tolerance: f64, map: &EffortMap) -> Option<(f64, Option<f64>)> {
    match asked {
        Asked::Open => None,
        Asked::AllOut => Some((9.0, None)),
        Asked::Level(effort, _) => {
            // The tolerance is one of watts: it is narrow where the scale is steep and wide where it is flat.
            let hundred = Watts(100.0);
            let Some(watts) = map.watts(effort, hundred) else {
                return Some((effort.0 - 0.3, Some(effort.0 + 0.3)));
            };
            let at = |share: f64| map.effort(watts * share, hundred).map_or(9.4, |e| e.0);
            Some((at(1.0 - tolerance), Some(at(1.0 + tolerance))))
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;
    use crate::plan::{Audience, Position, Target};
    use std::sync::Arc;

    fn block(kind: Kind, seconds: u64, target: Target) -> Block {
        Block {
            name: kind.key().to_owned(),
            kind,
            length: Span::from_seconds(seconds),
            target,
            cadence: None,
            position: Position::Seated,
            build_up: None,
            brake: Brake::Held,
            stretch: false,
            cut: false,
            main: true,
            repeat: None,
            cues: Vec::new(),
        }
    }

    fn plan(blocks: Vec<Block>) -> (Plan, Vec<Lap>) {
        let mut start = Span::ZERO;
        let laps = blocks
            .iter()
            .enumerate()
            .map(|(index, block)| {
                let lap = Lap {
                    block: index,
                    start,
                    length: block.length,
                };
                start += block.length;
                lap
            })
            .collect();
        let plan = Plan {
            name: "Test".into(),
            purpose: String::new(),
            author: String::new(),
            language: crate::text::Language::English,
            audience: Audience::Everyone,
            test: None,
            blocks,
            source: Arc::from(""),
            fitted: None,
        };
        (plan, laps)
    }

    fn effort(x: f64) -> Target {
        Target::Steady(Load::Effort(Effort(x)))
    }

    #[test]
    fn holds_build_up_over_ten_seconds_and_recoveries_fall_over_two() {
        let (plan, laps) = plan(vec![
            block(Kind::WarmUp, 60, effort(3.0)),
            block(Kind::Hold, 60, effort(7.0)),
            block(Kind::Recovery, 60, effort(4.0)),
            block(Kind::Sprint, 10, effort(10.0)),
        ]);
        let rider = Rider {
            threshold: Watts(240.0),
            power_cap: Watts(400.0),
            ..Rider::default()
        };
        let lanes = Lanes {
            plan: &plan,
            laps: &laps,
            rider: Some(&rider),
            mode: RideMode::TargetPower,
            trim_work: 0,
            trim_recovery: 0,
        };
        let level = |seconds: f64| match lanes.at(Span::from_seconds_f64(seconds)) {
            Asked::Level(effort, _) => effort.0,
            other => panic!("{other:?}"),
        };
        assert!((level(59.0) - 3.0).abs() < 1e-9);
        assert!(
            (level(60.0) - 3.0).abs() < 1e-9,
            "a rise begins on its second"
        );
        assert!(
            (level(65.0) - 5.0).abs() < 1e-9,
            "half of ten seconds is half-way from 3 to 7"
        );
        assert!((level(70.0) - 7.0).abs() < 1e-9);
        assert!(
            (level(121.0) - 5.5).abs() < 1e-9,
            "half of two seconds is half-way from 7 to 4"
        );
        assert!((level(122.0) - 4.0).abs() < 1e-9);
        assert_eq!(lanes.at(Span::from_seconds(180)), Asked::AllOut);
    }

    #[test]
    fn watts_follow_trim_and_never_pass_the_cap() {
        let (plan, laps) = plan(vec![block(Kind::Hold, 60, effort(8.0))]);
        let rider = Rider {
            threshold: Watts(200.0),
            power_cap: Watts(190.0),
            ..Rider::default()
        };
        let mut lanes = Lanes {
            plan: &plan,
            laps: &laps,
            rider: Some(&rider),
            mode: RideMode::TargetPower,
            trim_work: -10,
            trim_recovery: 50,
        };
        // Effort 8 is 91 % of threshold by default: 182 W, less a tenth is 163.8 W.
        let watts = |lanes: &Lanes| match lanes.at(Span::from_seconds(30)) {
            Asked::Level(_, watts) => watts,
            other => panic!("{other:?}"),
        };
        assert!((watts(&lanes).unwrap().0 - 163.8).abs() < 1e-9);
        lanes.trim_work = 20;
        assert_eq!(watts(&lanes), Some(Watts(190.0)));
        lanes.mode = RideMode::EffortOnly;
        assert_eq!(watts(&lanes), None, "effort-only shows no watts");
    }

    #[test]
    fn levels_and_slopes_have_no_place_on_the_scale() {
        let (plan, laps) = plan(vec![block(
            Kind::Hold,
            60,
            Target::Steady(Load::Slope(crate::units::Grade(4.0))),
        )]);
        let rider = Rider::default();
        let lanes = Lanes {
            plan: &plan,
            laps: &laps,
            rider: Some(&rider),
            mode: RideMode::TargetPower,
            trim_work: 0,
            trim_recovery: 0,
        };
        assert_eq!(lanes.at(Span::from_seconds(30)), Asked::Open);
        assert_eq!(lanes.lap_at(Span::from_seconds(900)), Some(0));
    }

    #[test]
    fn the_lane_is_as_wide_as_its_tolerance_in_watts() {
        let map = EffortMap::default();
        // Effort 7 is 82 % of threshold, 6 is 73 % and 8 is 91 %: 5 % of 82 is 4.1, on slopes of 9 a whole effort.
        let (low, high) = match edges(Asked::Level(Effort(7.0), None), 0.05, &map) {
            Some((low, Some(high))) => (low, high),
            other => panic!("{other:?}"),
        };
        assert!((low - (7.0 - 4.1 / 9.0)).abs() < 1e-9, "{low}");
        assert!((high - (7.0 + 4.1 / 9.0)).abs() < 1e-9, "{high}");
        assert_eq!(edges(Asked::AllOut, 0.05, &map), Some((9.0, None)));
        assert_eq!(edges(Asked::Open, 0.05, &map), None);
    }
}
