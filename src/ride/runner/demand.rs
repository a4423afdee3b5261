//! The demand: what the brake should be asked for now, through every stage of the ledger.

use super::{Demand, FREE_SPRINT_READY, Facts, Runner};
use crate::plan::{Brake, Kind, Load};
use crate::ride::ahead::Going;
use crate::ride::build_up::{BUILD_BACK, BuildUp, MOST_RISE};
use crate::ride::chain::Chain;
use crate::ride::ledger::Stage;
use crate::ride::level;
use crate::ride::load::{self, Ease, RISE_AT_ONCE};
use crate::ride::pedals::Pedals;
use crate::ride::timeline::Place;
use crate::ride::want::{self, Want};
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, Watts};

/// Why a trainer that takes no load as low as the cap is released.
const ABOVE_CAP: &str = "the trainer's least power is above your cap";

impl Runner {
    /// What the brake should be asked for now. Call [`see`](Self::see) first.
    pub fn demand(&mut self, now: Instant, facts: &Facts) -> Demand {
        if !facts.offer.any() {
            // Whatever can be set later is built up from nothing.
            self.stands = None;
            self.risen = None;
            self.released = "the brake is not in hand";
            return Demand::Keep;
        }
        self.taken = facts.taken;
        let before = self.released;
        let demand = self.reckon(now, facts);
        match &demand {
            // A rise that is not allowed now is not caught up with at once later.
            Demand::Keep => self.risen = self.risen.map(|(_, risen)| (now, risen)),
            Demand::Release(why) => {
                if *why == ABOVE_CAP && before != ABOVE_CAP {
                    self.happened(
                        "above-cap",
                        true,
                        "The least that the trainer holds is above your cap: its brake is let off. Ride on by effort, \
                         or raise the cap in your rider file.",
                    );
                }
                self.stands = None;
                self.risen = None;
                self.released = why;
            }
            Demand::Target(ledger) => {
                let built = ledger
                    .entries
                    .iter()
                    .find(|entry| entry.stage == Stage::BuildUp)
                    .filter(|_| matches!(ledger.target, BrakeTarget::Power(_)));
                self.risen = built.map(|entry| (now, entry.output));
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
        let unsure = !self.pedals.turn_now();
        if unsure && self.stands.is_none() {
            return Demand::Release("nothing shows that the pedals turn");
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
            // Before held watts are exchanged for a level they fall as they would to a recovery.
            Want::SessionLevel
            | Want::SprintLevel
            | Want::Level(_)
            | Want::Slope(_)
            | Want::Lowest
                if self.holds_watts() && (now < self.build.fall_ends() || unsure) =>
            {
                let stands = self.standing_load(facts);
                let low = Watts(self.recovery_load().min(stands));
                self.power_chain(now, place, Some(low), facts)
            }
            Want::Power(watts) => self.power_chain(now, place, Some(watts), facts),
            Want::MostPower => self.power_chain(now, place, None, facts),
            Want::SessionLevel
            | Want::SprintLevel
            | Want::Level(_)
            | Want::Slope(_)
            | Want::Lowest => {
                let built = self.build.from_nothing(now);
                level::demand(
                    wanted,
                    self.level,
                    built,
                    &self.rider,
                    self.block_at(place),
                    facts,
                )
            }
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
        let block_cap = load::cap(block.kind, &self.rider);
        let why = if watts.is_some() {
            "the session"
        } else {
            "all out: as much as the cap allows"
        };
        let trim = self.trim_factor(block.kind);
        let steps = load::steps(
            watts,
            block_cap,
            trim,
            self.ease_now(facts),
            &self.build,
            now,
        );
        let mut chain = Chain::from_plan(steps.planned, why);
        chain.then(Stage::Trim, steps.trimmed, "today's trim");
        chain.then(Stage::EaseDown, steps.eased, steps.why_eased);
        let built = if sprint {
            steps.built
        } else {
            self.limit_rise(now, steps.built)
        };
        chain.then(Stage::BuildUp, built, "the load is on its way");
        let on = chain.value();
        chain.then(Stage::Meter, on, "");
        chain.then(Stage::Guard, on, "");
        // A sprint's fall may still stand above the cap of the block that follows; it only falls from there.
        let cap = match self.stands {
            Some((_, BrakeTarget::Power(stands))) if now < self.sprint_cap_until => {
                block_cap.max(stands.min(self.rider.sprint_cap))
            }
            _ => block_cap,
        };
        let cap = cap.0.min(range.most);
        match chain.finish(cap, range, |value| BrakeTarget::Power(Watts(value))) {
            Some(ledger) => Demand::Target(ledger),
            None => Demand::Release(ABOVE_CAP),
        }
    }

    /// What eases this block now.
    fn ease_now(&self, facts: &Facts) -> Ease {
        Ease {
            factor: self.ease.factor(),
            floor: self.recovery_load(),
            heart_lost: self.ease.limits_by_heart() && facts.heart_rate.is_none(),
        }
    }

    fn recovery_load(&self) -> f64 {
        let here = self.lap.unwrap_or(0);
        load::recovery_load(&self.plan, self.timeline.laps(), here, &self.rider)
    }

    /// How the ride stands, as far as the held loads to come follow from it; nothing where no watts can be held.
    pub fn going(&self, now: Instant, facts: &Facts) -> Option<Going> {
        let range = facts.offer.power?;
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
            risen: self.risen.map(|(_, risen)| risen),
            ease: self.ease_now(facts),
            trims: (self.trim_work, self.trim_recovery),
            range,
            sprint_cap_until: self.sprint_cap_until,
        })
    }

    /// Whether more stands than a recovery: then it is let off in two steps.
    pub fn stands_high(&self) -> bool {
        matches!(self.stands, Some((_, BrakeTarget::Power(watts))) if watts.0 > self.recovery_load() + 1.0)
    }

    /// No rise outside a sprint is faster than [`MOST_RISE`].
    fn limit_rise(&self, now: Instant, wanted: f64) -> f64 {
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
