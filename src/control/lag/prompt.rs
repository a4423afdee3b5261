//! Whether the trainer's cadence is a prompt witness.
//!
//! If power and cadence are smoothed alike, a quick brake looks like a slow one in both, and nothing that the brake does
//! tells them apart. Legs do: feet stop within half a second, and a smoothed cadence cannot show it.

use crate::time::{Instant, Span};
use crate::units::Rpm;

/// A cadence that can fall with this time constant or a lesser one is prompt, seconds.
const PROMPT: f64 = 0.3;
/// Feet that stop are seen from this cadence on, rpm.
const FROM: f64 = 40.0;
/// A cadence under this is as good as none, rpm.
const NONE: f64 = 3.0;
/// Reports further apart than this show no fall, only that there was one.
const MOST_APART: Span = Span::from_millis(1_200);

/// Watches how fast the reported cadence can fall.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Promptness {
    last: Option<(Instant, f64)>,
    prompt: bool,
}

impl Promptness {
    /// As earlier rides found it.
    pub(super) const fn of(prompt: bool) -> Self {
        Self { last: None, prompt }
    }

    /// Takes a report; true where it is the first to show that cadence is prompt.
    pub(super) fn see(&mut self, at: Instant, cadence: Option<Rpm>) -> bool {
        let Some(cadence) = cadence else {
            self.last = None;
            return false;
        };
        let before = self.last.replace((at, cadence.0));
        let Some((when, before)) = before.filter(|(when, _)| at.since(*when) <= MOST_APART) else {
            return false;
        };
        if self.prompt || before < FROM {
            return false;
        }
        // Smoothed over τ, a cadence keeps e^(−t/τ) of itself at least, even where the feet stop at once.
        let kept = cadence.0.max(NONE) / before;
        self.prompt = kept < 1.0 && at.since(when).seconds() <= PROMPT * -kept.ln();
        self.prompt
    }

    pub(super) const fn is_prompt(self) -> bool {
        self.prompt
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether a cadence of 88 rpm that stops at once and is smoothed over `constant` seconds counts as prompt.
    fn smoothed(constant: f64, period: f64) -> bool {
        let mut watch = Promptness::default();
        (0..60).any(|index| {
            let at = f64::from(index) * period;
            // First-order: e^(−t/τ), in halves of a revolution as the service reports it.
            let rpm = if at < 1.0 {
                88.0
            } else {
                88.0 * (-(at - 1.0) / constant).exp()
            };
            let at = Instant::ZERO + Span::from_seconds_f64(at);
            watch.see(at, Some(Rpm((rpm * 2.0).round() / 2.0)))
        })
    }

    #[test]
    fn a_smoothed_cadence_is_no_prompt_witness() {
        for period in [0.25, 0.5, 1.0] {
            assert!(smoothed(0.05, period), "every {period} s");
            for constant in [0.5, 1.0, 3.0] {
                assert!(
                    !smoothed(constant, period),
                    "{constant} s, every {period} s"
                );
            }
        }
    }

    #[test]
    fn a_gap_shows_nothing() {
        let mut watch = Promptness::default();
        assert!(!watch.see(Instant(0), Some(Rpm(88.0))));
        assert!(!watch.see(Instant(5_000_000), Some(Rpm(0.0))));
        assert!(!watch.see(Instant(5_250_000), None));
        assert!(!watch.see(Instant(5_500_000), Some(Rpm(88.0))));
        assert!(watch.see(Instant(5_750_000), Some(Rpm(20.0))));
    }
}
