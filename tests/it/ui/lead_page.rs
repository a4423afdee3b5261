//! The page to lead from, as the window shows it: it comes and goes at one key, and gives way to what is urgent.

use std::sync::Arc;

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::snapshot::Snapshot;
use stillroad::plan::{Cue, CueKind, CuePiece, CuePlace};
use stillroad::ride::{Mode, PauseCause};
use stillroad::time::Span;

use super::hand::Window;
use super::states;

/// The key that has to be pressed before a state shows what it is named for.
pub fn opened_by(name: &str) -> Option<Key> {
    let opens = [("why-", Key::W), ("lead-", Key::L), ("left-page", Key::O)];
    let opened = opens.iter().find(|(begins, _)| name.starts_with(begins));
    opened.map(|&(_, key)| key)
}

fn cue(at: Span, kind: CueKind, speaker: &str, words: &str) -> Cue {
    Cue {
        place: CuePlace::FromStart(at),
        kind,
        speaker: (!speaker.is_empty()).then(|| speaker.to_owned()),
        text: vec![CuePiece::Text(words.to_owned())],
    }
}

/// A hold that is led: one cue is being said, and another is due so many seconds later.
fn led(next_in: u64) -> Snapshot {
    let riding = states::riding();
    let mut plan = (**riding.plan.as_ref().unwrap()).clone();
    let lap = riding.laps[riding.lap];
    let into = riding.session.less(lap.start);
    plan.blocks[lap.block].cues = vec![
        cue(
            into.less(Span::from_seconds(40)),
            CueKind::Feel,
            "North lamp",
            "Firm, and yours. A sentence, and then a breath.",
        ),
        cue(
            into.less(Span::from_seconds(1)),
            CueKind::Do,
            "South lamp",
            "Half of it. Drop the shoulders, hands light, and keep the legs at eighty-five.",
        ),
        cue(
            into + Span::from_seconds(next_in),
            CueKind::Do,
            "North lamp",
            "One minute. Whoever is over the lane: ease to it now, and be there at the end.",
        ),
    ];
    Snapshot {
        plan: Some(Arc::new(plan)),
        ..riding
    }
}

/// The page in its forms, by name: states whose name begins with `lead-` are shown with its key pressed.
pub fn all() -> Vec<(&'static str, Snapshot)> {
    vec![("lead-now", led(12)), ("lead-breath", led(4))]
}

fn told(window: &Window) -> Option<String> {
    let node = window.harness.query_by_label("Lead")?;
    node.accesskit_node().value()
}

#[test]
fn it_says_what_to_say_now_and_next_and_how_it_should_feel() {
    for (width, height) in [(800, 600), (1280, 800), (1920, 1080)] {
        let mut window = Window::open(led(12), width, height);
        assert_eq!(told(&window), None);
        window.press(Key::L);
        assert_eq!(window.hand.told(), [], "the ride hears nothing of it");
        let words = told(&window).unwrap();
        for part in [
            "South lamp: Half of it.",
            "Next in 0:12",
            "North lamp: One minute.",
            "They feel: Firm, and yours.",
        ] {
            assert!(words.contains(part), "{part:?} at {width}: {words}");
        }
        window.press(Key::L);
        assert_eq!(told(&window), None, "the same key leaves it");
    }
}

#[test]
fn a_breath_is_asked_for_four_seconds_before() {
    let mut window = Window::open(led(4), 1280, 800);
    window.press(Key::L);
    assert!(told(&window).unwrap().contains("Draw breath: 4 s"));
}

#[test]
fn it_gives_way_to_a_banner() {
    let paused = Snapshot {
        mode: Mode::Paused(PauseCause::Rider),
        ..led(12)
    };
    let mut window = Window::open(paused, 1280, 800);
    window.press(Key::L);
    assert_eq!(told(&window), None);
    window.harness.get_by_label("Banner");
}

#[test]
fn a_key_mutes_all_sound_and_lets_it_be_heard_again() {
    let mut window = Window::open(led(12), 1280, 800);
    let heard = |window: &Window| window.harness.state().settings().kinds.on;
    assert!(heard(&window));
    window.press(Key::X);
    assert!(!heard(&window));
    window.press(Key::X);
    assert!(heard(&window));
    assert_eq!(window.hand.told(), []);
}
