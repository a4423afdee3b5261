//! Fixed levels and slopes: the rider makes the watts, and the cap can only bound what stands.
//!
//! Watts cannot be capped where the rider makes them. The cap therefore bounds the level or slope, so that the watts at
//! the top of the cadence band stay at or under it. Until more is known of a trainer that means its lowest levels.

use crate::plan::{Block, Kind};
use crate::ride::chain::Chain;
use crate::ride::ledger::Stage;
use crate::ride::runner::{Demand, Facts};
use crate::ride::want::Want;
use crate::rider::Rider;
use crate::units::{BrakeRange, BrakeTarget, Grade, Level, MetresPerSecond, Watts};

/// The level of a first ride on an unknown trainer: the lowest.
pub const FIRST: f64 = 0.0;

/// Without knowledge of the trainer, the lowest fifth of its range stands for "the lowest levels". Our own choice.
const UNKNOWN_BOUND: f64 = 0.2;

/// One press of more or less is this share of the range.
const NUDGE: f64 = 0.02;

/// Above the lowest fifth a press is taken only while measured power is under this share of the cap.
const ROOM_UNDER_CAP: f64 = 0.8;

/// A share of a range as a level, on its step, rounded down.
pub fn on_range(share: f64, range: BrakeRange) -> Level {
    Level(range.round_down(range.least + share.clamp(0.0, 1.0) * (range.most - range.least)))
}

/// The fixed level after so many presses.
pub fn nudge(level: f64, steps: i8, rider: &Rider, facts: &Facts) -> f64 {
    let asked = (level + NUDGE * f64::from(steps)).clamp(0.0, 1.0);
    if asked <= UNKNOWN_BOUND || asked <= level {
        return asked;
    }
    let room = facts
        .power
        .is_some_and(|power| power.0 > 0.0 && power.0 < rider.power_cap.0 * ROOM_UNDER_CAP);
    if room {
        asked.min(level.max(UNKNOWN_BOUND) + NUDGE)
    } else {
        level.max(UNKNOWN_BOUND.min(asked))
    }
}

/// What to ask for where the brake does not hold watts.
///
/// `built` is how far a return from release has come, 0 to 1: a level comes back in steps as watts do.
pub fn demand(
    wanted: Want,
    session: f64,
    built: f64,
    rider: &Rider,
    block: &Block,
    facts: &Facts,
) -> Demand {
    let cap = if block.kind == Kind::Sprint {
        rider.sprint_cap
    } else {
        rider.power_cap
    };
    if let (Want::Slope(slope), Some(range)) = (wanted, facts.offer.slope) {
        return match most_slope(cap, facts.speed) {
            Some(most) => {
                let chain = Chain::from_plan(slope.0, "the session's slope");
                chain
                    .finish(most.0, range, |value| BrakeTarget::Slope(Grade(value)))
                    .map_or(
                        Demand::Release("the trainer's least slope is above your cap"),
                        Demand::Target,
                    )
            }
            None => Demand::Release("a slope needs a known speed before it can be bounded"),
        };
    }
    let Some(range) = facts.offer.level else {
        return Demand::Release("the trainer takes no resistance level");
    };
    let (share, why) = match wanted {
        Want::Level(share) => (share.0, "the session's level"),
        Want::Lowest => (0.0, "a free block"),
        Want::SprintLevel => (session.max(UNKNOWN_BOUND), "the level for sprints"),
        _ => (session, "your level for this session"),
    };
    let bound = UNKNOWN_BOUND.max(session);
    let mut chain = Chain::from_plan(on_range(share, range).0, why);
    let on = chain.value();
    chain.then(Stage::Trim, on, "");
    chain.then(Stage::EaseDown, on, "");
    let built = range.least + (on - range.least) * built;
    chain.then(Stage::BuildUp, built, "the load is on its way");
    chain.then(Stage::Meter, built, "");
    chain.then(Stage::Guard, built, "");
    let cap = on_range(bound, range);
    chain
        .finish(cap.0, range, |value| BrakeTarget::Resistance(Level(value)))
        .map_or(
            Demand::Release("the trainer's least level is above your cap"),
            Demand::Target,
        )
}

/// The mass of rider and bicycle in the road model that bounds a slope, kg.
const MASS: f64 = 85.0;
/// Gravity, m/s².
const GRAVITY: f64 = 9.80665;
/// Rolling resistance that is sent with a slope.
pub const ROLLING: f64 = 0.004;
/// Air resistance that is sent with a slope: the service's Cw, read as air density times drag area, kg/m. That reading
/// is an assumption.
pub const AIR: f64 = 0.51;

/// The slope at which the road asks for the cap at this speed (Martin et al. 1998), per cent; none without a speed, at
/// which any slope could ask for any power.
fn most_slope(cap: Watts, speed: Option<MetresPerSecond>) -> Option<Grade> {
    let speed = speed?.0;
    if speed < 1.0 {
        return None;
    }
    let force = cap.0 / speed - 0.5 * AIR * speed * speed;
    let sine = (force / (MASS * GRAVITY) - ROLLING).clamp(-0.5, 0.5);
    Some(Grade(100.0 * sine.asin().tan()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    #[test]
    fn the_bound_on_a_slope_is_the_road_load_turned_round() {
        // Martin et al. 1998: 85 kg, Crr .004, ρCdA .51: 293.482 W at 20 km/h on 5 %; 175.355 W at 30 km/h on the flat.
        for (watts, kmh, slope) in [(293.482, 20.0, 5.0), (175.355, 30.0, 0.0)] {
            let most = most_slope(Watts(watts), Some(MetresPerSecond::from_kmh(kmh))).unwrap();
            // The bound leaves the cosine of the rolling term at one: a hundredth of a per cent at most.
            assert!((most.0 - slope).abs() < 0.01, "{most:?}");
        }
        assert_eq!(most_slope(Watts(200.0), None), None);
        assert_eq!(most_slope(Watts(200.0), Some(MetresPerSecond(0.2))), None);
    }

    #[test]
    fn above_the_lowest_fifth_a_press_needs_room_under_the_cap() {
        let rider = Rider::default();
        let at = |power: Option<f64>| Facts {
            power: power.map(Watts),
            ..Facts::default()
        };
        assert!((nudge(0.0, 1, &rider, &at(None)) - 0.02).abs() < 1e-12);
        assert_eq!(nudge(0.0, -1, &rider, &at(None)), 0.0);
        assert_eq!(nudge(0.2, 1, &rider, &at(None)), 0.2);
        assert_eq!(nudge(0.2, 1, &rider, &at(Some(170.0))), 0.2);
        assert!((nudge(0.2, 1, &rider, &at(Some(100.0))) - 0.22).abs() < 1e-12);
        assert!((nudge(0.5, -3, &rider, &at(None)) - 0.44).abs() < 1e-12);
        // Ten presses at once still climb one step past the bound at most.
        assert!((nudge(0.1, 10, &rider, &at(Some(100.0))) - 0.22).abs() < 1e-12);
        assert_eq!(nudge(0.1, 10, &rider, &at(None)), 0.2);
    }
}
