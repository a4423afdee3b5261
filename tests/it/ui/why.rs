//! Why this load stands, as the window shows it: it comes and goes at one key, and by itself.

use std::sync::Arc;

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::snapshot::Snapshot;
use stillroad::ride::{Entry, Ledger, Mode, PauseCause, RideMode, Stage};
use stillroad::time::Span;
use stillroad::units::{BrakeTarget, Level, Watts};

use super::hand::Window;
use super::states;

/// A hold whose every stage did something.
pub fn explained() -> Snapshot {
    let values = [
        (Stage::Plan, 245.0, "the session"),
        (Stage::Trim, 250.0, "today's trim"),
        (Stage::EaseDown, 225.0, "the legs stalled in this block"),
        (Stage::BuildUp, 180.0, "the load is on its way"),
        (Stage::Meter, 183.0, "towards your meter's watts"),
        (Stage::Guard, 183.0, ""),
        (Stage::Cap, 182.0, "the rider's cap"),
        (Stage::Range, 180.0, "the trainer's range and step"),
    ];
    let mut before = 245.0;
    let entries = values.map(|(stage, output, why)| Entry {
        stage,
        input: std::mem::replace(&mut before, output),
        output,
        why,
    });
    Snapshot {
        ledger: Some(Arc::new(Ledger {
            entries: entries.to_vec(),
            target: BrakeTarget::Power(Watts(180.0)),
            lead: Span::from_millis(1500),
            on_its_way: true,
        })),
        brake_answer: "The brake answers at once, as far as can be seen: no command is sent ahead."
            .to_owned(),
        released: "",
        brake_in_hand: true,
        ..states::riding()
    }
}

/// The chain of one target: what came of each stage, those that changed nothing left out.
fn chain(changes: &[(Stage, f64, &'static str)], target: BrakeTarget, lead: f64) -> Arc<Ledger> {
    let mut value = changes[0].1;
    let entries = Stage::ALL.map(|stage| {
        let change = changes.iter().find(|(each, ..)| *each == stage);
        let (output, why) = change.map_or((value, ""), |(_, output, why)| (*output, *why));
        Entry {
            stage,
            input: std::mem::replace(&mut value, output),
            output,
            why,
        }
    });
    Arc::new(Ledger {
        entries: entries.to_vec(),
        target,
        lead: Span::from_seconds_f64(lead),
        on_its_way: false,
    })
}

/// The view in its forms, by name: states whose name begins with `why-` are shown with its key pressed.
pub fn all() -> Vec<(&'static str, Snapshot)> {
    const ANSWERS: &str =
        "The brake answers 1.1 s after a command: rises are sent so much ahead, at most.";
    let held = |changes: &[(Stage, f64, &'static str)], lead: f64| {
        let last = changes[changes.len() - 1].1;
        Snapshot {
            ledger: Some(chain(changes, BrakeTarget::Power(Watts(last)), lead)),
            brake_answer: ANSWERS.to_owned(),
            cue: None,
            ..states::riding()
        }
    };
    let plan = (Stage::Plan, 234.5, "the session");
    vec![
        (
            "why-plain",
            held(
                &[plan, (Stage::Range, 234.0, "the trainer's range and step")],
                0.0,
            ),
        ),
        (
            "why-trim",
            held(
                &[
                    plan,
                    (Stage::Trim, 243.9, "today's trim"),
                    (Stage::Range, 243.0, "the trainer's range and step"),
                ],
                0.0,
            ),
        ),
        (
            "why-ease-down",
            held(
                &[
                    plan,
                    (Stage::EaseDown, 216.1, "the cadence was under its band"),
                    (Stage::Range, 216.0, "the trainer's range and step"),
                ],
                0.0,
            ),
        ),
        (
            "why-cap",
            held(
                &[
                    (Stage::Plan, 372.0, "the session"),
                    (Stage::Cap, 350.0, "the rider's cap"),
                ],
                0.0,
            ),
        ),
        (
            "why-lead",
            held(
                &[plan, (Stage::BuildUp, 187.0, "the load is on its way")],
                1.1,
            ),
        ),
        (
            "why-guard",
            Snapshot {
                released: "the legs were stalling",
                ..held(&[plan], 0.0)
            },
        ),
        (
            "why-effort",
            Snapshot {
                ride_mode: RideMode::EffortOnly,
                lane: None,
                ledger: Some(chain(
                    &[
                        (Stage::Plan, 28.0, "your level for this session"),
                        (Stage::Cap, 24.0, "the rider's cap"),
                    ],
                    BrakeTarget::Resistance(Level(24.0)),
                    0.0,
                )),
                ..held(&[plan], 0.0)
            },
        ),
        (
            "why-everything",
            Snapshot {
                cue: None,
                meter_led: Some(
                    "Held by your meter: the trainer is asked for 3 % more.".to_owned(),
                ),
                ..explained()
            },
        ),
    ]
}

fn told(window: &Window) -> Option<String> {
    let node = window.harness.query_by_label("Why this load")?;
    node.accesskit_node().value()
}

#[test]
fn every_stage_that_changed_the_load_stands_in_the_strips_place() {
    for (width, height) in [(800, 600), (1280, 800), (1920, 1080)] {
        let mut window = Window::open(explained(), width, height);
        assert_eq!(told(&window), None);
        window.press(Key::W);
        assert_eq!(window.hand.told(), []);
        let words = told(&window).unwrap();
        for part in [
            "Why 180 W",
            "245 W The session.",
            "250 W Today's trim.",
            "225 W Eased: the legs stalled in this block.",
            "180 W On its way.",
            "183 W Your meter's watts.",
            "182 W Your cap.",
            "sent 1.5 s ahead",
        ] {
            assert!(words.contains(part), "{part:?} at {width}: {words}");
        }
        assert!(!words.contains("Let off"), "it changed nothing: {words}");
        assert!(window.harness.query_by_label("Strip").is_none());
        window.press(Key::W);
        assert_eq!(told(&window), None, "the same key leaves it");
    }
}

#[test]
fn it_leaves_by_itself_and_gives_way_to_what_is_urgent() {
    let mut window = Window::open(explained(), 1280, 800);
    window.press(Key::W);
    let later = |seconds: u64| Snapshot {
        at: states::AT + Span::from_seconds(seconds),
        ..explained()
    };
    window.hand.show(later(19));
    window.harness.run_steps(2);
    assert!(told(&window).is_some());
    window.hand.show(Snapshot {
        mode: Mode::Paused(PauseCause::Rider),
        ..later(19)
    });
    window.harness.run_steps(2);
    assert_eq!(
        told(&window),
        None,
        "what stands in the strip's place comes first"
    );
    window.hand.show(later(20));
    window.harness.run_steps(2);
    assert_eq!(told(&window), None);
}

#[test]
fn by_effort_watts_become_efforts() {
    // A trainer of power alone holds a recovery's load: 286 W of threshold, effort 4 is 55 % of it, 157.3 W.
    let mut snapshot = explained();
    snapshot.ride_mode = RideMode::EffortOnly;
    snapshot.ledger = Some(Arc::new(Ledger {
        entries: vec![Entry {
            stage: Stage::Plan,
            input: 157.3,
            output: 157.3,
            why: "the session",
        }],
        target: BrakeTarget::Power(Watts(157.3)),
        lead: Span::ZERO,
        on_its_way: false,
    }));
    let mut window = Window::open(snapshot, 1280, 800);
    window.press(Key::W);
    let words = told(&window).unwrap();
    assert!(
        words.contains("Why effort 4") && !words.contains(" W "),
        "{words}"
    );
}
