//! What an effort out of ten means in watts, as shares of threshold power.

use crate::units::{Effort, Fraction, Watts};

/// A strictly increasing map from effort 0 to 9 to a share of threshold power. Above 9 there is no figure.
#[derive(Clone, Debug, PartialEq)]
pub struct EffortMap {
    /// The share of threshold at each whole effort from 0 to 9; the first is 0.
    shares: [f64; 10],
}

/// The least rise of the share from one whole effort to the next.
const LEAST_STEP: f64 = 0.01;

impl Default for EffortMap {
    /// Common practice, no source: 2 to 4 warms up at 35 to 55 %, 4 to 5 is 50 to 65 %, 8 lies at 88 to 94 %.
    fn default() -> Self {
        Self {
            shares: [0.0, 0.20, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.02],
        }
    }
}

impl EffortMap {
    /// From the share of threshold at each whole effort, 0 to 9.
    ///
    /// Gives nothing where the first is not 0, a share is over 2, or the map does not rise by a hundredth at least
    /// from each effort to the next.
    pub fn new(shares: [f64; 10]) -> Option<Self> {
        let rises = shares
            .windows(2)
            .all(|pair| pair[1] - pair[0] >= LEAST_STEP - 1e-12);
        (shares[0] == 0.0 && rises && shares[9] <= 2.0).then_some(Self { shares })
    }

    /// The share of threshold for an effort; nothing above 9, which is all out, nor below 0.
    pub fn share(&self, effort: Effort) -> Option<Fraction> {
        let effort = effort.0;
        if !(0.0..=9.0).contains(&effort) {
            return None;
        }
        let below = (effort.floor() as usize).min(8);
        let part = effort - below as f64;
        Some(Fraction(
            self.shares[below] + (self.shares[below + 1] - self.shares[below]) * part,
        ))
    }

    /// The watts for an effort at this threshold; nothing above 9, which is all out.
    pub fn watts(&self, effort: Effort, threshold: Watts) -> Option<Watts> {
        self.share(effort).map(|share| threshold * share.0)
    }

    /// The effort that these watts stand for, 0 to 9; nothing where they lie above effort 9.
    ///
    /// The inverse of [`watts`](Self::watts): it places ink and lane on the strip's scale.
    pub fn effort(&self, watts: Watts, threshold: Watts) -> Option<Effort> {
        if threshold.0 <= 0.0 {
            return None;
        }
        let share = (watts.0 / threshold.0).max(0.0);
        let upper = self.shares.iter().position(|&at| at >= share)?;
        if upper == 0 {
            return Some(Effort(0.0));
        }
        let (low, high) = (self.shares[upper - 1], self.shares[upper]);
        Some(Effort((upper - 1) as f64 + (share - low) / (high - low)))
    }

    /// The share at each whole effort from 0 to 9.
    pub const fn shares(&self) -> &[f64; 10] {
        &self.shares
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    #[test]
    fn the_default_lies_where_common_practice_puts_it() {
        let map = EffortMap::default();
        let share = |effort| map.share(Effort(effort)).map(Fraction::get);
        assert_eq!(share(0.0), Some(0.0));
        // physiology sheet: 8 about 88 to 94 %; 4 to 5 about 50 to 65 %; 2 to 4 at 35 to 55 %.
        assert!((0.88..=0.94).contains(&share(8.0).unwrap()));
        assert!(
            (0.50..=0.65).contains(&share(4.0).unwrap())
                && (0.50..=0.65).contains(&share(5.0).unwrap())
        );
        assert!(
            (0.35..=0.55).contains(&share(2.0).unwrap())
                && (0.35..=0.55).contains(&share(4.0).unwrap())
        );
        assert_eq!(share(9.1), None);
        assert_eq!(share(-0.1), None);
    }

    #[test]
    fn there_and_back_is_the_same_effort() {
        let map = EffortMap::default();
        for tenth in 0..=90 {
            let effort = Effort(f64::from(tenth) / 10.0);
            let watts = map.watts(effort, Watts(240.0)).unwrap();
            let back = map.effort(watts, Watts(240.0)).unwrap();
            assert!(
                (back.0 - effort.0).abs() < 1e-9,
                "{effort:?} came back as {back:?}"
            );
        }
        assert_eq!(map.effort(Watts(500.0), Watts(240.0)), None);
    }

    #[test]
    fn a_map_that_does_not_rise_is_refused() {
        let mut shares = *EffortMap::default().shares();
        shares[5] = shares[4];
        assert_eq!(EffortMap::new(shares), None);
        shares[0] = 0.1;
        assert_eq!(EffortMap::new(shares), None);
    }
}
