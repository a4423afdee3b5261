//! Time-weighted means, so that a row's second weighs each value by how long it stood.

use crate::time::{Instant, Span};

/// Sums a value that stands until the next one comes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mean {
    since: Option<Instant>,
    value: Option<f64>,
    sum: f64,
    time: Span,
}

impl Mean {
    /// The value that has stood since the last call stood until `now`; from here on stands `value`, or nothing.
    pub fn step(&mut self, now: Instant, value: Option<f64>) {
        self.settle(now);
        self.value = value;
    }

    fn settle(&mut self, now: Instant) {
        if let (Some(since), Some(value)) = (self.since, self.value) {
            let time = now.since(since);
            self.sum += value * time.seconds();
            self.time += time;
        }
        self.since = Some(now);
    }

    /// The mean up to `now`, and a new start from there; nothing where no value stood.
    pub fn take(&mut self, now: Instant) -> Option<f64> {
        self.settle(now);
        let time = std::mem::take(&mut self.time).seconds();
        let sum = std::mem::take(&mut self.sum);
        (time > 0.0).then(|| sum / time)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_weigh_by_how_long_they_stood() {
        let at = |millis| Instant::ZERO + Span::from_millis(millis);
        let mut mean = Mean::default();
        mean.step(at(0), Some(100.0));
        mean.step(at(250), Some(200.0));
        mean.step(at(500), None);
        mean.step(at(750), Some(300.0));
        // 100 for a quarter, 200 for a quarter, nothing for a quarter, 300 for a quarter.
        assert_eq!(mean.take(at(1_000)), Some(200.0));
        assert_eq!(mean.take(at(2_000)), Some(300.0));
        mean.step(at(2_000), None);
        assert_eq!(mean.take(at(3_000)), None);
    }
}
