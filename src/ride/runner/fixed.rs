//! The demand where a level or a slope stands: its bound, its way, and its exchange with held watts.

use super::free::MIDDLE_GEAR;
use super::{Facts, Runner};
use crate::plan::{Block, Kind, Load};
use crate::ride::build_up::{BUILD_BACK, BUILD_UP, BuildUp, FALL, SPRINT_FALL};
use crate::ride::chain::Chain;
use crate::ride::gear::WheelSpeed;
use crate::ride::ledger::Stage;
use crate::ride::level::{self, Fixed, NUDGE, UNKNOWN_BOUND};
use crate::ride::runner::Demand;
use crate::ride::table::Found;
use crate::ride::timeline::Place;
use crate::ride::want::Want;
use crate::ride::way::Way;
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, Grade, MetresPerSecond, Rpm, Watts};

/// The top of a cadence band that a block does not name: that of the common working band (common practice, no source).
const TOP_CADENCE: Rpm = Rpm(95.0);

/// Held watts fall to no more than this before they are exchanged for the lowest level of a trainer whose levels are not
/// known. Our own choice: of the order of what the lowest level of common trainers asks for at 28 km/h.
const UNKNOWN_LOWEST: f64 = 50.0;

/// A level is exchanged for held watts at once where the rider makes no more than this factor of them.
const NEAR_ENOUGH: f64 = 1.1;

/// A step that the hand or the search makes gets there within this.
const SMALL_STEP: Span = Span::from_seconds(1);

/// After a level has fallen to make room for held watts it stands for this, so that the power that is reported shows the
/// fall: the watts are built up from there, and a reading from before would be a jump. Our own choice.
pub(super) const FALL_IS_SEEN: Span = Span::from_millis(500);

/// Before a free sprint held watts fall for two of its five seconds, then its level rises for this: it stands a second and
/// more before the beat.
const SPRINT_RISE: Span = Span::from_millis(1_500);

/// What a level may be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bound {
    /// Up to this share nothing more need be known.
    pub(super) allowed: f64,
    /// Above this share the planned gear is over the cap by what was learned.
    pub(super) hard: f64,
}

impl Runner {
    /// What the level may be in this block: the planned gear at the top of the cadence band stays at or under the cap.
    pub(super) fn bound(&self, fixed: Fixed, block: &Block, facts: &Facts) -> Bound {
        let cap = if block.kind == Kind::Sprint {
            self.rider.sprint_cap
        } else {
            self.rider.power_cap
        };
        let top = block.cadence.map_or(TOP_CADENCE, |band| band.high);
        let real = self.gears.wheel_speed() == WheelSpeed::Real;
        let speed = self.gears.middle().unwrap_or(MIDDLE_GEAR) * top.0 / 60.0;
        let own = Fixed::of(&facts.offer) == Some(fixed);
        let learned = (real && own)
            .then(|| self.free.table.most_share(cap.0, speed))
            .flatten();
        let (learned, hard) = match learned {
            // All that was ridden is under the cap: one step more may be tried.
            Some((most, false)) => (most + NUDGE, 1.0),
            Some((most, true)) => (most, most),
            None => (0.0, 1.0),
        };
        match fixed {
            Fixed::Level(_) => Bound {
                allowed: learned.max(UNKNOWN_BOUND).min(hard),
                hard,
            },
            Fixed::Slope(_) => {
                // A slope asks for more the faster the wheel turns: the speed now, and that of the planned gear.
                let faster = if real { speed } else { 0.0 };
                let most = facts
                    .speed
                    .and_then(|now| {
                        level::most_slope(cap, Some(MetresPerSecond(now.0.max(faster))))
                    })
                    .map_or(0.0, |slope| fixed.share(slope.0));
                Bound {
                    allowed: most.min(hard),
                    hard: most.min(hard),
                }
            }
        }
    }

    /// Before watts are held again: a level under which the rider makes more than they will be falls first. Gives what to
    /// ask for in the meantime; nothing once the watts may be held.
    pub(super) fn leave_fixed(
        &mut self,
        now: Instant,
        watts: Option<Watts>,
        facts: &Facts,
    ) -> Option<Demand> {
        let Some((_, stands)) = self.stands.filter(|(_, stands)| !stands.is_power()) else {
            // Watts that were on their way to a level and are held again: their next fall begins anew.
            self.free.leaving = None;
            return None;
        };
        let fixed = match stands {
            BrakeTarget::Resistance(_) => Fixed::Level(facts.offer.level?),
            _ => Fixed::Slope(facts.offer.slope?),
        };
        let wanted = watts
            .unwrap_or(self.rider.power_cap)
            .min(self.rider.power_cap);
        let fell = self.free.leaving.is_some();
        let until = match self.free.leaving {
            Some(until) => until,
            None if facts
                .power
                .is_none_or(|power| power.0 > wanted.0 * NEAR_ENOUGH) =>
            {
                let after_sprint = self.free.sprint_power.take().is_some();
                let over = if after_sprint { SPRINT_FALL } else { FALL };
                *self.free.leaving.insert(now + over)
            }
            None => now,
        };
        let seen = if fell { FALL_IS_SEEN } else { Span::ZERO };
        if now >= until + seen {
            self.free.leaving = None;
            self.free.way = None;
            // What the legs make now is where the watts are built up from.
            let left = self.build_left(now).0.max(FALL.0);
            self.build = BuildUp::new(self.standing_load(facts), now, Span(left));
            return None;
        }
        let low = self
            .entry(fixed, wanted.0, facts)
            .unwrap_or(0.0)
            .min(fixed.share(stands.value()));
        // Straight to where it falls to, whenever the fall began.
        let span = Span(until.since(now).0.max(1));
        let value = self.move_to(now, fixed, fixed.value(low), (span, span), facts);
        self.send_fixed(
            fixed,
            fixed.value(low),
            value,
            (value, entry!("on the way to held watts")),
        )
    }

    /// Before a level stands in the place of held watts: they fall over two seconds, unless the level that asks for as
    /// much as they do is known. Gives the watts to fall to; nothing once the level may stand.
    pub(super) fn leave_power(
        &mut self,
        now: Instant,
        unsure: bool,
        facts: &Facts,
    ) -> Option<Watts> {
        let Some((_, BrakeTarget::Power(stands))) = self.stands else {
            return None;
        };
        let known = Fixed::of(&facts.offer).and_then(|fixed| self.entry(fixed, stands.0, facts));
        if !unsure && known.is_some() && now >= self.build.fall_begins() {
            return None;
        }
        let until = match self.free.leaving {
            Some(until) => until,
            None => {
                if now >= self.build.fall_ends() {
                    self.build = BuildUp::new(stands.0, now, BUILD_UP);
                }
                *self.free.leaving.insert(self.build.fall_ends())
            }
        };
        if now >= until && !unsure {
            self.free.leaving = None;
            return None;
        }
        let low = self.recovery_load().min(UNKNOWN_LOWEST);
        Some(Watts(low.min(stands.0)))
    }

    /// The level that asks for so many watts at the speed of now, where the table knows one.
    fn entry(&self, fixed: Fixed, watts: f64, facts: &Facts) -> Option<f64> {
        if self.gears.wheel_speed() != WheelSpeed::Real || Fixed::of(&facts.offer) != Some(fixed) {
            return None;
        }
        let speed = facts.speed?;
        match self.free.table.share_for(watts, speed.0)? {
            Found::At(share) => Some(share),
            Found::Below(_) => None,
            Found::Above(share) => {
                let most = self.free.table.estimate(share, speed.0)?;
                (most.likely * NEAR_ENOUGH >= watts).then_some(share)
            }
        }
    }

    /// What to ask for where a level or a slope is to stand.
    pub(super) fn fixed(
        &mut self,
        now: Instant,
        wanted: Want,
        place: Place,
        facts: &Facts,
    ) -> Demand {
        let Some(own) = Fixed::of(&facts.offer) else {
            return Demand::Release(entry!("the trainer takes neither levels nor slopes"));
        };
        let session = self.free.level;
        // A trainer without levels is asked for a test's resistance too, by a slope.
        let of_test = match self.block_at(place).target.at(0.0) {
            Some(Load::Level(share)) => self.resistance_of_test(place, own, share.0, facts),
            _ => None,
        };
        let (fixed, share, why) = match (wanted, facts.offer.slope) {
            _ if let Some(test) = of_test => (own, test.share, entry!("the test's resistance")),
            // A trainer that shows no speed while the cranks turn does not know it.
            (Want::Slope(Grade(slope)), Some(range)) if facts.speed.is_some_and(|v| v.0 >= 1.0) => {
                let fixed = Fixed::Slope(range);
                (fixed, fixed.share(slope), entry!("the session's slope"))
            }
            (Want::Slope(_), _) => {
                self.say_slope_is_unknown();
                let level = if matches!(own, Fixed::Level(_)) {
                    session
                } else {
                    0.0
                };
                (
                    own,
                    level,
                    entry!("a slope is not set where the speed is not known"),
                )
            }
            (Want::Level(share), _) => (own, share.0, entry!("the session's level")),
            (Want::Lowest, _) => (own, 0.0, entry!("a free block")),
            (Want::SprintLevel, _) => (
                own,
                session.max(UNKNOWN_BOUND),
                entry!("the level for sprints"),
            ),
            _ => (own, session, entry!("your level for this session")),
        };
        if let Some(demand) = self.exchange(now, fixed, facts) {
            return demand;
        }
        self.free.leaving = None;
        let block = self.block_at(place);
        let bound = self.bound(fixed, block, facts);
        let most = match of_test {
            Some(test) => test.most,
            None => bound.hard.min(match fixed {
                Fixed::Level(_) => bound.allowed.max(session),
                Fixed::Slope(_) => bound.allowed,
            }),
        };
        let planned = fixed.value(share);
        let goal = fixed.value(share.min(most));
        let rise = self.rise_of(now, fixed, goal, wanted, place);
        let fall = if self.free.sprint_power.is_some() {
            SPRINT_FALL
        } else {
            FALL
        };
        let value = self.move_to(now, fixed, goal, (rise, fall), facts);
        let cap = fixed.value(most);
        self.send_fixed(fixed, cap, value, (planned, why))
            .unwrap_or(Demand::Release(entry!(
                "the trainer's least level is above your cap"
            )))
    }

    /// On the way to the least of a sort that is to be exchanged for another.
    pub(super) fn fall_to_least(
        &mut self,
        now: Instant,
        old: Fixed,
        until: Instant,
        facts: &Facts,
    ) -> Option<Demand> {
        let least = old.range().least;
        let span = Span(until.since(now).0.max(1));
        let value = self.move_to(now, old, least, (span, span), facts);
        self.send_fixed(
            old,
            least,
            value,
            (value, entry!("on the way to the next load")),
        )
    }

    /// How long a rise takes: a step of the hand or the search a second, a sprint's level as long as is left before its
    /// beat, anything else as a block's load does.
    fn rise_of(&self, now: Instant, fixed: Fixed, goal: f64, wanted: Want, place: Place) -> Span {
        let stands = self
            .stands
            .and_then(|(_, stands)| fixed.value_of(stands))
            .unwrap_or(fixed.range().least);
        if self.stands.is_none() {
            return BUILD_BACK.max(self.build_left(now));
        }
        let small = (fixed.share(goal) - fixed.share(stands)).abs() <= 2.0 * NUDGE + 1e-9;
        if small && now >= self.build.rise_ends() {
            SMALL_STEP
        } else if wanted == Want::SprintLevel {
            SPRINT_RISE
        } else {
            self.block_at(place).build_up.unwrap_or(BUILD_UP).max(FALL)
        }
    }

    /// Moves the value that stands towards a goal.
    fn move_to(
        &mut self,
        now: Instant,
        fixed: Fixed,
        goal: f64,
        (rise, fall): (Span, Span),
        facts: &Facts,
    ) -> f64 {
        let range = fixed.range();
        let begin = match (self.stands, self.free.way) {
            (Some((_, stands)), Some((sort, way)))
                if stands.same_sort(fixed.target(0.0)) && sort.same_sort(stands) =>
            {
                way
            }
            (Some((_, stands)), _) => {
                let value = match (fixed.value_of(stands), stands) {
                    (Some(value), _) => value,
                    // In the place of held watts: from the level that asks for as much, where one is known.
                    (None, BrakeTarget::Power(watts)) => self
                        .entry(fixed, watts.0, facts)
                        .map_or(range.least, |share| fixed.value(share)),
                    (None, _) => range.least,
                };
                Way::standing(now, value)
            }
            (None, _) => Way::standing(now, range.least),
        };
        let mut way = begin;
        self.free.from = begin.value();
        let value = way.go(now, goal, rise, fall);
        self.free.way = Some((fixed.target(value), way));
        value
    }

    /// The ledger of a level or slope. `cap` bounds it; a value that stands above it, or that asks for as
    /// much as the held watts in whose place it comes, falls from there.
    fn send_fixed(
        &self,
        fixed: Fixed,
        cap: f64,
        value: f64,
        (planned, why): (f64, &'static str),
    ) -> Option<Demand> {
        let range = fixed.range();
        let mut chain = Chain::from_plan(planned, why);
        chain.then(Stage::Trim, planned, "");
        chain.then(Stage::EaseDown, planned, "");
        chain.then(Stage::BuildUp, value, entry!("the load is on its way"));
        chain.then(Stage::Meter, value, "");
        chain.then(Stage::Guard, value, "");
        // On the trainer's own step: else rounding could lift the value over a cap that lies a hair under one.
        let cap = range.round_down(cap.max(value.min(self.free.from)));
        chain
            .finish(cap, range, |value| fixed.target(value))
            .map(Demand::Target)
    }

    /// Said once where a block asks for what the trainer cannot do.
    pub(super) fn say_only_watts(&mut self) {
        if !std::mem::replace(&mut self.free.only_watts_said, true) {
            self.happened(
                "only-watts",
                true,
                entry!("This trainer takes no level and no slope: a recovery's watts are held here. Ride the block by cadence."),
            );
        }
    }

    fn say_slope_is_unknown(&mut self) {
        if !std::mem::replace(&mut self.free.slope_unknown_said, true) {
            self.happened(
                "slope-unknown",
                true,
                entry!("No slope is set: without the wheel's speed its load is not known. Your own level stands; shift to match."),
            );
        }
    }
}
