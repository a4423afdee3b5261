//! The blocks as they stand today: what was skipped, stretched or cut, and where a moment of the session falls.

use crate::plan::Plan;
use crate::time::Span;

/// One block as it stands today.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lap {
    /// Its index in [`Plan::blocks`].
    pub block: usize,
    /// When it begins, in session time.
    pub start: Span,
    /// How long it is today; zero where it was cut.
    pub length: Span,
}

impl Lap {
    /// When it ends, in session time.
    pub fn end(&self) -> Span {
        self.start + self.length
    }
}

/// Where a moment of the session falls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// The lap, which has the index of its block.
    pub lap: usize,
    /// Time since the lap began.
    pub into: Span,
    /// Time until it ends.
    pub left: Span,
}

impl Place {
    /// The share of the lap that is behind, 0 to 1.
    pub fn share(&self) -> f64 {
        let length = (self.into + self.left).seconds();
        if length > 0.0 {
            self.into.seconds() / length
        } else {
            0.0
        }
    }
}

/// How much a press of *stretch* adds.
pub const STRETCH_BY: Span = Span::from_seconds(30);

/// A block is stretched to no more than this, whatever is pressed how often.
const LONGEST: Span = Span::from_seconds(14_400);

/// The laps of today. Every block of the plan has one lap, at the same index.
#[derive(Clone, Debug, PartialEq)]
pub struct Timeline {
    laps: Vec<Lap>,
    /// The lengths before the last change, for one undo.
    before: Option<Vec<Span>>,
}

impl Timeline {
    /// As planned.
    pub fn new(plan: &Plan) -> Self {
        let mut timeline = Self {
            laps: plan
                .blocks
                .iter()
                .enumerate()
                .map(|(block, written)| Lap {
                    block,
                    start: Span::ZERO,
                    length: written.length,
                })
                .collect(),
            before: None,
        };
        timeline.reckon_starts();
        timeline
    }

    /// The laps of another run of the program: each as long as it was. Lengths that do not fit the plan change nothing.
    pub fn set_lengths(&mut self, lengths: &[Span]) {
        if lengths.len() == self.laps.len() {
            for (lap, length) in self.laps.iter_mut().zip(lengths) {
                lap.length = (*length).min(LONGEST);
            }
            self.before = None;
            self.reckon_starts();
        }
    }

    fn reckon_starts(&mut self) {
        let mut start = Span::ZERO;
        for lap in &mut self.laps {
            lap.start = start;
            start += lap.length;
        }
    }

    fn remember(&mut self) {
        self.before = Some(self.laps.iter().map(|lap| lap.length).collect());
    }

    /// The laps, one a block.
    pub fn laps(&self) -> &[Lap] {
        &self.laps
    }

    /// The length of the session as it stands today.
    pub fn length(&self) -> Span {
        self.laps.iter().map(|lap| lap.length).sum()
    }

    /// Where a moment falls; nothing at or after the end. A lap owns its first microsecond and not its last.
    pub fn place(&self, session: Span) -> Option<Place> {
        self.laps
            .iter()
            .enumerate()
            .find(|(_, lap)| lap.length > Span::ZERO && session >= lap.start && session < lap.end())
            .map(|(index, lap)| Place {
                lap: index,
                into: session.less(lap.start),
                left: lap.end().less(session),
            })
    }

    /// The next lap of any length after this one.
    pub fn next(&self, lap: usize) -> Option<usize> {
        (lap + 1..self.laps.len()).find(|&index| self.laps[index].length > Span::ZERO)
    }

    /// The last lap of any length before this one.
    pub fn previous(&self, lap: usize) -> Option<usize> {
        (0..lap.min(self.laps.len()))
            .rev()
            .find(|&index| self.laps[index].length > Span::ZERO)
    }

    /// Ends the lap at `session`, so that the next begins there.
    pub fn skip(&mut self, session: Span) {
        if let Some(place) = self.place(session) {
            self.remember();
            self.laps[place.lap].length = place.into;
            self.reckon_starts();
        }
    }

    /// Ends the lap at `session` and gives the laps that follow no length as long as `left` says so of their blocks. It
    /// cannot be taken back.
    pub fn leave_while(&mut self, session: Span, left: impl Fn(usize) -> bool) {
        if let Some(place) = self.place(session) {
            self.laps[place.lap].length = place.into;
            for lap in &mut self.laps[place.lap + 1..] {
                if !left(lap.block) {
                    break;
                }
                lap.length = Span::ZERO;
            }
            self.before = None;
            self.reckon_starts();
        }
    }

    /// Half a minute more of the lap at `session`. False where it may not be stretched.
    pub fn stretch(&mut self, plan: &Plan, session: Span) -> bool {
        let Some(place) = self.place(session) else {
            return false;
        };
        let lap = self.laps[place.lap];
        if !plan.blocks[lap.block].stretch || lap.length >= LONGEST {
            return false;
        }
        self.remember();
        self.laps[place.lap].length += STRETCH_BY;
        self.reckon_starts();
        true
    }

    /// Leaves out the next lap after `session` that may be cut, and gives its index.
    pub fn cut(&mut self, plan: &Plan, session: Span) -> Option<usize> {
        let here = self.place(session)?.lap;
        let cut = (here + 1..self.laps.len()).find(|&index| {
            plan.blocks[self.laps[index].block].cut && self.laps[index].length > Span::ZERO
        })?;
        self.remember();
        self.laps[cut].length = Span::ZERO;
        self.reckon_starts();
        Some(cut)
    }

    /// Takes back the last skip, stretch or cut. False where there is none.
    ///
    /// Session time itself never goes back: what was ridden since stays ridden.
    pub fn undo(&mut self) -> bool {
        let Some(before) = self.before.take() else {
            return false;
        };
        for (lap, length) in self.laps.iter_mut().zip(before) {
            lap.length = length;
        }
        self.reckon_starts();
        true
    }

    /// From here on the last change cannot be taken back.
    pub fn forget(&mut self) {
        self.before = None;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;
    use crate::ride::testing::plan;

    fn seconds(timeline: &Timeline) -> Vec<(u64, u64)> {
        timeline
            .laps()
            .iter()
            .map(|lap| (lap.start.whole_seconds(), lap.length.whole_seconds()))
            .collect()
    }

    #[test]
    fn a_moment_belongs_to_the_lap_that_begins_there() {
        let timeline = Timeline::new(&plan(&[60, 120, 60]));
        let at = |s| timeline.place(Span::from_seconds(s)).map(|place| place.lap);
        assert_eq!(
            [at(0), at(59), at(60), at(179), at(180), at(239), at(240)],
            [Some(0), Some(0), Some(1), Some(1), Some(2), Some(2), None]
        );
        let place = timeline.place(Span::from_seconds(90)).unwrap();
        assert_eq!(
            (place.into.whole_seconds(), place.left.whole_seconds()),
            (30, 90)
        );
        assert!((place.share() - 0.25).abs() < 1e-12);
    }

    #[test]
    fn a_skip_shortens_the_session_and_undo_restores_it() {
        let mut timeline = Timeline::new(&plan(&[60, 120, 60]));
        timeline.skip(Span::from_seconds(70));
        assert_eq!(seconds(&timeline), [(0, 60), (60, 10), (70, 60)]);
        assert!(timeline.undo());
        assert_eq!(seconds(&timeline), [(0, 60), (60, 120), (180, 60)]);
        assert!(!timeline.undo());
    }

    #[test]
    fn only_what_may_be_stretched_or_cut_is() {
        let mut plan = plan(&[60, 120, 60, 30]);
        plan.blocks[0].stretch = true;
        plan.blocks[2].cut = true;
        let mut timeline = Timeline::new(&plan);
        assert!(timeline.stretch(&plan, Span::from_seconds(10)));
        assert_eq!(timeline.length().whole_seconds(), 300);
        assert!(!timeline.stretch(&plan, Span::from_seconds(100)));
        assert_eq!(timeline.cut(&plan, Span::from_seconds(10)), Some(2));
        assert_eq!(
            seconds(&timeline),
            [(0, 90), (90, 120), (210, 0), (210, 30)]
        );
        assert_eq!(timeline.cut(&plan, Span::from_seconds(10)), None);
        assert_eq!(timeline.next(1), Some(3));
        assert_eq!(timeline.place(Span::from_seconds(210)).unwrap().lap, 3);
        assert_eq!(timeline.previous(3), Some(1));
    }
}
