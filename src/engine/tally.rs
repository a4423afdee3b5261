//! What a ride came to, counted while it is ridden: how complete its recording is, its means, its ratings, and the ink
//! of the whole of it.

use std::sync::Arc;

use crate::engine::snapshot::{InkPoint, Question};
use crate::record::Row;
use crate::ride::PauseCause;
use crate::time::{Instant, Span};
use crate::units::{Bpm, Effort, Rpm, Watts};

/// The ink of a whole ride has so many points at most: when it is full, neighbours are put together in pairs and each
/// point stands for twice as long. A ride of eight minutes keeps every second, one of four hours every half minute.
pub const MOST_INK: usize = 480;

/// How often what was passed over is kept apart; further jumps take the last one's place, and the ink lies where that says.
const MOST_JUMPS: usize = 64;

/// More missing seconds than this in a row are a gap.
const GAP: u64 = 3;

/// One quantity over a whole ride.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Channel {
    /// Seconds in which it was measured.
    pub seconds: u64,
    /// How often it was missing for more than three seconds together.
    pub gaps: u32,
    /// The longest of these gaps, seconds.
    pub longest: u64,
    /// The mean over the seconds measured; none where there are none.
    pub mean: Option<f64>,
    /// The greatest of the seconds' values.
    pub most: Option<f64>,
}

/// Counts one quantity.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
struct Counter {
    told: Channel,
    sum: f64,
    /// Missing seconds since the last one measured.
    missing: u64,
}

impl Counter {
    fn second(&mut self, value: Option<f64>) {
        let Some(value) = value else {
            self.missing += 1;
            return;
        };
        self.end_gap();
        self.told.seconds += 1;
        self.sum += value;
        self.told.mean = Some(self.sum / self.told.seconds as f64);
        self.told.most = Some(self.told.most.map_or(value, |most| most.max(value)));
    }

    fn end_gap(&mut self) {
        if self.missing > GAP {
            self.told.gaps += 1;
            self.told.longest = self.told.longest.max(self.missing);
        }
        self.missing = 0;
    }

    /// As it stands, a gap that is still open counted.
    fn channel(mut self) -> Channel {
        self.end_gap();
        self.told
    }
}

/// The pauses of one cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Pauses {
    /// Why the clock stood.
    pub cause: PauseCause,
    /// How often.
    pub count: u32,
    /// How long altogether, by the wall.
    pub stood: Span,
}

/// How the trainer's brake was left.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum BrakeLeft {
    /// No brake was set in this ride.
    #[default]
    Never,
    /// It is being let off.
    LettingOff,
    /// The trainer confirmed that it is let off.
    Released,
    /// It was not confirmed: the trainer may hold its last load.
    MayHold,
}

/// What a ride came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Summary {
    /// Seconds ridden that became rows.
    pub rows: u64,
    /// Entries of the recording that were lost because the disk did not keep up.
    pub lost: u64,
    /// Power.
    pub power: Channel,
    /// Cadence.
    pub cadence: Channel,
    /// Heart rate.
    pub heart_rate: Channel,
    /// The pauses, by cause, in the order in which each cause first came.
    pub pauses: Vec<Pauses>,
    /// Seconds ridden in which the brake could be set.
    pub in_hand: u64,
    /// How the brake was left.
    pub brake_left: BrakeLeft,
    /// The blocks whose rating was asked for, by their index in the plan, with the answer where there was one.
    pub ratings: Vec<(usize, Option<Effort>)>,
    /// The rating of the whole session.
    pub session_rating: Option<Effort>,
    /// The whole ride's ink, at most [`MOST_INK`] points, each the mean of its seconds.
    pub ink: Arc<[InkPoint]>,
    /// For how long each point stands.
    pub ink_step: Span,
}

/// Seconds put together as one point. A value is kept where at least half of its seconds have one, so that a gap stays a
/// gap.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
struct Bin {
    seconds: u32,
    power: (f64, u32),
    cadence: (f64, u32),
    lane: (f64, u32),
}

impl Bin {
    fn add(&mut self, other: &Self) {
        self.seconds += other.seconds;
        for (mine, theirs) in [
            (&mut self.power, other.power),
            (&mut self.cadence, other.cadence),
            (&mut self.lane, other.lane),
        ] {
            mine.0 += theirs.0;
            mine.1 += theirs.1;
        }
    }

    fn point(&self, start: u64) -> InkPoint {
        let mean = |(sum, count): (f64, u32)| {
            (count > 0 && count * 2 >= self.seconds).then(|| sum / f64::from(count))
        };
        InkPoint {
            at: Span::from_seconds_f64(start as f64 + f64::from(self.seconds) / 2.0),
            power: mean(self.power).map(Watts),
            cadence: mean(self.cadence).map(Rpm),
            lane: mean(self.lane).map(Watts),
        }
    }
}

/// Counts while it is ridden.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Tally {
    power: Counter,
    cadence: Counter,
    heart_rate: Counter,
    rows: u64,
    lost: u64,
    in_hand: u64,
    /// At most one a cause.
    pauses: Vec<Pauses>,
    paused: Option<(Instant, PauseCause)>,
    /// At most one a block of the plan.
    ratings: Vec<(usize, Option<Effort>)>,
    session_rating: Option<Effort>,
    /// At most [`MOST_INK`].
    bins: Vec<Bin>,
    /// From which row on so much of the session was passed over, in order. At most [`MOST_JUMPS`].
    jumps: Vec<(u64, Span)>,
    step: u64,
}

impl Default for Tally {
    fn default() -> Self {
        Self {
            power: Counter::default(),
            cadence: Counter::default(),
            heart_rate: Counter::default(),
            rows: 0,
            lost: 0,
            in_hand: 0,
            pauses: Vec::new(),
            paused: None,
            ratings: Vec::new(),
            session_rating: None,
            bins: Vec::new(),
            jumps: Vec::new(),
            step: 1,
        }
    }
}

impl Tally {
    /// A second is over and became a row; `in_hand` says whether the brake could be set in it.
    pub fn row(&mut self, row: &Row, in_hand: bool) {
        self.rows += 1;
        self.in_hand += u64::from(in_hand);
        self.power.second(row.power.map(Watts::get));
        self.cadence.second(row.cadence.map(Rpm::get));
        self.heart_rate.second(row.heart_rate.map(Bpm::get));
        let one = |value: Option<f64>| (value.unwrap_or(0.0), u32::from(value.is_some()));
        let second = Bin {
            seconds: 1,
            power: one(row.power.map(Watts::get)),
            cadence: one(row.cadence.map(Rpm::get)),
            lane: one(row.lane.map(Watts::get)),
        };
        match self.bins.last_mut() {
            Some(last) if u64::from(last.seconds) < self.step => last.add(&second),
            _ => {
                if self.bins.len() == MOST_INK {
                    self.halve();
                }
                self.bins.push(second);
            }
        }
    }

    /// Neighbours become one; every bin is full when this is called, and their number is even.
    fn halve(&mut self) {
        self.step *= 2;
        self.bins = self
            .bins
            .chunks(2)
            .map(|pair| {
                let mut whole = Bin::default();
                for bin in pair {
                    whole.add(bin);
                }
                whole
            })
            .collect();
    }

    /// From here on the session is so much further on than what was ridden.
    pub fn jump(&mut self, jumped: Span) {
        if self.jumps.len() == MOST_JUMPS {
            self.jumps.pop();
        }
        self.jumps.push((self.rows, jumped));
    }

    /// How much of the session was passed over before a ridden second.
    fn jumped(&self, second: u64) -> Span {
        let jumps = self.jumps.iter().rev();
        let mut before = jumps.skip_while(|(row, _)| *row > second);
        before.next().map_or(Span::ZERO, |(_, jumped)| *jumped)
    }

    /// So many entries of the recording were lost.
    pub fn lose(&mut self, count: u64) {
        self.lost = self.lost.saturating_add(count);
    }

    /// The clock stands from `at` on. A pause within a pause goes on under its first cause.
    pub fn pause(&mut self, at: Instant, cause: PauseCause) {
        if self.paused.is_some() {
            return;
        }
        self.paused = Some((at, cause));
        self.of(cause).count += 1;
    }

    /// The clock runs on, or the ride is over.
    pub fn resume(&mut self, now: Instant) {
        if let Some((since, cause)) = self.paused.take() {
            self.of(cause).stood += now.since(since);
        }
    }

    /// The computer slept, while the monotonic clock stood as well.
    pub fn slept(&mut self, span: Span) {
        if let Some((_, cause)) = self.paused {
            self.of(cause).stood += span;
        }
    }

    fn of(&mut self, cause: PauseCause) -> &mut Pauses {
        let at = self
            .pauses
            .iter()
            .position(|pauses| pauses.cause == cause)
            .unwrap_or_else(|| {
                self.pauses.push(Pauses {
                    cause,
                    count: 0,
                    stood: Span::ZERO,
                });
                self.pauses.len() - 1
            });
        &mut self.pauses[at]
    }

    /// The rating of a block is asked for.
    pub fn ask(&mut self, block: usize) {
        if self.ratings.iter().all(|(asked, _)| *asked != block) {
            self.ratings.push((block, None));
        }
    }

    /// A rating was given.
    pub fn rate(&mut self, question: Question, rating: Effort) {
        match question {
            Question::RateSession => self.session_rating = Some(rating),
            Question::RateBlock(block) => {
                self.ask(block);
                for (asked, answer) in &mut self.ratings {
                    if *asked == block {
                        *answer = Some(rating);
                    }
                }
            }
        }
    }

    /// What it came to so far.
    pub fn summary(&self, brake_left: BrakeLeft) -> Summary {
        let mut start = 0;
        let ink = self.bins.iter().map(|bin| {
            let mut point = bin.point(start);
            point.at += self.jumped(start);
            start += u64::from(bin.seconds);
            point
        });
        Summary {
            ink: ink.collect(),
            rows: self.rows,
            lost: self.lost,
            power: self.power.channel(),
            cadence: self.cadence.channel(),
            heart_rate: self.heart_rate.channel(),
            pauses: self.pauses.clone(),
            in_hand: self.in_hand,
            brake_left,
            ratings: self.ratings.clone(),
            session_rating: self.session_rating,
            ink_step: Span::from_seconds(self.step),
        }
    }

    /// Seconds ridden in which the brake could be set.
    pub const fn in_hand(&self) -> u64 {
        self.in_hand
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::plan::Kind;
    use crate::ride::RideMode;

    fn row(second: u64, power: Option<f64>) -> Row {
        Row {
            could: None,
            ridden_s: second,
            plan_s: second as f64,
            utc_ms: 0,
            block: 1,
            kind: Kind::Hold,
            mode: RideMode::TargetPower,
            effort: None,
            lane: Some(Watts(100.0)),
            brake: None,
            released: None,
            power: power.map(Watts),
            cadence: None,
            heart_rate: (second > 10).then_some(Bpm(second as f64)),
            speed: None,
            distance: None,
            w_balance: None,
            power_from: None,
            cadence_from: None,
            heart_rate_from: None,
        }
    }

    #[test]
    fn gaps_longer_than_three_seconds_are_counted_and_shorter_ones_are_not() {
        let mut tally = Tally::default();
        // Three missing, then four, then at the end five.
        let missing = |n: u64| matches!(n, 5..=7 | 20..=23 | 36..=40);
        for n in 1..=40 {
            tally.row(&row(n, (!missing(n)).then_some(n as f64)), n <= 30);
        }
        let told = tally.summary(BrakeLeft::Released);
        assert_eq!((told.rows, told.in_hand), (40, 30));
        // 1 to 40 add up to 820; 5+6+7, 20 to 23 and 36 to 40 are 18, 86 and 190.
        assert_eq!(
            told.power,
            Channel {
                seconds: 28,
                gaps: 2,
                longest: 5,
                mean: Some(526.0 / 28.0),
                most: Some(35.0),
            }
        );
        assert_eq!(told.cadence.seconds, 0);
        assert_eq!(told.cadence.mean, None);
        // Ten seconds before the strap spoke are a gap too.
        assert_eq!((told.heart_rate.seconds, told.heart_rate.gaps), (30, 1));
        assert_eq!(told.heart_rate.most, Some(40.0));
    }

    #[test]
    fn the_ink_of_four_hours_is_a_few_hundred_points_and_covers_all_of_it() {
        let mut tally = Tally::default();
        for n in 1..=14_400u64 {
            // A ramp: each point's mean is then its own middle.
            let gone = (7_000..7_200).contains(&n);
            tally.row(&row(n, (!gone).then_some(n as f64 - 0.5)), true);
        }
        let told = tally.summary(BrakeLeft::Never);
        // 480 seconds, doubled until 14 400 fit: 32 s a point.
        assert_eq!(told.ink_step, Span::from_seconds(32));
        assert_eq!(told.ink.len(), 450);
        for point in told.ink.iter() {
            let at = point.at.seconds();
            if let Some(power) = point.power {
                // Points beside the gap are means of the seconds they have.
                let near = (6_960.0..7_240.0).contains(&at);
                assert!(near || (power.0 - at).abs() < 1e-6, "{point:?}");
            } else {
                assert!((6_980.0..7_220.0).contains(&at), "{point:?}");
            }
            assert_eq!(point.lane, Some(Watts(100.0)));
        }
        let gaps = told.ink.iter().filter(|point| point.power.is_none());
        assert!((5..=7).contains(&gaps.count()));
    }

    #[test]
    fn pauses_add_up_by_cause() {
        let at = |seconds: u64| Instant(seconds * 1_000_000);
        let mut tally = Tally::default();
        tally.pause(at(10), PauseCause::PedalsStopped);
        tally.resume(at(25));
        tally.resume(at(26));
        tally.pause(at(30), PauseCause::Gap);
        // Within the pause: not another one.
        tally.pause(at(31), PauseCause::Rider);
        tally.slept(Span::from_seconds(600));
        tally.resume(at(32));
        tally.slept(Span::from_seconds(5));
        tally.pause(at(40), PauseCause::PedalsStopped);
        tally.resume(at(41));
        let told = tally.summary(BrakeLeft::Never).pauses;
        let told: Vec<_> = told
            .iter()
            .map(|pauses| (pauses.cause, pauses.count, pauses.stood.whole_seconds()))
            .collect();
        assert_eq!(
            told,
            [
                (PauseCause::PedalsStopped, 2, 16),
                (PauseCause::Gap, 1, 602)
            ]
        );
    }

    #[test]
    fn ratings_keep_the_blocks_that_were_asked_for_and_not_answered() {
        let mut tally = Tally::default();
        tally.ask(1);
        tally.ask(3);
        tally.rate(Question::RateBlock(3), Effort(7.0));
        tally.rate(Question::RateBlock(5), Effort(8.0));
        tally.rate(Question::RateSession, Effort(6.0));
        let told = tally.summary(BrakeLeft::Never);
        assert_eq!(
            told.ratings,
            [(1, None), (3, Some(Effort(7.0))), (5, Some(Effort(8.0)))]
        );
        assert_eq!(told.session_rating, Some(Effort(6.0)));
    }
}
