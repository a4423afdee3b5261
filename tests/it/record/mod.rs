//! The recording: what is written comes back, and a failing disk loses nothing.

mod decoding;
mod failing;
mod fault_disk;
mod from_outside;
mod power;
mod rides;
mod stores;

use std::sync::Arc;

use stillroad::plan::Kind;
use stillroad::record::{Kept, RawLine, RideEvent, RideStart, Row};
use stillroad::ride::{Finish, RideMode};
use stillroad::units::{Bpm, BrakeTarget, Effort, Joules, Metres, MetresPerSecond, Rpm, Watts};

/// 2026-11-24T18:30:00Z in milliseconds: `date -u -d 2026-11-24T18:30:00Z +%s` gives 1795545000.
const START_MS: i64 = 1_795_545_000_000;

fn start() -> RideStart {
    RideStart {
        utc_ms: START_MS,
        session: "Über den Pass / 3×8".to_owned(),
        session_text: Arc::from("name = \"Über den Pass\"\n"),
        fitted: None,
        rider: "Ådne".to_owned(),
        rider_text: Arc::from("name = \"Ådne\"\n"),
        mode: RideMode::TargetPower,
        threshold: Watts(210.0),
        power_cap: Watts(280.0),
        sprint_cap: Watts(400.0),
        spin_down: None,
        devices: vec![(
            "trainer".to_owned(),
            "=Practice".to_owned(),
            "practice:1".to_owned(),
            true,
        )],
    }
}

/// A row whose values differ from second to second, with gaps, and stand on the file's decimals.
fn row(second: u64) -> Row {
    let x = second as f64;
    Row {
        ridden_s: second,
        plan_s: x + 0.125,
        utc_ms: START_MS + second as i64 * 1000,
        block: 1 + (second / 60) as u32,
        kind: Kind::ALL[(second % 6) as usize],
        mode: RideMode::TargetPower,
        effort: (!second.is_multiple_of(5)).then_some(Effort(4.5)),
        lane: (!second.is_multiple_of(7)).then_some(Watts(150.0 + x % 10.0)),
        brake: (!second.is_multiple_of(3)).then_some(BrakeTarget::Power(Watts(150.0))),
        released: (!second.is_multiple_of(5)).then_some(second.is_multiple_of(11)),
        could: (!second.is_multiple_of(10)).then_some(Watts(148.5)),
        power: (!second.is_multiple_of(4)).then_some(Watts(x % 300.0 - 5.0)),
        cadence: (!second.is_multiple_of(6)).then_some(Rpm(86.5)),
        heart_rate: (!second.is_multiple_of(9)).then_some(Bpm(140.0)),
        speed: (!second.is_multiple_of(8)).then_some(MetresPerSecond(10.0)),
        distance: Some(Metres(x * 10.0)),
        w_balance: Some(Joules(12_000.0 - x)),
        power_from: Some("meter"),
        cadence_from: Some("trainer"),
        heart_rate_from: (!second.is_multiple_of(9)).then_some("second-heart"),
    }
}

fn kept_row(second: u64) -> Kept {
    Kept::Row(Box::new(row(second)))
}

fn event(second: u64, what: &'static str, detail: &str) -> RideEvent {
    RideEvent {
        ridden_s: second as f64,
        plan_s: second as f64,
        utc_ms: START_MS + second as i64 * 1000,
        what,
        detail: detail.to_owned(),
    }
}

fn raw(at_us: u64) -> Kept {
    Kept::Raw(RawLine {
        at_us,
        input: "device",
        content: format!("{{\"notified\":[\"practice:1\",10962,[{}]]}}", at_us % 256),
    })
}

fn begin() -> Kept {
    Kept::Begin(Box::new(start()))
}

fn end() -> Kept {
    Kept::End(Finish::Completed)
}
