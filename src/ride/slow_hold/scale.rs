//! What a level or a slope makes near an anchor, and how that is learned.

use super::{Asked, LEAST_WATTS, OTHER_TARGET};
use crate::ride::level::{Fixed, most_slope, road_power};
use crate::ride::table::Found;
use crate::units::{BrakeTarget, Grade, MetresPerSecond, Watts};

/// The offset of a scale of which nothing is known, a share of the range: so small that the first steps are short.
const UNKNOWN_OFFSET: f64 = 0.02;
const LEAST_OFFSET: f64 = 0.004;
const MOST_OFFSET: f64 = 2.0;
/// One pair of anchors moves the offset by this factor at most, and by all of that only where their powers differ by this
/// share: near each other they tell more of the reports' noise than of the scale.
const OFFSET_STEP: f64 = 4.0;
const WIDE_APART: f64 = 0.15;

/// A scale may bend: above the highest share that was measured no step is longer than that share and this.
const NEXT_STEP: f64 = 0.02;

/// A coarse level that is the next above what stands is tried unseen up to here, as the rider's own levels are.
const UNSEEN: f64 = 0.2;
/// It is tried where so much is missing, a share of what is asked for.
const MISSING: f64 = 0.1;

/// What a slope asks for is known well enough to be reached for at once up to here, watts.
const ROAD_REACH: f64 = 100.0;

/// From one anchor nothing is reached for beyond this factor of its power: as long as the scale is unknown, and after.
const UNKNOWN_REACH: f64 = 1.5;
const KNOWN_REACH: f64 = 2.5;

/// A level that went up by this share of the range in one gear, and the power did not: the brake does not answer.
const UNANSWERED: f64 = 0.25;

/// A power that stood at a share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Anchor {
    pub(super) share: f64,
    pub(super) power: f64,
    pub(super) cadence: Option<f64>,
    pub(super) speed: Option<MetresPerSecond>,
}

/// The scale.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Scale {
    /// The share of the range by which the zero of power lies below its least; none while nothing is known.
    known: Option<f64>,
    /// The highest share at which a power was measured since the last release.
    measured_to: f64,
    /// How far the share has gone up in one gear without any more power.
    unanswered: f64,
}

impl Scale {
    /// The offset, known or not.
    pub(super) fn offset(&self) -> f64 {
        self.known.unwrap_or(UNKNOWN_OFFSET)
    }

    /// What is to be measured anew after a release; how steep the scale is stays known.
    pub(super) const fn released(&mut self) {
        self.measured_to = 0.0;
        self.unanswered = 0.0;
    }

    /// Whether the load went up far and the power did not.
    pub(super) fn is_unanswered(&self) -> bool {
        self.unanswered >= UNANSWERED
    }

    /// A power was measured at this share.
    pub(super) fn measured_at(&mut self, share: f64) {
        self.measured_to = self.measured_to.max(share);
    }

    /// The highest share that may be asked for on what was measured.
    pub(super) fn farthest(&self, asked: &Asked) -> f64 {
        match asked.fixed {
            Fixed::Level(_) => self.measured_to * 2.0 + NEXT_STEP.max(asked.step),
            Fixed::Slope(_) => 1.0,
        }
    }

    /// The most that is reached for from an anchor, watts.
    pub(super) fn reach(&self, anchor: &Anchor, asked: &Asked) -> f64 {
        match asked.fixed {
            Fixed::Slope(_) => (anchor.power * KNOWN_REACH).max(ROAD_REACH),
            Fixed::Level(_) => {
                let factor = match self.known {
                    Some(_) => KNOWN_REACH,
                    None => UNKNOWN_REACH,
                };
                let farthest = self.watts_at(anchor, self.farthest(asked), asked);
                (anchor.power * factor).min(farthest)
            }
        }
    }

    /// Where the scale says that less than one step is wanted, and much is missing, the next step is tried: a coarse level
    /// says nothing of itself until it stands.
    pub(super) fn try_next(&mut self, share: f64, power: f64, asked: &Asked) {
        let next = share + asked.step;
        let missing = power < asked.watts * (1.0 - MISSING);
        let coarse = asked.step > NEXT_STEP;
        if self.known.is_none() && coarse && missing && next <= UNSEEN + 1e-9 {
            // A scale on which just this step makes what is asked for, or as much of it as is reached for from here.
            let factor = (asked.watts / power.max(1.0)).min(0.9 * KNOWN_REACH);
            self.known = Some(((next - factor * share) / (factor - 1.0)).max(LEAST_OFFSET));
            self.measured_to = self.measured_to.max(share);
        }
    }

    /// Two anchors in one gear tell how steep the scale is there; the table tells it without.
    pub(super) fn learn(&mut self, before: &Anchor, last: &Anchor, asked: &Asked) {
        let power = last.power;
        let near = |a: Option<f64>, b: Option<f64>, share: f64| match (a, b) {
            (Some(a), Some(b)) => (a / b - 1.0).abs() <= share,
            _ => true,
        };
        let speed = |speed: Option<MetresPerSecond>| speed.map(|v| v.0);
        let same_gear = near(before.cadence, last.cadence, 0.05)
            && (asked.table.is_none() || near(speed(before.speed), speed(last.speed), 0.05));
        let (d_share, d_power) = (last.share - before.share, power - before.power);
        let moved = d_share.abs() >= LEAST_OFFSET;
        // A descent that becomes a lesser one still asks for nothing.
        let road_asks = match asked.fixed {
            Fixed::Level(_) => true,
            Fixed::Slope(_) => road_watts(asked.fixed, before.share, before.speed) > ROAD_REACH,
        };
        if d_power.abs() >= LEAST_WATTS {
            self.unanswered = 0.0;
        } else if same_gear && road_asks {
            self.unanswered += d_share.max(0.0);
        }
        if same_gear && moved {
            let offset = (before.power * last.share - power * before.share) / d_power;
            let known = self.offset();
            // A power that stood, or went the other way, tells only that the scale is flat.
            let answered = d_share * d_power > 0.0 && d_power.abs() >= LEAST_WATTS;
            let offset = if answered && offset > 0.0 {
                offset.clamp(known / OFFSET_STEP, known * OFFSET_STEP)
            } else if answered {
                known / OFFSET_STEP
            } else {
                known * OFFSET_STEP
            };
            let weight = match self.known {
                Some(_) if answered => (d_power.abs() / (WIDE_APART * before.power)).min(1.0),
                Some(_) => (d_share.abs() / (NEXT_STEP + before.share / 4.0)).min(1.0),
                None => 1.0,
            };
            let offset = known * (offset / known).powf(weight);
            self.known = Some(offset.clamp(LEAST_OFFSET, MOST_OFFSET));
        }
        let table = asked.table.zip(last.speed);
        if let Some((table, v)) = table
            && let Some(here) = table.estimate(last.share, v.0)
            && let Some(Found::At(goal)) =
                table.share_for(asked.watts * here.likely / power.max(1.0), v.0)
        {
            let factor = asked.watts / power.max(1.0);
            let offset = (goal - factor * last.share) / (factor - 1.0);
            if (factor - 1.0).abs() > OTHER_TARGET && offset.is_finite() && offset > 0.0 {
                self.known = Some(offset.clamp(LEAST_OFFSET, MOST_OFFSET));
            }
        }
    }

    /// The share that makes these watts, by the scale from this anchor.
    pub(super) fn share_at(&self, anchor: &Anchor, watts: f64, asked: &Asked) -> f64 {
        if let Some(by_road) = self.by_road(anchor, asked) {
            let slope = most_slope(Watts(watts * by_road), anchor.speed);
            return slope.map_or(0.0, |slope| asked.fixed.share(slope.0));
        }
        let offset = self.offset();
        ((anchor.share + offset) * watts / anchor.power - offset).clamp(0.0, 1.0)
    }

    /// The watts that a share makes, by the same.
    pub(super) fn watts_at(&self, anchor: &Anchor, share: f64, asked: &Asked) -> f64 {
        if let Some(by_road) = self.by_road(anchor, asked) {
            return road_watts(asked.fixed, share, anchor.speed) / by_road;
        }
        let offset = self.offset();
        anchor.power * (share + offset) / (anchor.share + offset)
    }

    /// For a slope: what the road asks for as a factor of what was measured. Where the slope only descends, the road
    /// tells nothing of it and is taken at its word.
    fn by_road(&self, anchor: &Anchor, asked: &Asked) -> Option<f64> {
        if let Fixed::Level(_) = asked.fixed {
            return None;
        }
        let by_road = road_watts(asked.fixed, anchor.share, anchor.speed);
        Some(if by_road < 30.0 {
            1.0
        } else {
            (by_road / anchor.power).clamp(0.4, 2.5)
        })
    }
}

/// What the road asks for at a share of the range of slopes and a speed, watts; nothing where it only descends.
fn road_watts(fixed: Fixed, share: f64, speed: Option<MetresPerSecond>) -> f64 {
    match fixed.target(fixed.value(share)) {
        BrakeTarget::Slope(Grade(slope)) => speed.map_or(0.0, |v| road_power(Grade(slope), v).0),
        _ => 0.0,
    }
}
