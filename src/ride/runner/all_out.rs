//! The resistance of a three-minute test: settled before the block that is measured begins, and left alone until its end.
//!
//! All out needs a resistance that stands, and neither cap nor guard acts but the key that lets the brake off (Vanhatalo,
//! Doust & Burnley 2007, *memory*). What the caps make of it is therefore decided a block ahead, where the resistance
//! comes on for the last time before the beat: what is learned of the trainer from then on changes nothing any more.

use super::free::MIDDLE_GEAR;
use super::{Facts, Runner};
use crate::plan::ThresholdTest;
use crate::ride::level::{self, Fixed};
use crate::ride::threshold_test::CRITICAL_OVER_THRESHOLD;
use crate::ride::timeline::Place;
use crate::units::{MetresPerSecond, Rpm};

/// On a trainer of slopes alone a middle gear at this cadence asks for the critical power that is expected: the middle of
/// the common working band of 85 to 95 (common practice, no source).
const CADENCE: Rpm = Rpm(90.0);

/// What the resistance falls short of what was asked by less than this share of the range is not worth a word.
const SHORT: f64 = 0.01;

/// The resistance of the test, as shares of the trainer's range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Resistance {
    /// What is to stand.
    pub(super) share: f64,
    /// What it may be at most.
    pub(super) most: f64,
}

impl Runner {
    /// What stands where a block of a three-minute test asks for a level, up to the block that is measured; nothing in
    /// other sessions and in what comes after it.
    pub(super) fn resistance_of_test(
        &mut self,
        place: Place,
        fixed: Fixed,
        share: f64,
        facts: &Facts,
    ) -> Option<Resistance> {
        if self.plan.test != Some(ThresholdTest::ThreeMinutes) {
            return None;
        }
        let block_of = |lap: usize| self.timeline.laps().get(lap).map(|lap| lap.block);
        let here = block_of(place.lap)?;
        let ahead = (here..self.plan.blocks.len()).find(|&block| self.plan.is_tested(block))?;
        let next = self.timeline.next(place.lap).and_then(block_of);
        let settles = here == ahead || next == Some(ahead);
        if !settles {
            self.free.test = None;
        } else if let Some(settled) = self.free.test {
            return Some(settled);
        }
        let asked = match fixed {
            Fixed::Level(_) => share,
            Fixed::Slope(_) => self.slope_of_test(fixed),
        };
        let session = self.free.level;
        // A slope asks for more the faster the wheel turns, and it is settled in a recovery: the speed of the test counts.
        let at_speed = Facts {
            speed: facts
                .speed
                .map(|now| MetresPerSecond(now.0.max(MIDDLE_GEAR * CADENCE.0 / 60.0))),
            ..*facts
        };
        let most = [here, ahead]
            .map(|block| {
                let bound = self.bound(fixed, &self.plan.blocks[block], &at_speed);
                bound.hard.min(match fixed {
                    Fixed::Level(_) => bound.allowed.max(session),
                    Fixed::Slope(_) => bound.allowed,
                })
            })
            .into_iter()
            .fold(1.0, f64::min);
        let found = Resistance {
            share: asked.min(most),
            most,
        };
        // Without a speed nothing is known of a slope: the steepest descent is no resistance to be settled on.
        let known = matches!(fixed, Fixed::Level(_)) || facts.speed.is_some_and(|v| v.0 >= 1.0);
        if settles && known {
            self.free.test = Some(found);
            if found.share < asked - SHORT {
                self.happened(
                    "test-bounded",
                    true,
                    entry!(
                        "Take a harder gear for the test. Your sprint cap bounds its resistance."
                    ),
                );
            }
        }
        Some(found)
    }

    /// The slope at which a middle gear asks for the critical power that the threshold in the file lets expect, as a share
    /// of the range: a resistance set from an earlier estimate, as the test wants it.
    fn slope_of_test(&self, fixed: Fixed) -> f64 {
        let expected = self.rider.threshold * CRITICAL_OVER_THRESHOLD;
        let speed = MetresPerSecond(MIDDLE_GEAR * CADENCE.0 / 60.0);
        level::most_slope(expected, Some(speed)).map_or(0.0, |slope| fixed.share(slope.0))
    }
}
