//! The timing table: blocks in their order, what repeats folded into one row with its count, so that it still adds up.

use crate::plan::{Block, Position, Target};
use crate::ride::RideMode;
use crate::time::Span;
use crate::ui::lane::{Asked, Lanes};
use crate::ui::words;

/// A pattern is looked for among so many blocks at most.
const LONGEST_PATTERN: usize = 8;

/// One row of the timing table: a block, or one that comes so many times.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimingRow {
    /// When it first begins.
    pub start: String,
    /// How many times it is ridden.
    pub times: usize,
    /// Its name.
    pub block: String,
    /// How long it is each time.
    pub length: String,
    /// How long it is in all; the rows of this column add up to the whole session.
    pub in_all: Span,
    /// What it asks for.
    pub load: String,
    /// Watts for the rider; empty in effort-only mode and where there are none.
    pub watts: String,
    /// Its cadence; empty where the session leaves it open.
    pub cadence: String,
    /// How to sit; empty where it is the rider's own choice.
    pub position: &'static str,
    /// Whether it takes turns with the row below it.
    pub turns: bool,
}

impl TimingRow {
    /// "4 × Hold", or the bare name of a block that comes once.
    pub fn name(&self) -> String {
        if self.times > 1 {
            format!("{} × {}", self.times, self.block)
        } else {
            self.block.clone()
        }
    }

    /// The row in words, for a screen reader.
    pub fn spoken(&self) -> String {
        let mut words = vec![if self.times > 1 {
            say!(
                "{each} each, {whole} in all",
                each = self.length,
                whole = self.in_all
            )
        } else {
            self.length.clone()
        }];
        if !self.load.is_empty() {
            words.push(say!("at {load}", load = self.load));
        }
        words.extend((!self.watts.is_empty()).then(|| self.watts.clone()));
        words.extend((!self.cadence.is_empty()).then(|| format!("{} rpm", self.cadence)));
        words.extend((!self.position.is_empty()).then(|| self.position.to_owned()));
        words.join(", ")
    }
}

/// The rows of a session.
pub(super) fn rows(lanes: &Lanes) -> Vec<TimingRow> {
    let blocks = &lanes.plan.blocks;
    let mut rows = Vec::new();
    let mut at = 0;
    while at < blocks.len() {
        let (pattern, covered) = pattern(&blocks[at..]);
        for place in 0..pattern {
            let times = (covered - place).div_ceil(pattern);
            let mut row = row(lanes, at + place, times);
            row.turns = place + 1 < pattern;
            rows.push(row);
        }
        at += covered;
    }
    rows
}

/// The pattern that covers the most blocks from the first on: how many blocks it has, and how many it covers. A last
/// turn may be broken off, as where no recovery follows the last hold. One and one where nothing repeats.
fn pattern(blocks: &[Block]) -> (usize, usize) {
    let mut best = (1, 1);
    for pattern in 1..=LONGEST_PATTERN.min(blocks.len() / 2) {
        let same = (pattern..blocks.len())
            .take_while(|&n| alike(&blocks[n], &blocks[n % pattern]))
            .count();
        // The shortest of equals: four holds are not two pairs of holds.
        if same >= pattern && pattern + same > best.1 {
            best = (pattern, pattern + same);
        }
    }
    best
}

/// Whether two blocks ask for the same, whatever is said in them.
fn alike(one: &Block, other: &Block) -> bool {
    one.name == other.name
        && one.kind == other.kind
        && one.length == other.length
        && one.target == other.target
        && one.cadence == other.cadence
        && one.position == other.position
        && one.main == other.main
}

/// What a target asks for, as it stands in a column of its own.
fn load(target: Target, mode: RideMode) -> String {
    match target {
        Target::Steady(load) => words::load_words(load, mode),
        Target::Line(from, to) => {
            let (from, to) = (words::load_words(from, mode), words::load_words(to, mode));
            if from.is_empty() || to.is_empty() {
                String::new()
            } else {
                say!("{from} to {to}", from, to)
            }
        }
        Target::None => word!("as you like").to_owned(),
    }
}

fn row(lanes: &Lanes, index: usize, times: usize) -> TimingRow {
    let block = &lanes.plan.blocks[index];
    let at = |share: f64| {
        let load = block.target.at(share)?;
        match lanes.load(load, block) {
            Asked::Level(_, watts) => watts,
            Asked::AllOut | Asked::Open => None,
        }
    };
    let watts = match (at(0.0), at(1.0)) {
        (Some(from), Some(to)) if from == to => from.to_string(),
        (Some(from), Some(to)) => say!("{from:.0} to {to}", from = from.0, to),
        _ => String::new(),
    };
    TimingRow {
        start: lanes.laps[index].start.to_string(),
        times,
        block: if times > 1 {
            block.name.clone()
        } else {
            words::block_name(block)
        },
        length: block.length.to_string(),
        in_all: Span(block.length.0 * times as u64),
        load: load(block.target, lanes.mode),
        watts,
        cadence: block.cadence.map_or_else(String::new, |band| {
            if band.low == band.high {
                format!("{:.0}", band.low.0)
            } else {
                say!(
                    "{low:.0} to {high:.0}",
                    low = band.low.0,
                    high = band.high.0
                )
            }
        }),
        position: match block.position {
            Position::OwnChoice => "",
            Position::Seated => word!("seated"),
            Position::Standing => word!("standing"),
            Position::Low => word!("low" # "position"),
        },
        turns: false,
    }
}
