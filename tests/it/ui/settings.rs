//! The room of settings, and its file broken in every way.

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::command::Command;
use stillroad::engine::snapshot::Snapshot;
use stillroad::ride::{Finish, Mode};
use stillroad::text::{self, Language};
use stillroad::ui::keys::{Act, Keymap};
use stillroad::ui::settings::{self, Settings};
use stillroad::ui::theme::Ground;

use super::hand::Window;
use super::states;

const ASKED: &str = "How large is this screen, and how far away?";

fn saved(window: &Window) -> Option<Settings> {
    let texts = window.drawer.settings.borrow();
    let (settings, problems) = settings::read(texts.last()?);
    assert_eq!(problems, []);
    Some(settings)
}

fn shows(window: &mut Window, words: &str) -> bool {
    window.words().iter().any(|shown| shown.contains(words))
}

#[test]
fn a_screen_that_was_not_told_is_asked_for_once() {
    let ready = Snapshot {
        cautions_seen_today: true,
        ..states::ready()
    };
    let mut window = Window::open(ready, 1280, 800);
    assert!(shows(&mut window, ASKED));
    // It is in nobody's way: enter still starts.
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [Command::StartWithPedals]);
    window.press(Key::S);
    window.harness.get_by_label("Line of 100 mm");
    window.harness.get_by_label("These are right").click();
    window.harness.run_steps(2);
    assert_eq!(saved(&window), None, "not while it is being changed");
    window.press(Key::Escape);
    assert_eq!(
        window.hand.told(),
        [Command::BrakeOff],
        "escape leaves and lets the brake off"
    );
    window.harness.run_steps(2);
    assert!(!shows(&mut window, ASKED));
    let screen = saved(&window).unwrap().screen().unwrap();
    assert!((150.0..3000.0).contains(&screen.diagonal_mm));
    assert!((300.0..5000.0).contains(&screen.distance_mm));
    assert_eq!(window.drawer.settings.borrow().len(), 1);
}

#[test]
fn the_line_is_measured_with_the_arrows() {
    let told = Settings {
        diagonal_mm: Some(500.0),
        distance_mm: Some(1500.0),
        ..Settings::default()
    };
    let mut window = Window::open_with(states::idle(), 1280, 800, told);
    window.press(Key::S);
    let line = |window: &Window| {
        let node = window.harness.get_by_label("Line of 100 mm");
        node.accesskit_node().numeric_value().unwrap()
    };
    // The whole window of 1280 by 800 points is the screen here: 1509.4 points on 500 mm, so 301.9 on 100 mm.
    let before = line(&window);
    assert!((before - 301.9).abs() < 0.1, "{before}");
    window.harness.get_by_label("Line of 100 mm").focus();
    window.harness.run_steps(2);
    for _ in 0..10 {
        window.press(Key::ArrowRight);
    }
    let after = line(&window);
    assert!((after - before - 10.0).abs() < 0.5, "{before} and {after}");
    assert!(window.harness.get_by_label("Line of 100 mm").is_focused());
    window.press(Key::Escape);
    window.harness.run_steps(2);
    // A longer line on the same points is a smaller screen: 500 × 301.9 / 311.9.
    let diagonal = saved(&window).unwrap().diagonal_mm.unwrap();
    assert!((diagonal - 484.0).abs() < 1.0, "{diagonal}");
}

#[test]
fn a_key_is_assigned_by_pressing_it() {
    let mut window = Window::open(states::idle(), 1280, 800);
    window.press(Key::S);
    window
        .harness
        .get_by_label("Change the key for yes")
        .click();
    window.harness.run_steps(2);
    assert!(shows(&mut window, "press its key"));
    window.press(Key::F5);
    assert!(shows(&mut window, "f5"));
    window.harness.get_by_label("One more key for yes").click();
    window.harness.run_steps(2);
    window.press(Key::PageDown);
    assert!(shows(
        &mut window,
        "The key page down stands for “more, on” already."
    ));
    window.harness.get_by_label("One more key for yes").click();
    window.harness.run_steps(2);
    window.press(Key::B);
    assert!(!shows(&mut window, "already"));
    // Escape leaves the waiting and lets the brake off; the room stays until it is pressed again.
    window
        .harness
        .get_by_label("Change the key for less, back")
        .click();
    window.harness.run_steps(2);
    window.hand.told();
    window.press(Key::Escape);
    assert_eq!(window.hand.told(), [Command::BrakeOff]);
    window.harness.get_by_label("Back to Prepare");
    window.press(Key::Escape);
    window.harness.run_steps(2);
    let keys = saved(&window).unwrap().keys;
    assert_eq!(keys.keys(Act::Yes), [Key::F5, Key::B]);
    assert_eq!(keys.keys(Act::Less), Keymap::default().keys(Act::Less));
    // And they act at once.
    window.hand.show(states::riding());
    window.harness.run_steps(2);
    window.hand.told();
    window.press(Key::F5);
    window.press(Key::B);
    assert_eq!(window.hand.told(), [Command::Pause]);
}

#[test]
fn every_control_is_reached_by_tab_and_has_a_name() {
    let mut window = Window::open(states::idle(), 1280, 800);
    window.press(Key::S);
    let mut seen = std::collections::BTreeSet::new();
    for _ in 0..80 {
        window.press(Key::Tab);
        let focused = window
            .harness
            .root()
            .children_recursive()
            .find(|node| node.accesskit_node().is_focused());
        if let Some(node) = focused {
            seen.insert(node.accesskit_node().label().unwrap_or_default());
        }
    }
    for label in [
        "Back to Prepare",
        "Line of 100 mm",
        "Diagonal in inches",
        "Diagonal in millimetres",
        "Distance in centimetres",
        "These are right",
        "125 %",
        "As the system",
        "Deutsch",
        "Paper, with dark ink",
        "Hold still what moves for its own sake",
        "Change the key for brake off",
        "One more key for settings",
        "Keys as at first",
        "All as at first",
    ] {
        assert!(seen.contains(label), "{label} is not among {seen:?}");
    }
    assert!(!seen.contains(""), "a control has no name");
}

#[test]
fn sizes_ground_and_motion_are_kept_and_taken_back() {
    let mut window = Window::open(states::idle(), 1280, 800);
    window.press(Key::S);
    for label in [
        "150 %",
        "Paper, with dark ink",
        "Hold still what moves for its own sake",
    ] {
        window.harness.get_by_label(label).click_accesskit();
        window.harness.run_steps(2);
    }
    window.press(Key::Escape);
    window.harness.run_steps(2);
    let kept = saved(&window).unwrap();
    assert_eq!(
        (kept.text_size, kept.ground, kept.reduced_motion),
        (150, Ground::Paper, true)
    );
    window.press(Key::S);
    window
        .harness
        .get_by_label("All as at first")
        .click_accesskit();
    window.harness.run_steps(2);
    window.press(Key::Escape);
    window.harness.run_steps(2);
    assert_eq!(saved(&window).unwrap(), Settings::default());
}

/// In a thread of its own, which speaks to the reader and to nobody after this test.
#[test]
fn a_language_is_in_effect_at_once_and_is_kept() {
    let ridden = std::thread::spawn(|| {
        text::speak_to_the_reader();
        let mut window = Window::open(states::idle(), 800, 600);
        let choose = |window: &mut Window, label: &str| {
            let node = window.harness.get_by_label(label);
            let at = node.rect();
            assert!(0.0 <= at.left() && at.right() <= 800.0, "{label}: {at:?}");
            node.click_accesskit();
            window.harness.run_steps(2);
        };
        window.press(Key::S);
        window.harness.get_by_label("Back to Prepare");
        choose(&mut window, "Deutsch");
        assert!(window.harness.query_by_label("Back to Prepare").is_none());
        window.press(Key::Escape);
        window.harness.run_steps(2);
        assert_eq!(saved(&window).unwrap().language, Some(Language::German));
        window.press(Key::S);
        choose(&mut window, "English");
        window.harness.get_by_label("Back to Prepare");
        window.press(Key::Escape);
        window.harness.run_steps(2);
        assert_eq!(saved(&window).unwrap().language, Some(Language::English));
    });
    ridden.join().unwrap();
}

#[test]
fn a_language_is_read_from_its_file() {
    for (text, language) in [
        ("", None),
        ("language = \"system\"", None),
        ("language = \"en\"", Some(Language::English)),
        ("language = \"de\"", Some(Language::German)),
    ] {
        let (settings, problems) = settings::read(text);
        assert_eq!((settings.language, problems), (language, Vec::new()));
        let again = settings::read(&settings::to_toml(&settings)).0;
        assert_eq!(again.language, language);
    }
}

#[test]
fn nothing_is_saved_while_a_ride_is_under_way() {
    let mut window = Window::open(states::riding(), 800, 600);
    window.press(Key::G);
    window.press(Key::S);
    assert_eq!(saved(&window), None);
    window.hand.show(Snapshot {
        mode: Mode::Finished(Finish::ByRider),
        ..states::riding()
    });
    window.harness.run_steps(2);
    assert_eq!(saved(&window).unwrap().ground, Ground::Paper);
}

#[test]
fn a_desk_that_cannot_save_is_said() {
    let mut window = Window::open(states::idle(), 1280, 800);
    window.drawer.refuses.set(true);
    window.press(Key::G);
    window.harness.run_steps(2);
    assert!(shows(&mut window, "The drawer is locked. Unlock it."));
}

#[test]
fn a_ride_that_begins_leaves_the_settings() {
    let mut window = Window::open(states::ready(), 1280, 800);
    window.press(Key::S);
    window.hand.show(states::riding());
    window.harness.run_steps(2);
    window.harness.get_by_label("Left in block");
    window.press(Key::PageDown);
    assert_eq!(window.hand.told(), [Command::Trim(1)]);
}

/// What each slip is called, and where; all else keeps its default.
#[test]
fn every_slip_in_the_file_is_said_with_its_line() {
    for (text, line, says) in [
        (
            "diagonal_mm = 20",
            1,
            "A screen's diagonal of 20 mm is outside 150 to 3000 mm.",
        ),
        ("\ndiagonal_mm = \"14 in\"", 2, "takes a number"),
        (
            "distance_mm = 9000",
            1,
            "A distance from the screen of 9000 mm",
        ),
        ("distance_mm = nan", 1, "NaN"),
        ("text_size = 300", 1, "A size of text of 300 %"),
        ("text_size = 120.5", 1, "whole number"),
        ("ground = \"black\"", 1, "does not know the word"),
        ("language = \"fr\"", 1, "does not know the word"),
        ("ground = 1", 1, "a word in quotes"),
        ("reduced_motion = \"yes\"", 1, "true or false"),
        ("inches = 14", 1, "`inches` is not a key"),
        ("key_yes = \"enter\"", 1, "a list of words"),
        ("key_yes = [\"entre\"]", 1, "does not know the word `entre`"),
        ("key_yes = [\"tab\"]", 1, "does not know the word `tab`"),
        ("key_yes = [\"f1\", \"f1\"]", 1, "stands in this list twice"),
        ("key_yes = []", 1, "keeps a key"),
        (
            "key_ease = [\"escape\"]",
            1,
            "Escape always lets the brake off",
        ),
        (
            "key_ease = [\"f1\", \"f2\", \"f3\", \"f4\", \"f5\"]",
            1,
            "are the most",
        ),
        (
            "key_ease = [\"x\"]\nkey_cut = [\"x\"]",
            2,
            "stands for “ease this block” already",
        ),
        ("key_ease = [\"x\"]\nkey_ease = [\"y\"]", 2, "a second time"),
        ("key_ease [\"x\"]", 1, ""),
        ("text_size = 150\n\u{0}", 2, "zero byte"),
    ] {
        let (settings, problems) = settings::read(text);
        let found = problems.iter().find(|problem| problem.what.contains(says));
        assert!(found.is_some(), "{text}: {problems:?}");
        assert_eq!(found.unwrap().line, line, "{text}");
        let usual = Settings::default();
        assert_eq!(settings.diagonal_mm, None, "{text}");
        assert_eq!(settings.text_size, usual.text_size, "{text}");
        assert_eq!(
            settings.keys.act(Key::Escape),
            Some(Act::BrakeOff),
            "{text}"
        );
        for act in [Act::Less, Act::Yes, Act::More] {
            assert!(!settings.keys.keys(act).is_empty(), "{text}");
        }
    }
}

#[test]
fn what_is_right_beside_a_slip_is_kept() {
    let text =
        "diagonal_mm = 344\ntext_size = 900\nground = \"paper\"\nkey_yes = [\"5\"]\nnonsense = 1\n";
    let (settings, problems) = settings::read(text);
    assert_eq!(problems.len(), 2);
    assert_eq!(settings.diagonal_mm, Some(344.0));
    assert_eq!(settings.screen(), None, "the distance is missing");
    assert_eq!(settings.ground, Ground::Paper);
    assert_eq!(settings.text_size, 100);
    assert_eq!(settings.keys.keys(Act::Yes), [Key::Num5]);
}

#[test]
fn keys_that_are_moved_are_free_whatever_the_order_of_lines() {
    for text in [
        "key_more = [\"enter\"]\nkey_yes = [\"up\"]",
        "key_yes = [\"up\"]\nkey_more = [\"enter\"]",
    ] {
        let (settings, problems) = settings::read(text);
        assert_eq!(problems, [], "{text}");
        assert_eq!(settings.keys.act(Key::Enter), Some(Act::More));
        assert_eq!(settings.keys.act(Key::ArrowUp), Some(Act::Yes));
    }
}

/// Writes the room of settings, the choices, and names in other scripts to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_settings_and_choices() {
    let folder = std::path::PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    let told = |text_size, ground| Settings {
        diagonal_mm: Some(344.0),
        distance_mm: Some(1500.0),
        text_size,
        ground,
        ..Settings::default()
    };
    for (width, height) in [(1280, 800), (800, 600), (1920, 1080)] {
        for (size, ground) in [
            (100, Ground::Dark),
            (100, Ground::Paper),
            (200, Ground::Dark),
        ] {
            let write = |name: &str, window: &mut Window| {
                let name = format!("{name}-{width}-{size}-{ground:?}.png").to_lowercase();
                std::fs::write(folder.join(name), window.picture().png()).unwrap();
            };
            let settings = told(size, ground);
            let mut window = Window::open_with(states::idle(), width, height, settings.clone());
            window.press(Key::S);
            write("settings", &mut window);
            if size > 100 {
                continue;
            }
            let mut window = Window::open_with(states::riding(), width, height, settings.clone());
            window.press(Key::Enter);
            write("choices", &mut window);
            for _ in 0..5 {
                window.press(Key::ArrowUp);
            }
            write("choices-skip", &mut window);
            let paused = Snapshot {
                mode: Mode::Paused(stillroad::ride::PauseCause::Rider),
                released: "paused",
                ..states::riding()
            };
            let mut window = Window::open_with(paused, width, height, settings);
            write("choices-paused", &mut window);
        }
    }
    let mut window = Window::open(states::idle(), 1280, 800);
    std::fs::write(folder.join("door.png"), window.picture().png()).unwrap();
    let mut strange = states::idle();
    strange.devices = [
        "רכב מהיר",
        "دراجة قوية",
        "साइकिल",
        "จักรยาน",
        "自転車",
        "자전거",
    ]
    .iter()
    .map(|name| stillroad::engine::snapshot::DeviceRow {
        name: (*name).to_owned(),
        id: stillroad::device::DeviceId::new(name),
        ..states::practice(false)
    })
    .collect();
    let mut window = Window::open(strange, 1280, 800);
    std::fs::write(folder.join("scripts-none.png"), window.picture().png()).unwrap();
    let provider = egui_system_font_provider::SystemFontProvider::new();
    stillroad::ui::fonts::add_source(&window.harness.ctx, std::sync::Arc::new(provider));
    window.harness.run_steps(3);
    std::fs::write(folder.join("scripts-found.png"), window.picture().png()).unwrap();
}
