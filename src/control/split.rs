//! Brake or rider: what the brake could have shown by now, and whose doing the rest is.
//!
//! What the screen shows is a report, so the whole delay counts here, that of the reports included; how it is shared
//! between brake and reports does not matter. Where the delay is not known the band is as wide as the targets of the
//! last seconds, and nothing inside it is laid to anybody.

use std::collections::VecDeque;

use crate::control::answer::{Answer, Seen};
use crate::time::{Instant, Span};
use crate::units::Watts;

/// Older targets have no part in what is seen now: five of the longest delays that are looked for.
const LOOK_BACK: Span = Span::from_seconds(20);
/// Where nothing is known, the targets of so long count.
const UNKNOWN_BACK: Span = Span::from_seconds(5);
/// Targets kept; at four a second more than the time looked back over. When full the oldest goes.
const MOST_TARGETS: usize = 96;
/// The reckoning's step, seconds.
const STEP: f64 = 0.05;
/// A deviation within this share of the power, or these watts, is nobody's doing.
const SHARE: f64 = 0.03;
const LEAST: f64 = 4.0;

/// The target powers that the trainer took, with their times.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Targets {
    targets: VecDeque<(Instant, f64)>,
}

/// The power that the brake could show now, watts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    /// The least that can be explained by the brake.
    pub least: Watts,
    /// The likeliest.
    pub likely: Watts,
    /// The most that can be explained by the brake.
    pub most: Watts,
    /// Whether the brake's answer is known; else the band is a guess from the targets of the last seconds.
    pub known: bool,
}

/// A deviation from the lane, split in three. The parts add up to power less lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Split {
    /// The brake was told something else than the lane: built up, eased, capped, sent ahead.
    pub told: Watts,
    /// The brake is still on its way to what it was told, or past it.
    pub brake: Watts,
    /// What is left: the legs.
    pub legs: Watts,
    /// What the brake could show.
    pub expected: Expected,
}

impl Targets {
    /// A target was sent at `at` and taken.
    pub fn put(&mut self, at: Instant, watts: Watts) {
        if self.targets.len() >= MOST_TARGETS {
            self.targets.pop_front();
        }
        self.targets.push_back((at, watts.0));
    }

    /// No power is held, or it is not known what stands.
    pub fn clear(&mut self) {
        self.targets.clear();
    }

    /// The target that stands.
    pub fn newest(&self) -> Option<Watts> {
        self.targets.back().map(|(_, watts)| Watts(*watts))
    }

    /// What the brake could show at `now`; none where it holds no power.
    pub fn expected(&self, now: Instant, answer: &Answer) -> Option<Expected> {
        let newest = self.newest()?.0;
        let (rise, fall) = match (answer.rise, answer.fall) {
            (Some(rise), Some(fall)) => (rise, fall),
            (Some(one), None) | (None, Some(one)) => (one, one),
            (None, None) => return Some(self.unknown(now)),
        };
        let by = |pace: fn(&Seen) -> f64| self.followed(now, &rise, &fall, pace).unwrap_or(newest);
        let likely = by(|_| 1.0);
        let quick = by(|seen| seen.least_total / seen.likely.total().max(STEP));
        let slow = by(|seen| seen.most_total / seen.likely.total().max(STEP));
        Some(Expected {
            least: Watts(likely.min(quick).min(slow)),
            likely: Watts(likely),
            most: Watts(likely.max(quick).max(slow)),
            known: true,
        })
    }

    fn unknown(&self, now: Instant) -> Expected {
        let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
        for (index, &(_, watts)) in self.targets.iter().enumerate() {
            let until = self.targets.get(index + 1).map(|next| next.0);
            if until.is_none_or(|until| now.since(until) < UNKNOWN_BACK) {
                least = least.min(watts);
                most = most.max(watts);
            }
        }
        Expected {
            least: Watts(least.min(most)),
            likely: self.newest().unwrap_or_default(),
            most: Watts(most),
            known: false,
        }
    }

    /// The targets through dead time, lag and smoothing, all times stretched by `pace`.
    fn followed(
        &self,
        now: Instant,
        rise: &Seen,
        fall: &Seen,
        pace: fn(&Seen) -> f64,
    ) -> Option<f64> {
        let from = now - LOOK_BACK;
        let first = self.targets.front()?.1;
        let begun = self.targets.iter().take_while(|(at, _)| *at <= from);
        let mut load = begun.last().map_or(first, |(_, watts)| *watts);
        let mut shown = load;
        let mut at = from;
        let mut next = 0;
        let mut told = load;
        while at < now {
            at += Span::from_seconds_f64(STEP);
            let mut seen = if told >= load { rise } else { fall };
            while let Some(&(sent, watts)) = self.targets.get(next) {
                let way = if watts >= told { rise } else { fall };
                let dead = (way.likely.dead_time + way.likely.delay) * pace(way);
                if sent + Span::from_seconds_f64(dead) > at {
                    break;
                }
                told = watts;
                seen = way;
                next += 1;
            }
            load += (told - load) * share(seen.likely.lag * pace(seen));
            shown += (load - shown) * share(seen.likely.manner.delay() * pace(seen));
        }
        Some(shown)
    }
}

/// The share of a first-order answer in one step.
fn share(constant: f64) -> f64 {
    if constant > 0.0 {
        1.0 - (-STEP / constant).exp()
    } else {
        1.0
    }
}

impl Split {
    /// Splits what is between lane and power; `told` is the target that stands.
    pub fn of(lane: Watts, told: Watts, power: Watts, expected: Expected) -> Self {
        let margin = (power.0.abs() * SHARE).max(LEAST);
        let could = power
            .0
            .clamp(expected.least.0 - margin, expected.most.0 + margin);
        Self {
            told: told - lane,
            brake: Watts(could) - told,
            legs: power - Watts(could),
            expected,
        }
    }

    /// The whole deviation from the lane.
    pub fn whole(&self) -> Watts {
        self.told + self.brake + self.legs
    }

    /// In a few words; none where nothing is worth a word.
    pub fn words(&self) -> Option<String> {
        let whole = self.whole().0;
        let least = LEAST.max((self.expected.likely.0 * SHARE).abs());
        if whole.abs() <= least {
            return None;
        }
        // Parts that pull the other way explain nothing of it.
        let part = |watts: Watts| {
            (watts.0 * whole > 0.0 && watts.0.abs() > least).then_some(watts.0.abs())
        };
        let parts = parts(
            part(self.told),
            part(self.brake),
            part(self.legs),
            self.expected.known,
        );
        let (watts, over) = (whole.abs(), whole > 0.0);
        Some(match parts {
            None if over => kept!("{watts:.0} W over the lane"),
            None => kept!("{watts:.0} W under the lane"),
            Some(parts) if over => kept!("{watts:.0} W over the lane: {parts}"),
            Some(parts) => kept!("{watts:.0} W under the lane: {parts}"),
        })
    }
}

/// Whose doing it is, with the watts of each; a sentence for each case, so that it is recognised whole.
fn parts(told: Option<f64>, brake: Option<f64>, legs: Option<f64>, known: bool) -> Option<String> {
    Some(match (told, brake, legs) {
        (None, None, None) => return None,
        (Some(told), None, None) => kept!("{told:.0} W the target itself stands there"),
        (None, Some(brake), None) if known => kept!("{brake:.0} W the brake is on its way"),
        (None, Some(brake), None) => kept!("{brake:.0} W the brake may be on its way"),
        (None, None, Some(legs)) => kept!("{legs:.0} W the legs"),
        (Some(told), Some(brake), None) if known => kept!(
            "{told:.0} W the target itself stands there, {brake:.0} W the brake is on its way"
        ),
        (Some(told), Some(brake), None) => kept!(
            "{told:.0} W the target itself stands there, {brake:.0} W the brake may be on its way"
        ),
        (Some(told), None, Some(legs)) => {
            kept!("{told:.0} W the target itself stands there, {legs:.0} W the legs")
        }
        (None, Some(brake), Some(legs)) if known => {
            kept!("{brake:.0} W the brake is on its way, {legs:.0} W the legs")
        }
        (None, Some(brake), Some(legs)) => {
            kept!("{brake:.0} W the brake may be on its way, {legs:.0} W the legs")
        }
        (Some(told), Some(brake), Some(legs)) if known => kept!(
            "{told:.0} W the target itself stands there, {brake:.0} W the brake is on its way, {legs:.0} W the legs"
        ),
        (Some(told), Some(brake), Some(legs)) => kept!(
            "{told:.0} W the target itself stands there, {brake:.0} W the brake may be on its way, {legs:.0} W the legs"
        ),
    })
}
