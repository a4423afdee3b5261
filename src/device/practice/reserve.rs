//! W′: the work that can be done above critical power, as a tank that empties and fills.

/// The W′ balance of one rider.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reserve {
    critical_power: f64,
    full: f64,
    left: f64,
}

impl Reserve {
    /// A full tank: critical power in watts, W′ in joules.
    pub fn new(critical_power: f64, full: f64) -> Self {
        Self {
            critical_power,
            full: full.max(1.0),
            left: full.max(1.0),
        }
    }

    /// Joules left. It can go below nothing where the power came from elsewhere; the legs here do not let it.
    pub fn left(&self) -> f64 {
        self.left
    }

    /// What is left, as a share of the whole.
    pub fn share(&self) -> f64 {
        self.left / self.full
    }

    /// On by `dt` seconds at a power in watts. Above critical power the excess is taken; below it the deficit shrinks by
    /// exp(−(CP − P)·dt/W′) (Skiba et al. 2015, the live form; *memory*).
    pub fn step(&mut self, dt: f64, power: f64) {
        let below = self.critical_power - power;
        if below >= 0.0 {
            let deficit = self.full - self.left;
            self.left = self.full - deficit * (-below * dt / self.full).exp();
        } else {
            self.left += below * dt;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tank_empties_and_fills_by_the_published_form() {
        // Skiba's live form reckoned apart: CP 250 W, W′ 20 kJ; 60 s at 400 W, then 60 s at 100 W.
        for step in [0.01, 1.0, 60.0] {
            let mut reserve = Reserve::new(250.0, 20_000.0);
            let steps = (60.0_f64 / step).round() as u32;
            for _ in 0..steps {
                reserve.step(step, 400.0);
            }
            assert!((reserve.left() - 11_000.0).abs() < 1e-3);
            for _ in 0..steps {
                reserve.step(step, 100.0);
            }
            assert!((reserve.left() - 14_261.35).abs() < 0.01);
        }
    }
}
