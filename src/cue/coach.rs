//! The coach's notes from the numbers: at most one at a time, plain, and only where the numbers leave no doubt.
//!
//! Figures are common practice, no source: a note that comes a little late costs nothing, one that is wrong costs trust.

use crate::plan::{CadenceBand, Kind, Repeat};
use crate::time::{Instant, Span};
use crate::units::{Rpm, Watts};

/// What the coach sees of a moment. A figure that is not fresh is none.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// The moment.
    pub now: Instant,
    /// The lap that is ridden.
    pub lap: usize,
    /// What its block is for.
    pub kind: Kind,
    /// Time since it began.
    pub into: Span,
    /// Time until it ends.
    pub left: Span,
    /// Its place in its set.
    pub repeat: Option<Repeat>,
    /// The watts of the lane; none where no watts are asked for.
    pub lane: Option<Watts>,
    /// How much of what the power is above the lane is the legs' own doing; none where legs and brake cannot be told
    /// apart.
    pub legs: Option<Watts>,
    /// Cadence.
    pub cadence: Option<Rpm>,
    /// The cadence that the block asks for.
    pub band: Option<CadenceBand>,
    /// Whether the load is the one that the session asks for: not let off, not eased, the clock runs.
    pub as_planned: bool,
}

/// Nothing is said of a block's first seconds, in which the load builds up and the legs find it.
const SETTLING: Span = Span::from_seconds(15);

/// An overshoot is early until here; later it is the rider's own choice.
const EARLY: Span = Span::from_seconds(60);

/// What is to be said must have lasted so long without a gap.
const LASTS: Span = Span::from_seconds(10);

/// Two notes are so far apart at least.
const APART: Span = Span::from_seconds(45);

/// A note needs so much of its block to follow it.
const LEFT: Span = Span::from_seconds(25);

/// Blocks shorter than this are left alone.
const SHORTEST: Span = Span::from_seconds(90);

/// The legs are over the lane from this share of it, and from so many watts.
const OVER_SHARE: f64 = 0.08;
const OVER_WATTS: f64 = 12.0;

/// The cadence sags where it falls so far under the band in which it was.
const SAG_RPM: f64 = 4.0;

/// "Last one" is said in so many repeats and more.
const REPEATS: u32 = 3;

/// A condition that has to last.
#[derive(Clone, Copy, Debug, Default)]
struct Lasting(Option<Instant>);

impl Lasting {
    /// How long it has held, unbroken.
    fn see(&mut self, now: Instant, holds: bool) -> Span {
        if !holds {
            self.0 = None;
            return Span::ZERO;
        }
        now.since(*self.0.get_or_insert(now))
    }
}

/// What the rider was told to mend.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fault {
    Over,
    Sag,
}

/// The coach.
#[derive(Clone, Debug, Default)]
pub struct Coach {
    lap: Option<usize>,
    over: Lasting,
    in_lane: Lasting,
    in_band: Lasting,
    sags: Lasting,
    /// Whether the cadence was in its band for long enough, in this block, to sag from there.
    had_band: bool,
    /// What was said of this block and waits to be mended; then it is said that it is.
    fault: Option<Fault>,
    /// Faults that were told in this block: each once.
    told: Vec<Fault>,
    last_one: bool,
    spoke: Option<Instant>,
}

impl Coach {
    /// A coach who has seen nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Looks at a moment, and says something or, mostly, nothing.
    pub fn see(&mut self, seen: &Seen) -> Option<&'static str> {
        if self.lap != Some(seen.lap) {
            let spoke = self.spoke;
            *self = Self {
                lap: Some(seen.lap),
                spoke,
                ..Self::default()
            };
        }
        if !seen.as_planned {
            // What is not the session's own load says nothing of the rider.
            self.over = Lasting::default();
            self.sags = Lasting::default();
            self.in_lane = Lasting::default();
            self.in_band = Lasting::default();
            return None;
        }
        let words = self.words(seen)?;
        self.spoke = Some(seen.now);
        Some(words)
    }

    fn words(&mut self, seen: &Seen) -> Option<&'static str> {
        let now = seen.now;
        let over = seen
            .lane
            .zip(seen.legs)
            .map(|(lane, legs)| legs.0 > (lane.0 * OVER_SHARE).max(OVER_WATTS));
        let over_for = self.over.see(now, over == Some(true));
        let in_lane_for = self.in_lane.see(now, over == Some(false));
        let cadence = seen.cadence.zip(seen.band);
        let in_band = cadence.is_some_and(|(rpm, band)| rpm.0 >= band.low.0);
        let sags = cadence.is_some_and(|(rpm, band)| rpm.0 > 0.0 && rpm.0 <= band.low.0 - SAG_RPM);
        let in_band_for = self.in_band.see(now, in_band);
        let sags_for = self.sags.see(now, sags);
        self.had_band |= in_band_for >= LASTS;

        let long = seen.into + seen.left >= SHORTEST;
        let work = seen.kind == Kind::Hold;
        let quiet = self.spoke.is_none_or(|spoke| now.since(spoke) >= APART);
        if !work || !long || seen.into < SETTLING || seen.left < LEFT || !quiet {
            return None;
        }
        match self.fault {
            Some(Fault::Over) if in_lane_for >= LASTS => {
                self.fault = None;
                return Some(word!("Back in the lane."));
            }
            Some(Fault::Sag) if in_band_for >= LASTS => {
                self.fault = None;
                return Some(word!("The legs are back where they belong."));
            }
            _ => {}
        }
        if over_for >= LASTS && seen.into <= EARLY && self.may_tell(Fault::Over) {
            return Some(word!(
                "That is above the lane already. Ease to it now, and it lasts."
            ));
        }
        if sags_for >= LASTS && self.had_band && self.may_tell(Fault::Sag) {
            return Some(word!("The legs are slowing. Lift them a little."));
        }
        let last = seen
            .repeat
            .is_some_and(|repeat| repeat.of >= REPEATS && repeat.number == repeat.of);
        if last && !self.last_one && seen.into < EARLY {
            self.last_one = true;
            return Some(word!("This is the last one."));
        }
        None
    }

    /// Whether a fault was not told in this block yet; from now on it was.
    fn may_tell(&mut self, fault: Fault) -> bool {
        if self.told.contains(&fault) {
            return false;
        }
        self.told.push(fault);
        self.fault = Some(fault);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A hold of four minutes at 200 W and 85 to 95 rpm, seen once a second as `of` makes it.
    fn notes(of: impl Fn(u64, &mut Seen)) -> Vec<(u64, &'static str)> {
        let mut coach = Coach::new();
        (0..240)
            .filter_map(|second| {
                let mut seen = Seen {
                    now: Instant(9_000_000) + Span::from_seconds(second),
                    lap: 3,
                    kind: Kind::Hold,
                    into: Span::from_seconds(second),
                    left: Span::from_seconds(240 - second),
                    repeat: None,
                    lane: Some(Watts(200.0)),
                    legs: Some(Watts(3.0)),
                    cadence: Some(Rpm(90.0)),
                    band: Some(CadenceBand {
                        low: Rpm(85.0),
                        high: Rpm(95.0),
                    }),
                    as_planned: true,
                };
                of(second, &mut seen);
                Some((second, coach.see(&seen)?))
            })
            .collect()
    }

    #[test]
    fn a_block_that_is_ridden_as_it_should_be_is_left_alone() {
        assert_eq!(notes(|_, _| {}), []);
    }

    #[test]
    fn an_early_overshoot_of_the_legs_is_told_once_and_so_is_its_end() {
        let told = notes(|second, seen| {
            if (5..50).contains(&second) || second > 120 {
                seen.legs = Some(Watts(30.0));
            }
        });
        // Over from 5 on: fifteen seconds settle, ten have lasted. Mended from 50, and 45 seconds after the first.
        let seconds: Vec<u64> = told.iter().map(|(second, _)| *second).collect();
        assert_eq!(seconds, [15, 60]);
        assert!(told[0].1.contains("above the lane"));
        assert_eq!(told[1].1, "Back in the lane.");
    }

    #[test]
    fn the_brakes_overshoot_and_one_of_unknown_origin_are_not_the_riders() {
        for legs in [Some(Watts(0.0)), Some(Watts(11.9)), None] {
            assert_eq!(notes(|_, seen| seen.legs = legs), []);
        }
        assert_eq!(
            notes(|_, seen| (seen.lane, seen.legs) = (None, Some(Watts(50.0)))),
            []
        );
    }

    #[test]
    fn an_overshoot_with_a_gap_every_eight_seconds_is_not_sure() {
        let told = notes(|second, seen| {
            if !second.is_multiple_of(8) {
                seen.legs = Some(Watts(60.0));
            }
        });
        assert_eq!(told, []);
    }

    #[test]
    fn a_cadence_that_sags_is_told_and_one_that_was_never_there_is_not() {
        let told = notes(|second, seen| {
            if (100..130).contains(&second) {
                seen.cadence = Some(Rpm(80.0));
            }
        });
        let seconds: Vec<u64> = told.iter().map(|(second, _)| *second).collect();
        // Under it from 100 for ten seconds; back from 130, and not before 45 seconds after the first.
        assert_eq!(seconds, [110, 155]);
        assert!(told[0].1.contains("slowing"));
        assert_eq!(notes(|_, seen| seen.cadence = Some(Rpm(70.0))), []);
        assert_eq!(notes(|_, seen| seen.cadence = None), []);
        // A little under the band is within it for anybody who rides.
        let near = |second: u64, seen: &mut Seen| {
            seen.cadence = Some(Rpm(if second < 60 { 90.0 } else { 82.0 }));
        };
        assert_eq!(notes(near), []);
    }

    #[test]
    fn the_last_of_three_is_said_and_the_last_of_two_is_not() {
        let repeat = |number, of| notes(move |_, seen| seen.repeat = Some(Repeat { number, of }));
        assert_eq!(repeat(3, 3), [(15, "This is the last one.")]);
        assert_eq!(repeat(2, 3), []);
        assert_eq!(repeat(2, 2), []);
    }

    #[test]
    fn nothing_is_said_of_a_load_that_is_not_the_sessions_nor_of_other_blocks() {
        assert_eq!(
            notes(|second, seen| {
                seen.as_planned = false;
                seen.legs = Some(Watts(80.0));
                seen.cadence = Some(Rpm(if second < 60 { 90.0 } else { 60.0 }));
            }),
            []
        );
        for kind in [
            Kind::WarmUp,
            Kind::Recovery,
            Kind::Sprint,
            Kind::CoolDown,
            Kind::Free,
        ] {
            assert_eq!(
                notes(|_, seen| (seen.kind, seen.legs) = (kind, Some(Watts(80.0)))),
                []
            );
        }
    }

    #[test]
    fn no_two_notes_are_nearer_than_three_quarters_of_a_minute() {
        let told = notes(|second, seen| {
            seen.repeat = Some(Repeat { number: 4, of: 4 });
            seen.legs = Some(Watts(if second % 40 < 25 { 60.0 } else { 0.0 }));
            seen.cadence = Some(Rpm(if second % 60 < 35 { 90.0 } else { 70.0 }));
        });
        assert!(told.len() > 1, "{told:?}");
        assert!(
            told.windows(2).all(|two| two[1].0 - two[0].0 >= 45),
            "{told:?}"
        );
    }
}
