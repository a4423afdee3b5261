//! Ends of rides made by hand: one for each state that the room after a ride has to show.

use std::sync::Arc;

use stillroad::engine::snapshot::{
    BrakeLeft, Channel, InkPoint, Pauses, Question, RecordState, Snapshot, Summary, TestOutcome,
};
use stillroad::plan::ThresholdTest;
use stillroad::ride::threshold_test::Finding;
use stillroad::ride::{Finish, Mode, PauseCause, RideMode};
use stillroad::time::Span;
use stillroad::units::{Effort, Joules, Rpm, Watts};

use super::states;

/// Where the rides are kept.
pub const FOLDER: &str = "/home/robin/Stillroad/rides/2026-11-24 1830 Four-by-seven";

/// So many seconds of the session, eight to a point; the lane as the rider's effort map gives it, power a little off it.
fn ink(snapshot: &Snapshot, seconds: u64) -> Arc<[InkPoint]> {
    let rider = states::rider();
    let plan = snapshot.plan.as_ref().unwrap();
    (0..seconds / 8)
        .map(|n| {
            let at = Span::from_seconds(n * 8 + 4);
            let lap = snapshot.laps.iter().rfind(|lap| lap.start <= at).unwrap();
            let share = at.less(lap.start).seconds() / lap.length.seconds();
            let load = plan.blocks[lap.block].target.at(share).unwrap();
            let stillroad::plan::Load::Effort(effort) = load else {
                panic!("the session is written in efforts");
            };
            let lane = rider.effort_map.watts(effort, rider.threshold).unwrap();
            let wave = (n as f64 * 0.7).sin() * 4.0 + (n as f64 * 0.23).sin() * 3.0;
            // Twenty seconds of the first recovery went missing.
            let gone = (1100..1130).contains(&at.whole_seconds());
            InkPoint {
                at,
                power: (!gone).then_some(Watts(lane.0 + wave)),
                cadence: (!gone)
                    .then(|| Rpm(86.0 + wave / 2.0 - if effort.0 < 4.5 { 5.0 } else { 0.0 })),
                lane: Some(lane),
            }
        })
        .collect()
}

fn channel(seconds: u64, gaps: u32, longest: u64, mean: f64, most: f64) -> Channel {
    Channel {
        seconds,
        gaps,
        longest,
        mean: Some(mean),
        most: Some(most),
    }
}

/// The sketch's session ridden to its end, the rating asked for.
pub fn completed() -> Snapshot {
    let riding = states::riding();
    let summary = Summary {
        rows: 3180,
        lost: 0,
        power: channel(3158, 1, 22, 188.4, 297.0),
        cadence: channel(3158, 1, 22, 84.2, 96.0),
        heart_rate: channel(3180, 0, 0, 142.0, 168.0),
        pauses: vec![
            Pauses {
                cause: PauseCause::PedalsStopped,
                count: 2,
                stood: Span::from_seconds(70),
            },
            Pauses {
                cause: PauseCause::Rider,
                count: 1,
                stood: Span::from_seconds(305),
            },
        ],
        in_hand: 3180,
        brake_left: BrakeLeft::Released,
        ratings: vec![
            (1, Some(Effort(6.0))),
            (3, Some(Effort(7.0))),
            (5, None),
            (7, Some(Effort(10.0))),
        ],
        session_rating: None,
        ink: ink(&riding, 3180),
        ink_step: Span::from_seconds(8),
    };
    Snapshot {
        mode: Mode::Finished(Finish::Completed),
        question: Some(Question::RateSession),
        record: RecordState::Closed(FOLDER.into(), 3180),
        session: Span::from_seconds(3180),
        ridden: Span::from_seconds(3180),
        work: 595_000.0,
        cue: None,
        lap: 8,
        summary: Some(Arc::new(summary)),
        ..riding
    }
}

fn with(snapshot: Snapshot, change: impl FnOnce(&mut Summary)) -> Snapshot {
    let mut summary = Summary::clone(snapshot.summary.as_ref().unwrap());
    change(&mut summary);
    Snapshot {
        summary: Some(Arc::new(summary)),
        ..snapshot
    }
}

fn ended_early() -> Snapshot {
    let seconds = 1585;
    let early = Snapshot {
        mode: Mode::Finished(Finish::ByRider),
        record: RecordState::Closed(FOLDER.into(), seconds),
        session: Span::from_seconds(seconds),
        ridden: Span::from_seconds(seconds),
        work: 289_000.0,
        question: None,
        ..completed()
    };
    let ink = ink(&early, seconds);
    with(early, |summary| {
        summary.ink = ink;
        summary.rows = seconds;
        summary.in_hand = 1420;
        summary.power = channel(seconds, 0, 0, 182.0, 290.0);
        summary.cadence = channel(1540, 2, 30, 85.0, 95.0);
        summary.heart_rate = Channel {
            gaps: 1,
            longest: seconds,
            ..Channel::default()
        };
        summary.pauses.clear();
        summary.ratings.truncate(1);
        summary.session_rating = Some(Effort(8.0));
    })
}

fn tested(found: Result<Finding, Vec<String>>) -> TestOutcome {
    TestOutcome {
        test: ThresholdTest::Step,
        found,
        before: Watts(200.0),
        w_prime_before: Joules(18_000.0),
        taken: None,
    }
}

/// Every state of the room by name.
pub fn all() -> Vec<(&'static str, Snapshot)> {
    let bare = |snapshot: Snapshot| {
        with(snapshot, |summary| {
            let none = Channel::default();
            summary.power = none;
            summary.cadence = none;
            summary.heart_rate = none;
            summary.in_hand = 0;
            summary.brake_left = BrakeLeft::Never;
            summary.ratings.clear();
            summary.ink = summary
                .ink
                .iter()
                .map(|point| InkPoint {
                    power: None,
                    cadence: None,
                    ..*point
                })
                .collect();
        })
    };
    vec![
        ("end-asked", completed()),
        ("end-early", ended_early()),
        (
            "end-at-once",
            Snapshot {
                mode: Mode::Finished(Finish::Closed),
                question: None,
                record: RecordState::NotYet,
                session: Span::ZERO,
                ridden: Span::ZERO,
                work: 0.0,
                summary: Some(Arc::default()),
                ..completed()
            },
        ),
        (
            "end-disk",
            Snapshot {
                question: None,
                record: RecordState::Trouble(
                    "The disk is full, so the recording cannot be written to /home/robin/Stillroad/rides. The ride goes \
                     on and is kept in memory: free some space, and it is written at once. Do not close the program before.".into(),
                ),
                ..with(completed(), |summary| summary.lost = 412)
            },
        ),
        (
            "end-closing",
            Snapshot {
                record: RecordState::Writing(FOLDER.into(), 3176),
                ..with(completed(), |summary| {
                    summary.brake_left = BrakeLeft::LettingOff;
                })
            },
        ),
        (
            "end-holds",
            Snapshot {
                notice: Some(Arc::from("Trying again.")),
                ..with(ended_early(), |summary| {
                    summary.brake_left = BrakeLeft::MayHold;
                })
            },
        ),
        ("end-bare", bare(completed())),
        (
            "end-test",
            Snapshot {
                question: None,
                test: Some(Arc::new(tested(Ok(Finding {
                    threshold: Watts(212.0),
                    give: Watts(9.0),
                    critical_power: Watts(223.0),
                    w_prime: None,
                    method: "From the step test: a critical power of 223 W is what the steps that you rode would just exhaust, with the W′ of 18.0 kJ in your file.".into(),
                    doubt: "An estimate. It leans on that W′, which nobody has checked yet, and takes threshold as five per cent under critical power. An error of the trainer's own watts goes into it whole.".into(),
                })))),
                ..completed()
            },
        ),
        (
            "end-test-none",
            Snapshot {
                question: None,
                test: Some(Arc::new(tested(Err(vec![
                    "The steps were over within six minutes: they began too high, or the test was cut short.".into(),
                    "The last steps were held under what they ask for, by your power cap, a trim or an ease.".into(),
                ])))),
                ..completed()
            },
        ),
        (
            "end-effort",
            Snapshot {
                ride_mode: RideMode::EffortOnly,
                lane: None,
                ..completed()
            },
        ),
        (
            "end-failed",
            Snapshot {
                mode: Mode::Finished(Finish::Closed),
                question: None,
                notice: Some(Arc::from(
                    "The program failed and the ride is over. The brake was let off as far as the trainer listens: ease off \
                     and shift down if it holds. What was ridden until then is on the disk; start again.",
                )),
                summary: None,
                ..ended_early()
            },
        ),
    ]
}
