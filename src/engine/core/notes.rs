//! Events for the recording, sentences for the screen, questions for the rider.

use super::Core;
use crate::engine::notices::Urgency;
use crate::engine::snapshot::Question;
use crate::record::{Kept, MARK, MOST_MARKS, Note, RideEvent};
use crate::time::{Instant, Span};
use crate::units::Effort;

/// A rating is asked for after blocks of three minutes and more.
const RATED_BLOCK: Span = Span::from_seconds(180);

/// In a recovery shorter than this the question waits.
const QUIET_RECOVERY: Span = Span::from_seconds(60);

impl Core {
    /// A line for `events.csv`.
    pub(super) fn event(&mut self, now: Instant, what: &'static str, detail: &str) {
        let ridden = self.ride.as_ref().map_or_else(
            || self.ridden_before(),
            |ride| ride.runner.ridden(now).seconds(),
        );
        let event = RideEvent {
            ridden_s: ridden,
            plan_s: self.plan_seconds(now),
            utc_ms: self.utc_ms(now),
            what,
            detail: detail.to_owned(),
        };
        self.keep(Kept::Event(event));
    }

    pub(super) fn plan_seconds(&self, now: Instant) -> f64 {
        let Some((ride, choice)) = self.ride.as_ref().zip(self.choice.as_ref()) else {
            return self.plan_before();
        };
        let Some(place) = ride.runner.place(now) else {
            return choice.plan.length().seconds();
        };
        let block = ride.runner.timeline().laps()[place.lap].block;
        let before: Span = choice.plan.blocks[..block]
            .iter()
            .map(|block| block.length)
            .sum();
        before.seconds() + place.into.seconds()
    }

    /// A sentence for the screen, which stands for some seconds.
    pub(super) fn say(&mut self, now: Instant, sentence: String) {
        self.notices.say(now, sentence, Urgency::News);
    }

    /// A sentence that comes before mere news.
    pub(super) fn say_first(&mut self, now: Instant, sentence: String, urgency: Urgency) {
        self.notices.say(now, sentence, urgency);
    }

    /// Passes on what the runner did by itself, and asks for a rating when a long block is over.
    pub(super) fn tell_happenings(&mut self, now: Instant) {
        let Some(ride) = &mut self.ride else { return };
        let happenings = ride.runner.take_happenings();
        for happening in happenings {
            self.event(now, happening.what, &happening.detail);
            if happening.say {
                let urgency = if happening.what == "guard" {
                    Urgency::Acting
                } else {
                    Urgency::News
                };
                self.say_first(now, happening.detail, urgency);
            }
        }
        self.ask_for_rating(now);
    }

    fn ask_for_rating(&mut self, now: Instant) {
        let Some((ride, choice)) = self.ride.as_mut().zip(self.choice.as_ref()) else {
            return;
        };
        let here = ride.runner.place(now).map(|place| place.lap);
        if here == ride.lap {
            return;
        }
        let before = std::mem::replace(&mut ride.lap, here);
        let laps = ride.runner.timeline().laps();
        if let Some(before) = before
            && laps[before].length >= RATED_BLOCK
            && choice.plan.blocks[laps[before].block].kind.is_work()
        {
            let block = laps[before].block;
            ride.question = Some(Question::RateBlock(block));
            ride.tally.ask(block);
        }
    }

    /// The question to show now: one that waits is not shown in a short recovery, nor in work.
    pub(super) fn question(&self, now: Instant) -> Option<Question> {
        let (ride, choice) = self.ride.as_ref().zip(self.choice.as_ref())?;
        let question = ride.question?;
        if !self.mode.under_way() {
            return Some(question);
        }
        let Some(place) = ride.runner.place(now) else {
            return Some(question);
        };
        let lap = ride.runner.timeline().laps()[place.lap];
        let work = choice.plan.blocks[lap.block].kind.is_work();
        (!work && lap.length >= QUIET_RECOVERY).then_some(question)
    }

    /// Keeps this moment under the next number. It says so and does nothing else: no mark may change what the brake does.
    pub(super) fn mark(&mut self, now: Instant) {
        if !self.mode.under_way() {
            return;
        }
        let Some(ride) = &mut self.ride else { return };
        if ride.marks >= MOST_MARKS {
            self.say(
                now,
                kept!(
                    "{most} moments are marked, and no ride keeps more: this one is not.",
                    most = MOST_MARKS
                ),
            );
            return;
        }
        ride.marks += 1;
        let number = ride.marks;
        self.event(now, MARK, &number.to_string());
        self.say(now, kept!("Mark {number} kept."));
    }

    /// Takes the answer to a question.
    pub(super) fn rate(&mut self, now: Instant, rating: Effort) {
        let Some(question) = self.question(now) else {
            return;
        };
        if crate::units::legal::RATING.check(rating.0).is_err() {
            return;
        }
        let block = match question {
            Question::RateBlock(block) => u32::try_from(block + 1).ok(),
            Question::RateSession => None,
        };
        if let Some(ride) = &mut self.ride {
            ride.question = None;
            ride.tally.rate(question, rating);
        }
        self.keep(Kept::Note(Note {
            utc_ms: self.utc_ms(now),
            block,
            what: "rating",
            rating: Some(rating),
            text: String::new(),
        }));
    }
}
