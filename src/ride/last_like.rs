//! What the rider rode in the last block like this one: the mark that effort-only riding is set against, without a unit.

use crate::plan::{Block, Kind, Load, Target};
use crate::time::{Instant, Span};
use crate::units::Watts;

/// The first seconds of a block are left out: the gear is still being looked for. Our own choice.
const SETTLES: Span = Span::from_seconds(15);

/// A block counts from so much known power on. Our own choice.
const LEAST_KNOWN: f64 = 30.0;

/// So many sorts of block are kept; the one that was ridden longest ago makes room for a new one.
const MOST_SORTS: usize = 16;

/// What makes two blocks alike: their kind, and their effort in tenths.
type Sort = (Kind, i32);

/// The mean power of the last block of each sort that was ridden.
#[derive(Clone, Debug, Default)]
pub struct LastLike {
    lap: Option<usize>,
    sort: Option<Sort>,
    /// Power that stands, and since when.
    stands: Option<(Instant, f64)>,
    joules: f64,
    seconds: f64,
    kept: Vec<(Sort, Watts)>,
}

fn sort(block: &Block) -> Option<Sort> {
    match block.target {
        Target::Steady(Load::Effort(effort)) if effort.0 <= 9.0 => {
            Some((block.kind, (effort.0 * 10.0).round() as i32))
        }
        _ => None,
    }
}

impl LastLike {
    /// What stands from now on in a lap, `into` of which is ridden; `power` is none while nothing is known or the clock
    /// stands.
    pub fn see(
        &mut self,
        now: Instant,
        lap: usize,
        block: &Block,
        into: Span,
        power: Option<Watts>,
    ) {
        if let Some((since, watts)) = self.stands.take() {
            let gone = now.since(since).seconds();
            self.joules += watts * gone;
            self.seconds += gone;
        }
        if self.lap != Some(lap) {
            self.close();
            self.lap = Some(lap);
            self.sort = sort(block);
        }
        if into >= SETTLES {
            self.stands = power.map(|power| (now, power.0));
        }
    }

    fn close(&mut self) {
        if let (Some(sort), true) = (self.sort, self.seconds >= LEAST_KNOWN) {
            self.kept.retain(|(kept, _)| *kept != sort);
            if self.kept.len() == MOST_SORTS {
                self.kept.remove(0);
            }
            self.kept.push((sort, Watts(self.joules / self.seconds)));
        }
        (self.joules, self.seconds) = (0.0, 0.0);
    }

    /// The mean power of the last block like this one; nothing before there was one.
    pub fn of(&self, block: &Block) -> Option<Watts> {
        let wanted = sort(block)?;
        let found = self.kept.iter().find(|(sort, _)| *sort == wanted)?;
        Some(found.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ride::testing::block;

    #[test]
    fn the_last_hold_of_a_kind_is_the_mark_for_the_next() {
        let hold = block(Kind::Hold, 120, 7.0);
        let harder = block(Kind::Hold, 120, 8.0);
        let rest = block(Kind::Recovery, 60, 4.0);
        let mut last = LastLike::default();
        let mut ride = |lap: usize, block: &Block, seconds: std::ops::Range<u64>, watts: f64| {
            for second in seconds.clone() {
                let now = Instant::ZERO + Span::from_seconds(second);
                let into = Span::from_seconds(second - seconds.start);
                // The first fifteen seconds are wild and do not count.
                let watts = if second - seconds.start < 15 {
                    900.0
                } else {
                    watts
                };
                last.see(now, lap, block, into, Some(Watts(watts)));
            }
            (last.of(&hold), last.of(&harder), last.of(&rest))
        };
        assert_eq!(ride(0, &hold, 0..120, 180.0), (None, None, None));
        assert_eq!(
            ride(1, &rest, 120..180, 100.0),
            (Some(Watts(180.0)), None, None)
        );
        assert_eq!(
            ride(2, &hold, 180..300, 190.0).2,
            Some(Watts(100.0)),
            "each kind has its own"
        );
        // Twenty seconds known are too few to be a mark.
        assert_eq!(ride(3, &harder, 300..335, 220.0).0, Some(Watts(190.0)));
        assert_eq!(ride(4, &rest, 335..400, 100.0).1, None);
    }
}
