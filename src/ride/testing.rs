//! Plans for tests.

use std::sync::Arc;

use crate::plan::{Audience, Block, Brake, Kind, Load, Plan, Position, Target};
use crate::text::Language;
use crate::time::Span;
use crate::units::Effort;

/// One block of a kind, so many seconds long, at an effort.
pub fn block(kind: Kind, seconds: u64, effort: f64) -> Block {
    Block {
        name: kind.key().to_owned(),
        kind,
        length: Span::from_seconds(seconds),
        target: Target::Steady(Load::Effort(Effort(effort))),
        cadence: None,
        position: Position::OwnChoice,
        build_up: None,
        brake: Brake::Held,
        stretch: false,
        cut: false,
        main: true,
        repeat: None,
        cues: Vec::new(),
    }
}

/// A plan of these blocks.
pub fn of(blocks: Vec<Block>) -> Plan {
    Plan {
        name: "Test".to_owned(),
        purpose: String::new(),
        author: String::new(),
        language: Language::English,
        audience: Audience::Everyone,
        test: None,
        blocks,
        source: Arc::from(""),
        fitted: None,
    }
}

/// Holds at effort 5, so many seconds long each.
pub fn plan(seconds: &[u64]) -> Plan {
    of(seconds.iter().map(|&s| block(Kind::Hold, s, 5.0)).collect())
}
