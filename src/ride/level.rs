//! Fixed levels and slopes: the rider makes the watts, and the cap can only bound what stands.
//!
//! Watts cannot be capped where the rider makes them. The cap therefore bounds the level or slope, so that the watts at
//! the top of the cadence band stay at or under it. Until more is known of a trainer that means its lowest levels.

use crate::ride::runner::Facts;
use crate::ride::want::Offer;
use crate::rider::Rider;
use crate::units::{BrakeRange, BrakeTarget, Grade, Level, MetresPerSecond, Watts};

/// The level of a first ride on an unknown trainer: the lowest.
pub const FIRST: f64 = 0.0;

/// Without knowledge of the trainer, the lowest fifth of its range stands for "the lowest levels". Our own choice.
pub const UNKNOWN_BOUND: f64 = 0.2;

/// One press of more or less is this share of the range.
pub const NUDGE: f64 = 0.02;

/// Above what is allowed unseen a press is taken only while measured power is under this share of the cap.
const ROOM_UNDER_CAP: f64 = 0.8;

/// A share of a range as a level, on its step, rounded down.
pub fn on_range(share: f64, range: BrakeRange) -> Level {
    Level(range.round_down(range.least + share.clamp(0.0, 1.0) * (range.most - range.least)))
}

/// The fixed level after so many presses. Up to `allowed` nothing more need be known; above it only with room.
pub fn nudge(level: f64, steps: i8, allowed: f64, rider: &Rider, facts: &Facts) -> f64 {
    let asked = (level + NUDGE * f64::from(steps)).clamp(0.0, 1.0);
    if asked <= allowed || asked <= level {
        return asked;
    }
    let room = facts
        .power
        .is_some_and(|power| power.0 > 0.0 && power.0 < rider.power_cap.0 * ROOM_UNDER_CAP);
    if room {
        asked.min(level.max(allowed) + NUDGE)
    } else {
        level.max(allowed.min(asked))
    }
}

/// The sort of target that stands while the rider makes the watts: a level, or a slope where the trainer has no levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fixed {
    /// A resistance level of this range.
    Level(BrakeRange),
    /// A slope of this range.
    Slope(BrakeRange),
}

impl Fixed {
    /// What this trainer is set to by effort; nothing where it takes neither.
    pub fn of(offer: &Offer) -> Option<Self> {
        let level = offer.level.map(Self::Level);
        level.or(offer.slope.map(Self::Slope))
    }

    /// Its range.
    pub const fn range(self) -> BrakeRange {
        match self {
            Self::Level(range) | Self::Slope(range) => range,
        }
    }

    /// A share of the range as a value.
    pub fn value(self, share: f64) -> f64 {
        let range = self.range();
        range.least + share.clamp(0.0, 1.0) * (range.most - range.least)
    }

    /// A value as a share of the range, 0 to 1.
    pub fn share(self, value: f64) -> f64 {
        let range = self.range();
        let width = (range.most - range.least).max(1e-9);
        ((value - range.least) / width).clamp(0.0, 1.0)
    }

    /// A value as a target.
    pub const fn target(self, value: f64) -> BrakeTarget {
        match self {
            Self::Level(_) => BrakeTarget::Resistance(Level(value)),
            Self::Slope(_) => BrakeTarget::Slope(Grade(value)),
        }
    }

    /// The value of a target of this sort; nothing for another sort.
    pub fn value_of(self, target: BrakeTarget) -> Option<f64> {
        target.same_sort(self.target(0.0)).then_some(target.value())
    }
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
pub fn most_slope(cap: Watts, speed: Option<MetresPerSecond>) -> Option<Grade> {
    let speed = speed?.0;
    if speed < 1.0 {
        return None;
    }
    let force = cap.0 / speed - 0.5 * AIR * speed * speed;
    let sine = (force / (MASS * GRAVITY) - ROLLING).clamp(-0.5, 0.5);
    Some(Grade(100.0 * sine.asin().tan()))
}

/// What the road asks for at this slope and speed (Martin et al. 1998); nothing where it pushes.
pub fn road_power(slope: Grade, speed: MetresPerSecond) -> Watts {
    let sine = (slope.0 / 100.0).atan().sin();
    let force = MASS * GRAVITY * (sine + ROLLING) + 0.5 * AIR * speed.0 * speed.0;
    Watts((force * speed.0).max(0.0))
}

/// The slope at which the road asks for half of what it asks for at `slope` and this speed, per cent.
pub fn half_slope(slope: Grade, speed: MetresPerSecond) -> Grade {
    let sine = (slope.0 / 100.0).atan().sin();
    let air = 0.5 * AIR * speed.0 * speed.0;
    let half = (MASS * GRAVITY * (sine + ROLLING) + air) / 2.0;
    let sine = ((half - air) / (MASS * GRAVITY) - ROLLING).clamp(-0.5, 0.5);
    // What asks for nothing already is not made steeper by halving it.
    Grade((100.0 * sine.asin().tan()).min(slope.0))
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
    fn the_power_of_a_road_is_the_road_load() {
        // Martin et al. 1998: 85 kg, Crr .004, ρCdA .51: 293.482 W at 20 km/h on 5 %; 175.355 W at 30 km/h on the flat.
        for (watts, kmh, slope) in [(293.482, 20.0, 5.0), (175.355, 30.0, 0.0)] {
            let power = road_power(Grade(slope), MetresPerSecond::from_kmh(kmh));
            assert!((power.0 - watts).abs() < 0.05, "{power:?}");
        }
        assert_eq!(road_power(Grade(-10.0), MetresPerSecond(8.0)), Watts(0.0));
    }

    #[test]
    fn half_a_slope_is_half_the_load() {
        // Martin et al. 1998: 293.482 W at 20 km/h on 5 %. Half is 146.741 W, 26.413 N; less 3.335 N of rolling and
        // 7.870 N of air 15.208 N are left for the slope of 833.565 N: 1.8247 %.
        let half = half_slope(Grade(5.0), MetresPerSecond::from_kmh(20.0));
        assert!((half.0 - 1.8247).abs() < 0.005, "{half:?}");
        let down = half_slope(Grade(-8.0), MetresPerSecond(8.0));
        assert!(down.0 <= -8.0);
    }

    #[test]
    fn above_the_lowest_fifth_a_press_needs_room_under_the_cap() {
        let rider = Rider::default();
        let at = |power: Option<f64>| Facts {
            power: power.map(Watts),
            ..Facts::default()
        };
        assert!((nudge(0.0, 1, UNKNOWN_BOUND, &rider, &at(None)) - 0.02).abs() < 1e-12);
        assert_eq!(nudge(0.0, -1, UNKNOWN_BOUND, &rider, &at(None)), 0.0);
        assert_eq!(nudge(0.2, 1, UNKNOWN_BOUND, &rider, &at(None)), 0.2);
        assert_eq!(nudge(0.2, 1, UNKNOWN_BOUND, &rider, &at(Some(170.0))), 0.2);
        assert!((nudge(0.2, 1, UNKNOWN_BOUND, &rider, &at(Some(100.0))) - 0.22).abs() < 1e-12);
        assert!((nudge(0.5, -3, UNKNOWN_BOUND, &rider, &at(None)) - 0.44).abs() < 1e-12);
        // Ten presses at once still climb one step past the bound at most.
        assert!((nudge(0.1, 10, UNKNOWN_BOUND, &rider, &at(Some(100.0))) - 0.22).abs() < 1e-12);
        assert_eq!(nudge(0.1, 10, UNKNOWN_BOUND, &rider, &at(None)), 0.2);
    }
}
