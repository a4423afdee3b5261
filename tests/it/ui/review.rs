//! The Review room worked by keys and accessible names: rides are listed, opened, looked at, kept; nothing overlaps.

use std::path::PathBuf;

use egui::{Key, OutputCommand};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::app::Ask;
use stillroad::engine::Command;
use stillroad::ui::rooms::review::Keep;
use stillroad::ui::settings::Settings;
use stillroad::ui::theme::Ground;

use super::hand::Window;
use super::pictures;
use super::review_rides::rides;
use super::states;
use super::views::View;

/// A window over these rides, with the room entered by its key.
fn reviewing(width: usize, height: usize, dots: f32, settings: Settings) -> Window {
    let mut window = Window::set_up(states::idle(), width, height, dots, settings);
    *window.pile.rides.borrow_mut() = rides();
    window.press(Key::R);
    window.harness.run_steps(4);
    window
}

fn value(window: &Window, label: &str) -> String {
    let node = window.harness.get_by_label(label);
    node.accesskit_node().value().unwrap_or_default()
}

fn has(window: &Window, label: &str) -> bool {
    window.harness.query_by_label(label).is_some()
}

fn presses(window: &mut Window, label: &str) {
    window.harness.get_by_label(label).click();
    window.harness.run_steps(4);
}

#[test]
fn rides_are_chosen_and_looked_at_by_the_keyboard_alone() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    assert_eq!(value(&window, "Place"), "Ride 1 of 8");
    assert!(
        value(&window, "Rides").starts_with("Four times to the light"),
        "{}",
        value(&window, "Rides")
    );
    assert!(
        value(&window, "Strip").contains("no power from"),
        "{}",
        value(&window, "Strip")
    );
    assert!(value(&window, "Strip").contains("the clock stood"));
    assert!(value(&window, "What happened, 1").starts_with("Ridden to the end"));
    // Right goes through the views, and stays at the last.
    for (view, label) in [
        ("Blocks", "Bar 1"),
        ("Repeats", "Causeway, repeat by repeat, row 1"),
        ("Best means", "Best mean powers of this ride, row 1"),
        ("Sprints, recoveries", "Recoveries, row 1"),
        ("Notes", "Said and noted, 2"),
        ("Over rides", "Rides, row 1"),
        ("Over rides", "Rides, row 2"),
    ] {
        window.press(Key::ArrowRight);
        assert_eq!(value(&window, "Looked at"), view);
        assert!(has(&window, label), "{label}");
    }
    let before = value(&window, "The same session before, 1");
    assert!(before.contains("ridden in target-power mode"), "{before}");
    assert!(has(&window, "Week of 2025-12-29"));
    window.press(Key::ArrowLeft);
    window.press(Key::ArrowLeft);
    window.press(Key::ArrowDown);
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Place"), "Ride 2 of 8");
    assert!(
        has(&window, "Sprints, row 1"),
        "the view stays from ride to ride"
    );
    let asked = window.pile.asked.borrow().clone();
    let open = |key: &str| Ask::Open(key.to_owned());
    let both = Ask::Compare(vec!["held".to_owned(), "effort".to_owned()]);
    assert_eq!(
        asked,
        [Ask::List, open("held"), both, open("sprints")],
        "each is asked for once"
    );
    assert_eq!(window.hand.told(), [], "the ride hears nothing of it");
    window.press(Key::R);
    window.harness.run_steps(2);
    assert!(has(&window, "Sessions"), "the same key leads back");
}

/// What the ratings say is shown, and adopted by a press alone: the rider's file is saved with the new map.
#[test]
fn the_effort_map_learned_is_shown_and_adopted_when_the_rider_says_so() {
    let mut window = reviewing(1280, 2400, 1.0, Settings::default());
    for _ in 0..5 {
        window.press(Key::ArrowDown);
        window.press(Key::ArrowRight);
    }
    window.press(Key::ArrowRight);
    window.harness.run_steps(4);
    assert_eq!(value(&window, "Session"), "Ladder");
    let told = value(&window, "Effort map");
    // Twelve ratings go a good part of the way from 91 % at 8 towards the 82 % that they say.
    let eight = told.split("8: ").nth(1).unwrap();
    let share: f64 = eight.split(' ').next().unwrap().parse().unwrap();
    assert!((82.0..90.0).contains(&share), "{told}");
    assert!(eight.contains("so far 91 %"), "{told}");
    assert!(
        window.drawer.riders.borrow().is_empty(),
        "nothing is adopted by looking"
    );
    // It lies under what is in view: the keyboard reaches it all the same.
    window.harness.get_by_label("Adopt this map").focus();
    window.harness.run_steps(3);
    window.press(Key::Enter);
    window.harness.run_steps(3);
    let saved = window.drawer.riders.borrow().clone();
    assert_eq!(saved.len(), 1);
    let (key, rider) = &saved[0];
    assert_eq!(key.as_deref(), Some("robin"));
    assert!(
        (rider.effort_map.shares()[8] * 100.0 - share).abs() < 0.51,
        "{:?}",
        rider.effort_map
    );
    assert!(value(&window, "Said").starts_with("The map was adopted"));
    assert!(matches!(
        window.hand.told().as_slice(),
        [Command::Choose(_)]
    ));
}

#[test]
fn watts_of_a_ride_by_effort_stand_here() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    window.press(Key::ArrowDown);
    window.press(Key::ArrowDown);
    window.press(Key::ArrowRight);
    window.harness.run_steps(3);
    assert!(value(&window, "About").contains("effort-only"));
    let bar = value(&window, "Bar 2");
    assert!(bar.contains(" W"), "{bar}");
}

#[test]
fn what_was_not_measured_is_said_and_drawn_as_nothing() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    for _ in 0..3 {
        window.press(Key::ArrowDown);
    }
    window.harness.run_steps(3);
    assert!(value(&window, "What happened, 1").contains("breaks off"));
    assert!(value(&window, "What is missing, 1").contains("Power was not measured"));
    let lacking = [(
        "Best means",
        "Power was not measured, so there are no best means.",
    )];
    for (view, words) in lacking {
        while value(&window, "Looked at") != view {
            window.press(Key::ArrowRight);
        }
        assert_eq!(value(&window, "Lacking"), words);
    }
    window.press(Key::ArrowDown);
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Time ridden"), "0:00");
}

#[test]
fn a_view_is_copied_as_a_table_and_kept_as_files() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    window.press(Key::ArrowRight);
    presses(&mut window, "Save the page");
    presses(&mut window, "Save the strip");
    assert_eq!(value(&window, "Said"), "Saved as held/Picture.");
    presses(&mut window, "Save the table");
    let asked = window.pile.asked.borrow().clone();
    let keep = |what| Ask::Keep("held".to_owned(), what);
    assert_eq!(
        asked[2..],
        [keep(Keep::Page), keep(Keep::Picture), keep(Keep::Table)]
    );
    *window.pile.refuses.borrow_mut() = Some("The disk is full. Free some space.".to_owned());
    presses(&mut window, "Save the page");
    assert_eq!(value(&window, "Said"), "The disk is full. Free some space.");
    window.harness.get_by_label("Copy this view").click();
    window.harness.step();
    let mut copied = None;
    for _ in 0..4 {
        for command in &window.harness.output().platform_output.commands {
            if let OutputCommand::CopyText(text) = command {
                copied = Some(text.clone());
            }
        }
        window.harness.step();
    }
    let copied = copied.expect("text for the clipboard");
    let mut reader = csv::Reader::from_reader(copied.as_bytes());
    assert!(
        reader
            .headers()
            .unwrap()
            .iter()
            .any(|head| head == "power_w")
    );
    assert_eq!(
        reader.records().map(Result::unwrap).count(),
        rides()[0].1.review().blocks.len()
    );
}

#[test]
fn a_ride_that_cannot_be_opened_is_told_and_asked_for_once() {
    let mut window = Window::open(states::idle(), 1280, 800);
    *window.pile.rides.borrow_mut() = rides();
    *window.pile.refuses.borrow_mut() = Some("The file is gone. Look for it.".to_owned());
    window.press(Key::R);
    window.harness.run_steps(6);
    assert_eq!(value(&window, "Ride"), "The file is gone. Look for it.");
    assert_eq!(window.pile.asked.borrow().len(), 2);
    assert!(!has(&window, "Save the page"));
}

#[test]
fn without_a_ride_the_room_says_so_and_escape_leaves() {
    let mut window = Window::open(states::idle(), 1280, 800);
    presses(&mut window, "Look at rides");
    assert!(value(&window, "Ride").starts_with("Nothing was ridden yet."));
    window.press(Key::Escape);
    window.harness.run_steps(2);
    assert!(has(&window, "Sessions"));
}

/// From the end of a ride: that ride is shown, and the keys choose rides and rate nothing.
#[test]
fn after_a_ride_that_ride_is_looked_at() {
    let (_, finished) = states::all()
        .into_iter()
        .find(|(name, _)| *name == "finished")
        .unwrap();
    let mut window = Window::open(finished, 1280, 800);
    let mut kept = rides();
    kept.insert(1, ("2026-11-24".to_owned(), kept[3].1.clone()));
    *window.pile.rides.borrow_mut() = kept;
    presses(&mut window, "Look at it");
    assert_eq!(value(&window, "Place"), "Ride 2 of 9");
    window.hand.told();
    window.press(Key::ArrowDown);
    window.press(Key::Num7);
    window.press(Key::Enter);
    assert_eq!(value(&window, "Place"), "Ride 3 of 9");
    assert_eq!(window.hand.told(), []);
    presses(&mut window, "Back (esc)");
    assert!(
        has(&window, "How hard was the whole ride, 0 to 10?"),
        "back where it was"
    );
}

/// Every view of every ride, in the smallest and in larger windows, with large type: no text on another, none cut.
pub(super) fn wrong() -> Vec<String> {
    let mut wrong = Vec::new();
    for (width, height, text) in [
        (800, 600, 100),
        (800, 600, 200),
        (1280, 800, 100),
        (1280, 800, 200),
        (2560, 1440, 100),
    ] {
        let settings = Settings {
            text_size: text,
            ..Settings::default()
        };
        let mut window = reviewing(width, height, 1.0, settings);
        for ride in 0..rides().len() {
            for view in 0..7 {
                let texts = window.seen_texts();
                let whole = egui::Rect::from_min_size(
                    egui::Pos2::ZERO,
                    egui::vec2(width as f32, height as f32),
                );
                for (index, (words, ink)) in texts.iter().enumerate() {
                    if !whole.contains_rect(ink.shrink(0.5)) {
                        wrong.push(format!(
                            "{width} at {text}, ride {ride}, view {view}: {words} leaves the window"
                        ));
                    }
                    for (other, beside) in &texts[index + 1..] {
                        let common = ink.intersect(*beside);
                        if common.width() > 1.0 && common.height() > 1.0 {
                            wrong.push(format!("{width} at {text}, ride {ride}, view {view}: {words} lies on {other}"));
                        }
                    }
                }
                window.press(Key::ArrowRight);
            }
            for _ in 0..7 {
                window.press(Key::ArrowLeft);
            }
            window.press(Key::ArrowDown);
            window.harness.run_steps(2);
        }
    }
    wrong
}

#[test]
fn nothing_overlaps_or_leaves_the_window() {
    let wrong = wrong();
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
}

/// The room of these rides on paper, with so many steps to the right gone through its views.
pub(super) fn shown(right: usize) -> Window {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    window.press(Key::G);
    for _ in 0..right {
        window.press(Key::ArrowRight);
        window.harness.run_steps(2);
    }
    window
}

/// Each view in words: every control, figure and sentence, for people to read and for changes to be seen.
#[test]
fn what_each_view_says() {
    use egui::accesskit::Role;
    let mut window = reviewing(1280, 2400, 1.0, Settings::default());
    let mut text = String::new();
    let mut before: Vec<String> = Vec::new();
    for ride in 0..rides().len() {
        for _ in 0..7 {
            let mut lines = Vec::new();
            for node in window.harness.root().children_recursive() {
                let node = node.accesskit_node();
                let told = [Role::Button, Role::Status, Role::ListBoxOption, Role::Label];
                let (label, value) = (
                    node.label().unwrap_or_default(),
                    node.value().unwrap_or_default(),
                );
                if told.contains(&node.role()) && !(label.is_empty() && value.is_empty()) {
                    lines.push(format!("{label}: {value}"));
                }
            }
            text += &format!("== ride {}, {}\n", ride + 1, value(&window, "Looked at"));
            // What stood in the view before is not said again.
            for line in lines.iter().filter(|line| !before.contains(line)) {
                text += line;
                text.push('\n');
            }
            before = lines;
            window.press(Key::ArrowRight);
            window.harness.run_steps(3);
        }
        for _ in 0..7 {
            window.press(Key::ArrowLeft);
        }
        window.press(Key::ArrowDown);
        window.harness.run_steps(4);
    }
    insta::assert_snapshot!("review", text);
}

/// Writes the room's pictures to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_the_review_s_pictures() {
    let folder = PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    let only = std::env::var("STILLROAD_WIDTHS").unwrap_or_default();
    for (width, height, text) in [
        (1280, 800, 100),
        (800, 600, 100),
        (800, 600, 200),
        (2560, 1440, 100),
    ] {
        if !only.is_empty()
            && !only
                .split(',')
                .any(|only| only == format!("{width}x{text}"))
        {
            continue;
        }
        for ground in [Ground::Dark, Ground::Paper] {
            let settings = Settings {
                text_size: text,
                ..Settings::default()
            };
            let mut window = reviewing(width, height, 1.0, settings);
            if ground == Ground::Paper {
                window.press(Key::G);
            }
            for (ride, (key, _)) in rides().iter().enumerate() {
                for view in 0..7 {
                    // One ride of each sort is enough of the last views.
                    if ride < 2 || view < 2 || (ride, view) == (5, 6) {
                        let name = format!("review-{width}-{text}-{ground:?}-{key}-{view}.png");
                        pictures::written(
                            &folder.join(name.to_lowercase()),
                            &mut window,
                            View::Plain,
                        );
                    }
                    window.press(Key::ArrowRight);
                }
                for _ in 0..7 {
                    window.press(Key::ArrowLeft);
                }
                window.press(Key::ArrowDown);
                window.harness.run_steps(2);
            }
        }
    }
}
