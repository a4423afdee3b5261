//! Letting the brake off by hand: half at once, lowest within a second and a half, whoever may be standing on the pedals.

use crate::ride::ledger::{Entry, Ledger, Stage};
use crate::ride::level::half_slope;
use crate::ride::runner::Demand;
use crate::ride::want::Offer;
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, Grade, Level, MetresPerSecond, Watts};

/// The second step comes this long after the first: sent within a second, and answered within a second and a half.
const SECOND_STEP: Span = Span::from_millis(900);

/// The brake being let off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LetOff {
    since: Instant,
    /// What stood, in the unit of its sort.
    stood: f64,
    half: Option<BrakeTarget>,
    why: &'static str,
}

impl LetOff {
    /// Begins now, from what stands; from nothing the release goes out at once.
    /// Half a slope needs the wheel's speed: what a slope asks for is not in proportion to it.
    pub fn new(
        now: Instant,
        stands: Option<BrakeTarget>,
        speed: Option<MetresPerSecond>,
        why: &'static str,
    ) -> Self {
        let half = stands.and_then(|target| match target {
            BrakeTarget::Power(watts) => Some(BrakeTarget::Power(Watts((watts.0 / 2.0).floor()))),
            BrakeTarget::Resistance(level) => Some(BrakeTarget::Resistance(Level(level.0 / 2.0))),
            BrakeTarget::Slope(slope) => {
                speed.map(|speed| BrakeTarget::Slope(half_slope(slope, speed)))
            }
        });
        Self {
            since: now,
            stood: stands.map_or(0.0, BrakeTarget::value),
            half,
            why,
        }
    }

    /// What stands is not known any more: half of it may be a rise, so only the release is left.
    pub fn forget_half(&mut self) {
        self.half = None;
    }

    /// What to ask for at `now`.
    pub fn demand(&self, now: Instant, offer: &Offer) -> Demand {
        let range = match self.half {
            Some(BrakeTarget::Power(_)) => offer.power,
            Some(BrakeTarget::Resistance(_)) => offer.level,
            Some(BrakeTarget::Slope(_)) => offer.slope,
            None => None,
        };
        match (self.half, range) {
            (Some(half), Some(range)) if now < self.since + SECOND_STEP => {
                let value = range.round_down(half.value());
                let target = match half {
                    BrakeTarget::Power(_) => BrakeTarget::Power(Watts(value)),
                    BrakeTarget::Resistance(_) => BrakeTarget::Resistance(Level(value)),
                    BrakeTarget::Slope(_) => BrakeTarget::Slope(Grade(value)),
                };
                if value > half.value() {
                    // The least that the trainer takes is more than half of what stood: straight to the release.
                    return Demand::Release(self.why);
                }
                Demand::Target(Ledger {
                    entries: vec![Entry {
                        stage: Stage::Guard,
                        input: self.stood,
                        output: value,
                        why: entry!("half at once, then off"),
                    }],
                    target,
                    lead: Span::ZERO,
                    on_its_way: false,
                })
            }
            _ => Demand::Release(self.why),
        }
    }

    /// When the second step is due.
    pub fn next_change(&self, now: Instant) -> Option<Instant> {
        let second = self.since + SECOND_STEP;
        (now < second).then_some(second)
    }
}
