//! From the Review room to the Write room: the next session of a ride, by key and by button, and no text lost on the way.

use std::path::PathBuf;

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::Command;
use stillroad::engine::snapshot::{Question, Snapshot};

use super::hand::Window;
use super::pictures;
use super::states;
use super::views::View;
use super::write::{SHORT, has, replaces};
use crate::review::next::low;

const BUTTON: &str = "Next session from this ride";

fn over(snapshot: Snapshot) -> Window {
    sized(snapshot, 1280, 800)
}

fn sized(snapshot: Snapshot, width: usize, height: usize) -> Window {
    let window = Window::open(snapshot, width, height);
    let mut practice = low();
    practice.start.devices = vec![("trainer".into(), "Practice".into(), "-".into(), true)];
    let rides = [("low", low()), ("practice", practice)];
    *window.pile.rides.borrow_mut() = rides.map(|(key, kept)| (key.to_owned(), kept)).into();
    window
}

fn reviews(window: &mut Window) {
    window.press(Key::R);
    window.harness.run_steps(4);
}

fn value(window: &Window, label: &str) -> String {
    let node = window.harness.get_by_label(label);
    node.accesskit_node().value().unwrap_or_default()
}

fn presses(window: &mut Window, label: &str) {
    window.harness.get_by_label(label).click();
    window.harness.run_steps(4);
}

fn is_open(window: &Window) {
    let text = value(window, "Session text");
    assert!(text.contains("\neffort = 7.7\n"), "{text}");
    assert!(text.contains("#> Next: effort 7.7 in place of effort 7.5."));
    assert_eq!(value(window, "Session"), "Four times to the light next");
    assert_eq!(value(window, "File"), "Not saved yet");
    let said = value(window, "Said");
    assert!(said.contains("Causeway: effort 7.7 in place of effort 7.5."));
    assert!(said.contains("you and your coach decide"), "{said}");
    assert!(has(window, "No problems."));
}

#[test]
fn a_ride_becomes_the_next_session_by_its_key_and_by_its_button() {
    let mut window = over(states::idle());
    reviews(&mut window);
    window.press(Key::P);
    window.harness.run_steps(3);
    is_open(&window);
    assert!(
        window.folder.files.borrow().is_empty(),
        "nothing is saved yet"
    );
    let draft = window.folder.draft.borrow().clone().unwrap();
    assert!(draft.contains("effort = 7.7"), "and nothing would be lost");
    presses(&mut window, "Save");
    let key = "Four-times-to-the-light-next";
    assert!(window.folder.says(key).unwrap().contains("effort = 7.7"));
    let mut window = over(states::idle());
    reviews(&mut window);
    presses(&mut window, BUTTON);
    is_open(&window);
    assert_eq!(window.hand.told(), [], "the ride hears nothing of it");
    window.press(Key::Escape);
    window.harness.run_steps(2);
    assert!(has(&window, "Sessions"), "escape leads to Prepare");
}

#[test]
fn where_nothing_is_proposed_the_room_says_why_and_stays() {
    let mut window = over(states::idle());
    reviews(&mut window);
    window.press(Key::ArrowDown);
    window.harness.run_steps(4);
    for by_button in [false, true] {
        if by_button {
            presses(&mut window, BUTTON);
        } else {
            window.press(Key::P);
        }
        assert!(value(&window, "Said").contains("practice devices"));
        assert_eq!(value(&window, "Place"), "Ride 2 of 2");
    }
    // Elsewhere the key does nothing.
    window.press(Key::Escape);
    window.harness.run_steps(2);
    window.press(Key::P);
    window.harness.run_steps(2);
    assert!(has(&window, "Sessions"));
}

#[test]
fn a_text_that_is_not_saved_is_asked_about_first() {
    let mut window = over(states::idle());
    window.press(Key::T);
    window.harness.run_steps(2);
    replaces(&mut window, SHORT);
    window.press(Key::Escape);
    window.harness.run_steps(2);
    reviews(&mut window);
    window.press(Key::P);
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Session text"), SHORT);
    presses(&mut window, "Stay at the text");
    assert_eq!(value(&window, "Session text"), SHORT);
    window.press(Key::Escape);
    window.harness.run_steps(2);
    reviews(&mut window);
    window.press(Key::P);
    window.harness.run_steps(3);
    presses(&mut window, "Let it go");
    is_open(&window);
}

#[test]
fn a_draft_on_the_disk_is_asked_about_too_and_one_that_cannot_be_read_is_left_alone() {
    let mut window = over(states::idle());
    *window.folder.draft.borrow_mut() = Some(format!("# draft\n{SHORT}"));
    reviews(&mut window);
    window.press(Key::P);
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Session text"), SHORT);
    assert!(has(&window, "Let it go"));
    let mut window = over(states::idle());
    *window.folder.draft.borrow_mut() = Some("torn".to_owned());
    reviews(&mut window);
    window.press(Key::P);
    window.harness.run_steps(3);
    assert!(value(&window, "Said").contains("A draft lies"));
    assert_eq!(window.folder.draft.borrow().as_deref(), Some("torn"));
}

/// The room was entered before, and nothing there is unsaved: what another window left on the disk is still looked at.
#[test]
fn a_draft_that_came_after_the_room_was_left_is_not_written_over() {
    let left = |draft: &str| {
        let mut window = over(states::idle());
        window.press(Key::T);
        window.harness.run_steps(2);
        window.press(Key::Escape);
        window.harness.run_steps(2);
        *window.folder.draft.borrow_mut() = Some(draft.to_owned());
        reviews(&mut window);
        window.press(Key::P);
        window.harness.run_steps(3);
        window
    };
    let window = left("torn");
    assert!(value(&window, "Said").contains("A draft lies"));
    assert_eq!(window.folder.draft.borrow().as_deref(), Some("torn"));
    let draft = format!("# draft\n{SHORT}");
    let mut window = left(&draft);
    assert_eq!(value(&window, "Session text"), SHORT);
    presses(&mut window, "Stay at the text");
    assert_eq!(value(&window, "Session text"), SHORT);
    assert_eq!(window.folder.draft.borrow().as_ref(), Some(&draft));
    let mut window = left(&draft);
    presses(&mut window, "Let it go");
    is_open(&window);
}

/// Writes what becomes of a ride to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_the_next_session_s_pictures() {
    let folder = PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    for (width, height) in [(1280, 800), (800, 600)] {
        let mut window = sized(states::idle(), width, height);
        reviews(&mut window);
        window.press(Key::P);
        window.harness.run_steps(3);
        let name = format!("next-{width}.png");
        pictures::written(&folder.join(name), &mut window, View::Plain);
    }
}

/// After a ride the room is left for good: but not before its question was answered, which the proposal hangs on.
#[test]
fn from_the_end_of_a_ride_it_goes_on_once_nothing_is_asked() {
    let finished = |question| Snapshot {
        question,
        ..states::all()
            .into_iter()
            .find(|(name, _)| *name == "finished")
            .unwrap()
            .1
    };
    let mut window = over(finished(Some(Question::RateSession)));
    reviews(&mut window);
    window.press(Key::P);
    window.harness.run_steps(3);
    let said = value(&window, "Said");
    assert!(said.contains("still has a question for you"), "{said}");
    window.hand.told();
    window.hand.show(finished(None));
    window.harness.run_steps(3);
    window.press(Key::P);
    window.harness.run_steps(3);
    is_open(&window);
    let told = window.hand.told();
    assert!(matches!(
        told.as_slice(),
        [Command::Choose(_), Command::Scan(true)]
    ));
}
