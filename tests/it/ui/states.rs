//! Snapshots made by hand: one for each state that the window has to show.

use std::sync::Arc;

use stillroad::device::{Adapter, DeviceId};
use stillroad::engine::Snapshot;
use stillroad::engine::command::Role;
use stillroad::engine::snapshot::{
    Armed, DeviceRow, InkPoint, Link, Question, RecordState, SpinDowns,
};
use stillroad::ride::{Cause, Finish, Mode, PauseCause, Reading, RideMode};
use stillroad::time::{Instant, Span};
use stillroad::units::{Bpm, BrakeTarget, Effort, Level, MetresPerSecond, Rpm, Watts};

/// The clock at which all snapshots are taken.
pub const AT: Instant = Instant(5_000_000_000);

pub use super::plans::{laps, rider, sprint_plan, steady_plan};

pub fn practice(used: bool) -> DeviceRow {
    DeviceRow {
        id: DeviceId::new("practice"),
        name: "Practice trainer".into(),
        can: vec![Role::Trainer, Role::Heart],
        used_for: if used {
            vec![Role::Trainer, Role::Heart]
        } else {
            Vec::new()
        },
        link: if used { Link::Connected } else { Link::Heard },
        battery: None,
        rssi: None,
        last_heard: Some(AT),
        live: if used {
            "148 W, 86 rpm, 121 bpm".into()
        } else {
            String::new()
        },
        bad_records: 0,
        simulated: true,
        known: false,
    }
}

fn strap() -> DeviceRow {
    DeviceRow {
        id: DeviceId::new("C4:12:00:00:00:01"),
        name: "Chest strap".into(),
        can: vec![Role::Heart],
        used_for: Vec::new(),
        link: Link::Heard,
        battery: Some(80),
        rssi: Some(-61),
        last_heard: Some(Instant(AT.0 - 4_000_000)),
        live: String::new(),
        bad_records: 2,
        simulated: false,
        known: false,
    }
}

fn strange() -> DeviceRow {
    DeviceRow {
        id: DeviceId::new("C4:12:00:00:00:02"),
        name: "Rower".into(),
        can: Vec::new(),
        used_for: Vec::new(),
        link: Link::Unusable("It is a rowing machine: a bicycle trainer is needed.".into()),
        battery: None,
        rssi: Some(-80),
        last_heard: Some(AT),
        live: String::new(),
        bad_records: 0,
        simulated: false,
        known: false,
    }
}

/// Nothing chosen, nothing connected.
pub fn idle() -> Snapshot {
    Snapshot {
        at: AT,
        mode: Mode::Idle,
        waits_for_pedals: false,
        ride_mode: RideMode::TargetPower,
        test: None,
        spin_down: SpinDowns::default(),
        plan: None,
        split: None,
        brake_answer: String::new(),
        rider: None,
        laps: Arc::from([]),
        lap: 0,
        session: Span::ZERO,
        session_length: Span::ZERO,
        ridden: Span::ZERO,
        taken_up: None,
        group: None,
        power: Reading::NeverSeen,
        cadence: Reading::NeverSeen,
        heart_rate: Reading::NeverSeen,
        speed: Reading::NeverSeen,
        lane: None,
        effort: None,
        going: None,
        brake: None,
        released: "",
        brake_in_hand: false,
        gear: stillroad::ride::GearWords::default(),
        ledger: None,
        meter_led: None,
        flywheel: stillroad::engine::snapshot::Flywheel::default(),
        trim_work: 0,
        trim_recovery: 0,
        ink: Arc::from([]),
        cue: None,
        notice: None,
        question: None,
        armed: None,
        can_undo: false,
        adapter: Adapter::Listening,
        devices: Arc::from([practice(false), strap(), strange()]),
        changed: Vec::new(),
        let_go_first: Vec::new(),
        missing: vec!["No trainer is chosen: choose one below, or ride without.".into()],
        record: RecordState::NotYet,
        w_balance: None,
        work: 0.0,
        summary: None,
        cautions_seen_today: false,
        last_recoveries: Default::default(),
    }
}

/// Devices stand, the pedals may turn.
pub fn ready() -> Snapshot {
    Snapshot {
        mode: Mode::Ready,
        devices: Arc::from([practice(true), strap(), strange()]),
        missing: Vec::new(),
        brake_in_hand: true,
        ..idle()
    }
}

/// Ink at four points a second, with one time over the lane some 35 seconds back.
pub fn ink(session: f64, lane: f64) -> Arc<[InkPoint]> {
    (0..=360)
        .map(|n| {
            let back = 90.0 - f64::from(n) * 0.25;
            let at = session - back;
            let wobble = (at * 0.9).sin() * 3.0 + (at * 2.3).sin() * 2.0;
            let over = if (33.0..38.0).contains(&back) {
                22.0
            } else {
                0.0
            };
            InkPoint {
                at: Span::from_seconds_f64(at),
                power: Some(Watts(lane + wobble + over - 2.0)),
                cadence: Some(Rpm(86.0 + (at * 1.7).sin() * 1.5)),
                lane: Some(Watts(lane)),
            }
        })
        .collect()
}

/// The second of four holds at 26:25 of 53:00, all well.
pub fn riding() -> Snapshot {
    let plan = steady_plan();
    let session = 26.0 * 60.0 + 25.0;
    let lane = 286.0 * 0.82;
    Snapshot {
        mode: Mode::Riding,
        laps: laps(&plan),
        session_length: plan.length(),
        plan: Some(Arc::new(plan)),
        rider: Some(Arc::new(rider())),
        lap: 3,
        session: Span::from_seconds_f64(session),
        ridden: Span::from_seconds_f64(session),
        power: Reading::Fresh(Watts(232.0)),
        cadence: Reading::Fresh(Rpm(86.0)),
        heart_rate: Reading::Fresh(Bpm(151.0)),
        speed: Reading::Fresh(MetresPerSecond(8.6)),
        lane: Some(Watts(lane)),
        effort: Some(Effort(7.0)),
        brake: Some(BrakeTarget::Power(Watts(lane.floor()))),
        ink: ink(session, lane),
        cue: Some(Arc::from("Keep the line flat.")),
        record: RecordState::Writing("/home/robin/rides/2026-11-24".into(), 1585),
        work: 310_000.0,
        ..ready()
    }
}

/// The same without watts.
pub fn effort_only() -> Snapshot {
    Snapshot {
        ride_mode: RideMode::EffortOnly,
        lane: None,
        ..riding()
    }
}

/// In a sprint of twelve seconds, four of them ridden.
pub fn sprinting() -> Snapshot {
    let plan = sprint_plan();
    Snapshot {
        laps: laps(&plan),
        session_length: plan.length(),
        plan: Some(Arc::new(plan)),
        lap: 3,
        session: Span::from_seconds(664),
        lane: None,
        effort: Some(Effort(10.0)),
        ink: ink(664.0, 160.0)
            .iter()
            .map(|point| InkPoint {
                lane: None,
                power: point.power.map(|p| {
                    if point.at >= Span::from_seconds(660) {
                        Watts(480.0)
                    } else {
                        p
                    }
                }),
                ..*point
            })
            .collect(),
        power: Reading::Fresh(Watts(480.0)),
        cue: Some(Arc::from("Up and go.")),
        ..riding()
    }
}

/// In the three minutes of a test, two of them ridden.
pub fn all_out_test() -> Snapshot {
    let builtin = stillroad::plan::builtin();
    let (_, text) = builtin
        .iter()
        .find(|(key, _)| *key == "three-minutes")
        .unwrap();
    let plan = stillroad::plan::read(text).plan.unwrap();
    let lap = (0..plan.blocks.len())
        .find(|&block| plan.is_tested(block))
        .unwrap();
    let laps = laps(&plan);
    let session = laps[lap].start + Span::from_seconds(121);
    Snapshot {
        session_length: plan.length(),
        plan: Some(Arc::new(plan)),
        laps,
        lap,
        session,
        ridden: session,
        lane: None,
        effort: None,
        brake: Some(BrakeTarget::Resistance(Level(20.0))),
        ink: ink(session.seconds(), 290.0),
        power: Reading::Fresh(Watts(291.0)),
        cue: None,
        ..riding()
    }
}

pub use super::lead_page::opened_by;

/// Every state by name.
pub fn all() -> Vec<(&'static str, Snapshot)> {
    let degraded = |cause| Mode::Degraded {
        cause,
        since: Instant(AT.0 - 9_000_000),
        paused: None,
    };
    let mut all = super::moments::all();
    all.extend(super::why::all());
    all.extend(super::lead_page::all());
    all.extend(super::left_open::all());
    all.push(("all-out-test", all_out_test()));
    all.extend(vec![
        ("idle", idle()),
        (
            "no-adapter",
            Snapshot {
                adapter: Adapter::Missing(
                    "This computer has no Bluetooth adapter: plug one in, or ride without devices.".into(),
                ),
                devices: Arc::from([practice(false)]),
                ..idle()
            },
        ),
        ("ready", ready()),
        ("riding", riding()),
        ("effort-only", effort_only()),
        ("sprinting", sprinting()),
        (
            "paused",
            Snapshot {
                mode: Mode::Paused(PauseCause::PedalsStopped),
                released: "paused",
                cue: None,
                power: Reading::Stale(Watts(0.0)),
                cadence: Reading::Fresh(Rpm(0.0)),
                ..riding()
            },
        ),
        (
            "off-by-hand",
            Snapshot {
                released: "let off by hand",
                ..riding()
            },
        ),
        (
            "degraded",
            Snapshot {
                mode: degraded(Cause::LinkLost),
                brake_in_hand: false,
                power: Reading::Gone,
                cadence: Reading::Gone,
                ..riding()
            },
        ),
        (
            "stale",
            Snapshot {
                power: Reading::Stale(Watts(232.0)),
                cadence: Reading::Stale(Rpm(86.0)),
                heart_rate: Reading::Gone,
                ..riding()
            },
        ),
        (
            "nothing",
            Snapshot {
                brake_in_hand: false,
                power: Reading::NeverSeen,
                cadence: Reading::NeverSeen,
                heart_rate: Reading::NeverSeen,
                ink: Arc::from([]),
                cue: None,
                ..riding()
            },
        ),
        (
            "guard",
            Snapshot {
                released: "the legs were stalling",
                cue: None,
                ..riding()
            },
        ),
        (
            "armed",
            Snapshot {
                armed: Some(Armed::Skip),
                can_undo: true,
                ..riding()
            },
        ),
        (
            "asked",
            Snapshot {
                question: Some(Question::RateBlock(1)),
                session: Span::from_seconds(17 * 60 + 20),
                lap: 2,
                effort: Some(Effort(4.0)),
                lane: Some(Watts(286.0 * 0.55)),
                ink: ink(17.0 * 60.0 + 20.0, 286.0 * 0.55),
                cue: None,
                ..riding()
            },
        ),
        (
            "disk",
            Snapshot {
                record: RecordState::Trouble(
                    "The disk is full: the ride goes on but is no longer recorded. Free some space.".into(),
                ),
                ..riding()
            },
        ),
        (
            "finished",
            Snapshot {
                mode: Mode::Finished(Finish::Completed),
                question: Some(Question::RateSession),
                record: RecordState::Closed("/home/robin/rides/2026-11-24".into(), 3180),
                ridden: Span::from_seconds(3180),
                ..riding()
            },
        ),
    ]);
    all
}
