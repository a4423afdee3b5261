//! Snapshots of the moments of a ride that ask for something of their own: what is about to begin, to end, or is missing.

use std::sync::Arc;

use stillroad::engine::Snapshot;
use stillroad::engine::snapshot::InkPoint;
use stillroad::plan::Brake;
use stillroad::ride::ahead::Going;
use stillroad::ride::build_up::BuildUp;
use stillroad::ride::load::Ease;
use stillroad::ride::{Cause, Mode, PauseCause, Reading, RideMode};
use stillroad::time::{Instant, Span};
use stillroad::units::{BrakeRange, Effort, Rpm, Watts};

use super::states::{AT, effort_only, ink, laps, riding, sprint_plan, sprinting};

/// The steady session at a second of it, in a lap with a lane.
fn steady(second: u64, lap: usize, effort: f64, lane: f64) -> Snapshot {
    Snapshot {
        lap,
        session: Span::from_seconds(second),
        effort: Some(Effort(effort)),
        lane: Some(Watts(lane)),
        ink: ink(second as f64, lane),
        cue: None,
        ..riding()
    }
}

/// The session of sprints at a second of it, the sprints left to a brake.
fn sprints(second: u64, lap: usize, brake: Brake) -> Snapshot {
    let mut plan = sprint_plan();
    for block in &mut plan.blocks {
        if block.brake == Brake::Free {
            block.brake = brake;
        }
    }
    Snapshot {
        laps: laps(&plan),
        session_length: plan.length(),
        plan: Some(Arc::new(plan)),
        ..steady(second, lap, 4.0, 286.0 * 0.55)
    }
}

/// How a hold goes whose load is eased, or was just begun.
fn going(session: u64, since: f64, from: f64, factor: f64) -> Going {
    let begun = Span::from_seconds_f64(since);
    Going {
        now: AT,
        session: Span::from_seconds(session),
        lap: 3,
        build: BuildUp::new(from, Instant(AT.0 - begun.0), Span::from_seconds(10)),
        risen: Some(from),
        ease: Ease {
            factor,
            floor: 100.0,
            to_recovery: None,
        },
        to_recovery_on: None,
        trims: (0, 0),
        range: BrakeRange {
            least: 0.0,
            most: 1000.0,
            step: 1.0,
        },
        sprint_cap_until: Instant::ZERO,
    }
}

fn degraded(cause: Cause) -> Snapshot {
    Snapshot {
        mode: Mode::Degraded {
            cause,
            since: Instant(AT.0 - 9_000_000),
            paused: None,
        },
        brake_in_hand: false,
        cue: None,
        ..riding()
    }
}

fn without_lane(ink: &[InkPoint]) -> Arc<[InkPoint]> {
    ink.iter()
        .map(|point| InkPoint {
            lane: None,
            ..*point
        })
        .collect()
}

/// Each by name.
pub fn all() -> Vec<(&'static str, Snapshot)> {
    let hold = 286.0 * 0.82;
    let easy = 286.0 * 0.55;
    vec![
        ("warm-up", steady(240, 0, 3.2, 286.0 * 0.486)),
        ("hold", steady(1400, 3, 7.0, hold)),
        (
            "off-band",
            Snapshot {
                cadence: Reading::Fresh(Rpm(74.0)),
                ink: ink(1400.0, hold)
                    .iter()
                    .map(|point| InkPoint {
                        cadence: Some(Rpm(74.0)),
                        ..*point
                    })
                    .collect(),
                ..steady(1400, 3, 7.0, hold)
            },
        ),
        ("recovery", steady(1680, 4, 4.0, easy)),
        ("last-ten", steady(1613, 3, 7.0, hold)),
        ("end", steady(3174, 8, 3.0, 286.0 * 0.47)),
        ("sprint-soon", sprints(648, 2, Brake::Free)),
        (
            "sprint-held",
            Snapshot {
                effort: Some(Effort(10.0)),
                lane: None,
                ..sprints(664, 3, Brake::Held)
            },
        ),
        (
            "effort-sprint",
            Snapshot {
                ride_mode: RideMode::EffortOnly,
                ..sprinting()
            },
        ),
        (
            "effort-first",
            Snapshot {
                ink: without_lane(&riding().ink),
                ..effort_only()
            },
        ),
        (
            "just-skipped",
            Snapshot {
                going: Some(Going {
                    risen: Some(190.0),
                    ..going(1205, 4.0, 157.0, 1.0)
                }),
                can_undo: true,
                ..steady(1205, 3, 7.0, hold)
            },
        ),
        (
            "eased",
            Snapshot {
                going: Some(going(1400, 200.0, hold, 0.9)),
                notice: Some(Arc::from(
                    "The load is eased by 4 %. Cadence was under its band.",
                )),
                ..steady(1400, 3, 7.0, hold)
            },
        ),
        (
            "paused-by-hand",
            Snapshot {
                mode: Mode::Paused(PauseCause::Rider),
                released: "the clock stands",
                ..steady(1400, 3, 7.0, hold)
            },
        ),
        (
            "paused-gap",
            Snapshot {
                mode: Mode::Paused(PauseCause::Gap),
                released: "the clock stands",
                ..steady(1400, 3, 7.0, hold)
            },
        ),
        (
            "pedals-still",
            Snapshot {
                released: "the pedals stand still",
                cadence: Reading::Fresh(Rpm(0.0)),
                power: Reading::Fresh(Watts(0.0)),
                ..steady(1400, 3, 7.0, hold)
            },
        ),
        ("refused", degraded(Cause::ControlRefused)),
        ("taken", degraded(Cause::ControlLost)),
        (
            "no-cadence",
            Snapshot {
                cadence: Reading::NeverSeen,
                ink: ink(1400.0, hold)
                    .iter()
                    .map(|point| InkPoint {
                        cadence: None,
                        ..*point
                    })
                    .collect(),
                ..steady(1400, 3, 7.0, hold)
            },
        ),
        (
            "cadence-lost",
            Snapshot {
                cadence: Reading::Stale(Rpm(86.0)),
                ..steady(1400, 3, 7.0, hold)
            },
        ),
    ]
}
