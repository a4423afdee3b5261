//! Gear recall: which gear worked in the last block of a kind, told without a shifter's help.
//!
//! Speed over cadence is how far one turn of the cranks goes: the gear, wherever the speed is a wheel's own. Many trainers
//! report a speed reckoned from power instead, and theirs says nothing of gears: until the wheel has shown itself, nothing
//! is said. How many shifts a gear is away is told only from the chainrings and sprockets that the rider entered. The
//! rider can always note that this gear was good, with or without a figure.

mod steady;
mod teeth;
mod wheel;
mod words;

use std::collections::BTreeMap;

use crate::plan::Kind;
use crate::rider::Drivetrain;
use crate::time::{Instant, Span};
use crate::units::{MetresPerSecond, Rpm, Watts};

use steady::{Sample, Steady};
use teeth::Teeth;
use wheel::Wheel;

/// Two developments closer than this are one gear: half of the smallest step between neighbouring sprockets in common
/// use, one tooth in 21 to 24, is over 2 %.
pub const SAME_GEAR: f64 = 0.02;

/// So many gears are kept; when it is full the one ridden least makes room. Two chainrings and twelve sprockets make 24.
const MOST_GEARS: usize = 24;

/// A gear ridden for less than this in a block is not the gear of that block.
const LEAST_RIDDEN: Span = Span::from_seconds(8);

/// It is looked again so often how the gears that were entered explain those that were ridden.
const EXPLAIN_EVERY: Span = Span::from_seconds(2);

/// How gears and speed go together on this trainer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WheelSpeed {
    /// Not known yet.
    #[default]
    Unknown,
    /// The speed is the wheel's own: it stood while power changed by a quarter at the same cadence.
    Real,
    /// It was thought to be the wheel's own, and then stood under held watts whatever the cadence: nothing is said of
    /// gears for the rest of the ride.
    FollowsPower,
}

/// Words about gears for the screen; empty where there is nothing to say.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct GearWords {
    /// For the block that is ridden.
    pub now: String,
    /// For the block that comes.
    pub next: String,
}

/// A gear that was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Seen {
    /// Metres for one turn of the cranks.
    development: f64,
    ridden: Span,
}

/// The gear of the last block of a kind.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Recall {
    /// Metres for one turn of the cranks; none where the rider noted it and it could not be measured.
    development: Option<f64>,
    /// Whether the rider noted it: then no later block replaces it by itself.
    noted: bool,
}

/// Watches speed and cadence for gears.
#[derive(Clone, Debug, Default)]
pub struct GearWatch {
    steady: Steady,
    wheel: Wheel,
    gears: Vec<Seen>,
    current: Option<f64>,
    /// What was ridden in the present block.
    block: Vec<Seen>,
    recall: BTreeMap<&'static str, Recall>,
    looked: Option<Instant>,
    teeth: Teeth,
    explained: Option<Instant>,
}

fn same(a: f64, b: f64) -> bool {
    (a / b - 1.0).abs() <= SAME_GEAR
}

/// Counts time for a gear in a list that is kept to [`MOST_GEARS`].
fn count(list: &mut Vec<Seen>, development: f64, ridden: Span) {
    if let Some(seen) = list
        .iter_mut()
        .find(|seen| same(seen.development, development))
    {
        // A mean that new looks still move: sensors differ by tenths of a per cent from one moment to the next.
        seen.development += (development - seen.development) * 0.05;
        seen.ridden += ridden;
        return;
    }
    if list.len() >= MOST_GEARS
        && let Some(least) = (0..list.len()).min_by_key(|&at| list[at].ridden.0)
    {
        list.remove(least);
    }
    list.push(Seen {
        development,
        ridden,
    });
}

impl GearWatch {
    /// What an earlier ride has shown of this trainer's speed.
    pub fn know(&mut self, wheel: WheelSpeed) {
        self.wheel.know(wheel);
    }

    /// What the rider entered of the bicycle on the trainer.
    pub fn fit(&mut self, drivetrain: &Drivetrain) {
        self.teeth = Teeth::new(drivetrain);
        self.explained = None;
    }

    /// Whether the speed is known to be the wheel's own.
    pub const fn wheel_speed(&self) -> WheelSpeed {
        self.wheel.judged()
    }

    /// Takes what is fresh now; `held` says whether the brake holds watts. Called as often as one likes; it looks four
    /// times a second.
    pub fn see(
        &mut self,
        now: Instant,
        held: bool,
        speed: Option<MetresPerSecond>,
        cadence: Option<Rpm>,
        power: Option<Watts>,
    ) {
        if self.looked.is_some_and(|at| now.since(at) < steady::LOOK) {
            return;
        }
        let since = self.looked.map_or(Span::ZERO, |at| now.since(at));
        self.looked = Some(now);
        let sample = match (speed, cadence, power) {
            (Some(speed), Some(cadence), Some(power)) => Sample::of(speed, cadence, power),
            _ => None,
        };
        self.steady.see(now, sample);
        self.wheel.see(now, &self.steady, held);
        self.current = self.steady.gear();
        if let Some(development) = self.current {
            let ridden = since.min(Span::from_seconds(1));
            count(&mut self.gears, development, ridden);
            count(&mut self.block, development, ridden);
            if self
                .explained
                .is_none_or(|at| now.since(at) >= EXPLAIN_EVERY)
            {
                self.explained = Some(now);
                self.teeth.explain(&self.gears);
            }
        }
    }

    /// The development of the gear that is ridden now, metres for one turn of the cranks; nothing in a shift, while
    /// coasting, and where the speed is not known to be the wheel's own.
    pub fn gear(&self) -> Option<f64> {
        self.current.filter(|_| self.speaks())
    }

    /// The development in the middle of the gears that were ridden, by time; nothing before a gear was.
    pub fn middle(&self) -> Option<f64> {
        if self.wheel.judged() != WheelSpeed::Real {
            return None;
        }
        let mut gears = self.gears.clone();
        gears.retain(|seen| seen.ridden >= LEAST_RIDDEN);
        gears.sort_by(|a, b| a.development.total_cmp(&b.development));
        gears.get(gears.len() / 2).map(|seen| seen.development)
    }

    /// A speed that is the wheel's own, and steps that only shifts make.
    fn speaks(&self) -> bool {
        self.wheel.judged() == WheelSpeed::Real
            && self
                .gears
                .iter()
                .filter(|seen| seen.ridden >= Span::from_seconds(2))
                .count()
                >= 2
    }

    /// A block of a kind is over: its gear is recalled in the next of its kind, unless the rider has noted another.
    pub fn block_ends(&mut self, kind: Kind) {
        let block = std::mem::take(&mut self.block);
        let most = block
            .iter()
            .filter(|seen| seen.ridden >= LEAST_RIDDEN)
            .max_by_key(|seen| seen.ridden.0);
        let noted = self
            .recall
            .get(kind.key())
            .is_some_and(|recall| recall.noted);
        if let Some(most) = most.filter(|_| !noted) {
            let recall = Recall {
                development: Some(most.development),
                noted: false,
            };
            self.recall.insert(kind.key(), recall);
        }
    }

    /// The rider notes the gear that is ridden now, for blocks of this kind.
    pub fn note(&mut self, kind: Kind) {
        let recall = Recall {
            development: self.gear(),
            noted: true,
        };
        self.recall.insert(kind.key(), recall);
    }

    /// What to say of gears in a block of one kind before a block of another; nothing for blocks whose watts are held.
    pub fn words(&self, kind: Option<Kind>, next: Option<Kind>) -> GearWords {
        let recalled = |kind: Option<Kind>| {
            let kind = kind?;
            Some((kind, *self.recall.get(kind.key())?))
        };
        let now = recalled(kind).map_or_else(String::new, |(kind, recall)| {
            self.compared(recall, false, kind)
        });
        let next = recalled(next).map_or_else(String::new, |(kind, recall)| {
            self.compared(recall, true, kind)
        });
        GearWords { now, next }
    }

    fn compared(&self, recall: Recall, ahead: bool, kind: Kind) -> String {
        let told = if let Some(then) = recall.development {
            if !self.speaks() {
                return String::new();
            }
            self.current.map_or(words::Told::Which, |current| {
                if same(then, current) {
                    return words::Told::This;
                }
                let harder = then > current;
                // How many only where it was counted; and never a number that goes the other way.
                let shifts = self.teeth.shifts(current, then);
                words::Told::Shift {
                    harder,
                    shifts: shifts
                        .filter(|shifts| *shifts != 0 && (*shifts > 0) == harder)
                        .map(i32::unsigned_abs),
                }
            })
        } else {
            words::Told::Which
        };
        if ahead {
            words::ahead(told, recall.noted, kind)
        } else {
            words::now(told, recall.noted, kind)
        }
    }
}

#[cfg(test)]
mod tests;
