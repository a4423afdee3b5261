//! Seeded randomness: the same seed gives the same ride, on every machine.

/// A source of random numbers. Each model has one of its own, so that more draws in one do not move the others.
#[derive(Clone, Debug)]
pub struct Noise {
    numbers: fastrand::Rng,
}

impl Noise {
    /// From the ride's seed and the name of the model that draws.
    pub fn new(seed: u64, model: &str) -> Self {
        // FNV-1a over the name, so that models with one seed still draw apart.
        let salt = model.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Self {
            numbers: fastrand::Rng::with_seed(seed ^ salt),
        }
    }

    /// A draw from a normal distribution of mean 0 and standard deviation 1, near enough: the sum of twelve uniform
    /// draws less six (Irwin–Hall). It needs no logarithm, so it gives the same bits everywhere, and never passes 6.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.numbers.f64()).sum::<f64>() - 6.0
    }
}

/// A value that wanders about zero and forgets after a while: an Ornstein–Uhlenbeck process.
///
/// dx = −x/τ·dt + s·√(2/τ)·dW, whose standing deviation is s whatever the step.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wander {
    value: f64,
}

impl Wander {
    /// On by `dt` seconds, with the given standing deviation and memory of `tau` seconds. Returns the new value.
    pub fn step(&mut self, noise: &mut Noise, dt: f64, deviation: f64, tau: f64) -> f64 {
        if deviation > 0.0 {
            let kept = 1.0 - dt / tau;
            self.value =
                self.value * kept + deviation * (1.0 - kept * kept).sqrt() * noise.normal();
        } else {
            self.value = 0.0;
        }
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wander_stands_at_its_deviation_and_memory() {
        // An Ornstein–Uhlenbeck process has variance s² and autocorrelation exp(−lag/τ).
        let mut noise = Noise::new(7, "test");
        let mut wander = Wander::default();
        let values: Vec<f64> = (0..400_000)
            .map(|_| wander.step(&mut noise, 0.01, 2.0, 0.5))
            .collect();
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / count;
        let lagged = values
            .windows(51)
            .map(|w| (w[0] - mean) * (w[50] - mean))
            .sum::<f64>()
            / (count - 50.0);
        assert!(mean.abs() < 0.1, "mean {mean}");
        assert!((variance - 4.0).abs() < 0.3, "variance {variance}");
        assert!((lagged / variance - (-1.0_f64).exp()).abs() < 0.05);
    }

    #[test]
    fn models_with_one_seed_draw_apart() {
        let draws = |seed, model| {
            let mut noise = Noise::new(seed, model);
            [noise.normal(), noise.normal(), noise.normal()]
        };
        assert_eq!(draws(1, "legs"), draws(1, "legs"));
        assert_ne!(draws(1, "legs"), draws(2, "legs"));
        assert_ne!(draws(1, "legs"), draws(1, "heart"));
    }
}
