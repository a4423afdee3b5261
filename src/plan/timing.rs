//! What happens when: pure look-ups, the timing table and totals.

use serde::Serialize;

use super::cue::{Figures, fill};
use super::model::{Block, Kind, Load, Plan, Repeat};
use super::words;
use crate::time::Span;

/// A moment of a session, as it was written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// The block's index in [`Plan::blocks`].
    pub block: usize,
    /// Time since the block's start.
    pub within: Span,
    /// The same as a share of the block's length, from 0 to 1 (1 left out).
    pub share: f64,
}

/// One cue of the timing table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TimedCue {
    /// When it is due, in session time.
    #[serde(serialize_with = "as_seconds")]
    pub at: Span,
    /// Who says it.
    pub speaker: Option<String>,
    /// What is said, filled as the session was written.
    pub says: String,
}

/// One row of the timing table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Timing {
    /// The block's index in [`Plan::blocks`].
    pub block: usize,
    /// When it begins, in session time.
    #[serde(serialize_with = "as_seconds")]
    pub start: Span,
    /// How long it is.
    #[serde(serialize_with = "as_seconds")]
    pub length: Span,
    /// Its name, with its repeat where it has one: "Causeway 2 of 4".
    pub name: String,
    /// What it is for.
    pub kind: Kind,
    /// What it asks for, in words.
    pub target: String,
    /// The cadence it asks for, in words; empty where it asks for none.
    pub cadence: String,
    /// How to sit or stand, as written in a session file.
    pub position: &'static str,
    /// What is said.
    pub cues: Vec<TimedCue>,
}

/// Serializes a span as seconds.
fn as_seconds<S: serde::Serializer>(span: &Span, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(span.seconds())
}

impl Block {
    /// Its name, with its repeat where it has one: "Causeway 2 of 4".
    pub fn name_with_repeat(&self) -> String {
        let name = &self.name;
        match self.repeat {
            Some(Repeat { number, of }) if of > 1 => {
                format!("{name} {number} {} {of}", word!("of" # "of so many"))
            }
            _ => name.clone(),
        }
    }
}

impl Plan {
    /// Each block with its start in session time.
    pub fn starts(&self) -> impl Iterator<Item = (Span, &Block)> {
        self.blocks.iter().scan(Span::ZERO, |next, block| {
            let start = *next;
            *next += block.length;
            Some((start, block))
        })
    }

    /// When a block begins, in session time; the session's end for an index past the last.
    pub fn start_of(&self, block: usize) -> Span {
        self.blocks
            .iter()
            .take(block)
            .map(|block| block.length)
            .sum()
    }

    /// Where a session time lies; nothing at or after the end. A block's end belongs to the next block.
    pub fn moment(&self, session: Span) -> Option<Moment> {
        self.starts()
            .enumerate()
            .find(|(_, (start, block))| session < *start + block.length)
            .map(|(index, (start, block))| {
                let within = session.less(start);
                Moment {
                    block: index,
                    within,
                    share: within.seconds() / block.length.seconds(),
                }
            })
    }

    /// What the session asks for at a session time; nothing in free blocks, nor at or after the end.
    pub fn target_at(&self, session: Span) -> Option<Load> {
        let moment = self.moment(session)?;
        self.blocks.get(moment.block)?.target.at(moment.share)
    }

    /// The timing table: a row for each block.
    pub fn timing(&self) -> Vec<Timing> {
        self.starts()
            .enumerate()
            .map(|(index, (start, block))| Timing {
                block: index,
                start,
                length: block.length,
                name: block.name_with_repeat(),
                kind: block.kind,
                target: words::target(block.target),
                cadence: block.cadence.map_or_else(String::new, words::cadence),
                position: block.position.key(),
                cues: block
                    .cues
                    .iter()
                    .map(|cue| {
                        let due = cue.due(block.length);
                        TimedCue {
                            at: start + due,
                            speaker: cue.speaker.clone(),
                            says: fill(
                                &cue.text,
                                &Figures::planned(self, index, due),
                                self.language,
                            ),
                        }
                    })
                    .collect(),
            })
            .collect()
    }

    /// How long each kind lasts in all, in the order of a session; kinds that do not occur are left out.
    pub fn totals(&self) -> Vec<(Kind, Span)> {
        Kind::ALL
            .into_iter()
            .map(|kind| {
                let of_kind = self.blocks.iter().filter(|block| block.kind == kind);
                (kind, of_kind.map(|block| block.length).sum())
            })
            .filter(|&(_, total)| total > Span::ZERO)
            .collect()
    }
}
