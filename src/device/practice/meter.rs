//! A meter: what a sensor makes of the truth.

use std::collections::VecDeque;

use super::noise::Noise;

/// The constants of a meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeterParameters {
    /// Standing error as a share of the reading: 0.02 reads 2 % high.
    pub offset: f64,
    /// Standard deviation of one report, as a share of the reading.
    pub noise: f64,
    /// Time constant of its smoothing, s; 0 for none.
    pub smoothing: f64,
    /// Time over which it takes a plain mean, s; 0 for none.
    pub mean_over: f64,
}

impl MeterParameters {
    /// A meter that tells the truth of the moment.
    pub const EXACT: Self = Self {
        offset: 0.0,
        noise: 0.0,
        smoothing: 0.0,
        mean_over: 0.0,
    };
}

/// The state of a meter of power.
#[derive(Clone, Debug)]
pub struct Meter {
    parameters: MeterParameters,
    noise: Noise,
    smoothed: f64,
    /// As many values as fit into the time of the mean; the oldest goes.
    lately: VecDeque<f64>,
}

impl Meter {
    /// A meter that has seen nothing yet; `name` keeps its noise apart from another's.
    pub fn new(parameters: MeterParameters, seed: u64, name: &str) -> Self {
        Self {
            parameters,
            noise: Noise::new(seed, name),
            smoothed: 0.0,
            lately: VecDeque::new(),
        }
    }

    /// On by `dt` seconds with the true value.
    pub fn step(&mut self, dt: f64, truth: f64) {
        let tau = self.parameters.smoothing;
        let truth = self.mean(dt, truth);
        if tau > 0.0 {
            self.smoothed += (truth - self.smoothed) * (1.0 - (-dt / tau).exp());
        } else {
            self.smoothed = truth;
        }
    }

    fn mean(&mut self, dt: f64, truth: f64) -> f64 {
        let count = (self.parameters.mean_over / dt).round() as usize;
        if count < 2 {
            return truth;
        }
        self.lately.push_back(truth);
        while self.lately.len() > count {
            self.lately.pop_front();
        }
        self.lately.iter().sum::<f64>() / self.lately.len() as f64
    }

    /// What it reports now: offset and noise are shares, so nothing read stays nothing.
    pub fn read(&mut self) -> f64 {
        let p = &self.parameters;
        let error = if p.noise > 0.0 {
            p.noise * self.noise.normal()
        } else {
            0.0
        };
        self.smoothed * (1.0 + p.offset + error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offset_noise_and_smoothing_do_what_they_say() {
        let mut exact = Meter::new(MeterParameters::EXACT, 1, "exact");
        exact.step(0.01, 250.0);
        assert_eq!(exact.read(), 250.0);

        let mut meter = Meter::new(
            MeterParameters {
                offset: 0.02,
                noise: 0.01,
                smoothing: 2.0,
                mean_over: 0.0,
            },
            1,
            "meter",
        );
        for _ in 0..200 {
            meter.step(0.01, 250.0);
        }
        // One time constant: 63.2 % of 250 W, 2 % high.
        assert!((meter.smoothed * 1.02 - 161.2).abs() < 0.5);
        for _ in 0..10_000 {
            meter.step(0.01, 250.0);
        }
        let reads: Vec<f64> = (0..20_000).map(|_| meter.read()).collect();
        let mean = reads.iter().sum::<f64>() / 20_000.0;
        let deviation = (reads.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / 20_000.0).sqrt();
        assert!((mean - 255.0).abs() < 0.1, "{mean}");
        assert!((deviation - 2.5).abs() < 0.1, "{deviation}");
    }
}
