//! A threshold test under way: its seconds are gathered, its end is recognised, and what it found is proposed.
//!
//! Nothing here changes the rider: a value is proposed once the ride is over, and the window saves it where the rider
//! says so. Caps are never touched.

use std::sync::Arc;

use super::Core;
use crate::engine::snapshot::TestOutcome;
use crate::plan::{Plan, ThresholdTest};
use crate::record::{Kept, Note, Row};
use crate::ride::threshold_test::{Known, TestSecond, find};
use crate::ride::{Facts, Mode};
use crate::rider::Rider;
use crate::time::{Instant, Span};
use crate::units::{BrakeTarget, Rpm};

/// A cadence under the band for so long is the end of the steps, as it is reason for an ease-down (rules of the ride).
const UNDER_BAND_FOR: Span = Span::from_seconds(10);
/// The legs may still be settling so long after the first step begins. Our own choice.
const SETTLING: Span = Span::from_seconds(20);
/// Where a step asks for no cadence.
const LEAST_CADENCE: Rpm = Rpm(60.0);
/// Two hours of test at most are kept; what comes after is left out, and no test is as long.
const MOST_SECONDS: usize = 7_200;

/// A test under way.
#[derive(Debug)]
pub(super) struct TestWatch {
    test: ThresholdTest,
    seconds: Vec<TestSecond>,
    began: Option<Instant>,
    under_since: Option<Instant>,
    exhausted: bool,
    outcome: Option<Arc<TestOutcome>>,
}

impl TestWatch {
    /// For a session that is a test.
    pub(super) fn of(plan: &Plan) -> Option<Self> {
        plan.test.map(|test| Self {
            test,
            seconds: Vec::new(),
            began: None,
            under_since: None,
            exhausted: false,
            outcome: None,
        })
    }
}

impl Core {
    /// The test whose own block is ridden now.
    fn tested_now(&self, now: Instant) -> Option<ThresholdTest> {
        let (ride, choice) = self.ride.as_ref().zip(self.choice.as_ref())?;
        let test = ride.test.as_ref()?.test;
        let place = ride.runner.place(now)?;
        let block = ride.runner.timeline().laps()[place.lap].block;
        (self.mode.under_way() && choice.plan.is_tested(block)).then_some(test)
    }

    /// Keeps a second of the test's own blocks.
    pub(super) fn gather_test(&mut self, row: &Row) {
        let Some((ride, choice)) = self.ride.as_mut().zip(self.choice.as_ref()) else {
            return;
        };
        let block = usize::try_from(row.block)
            .unwrap_or(usize::MAX)
            .wrapping_sub(1);
        let Some(watch) = &mut ride.test else { return };
        if !choice.plan.is_tested(block) || watch.seconds.len() >= MOST_SECONDS {
            return;
        }
        let (held, stands) = match row.brake {
            Some(BrakeTarget::Power(watts)) => (Some(watts.0), None),
            Some(other) => (None, Some(other.value())),
            None => (None, None),
        };
        watch.seconds.push(TestSecond {
            utc_ms: row.utc_ms,
            block,
            power: row.power.map(|power| power.0),
            cadence: row.cadence.map(|cadence| cadence.0),
            lane: row.lane.map(|lane| lane.0),
            held,
            stands,
        });
    }

    /// Looks whether the rider of a step test can go on: legs that stall, or stay under their band, cannot.
    pub(super) fn tend_test(&mut self, now: Instant, facts: &Facts) {
        if self.tested_now(now) != Some(ThresholdTest::Step) || !self.mode.runs() {
            if let Some(watch) = self.ride.as_mut().and_then(|ride| ride.test.as_mut()) {
                watch.under_since = None;
            }
            return;
        }
        let (Some(ride), Some(choice)) = (&mut self.ride, &self.choice) else {
            return;
        };
        let Some(place) = ride.runner.place(now) else {
            return;
        };
        let block = &choice.plan.blocks[ride.runner.timeline().laps()[place.lap].block];
        let low = block.cadence.map_or(LEAST_CADENCE, |band| band.low);
        let stalls = ride.runner.is_stalling();
        let Some(watch) = &mut ride.test else { return };
        let began = *watch.began.get_or_insert(now);
        let under = facts.cadence.is_some_and(|cadence| cadence < low);
        watch.under_since = if under {
            watch.under_since.or(Some(now))
        } else {
            None
        };
        let fell = watch
            .under_since
            .is_some_and(|since| now.since(since) >= UNDER_BAND_FOR);
        if stalls || (fell && now.since(began) >= SETTLING) {
            self.end_steps(now);
        }
    }

    /// When a cadence under its band will have ended the steps.
    pub(super) fn test_due(&self) -> Option<Instant> {
        let watch = self.ride.as_ref()?.test.as_ref()?;
        watch.under_since.map(|since| since + UNDER_BAND_FOR)
    }

    /// The hand ends the steps: skip, brake off and the end of the ride all say that the rider cannot go on. True where
    /// there were steps to end.
    pub(super) fn end_steps_by_hand(&mut self, now: Instant) -> bool {
        let steps = self.tested_now(now) == Some(ThresholdTest::Step);
        if steps {
            self.end_steps(now);
        }
        steps
    }

    /// The steps are over: on to what follows them, whose load falls as a recovery's does.
    fn end_steps(&mut self, now: Instant) {
        let (Some(ride), Some(choice)) = (&mut self.ride, &self.choice) else {
            return;
        };
        let plan = Arc::clone(&choice.plan);
        ride.runner.leave_while(now, |block| plan.is_tested(block));
        ride.undo_until = None;
        if let Some(watch) = &mut ride.test {
            watch.exhausted = true;
            watch.under_since = None;
        }
        let words = entry!("The steps are over. Keep the legs turning, easily.");
        self.event(now, "test-over", words);
        self.say(now, words.to_owned());
    }

    /// The ride is over: what the test found, or why it found nothing.
    pub(super) fn judge_test(&mut self) {
        let (Some(ride), Some(choice)) = (&mut self.ride, &self.choice) else {
            return;
        };
        let Some(watch) = &mut ride.test else { return };
        let rider = &choice.rider;
        let tested = (0..choice.plan.blocks.len()).find(|&block| choice.plan.is_tested(block));
        let known = Known {
            w_prime: rider.w_prime,
            w_prime_checked: !rider.unconfirmed.iter().any(|key| key == "w_prime"),
            exhausted: watch.exhausted,
            band: tested.and_then(|block| choice.plan.blocks[block].cadence),
        };
        watch.outcome = Some(Arc::new(TestOutcome {
            test: watch.test,
            found: find(watch.test, &watch.seconds, &known),
            before: rider.threshold,
            w_prime_before: rider.w_prime,
            taken: None,
        }));
    }

    /// The rider takes what the test found, or does not; kept beside the recording either way.
    pub(super) fn answer_test(&mut self, now: Instant, take: bool) {
        if !matches!(self.mode, Mode::Finished(_)) {
            return;
        }
        let Some(watch) = self.ride.as_mut().and_then(|ride| ride.test.as_mut()) else {
            return;
        };
        let Some(outcome) = watch.outcome.as_ref().filter(|told| told.taken.is_none()) else {
            return;
        };
        let Ok(found) = &outcome.found else { return };
        let (value, give) = (found.threshold, found.give);
        let (before, method) = (outcome.before, &found.method);
        let text = if take {
            kept!("{value} taken as threshold, give or take {give}; it was {before}. {method}")
        } else {
            kept!(
                "{value} proposed and not taken as threshold, give or take {give}; it was {before}. {method}"
            )
        };
        watch.outcome = Some(Arc::new(TestOutcome {
            taken: Some(take),
            ..TestOutcome::clone(outcome)
        }));
        self.keep(Kept::Note(Note {
            utc_ms: self.utc_ms(now),
            block: None,
            what: "threshold",
            rating: None,
            text,
        }));
    }

    /// What the screen is told once the ride is over.
    pub(super) fn test_outcome(&self) -> Option<Arc<TestOutcome>> {
        let over = matches!(self.mode, Mode::Finished(_));
        let watch = self.ride.as_ref()?.test.as_ref()?;
        watch.outcome.clone().filter(|_| over)
    }

    /// What keeps a test from giving a value, before it is ridden, a sentence each.
    pub(super) fn missing_for_test(&self) -> Vec<String> {
        let Some(choice) = &self.choice else {
            return Vec::new();
        };
        let (plan, rider): (&Plan, &Rider) = (&choice.plan, &choice.rider);
        let Some(test) = plan.test else {
            return Vec::new();
        };
        let mut missing = Vec::new();
        let offer = self.offer();
        let in_hand = self.control.granted();
        match test {
            ThresholdTest::Step => {
                if choice.mode != crate::ride::RideMode::TargetPower {
                    missing.push(
                        entry!("A step test is ridden by target power: choose that mode.")
                            .to_owned(),
                    );
                }
                if in_hand && offer.power.is_none() {
                    missing.push(
                        entry!(
                            "This trainer takes no target power, so the step test gives no value on it. The \
                             three-minute test may."
                        )
                            .to_owned(),
                    );
                }
                let most = (0..plan.blocks.len())
                    .filter(|&block| plan.is_tested(block))
                    .filter_map(|block| plan.blocks[block].target.greatest())
                    .filter_map(|load| crate::rider::lane(&load, rider))
                    .fold(0.0, |most: f64, watts| most.max(watts.0));
                if most > rider.power_cap.0 {
                    missing.push(kept!(
                        "Your power cap of {cap} holds the last steps down. Should you come so far, the test gives no value; the cap is yours to change.",
                        cap = rider.power_cap
                    ));
                }
            }
            ThresholdTest::ThreeMinutes => {
                if in_hand && offer.level.is_none() && offer.slope.is_none() {
                    missing.push(
                        entry!(
                            "This trainer takes no resistance that would stand, neither level nor slope, so the \
                             three-minute test gives no value on it. The step test may."
                        )
                            .to_owned(),
                    );
                }
            }
        }
        if !in_hand
            && self
                .links
                .used_for(crate::engine::command::Role::Trainer)
                .is_none()
        {
            missing.push(entry!("A threshold test needs a trainer.").to_owned());
        }
        missing
    }
}
