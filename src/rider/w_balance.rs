//! The W′ balance: an estimate of the work above critical power that is left.

use crate::time::Span;
use crate::units::{Joules, Watts};

/// The live form: above critical power W′ is spent by the excess; below it the deficit shrinks exponentially.
///
/// Source: Skiba et al. 2015; Skiba & Clarke 2021 (from memory). It is known to predict exhaustion poorly, so it is
/// shown as an estimate, and it may go negative.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WBalance {
    critical_power: Watts,
    w_prime: Joules,
    left: f64,
}

impl WBalance {
    /// Full, for this critical power and W′. Both must be above zero; what is not is raised to one.
    pub fn full(critical_power: Watts, w_prime: Joules) -> Self {
        let w_prime = w_prime.max(Joules(1.0));
        Self {
            critical_power: critical_power.max(Watts(1.0)),
            w_prime,
            left: w_prime.0,
        }
    }

    /// Goes on with so much left, as it stood in an earlier run of the program; what is no figure changes nothing.
    pub fn take_up(&mut self, left: Joules) {
        if left.0.is_finite() {
            self.left = left.0.min(self.w_prime.0);
        }
    }

    /// Rides at a power for a time.
    pub fn ride(&mut self, power: Watts, time: Span) {
        let excess = power.0 - self.critical_power.0;
        if excess > 0.0 {
            self.left -= excess * time.seconds();
        } else {
            let deficit = self.w_prime.0 - self.left;
            self.left = self.w_prime.0 - deficit * (excess * time.seconds() / self.w_prime.0).exp();
        }
    }

    /// What is left, as a share of the whole.
    pub fn share(&self) -> f64 {
        self.left / self.w_prime.0
    }

    /// What is left; negative where the model says that it is used up.
    pub const fn left(&self) -> Joules {
        Joules(self.left)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_form_gives_its_check_values() {
        // Critical power 250 W, W′ 20 kJ: a minute at 400 W, then a minute at 100 W (Skiba et al. 2015).
        let mut balance = WBalance::full(Watts(250.0), Joules(20_000.0));
        balance.ride(Watts(400.0), Span::from_seconds(60));
        assert!((balance.left().0 - 11_000.0).abs() < 1e-6);
        balance.ride(Watts(100.0), Span::from_seconds(60));
        assert!(
            (balance.left().0 - 14_261.35).abs() < 0.01,
            "{:?}",
            balance.left()
        );
    }

    #[test]
    fn small_steps_and_large_agree() {
        let mut fine = WBalance::full(Watts(250.0), Joules(20_000.0));
        fine.ride(Watts(450.0), Span::from_seconds(120));
        let mut coarse = fine;
        assert!(fine.left().0 < 0.0, "it may go negative");
        for _ in 0..6_000 {
            fine.ride(Watts(120.0), Span::from_millis(10));
        }
        coarse.ride(Watts(120.0), Span::from_seconds(60));
        assert!((fine.left().0 - coarse.left().0).abs() < 1e-6);
    }
}
