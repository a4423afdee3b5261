//! Rows and ink: what stood during each ridden second.

use super::{Core, INK_POINTS, INK_STEP};
use crate::engine::command::Role;
use crate::engine::snapshot::{InkPoint, RecordState};
use crate::plan::Kind;
use crate::record::{Kept, Row};
use crate::ride::{Facts, RideMode, Runner};
use crate::time::{Instant, Span};

impl Core {
    /// Values that stand from now on, for the means of the row; none while the clock stands. Ink beside it.
    pub(super) fn stand(&mut self, now: Instant, facts: &Facts) {
        let runs = self.mode.runs();
        let could = self.could(now).filter(|_| runs);
        let sources = self.links.sources(now);
        let Some(ride) = &mut self.ride else { return };
        ride.rows.could(now, could);
        ride.rows.from(sources);
        let of = |value: bool| value.then_some(());
        ride.rows.stand(
            now,
            of(runs).and(facts.power),
            of(runs).and(facts.cadence),
            of(runs).and(facts.speed),
        );
        let place = ride.runner.place(now);
        let block = place.zip(self.choice.as_ref()).and_then(|(place, choice)| {
            let lap = ride.runner.timeline().laps()[place.lap];
            choice.plan.blocks.get(lap.block)
        });
        if let (Some(place), Some(block)) = (place, block) {
            let power = of(runs).and(facts.power);
            ride.last_like.see(now, place.lap, block, place.into, power);
        }
        if runs && now >= ride.ink_due {
            let lane = match ride.runner.ride_mode() {
                RideMode::TargetPower => ride.runner.drawn_lane(now),
                RideMode::EffortOnly => block.and_then(|block| ride.last_like.of(block)),
            };
            if ride.ink.len() == INK_POINTS {
                ride.ink.pop_front();
            }
            let point = InkPoint {
                at: ride.runner.session(now),
                power: facts.power,
                cadence: facts.cadence,
                lane,
            };
            ride.ink.push_back(point);
            ride.ink_due = now + INK_STEP;
        }
    }

    /// Writes a row for every ridden second that is over.
    pub(super) fn close_seconds(&mut self, now: Instant) {
        while let Some(ride) = &mut self.ride {
            let Some(due) = ride.runner.clock().reaches(ride.rows.due()) else {
                return;
            };
            // The second that ends with the session is a whole one; none begins after it.
            if due > now
                || ride.rows.due() + ride.runner.jumped() > ride.runner.timeline().length()
                || !self.mode.under_way()
            {
                return;
            }
            let second = ride.rows.close(due);
            let mut row = self.row(due);
            second.fill(&mut row);
            let in_hand = self.control.granted() && self.offer().any();
            self.gather_test(&row);
            if let Some(ride) = &mut self.ride {
                ride.tally.row(&row, in_hand);
            }
            if let RecordState::Writing(_, rows) = &mut self.record {
                *rows = second.number;
            }
            self.keep(Kept::Row(Box::new(row)));
        }
    }

    /// The row of the second that ends at `at`, without the second's own means.
    fn row(&self, at: Instant) -> Row {
        // The second belongs to the block in which it began: a hair before its end.
        let inside = at - Span(1);
        let runner = self.ride.as_ref().map(|ride| &ride.runner);
        let place = runner.and_then(|runner| runner.place(inside));
        let plan = self.choice.as_ref().map(|choice| &choice.plan);
        let block = runner.zip(place).map_or(0, |(runner, place)| {
            runner.timeline().laps()[place.lap].block
        });
        let written_start: Span = plan.map_or(Span::ZERO, |plan| {
            plan.blocks[..block].iter().map(|b| b.length).sum()
        });
        let into = place.map_or(0.0, |place| place.into.seconds());
        Row {
            ridden_s: 0,
            plan_s: written_start.seconds() + into + 1e-6,
            utc_ms: self.utc_ms(at),
            block: u32::try_from(block + 1).unwrap_or(u32::MAX),
            kind: plan.map_or(Kind::Free, |plan| plan.blocks[block].kind),
            mode: runner.map(Runner::ride_mode).unwrap_or_default(),
            effort: runner.and_then(|runner| runner.effort(inside)),
            lane: runner.and_then(|runner| runner.lane(inside)),
            brake: self.brake,
            released: self.control.granted().then(|| self.control.released()),
            could: None,
            power: None,
            cadence: None,
            heart_rate: self.links.heart_rate(at).reading(at).fresh(),
            speed: self.links.speed(at).reading(at).fresh(),
            distance: None,
            w_balance: None,
            power_from: None,
            cadence_from: None,
            heart_rate_from: self.links.sources(at).heart_rate.map(Role::key),
        }
    }
}
