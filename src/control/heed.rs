//! A trainer that takes every target power and does not act on it: its watts follow the speed of the wheel.
//!
//! A load that is off its target has many ordinary reasons: a brake at its floor in a hard gear makes too much of an easy
//! target, one at its ceiling in an easy gear too little of a hard one, legs soften, meters differ, brakes lag. None of
//! them makes *too much* of low targets and *too little* of high ones with the power of one and the same resistance, again
//! and again. Only that is believed; everything else stays silent, also a rider who makes the watts of such a trainer with
//! the gears: then nothing is missing.

use std::collections::VecDeque;

use crate::time::{Instant, Span};
use crate::units::Watts;

/// So long after its change a target is not looked at: three times the longest delay, of brake and reports together, that
/// is looked for (`control::lag`).
const SETTLES: Span = Span::from_seconds(12);
/// And so long it has to stand, under pedals that turn steadily, for its mean to be looked at: half a minute in all.
const LASTS: Span = Span::from_seconds(18);
/// Reports further apart are no watching.
const MOST_APART: Span = Span::from_millis(2_500);

/// A target stands while it moves by no more than this share of it.
const SAME_TARGET: f64 = 0.02;
/// Pedals turn steadily within this, rpm, and above a least.
const STEADY_CADENCE: f64 = 10.0;
const LEAST_CADENCE: f64 = 50.0;
/// A power is steady where the halves of its time differ by no more than this share.
const STEADY_POWER: f64 = 0.06;

/// A power is off its target by this share at least, and by these watts: twice what a meter may read off.
const OFF: f64 = 0.15;
const OFF_WATTS: f64 = 20.0;
/// It is on its target within this share, which takes in a meter's error.
const ON: f64 = 0.1;
/// Another target is one that lies so far away.
const OTHER: f64 = 0.25;
const OTHER_WATTS: f64 = 40.0;
/// Powers of one resistance agree within this share once the speed is taken out of them.
const AGREES: f64 = 0.08;

/// So many times too much and so many times too little, each time after another target.
const TIMES: usize = 2;
/// Looks kept; when full the oldest goes.
const MOST_LOOKS: usize = 6;

/// What is known at the moment of a report.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// The target power that the trainer took last and holds by its own word; none where that is anything else, or where
    /// something else is in play: still or stalling pedals, a sprint, a load that is let off, an end of the trainer's range.
    pub target: Option<Watts>,
    /// The trainer's own power, fresh and not repeated.
    pub power: Option<Watts>,
    /// Cadence, rpm, fresh.
    pub cadence: Option<f64>,
    /// The speed that is reported, m/s, above nothing.
    pub speed: Option<f64>,
    /// Whether that speed is known to be a wheel's, and not reckoned from power.
    pub is_wheels: bool,
}

/// What is concluded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heeding {
    /// The load does not change with the targets.
    Not,
    /// It does again.
    Again,
}

/// A target that stood, and what became of it.
#[derive(Clone, Copy, Debug)]
struct Look {
    target: f64,
    power: f64,
    cadence: f64,
    speed: Option<f64>,
    is_wheels: bool,
}

impl Look {
    fn over(&self) -> bool {
        self.power > self.target + (OFF * self.target).max(OFF_WATTS)
    }

    fn under(&self) -> bool {
        self.power < self.target - (OFF * self.target).max(OFF_WATTS)
    }

    fn on(&self) -> bool {
        (self.power / self.target - 1.0).abs() <= ON
    }

    fn is_another_than(&self, other: &Self) -> bool {
        let (low, high) = (self.target.min(other.target), self.target.max(other.target));
        high - low >= (OTHER * low).max(OTHER_WATTS)
    }

    /// Whether both powers may be those of one resistance, at the speeds that are reported and, where those are not known
    /// to be a wheel's, at the cadences too: then a shift in between agrees with nothing.
    fn agrees_with(&self, other: &Self) -> bool {
        let more = self.power / other.power.max(1.0);
        let by_speed = self.speed.zip(other.speed);
        let known = self.is_wheels && other.is_wheels && by_speed.is_some();
        by_speed.is_none_or(|(speed, before)| explains(speed / before, more))
            && (known || explains(self.cadence / other.cadence, more))
    }
}

/// Whether so much more power is one resistance turned so much faster: it rises with speed by its first to third power, as
/// everywhere here.
fn explains(faster: f64, more: f64) -> bool {
    let (least, most) = (faster.min(faster.powi(3)), faster.max(faster.powi(3)));
    more >= least * (1.0 - AGREES) && more <= most * (1.0 + AGREES)
}

/// What is gathered while a target stands.
#[derive(Clone, Copy, Debug)]
struct Stand {
    target: f64,
    since: Instant,
    last: Instant,
    /// When gathering began; none while the target settles.
    from: Option<Instant>,
    /// Sums of power with their counts, of the first and the second half.
    halves: [(f64, f64); 2],
    cadence: (f64, f64),
    sums: (f64, f64),
    speeds: usize,
}

impl Stand {
    const fn new(now: Instant, target: f64) -> Self {
        Self {
            target,
            since: now,
            last: now,
            from: None,
            halves: [(0.0, 0.0); 2],
            cadence: (f64::INFINITY, 0.0),
            sums: (0.0, 0.0),
            speeds: 0,
        }
    }

    /// Gathers anew, with the target that has settled.
    const fn again(&mut self) {
        let mut new = Self::new(self.since, self.target);
        new.last = self.last;
        *self = new;
    }
}

/// Watches whether the trainer acts on what it takes.
#[derive(Clone, Debug, Default)]
pub struct Heed {
    stand: Option<Stand>,
    looks: VecDeque<Look>,
    /// Whether it was said that it does not.
    not: bool,
}

impl Heed {
    /// Another trainer, or one whose link or control was lost: what was seen of it may be over.
    pub fn interrupted(&mut self) {
        self.stand = None;
        self.looks.clear();
    }

    /// Takes what is known at a report of the trainer. Tells a conclusion once, when it is reached.
    pub fn see(&mut self, now: Instant, moment: &Moment) -> Option<Heeding> {
        let look = self.gather(now, moment)?;
        self.conclude(look)
    }

    fn gather(&mut self, now: Instant, moment: &Moment) -> Option<Look> {
        let Some(target) = moment.target.map(|target| target.0) else {
            self.stand = None;
            return None;
        };
        let stand = match &mut self.stand {
            Some(stand) if (target - stand.target).abs() <= SAME_TARGET * stand.target => stand,
            _ => {
                self.stand = Some(Stand::new(now, target));
                return None;
            }
        };
        let apart = now.since(stand.last);
        stand.last = now;
        let (Some(power), Some(cadence)) = (moment.power, moment.cadence) else {
            stand.again();
            return None;
        };
        let (least, most) = (stand.cadence.0.min(cadence), stand.cadence.1.max(cadence));
        let steady = least >= LEAST_CADENCE && most - least <= STEADY_CADENCE;
        if !steady || apart > MOST_APART {
            stand.again();
            return None;
        }
        if now.since(stand.since) < SETTLES {
            return None;
        }
        let from = *stand.from.get_or_insert(now);
        let gone = now.since(from);
        stand.cadence = (least, most);
        let half = &mut stand.halves[usize::from(gone.0 * 2 >= LASTS.0)];
        *half = (half.0 + power.0, half.1 + 1.0);
        stand.sums.0 += cadence;
        if let Some(speed) = moment.speed {
            stand.sums.1 += speed;
            stand.speeds += 1;
        }
        if gone < LASTS {
            return None;
        }
        let [(early, earlies), (late, lates)] = stand.halves;
        let count = earlies + lates;
        let look = Look {
            target,
            power: (early + late) / count,
            cadence: stand.sums.0 / count,
            speed: (stand.speeds as f64 >= count).then_some(stand.sums.1 / count),
            is_wheels: moment.is_wheels,
        };
        let drift = (early / earlies.max(1.0) - late / lates.max(1.0)).abs();
        stand.again();
        (drift <= STEADY_POWER * look.power && look.power > 1.0).then_some(look)
    }

    fn conclude(&mut self, look: Look) -> Option<Heeding> {
        // What no one resistance explains together with this is no evidence with it.
        if !self.looks.iter().all(|other| look.agrees_with(other)) {
            // Two targets apart that are both met are a brake that acts.
            let met = |before: &Look| before.on() && look.on() && look.is_another_than(before);
            let again = self.not && self.looks.back().is_some_and(met);
            self.looks.clear();
            self.looks.push_back(look);
            self.not &= !again;
            return again.then_some(Heeding::Again);
        }
        // A target that stands on tells nothing more.
        if self
            .looks
            .back()
            .is_some_and(|last| !look.is_another_than(last))
        {
            return None;
        }
        if self.looks.len() >= MOST_LOOKS {
            self.looks.pop_front();
        }
        self.looks.push_back(look);
        let over = self.looks.iter().filter(|look| look.over()).count();
        let under = self.looks.iter().filter(|look| look.under()).count();
        let sure = over >= TIMES && under >= TIMES;
        (sure && !std::mem::replace(&mut self.not, true)).then_some(Heeding::Not)
    }
}
