//! A session as it will be ridden: sets unrolled into blocks that follow one another without a gap.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::fit::Fitting;
use crate::text::Language;
use crate::time::Span;
use crate::units::{Effort, Fraction, Grade, Rpm, Watts};

/// What a block is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Raises heart and legs gently before the work.
    WarmUp,
    /// Work at one steady load, or along a line.
    Hold,
    /// Easy riding between pieces of work: ridden, not coasted.
    Recovery,
    /// A short effort above what can be held.
    Sprint,
    /// Easy riding after the work.
    CoolDown,
    /// The rider does as they like: the brake stands at a low fixed level.
    Free,
}

impl Kind {
    /// All kinds, in the order of a session.
    pub const ALL: [Self; 6] = [
        Self::WarmUp,
        Self::Hold,
        Self::Recovery,
        Self::Sprint,
        Self::CoolDown,
        Self::Free,
    ];

    /// As written in a session file.
    pub const fn key(self) -> &'static str {
        match self {
            Self::WarmUp => "warm-up",
            Self::Hold => "hold",
            Self::Recovery => "recovery",
            Self::Sprint => "sprint",
            Self::CoolDown => "cool-down",
            Self::Free => "free",
        }
    }

    /// Whether the block is work, so that the work trim applies and it counts as an effort.
    pub const fn is_work(self) -> bool {
        matches!(self, Self::Hold | Self::Sprint)
    }
}

/// One load that a block can ask for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Load {
    /// Effort out of ten; above 9 is all out and has no figure in watts.
    Effort(Effort),
    /// A share of the rider's threshold power.
    Threshold(Fraction),
    /// Watts as such.
    Power(Watts),
    /// A share of the trainer's range of resistance: the rider makes the watts.
    Level(Fraction),
    /// A slope: the rider makes the watts.
    Slope(Grade),
}

impl Load {
    /// The bare number.
    pub const fn value(self) -> f64 {
        match self {
            Self::Effort(x) => x.0,
            Self::Threshold(x) | Self::Level(x) => x.0,
            Self::Power(x) => x.0,
            Self::Slope(x) => x.0,
        }
    }

    /// The same sort of load with another number.
    #[must_use]
    pub const fn with_value(self, value: f64) -> Self {
        match self {
            Self::Effort(_) => Self::Effort(Effort(value)),
            Self::Threshold(_) => Self::Threshold(Fraction(value)),
            Self::Power(_) => Self::Power(Watts(value)),
            Self::Level(_) => Self::Level(Fraction(value)),
            Self::Slope(_) => Self::Slope(Grade(value)),
        }
    }

    /// Whether the brake holds watts for it (effort, share of threshold, power); else level or slope stands.
    pub const fn is_power(self) -> bool {
        matches!(self, Self::Effort(_) | Self::Threshold(_) | Self::Power(_))
    }

    /// Whether it is all out: an effort above 9.
    pub fn is_all_out(self) -> bool {
        matches!(self, Self::Effort(effort) if effort.0 > 9.0)
    }
}

/// What a block asks for over its length.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Target {
    /// One load throughout.
    Steady(Load),
    /// A straight line from one load to another of the same sort.
    Line(Load, Load),
    /// Nothing in particular: a free block, or riding as one likes.
    None,
}

impl Target {
    /// The load at a share (0 to 1) of the block's length.
    pub fn at(self, share: f64) -> Option<Load> {
        match self {
            Self::Steady(load) => Some(load),
            Self::Line(from, to) => {
                let share = share.clamp(0.0, 1.0);
                Some(from.with_value(from.value() + (to.value() - from.value()) * share))
            }
            Self::None => None,
        }
    }

    /// The greatest load over the block's length.
    pub fn greatest(self) -> Option<Load> {
        match self {
            Self::Steady(load) => Some(load),
            Self::Line(from, to) => Some(if to.value() > from.value() { to } else { from }),
            Self::None => None,
        }
    }
}

/// A band of cadence; one figure is a band whose ends are the same.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CadenceBand {
    /// The lowest cadence of the band.
    pub low: Rpm,
    /// The highest cadence of the band.
    pub high: Rpm,
}

/// How the rider sits or stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Position {
    /// In the saddle.
    Seated,
    /// Out of the saddle.
    Standing,
    /// In the saddle, hands low.
    Low,
    /// As the rider likes.
    #[default]
    OwnChoice,
}

impl Position {
    /// As written in a session file.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Seated => "seated",
            Self::Standing => "standing",
            Self::Low => "low",
            Self::OwnChoice => "own-choice",
        }
    }
}

/// Who makes the watts in a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Brake {
    /// The brake holds watts.
    Held,
    /// Level or slope stands and the rider makes the watts.
    Free,
}

/// What a cue is for; each kind can be muted by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CueKind {
    /// An instruction.
    Do,
    /// What it should feel like.
    Feel,
    /// The reason.
    Why,
    /// Company.
    Cheer,
}

/// Where in its block a cue is placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CuePlace {
    /// So long after the block's start.
    FromStart(Span),
    /// So long before the block's end.
    FromEnd(Span),
}

/// A piece of a cue's text: letters, or a figure that is filled at ride time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CuePiece {
    /// Letters as written.
    Text(String),
    /// A figure filled when the cue is due.
    Field(CueField),
}

/// The figures that a cue's text can hold. The name in braces is what is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CueField {
    /// `{left}`: time left in the block.
    Left,
    /// `{repeat}`: which repeat of its set this is, from 1.
    Repeat,
    /// `{repeats}`: how many repeats the set has today.
    Repeats,
    /// `{next.effort}`: the effort of the next block.
    NextEffort,
    /// `{next.time}`: the length of the next block.
    NextTime,
    /// `{total.left}`: time left in the whole session.
    TotalLeft,
}

/// Something said in a block.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cue {
    /// When, against its block.
    pub place: CuePlace,
    /// What for.
    pub kind: CueKind,
    /// Who says it, where there are several leaders.
    pub speaker: Option<String>,
    /// What is said.
    pub text: Vec<CuePiece>,
}

/// Which repeat of how many, from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Repeat {
    /// This one, from 1.
    pub number: u32,
    /// Of so many.
    pub of: u32,
}

/// One block.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Block {
    /// Its name as shown: written, or made from its kind.
    pub name: String,
    /// What it is for.
    pub kind: Kind,
    /// How long.
    pub length: Span,
    /// What it asks for.
    pub target: Target,
    /// The cadence it asks for.
    pub cadence: Option<CadenceBand>,
    /// How to sit or stand.
    pub position: Position,
    /// How long the load builds up at its start, where the session says; else the rules of the ride say.
    pub build_up: Option<Span>,
    /// Who makes the watts, resolved: as written, else by the rules of the ride.
    pub brake: Brake,
    /// Whether it may be made longer on the day.
    pub stretch: bool,
    /// Whether it may be left out on the day.
    pub cut: bool,
    /// Whether it belongs to the main part.
    pub main: bool,
    /// Its place in the innermost set that repeats it.
    pub repeat: Option<Repeat>,
    /// What is said, in the order in which it is due.
    pub cues: Vec<Cue>,
}

impl Block {
    /// Whether the block asks for an all-out effort anywhere.
    pub fn is_all_out(&self) -> bool {
        self.target.greatest().is_some_and(Load::is_all_out)
    }
}

/// Whom a session is written for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Audience {
    /// Anyone who has ridden indoors before.
    #[default]
    Everyone,
    /// People new to it: no all-out work.
    Newcomers,
}

/// What a session tests, where it is a threshold test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ThresholdTest {
    /// Held steps that rise until the rider cannot go on: the holds of the session.
    Step,
    /// Three minutes all out against a resistance that stands: the one sprint of the session.
    ThreeMinutes,
}

impl ThresholdTest {
    /// As written in a session file.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Step => "step",
            Self::ThreeMinutes => "three-minutes",
        }
    }
}

/// A whole session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// Its name.
    pub name: String,
    /// What it is for, in a sentence or two.
    pub purpose: String,
    /// Who wrote it.
    pub author: String,
    /// The language of its words: what is filled into them is in it too.
    #[serde(default)]
    pub language: Language,
    /// Whom it is written for.
    pub audience: Audience,
    /// What it tests, where it is a threshold test.
    pub test: Option<ThresholdTest>,
    /// The blocks in the order in which they are ridden; never empty.
    pub blocks: Vec<Block>,
    /// The text it was read from, kept beside the recording.
    #[serde(skip)]
    pub source: Arc<str>,
    /// Where it comes from, where it was fitted to the day.
    #[serde(skip)]
    pub fitted: Option<Arc<Fitting>>,
}

impl Plan {
    /// The length of the whole session.
    pub fn length(&self) -> Span {
        self.blocks.iter().map(|block| block.length).sum()
    }

    /// Whether the block of this index is what a threshold test measures.
    pub fn is_tested(&self, block: usize) -> bool {
        self.blocks.get(block).is_some_and(|block| match self.test {
            Some(ThresholdTest::Step) => block.kind == Kind::Hold,
            Some(ThresholdTest::ThreeMinutes) => block.kind == Kind::Sprint,
            None => false,
        })
    }

    /// Whether no clock may be seen or heard in the block of this index: who knows how long all out still lasts paces it.
    pub fn hides_the_clock(&self, block: usize) -> bool {
        self.test == Some(ThresholdTest::ThreeMinutes) && self.is_tested(block)
    }

    /// The length of the main part.
    pub fn main_length(&self) -> Span {
        self.blocks
            .iter()
            .filter(|block| block.main)
            .map(|block| block.length)
            .sum()
    }
}
