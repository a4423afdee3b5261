//! The heart: a rate that follows load late, and beats that are not quite even.

use super::noise::Noise;

/// The constants of a heart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeartParameters {
    /// Beats a minute at rest.
    pub rest: f64,
    /// Most beats a minute.
    pub most: f64,
    /// The power at which the steady rate would reach the maximum, W: critical power, above which no steady state is
    /// held to exist (Monod & Scherrer 1965). The straight line from rest at 0 W to there is the model's own choice.
    pub most_at: f64,
    /// Seconds that the load needs to reach the heart: a first stage before the slow one.
    pub delay: f64,
    /// Time constant of a rise, s. Heart rate lags load by 30 to 60 s (common practice, no source).
    pub rise: f64,
    /// Time constant of a fall, s; slower than the rise (*memory*).
    pub fall: f64,
    /// Upward drift under steady load, bpm a minute at `most_at`, in proportion below (cardiovascular drift: Coyle &
    /// González-Alonso 2001, *memory*; the figure is the model's own).
    pub drift: f64,
    /// Standard deviation of one beat's interval, as a share of it.
    pub unevenness: f64,
}

impl HeartParameters {
    /// A heart for a rider with this critical power in watts: 55 at rest, 185 at most.
    pub fn for_critical_power(critical_power: f64) -> Self {
        Self {
            rest: 55.0,
            most: 185.0,
            most_at: critical_power,
            delay: 5.0,
            rise: 30.0,
            fall: 45.0,
            drift: 0.4,
            unevenness: 0.015,
        }
    }
}

/// How many intervals wait for the next report. At 240 bpm and a report a second four wait; when it is full the oldest
/// is dropped, as a strap with a small buffer does.
const INTERVALS: usize = 9;

/// The state of a heart.
#[derive(Clone, Debug)]
pub struct Heart {
    parameters: HeartParameters,
    noise: Noise,
    load: f64,
    rate: f64,
    drifted: f64,
    /// Seconds since the last beat and the length of the interval that runs.
    since_beat: f64,
    interval: f64,
    intervals: Vec<f64>,
}

impl Heart {
    /// A heart at rest.
    pub fn new(parameters: HeartParameters, seed: u64) -> Self {
        Self {
            parameters,
            noise: Noise::new(seed, "heart"),
            load: 0.0,
            rate: parameters.rest,
            drifted: 0.0,
            since_beat: 0.0,
            interval: 60.0 / parameters.rest,
            intervals: Vec::with_capacity(INTERVALS),
        }
    }

    /// Beats a minute.
    pub fn rate(&self) -> f64 {
        self.rate
    }

    /// The intervals in seconds of the beats since the last call.
    pub fn take_intervals(&mut self) -> Vec<f64> {
        std::mem::take(&mut self.intervals)
    }

    /// The rate that this load would settle at, before drift: rest + (most − rest)·P/CP (a share of the heart-rate
    /// reserve, Karvonen 1957), never over the most.
    fn settled(&self, power: f64) -> f64 {
        let p = &self.parameters;
        p.rest + (p.most - p.rest) * (power / p.most_at.max(1.0)).clamp(0.0, 1.0)
    }

    /// On by `dt` seconds at the rider's power in watts.
    pub fn step(&mut self, dt: f64, power: f64) {
        let p = self.parameters;
        self.load += (power - self.load) * share(dt, p.delay);
        let working = (self.load / p.most_at.max(1.0)).clamp(0.0, 1.0);
        // Drift gathers under load and is lost at rest, over some ten minutes.
        self.drifted += p.drift * working / 60.0 * dt;
        if working < 0.3 {
            self.drifted -= self.drifted * share(dt, 600.0);
        }
        let aim = (self.settled(self.load) + self.drifted * working).min(p.most);
        let tau = if aim > self.rate { p.rise } else { p.fall };
        self.rate += (aim - self.rate) * share(dt, tau);
        self.beat(dt);
    }

    fn beat(&mut self, dt: f64) {
        self.since_beat += dt;
        if self.since_beat < self.interval {
            return;
        }
        if self.intervals.len() >= INTERVALS {
            self.intervals.remove(0);
        }
        self.intervals.push(self.interval);
        self.since_beat -= self.interval;
        let uneven = 1.0 + self.parameters.unevenness * self.noise.normal();
        self.interval = 60.0 / self.rate * uneven;
    }
}

/// The share of its way that a first-order stage makes in `dt` seconds.
fn share(dt: f64, tau: f64) -> f64 {
    if tau > 0.0 {
        1.0 - (-dt / tau).exp()
    } else {
        1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP: f64 = 0.01;

    fn steady(rest: f64, most: f64) -> HeartParameters {
        HeartParameters {
            rest,
            most,
            drift: 0.0,
            ..HeartParameters::for_critical_power(250.0)
        }
    }

    fn run(heart: &mut Heart, seconds: f64, power: f64) {
        for _ in 0..(seconds / STEP).round() as u32 {
            heart.step(STEP, power);
        }
    }

    #[test]
    fn a_steady_load_settles_at_its_share_of_the_reserve() {
        // Karvonen 1957: rest + f·(max − rest).
        for (rest, most, share, bpm) in [(60.0, 180.0, 0.70, 144.0), (65.0, 170.0, 0.75, 143.75)] {
            let mut heart = Heart::new(steady(rest, most), 1);
            run(&mut heart, 600.0, share * 250.0);
            assert!((heart.rate() - bpm).abs() < 0.01, "{}", heart.rate());
        }
    }

    #[test]
    fn the_rate_never_passes_the_most_nor_falls_below_rest() {
        let mut heart = Heart::new(HeartParameters::for_critical_power(250.0), 1);
        run(&mut heart, 3600.0, 900.0);
        assert!((heart.rate() - 185.0).abs() < 0.01);
        run(&mut heart, 7200.0, 0.0);
        assert!((heart.rate() - 55.0).abs() < 0.5, "{}", heart.rate());
    }

    #[test]
    fn a_rise_is_quicker_than_a_fall() {
        let mut heart = Heart::new(steady(60.0, 180.0), 1);
        let half_way = |heart: &mut Heart, power: f64, up: bool| {
            let mut seconds = 0.0;
            while (heart.rate() > 120.0) != up {
                heart.step(STEP, power);
                seconds += STEP;
            }
            seconds
        };
        let up = half_way(&mut heart, 250.0, true);
        run(&mut heart, 900.0, 250.0);
        let down = half_way(&mut heart, 0.0, false);
        // Two stages in a row, 5 s and τ: 1 − (τ·e^(−t/τ) − 5·e^(−t/5))/(τ − 5) = ½ at 26.20 s for τ = 30 and at
        // 36.48 s for τ = 45, solved by bisection outside this code.
        assert!((up - 26.20).abs() < 0.1, "{up}");
        assert!((down - 36.48).abs() < 0.1, "{down}");
    }

    #[test]
    fn intervals_add_up_to_the_rate() {
        let mut heart = Heart::new(steady(60.0, 180.0), 3);
        run(&mut heart, 900.0, 125.0);
        heart.take_intervals();
        let mut intervals = Vec::new();
        for _ in 0..600 {
            run(&mut heart, 1.0, 125.0);
            intervals.extend(heart.take_intervals());
        }
        let mean = intervals.iter().sum::<f64>() / intervals.len() as f64;
        assert!((60.0 / mean - 120.0).abs() < 0.4, "{mean}");
        assert!(intervals.iter().any(|&interval| interval > mean * 1.01));
    }
}
