//! The review of a ride, on recordings whose truth is known: from the practice rider, and made by hand.

mod broken;
mod by_hand;
mod many;
pub mod next;
mod noted;
mod over;
mod page;
pub mod ridden;
mod verb;

use std::sync::Arc;

use stillroad::plan::Kind;
use stillroad::record::{EventLine, InputLine, Kept, NoteLine, RideStart, Row};
use stillroad::review::{Recording, Review, review};
use stillroad::ride::RideMode;
use stillroad::units::{Bpm, BrakeTarget, Effort, Joules, MetresPerSecond, Rpm, Watts};

use crate::world::{EPOCH_MS, Ride};

/// What was kept of a ride.
#[derive(Clone)]
pub struct Rec {
    pub start: RideStart,
    pub finish: Option<String>,
    pub rows: Vec<Row>,
    pub events: Vec<EventLine>,
    pub notes: Vec<NoteLine>,
    pub raw: Vec<InputLine>,
    pub problems: Vec<String>,
}

impl Rec {
    /// As the core put it out.
    pub fn of(ride: &Ride) -> Self {
        let mut kept = Self::new();
        for (_, one) in ride.kept() {
            match one {
                Kept::Begin(start) => kept.start = *start,
                Kept::Row(row) => kept.rows.push(*row),
                Kept::Event(event) => kept.events.push(event.into()),
                Kept::Note(note) => kept.notes.push(note.into()),
                Kept::Raw(line) => kept.raw.push(line.into()),
                Kept::End(finish) => kept.finish = Some(finish.key().to_owned()),
                Kept::Left | Kept::GoOn(_) => {}
            }
        }
        kept
    }

    /// Nothing ridden yet; a session of one long block for a rider with a threshold of 200 W.
    pub fn new() -> Self {
        let session = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n[[block]]\nkind = \"hold\"\ntime = \"4:00:00\"\n\
                       watts = 150\ncadence = [80, 90]\n";
        let rider = "name = \"Trial\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n";
        Self {
            start: RideStart {
                utc_ms: EPOCH_MS,
                session: "Pier".to_owned(),
                session_text: Arc::from(session),
                fitted: None,
                rider: "Trial".to_owned(),
                rider_text: Arc::from(rider),
                mode: RideMode::TargetPower,
                threshold: Watts(200.0),
                power_cap: Watts(250.0),
                sprint_cap: Watts(400.0),
                spin_down: None,
                devices: Vec::new(),
            },
            finish: None,
            rows: Vec::new(),
            events: Vec::new(),
            notes: Vec::new(),
            raw: Vec::new(),
            problems: Vec::new(),
        }
    }

    pub fn recording(&self) -> Recording<'_> {
        Recording {
            start: &self.start,
            finish: self.finish.as_deref(),
            rows: &self.rows,
            events: &self.events,
            notes: &self.notes,
            raw: &self.raw,
            problems: &self.problems,
        }
    }

    pub fn review(&self) -> Review {
        review(&self.recording())
    }
}

/// A held second of the one block, on its lane in everything.
pub fn row(second: u64) -> Row {
    Row {
        ridden_s: second,
        plan_s: second as f64,
        utc_ms: EPOCH_MS + second as i64 * 1000,
        block: 1,
        kind: Kind::Hold,
        mode: RideMode::TargetPower,
        effort: Some(Effort(6.5)),
        lane: Some(Watts(150.0)),
        brake: Some(BrakeTarget::Power(Watts(150.0))),
        released: Some(false),
        could: Some(Watts(150.0)),
        power: Some(Watts(150.0)),
        cadence: Some(Rpm(85.0)),
        heart_rate: Some(Bpm(140.0)),
        speed: Some(MetresPerSecond(8.0)),
        distance: None,
        w_balance: Some(Joules(20_000.0)),
        power_from: None,
        cadence_from: None,
        heart_rate_from: None,
    }
}

/// Everything that the review says, in one text.
pub fn said(review: &Review) -> String {
    use stillroad::review::{tables, words};
    let mut text = words::sentences(review).join("\n");
    text += &review.missing.join("\n");
    for table in tables::tables(review) {
        text += &tables::as_text(&table, 100);
    }
    text
}
