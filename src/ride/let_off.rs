//! Letting the brake off by hand: half at once, lowest within a second and a half, whoever may be standing on the pedals.

use crate::ride::ledger::{Entry, Ledger, Stage};
use crate::ride::runner::Demand;
use crate::ride::want::Offer;
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, Level, Watts};

/// The second step comes this long after the first: sent within a second, and answered within a second and a half.
const SECOND_STEP: Span = Span::from_millis(900);

/// The brake being let off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LetOff {
    since: Instant,
    half: Option<BrakeTarget>,
    why: &'static str,
}

impl LetOff {
    /// Begins now, from what stands; from nothing the release goes out at once.
    pub fn new(now: Instant, stands: Option<BrakeTarget>, why: &'static str) -> Self {
        let half = stands.and_then(|target| match target {
            BrakeTarget::Power(watts) => Some(BrakeTarget::Power(Watts((watts.0 / 2.0).floor()))),
            BrakeTarget::Resistance(level) => Some(BrakeTarget::Resistance(Level(level.0 / 2.0))),
            // Half a slope is no lesser load in a hard gear.
            BrakeTarget::Slope(_) => None,
        });
        Self {
            since: now,
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
            _ => None,
        };
        match (self.half, range) {
            (Some(half), Some(range)) if now < self.since + SECOND_STEP => {
                let value = range.round_down(half.value());
                let target = match half {
                    BrakeTarget::Power(_) => BrakeTarget::Power(Watts(value)),
                    _ => BrakeTarget::Resistance(Level(value)),
                };
                if value > half.value() {
                    // The least that the trainer takes is more than half of what stood: straight to the release.
                    return Demand::Release(self.why);
                }
                Demand::Target(Ledger {
                    entries: vec![Entry {
                        stage: Stage::Guard,
                        input: half.value() * 2.0,
                        output: value,
                        why: "half at once, then off",
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
