//! The window worked by keys and by accessible names.

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::device::DeviceId;
use stillroad::engine::command::{Command, Role};
use stillroad::engine::snapshot::Snapshot;
use stillroad::ride::{Mode, PauseCause, RideMode};
use stillroad::units::Effort;

use super::hand::{Drawer, Hand, Window, shelf};
use super::states;

fn state(name: &str) -> Snapshot {
    let found = states::all().into_iter().find(|(state, _)| *state == name);
    found.unwrap().1
}

fn value(window: &Window, label: &str) -> String {
    let node = window.harness.get_by_label(label);
    node.accesskit_node().value().unwrap_or_default()
}

#[test]
fn figures_have_names_and_values() {
    let window = Window::open(states::riding(), 1280, 800);
    for (label, expected) in [
        ("Block", "Hold 2 of 4"),
        ("Left in block", "0:35"),
        ("Cadence", "86 rpm"),
        ("Cadence band", "80 to 90, in the band"),
        ("Heart rate", "151 bpm of 176"),
        ("Sentence", "Keep the line flat."),
        ("Gear", "Stay in this gear."),
        ("Next", "Then recovery, 3:00 at 4."),
        ("Whole session", "26:25 of 53:00"),
        ("Session time", "26:25 of 53:00"),
    ] {
        assert_eq!(value(&window, label), expected, "{label}");
    }
    assert!(value(&window, "Strip").starts_with("effort 7, 235 W"));
}

/// Enter alone, and each press counted: the practice trainer, the cautions of the day, ready, and at the latest the
/// start that the first turn of the pedals also gives.
#[test]
fn a_newcomer_is_riding_within_five_keystrokes() {
    let mut window = Window::open(states::idle(), 1280, 800);
    let mut pressed = 0;
    let mut enter = |window: &mut Window| {
        pressed += 1;
        window.press(Key::Enter);
        window.hand.told()
    };
    let practice = DeviceId::new("practice");
    assert_eq!(
        enter(&mut window),
        [Command::Use(Role::Trainer, Some(practice))]
    );
    // The core connects it; the cautions stand, and are read meanwhile.
    window.hand.show(Snapshot {
        mode: Mode::Connecting,
        missing: Vec::new(),
        ..states::ready()
    });
    window.harness.run_steps(3);
    assert!(value(&window, "Cautions").contains("Axle"));
    assert_eq!(enter(&mut window), [Command::CautionsSeen]);
    let seen = Snapshot {
        cautions_seen_today: true,
        ..states::ready()
    };
    window.hand.show(Snapshot {
        mode: Mode::Connecting,
        ..seen.clone()
    });
    window.harness.run_steps(3);
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [], "while it connects the button waits");
    window.hand.show(seen.clone());
    window.harness.run_steps(3);
    assert_eq!(enter(&mut window), [Command::StartWithPedals]);
    // Then the pedals start it, or the same button once more.
    window.hand.show(Snapshot {
        waits_for_pedals: true,
        ..seen
    });
    window.harness.run_steps(3);
    assert_eq!(enter(&mut window), [Command::Start]);
    assert!(pressed <= 5, "{pressed} keystrokes");
}

#[test]
fn an_enter_held_down_counts_once() {
    let mut window = Window::open(states::idle(), 1280, 800);
    for repeat in [false, true, true, true] {
        window.harness.event(egui::Event::Key {
            key: Key::Enter,
            physical_key: None,
            pressed: true,
            repeat,
            modifiers: egui::Modifiers::NONE,
        });
        window.harness.run_steps(1);
    }
    assert_eq!(window.hand.told().len(), 1);
}

#[test]
fn the_first_choice_is_told_before_anything_is_pressed() {
    let hand = Hand::new(states::idle());
    let ride = hand.clone();
    let mut harness = egui_kittest::Harness::builder().build_eframe(move |cc| {
        stillroad::app::App::new(cc, Box::new(ride), shelf(), Box::new(Drawer::default()))
    });
    harness.run_steps(2);
    let told = hand.told();
    assert!(matches!(&told[0], Command::Choose(choice)
        if choice.plan.name == "Four by seven" && choice.rider.name == "Robin" && choice.mode == RideMode::TargetPower));
    assert_eq!(told[1], Command::Scan(true));
    drop(harness);
    assert_eq!(
        hand.told(),
        [Command::Close],
        "a window that goes lets the brake off"
    );
}

#[test]
fn picking_in_prepare_tells_the_core() {
    let mut window = Window::open(states::idle(), 1280, 800);
    window.harness.get_by_label("Six sprints, 26:00").click();
    window.harness.run_steps(2);
    let told = window.hand.told();
    assert!(
        matches!(told.as_slice(), [Command::Choose(choice)] if choice.plan.name == "Six sprints")
    );
    window
        .harness
        .get_by_label("I ride by effort, without watts")
        .click();
    window.harness.run_steps(2);
    let told = window.hand.told();
    assert!(
        matches!(told.as_slice(), [Command::Choose(choice)] if choice.mode == RideMode::EffortOnly)
    );
    window
        .harness
        .get_by_label("Use Chest strap as heart")
        .focus();
    window.harness.run_steps(2);
    window.press(Key::Enter);
    let strap = DeviceId::new("C4:12:00:00:00:01");
    assert_eq!(window.hand.told(), [Command::Use(Role::Heart, Some(strap))]);
}

#[test]
fn every_control_of_prepare_is_reached_by_tab() {
    let mut window = Window::open(states::idle(), 1280, 800);
    let mut seen = std::collections::BTreeSet::new();
    for _ in 0..40 {
        window.press(Key::Tab);
        if let Some(focused) = window
            .harness
            .root()
            .children_recursive()
            .find(|node| node.accesskit_node().is_focused())
        {
            seen.insert(focused.accesskit_node().label().unwrap_or_default());
        }
    }
    for label in [
        "Sessions",
        "The brake holds the watts",
        "I ride by effort, without watts",
        "Riders",
        "Edit this rider",
        "New rider",
        "Cautions and stop signs",
        "Use Practice trainer as trainer",
        "Use Chest strap as heart",
        "Use the practice trainer (simulated)",
    ] {
        assert!(seen.contains(label), "{label} is not among {seen:?}");
    }
}

#[test]
fn the_keys_of_the_ride() {
    for (key, expected) in [
        (Key::Escape, Command::BrakeOff),
        (Key::Space, Command::Pause),
        (Key::ArrowUp, Command::Trim(1)),
        (Key::ArrowDown, Command::Trim(-1)),
        (Key::PageDown, Command::Trim(1)),
        (Key::PageUp, Command::Trim(-1)),
        (Key::ArrowRight, Command::Skip),
        (Key::E, Command::EaseBlock),
        (Key::Plus, Command::Stretch),
        (Key::C, Command::Cut),
        (Key::U, Command::Undo),
        (Key::M, Command::SwitchMode),
        (Key::K, Command::Mark),
        (Key::Q, Command::End),
    ] {
        let mut window = Window::open(states::riding(), 800, 600);
        window.press(key);
        assert_eq!(window.hand.told(), [expected], "{key:?}");
    }
}

#[test]
fn three_buttons_do_everything_while_paused() {
    for (keys, expected) in [
        (&[Key::Period][..], Command::Resume),
        (&[Key::PageDown, Key::Period], Command::Skip),
        (&[Key::PageUp, Key::Period], Command::End),
        (&[Key::Escape], Command::BrakeOff),
    ] {
        let mut window = Window::open(state("paused"), 800, 600);
        for &key in keys {
            assert_eq!(window.hand.told(), [], "{keys:?}");
            window.press(key);
        }
        assert_eq!(window.hand.told(), [expected], "{keys:?}");
    }
    let degraded = Snapshot {
        mode: Mode::Degraded {
            cause: stillroad::ride::Cause::Silent,
            since: states::AT,
            paused: Some(PauseCause::Rider),
        },
        ..states::riding()
    };
    let mut window = Window::open(degraded, 800, 600);
    window.press(Key::Space);
    assert_eq!(window.hand.told(), [Command::Resume]);
}

#[test]
fn the_brake_let_off_by_hand_is_set_again_by_the_middle_button() {
    let mut window = Window::open(state("off-by-hand"), 800, 600);
    window.press(Key::Space);
    assert_eq!(window.hand.told(), [Command::Resume]);
}

#[test]
fn a_held_key_is_not_a_second_press() {
    let mut window = Window::open(states::riding(), 800, 600);
    let key = |repeat| egui::Event::Key {
        key: Key::ArrowRight,
        physical_key: None,
        pressed: true,
        repeat,
        modifiers: egui::Modifiers::NONE,
    };
    for repeat in [false, true, true] {
        window.harness.event(key(repeat));
    }
    window.harness.run_steps(2);
    assert_eq!(window.hand.told(), [Command::Skip]);
}

#[test]
fn escape_comes_first_and_no_widget_eats_a_key_of_the_ride() {
    let mut window = Window::open(states::riding(), 1280, 800);
    // Give the keyboard to a widget: the hint for a pause is a button too.
    window.harness.get_by_label("pause (space)").focus();
    window.harness.run_steps(2);
    assert!(window.harness.get_by_label("pause (space)").is_focused());
    let events = [Key::ArrowUp, Key::Escape].map(|key| egui::Event::Key {
        key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: egui::Modifiers::SHIFT,
    });
    window.harness.input_mut().events.extend(events);
    window.harness.step();
    assert_eq!(window.hand.told(), [Command::BrakeOff, Command::Trim(1)]);
    // Space on the focused button would otherwise press it and pause a second time.
    window.harness.get_by_label("pause (space)").focus();
    window.harness.run_steps(2);
    window.press(Key::Space);
    assert_eq!(window.hand.told(), [Command::Pause]);
}

#[test]
fn escape_lets_the_brake_off_in_every_room() {
    for (name, snapshot) in states::all() {
        let mut window = Window::open(snapshot, 1280, 800);
        window.press(Key::Escape);
        assert_eq!(window.hand.told(), [Command::BrakeOff], "{name}");
    }
}

#[test]
fn a_rating_is_given_by_digits_or_by_three_buttons() {
    let mut window = Window::open(state("asked"), 1280, 800);
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [], "nothing was chosen yet");
    window.press(Key::ArrowDown);
    window.press(Key::Enter);
    window.press(Key::ArrowDown);
    assert_eq!(window.hand.told(), [], "the choices came and went");
    window.press(Key::ArrowUp);
    window.press(Key::ArrowUp);
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [Command::Rate(Effort(6.0))]);
    window.press(Key::Num1);
    window.press(Key::Num0);
    assert_eq!(value(&window, "How hard was that, 0 to 10?"), "10");
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [Command::Rate(Effort(10.0))]);
    window.press(Key::Space);
    assert_eq!(
        window.hand.told(),
        [Command::Pause],
        "space still pauses while nothing is chosen"
    );
    window.press(Key::Backspace);
    assert_eq!(window.hand.told(), [Command::PassRating]);
    // An answer that was begun for one question does not serve another.
    window.press(Key::Num9);
    window.hand.show(state("finished"));
    window.harness.run_steps(3);
    assert_eq!(
        value(&window, "How hard was the whole ride, 0 to 10?"),
        "no answer yet"
    );
}

#[test]
fn enter_leads_from_the_end_back_to_prepare() {
    let mut window = Window::open(state("finished"), 1280, 800);
    window.press(Key::Enter);
    let told = window.hand.told();
    assert!(
        matches!(told.as_slice(), [Command::Choose(_), Command::Scan(true)]),
        "{told:?}"
    );
    window.harness.run_steps(2);
    window.harness.get_by_label("Preview");
}

#[test]
fn a_window_without_the_keyboard_says_so_hugely() {
    let mut window = Window::open(states::riding(), 1280, 800);
    assert!(window.harness.query_by_label("Banner").is_none());
    window.harness.input_mut().focused = false;
    window.harness.run_steps(2);
    assert_eq!(value(&window, "Banner"), "No keys: click this window");
}

#[test]
fn stop_signs_stand_while_paused_and_after_letting_the_brake_off() {
    for (name, signs) in [
        ("paused", true),
        ("off-by-hand", true),
        ("riding", false),
        ("guard", false),
    ] {
        let window = Window::open(state(name), 1280, 800);
        assert_eq!(
            window.harness.query_by_label("Stop signs").is_some(),
            signs,
            "{name}"
        );
    }
}
