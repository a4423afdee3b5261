//! Held watts on a trainer that takes only levels or slopes: the ledger's watts, exchanged for the share of its range that
//! makes them.

use super::demand::Held;
use super::{Demand, Facts, Runner};
use crate::plan::Kind;
use crate::ride::build_up::{FALL, SPRINT_FALL};
use crate::ride::gear::WheelSpeed;
use crate::ride::ledger::{Ledger, Stage};
use crate::ride::level::Fixed;
use crate::ride::load;
use crate::ride::mode::RideMode;
use crate::ride::pedals::{TURNING_CADENCE, TURNING_POWER};
use crate::ride::slow_hold::{Asked, Seen, Stuck};
use crate::ride::timeline::Place;
use crate::time::Instant;
use crate::units::{BrakeTarget, Rpm};

/// Without a planned cadence legs below this are slow (common practice, no source).
const LEAST_CADENCE: Rpm = Rpm(65.0);

/// A speed under this is none, m/s: a trainer that shows it while the cranks turn does not know its speed.
const KNOWN_SPEED: f64 = 1.0;

impl Runner {
    /// Takes what is known now for the slow loop.
    pub(super) fn see_slow_hold(&mut self, now: Instant, place: Place, facts: &Facts) {
        let Some(fixed) = Fixed::of(&facts.offer) else {
            self.slow.released();
            return;
        };
        let speed = facts.speed.filter(|v| v.0 >= KNOWN_SPEED);
        // What a slope asks for follows from the speed: without one nothing is known of it.
        let knows = matches!(fixed, Fixed::Level(_)) || speed.is_some();
        let standing = facts.taken.and_then(|taken| fixed.value_of(taken));
        // Some trainers report cadence 0 at 200 W: that is none.
        let no_cadence = facts.power.is_some_and(|power| power > TURNING_POWER)
            && facts.cadence.is_some_and(|c| c <= TURNING_CADENCE);
        let seen = Seen {
            power: facts.power.filter(|_| knows),
            cadence: facts.cadence.filter(|_| !no_cadence).map(|c| c.0),
            speed,
            share: standing.map(|value| fixed.share(value)),
            turning: self.pedals.turn_now(),
        };
        self.slow.see(now, &seen);
        if self.slowly.is_some()
            && let Some(stuck) = self.slow.stuck()
            && self.slow_stuck_said != Some(place.lap)
        {
            self.slow_stuck_said = Some(place.lap);
            let words = match stuck {
                Stuck::NoAnswer => {
                    entry!(
                        "The trainer takes a higher resistance and does not change its load: it is raised no further. Hold the \
                     watts with your gears; switching the trainer off and on may help."
                    )
                }
                Stuck::TooHardAGear => {
                    entry!(
                        "The trainer's lowest load is more than this block asks for in this gear: shift to an easier one."
                    )
                }
                Stuck::TooEasyAGear => {
                    entry!(
                        "The trainer's highest load is less than this block asks for in this gear: shift to a harder one."
                    )
                }
            };
            self.happened("shift-instead", true, words);
        }
    }

    /// Whether held watts cannot be had on what is known: for seconds nothing has shown the power, or with slopes alone the speed,
    /// of pedals that turn.
    pub fn is_blind(&self, now: Instant) -> bool {
        self.slow.is_blind(now)
    }

    /// Whether the newest demand was held watts by the slow loop.
    pub const fn holds_slowly(&self) -> bool {
        self.slowly.is_some()
    }

    /// Held watts by the slow loop, through every stage.
    pub(super) fn slow_chain(
        &mut self,
        now: Instant,
        place: Place,
        wanted: Held,
        facts: &Facts,
    ) -> Demand {
        let Some(fixed) = Fixed::of(&facts.offer) else {
            return Demand::Release(entry!("the trainer takes neither levels nor slopes"));
        };
        if let Some(demand) = self.exchange(now, fixed, facts) {
            return demand;
        }
        // Watts that stand are none of this trainer's any more: it begins at its lowest level.
        let stands = self
            .stands
            .and_then(|(_, stands)| fixed.value_of(stands))
            .map(|value| fixed.share(value));
        let fall = if self.free.sprint_power.is_some() {
            SPRINT_FALL
        } else {
            FALL
        };
        self.free.leaving = None;
        self.free.way = None;
        self.say_slow_hold();
        let mut built = self.plain(now, place, wanted);
        let limited = self.limit_rise(now, built.chain.value());
        built.on_its_way |= limited < built.chain.value();
        built.chain.limit(limited, entry!("no faster than this"));
        let block = self.block_at(place);
        let (kind, least_cadence) = (
            block.kind,
            block.cadence.map_or(LEAST_CADENCE, |band| band.low),
        );
        let cap = load::cap(block, &self.rider).min(self.rider.power_cap).0;
        let mut chain = built.chain;
        let on = chain.value();
        // The loop already goes by the watts of the chosen source.
        chain.then(Stage::Meter, on, "");
        chain.then(Stage::Guard, on, "");
        let watts = on.min(cap);
        self.unled = Some(watts);
        let real = self.gears.wheel_speed() == WheelSpeed::Real;
        let asked = Asked {
            watts,
            cap,
            least_cadence: least_cadence.0,
            fixed,
            step: (fixed.range().step / (fixed.range().most - fixed.range().least).max(1e-9))
                .min(1.0),
            taken: facts
                .taken
                .and_then(|taken| fixed.value_of(taken))
                .map(|value| fixed.share(value)),
            table: real.then_some(&self.free.table),
        };
        let share = self.slow.ask(now, &asked, stands, fall);
        let moves = self.slow.moves();
        if kind == Kind::Hold && !moves && !built.on_its_way {
            // What a switch to effort, or a sprint, begins with.
            let allowed = self.bound(fixed, self.block_at(place), facts).allowed;
            self.free.level = share.min(allowed);
        }
        let range = fixed.range();
        let ledger = chain.finish_by(cap, fixed.value(share), range, |value| fixed.target(value));
        Demand::Target(Ledger {
            on_its_way: (built.on_its_way && on < cap) || moves,
            ..ledger
        })
    }

    fn say_slow_hold(&mut self) {
        if !std::mem::replace(&mut self.slow_said, true) {
            self.happened(
                "slow-hold",
                true,
                entry!("This trainer cannot hold watts by itself. The program sets its resistance towards yours, slowly: stay in \
                 one gear, turn evenly, and it comes near within half a minute."),
            );
        }
    }

    /// One fixed sort in the place of another: the first falls before the second builds up. Gives what to ask for in the
    /// meantime.
    pub(super) fn exchange(&mut self, now: Instant, fixed: Fixed, facts: &Facts) -> Option<Demand> {
        let (_, stands) = self.stands?;
        if stands.is_power() || fixed.value_of(stands).is_some() {
            return None;
        }
        let until = *self.free.leaving.get_or_insert(now + FALL);
        if now >= until {
            return None;
        }
        let old = match (stands, facts.offer.level, facts.offer.slope) {
            (BrakeTarget::Resistance(_), Some(range), _) => Fixed::Level(range),
            (BrakeTarget::Slope(_), _, Some(range)) => Fixed::Slope(range),
            _ => {
                return Some(Demand::Release(entry!(
                    "the trainer does not take what stands any more"
                )));
            }
        };
        let demand = self.fall_to_least(now, old, until, facts);
        Some(demand.unwrap_or(Demand::Release(entry!(
            "the trainer's least is above your cap"
        ))))
    }

    /// Whether this ride holds watts by the slow loop where the session has some to hold.
    pub(super) fn is_slow(&self, facts: &Facts) -> bool {
        self.ride_mode == RideMode::TargetPower
            && facts.offer.power.is_none()
            && Fixed::of(&facts.offer).is_some()
    }
}
