//! Watts held by the program's own slow loop, on a trainer that takes only levels or slopes.
//!
//! A level that stands makes a power that follows gear and cadence at once: that is the rider's own answer, and nothing
//! here fights it. Once power and cadence have stood for some seconds, that power at that level is an *anchor*. From there
//! a scale is followed to the watts that are asked for, as far as it is known, and the next anchor corrects it.
//!
//! A level's scale is taken to be `power ∝ level + offset` near an anchor: at one wheel speed that holds for any brake
//! whose force is friction and a share of the level, whatever its law of speed. The offset comes from the learned table,
//! else from two anchors in the same gear, else it is taken so small that a step is too short rather than too long. A
//! slope's scale is the road's (Martin et al. 1998).

mod scale;
mod soft;
#[cfg(test)]
mod tests;

use std::collections::VecDeque;

use self::scale::{Anchor, Scale};
use self::soft::{After, Soft};
use crate::ride::build_up::MOST_RISE;
use crate::ride::level::Fixed;
use crate::ride::load::RISE_AT_ONCE;
use crate::ride::table::Table;
use crate::time::{Instant, Span};
use crate::units::{MetresPerSecond, Watts};

/// One sample a second; so many are looked at together, and the oldest makes room.
const WINDOW: usize = 6;

/// Where the watts are off by this share fewer samples do.
const FAR_OFF: f64 = 0.12;
const FAR_OFF_WINDOW: usize = 4;

/// The first anchor after a release needs no more than so many: nothing has stood before it.
const FIRST_WINDOW: usize = 3;

/// Power is steady where both halves of the window differ by no more than this share.
const STEADY_POWER: f64 = 0.04;
/// Cadence is steady within this, rpm. A shift by one sprocket is 6 to 12 rpm.
const STEADY_CADENCE: f64 = 4.0;
/// What stood in a window differed by no more than this share of the watts that it makes.
const STEADY_LEVEL: f64 = 1.03;
/// No power under this is a share's worth, watts: reports are whole watts and wander.
const LEAST_WATTS: f64 = 4.0;

/// An error under this share is left alone.
const DEAD_BAND: f64 = 0.03;

/// Nothing more is added while the watts of the last two seconds are above what is asked for by this share.
const ALREADY_ABOVE: f64 = 1.08;

/// Watts a second that a correction rises by; what the session itself adds comes on top. A fifth of the rise that a
/// held load may have outside sprints.
const CATCH_UP: f64 = 8.0;
/// Watts a second that a correction falls by.
const FALL_BACK: f64 = 15.0;

/// Two corrections come no closer than this, and after two that contradict each other no closer than twice as long, up
/// to a most.
const PATIENCE: Span = Span::from_seconds(5);
const MOST_PATIENCE: Span = Span::from_seconds(40);
/// Corrections that lie further apart do not contradict each other.
const RELATED: Span = Span::from_seconds(60);
/// A target that changes by this share is a new matter.
const OTHER_TARGET: f64 = 0.05;

/// Without a measured power for this long, while the pedals turn, watts cannot be held.
const BLIND: Span = Span::from_seconds(20);

/// What is seen at a moment; every value is fresh or absent.
#[derive(Clone, Copy, Debug, Default)]
pub struct Seen {
    /// Measured power.
    pub power: Option<Watts>,
    /// Cadence, rpm.
    pub cadence: Option<f64>,
    /// The wheel's speed.
    pub speed: Option<MetresPerSecond>,
    /// What the trainer confirmed, as a share of the range that is steered.
    pub share: Option<f64>,
    /// Whether a fresh source shows turning pedals.
    pub turning: bool,
}

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The watts at this moment, on their way and under the cap.
    pub watts: f64,
    /// The cap itself, watts.
    pub cap: f64,
    /// Below this cadence, rpm, a correction adds nothing: the legs are slow, not the level low.
    pub least_cadence: f64,
    /// What is steered.
    pub fixed: Fixed,
    /// One step of it, a share of the range.
    pub step: f64,
    /// The share that the trainer last confirmed; none where it is not known.
    pub taken: Option<f64>,
    /// What was learned of the trainer, where its speed is a wheel's.
    pub table: Option<&'a Table>,
}

/// What a second was like.
#[derive(Clone, Copy, Debug)]
struct Sample {
    power: f64,
    cadence: Option<f64>,
    speed: Option<MetresPerSecond>,
    share: f64,
    believed: f64,
}

impl Sample {
    /// Its share, with the power that was measured there.
    const fn anchor(&self, power: f64) -> Anchor {
        Anchor {
            share: self.share,
            power: power.max(1.0),
            cadence: self.cadence,
            speed: self.speed,
        }
    }
}

/// What keeps the watts from being reached, to be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stuck {
    /// The lowest load makes more than is asked for.
    TooHardAGear,
    /// The highest load makes less.
    TooEasyAGear,
    /// The load went up by a good part of the range, and the power did not.
    NoAnswer,
}

/// The loop.
#[derive(Clone, Debug, Default)]
pub struct SlowHold {
    samples: VecDeque<Sample>,
    /// Powers since the last sample: their sum and count, and when the sample begins.
    sum: (f64, f64),
    second: Instant,
    anchor: Option<Anchor>,
    anchored: Instant,
    /// The watts that what is asked for should make.
    believed: f64,
    wanted: f64,
    asked: Option<Instant>,
    /// The watts of the last target that was a matter of its own.
    matter: f64,
    scale: Scale,
    /// Whether the anchor is doubted.
    soft: Option<Soft>,
    patience: Option<Span>,
    /// When and in which direction the last correction went.
    corrected: Option<(Instant, bool)>,
    /// Watts a second that a fall into this from a higher load takes.
    fall: f64,
    over_cap: Instant,
    /// Since when no power was seen while the pedals turned.
    blind: Option<Instant>,
    stuck: Option<Stuck>,
}

impl SlowHold {
    /// Takes what is seen. Call it with every reading.
    pub fn see(&mut self, now: Instant, seen: &Seen) {
        let (Some(power), true) = (seen.power, seen.turning) else {
            if seen.turning {
                self.blind.get_or_insert(now);
            } else {
                self.blind = None;
            }
            self.samples.clear();
            self.sum = (0.0, 0.0);
            self.second = now;
            return;
        };
        self.blind = None;
        self.sum = (self.sum.0 + power.0, self.sum.1 + 1.0);
        let gone = now.since(self.second);
        if gone < Span::from_seconds(1) {
            return;
        }
        if gone > Span::from_seconds(2) {
            self.samples.clear();
        }
        let (sum, count) = std::mem::take(&mut self.sum);
        self.second = now;
        let Some(share) = seen.share else {
            self.samples.clear();
            return;
        };
        if self.samples.len() >= WINDOW {
            self.samples.pop_front();
        }
        self.samples.push_back(Sample {
            power: sum / count,
            cadence: seen.cadence,
            speed: seen.speed,
            share,
            believed: self.believed,
        });
    }

    /// Whether power was unseen for so long, on turning pedals, that watts cannot be held.
    pub fn is_blind(&self, now: Instant) -> bool {
        self.blind.is_some_and(|since| now.since(since) >= BLIND)
    }

    /// The brake was released, or what stands is not known: the next load begins at the lowest, and is measured there.
    pub fn released(&mut self) {
        self.anchor = None;
        self.asked = None;
        self.stuck = None;
        self.soft = None;
        self.blind = None;
        self.scale.released();
        self.samples.clear();
    }

    /// Something else stands in the meantime; the anchor is kept.
    pub fn left(&mut self) {
        self.asked = None;
        self.stuck = None;
    }

    /// Whether the load is still on its way.
    pub fn moves(&self) -> bool {
        self.asked.is_some() && (self.believed - self.wanted).abs() > 0.5
    }

    /// What keeps the watts from being reached.
    pub const fn stuck(&self) -> Option<Stuck> {
        self.stuck
    }

    /// The mean power of the last two seconds.
    fn power_now(&self) -> Option<f64> {
        let last: Vec<f64> = self.samples.iter().rev().take(2).map(|s| s.power).collect();
        (last.len() == 2).then(|| (last[0] + last[1]) / 2.0)
    }

    /// The share of the range to ask for. `stands` is the share that stands; none while released. `fall` is how long a
    /// fall into this from another load takes.
    pub fn ask(&mut self, now: Instant, asked: &Asked, stands: Option<f64>, fall: Span) -> f64 {
        let begins = self.asked.is_none();
        let since = self.asked.replace(now).unwrap_or(now);
        let dt = now.since(since).min(Span::from_seconds(1)).seconds();
        let change = if begins {
            0.0
        } else {
            asked.watts - self.wanted
        };
        self.wanted = asked.watts;
        if (asked.watts - self.matter).abs() > OTHER_TARGET * self.matter {
            self.matter = asked.watts;
            self.patience = None;
            self.corrected = None;
        }
        if begins {
            self.begin(now, asked, stands, fall);
        }
        self.correct(now, asked);
        let Some(anchor) = self.anchor else {
            // Nothing was measured yet: what stands, stands.
            self.believed = 0.0;
            return stands.unwrap_or(0.0);
        };
        let before = self.believed;
        self.move_on(anchor, asked, change, dt);
        // Where the trainer answers late, what it has taken counts, not what it was asked for: as much as a held load,
        // too, rises at once at most may be missing there.
        if let (Some(taken), Some(stands)) = (asked.taken, stands)
            && taken < stands
        {
            let most =
                self.scale.watts_at(&anchor, taken, asked) + MOST_RISE * RISE_AT_ONCE.seconds();
            self.believed = self.believed.min(most.max(before));
        }
        let share = self.scale.share_at(&anchor, self.believed, asked);
        let share = match &self.soft {
            Some(soft) => share.min(soft.most(&self.scale, asked)),
            None => share,
        };
        // What stands already is no step.
        share.min(self.scale.farthest(asked).max(stands.unwrap_or(0.0)))
    }

    /// From another load, or from none.
    fn begin(&mut self, now: Instant, asked: &Asked, stands: Option<f64>, fall: Span) {
        let stands = stands.unwrap_or(0.0);
        if self.anchor.is_none()
            && stands > 0.0
            && let Some(power) = self.power_now()
        {
            // Not steady perhaps, but better than nothing: the next anchor corrects it.
            self.set_anchor(now, stands, power);
        }
        if let Some(anchor) = self.anchor {
            self.believed = self.scale.watts_at(&anchor, stands, asked);
            let from = self.believed - asked.watts;
            self.fall = (from / fall.seconds().max(0.25)).max(FALL_BACK);
        }
    }

    /// The believed watts go towards what is asked for.
    fn move_on(&mut self, anchor: Anchor, asked: &Asked, change: f64, dt: f64) {
        if self.believed >= asked.watts {
            let fall = self.fall.max(FALL_BACK) * dt + (-change).max(0.0);
            self.believed = (self.believed - fall).max(asked.watts);
            if self.believed <= asked.watts {
                self.fall = 0.0;
            }
            return;
        }
        let Some(power) = self.power_now() else {
            return;
        };
        let most = asked.watts.max(self.believed) * ALREADY_ABOVE + LEAST_WATTS;
        if power > most || self.scale.is_unanswered() {
            return;
        }
        let slow_legs = self
            .samples
            .back()
            .and_then(|sample| sample.cadence)
            .is_some_and(|cadence| cadence < asked.least_cadence);
        let catch_up = if slow_legs { 0.0 } else { CATCH_UP * dt };
        let reach = self.scale.reach(&anchor, asked);
        let goal = (self.believed + change.max(0.0) + catch_up).min(asked.watts);
        self.believed = goal.min(reach).max(self.believed);
    }

    /// Looks whether a new anchor is due.
    fn correct(&mut self, now: Instant, asked: &Asked) {
        let Some(last) = self.samples.back().copied() else {
            return;
        };
        // Above the cap nothing waits until all is steady.
        if let Some(power) = self.power_now()
            && power > asked.cap * (1.0 + DEAD_BAND) + LEAST_WATTS
            && now >= self.over_cap
            && self.anchor.is_some()
        {
            self.over_cap = now + PATIENCE;
            self.soft = None;
            self.set_anchor(now, last.share, power);
            self.believed = power;
            return;
        }
        let Some((power, believed)) = self.steady() else {
            return;
        };
        let Some(anchor) = self.anchor else {
            self.set_anchor(now, last.share, power);
            self.believed = power;
            return;
        };
        let mut pushed = None;
        if let Some(soft) = &mut self.soft {
            match soft.after(now, &last, power, &self.scale, asked) {
                After::Pushes(before) => {
                    pushed = Some(before);
                    self.soft = None;
                }
                After::Lasts => self.soft = None,
                After::Doubted => {}
            }
        }
        let patience = self.patience.unwrap_or(PATIENCE);
        // The low anchor is no use any more: its levels are far too high for legs that push.
        if now.since(self.anchored) < patience && pushed.is_none() {
            return;
        }
        let band = (DEAD_BAND * asked.watts).max(LEAST_WATTS);
        // What it was believed to make has moved on a little within the window.
        let moved = self.believed - believed;
        let error = power - believed;
        let short_of_reach = self.believed < asked.watts - band
            && self.believed >= self.scale.reach(&anchor, asked) - LEAST_WATTS;
        self.note_stuck(&last, power, asked, band);
        if error.abs() <= band && !short_of_reach {
            return;
        }
        let up = error < 0.0;
        if let Some((when, before)) = self.corrected
            && before != up
            && now.since(when) < RELATED
        {
            self.patience = Some((patience * 2).min(MOST_PATIENCE));
        }
        self.corrected = Some((now, up));
        let (before, found) = (pushed.unwrap_or(anchor), last.anchor(power));
        if self.soft.is_none() {
            self.soft = Soft::of(&before, &found, now, &self.scale, asked);
        }
        if self.soft.is_none() {
            self.scale.learn(&before, &found, asked);
        }
        self.set_anchor(now, last.share, power);
        self.believed = (power + moved).max(0.0);
        self.scale.try_next(last.share, power, asked);
    }

    fn note_stuck(&mut self, last: &Sample, power: f64, asked: &Asked, band: f64) {
        self.stuck = if self.scale.is_unanswered() {
            Some(Stuck::NoAnswer)
        } else if last.share <= 1e-6 && power > asked.watts + 2.0 * band {
            Some(Stuck::TooHardAGear)
        } else if last.share >= 1.0 - 1e-6 && power < asked.watts - 2.0 * band {
            Some(Stuck::TooEasyAGear)
        } else {
            None
        };
    }

    /// The mean power of a window in which nothing moved, and what it was believed to be.
    fn steady(&self) -> Option<(f64, f64)> {
        let far_off = self
            .power_now()
            .is_some_and(|power| (power - self.believed).abs() > FAR_OFF * self.believed);
        let window = match self.anchor {
            None => FIRST_WINDOW,
            Some(_) if far_off => FAR_OFF_WINDOW,
            Some(_) => WINDOW,
        };
        if self.samples.len() < window {
            return None;
        }
        let samples: Vec<Sample> = self.samples.iter().rev().take(window).copied().collect();
        let mean = |part: &[Sample], of: fn(&Sample) -> f64| {
            part.iter().map(of).sum::<f64>() / part.len() as f64
        };
        let power = mean(&samples, |s| s.power);
        let (late, early) = samples.split_at(window / 2);
        let early = &early[window % 2..];
        let differ = (mean(late, |s| s.power) - mean(early, |s| s.power)).abs();
        let cadences = samples.iter().filter_map(|s| s.cadence);
        let (least, most) = cadences.fold((f64::INFINITY, 0.0_f64), |(least, most), c| {
            (least.min(c), most.max(c))
        });
        let offset = self.scale.offset();
        let shares = samples.iter().map(|s| s.share + offset);
        let (low, high) = shares.fold((f64::INFINITY, 0.0_f64), |(low, high), s| {
            (low.min(s), high.max(s))
        });
        let stands = differ <= (STEADY_POWER * power).max(LEAST_WATTS)
            && most - least <= STEADY_CADENCE
            && high <= low * STEADY_LEVEL
            && power > LEAST_WATTS;
        stands.then(|| (power, mean(&samples, |s| s.believed)))
    }

    fn set_anchor(&mut self, now: Instant, share: f64, power: f64) {
        let last = self.samples.back();
        self.anchor = Some(Anchor {
            share,
            power: power.max(1.0),
            cadence: last.and_then(|s| s.cadence),
            speed: last.and_then(|s| s.speed),
        });
        self.anchored = now;
        self.scale.measured_at(share);
    }
}
