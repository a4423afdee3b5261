//! The score of a session: every tone and cue with the moment at which it is due, for the blocks as they stand today.

use std::sync::Arc;

use super::Kind;
use super::announce::announcements;
use crate::plan::{Cue, Figures, Plan, fill};
use crate::ride::Lap;
use crate::text::within;
use crate::time::Span;

/// A tone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Tone {
    /// A minute of the block to go.
    Minute,
    /// Thirty seconds to go.
    Thirty,
    /// Ten seconds to go.
    Ten,
    /// One of the five last seconds.
    Tick,
    /// The beat: work begins.
    Go,
    /// The beat: the work is over, or what begins is easy.
    Ease,
    /// The pedals are at the top, at the planned cadence.
    Pulse,
}

impl Tone {
    /// All.
    pub const ALL: [Self; 7] = [
        Self::Minute,
        Self::Thirty,
        Self::Ten,
        Self::Tick,
        Self::Go,
        Self::Ease,
        Self::Pulse,
    ];

    /// How long it sounds.
    pub const fn length(self) -> Span {
        Span::from_millis(match self {
            Self::Minute => 260,
            Self::Thirty => 200,
            Self::Ten => 280,
            Self::Tick => 60,
            Self::Go | Self::Ease => 320,
            Self::Pulse => 20,
        })
    }

    /// Whether it marks the second at which a block begins.
    pub const fn is_beat(self) -> bool {
        matches!(self, Self::Go | Self::Ease)
    }
}

/// What is heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sound {
    /// A tone.
    Tone(Tone),
    /// Words, said by the system's voice.
    Speech(Arc<str>),
}

/// Something that is due at a moment of the session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// When, in session time.
    pub at: Span,
    /// The lap that it belongs to.
    pub lap: usize,
    /// Its kind.
    pub kind: Kind,
    /// What is heard.
    pub sound: Sound,
}

impl Due {
    /// Whether it is the same of the score, though its figures may have changed.
    pub(super) fn is_same(&self, other: &Self) -> bool {
        let tone = |due: &Self| match due.sound {
            Sound::Tone(tone) => Some(tone),
            Sound::Speech(_) => None,
        };
        (self.at, self.lap, self.kind, tone(self)) == (other.at, other.lap, other.kind, tone(other))
    }
}

/// What is counted down: so long before a block's end, in a block of so much at least (common practice, no source).
const COUNTED: [(u64, u64, Tone); 3] = [
    (60, 120, Tone::Minute),
    (30, 60, Tone::Thirty),
    (10, 20, Tone::Ten),
];

/// The five last seconds are ticked in a block that is at least so long.
const TICKED_FROM: Span = Span::from_seconds(10);

/// The whole score, in the order in which it is due; of what is due at one moment the more urgent stands first.
pub fn score(plan: &Plan, laps: &[Lap]) -> Vec<Due> {
    let mut all = Vec::new();
    for (index, lap) in laps.iter().enumerate() {
        let Some(block) = plan.blocks.get(lap.block) else {
            continue;
        };
        if lap.length == Span::ZERO {
            continue;
        }
        let mut tone = |at, kind, tone| {
            all.push(Due {
                at,
                lap: index,
                kind,
                sound: Sound::Tone(tone),
            });
        };
        let beat = if block.kind.is_work() {
            Tone::Go
        } else {
            Tone::Ease
        };
        tone(lap.start, Kind::Tones, beat);
        if !plan.hides_the_clock(lap.block) {
            for (before, least, what) in COUNTED {
                if lap.length >= Span::from_seconds(least) {
                    tone(
                        lap.end().less(Span::from_seconds(before)),
                        Kind::Tones,
                        what,
                    );
                }
            }
            if lap.length >= TICKED_FROM {
                for left in 1..=5 {
                    let at = lap.end().less(Span::from_seconds(left));
                    tone(at, Kind::Ticks, Tone::Tick);
                }
            }
        }
    }
    let sayings = sayings(plan, laps);
    // Beside the names of its blocks, and by the same voice.
    let announced = within(plan.language, || announcements(plan, laps, &sayings));
    for told in announced {
        all.push(Due {
            at: told.at,
            lap: told.lap,
            kind: Kind::Next,
            sound: Sound::Speech(Arc::from(told.says)),
        });
    }
    all.extend(sayings.into_iter().map(|saying| Due {
        at: saying.at,
        lap: saying.lap,
        kind: Kind::Cue(saying.cue.kind),
        sound: Sound::Speech(Arc::from(saying.says)),
    }));
    all.sort_by_key(|due| (due.at, urgency(due)));
    all
}

/// A cue of the session, as it will be said today.
#[derive(Clone, Debug, PartialEq)]
pub struct Saying<'a> {
    /// When it is due, in session time.
    pub at: Span,
    /// The lap that it belongs to.
    pub lap: usize,
    /// The cue as it was written.
    pub cue: &'a Cue,
    /// What is said, with the figures of that moment.
    pub says: String,
}

/// Every cue of the blocks as they stand today, in the order of the blocks.
pub fn sayings<'a>(plan: &'a Plan, laps: &[Lap]) -> Vec<Saying<'a>> {
    let mut all = Vec::new();
    let end = laps.iter().map(Lap::end).max().unwrap_or(Span::ZERO);
    for (index, lap) in laps.iter().enumerate() {
        let Some(block) = plan.blocks.get(lap.block) else {
            continue;
        };
        let next = laps[index + 1..]
            .iter()
            .find(|lap| lap.length > Span::ZERO)
            .and_then(|lap| Some((plan.blocks.get(lap.block)?.target, lap.length)));
        for cue in &block.cues {
            let due = cue.due(lap.length);
            if due >= lap.length {
                continue;
            }
            let figures = Figures {
                left: lap.length.less(due),
                repeat: block.repeat,
                next,
                total_left: end.less(lap.start + due),
            };
            all.push(Saying {
                at: lap.start + due,
                lap: index,
                cue,
                says: fill(&cue.text, &figures, plan.language),
            });
        }
    }
    all
}

/// What comes first of several that are due at once: 0 first.
pub(super) fn urgency(due: &Due) -> u8 {
    use crate::plan::CueKind::{Cheer, Do, Feel, Why};
    match (due.kind, &due.sound) {
        (_, Sound::Tone(tone)) if tone.is_beat() => 0,
        (Kind::Ticks, _) => 1,
        (Kind::Tones, _) => 2,
        (Kind::Cue(Do), _) => 3,
        (Kind::Cue(Feel), _) => 4,
        (Kind::Cue(Why), _) => 5,
        (Kind::Cue(Cheer), _) => 6,
        (Kind::Next, _) => 7,
        (Kind::Notes, _) => 8,
        (Kind::Pulse, _) => 9,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::plan::{Kind as BlockKind, read};
    use crate::ride::Timeline;
    use crate::ride::testing::{block, of};

    fn tones(due: &[Due]) -> Vec<(u64, Tone)> {
        due.iter()
            .filter_map(|due| match due.sound {
                Sound::Tone(tone) => Some((due.at.whole_seconds(), tone)),
                Sound::Speech(_) => None,
            })
            .collect()
    }

    #[test]
    fn a_long_block_is_counted_down_and_a_short_one_only_begins() {
        let plan = of(vec![
            block(BlockKind::WarmUp, 120, 3.0),
            block(BlockKind::Sprint, 8, 10.0),
            block(BlockKind::Recovery, 20, 3.0),
        ]);
        let due = score(&plan, Timeline::new(&plan).laps());
        assert_eq!(
            tones(&due),
            [
                (0, Tone::Ease),
                (60, Tone::Minute),
                (90, Tone::Thirty),
                (110, Tone::Ten),
                (115, Tone::Tick),
                (116, Tone::Tick),
                (117, Tone::Tick),
                (118, Tone::Tick),
                (119, Tone::Tick),
                (120, Tone::Go),
                (128, Tone::Ease),
                (138, Tone::Ten),
                (143, Tone::Tick),
                (144, Tone::Tick),
                (145, Tone::Tick),
                (146, Tone::Tick),
                (147, Tone::Tick),
            ]
        );
    }

    /// Two minutes with a cue half a minute before their end, and a minute after them.
    const WITH_CUE: &str = r#"
format = 1
name = "T"
purpose = "p"
author = "a"
[[block]]
kind = "hold"
time = "2:00"
effort = 6
stretch = true
[[block.cue]]
before_end = "0:30"
kind = "do"
say = "{left}, then {next.effort} for {next.time}."
[[block]]
kind = "cool-down"
time = "1:00"
effort = 3
"#;

    #[test]
    fn a_cue_moves_with_its_block_and_its_figures_with_it() {
        let reading = read(WITH_CUE);
        let plan = reading
            .plan
            .unwrap_or_else(|| panic!("{:?}", reading.problems));
        let mut timeline = Timeline::new(&plan);
        let said = |timeline: &Timeline| {
            let due = score(&plan, timeline.laps());
            let cue = due.iter().find(|due| matches!(due.kind, Kind::Cue(_)));
            let cue = cue.unwrap().clone();
            let Sound::Speech(text) = cue.sound else {
                panic!("a cue is words")
            };
            (cue.at.whole_seconds(), text.to_string())
        };
        let words = "30 seconds, then effort 3 for 1 minute.".to_owned();
        assert_eq!(said(&timeline), (90, words.clone()));
        assert!(timeline.stretch(&plan, Span::from_seconds(10)));
        assert_eq!(said(&timeline), (120, words));
    }
}
