//! What the plan asks for a little later, so that a rise can be sent ahead of its beat.

use super::{Facts, Runner};
use crate::plan::{Kind, Target};
use crate::ride::build_up::BuildUp;
use crate::ride::chain::Chain;
use crate::ride::ledger::Stage;
use crate::ride::load;
use crate::ride::timeline::Place;
use crate::ride::want::{self, Want};
use crate::time::{Instant, Span};
use crate::units::Watts;

/// A load on its way through the first stages of the ledger.
pub(super) struct Built {
    pub(super) chain: Chain,
    /// How far ahead of its moment it is looked at.
    pub(super) lead: Span,
    /// Whether it is on its way to another value.
    pub(super) on_its_way: bool,
    /// Whether it belongs to a sprint, which rises as fast as it may.
    pub(super) sprint: bool,
}

impl Runner {
    /// The load that the plan asks for by the time at which a command sent now is answered; none where nothing is sent
    /// ahead. `stands` is the load of this moment, from which the next block is built up.
    ///
    /// It is for rises alone: the caller takes it only where it is more than what is asked for now.
    pub(super) fn ahead(
        &self,
        now: Instant,
        place: Place,
        stands: f64,
        facts: &Facts,
    ) -> Option<Built> {
        // While the heart limits the load, nothing more is asked for before its time; nor in a return from a release.
        if self.lead.most() == Span::ZERO
            || self.ease.limits_by_heart()
            || self.heart_lost
            || self.build.left_from_nothing(now) > Span::ZERO
        {
            return None;
        }
        let here = self.block_ahead(now, place, facts);
        let next = self.next_block_ahead(now, place, stands, facts);
        match (here, next) {
            (Some(here), Some(next)) if here.chain.value() >= next.chain.value() => Some(here),
            (here, next) => next.or(here),
        }
    }

    /// Later in this block: its line, and what is left of its build-up.
    fn block_ahead(&self, now: Instant, place: Place, facts: &Facts) -> Option<Built> {
        let lead = self.lead.ramp;
        let block = self.block_at(place);
        let length = (place.into + place.left).seconds().max(f64::MIN_POSITIVE);
        let into = (place.into + lead).seconds();
        let share = (into / length).min(1.0);
        let watts = self.held_watts(place.lap, share, facts)?;
        let mut chain =
            Chain::from_plan(watts.0, entry!("the session, ahead by the brake's answer"));
        chain.then(
            Stage::Trim,
            watts.0 * self.trim_factor(block.kind),
            entry!("today's trim"),
        );
        let (eased, why) = self.ease_now().of(chain.value());
        chain.then(Stage::EaseDown, eased, why);
        let wanted = chain.value();
        let built = self.build.ahead(now, lead, wanted);
        chain.then(Stage::BuildUp, built, entry!("the load is on its way"));
        let line = matches!(block.target, Target::Line(..)) && share < 1.0;
        Some(Built {
            chain,
            lead,
            on_its_way: line || built != wanted,
            sprint: block.kind == Kind::Sprint,
        })
    }

    /// The beginning of the next block, where a command sent now is answered after its beat.
    fn next_block_ahead(
        &self,
        now: Instant,
        place: Place,
        stands: f64,
        facts: &Facts,
    ) -> Option<Built> {
        let next = self.timeline.next(place.lap)?;
        let rise_over = self.rise_over(next);
        let lead = if rise_over == Span::ZERO {
            self.lead.step
        } else {
            self.lead.ramp
        };
        if place.left > lead {
            return None;
        }
        let lap = self.timeline.laps()[next];
        let into = lead.less(place.left);
        let share = (into.seconds() / lap.length.seconds()).min(1.0);
        let watts = self.held_watts(next, share, facts)?;
        let kind = self.plan.blocks[lap.block].kind;
        let mut chain = Chain::from_plan(
            watts.0,
            entry!("the next block, ahead by the brake's answer"),
        );
        chain.then(
            Stage::Trim,
            watts.0 * self.trim_factor(kind),
            entry!("today's trim"),
        );
        let wanted = chain.value();
        // Built up from what stands, but never on the way down: the caller would not take it.
        let build = BuildUp::new(stands, now + place.left, rise_over);
        let built = if wanted > stands {
            build.at(now + lead, wanted)
        } else {
            stands
        };
        chain.then(Stage::BuildUp, built, entry!("the load is on its way"));
        Some(Built {
            chain,
            lead,
            on_its_way: built != wanted,
            sprint: kind == Kind::Sprint,
        })
    }

    /// How long a rise takes at the beginning of a lap.
    fn rise_over(&self, lap: usize) -> Span {
        load::rise_over(&self.plan.blocks[self.timeline.laps()[lap].block])
    }

    /// The watts that a lap wants held at `share` of its length; all out is as much as its cap.
    fn held_watts(&self, lap: usize, share: f64, facts: &Facts) -> Option<Watts> {
        let block = &self.plan.blocks[self.timeline.laps()[lap].block];
        match want::want(block, share, &self.rider, self.ride_mode, &facts.offer) {
            Want::Power(watts) => Some(watts),
            Want::MostPower => Some(load::cap(block, &self.rider)),
            _ => None,
        }
    }

    /// When something is next to be sent ahead, and whether that is under way already.
    pub(super) fn ahead_due(&self, now: Instant, place: Place) -> Option<Instant> {
        let next = self.timeline.next(place.lap)?;
        let lead = if self.rise_over(next) == Span::ZERO {
            self.lead.step
        } else {
            self.lead.ramp
        };
        if lead == Span::ZERO {
            None
        } else if place.left > lead {
            Some(now + place.left.less(lead))
        } else {
            Some(now + super::RAMP_STEP)
        }
    }
}
