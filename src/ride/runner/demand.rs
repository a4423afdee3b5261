//! The demand: what the brake should be asked for now, through every stage of the ledger.

use super::ahead::Built;
use super::{Demand, FREE_SPRINT_READY, Facts, Runner};
use crate::plan::{Brake, Kind, Load, Target};
use crate::ride::ahead::Going;
use crate::ride::build_up::{BUILD_BACK, BuildUp, MOST_RISE};
use crate::ride::chain::Chain;
use crate::ride::ledger::{Ledger, Stage};
use crate::ride::load::{self, Ease, RISE_AT_ONCE};
use crate::ride::pedals::Pedals;
use crate::ride::timeline::Place;
use crate::ride::want::{self, Want};
use crate::time::{Instant, Span};
use crate::units::{BrakeRange, BrakeTarget, Watts};

/// What was sent ahead may fall short of itself by this, watts, before it counts as taken back.
const LED_SHORT: f64 = 1.0;

/// Why no block is loaded over a recovery.
const HEART_LOST: &str = entry!("the heart-rate signal was lost while it limited the load");

const ALL_OUT: &str = entry!("all out: as much as the cap allows");

/// What the plan wants held.
#[derive(Clone, Copy, Debug)]
pub(super) enum Held {
    /// These watts.
    Watts(Watts),
    /// As much as the cap allows.
    Most,
    /// These watts, before held watts are exchanged for a level.
    Low(Watts),
}

/// The watts of a trainer that says nothing of any.
const NO_RANGE: BrakeRange = BrakeRange {
    least: 0.0,
    most: f64::INFINITY,
    step: 0.0,
};

/// Why a trainer that takes no load as low as the cap is released.
const ABOVE_CAP: &str = entry!("the trainer's least power is above your cap");

impl Runner {
    /// What the brake should be asked for now. Call [`see`](Self::see) first.
    pub fn demand(&mut self, now: Instant, facts: &Facts) -> Demand {
        if !facts.offer.any() {
            // Whatever can be set later is built up from nothing.
            self.stands = None;
            self.forget_rise();
            self.slow.released();
            self.slowly = None;
            self.released = entry!("the brake is not in hand");
            return Demand::Keep;
        }
        self.taken = facts.taken;
        self.lead = facts.lead;
        let before = self.released;
        let demand = self.reckon(now, facts);
        match &demand {
            // A rise that is not allowed now is not caught up with at once later.
            Demand::Keep => {
                self.risen = self.risen.map(|(_, risen)| (now, risen));
                self.free.hold(now, self.stands);
                self.slow.left();
            }
            Demand::Release(why) => {
                if *why == ABOVE_CAP && before != ABOVE_CAP {
                    self.happened(
                        "above-cap",
                        true,
                        entry!("The least that the trainer holds is above your cap: its brake is let off. Ride on by effort, \
                         or raise the cap in your rider file."),
                    );
                }
                self.stands = None;
                self.forget_rise();
                self.free.forget();
                self.slow.released();
                self.slowly = None;
                self.released = why;
            }
            Demand::Target(ledger) => {
                self.slowly = ledger.slow_watts();
                if self.slowly.is_none() {
                    self.slow.left();
                }
                let in_watts = ledger.target.is_power() || self.slowly.is_some();
                let built = ledger
                    .entries
                    .iter()
                    .find(|entry| entry.stage == Stage::BuildUp)
                    .filter(|_| in_watts);
                self.risen = built.map(|entry| (now, entry.output));
                self.led = built
                    .filter(|_| ledger.lead > Span::ZERO)
                    .map(|entry| entry.output);
                if !in_watts {
                    self.unled = None;
                }
                // The moment since when it stands.
                self.stands = match self.stands {
                    Some((since, target)) if target == ledger.target => Some((since, target)),
                    _ => Some((now, ledger.target)),
                };
                self.released = "";
            }
        }
        demand
    }

    /// No held load stands from which anything rises.
    fn forget_rise(&mut self) {
        self.risen = None;
        self.led = None;
        self.unled = None;
    }

    fn reckon(&mut self, now: Instant, facts: &Facts) -> Demand {
        // In one step, also where a hand or a button lets it off in two.
        if self.guard.acts() {
            return Demand::Release(entry!("the legs were stalling"));
        }
        if let Some(let_off) = &self.let_off {
            return let_off.demand(now, &facts.offer);
        }
        if let Pedals::Stopped(_) = self.pedals.pedals() {
            return Demand::Release(entry!("the pedals stand still"));
        }
        let Some(place) = self.place(now) else {
            return Demand::Release(entry!("the session is over"));
        };
        let unsure = !self.pedals.turn_now();
        if unsure && self.stands.is_none() {
            return Demand::Release(entry!("nothing shows that the pedals turn"));
        }
        if !self.released.is_empty() {
            // Back from a release: whatever the plan says by now is built up from nothing.
            self.build = BuildUp::new(0.0, now, BUILD_BACK.max(self.build_left(now)));
            self.released = "";
        }
        if now < self.stand_on_until
            && matches!(self.stands, Some((_, stands)) if !stands.is_power())
        {
            // After a free sprint its level stands on for a second, as a held one's watts do.
            return Demand::Keep;
        }
        let wanted = self.wanted(place, facts);
        let demand = match wanted {
            Want::Power(_) | Want::MostPower => {
                let (watts, held) = match wanted {
                    Want::Power(watts) => (Some(watts), Held::Watts(watts)),
                    _ => (None, Held::Most),
                };
                if self.is_slow(facts) {
                    self.slow_chain(now, place, held, facts)
                } else {
                    match self.leave_fixed(now, watts, facts) {
                        Some(demand) => demand,
                        None => self.power_chain(now, place, held, facts),
                    }
                }
            }
            // Neither levels nor slopes: a load that anyone can turn is held.
            Want::SessionLevel | Want::SprintLevel | Want::Level(_) | Want::Slope(_)
                if !facts.offer.fixed() =>
            {
                self.say_only_watts();
                let low = Watts(self.recovery_load());
                self.power_chain(now, place, Held::Low(low), facts)
            }
            Want::SessionLevel
            | Want::SprintLevel
            | Want::Level(_)
            | Want::Slope(_)
            | Want::Lowest => match self.leave_power(now, unsure, facts) {
                Some(low) => self.power_chain(now, place, Held::Low(low), facts),
                None => self.fixed(now, wanted, place, facts),
            },
        };
        match (&demand, self.stands) {
            // Nothing is raised, nor exchanged for another sort of load, while nothing shows turning pedals.
            (Demand::Target(ledger), Some((_, stands)))
                if unsure
                    && (!ledger.target.same_sort(stands)
                        || ledger.target.value() > stands.value()) =>
            {
                Demand::Keep
            }
            _ => demand,
        }
    }

    /// What is left of a block's own build-up, which a return from release must not shorten.
    pub(super) fn build_left(&self, now: Instant) -> Span {
        self.build.rise_ends().since(now)
    }

    fn wanted(&self, place: Place, facts: &Facts) -> Want {
        let block = self.block_at(place);
        // The level of a free sprint stands before its beat, so that the gear can be chosen against it.
        if place.left <= FREE_SPRINT_READY
            && facts.offer.fixed()
            && let Some(next) = self.timeline.next(place.lap)
        {
            let next = &self.plan.blocks[self.timeline.laps()[next].block];
            let level_stands = next.target.at(0.0).is_some_and(Load::is_power)
                && (next.brake == Brake::Free || facts.offer.power.is_none());
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

    /// Held watts, through every stage.
    fn power_chain(&mut self, now: Instant, place: Place, wanted: Held, facts: &Facts) -> Demand {
        let Some(range) = facts.offer.power else {
            return Demand::Keep;
        };
        let mut plain = self.plain(now, place, wanted);
        let mut ahead = self.ahead_of(now, place, wanted, plain.chain.value(), facts);
        let most = |plain: &Built, ahead: &Option<Built>| {
            let ahead = ahead.as_ref().map_or(0.0, |ahead| ahead.chain.value());
            plain.chain.value().max(ahead)
        };
        // A line that falls by itself takes nothing back.
        let fell = self.unled.map_or(0.0, |unled| unled - plain.chain.value());
        if self
            .led
            .is_some_and(|led| most(&plain, &ahead) < led - fell.max(0.0) - LED_SHORT)
        {
            // What was sent ahead of a beat that was moved away is taken back as any load falls.
            let led = self.led.take().unwrap_or_default();
            let led = led.min(self.standing_load(facts));
            self.build = BuildUp::new(led, now, BUILD_BACK.max(self.build_left(now)));
            plain = self.plain(now, place, wanted);
            ahead = self.ahead_of(now, place, wanted, plain.chain.value(), facts);
        }
        let block_cap = load::cap(self.block_at(place), &self.rider);
        // A sprint's fall may still stand above the cap of the block that follows; it only falls from there. What is
        // sent ahead of a sprint stays under the cap of the block that is still ridden.
        let cap = match self.stands {
            Some((_, BrakeTarget::Power(stands))) if now < self.sprint_cap_until => {
                block_cap.max(stands.min(self.rider.sprint_cap))
            }
            _ => block_cap,
        };
        let cap = cap.0.min(range.most);
        self.unled = Some(plain.chain.value().min(cap).max(range.least));
        let mut built = match ahead {
            // Upward only.
            Some(ahead) if ahead.chain.value() > plain.chain.value() + 1e-9 => ahead,
            _ => plain,
        };
        if !built.sprint {
            let limited = self.limit_rise(now, built.chain.value());
            built.on_its_way |= limited < built.chain.value();
            built.chain.limit(limited, entry!("no faster than this"));
        }
        let mut chain = built.chain;
        let on = chain.value();
        let on = self.corrected(on);
        chain.then(Stage::Meter, on, entry!("towards your meter's watts"));
        chain.then(Stage::Guard, on, "");
        // What is cut off by the cap goes no further, however far the plan would.
        let on_its_way = built.on_its_way && on < cap;
        match chain.finish(cap, range, |value| BrakeTarget::Power(Watts(value))) {
            Some(ledger) => Demand::Target(Ledger {
                lead: built.lead,
                on_its_way,
                ..ledger
            }),
            None => Demand::Release(ABOVE_CAP),
        }
    }

    /// What is asked for at this moment, as far as the build-up.
    pub(super) fn plain(&self, now: Instant, place: Place, wanted: Held) -> Built {
        let block = self.block_at(place);
        let sprint = block.kind == Kind::Sprint;
        let (watts, why) = match wanted {
            Held::Watts(watts) | Held::Low(watts) => (Some(watts), entry!("the session")),
            Held::Most => (None, ALL_OUT),
        };
        let falling = now < self.sprint_cap_until && !sprint;
        let steps = load::steps(
            watts,
            load::cap(block, &self.rider),
            self.trim_factor(block.kind),
            self.ease_now(),
            &self.build,
            now,
            load::falls_to(falling, &self.rider),
        );
        let mut chain = Chain::from_plan(steps.planned, why);
        chain.then(Stage::Trim, steps.trimmed, entry!("today's trim"));
        chain.then(Stage::EaseDown, steps.eased, steps.why_eased);
        chain.then(
            Stage::BuildUp,
            steps.built,
            entry!("the load is on its way"),
        );
        Built {
            chain,
            lead: Span::ZERO,
            on_its_way: steps.built != steps.eased || matches!(block.target, Target::Line(..)),
            sprint,
        }
    }

    fn ahead_of(
        &self,
        now: Instant,
        place: Place,
        wanted: Held,
        stands: f64,
        facts: &Facts,
    ) -> Option<Built> {
        match wanted {
            // On its way out of holding watts: nothing rises there.
            Held::Low(_) => None,
            Held::Watts(_) | Held::Most => self.ahead(now, place, stands, facts),
        }
    }

    /// What eases this block now.
    pub(super) fn ease_now(&self) -> Ease {
        Ease {
            factor: self.ease.factor(),
            floor: self.recovery_load(),
            to_recovery: if self.heart_lost {
                Some(HEART_LOST)
            } else if self.guard.is_blind() {
                Some(entry!(
                    "the cadence signal was lost while the legs were stalling"
                ))
            } else {
                None
            },
        }
    }

    /// The load of a recovery for this rider: the session's own next or last one, else effort 4.
    pub(super) fn recovery_load(&self) -> f64 {
        let here = self.lap.unwrap_or(0);
        load::recovery_load(&self.plan, self.timeline.laps(), here, &self.rider)
    }

    /// How the ride stands, as far as the held loads to come follow from it; nothing where no watts can be held.
    pub fn going(&self, now: Instant, facts: &Facts) -> Option<Going> {
        // The slow loop knows no range in watts: only the caps bind.
        let range = match facts.offer.power {
            Some(range) => range,
            None if self.is_slow(facts) => NO_RANGE,
            None => return None,
        };
        let lap = self.place(now)?.lap;
        // A brake that is off builds back from nothing, as soon as it may.
        let build = if self.released.is_empty() {
            self.build
        } else {
            BuildUp::new(0.0, now, BUILD_BACK.max(self.build_left(now)))
        };
        Some(Going {
            now,
            session: self.session(now),
            lap: self.lap.unwrap_or(lap),
            build,
            // What is sent ahead of its beat is no part of the lane; what has not yet risen is not there either.
            risen: self
                .risen
                .map(|(_, risen)| self.unled.map_or(risen, |unled| unled.min(risen))),
            ease: self.ease_now(),
            to_recovery_on: self.heart_lost.then_some(HEART_LOST),
            trims: (self.trim_work, self.trim_recovery),
            range,
            sprint_cap_until: self.sprint_cap_until,
        })
    }

    /// Whether more stands than a recovery: then it is let off in two steps.
    pub fn stands_high(&self) -> bool {
        let watts = match self.stands {
            Some((_, BrakeTarget::Power(watts))) => watts.0,
            // What a level or a slope asks for by itself is not known: only the lowest level is surely no more.
            Some((_, fixed)) => match (self.slowly, fixed) {
                (Some(watts), _) => watts,
                (None, BrakeTarget::Resistance(level)) => return level.0 > 0.0,
                (None, _) => return true,
            },
            None => return false,
        };
        watts > self.recovery_load() + 1.0
    }

    /// No rise outside a sprint is faster than [`MOST_RISE`].
    pub(super) fn limit_rise(&self, now: Instant, wanted: f64) -> f64 {
        // Where the trainer answers late, what it has taken counts, not what it was asked for.
        let taken = match self.taken {
            Some(BrakeTarget::Power(taken)) => taken.0 + MOST_RISE * RISE_AT_ONCE.seconds(),
            _ => f64::INFINITY,
        };
        let wanted = wanted.min(taken);
        match self.risen {
            Some((at, risen)) => load::limit_rise(wanted, risen, now.since(at)),
            None => wanted,
        }
    }
}
