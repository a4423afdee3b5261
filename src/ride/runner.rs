//! A ride under way: where the session stands, and what the brake should be asked for now.
//!
//! The runner is told facts and asked for its demand; it knows no device, no bytes and no clock. What it may ask for is
//! bounded by the ledger's chain, and whatever is in doubt ends in the lower load.

mod ahead;
mod all_out;
mod demand;
mod fixed;
mod free;
mod hand;
mod slow_hold;
mod take_up;
mod watch;

pub use take_up::LeftAt;

use std::sync::Arc;

use crate::plan::{Block, Brake, Kind, Plan};
use crate::ride::build_up::{BUILD_BACK, BUILD_UP, BuildUp, SPRINT_STANDS_ON};
use crate::ride::clock::RideClock;
use crate::ride::gear::GearWatch;
use crate::ride::guard::StallGuard;
use crate::ride::lead::Lead;
use crate::ride::ledger::Ledger;
use crate::ride::let_off::LetOff;
use crate::ride::load;
use crate::ride::meter_led::MeterLed;
use crate::ride::mode::RideMode;
use crate::ride::pedals::{PedalWatch, Pedals};
use crate::ride::slow_hold::SlowHold;
use crate::ride::timeline::{Place, Timeline};
use crate::ride::tired::{EaseDown, Eased, Strain};
use crate::ride::want::Offer;
use crate::rider::{self, Rider};
use crate::text::{Language, within};
use crate::time::{Instant, Span};
use crate::units::{Bpm, BrakeTarget, Effort, MetresPerSecond, Rpm, Watts};

/// While a load is on its way it is reckoned anew this often: four targets a second at most reach the trainer.
const RAMP_STEP: Span = Span::from_millis(250);

/// Trim goes no further than this many presses either way: a fifth. Our own choice, no source.
const MOST_TRIM: i32 = 10;

/// A sprint's fall need not wait when power is under this share of the target.
const SPRINT_LET_GO: f64 = 0.7;

/// A beat is passed within a step or two; one that lies further back was not ridden up to.
const BEAT_MISSED_BY: Span = Span::from_seconds(2);

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
    /// What the trainer last confirmed.
    pub taken: Option<BrakeTarget>,
    /// How far ahead rises are sent.
    pub lead: Lead,
    /// Power of a separate meter alone.
    pub meter: Option<Watts>,
    /// Power of the trainer alone.
    pub trainer: Option<Watts>,
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
    /// How much of the session was passed over without being ridden: a group's clock is joined on its way.
    jumped: Span,
    /// Whether the block that begins next was jumped to.
    unannounced: bool,
    /// The level that stood when the ride was left open, as a share of the trainer's range; taken by the first trainer.
    level_before: Option<f64>,
    pedals: PedalWatch,
    guard: StallGuard,
    meter: MeterLed,
    /// Whether the rider was told that the guard waits for a cadence.
    guard_waits: bool,
    ease: EaseDown,
    build: BuildUp,
    /// The lap whose beat was last passed.
    lap: Option<usize>,
    /// What was last demanded, and when; none while released.
    stands: Option<(Instant, BrakeTarget)>,
    /// What the trainer last confirmed.
    taken: Option<BrakeTarget>,
    /// Until when the level of a free sprint stands on after its end.
    stand_on_until: Instant,
    /// Whether the heart-rate signal was lost while it limited the load, and neither came back nor was waived since.
    heart_lost: bool,
    /// How far a held load had risen, before caps and rounding, and when; none while no watts are held.
    risen: Option<(Instant, f64)>,
    /// How far ahead rises are sent.
    lead: Lead,
    /// The load that the plan asks for at this moment, without anything sent ahead; none while no watts are held.
    unled: Option<f64>,
    /// The load that was last sent ahead, before caps; none where it was not.
    led: Option<f64>,
    /// Why the brake is released; empty while it is not. A ride begins released.
    released: &'static str,
    let_off: Option<LetOff>,
    /// Whether the brake was let off by hand, so that only the hand sets it again.
    by_hand: bool,
    trim_work: i32,
    trim_recovery: i32,
    /// The fixed level, and what is known of this trainer's.
    free: free::Free,
    /// The slow loop, where the trainer cannot hold watts, and the watts that it is asked for now.
    slow: SlowHold,
    slowly: Option<f64>,
    slow_said: bool,
    /// The lap in which it was last said that the gear keeps the loop from its watts.
    slow_stuck_said: Option<usize>,
    /// Gears, from speed and cadence.
    gears: GearWatch,
    /// Until when a sprint's cap still counts for its fall.
    sprint_cap_until: Instant,
    happenings: Vec<Happening>,
}

impl Runner {
    /// A ride that begins now, with the brake released.
    pub fn new(plan: Arc<Plan>, rider: Arc<Rider>, ride_mode: RideMode, now: Instant) -> Self {
        let meter_led = rider.meter_led;
        let mut gears = GearWatch::default();
        gears.fit(&rider.drivetrain);
        Self {
            timeline: Timeline::new(&plan),
            plan,
            rider,
            ride_mode,
            clock: RideClock::started(now),
            jumped: Span::ZERO,
            unannounced: false,
            level_before: None,
            pedals: PedalWatch::default(),
            guard: StallGuard::default(),
            meter: MeterLed::new(meter_led),
            guard_waits: false,
            ease: EaseDown::default(),
            build: BuildUp::new(0.0, now, BUILD_UP),
            lap: None,
            stands: None,
            taken: None,
            stand_on_until: Instant::ZERO,
            heart_lost: false,
            risen: None,
            lead: Lead::NONE,
            unled: None,
            led: None,
            released: entry!("not yet built up"),
            let_off: None,
            by_hand: false,
            trim_work: 0,
            trim_recovery: 0,
            free: free::Free::new(now),
            slow: SlowHold::default(),
            slowly: None,
            slow_said: false,
            slow_stuck_said: None,
            gears,
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

    /// Session time: time ridden, and what was passed over to be with a group. Skips and stretches change the laps, never
    /// the clock.
    pub fn session(&self, now: Instant) -> Span {
        self.clock.ridden(now) + self.jumped
    }

    /// Time ridden, pauses left out.
    pub fn ridden(&self, now: Instant) -> Span {
        self.clock.ridden(now)
    }

    /// How much of the session was passed over.
    pub const fn jumped(&self) -> Span {
        self.jumped
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

    /// Whether a fresh source shows turning pedals now; only then may a load rise.
    pub const fn may_rise(&self) -> bool {
        self.pedals.turn_now()
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

    /// The watts that the lane of the strip stands at: those that the brake was asked to hold, else those of the plan.
    pub fn drawn_lane(&self, now: Instant) -> Option<Watts> {
        match self.stands {
            // What is sent ahead of its beat is no part of the lane, nor is the correction towards a meter.
            Some((_, BrakeTarget::Power(Watts(stands)))) => {
                let stands = self.uncorrected(stands);
                Some(Watts(self.unled.map_or(stands, |unled| unled.min(stands))))
            }
            Some(_) if self.slowly.is_some() => self.slowly.map(Watts),
            _ => self.lane(now),
        }
    }

    fn trim_factor(&self, kind: Kind) -> f64 {
        let steps = if kind.is_work() {
            self.trim_work
        } else {
            self.trim_recovery
        };
        load::trim_factor(steps)
    }

    /// Takes what is known now, whether the clock runs or not. Call it with every new reading and at every deadline.
    pub fn see(&mut self, now: Instant, facts: &Facts) {
        self.pedals.see(now, facts.most_cadence, facts.most_power);
        // Before a beat is passed: what limited the block that ends limits until its signal is back.
        let lost = facts.heart_rate.is_none() && (self.heart_lost || self.ease.limits_by_heart());
        self.pass_beats(now, facts);
        let Some(place) = self.place(now) else { return };
        let block = self.block_at(place);
        let held = self.holds_watts() || self.holds_slowly();
        let strain = Strain {
            cadence: facts.cadence,
            band_low: block.cadence.map(|band| band.low),
            held: held && block.kind != Kind::Sprint && now >= self.build.ends(),
            heart_rate: facts.heart_rate,
            ceiling: self.rider.heart_rate_ceiling,
            block: self.timeline.laps()[place.lap].length,
        };
        self.watch_the_heart(now, facts, lost);
        self.see_free(now, place, facts);
        self.see_slow_hold(now, place, facts);
        self.watch_for_a_stall(now, facts, held, strain.band_low);
        self.watch_the_meter(now, facts);
        if self.clock.runs() {
            match self.ease.see(now, &strain) {
                Some(Eased::ForCadence) => {
                    self.happened(
                        "ease-down",
                        self.ease.steps() == 1,
                        entry!("The load is eased by 4 %. Cadence was under its band."),
                    );
                }
                Some(Eased::ForHeart) => {
                    self.happened(
                        "ease-down",
                        self.ease.steps() == 1,
                        entry!("The load is eased by 4 %. Heart rate is over your ceiling."),
                    );
                }
                None => {}
            }
            // A ceiling that acts at the very moment at which its signal goes: nothing that waits is sent in between.
            let lost =
                facts.heart_rate.is_none() && (self.heart_lost || self.ease.limits_by_heart());
            self.watch_the_heart(now, facts, lost);
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
        let plan = Arc::clone(&self.plan);
        let block = &plan.blocks[self.timeline.laps()[place.lap].block];
        // A lap that the hand has set begins now, wherever its own beat lay.
        let unannounced = std::mem::take(&mut self.unannounced);
        let by_hand = unannounced || place.into > BEAT_MISSED_BY;
        let beat = if by_hand { now } else { now - place.into };
        if let Some(before) = before {
            self.gears.block_ends(before.kind);
        }
        if before.is_some_and(|block| block.kind == Kind::Sprint) && !self.holds_watts() {
            self.stand_on_until = beat + SPRINT_STANDS_ON;
        }
        let back = if self.released.is_empty() {
            self.build.left_from_nothing(beat)
        } else {
            Span::ZERO
        };
        let back = if by_hand { back.max(BUILD_BACK) } else { back };
        // A meter corrects no sprint: what stands is reckoned from as the new block sees it.
        self.lap = Some(place.lap);
        // What was sent ahead of the beat belongs to the way that begins here, not to where it begins.
        let stands = self.standing_load(facts);
        let from = self.unled.map_or(stands, |unled| unled.min(stands));
        let build = load::way_into(block, from, beat, from_held_sprint, back);
        self.build = if by_hand || back > Span::ZERO {
            build
        } else {
            build.on_beat()
        };
        if from_held_sprint {
            self.sprint_cap_until = self.build.fall_ends();
        }
        self.ease.next_block();
        self.guard.next_block();
        // The new block's own way counts: its fall is no lead that was taken back.
        self.led = None;
        // An event is kept in English, whoever reads.
        let block = self.block_at(place);
        let name = within(Language::English, || block.name_with_repeat());
        self.happened("block", false, name);
    }

    /// The watts that stand: those commanded, else those ridden, else none.
    fn standing_load(&self, facts: &Facts) -> f64 {
        match self.stands {
            // As it was wanted of the legs: the meter's correction comes on top again.
            Some((_, BrakeTarget::Power(watts))) => self.uncorrected(watts.0),
            // What the slow loop was asked for, not what the legs make of it at this moment.
            Some(_) => match self.slowly {
                Some(watts) => watts,
                None => facts.power.map_or(0.0, |power| power.0.max(0.0)),
            },
            None => 0.0,
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
            if let Some(at) = self.ahead_due(now, place) {
                sooner(at);
            }
            let line = matches!(self.block_at(place).target, crate::plan::Target::Line(..));
            if now < self.build.ends() || line || self.free.moves(now) || self.slow.moves() {
                sooner(now + RAMP_STEP);
            }
        }
        next
    }
}
