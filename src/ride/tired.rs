//! Easing down instead of failing: a fading rider stays on at whatever load remains.

use std::collections::VecDeque;

use crate::time::{Instant, Span};
use crate::units::{Bpm, Rpm};

/// Cadence must be under its band for so long.
const UNDER_BAND_FOR: Span = Span::from_seconds(10);
/// One step down.
pub const STEP: f64 = 0.04;
/// At most one step in this time.
const BETWEEN_STEPS: Span = Span::from_seconds(30);
/// Heart rate is judged over this, and never in blocks shorter than [`HEART_BLOCK`].
const HEART_TREND: Span = Span::from_seconds(30);
/// The trend must cover so much of its window before it says anything.
const HEART_COVER: Span = Span::from_seconds(25);
/// Heart rate lags load by half a minute and more: it says nothing in shorter blocks.
const HEART_BLOCK: Span = Span::from_seconds(180);
/// "Ease this block" takes off so much.
pub const ASKED: f64 = 0.10;
/// The first, second and third stall of a block take off so much; the fourth leaves the recovery's load. Our own choice:
/// the first is a step like any other, and the four together end the stalling of legs that are asked for twice what they
/// have within a minute.
const STALLS: [f64; 3] = [STEP, ASKED, 0.20];
/// A heart rate is taken no more often than this, however often it is looked at.
const HEART_STEP: Span = Span::from_seconds(1);
/// At most so many heart rates are kept: at one a second more than the trend needs. The oldest goes.
const MOST_HEART_RATES: usize = 64;

/// What the easing looks at.
#[derive(Clone, Copy, Debug)]
pub struct Strain {
    /// Fresh cadence.
    pub cadence: Option<Rpm>,
    /// The bottom of the band, where the block has one.
    pub band_low: Option<Rpm>,
    /// Whether the brake holds watts and its build-up is over.
    pub held: bool,
    /// Fresh heart rate.
    pub heart_rate: Option<Bpm>,
    /// The rider's ceiling.
    pub ceiling: Option<Bpm>,
    /// The length of the block.
    pub block: Span,
}

/// What has just been eased, to be said once a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Eased {
    /// Cadence was under its band.
    ForCadence,
    /// Heart rate was over the ceiling.
    ForHeart,
}

/// The easing of one block.
#[derive(Clone, Debug, Default)]
pub struct EaseDown {
    steps: u32,
    asked: bool,
    stalls: u32,
    for_heart: bool,
    under_since: Option<Instant>,
    last_step: Option<Instant>,
    heart_rates: VecDeque<(Instant, f64)>,
}

impl EaseDown {
    /// Looks at the strain; returns what was eased where a step was taken now.
    pub fn see(&mut self, now: Instant, strain: &Strain) -> Option<Eased> {
        let under = strain.held
            && matches!((strain.cadence, strain.band_low), (Some(c), Some(low)) if c < low);
        if under {
            self.under_since.get_or_insert(now);
        } else {
            self.under_since = None;
        }
        let last = self.heart_rates.back().map(|(at, _)| *at);
        if let Some(heart_rate) = strain.heart_rate
            && last.is_none_or(|last| now.since(last) >= HEART_STEP)
        {
            if self.heart_rates.len() == MOST_HEART_RATES {
                self.heart_rates.pop_front();
            }
            self.heart_rates.push_back((now, heart_rate.0));
        }
        while self
            .heart_rates
            .front()
            .is_some_and(|(at, _)| now.since(*at) > HEART_TREND)
        {
            self.heart_rates.pop_front();
        }
        if self
            .last_step
            .is_some_and(|at| now.since(at) < BETWEEN_STEPS)
        {
            return None;
        }
        let cadence_long = self
            .under_since
            .is_some_and(|since| now.since(since) >= UNDER_BAND_FOR);
        let eased = if cadence_long {
            Eased::ForCadence
        } else if strain.held && strain.block >= HEART_BLOCK && self.heart_over(now, strain.ceiling)
        {
            self.for_heart = true;
            Eased::ForHeart
        } else {
            return None;
        };
        self.steps += 1;
        self.last_step = Some(now);
        self.under_since = None;
        Some(eased)
    }

    fn heart_over(&self, now: Instant, ceiling: Option<Bpm>) -> bool {
        let (Some(ceiling), Some((first, _))) = (ceiling, self.heart_rates.front()) else {
            return false;
        };
        let mean = self.heart_rates.iter().map(|(_, bpm)| bpm).sum::<f64>()
            / self.heart_rates.len() as f64;
        now.since(*first) >= HEART_COVER && mean > ceiling.0
    }

    /// The legs stalled: what is asked of them for the rest of the block comes down, further with each stall, since a
    /// rider who stalls again is asked for too much still. Returns what was taken off in words.
    pub fn stalled(&mut self, now: Instant) -> &'static str {
        self.stalls = self.stalls.saturating_add(1);
        // The next step down for cadence or heart waits as after a step of their own.
        self.last_step = Some(now);
        self.under_since = None;
        match self.stalls {
            1 => entry!("the rest of this block is eased by 4 %"),
            2 => entry!("the rest of this block is eased by 10 % more"),
            3 => entry!("the rest of this block is eased by 20 % more"),
            _ => entry!("the rest of this block is ridden at a recovery's load"),
        }
    }

    /// Ten per cent off the rest of this block, once.
    pub fn ask(&mut self) {
        self.asked = true;
    }

    /// The share of the load that is left.
    pub fn factor(&self) -> f64 {
        let asked = if self.asked { 1.0 - ASKED } else { 1.0 };
        let stalls = usize::try_from(self.stalls).unwrap_or(usize::MAX);
        let stalled = match STALLS.get(..stalls) {
            Some(shares) => shares.iter().map(|share| 1.0 - share).product(),
            None => 0.0,
        };
        asked * stalled * (1.0 - STEP * f64::from(self.steps)).max(0.0)
    }

    /// How many steps were taken in this block.
    pub const fn steps(&self) -> u32 {
        self.steps
    }

    /// Whether heart rate limits the load of this block, so that losing its signal lets the load fall.
    pub const fn limits_by_heart(&self) -> bool {
        self.for_heart
    }

    /// The rider rides on without a heart rate: it limits no more until its trend is over the ceiling again.
    pub fn ride_without_heart(&mut self) {
        self.for_heart = false;
        self.heart_rates.clear();
    }

    /// What was taken is given back at the next block; the heart's trend goes on.
    pub fn next_block(&mut self) {
        *self = Self {
            heart_rates: std::mem::take(&mut self.heart_rates),
            last_step: self.last_step,
            ..Self::default()
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Instant {
        Instant::ZERO + Span::from_seconds(seconds)
    }

    fn strain(cadence: f64, heart_rate: Option<f64>, block: u64) -> Strain {
        Strain {
            cadence: Some(Rpm(cadence)),
            band_low: Some(Rpm(85.0)),
            held: true,
            heart_rate: heart_rate.map(Bpm),
            ceiling: Some(Bpm(170.0)),
            block: Span::from_seconds(block),
        }
    }

    #[test]
    fn ten_seconds_under_the_band_ease_once_in_thirty() {
        let mut ease = EaseDown::default();
        let steps: Vec<u64> = (0..100)
            .filter(|&s| ease.see(at(s), &strain(80.0, None, 600)).is_some())
            .collect();
        assert_eq!(steps, [10, 40, 70]);
        assert!((ease.factor() - 0.88).abs() < 1e-12);
        ease.ask();
        assert!((ease.factor() - 0.792).abs() < 1e-12);
        ease.next_block();
        assert_eq!(ease.factor(), 1.0);
    }

    #[test]
    fn a_dip_of_nine_seconds_is_forgiven() {
        let mut ease = EaseDown::default();
        for s in 0..100 {
            let cadence = if s % 10 == 9 { 86.0 } else { 80.0 };
            assert_eq!(
                ease.see(at(s), &strain(cadence, None, 600)),
                None,
                "at {s} s"
            );
        }
    }

    #[test]
    fn looking_often_does_not_shorten_the_trend() {
        let mut ease = EaseDown::default();
        let acted = (0..600).find(|&tenth| {
            let now = Instant::ZERO + Span::from_millis(tenth * 100);
            ease.see(now, &strain(90.0, Some(180.0), 600)).is_some()
        });
        assert_eq!(
            acted,
            Some(250),
            "as soon as twenty-five seconds are covered"
        );
    }

    #[test]
    fn heart_rate_is_judged_by_its_trend_and_not_in_short_blocks() {
        let mut long = EaseDown::default();
        let mut short = EaseDown::default();
        let mut first = None;
        for s in 0..120 {
            let bpm = if s < 60 { 165.0 } else { 175.0 };
            if long.see(at(s), &strain(90.0, Some(bpm), 180)).is_some() {
                first.get_or_insert(s);
            }
            assert_eq!(short.see(at(s), &strain(90.0, Some(bpm), 179)), None);
        }
        // Thirty-one samples in the window: the mean passes 170 with the sixteenth at 175.
        assert_eq!(first, Some(75));
        assert!(long.limits_by_heart());
    }

    #[test]
    fn each_stall_takes_off_more_and_the_next_block_gives_it_back() {
        let mut ease = EaseDown::default();
        for (stall, left) in [0.96, 0.96 * 0.9, 0.96 * 0.9 * 0.8, 0.0]
            .into_iter()
            .enumerate()
        {
            ease.stalled(at(20 * stall as u64));
            assert!((ease.factor() - left).abs() < 1e-12, "{stall}");
        }
        ease.stalled(at(100));
        assert_eq!(ease.factor(), 0.0);
        ease.next_block();
        assert_eq!(ease.factor(), 1.0);
        // A stall counts as a step: the next for cadence waits its thirty seconds.
        ease.stalled(at(200));
        let next = (200..300).find(|&s| ease.see(at(s), &strain(80.0, None, 600)).is_some());
        assert_eq!(next, Some(230));
    }
}
