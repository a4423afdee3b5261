//! Commands sent ahead, so that the load stands on its beat and not a brake's delay later.

use crate::time::Span;

/// No command goes out further ahead than this, however slow the brake.
pub const MOST: Span = Span::from_seconds(2);

/// A target stands for a quarter of a second, so in a ramp it is half of that old in the mean. This delay is the
/// program's own and certain.
const OWN_DELAY: Span = Span::from_millis(125);

/// How far ahead commands are sent: upward only. No more than the lower bound of what was identified, nor than two
/// seconds, whatever it is made from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Lead {
    /// For ramps.
    pub ramp: Span,
    /// For steps, where half of the step is to stand on the beat.
    pub step: Span,
}

impl Lead {
    /// Nothing is sent ahead.
    pub const NONE: Self = Self {
        ramp: Span::ZERO,
        step: Span::ZERO,
    };

    /// From the lower bounds of how far the load is behind in a ramp, and of when half of a step stands.
    pub fn new(behind: Span, half: Span) -> Self {
        if behind == Span::ZERO {
            return Self::NONE;
        }
        Self {
            ramp: (behind + OWN_DELAY).min(MOST),
            step: half.min(MOST),
        }
    }

    /// The greater of the two.
    pub fn most(self) -> Span {
        self.ramp.max(self.step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn never_over_two_seconds_and_nothing_where_nothing_is_known() {
        let of = |behind, half| Lead::new(Span::from_millis(behind), Span::from_millis(half));
        assert_eq!(of(0, 0), Lead::NONE);
        assert_eq!(of(1_000, 800).ramp, Span::from_millis(1_125));
        assert_eq!(of(1_000, 800).step, Span::from_millis(800));
        assert_eq!(of(5_000, 4_000).most(), Span::from_seconds(2));
    }
}
