//! Everything that happened in a campaign, written down for the checkers.

use stillroad::device::Request;
use stillroad::engine::input::Input;
use stillroad::gatt::uuid16::CONTROL_POINT;
use stillroad::record::{Kept, Row};
use stillroad::time::{Instant, Span};

use crate::world::watts_of;

/// One input and what came of it.
#[derive(Clone, Debug)]
pub struct Step {
    pub now: Instant,
    pub input: Input,
    pub requests: Vec<Request>,
    pub kept: Vec<Kept>,
    /// Whether a held sprint is ridden after it.
    pub held_sprint: bool,
    /// How far ahead of its beat the newest target was sent.
    pub lead: Span,
}

/// Everything that happened.
#[derive(Clone, Debug, Default)]
pub struct Trace {
    pub steps: Vec<Step>,
    pub devices: usize,
    pub ink: usize,
    /// How many sorts of target the trainer says that it takes.
    pub sorts: usize,
}

impl Trace {
    pub fn kept(&self) -> impl Iterator<Item = (Instant, &Kept)> {
        let all = |step: &'_ Step| step.now;
        self.steps
            .iter()
            .flat_map(move |step| step.kept.iter().map(move |kept| (all(step), kept)))
    }

    pub fn rows(&self) -> Vec<&Row> {
        let mut rows = Vec::new();
        for (_, kept) in self.kept() {
            if let Kept::Row(row) = kept {
                rows.push(row.as_ref());
            }
        }
        rows
    }

    pub fn writes(&self) -> Vec<(Instant, Vec<u8>)> {
        let write = |step: &Step| -> Vec<_> {
            let bytes = |request: &Request| match request {
                Request::Write(_, CONTROL_POINT, bytes) => Some((step.now, bytes.clone())),
                _ => None,
            };
            step.requests.iter().filter_map(bytes).collect()
        };
        self.steps.iter().flat_map(write).collect()
    }

    pub fn watts(&self) -> Vec<(Instant, i16)> {
        let watts = |(at, bytes): (Instant, Vec<u8>)| Some((at, watts_of(&bytes)?));
        self.writes().into_iter().filter_map(watts).collect()
    }

    /// The moment of a ridden second where nothing pauses.
    pub fn second(&self, second: u64) -> Instant {
        let begin = self.kept().find(|(_, kept)| matches!(kept, Kept::Begin(_)));
        begin.unwrap().0 + Span::from_seconds(second)
    }

    pub fn end(&self) -> Option<Instant> {
        let end = self.kept().find(|(_, kept)| matches!(kept, Kept::End(_)));
        end.map(|(at, _)| at)
    }
}
