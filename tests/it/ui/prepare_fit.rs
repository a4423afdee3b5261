//! The buttons that fit a session in Prepare, pressed by their labels: what is shown and told afterwards.

use std::fmt::Write as _;
use std::sync::Arc;

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::app::Shelf;
use stillroad::engine::{Command, Snapshot};
use stillroad::plan;
use stillroad::plan::fit::{Recoveries, Wish};
use stillroad::rider::Rider;

use super::hand::Window;
use super::states;

/// `steady-repeats`: 11:00 of warm-up in three blocks, four times 5:00 and 3:00, 5:00 of cool-down.
fn window(last: Recoveries) -> Window {
    let sessions = plan::builtin()
        .iter()
        .filter(|(key, _)| ["steady-repeats", "recovery-spin"].contains(key))
        .map(|(key, text)| ((*key).to_owned(), Arc::new(plan::read(text).plan.unwrap())));
    let mut sessions: Vec<_> = sessions.collect();
    sessions.sort_by_key(|(key, _)| key != "steady-repeats");
    let shelf = Shelf {
        sessions,
        riders: vec![(None, Arc::new(Rider::default()))],
        troubles: Vec::new(),
    };
    let snapshot = Snapshot {
        cautions_seen_today: true,
        last_recoveries: last,
        missing: Vec::new(),
        ..states::ready()
    };
    Window::with(snapshot, shelf, 1280, 800, 1.0)
}

/// The room on paper with less time and easier recoveries.
pub fn shown() -> Window {
    let mut window = window(Recoveries::Full);
    window.press(Key::G);
    press(&mut window, "Fewer minutes");
    press(&mut window, "Recoveries: full");
    window
}

/// The value of each node of this label; none where there is no such node.
fn value(window: &Window, label: &str) -> Option<String> {
    let node = window.harness.query_by_label(label)?;
    Some(node.accesskit_node().value().unwrap_or_default())
}

fn press(window: &mut Window, label: &str) {
    window.harness.get_by_label(label).click();
    window.harness.run_steps(3);
}

/// What was wished for by the newest choice that the core was told; none where it was told nothing.
fn wish(window: &Window) -> Option<Wish> {
    let told = window.hand.told();
    told.into_iter().rev().find_map(|command| match command {
        Command::Choose(choice) => Some(match &choice.plan.fitted {
            Some(fitting) => fitting.wish,
            None => Wish::default(),
        }),
        _ => None,
    })
}

/// The head, the row of buttons and the table, as a screen reader has them.
fn told(window: &Window, text: &mut String, after: &str) {
    writeln!(text, "== {after}").unwrap();
    for label in ["Length", "Fitted", "Purpose", "Forecast"] {
        if let Some(value) = value(window, label) {
            writeln!(text, "{label}: {value}").unwrap();
        }
    }
    let nodes = window.harness.root().children_recursive();
    for node in nodes {
        let node = node.accesskit_node();
        let label = node.label().unwrap_or_default();
        if label.starts_with("Row ") || label == "Whole" || label == "of it main part" {
            let value = node.value().unwrap_or_default();
            writeln!(text, "{label}: {value}").unwrap();
        }
    }
}

#[test]
fn what_each_press_shows_in_words() {
    let mut window = window(Recoveries::Full);
    let mut text = String::new();
    told(&window, &mut text, "as it was written");
    for label in [
        "Fewer minutes",
        "Longer warm-up",
        "Recoveries: full",
        "Recoveries: easier",
        "More minutes",
        "Undo, as written",
    ] {
        press(&mut window, label);
        told(&window, &mut text, label);
    }
    insta::assert_snapshot!("prepare_fit", text);
}

/// By hand: a repeat is 8:00, so that 48:00 becomes 40:00 and, with 5:00 more of warm-up, 45:00.
#[test]
fn each_button_does_what_it_is_called_and_the_core_is_told() {
    let mut window = window(Recoveries::Full);
    assert_eq!(value(&window, "Whole").as_deref(), Some("48:00"));
    press(&mut window, "Fewer minutes");
    assert_eq!(value(&window, "Whole").as_deref(), Some("40:00"));
    let fitted = value(&window, "Fitted").unwrap();
    assert!(
        fitted.contains("Causeway: 3 times in place of 4."),
        "{fitted}"
    );
    let fewer = wish(&window).unwrap();
    assert!(
        fewer.minutes.is_some_and(|most| (40..48).contains(&most)),
        "{fewer:?}"
    );
    press(&mut window, "More minutes");
    press(&mut window, "More minutes");
    assert_eq!(value(&window, "Whole").as_deref(), Some("48:00"));
    assert_eq!(wish(&window), Some(Wish::default()));
    press(&mut window, "Longer warm-up");
    assert_eq!(value(&window, "Whole").as_deref(), Some("53:00"));
    press(&mut window, "Recoveries: full");
    let both = Wish {
        minutes: None,
        warm_up: 5,
        recoveries: Recoveries::Easier,
    };
    assert_eq!(wish(&window), Some(both));
    press(&mut window, "Undo, as written");
    assert_eq!(value(&window, "Whole").as_deref(), Some("48:00"));
    assert_eq!(
        (value(&window, "Fitted"), wish(&window)),
        (None, Some(Wish::default()))
    );
    // As short as it can be, and then a refusal that changes nothing.
    for _ in 0..5 {
        press(&mut window, "Fewer minutes");
    }
    assert_eq!(value(&window, "Whole").as_deref(), Some("17:00"));
    wish(&window);
    press(&mut window, "Fewer minutes");
    assert_eq!(value(&window, "Whole").as_deref(), Some("17:00"));
    assert_eq!(
        wish(&window),
        None,
        "a refused press tells the core nothing"
    );
    let words = window.words().join("\n");
    assert!(words.contains("you have 16:00"), "{words}");
}

#[test]
fn the_row_is_reached_and_pressed_by_the_keyboard() {
    let mut window = window(Recoveries::Full);
    let focused = |window: &Window| {
        let nodes = window.harness.root().children_recursive();
        let mut labels = nodes
            .filter(|node| node.accesskit_node().is_focused())
            .filter_map(|node| node.accesskit_node().label());
        labels.next().unwrap_or_default()
    };
    let mut seen = Vec::new();
    while seen.last().is_none_or(|label| label != "Fewer minutes") {
        assert!(seen.len() < 40, "{seen:?}");
        window.press(Key::Tab);
        seen.push(focused(&window));
    }
    window.press(Key::Enter);
    window.harness.run_steps(2);
    assert_eq!(value(&window, "Whole").as_deref(), Some("40:00"));
    // The others follow it, in the order in which they are drawn.
    let mut rest = Vec::new();
    for _ in 0..4 {
        window.press(Key::Tab);
        rest.push(focused(&window));
    }
    let order = [
        "More minutes",
        "Longer warm-up",
        "Recoveries: full",
        "Undo, as written",
    ];
    assert_eq!(rest, order);
}

#[test]
fn the_step_back_is_offered_and_never_done_by_itself() {
    let offer = "Last time with easier recoveries; half-way today?";
    let mut window = window(Recoveries::Easier);
    // Full as it was written, with the offer in words and on the button.
    assert_eq!(value(&window, "Fitted"), None);
    assert!(
        window.words().iter().any(|words| words == offer),
        "{:?}",
        window.words()
    );
    assert!(
        window
            .words()
            .iter()
            .any(|words| words == "half-way today?")
    );
    assert_eq!(wish(&window), None);
    for (label, wanted) in [
        (offer, Recoveries::HalfWay),
        ("Recoveries: half-way", Recoveries::Easier),
        ("Recoveries: easier", Recoveries::Full),
    ] {
        press(&mut window, label);
        assert_eq!(
            wish(&window).map(|wish| wish.recoveries),
            Some(wanted),
            "{label}"
        );
    }
    // Half-way last time: full is what stands, and is said; the button goes its usual way.
    let mut window = self::window(Recoveries::HalfWay);
    let words = window.words();
    let full = "Last time half-way back to the full recoveries; full today?";
    assert!(words.iter().any(|words| words == full), "{words:?}");
    press(&mut window, "Recoveries: full");
    assert_eq!(
        wish(&window).map(|wish| wish.recoveries),
        Some(Recoveries::Easier)
    );
}
