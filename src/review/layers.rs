//! The four layers of every second: what was written, what that is for this rider today, what the brake was told, what
//! was ridden; and whose doing the difference is.

use serde::Serialize;

use super::Asked;
use super::figures::mean;
use crate::control::{Expected, Split};
use crate::record::Row;
use crate::rider;
use crate::units::{BrakeTarget, Watts};

/// Half the lane's width where the brake holds the watts (common practice, no source).
pub const LANE_HELD: f64 = 0.05;
/// Half the lane's width where the rider makes the watts (common practice: 8 to 10 %).
pub const LANE_FREE: f64 = 0.09;
/// The lane is never narrower than this to either side, W: the unevenness of easy pedalling is no deviation.
pub const LANE_LEAST_W: f64 = 4.0;

/// Watts that are nearer than this are the same.
const HAIR: f64 = 1e-9;

/// One second as its four layers, W.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layers {
    /// What the session asks for, by the rider's map and threshold.
    pub written: Option<f64>,
    /// What the session fitted to the day asks for, with the rider's trim: the lane.
    pub fitted: Option<f64>,
    /// What the brake was told to hold.
    pub commanded: Option<f64>,
    /// What was measured.
    pub ridden: Option<f64>,
    /// What the brake could have shown of it by then.
    pub could: Option<f64>,
}

impl Layers {
    /// Of a row. Without plan, rider or the written session there is no written layer.
    pub fn of(row: &Row, asked: &Asked) -> Self {
        let commanded = match row.brake {
            Some(BrakeTarget::Power(watts)) if row.released != Some(true) => Some(watts.0),
            _ => None,
        };
        Self {
            written: written(row, asked),
            fitted: row.lane.map(Watts::get),
            commanded,
            ridden: row.power.map(Watts::get),
            could: row.could.map(Watts::get),
        }
    }
}

/// What the session as written asks for in a second, W: an effort by the rider's map, a share by their threshold. In a
/// block that was made shorter or longer it is the same share of the written block.
fn written(row: &Row, asked: &Asked) -> Option<f64> {
    let (plan, rider) = (asked.plan.as_ref()?, asked.rider.as_ref()?);
    let index = usize::try_from(row.block).ok()?.checked_sub(1)?;
    let ridden = plan.blocks.get(index)?;
    let into = row.plan_s - plan.start_of(index).seconds();
    let share = into / ridden.length.seconds().max(1.0);
    let load = asked.written_block(index)?.target.at(share)?;
    rider::lane(&load, rider).map(Watts::get)
}

/// Half the lane's width at these watts, W.
pub fn half_width(watts: f64, held: bool) -> f64 {
    let share = if held { LANE_HELD } else { LANE_FREE };
    (watts * share).max(LANE_LEAST_W)
}

/// Whether a power lies in the lane of a layer.
pub fn in_lane(ridden: f64, layer: f64, held: bool) -> bool {
    // A power that stands exactly on the edge is inside, whatever its decimals are in binary.
    (ridden - layer).abs() <= half_width(layer, held) + HAIR
}

/// One layer over a block.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Layer {
    /// Its mean over the seconds in which it has a figure, W.
    pub mean_w: Option<f64>,
    /// These seconds.
    pub seconds: u32,
    /// Seconds in which the power ridden lay in its lane.
    pub in_lane_s: u32,
    /// Seconds in which both are known, so that they can be compared.
    pub compared_s: u32,
}

impl Layer {
    /// Of the seconds of a block, each with whether the brake held it.
    pub fn of(seconds: &[(Layers, bool)], of: impl Fn(&Layers) -> Option<f64>) -> Self {
        let known = seconds.iter().filter_map(|(layers, _)| of(layers));
        let mut layer = Self {
            mean_w: mean(known.clone()),
            seconds: known.count() as u32,
            ..Self::default()
        };
        for (layers, held) in seconds {
            if let (Some(layer_w), Some(ridden)) = (of(layers), layers.ridden) {
                layer.compared_s += 1;
                layer.in_lane_s += u32::from(in_lane(ridden, layer_w, *held));
            }
        }
        layer
    }

    /// The share of the compared seconds that lay in the lane.
    pub fn share(&self) -> Option<f64> {
        (self.compared_s > 0).then(|| f64::from(self.in_lane_s) / f64::from(self.compared_s))
    }
}

/// What lies between the lane and the power ridden, and whose doing it is.
///
/// The three parts of the mean add up to it. A second off the lane is laid to the part that pulls it furthest the way in
/// which it is off; of equal pulls to the first of told, brake, legs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Deviation {
    /// Seconds in which lane, power and, where the brake held, its answer are known.
    pub seconds: u32,
    /// Power less lane, mean, W.
    pub mean_w: Option<f64>,
    /// Of this, because the brake was told something else than the lane: built up, eased, capped.
    pub told_w: Option<f64>,
    /// Of this, because the brake was on its way to what it was told.
    pub brake_w: Option<f64>,
    /// Of this, the legs.
    pub legs_w: Option<f64>,
    /// Seconds off the lane, whether or not it is known whose doing they were.
    pub off_lane_s: u32,
    /// Of these, because of what the brake was told.
    pub off_by_told_s: u32,
    /// Of these, because of the brake.
    pub off_by_brake_s: u32,
    /// Of these, because of the legs.
    pub off_by_legs_s: u32,
}

impl Deviation {
    /// Of the seconds of a block, each with whether the brake held it.
    pub fn of(seconds: &[(Layers, bool)]) -> Self {
        let mut deviation = Self::default();
        let mut sums = [0.0; 3];
        for (layers, held) in seconds {
            let (Some(lane), Some(power)) = (layers.fitted, layers.ridden) else {
                continue;
            };
            let off = !in_lane(power, lane, *held);
            deviation.off_lane_s += u32::from(off);
            let Some(parts) = parts(layers, lane, power, *held) else {
                continue;
            };
            deviation.seconds += 1;
            for (sum, part) in sums.iter_mut().zip(parts) {
                *sum += part;
            }
            if off {
                let way = (power - lane).signum();
                let [told, brake, legs] = parts.map(|part| part * way);
                // Equal pulls stay equal, whatever their decimals are in binary.
                if told + HAIR >= brake.max(legs) {
                    deviation.off_by_told_s += 1;
                } else if brake + HAIR >= legs {
                    deviation.off_by_brake_s += 1;
                } else {
                    deviation.off_by_legs_s += 1;
                }
            }
        }
        if deviation.seconds > 0 {
            let of = |sum: f64| Some(sum / f64::from(deviation.seconds));
            deviation.mean_w = of(sums.iter().sum());
            deviation.told_w = of(sums[0]);
            deviation.brake_w = of(sums[1]);
            deviation.legs_w = of(sums[2]);
        }
        deviation
    }

    /// Adds another block's seconds; the means are weighed by their seconds.
    #[must_use]
    pub fn and(self, other: &Self) -> Self {
        let (mine, theirs) = (f64::from(self.seconds), f64::from(other.seconds));
        let both = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => Some((a * mine + b * theirs) / (mine + theirs)),
            (one, other) => one.or(other),
        };
        Self {
            seconds: self.seconds + other.seconds,
            mean_w: both(self.mean_w, other.mean_w),
            told_w: both(self.told_w, other.told_w),
            brake_w: both(self.brake_w, other.brake_w),
            legs_w: both(self.legs_w, other.legs_w),
            off_lane_s: self.off_lane_s + other.off_lane_s,
            off_by_told_s: self.off_by_told_s + other.off_by_told_s,
            off_by_brake_s: self.off_by_brake_s + other.off_by_brake_s,
            off_by_legs_s: self.off_by_legs_s + other.off_by_legs_s,
        }
    }
}

/// Told, brake, legs. Where the rider makes the watts, all of it is the legs' doing. None where the brake held and its
/// answer was not known.
fn parts(layers: &Layers, lane: f64, power: f64, held: bool) -> Option<[f64; 3]> {
    if !held {
        return Some([0.0, 0.0, power - lane]);
    }
    let (told, could) = (layers.commanded?, Watts(layers.could?));
    let expected = Expected {
        least: could,
        likely: could,
        most: could,
        known: true,
    };
    let split = Split::of(Watts(lane), Watts(told), Watts(power), expected);
    Some([split.told.0, split.brake.0, split.legs.0])
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn second(fitted: f64, commanded: f64, could: f64, ridden: f64) -> (Layers, bool) {
        let layers = Layers {
            written: Some(fitted),
            fitted: Some(fitted),
            commanded: Some(commanded),
            ridden: Some(ridden),
            could: Some(could),
        };
        (layers, true)
    }

    #[test]
    fn each_second_is_laid_to_one_and_the_parts_add_up() {
        let seconds = [
            // Built up: told 150 of 200, brake there, legs with it.
            second(200.0, 150.0, 150.0, 150.0),
            // The brake is on its way from 150 to 200.
            second(200.0, 200.0, 160.0, 160.0),
            // The legs gave less than the brake could show.
            second(200.0, 200.0, 200.0, 150.0),
            // In the lane.
            second(200.0, 200.0, 200.0, 203.0),
        ];
        let found = Deviation::of(&seconds);
        assert_eq!((found.seconds, found.off_lane_s), (4, 3));
        assert_eq!(
            (
                found.off_by_told_s,
                found.off_by_brake_s,
                found.off_by_legs_s
            ),
            (1, 1, 1)
        );
        // Half of it told and half of it the brake's: equal as decimals, and not always in binary.
        let mut tie = Deviation::default();
        for lane in [100.3, 187.7, 221.1] {
            let told = lane - 20.1;
            tie = tie.and(&Deviation::of(&[second(
                lane,
                told,
                told - 20.1,
                told - 20.1,
            )]));
        }
        assert_eq!((tie.off_by_told_s, tie.off_lane_s), (3, 3));
        // By hand: −50, −40, −50, +3 over four seconds.
        assert!((found.mean_w.unwrap() - -34.25).abs() < 1e-9);
        let parts = found.told_w.unwrap() + found.brake_w.unwrap() + found.legs_w.unwrap();
        assert!((parts - found.mean_w.unwrap()).abs() < 1e-9);
    }

    #[test]
    fn what_is_not_known_is_laid_to_nobody() {
        let (mut unknown, _) = second(200.0, 200.0, 200.0, 150.0);
        unknown.could = None;
        let found = Deviation::of(&[(unknown, true)]);
        assert_eq!(
            (found.seconds, found.off_lane_s, found.mean_w),
            (0, 1, None)
        );
        let laid = found.off_by_told_s + found.off_by_brake_s + found.off_by_legs_s;
        assert_eq!(laid, 0);
        // Where the rider makes the watts there is nobody else.
        assert_eq!(Deviation::of(&[(unknown, false)]).off_by_legs_s, 1);
        unknown.ridden = None;
        assert_eq!(Deviation::of(&[(unknown, false)]), Deviation::default());
    }

    #[test]
    fn the_lane_is_wider_where_the_rider_makes_the_watts() {
        // Common practice, no source: 5 % where the brake holds, 8 to 10 % where the rider does.
        assert!(in_lane(209.9, 200.0, true) && !in_lane(210.1, 200.0, true));
        assert!(in_lane(217.9, 200.0, false) && !in_lane(218.1, 200.0, false));
        assert!(in_lane(43.9, 40.0, true) && !in_lane(44.1, 40.0, true));
    }
}
