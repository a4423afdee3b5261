//! Riding free: a level or a slope stands, the rider makes the watts. Which level, and what is learned of it and of gears.

use super::fixed::FALL_IS_SEEN;
use super::{Facts, Runner};
use crate::memory::TrainerMemory;
use crate::plan::{Block, Brake, Kind};
use crate::ride::build_up::SPRINT_FALL;
use crate::ride::gear::{GearWatch, GearWords, WheelSpeed};
use crate::ride::level::{self, Fixed, NUDGE, UNKNOWN_BOUND};
use crate::ride::mode::RideMode;
use crate::ride::slow_hold::SlowHold;
use crate::ride::table::{Found, Table};
use crate::ride::timeline::Place;
use crate::ride::want::Offer;
use crate::ride::way::Way;
use crate::rider;
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, MetresPerSecond, Rpm, Watts};

/// The warm-up of an effort-only ride looks at the level this often: a step must settle before the next. Our own choice.
const LEVEL_LOOK: Span = Span::from_seconds(6);

/// So long before a beat the gear of the next block is chosen against the level, which stands from then on. Our own choice.
const GEAR_IS_CHOSEN: Span = Span::from_seconds(6);

/// The level rises while power is under this share of the warm-up's load. Our own choice.
const LEVEL_SHORT_OF: f64 = 0.9;

/// Below the planned cadence, or this where none is planned, the gear is too hard rather than the level too low.
const LEVEL_CADENCE: Rpm = Rpm(75.0);

/// Cadence of a hold that names none: the middle of the common working band of 85 to 95 (common practice, no source).
const HOLD_CADENCE: Rpm = Rpm(90.0);

/// The development of a middle gear where none is known yet, metres: 50 × 19 on a wheel of 2.1 m. Our own choice.
pub(super) const MIDDLE_GEAR: f64 = 5.5;

/// A level that stands teaches after so long: dead time and lag of a slow brake.
const SETTLED: Span = Span::from_seconds(3);

/// While it teaches the wheel's speed changes by no more than this share a second: else the flywheel takes or gives.
const STEADY_SPEED: f64 = 0.02;

/// What belongs to riding free.
#[derive(Clone, Debug)]
pub(super) struct Free {
    /// The fixed level of the session, as a share of the range.
    pub(super) level: f64,
    /// Whether the search is over.
    found: bool,
    /// Whether the rider has set the level, so that nothing looks for another.
    by_hand: bool,
    /// When the search last looked at the level.
    looked: Instant,
    /// What was found on this trainer in an earlier ride.
    remembered: Option<BrakeTarget>,
    begun: bool,
    pub(super) table: Table,
    /// Whether the remembered table is one of slopes.
    table_of_slopes: bool,
    learned: Option<(Instant, f64)>,
    pub(super) way: Option<(BrakeTarget, Way)>,
    /// Where the newest step of the way came from.
    pub(super) from: f64,
    /// Until when a load of another sort falls before it is exchanged.
    pub(super) leaving: Option<Instant>,
    speed: Option<MetresPerSecond>,
    /// Power in the free sprint that is ridden, smoothed.
    pub(super) sprint_power: Option<f64>,
    /// The resistance of a three-minute test once it is settled.
    pub(super) test: Option<super::all_out::Resistance>,
    pub(super) slope_unknown_said: bool,
    pub(super) only_watts_said: bool,
    not_found_said: bool,
}

impl Free {
    pub(super) fn new(now: Instant) -> Self {
        Self {
            level: level::FIRST,
            found: false,
            by_hand: false,
            looked: now,
            remembered: None,
            begun: false,
            table: Table::default(),
            table_of_slopes: false,
            learned: None,
            way: None,
            from: 0.0,
            leaving: None,
            speed: None,
            sprint_power: None,
            test: None,
            slope_unknown_said: false,
            only_watts_said: false,
            not_found_said: false,
        }
    }

    /// The wheel's speed as last seen fresh.
    pub(super) const fn speed(&self) -> Option<MetresPerSecond> {
        self.speed
    }

    /// Whether a level or a slope, or watts before it, are on their way.
    pub(super) fn moves(&self, now: Instant) -> bool {
        self.way.is_some_and(|(_, way)| way.moves())
            || self.leaving.is_some_and(|until| now < until + FALL_IS_SEEN)
    }

    /// What was demanded was not to be sent: what stands, stands.
    pub(super) fn hold(&mut self, now: Instant, stands: Option<(Instant, BrakeTarget)>) {
        if let (Some((sort, way)), Some((_, stands))) = (&mut self.way, stands)
            && sort.same_sort(stands)
        {
            way.hold(now, stands.value());
        }
    }

    /// Nothing stands any more.
    pub(super) const fn forget(&mut self) {
        self.way = None;
        self.leaving = None;
    }
}

impl Runner {
    /// Takes what earlier rides have shown of this trainer.
    /// Whatever was known of another one is forgotten.
    pub fn know(&mut self, now: Instant, trainer: &TrainerMemory) {
        self.free = Free::new(now);
        self.slow = SlowHold::default();
        self.slowly = None;
        self.gears = GearWatch::default();
        self.gears.fit(&self.rider.drivetrain);
        self.free.remembered = trainer.free_target;
        self.free.table = Table::from_points(&trainer.levels);
        self.free.table_of_slopes = trainer.levels_are_slopes;
        if let Some(level) = self.level_before.take() {
            // Found on this trainer in a warm-up that is over: nothing would look for it again before the next recovery.
            self.free.level = level;
            self.free.begun = true;
        }
        if trainer.wheel_speed == Some(true) {
            self.gears.know(WheelSpeed::Real);
        }
    }

    /// What this ride adds to what is known of its trainer. Nothing is learned of levels where speed follows power.
    pub fn learned(&self, offer: &Offer, trainer: &mut TrainerMemory) {
        let Some(fixed) = Fixed::of(offer) else {
            return;
        };
        if self.free.found || self.free.by_hand {
            let value = fixed.range().round_down(fixed.value(self.free.level));
            trainer.free_target = Some(fixed.target(value));
        }
        match self.gears.wheel_speed() {
            WheelSpeed::Real => {
                trainer.wheel_speed = Some(true);
                trainer.levels = self.free.table.points().to_vec();
                trainer.levels_are_slopes = matches!(fixed, Fixed::Slope(_));
            }
            // What was learned by that speed is worth nothing.
            WheelSpeed::FollowsPower => {
                trainer.wheel_speed = Some(false);
                trainer.levels.clear();
            }
            WheelSpeed::Unknown => {}
        }
    }

    /// The fixed level of the session, as a share of the trainer's range.
    pub const fn level(&self) -> f64 {
        self.free.level
    }

    /// The level of the session becomes no higher than what stands now: the program goes on by it, unasked.
    pub fn keep_level_low(&mut self, facts: &Facts) {
        if let (Some((_, stands)), Some(fixed)) = (self.stands, Fixed::of(&facts.offer))
            && let Some(value) = fixed.value_of(stands)
        {
            self.free.level = self.free.level.min(fixed.share(value));
        }
    }

    /// Notes the gear that is ridden now, for blocks of this kind.
    pub fn note_gear(&mut self, now: Instant) {
        let Some(place) = self.place(now) else { return };
        let kind = self.block_at(place).kind;
        self.gears.note(kind);
        self.happened("gear", true, entry!("This gear is noted."));
    }

    /// What to say of gears: nothing where the brake holds the watts.
    pub fn gear_words(&self, now: Instant) -> GearWords {
        let Some(place) = self.place(now) else {
            return GearWords::default();
        };
        let shifts = |block: &Block| {
            let free = self.ride_mode == RideMode::EffortOnly || block.brake == Brake::Free;
            free.then_some(block.kind)
        };
        let next = self
            .timeline
            .next(place.lap)
            .map(|lap| &self.plan.blocks[self.timeline.laps()[lap].block]);
        self.gears
            .words(shifts(self.block_at(place)), next.and_then(shifts))
    }

    /// Said where watts are not limited.
    pub(super) fn say_watts_are_yours(&mut self) {
        self.happened(
            "watts-not-limited",
            true,
            entry!(
                "You make the watts here. Your cap bounds the level; it does not limit the watts."
            ),
        );
    }

    /// Takes what is known now for levels and gears.
    pub(super) fn see_free(&mut self, now: Instant, place: Place, facts: &Facts) {
        if facts.speed.is_some() || self.free.speed.is_none() {
            self.free.speed = facts.speed;
        }
        let before = self.gears.wheel_speed();
        let held = self.holds_watts();
        self.gears
            .see(now, held, facts.speed, facts.cadence, facts.power);
        if before == WheelSpeed::Real && self.gears.wheel_speed() == WheelSpeed::FollowsPower {
            self.free.table = Table::default();
            self.free.found = false;
            self.happened(
                "speed-follows-power",
                true,
                entry!("The trainer's speed follows power and not the wheel: no gear is told from it any more. Note your gear by hand."),
            );
        }
        self.see_free_sprint(now, place, facts);
        if !self.clock.runs() {
            return;
        }
        let Some(fixed) = Fixed::of(&facts.offer) else {
            return;
        };
        if !self.free.begun {
            self.begin_free(fixed);
        }
        self.learn(now, fixed, facts);
        self.find_level(now, fixed, place, facts);
    }

    /// A rider who lets go of a free sprint need not wait for its load to fall.
    fn see_free_sprint(&mut self, now: Instant, place: Place, facts: &Facts) {
        let in_sprint = self.block_at(place).kind == Kind::Sprint && !self.holds_watts();
        match (in_sprint, facts.power, self.free.sprint_power) {
            (true, Some(power), before) => {
                let before = before.unwrap_or(power.0);
                self.free.sprint_power = Some(before + 0.1 * (power.0 - before));
            }
            (false, Some(power), Some(before))
                if now < self.stand_on_until && power.0 < before * super::SPRINT_LET_GO =>
            {
                self.stand_on_until = now;
            }
            // Until then what falls is a sprint's load.
            (false, ..) if now >= self.stand_on_until + SPRINT_FALL => {
                self.free.sprint_power = None
            }
            _ => {}
        }
    }

    /// The level with which this trainer begins: what its table says, or what was found before as far as nothing more
    /// need be known; the lowest on an unknown trainer. It is built up to like any other.
    fn begin_free(&mut self, fixed: Fixed) {
        self.free.begun = true;
        if self.free.table_of_slopes != matches!(fixed, Fixed::Slope(_)) {
            self.free.table = Table::default();
            self.free.table_of_slopes = !self.free.table_of_slopes;
        }
        if self.ride_mode == RideMode::EffortOnly {
            self.say_watts_are_yours();
        }
        if self.free.by_hand {
            return;
        }
        let before = self
            .free
            .remembered
            .and_then(|target| fixed.value_of(target))
            .map(|value| fixed.share(value));
        let goal = match self.level_goal() {
            Some(Found::At(share) | Found::Above(share)) => Some(share),
            Some(Found::Below(share)) => Some((share - NUDGE).max(0.0)),
            None => before.map(|share| share.min(UNKNOWN_BOUND)),
        };
        if let Some(goal) = goal {
            self.free.level = goal;
            let detail = kept!(
                "{share:.0} % of the range, known from earlier rides",
                share = goal * 100.0
            );
            self.happened("level", false, detail);
        }
    }

    /// The load of this session's holds for this rider, W: the middle one; its warm-up's end where it has no hold.
    fn hold_load(&self) -> Option<(f64, Rpm)> {
        let of = |kind: Kind| {
            let mut loads: Vec<(f64, Rpm)> = self
                .plan
                .blocks
                .iter()
                .filter(|block| block.kind == kind)
                .filter_map(|block| {
                    let watts = rider::lane(&block.target.at(1.0)?, &self.rider)?;
                    let cadence = block
                        .cadence
                        .map_or(HOLD_CADENCE, |band| Rpm((band.low.0 + band.high.0) / 2.0));
                    Some((watts.0.min(self.rider.power_cap.0), cadence))
                })
                .collect();
            loads.sort_by(|a, b| a.0.total_cmp(&b.0));
            loads.get(loads.len() / 2).copied()
        };
        of(Kind::Hold).or_else(|| of(Kind::WarmUp))
    }

    /// The level at which a middle gear at the holds' cadence gives their load, by the table.
    fn level_goal(&self) -> Option<Found> {
        if self.gears.wheel_speed() != WheelSpeed::Real {
            return None;
        }
        let (watts, cadence) = self.hold_load()?;
        let middle = self.gears.middle().unwrap_or(MIDDLE_GEAR);
        self.free.table.share_for(watts, middle * cadence.0 / 60.0)
    }

    /// The hand's step of the fixed level.
    pub(super) fn nudge_level(&mut self, steps: i8, now: Instant, facts: &Facts) {
        let (Some(fixed), Some(place)) = (Fixed::of(&facts.offer), self.place(now)) else {
            return;
        };
        let bound = self.bound(fixed, self.block_at(place), facts);
        let asked = level::nudge(self.free.level, steps, bound.allowed, &self.rider, facts);
        self.free.level = asked.min(bound.hard.max(self.free.level.min(asked)));
        self.free.by_hand = true;
        let detail = kept!("{share:.0} % of the range", share = self.free.level * 100.0);
        self.happened("level", false, detail);
    }

    /// The search for the session's level: step by step up, in the warm-up, and where that was too short for it in the
    /// recoveries. Never in a hold, whose gear was chosen against the level that stood, nor just before a beat, when it is
    /// being chosen.
    fn find_level(&mut self, now: Instant, fixed: Fixed, place: Place, facts: &Facts) {
        let block = self.block_at(place);
        if block.kind == Kind::Hold
            && self.ride_mode == RideMode::EffortOnly
            && self.released.is_empty()
            && !(self.free.found || self.free.by_hand || self.free.not_found_said)
            && self.free.remembered.is_none()
        {
            self.free.not_found_said = true;
            self.happened(
                "level-not-found",
                true,
                entry!("The level for this session is not found yet. It stands as it is in this hold: more and less set it."),
            );
            return;
        }
        let searched = match block.kind {
            Kind::WarmUp => true,
            Kind::Recovery => !self.free.found,
            Kind::Hold | Kind::Sprint | Kind::Free | Kind::CoolDown => false,
        };
        let looks = place.left >= GEAR_IS_CHOSEN
            && self.ride_mode == RideMode::EffortOnly
            && searched
            && !self.free.by_hand
            && self.released.is_empty()
            && self.pedals.turn_now()
            && now.since(self.free.looked) >= LEVEL_LOOK
            && matches!(self.stands, Some((since, stands)) if fixed.value_of(stands).is_some() && now.since(since) >= SETTLED);
        let (true, Some(power), Some(cadence)) = (looks, facts.power, facts.cadence) else {
            return;
        };
        let low = block.cadence.map_or(LEVEL_CADENCE, |band| band.low);
        self.free.looked = now;
        let lane = self.lane(now);
        let bound = self.bound(fixed, self.block_at(place), facts);
        let up =
            level::nudge(self.free.level, 1, bound.allowed, &self.rider, facts).min(bound.hard);
        let before = self.free.level;
        let goal = match self.level_goal() {
            Some(Found::At(share)) => share.min(up),
            Some(Found::Above(_)) if cadence >= low => up,
            Some(Found::Above(_)) => before,
            Some(Found::Below(_)) => (before - NUDGE).max(0.0),
            // By feel: an easy gear at the planned cadence gives the load of this block.
            None => match lane {
                Some(lane) if cadence >= low && power.0 < lane.0 * LEVEL_SHORT_OF => up,
                Some(lane) if cadence >= low && power.0 <= lane.0 / LEVEL_SHORT_OF => {
                    self.free.found = true;
                    before
                }
                _ => before,
            },
        };
        if matches!(self.level_goal(), Some(Found::At(share)) if (share - before).abs() < NUDGE) {
            self.free.found = true;
        }
        // A step down that the table asks for is taken at half a step and more: the figure wanders a little.
        if (goal - before).abs() >= NUDGE / 2.0 {
            self.free.level = goal;
            let detail = kept!(
                "{share:.0} % of the range, looked for",
                share = goal * 100.0
            );
            self.happened("level", false, detail);
        }
    }

    /// What stood and was ridden for a second goes into the table.
    fn learn(&mut self, now: Instant, fixed: Fixed, facts: &Facts) {
        let (Some(speed), Some(power), Some(cadence)) = (facts.speed, facts.power, facts.cadence)
        else {
            self.free.learned = None;
            return;
        };
        let second = Span::from_seconds(1);
        let before = match self.free.learned {
            Some((at, _)) if now.since(at) < second => return,
            before => before,
        };
        self.free.learned = Some((now, speed.0));
        let Some((at, last)) = before.filter(|(at, _)| now.since(*at) < second * 2) else {
            return;
        };
        let drives = cadence >= Rpm(40.0) && power >= Watts(30.0) && speed.0 > 1.0;
        let steady = (speed.0 / last - 1.0).abs() <= STEADY_SPEED;
        if let Some((since, stands)) = self.stands
            && let Some(value) = fixed.value_of(stands)
            && facts.taken == Some(stands)
            && now.since(since) >= SETTLED
            && drives
            && steady
        {
            let seconds = now.since(at).seconds();
            self.free
                .table
                .learn(fixed.share(value), speed.0, power.0, seconds);
        }
    }
}
