//! A ride under way: where the session stands, and what the brake should be asked for now.
//!
//! The runner is told facts and asked for its demand; it knows no device, no bytes and no clock. What it may ask for is
//! bounded by the ledger's chain, and whatever is in doubt ends in the lower load.

use std::sync::Arc;

use crate::plan::{Block, Brake, Kind, Load, Plan};
use crate::ride::build_up::{BUILD_BACK, BUILD_UP, BuildUp, FALL, MOST_RISE};
use crate::ride::chain::Chain;
use crate::ride::clock::RideClock;
use crate::ride::guard::StallGuard;
use crate::ride::ledger::{Ledger, Stage};
use crate::ride::let_off::LetOff;
use crate::ride::level;
use crate::ride::mode::RideMode;
use crate::ride::pedals::{PedalWatch, Pedals};
use crate::ride::timeline::{Place, Timeline};
use crate::ride::tired::{EaseDown, Eased, Strain};
use crate::ride::want::{self, Offer, Want};
use crate::rider::{self, Rider};
use crate::time::{Instant, Span};
use crate::units::{Bpm, BrakeTarget, Effort, Level, MetresPerSecond, Rpm, Watts};

/// While a load is on its way it is reckoned anew this often: four targets a second at most reach the trainer.
const RAMP_STEP: Span = Span::from_millis(250);

/// One press of trim.
const TRIM_STEP: f64 = 0.02;

/// Trim goes no further than this many presses either way: a fifth. Our own choice, no source.
const MOST_TRIM: i32 = 10;

/// A sprint's fall need not wait when power is under this share of the target.
const SPRINT_LET_GO: f64 = 0.7;

/// A free sprint's level stands this long before its beat.
const FREE_SPRINT_READY: Span = Span::from_seconds(5);

/// What is known at a moment; every value is fresh or absent.
#[derive(Clone, Copy, Debug, Default)]
pub struct Facts {
    /// Power of the chosen source.
    pub power: Option<Watts>,
    /// Cadence of the chosen source.
    pub cadence: Option<Rpm>,
    /// Heart rate.
    pub heart_rate: Option<Bpm>,
    /// Speed of the wheel.
    pub speed: Option<MetresPerSecond>,
    /// The greatest cadence that any source shows.
    pub most_cadence: Option<Rpm>,
    /// The greatest power that any source shows.
    pub most_power: Option<Watts>,
    /// What the trainer takes now.
    pub offer: Offer,
}

/// What the brake should be asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Demand {
    /// Whatever stands, stands: nothing can be set, or nothing may be changed on what is known.
    Keep,
    /// Let the brake off, and why.
    Release(&'static str),
    /// This target, with the chain that led to it.
    Target(Ledger),
}

/// Something that the ride did by itself, for the events and perhaps the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Happening {
    /// A word for `events.csv`.
    pub what: &'static str,
    /// A sentence.
    pub detail: String,
    /// Whether the rider should see it.
    pub say: bool,
}

/// A ride under way.
#[derive(Debug)]
pub struct Runner {
    plan: Arc<Plan>,
    rider: Arc<Rider>,
    ride_mode: RideMode,
    timeline: Timeline,
    clock: RideClock,
    pedals: PedalWatch,
    guard: StallGuard,
    ease: EaseDown,
    build: BuildUp,
    /// The lap whose beat was last passed.
    lap: Option<usize>,
    /// What was last demanded, and when; none while released.
    stands: Option<(Instant, BrakeTarget)>,
    /// Why the brake is released; empty while it is not. A ride begins released.
    released: &'static str,
    let_off: Option<LetOff>,
    /// Whether the brake was let off by hand, so that only the hand sets it again.
    by_hand: bool,
    trim_work: i32,
    trim_recovery: i32,
    /// The fixed level, as a share of the range.
    level: f64,
    /// Until when a sprint's cap still counts for its fall.
    sprint_cap_until: Instant,
    happenings: Vec<Happening>,
}

impl Runner {
    /// A ride that begins now, with the brake released.
    pub fn new(plan: Arc<Plan>, rider: Arc<Rider>, ride_mode: RideMode, now: Instant) -> Self {
        Self {
            timeline: Timeline::new(&plan),
            plan,
            rider,
            ride_mode,
            clock: RideClock::started(now),
            pedals: PedalWatch::default(),
            guard: StallGuard::default(),
            ease: EaseDown::default(),
            build: BuildUp::new(0.0, now, BUILD_UP),
            lap: None,
            stands: None,
            released: "not yet built up",
            let_off: None,
            by_hand: false,
            trim_work: 0,
            trim_recovery: 0,
            level: level::FIRST,
            sprint_cap_until: Instant::ZERO,
            happenings: Vec::new(),
        }
    }

    /// The ride's clock.
    pub const fn clock(&self) -> &RideClock {
        &self.clock
    }

    /// The laps of today.
    pub const fn timeline(&self) -> &Timeline {
        &self.timeline
    }

    /// Session time: time ridden. Skips and stretches change the laps, never the clock.
    pub fn session(&self, now: Instant) -> Span {
        self.clock.ridden(now)
    }

    /// Where the session stands; nothing once it is over.
    pub fn place(&self, now: Instant) -> Option<Place> {
        self.timeline.place(self.session(now))
    }

    /// Whether the last block is over.
    pub fn is_over(&self, now: Instant) -> bool {
        self.place(now).is_none()
    }

    /// Who sets the load.
    pub const fn ride_mode(&self) -> RideMode {
        self.ride_mode
    }

    /// What is known of the pedals.
    pub const fn pedals(&self) -> Pedals {
        self.pedals.pedals()
    }

    /// Why the brake is released; empty while it is not.
    pub const fn released(&self) -> &'static str {
        self.released
    }

    /// Trim of work and of recovery, per cent.
    pub const fn trims(&self) -> (i32, i32) {
        (self.trim_work * 2, self.trim_recovery * 2)
    }

    /// What has happened since the last call.
    pub fn take_happenings(&mut self) -> Vec<Happening> {
        std::mem::take(&mut self.happenings)
    }

    fn happened(&mut self, what: &'static str, say: bool, detail: impl Into<String>) {
        self.happenings.push(Happening {
            what,
            detail: detail.into(),
            say,
        });
    }

    fn block_at(&self, place: Place) -> &Block {
        &self.plan.blocks[self.timeline.laps()[place.lap].block]
    }

    /// The watts of the lane now, trimmed: what the plan means for this rider today.
    pub fn lane(&self, now: Instant) -> Option<Watts> {
        let place = self.place(now)?;
        let block = self.block_at(place);
        let watts = rider::lane(&block.target.at(place.share())?, &self.rider)?;
        Some(watts * self.trim_factor(block.kind))
    }

    /// The effort of the plan now.
    pub fn effort(&self, now: Instant) -> Option<Effort> {
        let place = self.place(now)?;
        rider::effort_of(&self.block_at(place).target.at(place.share())?, &self.rider)
    }

    fn trim_factor(&self, kind: Kind) -> f64 {
        let steps = if kind.is_work() {
            self.trim_work
        } else {
            self.trim_recovery
        };
        1.0 + TRIM_STEP * f64::from(steps)
    }

    /// Takes what is known now, whether the clock runs or not. Call it with every new reading and at every deadline.
    pub fn see(&mut self, now: Instant, facts: &Facts) {
        self.pedals.see(now, facts.most_cadence, facts.most_power);
        self.pass_beats(now, facts);
        let Some(place) = self.place(now) else { return };
        let block = self.block_at(place);
        let held = self.holds_watts();
        let strain = Strain {
            cadence: facts.cadence,
            band_low: block.cadence.map(|band| band.low),
            held: held && block.kind != Kind::Sprint && now >= self.build.ends(),
            heart_rate: facts.heart_rate,
            ceiling: self.rider.heart_rate_ceiling,
            block: self.timeline.laps()[place.lap].length,
        };
        let acted = self.guard.acts();
        match (facts.cadence, facts.power) {
            (Some(cadence), Some(power)) => {
                self.guard.see(now, cadence, power, held);
            }
            _ => self.guard.rest(),
        }
        if self.guard.acts() && !acted {
            self.happened(
                "guard",
                true,
                "The legs were stalling: the brake is off until they turn again.",
            );
        } else if acted && !self.guard.acts() {
            self.happened(
                "guard-over",
                false,
                "The legs are back: the load builds up again.",
            );
        }
        if self.clock.runs() {
            match self.ease.see(now, &strain) {
                Some(Eased::ForCadence) => {
                    self.happened(
                        "ease-down",
                        true,
                        "Cadence was under its band: the load is eased by 4 %.",
                    );
                }
                Some(Eased::ForHeart) => {
                    self.happened(
                        "ease-down",
                        true,
                        "Heart rate is over your ceiling: the load is eased by 4 %.",
                    );
                }
                None => {}
            }
        }
        if let (Some((_, BrakeTarget::Power(stands))), Some(power)) = (self.stands, facts.power)
            && power.0 < stands.0 * SPRINT_LET_GO
        {
            self.build.power_dropped(now);
        }
    }

    fn holds_watts(&self) -> bool {
        matches!(self.stands, Some((_, BrakeTarget::Power(_))))
    }

    /// Notices that a new lap has begun, and starts its way from the load that stands.
    fn pass_beats(&mut self, now: Instant, facts: &Facts) {
        let Some(place) = self.place(now) else { return };
        if self.lap == Some(place.lap) {
            return;
        }
        let before = self
            .lap
            .map(|lap| &self.plan.blocks[self.timeline.laps()[lap].block]);
        let from_held_sprint = before
            .is_some_and(|block| block.kind == Kind::Sprint && block.brake == Brake::Held)
            && self.holds_watts();
        let block = self.block_at(place);
        let rise_over = if block.kind == Kind::Sprint && block.brake == Brake::Held {
            block.build_up.unwrap_or(Span::ZERO)
        } else {
            block.build_up.unwrap_or(BUILD_UP)
        };
        let beat = now - place.into;
        let from = self.standing_load(facts);
        self.build = if from_held_sprint {
            BuildUp::after_sprint(from, beat, rise_over)
        } else {
            BuildUp::new(from, beat, rise_over)
        };
        if from_held_sprint {
            self.sprint_cap_until = self.build.fall_ends();
        }
        self.ease.next_block();
        self.lap = Some(place.lap);
        let name = self.block_at(place).name.clone();
        self.happened("block", false, name);
    }

    /// The watts that stand: those commanded, else those ridden, else none.
    fn standing_load(&self, facts: &Facts) -> f64 {
        match self.stands {
            Some((_, BrakeTarget::Power(watts))) => watts.0,
            Some(_) => facts.power.map_or(0.0, |power| power.0.max(0.0)),
            None => 0.0,
        }
    }

    /// What the brake should be asked for now. Call [`see`](Self::see) first.
    pub fn demand(&mut self, now: Instant, facts: &Facts) -> Demand {
        if !facts.offer.any() {
            // Whatever can be set later is built up from nothing.
            self.stands = None;
            self.released = "the brake is not in hand";
            return Demand::Keep;
        }
        let demand = self.reckon(now, facts);
        match &demand {
            Demand::Keep => {}
            Demand::Release(why) => {
                self.stands = None;
                self.released = why;
            }
            Demand::Target(ledger) => {
                self.stands = Some((now, ledger.target));
                self.released = "";
            }
        }
        demand
    }

    fn reckon(&mut self, now: Instant, facts: &Facts) -> Demand {
        if let Some(let_off) = &self.let_off {
            return let_off.demand(now, &facts.offer);
        }
        if self.guard.acts() {
            return Demand::Release("the legs were stalling");
        }
        if let Pedals::Stopped(_) = self.pedals.pedals() {
            return Demand::Release("the pedals stand still");
        }
        let Some(place) = self.place(now) else {
            return Demand::Release("the session is over");
        };
        let unknown = self.pedals.pedals() == Pedals::Unknown;
        if unknown && self.stands.is_none() {
            return Demand::Release("nothing shows whether the pedals turn");
        }
        if !self.released.is_empty() {
            // Back from a release: whatever the plan says by now is built up from nothing.
            self.build = BuildUp::new(0.0, now, BUILD_BACK.max(self.build_left(now)));
            self.released = "";
        }
        let wanted = self.wanted(place, facts);
        let demand = match wanted {
            Want::Power(watts) => self.power_chain(now, place, Some(watts), facts),
            Want::MostPower => self.power_chain(now, place, None, facts),
            Want::SessionLevel | Want::Level(_) | Want::Slope(_) | Want::Lowest => {
                level::demand(wanted, self.level, &self.rider, self.block_at(place), facts)
            }
        };
        match (&demand, self.stands) {
            // Nothing is raised, nor exchanged for another sort of load, on unknown pedals.
            (Demand::Target(ledger), Some((_, stands)))
                if unknown
                    && (!ledger.target.same_sort(stands)
                        || ledger.target.value() > stands.value()) =>
            {
                Demand::Keep
            }
            _ => demand,
        }
    }

    /// What is left of a block's own build-up, which a return from release must not shorten.
    fn build_left(&self, now: Instant) -> Span {
        self.build.rise_ends().since(now)
    }

    fn wanted(&self, place: Place, facts: &Facts) -> Want {
        let block = self.block_at(place);
        // The level of a free sprint stands before its beat, so that the gear can be chosen against it.
        if place.left <= FREE_SPRINT_READY
            && let Some(next) = self.timeline.next(place.lap)
        {
            let next = &self.plan.blocks[self.timeline.laps()[next].block];
            let level_stands =
                next.target.at(0.0).is_some_and(Load::is_power) && next.brake == Brake::Free;
            if next.kind == Kind::Sprint && level_stands {
                return want::want(next, 0.0, &self.rider, self.ride_mode, &facts.offer);
            }
        }
        want::want(
            block,
            place.share(),
            &self.rider,
            self.ride_mode,
            &facts.offer,
        )
    }

    fn power_chain(
        &self,
        now: Instant,
        place: Place,
        watts: Option<Watts>,
        facts: &Facts,
    ) -> Demand {
        let block = self.block_at(place);
        let sprint = block.kind == Kind::Sprint;
        let Some(range) = facts.offer.power else {
            return Demand::Keep;
        };
        let block_cap = if sprint {
            self.rider.sprint_cap
        } else {
            self.rider.power_cap
        };
        let planned = watts.unwrap_or(block_cap).0;
        let why = if watts.is_some() {
            "the session"
        } else {
            "all out: as much as the cap allows"
        };
        let mut chain = Chain::from_plan(planned, why);
        let trim = if watts.is_some() {
            self.trim_factor(block.kind)
        } else {
            1.0
        };
        chain.then(Stage::Trim, planned * trim, "today's trim");
        let (eased, why) = self.eased(chain.value(), facts);
        chain.then(Stage::EaseDown, eased, why);
        let built = self.build.at(now, chain.value());
        let built = if sprint {
            built
        } else {
            self.limit_rise(now, built)
        };
        chain.then(Stage::BuildUp, built, "the load is on its way");
        let on = chain.value();
        chain.then(Stage::Meter, on, "");
        chain.then(Stage::Guard, on, "");
        // A sprint's fall may still stand above the cap of the block that follows; it only falls from there.
        let cap = if now < self.sprint_cap_until {
            self.rider.sprint_cap
        } else {
            block_cap
        };
        let cap = cap.0.min(range.most);
        match chain.finish(cap, range, |value| BrakeTarget::Power(Watts(value))) {
            Some(ledger) => Demand::Target(ledger),
            None => Demand::Release("the trainer's least power is above your cap"),
        }
    }

    fn eased(&self, value: f64, facts: &Facts) -> (f64, &'static str) {
        let floor = self.recovery_load().min(value);
        if self.ease.limits_by_heart() && facts.heart_rate.is_none() {
            return (
                floor,
                "the heart-rate signal was lost while it limited the load",
            );
        }
        (
            (value * self.ease.factor()).max(floor),
            "eased for this block",
        )
    }

    /// The load of a recovery for this rider: the session's own next or last one, else effort 4.
    fn recovery_load(&self) -> f64 {
        let here = self.lap.unwrap_or(0);
        let recovery = |lap: &usize| {
            let block = &self.plan.blocks[self.timeline.laps()[*lap].block];
            let load = (block.kind == Kind::Recovery)
                .then(|| block.target.at(0.5))
                .flatten()?;
            rider::lane(&load, &self.rider)
        };
        let laps = 0..self.plan.blocks.len();
        let own = laps.clone().skip(here).find_map(|lap| recovery(&lap));
        let own = own.or_else(|| laps.take(here).rev().find_map(|lap| recovery(&lap)));
        let default = self
            .rider
            .effort_map
            .watts(Effort(4.0), self.rider.threshold);
        own.or(default).map_or(0.0, |watts| watts.0)
    }

    /// No rise outside a sprint is faster than [`MOST_RISE`].
    fn limit_rise(&self, now: Instant, wanted: f64) -> f64 {
        match self.stands {
            Some((at, BrakeTarget::Power(stands))) => {
                // A step's worth of time at least, so that a call in the same instant does not hold the ramp back.
                let time = now.since(at).max(RAMP_STEP).seconds();
                wanted.min(stands.0 + MOST_RISE * time)
            }
            _ => wanted,
        }
    }

    /// When the demand next changes by time alone.
    pub fn poll_timeout(&self, now: Instant) -> Option<Instant> {
        let mut next = self.pedals.next_change();
        let mut sooner = |at: Instant| next = Some(next.map_or(at, |next: Instant| next.min(at)));
        if let Some(let_off) = &self.let_off
            && let Some(at) = let_off.next_change(now)
        {
            sooner(at);
        }
        if self.clock.runs()
            && let Some(place) = self.place(now)
        {
            sooner(now + place.left);
            if place.left > FREE_SPRINT_READY {
                sooner(now + place.left.less(FREE_SPRINT_READY));
            }
            let line = matches!(self.block_at(place).target, crate::plan::Target::Line(..));
            if now < self.build.ends() || line {
                sooner(now + RAMP_STEP);
            }
        }
        next
    }

    /// Two per cent a step of work or recovery; in effort-only mode a step of the fixed level.
    pub fn trim(&mut self, steps: i8, now: Instant, facts: &Facts) {
        if self.ride_mode == RideMode::EffortOnly {
            self.level = level::nudge(self.level, steps, &self.rider, facts);
            self.happened(
                "level",
                false,
                format!("{:.0} % of the range", self.level * 100.0),
            );
            return;
        }
        let Some(place) = self.place(now) else { return };
        let work = self.block_at(place).kind.is_work();
        let trim = if work {
            &mut self.trim_work
        } else {
            &mut self.trim_recovery
        };
        *trim = (*trim + i32::from(steps)).clamp(-MOST_TRIM, MOST_TRIM);
        let detail = format!(
            "{} {:+} %",
            if work { "work" } else { "recovery" },
            *trim * 2
        );
        self.happened("trim", false, detail);
    }

    /// Ten per cent off the rest of this block.
    pub fn ease_block(&mut self) {
        self.ease.ask();
        self.happened("ease-block", true, "This block is eased by 10 %.");
    }

    /// Half a minute more of this block.
    pub fn stretch(&mut self, now: Instant) -> bool {
        let session = self.session(now);
        let done = self.timeline.stretch(&self.plan, session);
        if done {
            self.happened("stretch", true, "Thirty seconds more of this block.");
        } else {
            self.happened("refused", true, "This block may not be made longer.");
        }
        done
    }

    /// Leaves out the next block that may be cut.
    pub fn cut(&mut self, now: Instant) -> bool {
        let session = self.session(now);
        match self.timeline.cut(&self.plan, session) {
            Some(lap) => {
                let name = &self.plan.blocks[self.timeline.laps()[lap].block].name;
                let detail = format!("Left out: {name}.");
                self.happened("cut", true, detail);
                true
            }
            None => {
                self.happened("refused", true, "No block that follows may be left out.");
                false
            }
        }
    }

    /// On to the next block.
    pub fn skip(&mut self, now: Instant) {
        let session = self.session(now);
        self.timeline.skip(session);
        self.happened("skip", false, "On to the next block.");
    }

    /// Takes back the last skip, stretch or cut.
    pub fn undo(&mut self) -> bool {
        let done = self.timeline.undo();
        if done {
            self.happened("undo", true, "Taken back.");
        }
        done
    }

    /// From here on the last change cannot be taken back.
    pub fn forget_undo(&mut self) {
        self.timeline.forget();
    }

    /// Lets the brake off by hand, in two quick steps; it stays off until [`put_on`](Self::put_on).
    pub fn brake_off(&mut self, now: Instant) {
        self.by_hand = true;
        self.let_go(now, "let off by hand");
    }

    /// Whether the brake was let off by hand.
    pub const fn is_off(&self) -> bool {
        self.by_hand
    }

    /// Sets the brake again after it was let off by hand, built up gently.
    pub const fn put_on(&mut self) {
        self.by_hand = false;
        if self.clock.runs() {
            self.let_off = None;
        }
    }

    /// The clock stands from `at` on. Where legs were turning the load goes in two steps, as by hand.
    pub fn pause(&mut self, at: Instant) {
        self.clock.stand(at);
        self.let_go(at, "the clock stands");
    }

    /// The clock runs on, and the load builds back unless the brake was let off by hand.
    pub const fn resume(&mut self, now: Instant) {
        self.clock.run(now);
        if !self.by_hand {
            self.let_off = None;
        }
    }

    fn let_go(&mut self, now: Instant, why: &'static str) {
        let stands = self.stands.map(|(_, target)| target);
        self.let_off.get_or_insert(LetOff::new(now, stands, why));
    }

    /// The link or the control of the brake is lost, or came back: what stands is unknown, so the next target is
    /// built up from release.
    pub fn brake_unknown(&mut self) {
        self.stands = None;
        self.released = "control of the brake was lost";
        self.guard.rest();
    }

    /// The other ride mode, from the load that stands.
    pub fn switch_mode(&mut self, now: Instant, facts: &Facts) {
        let from = self.standing_load(facts);
        self.ride_mode = match self.ride_mode {
            RideMode::TargetPower => RideMode::EffortOnly,
            RideMode::EffortOnly => RideMode::TargetPower,
        };
        self.build = BuildUp::new(from, now, BUILD_UP.max(FALL));
        self.happened(
            "mode",
            true,
            format!("Now riding in {} mode.", self.ride_mode.key()),
        );
    }

    /// The level that the rider has found, as a share of the trainer's range, for effort-only riding.
    pub const fn level(&self) -> f64 {
        self.level
    }

    /// The level in the trainer's own scale, where it has one.
    pub fn level_on(&self, offer: &Offer) -> Option<Level> {
        offer.level.map(|range| level::on_range(self.level, range))
    }
}
