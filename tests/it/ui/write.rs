//! The Write room worked by keys and accessible names: open, edit, see what is wrong, save, and nothing lost.

use egui::{Key, Modifiers};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::command::Command;
use stillroad::plan;

use stillroad::ui::theme::Ground;

use super::hand::Window;
use super::prepare_states;
use super::states;

/// A window over the built-in sessions, with the Write room entered by its key.
pub fn writing(width: usize, height: usize) -> Window {
    let shelf = prepare_states::first();
    let mut window = Window::with(states::idle(), shelf, width, height, 1.0);
    window.press(Key::T);
    window.harness.run_steps(2);
    window
}

pub fn with(window: &mut Window, modifiers: Modifiers, key: Key) {
    window.harness.key_press_modifiers(modifiers, key);
    window.harness.run_steps(3);
}

pub fn types(window: &mut Window, text: &str) {
    for (number, line) in text.split('\n').enumerate() {
        if number > 0 {
            window.press(Key::Enter);
        }
        if !line.is_empty() {
            window.harness.event(egui::Event::Text(line.to_owned()));
        }
        window.harness.run_steps(2);
    }
}

fn pastes(window: &mut Window, text: &str) {
    window.harness.event(egui::Event::Paste(text.to_owned()));
    window.harness.run_steps(3);
}

/// All of it taken out, and this put in.
pub fn replaces(window: &mut Window, text: &str) {
    with(window, Modifiers::COMMAND, Key::A);
    pastes(window, text);
}

fn value(window: &Window, label: &str) -> String {
    let node = window.harness.get_by_label(label);
    node.accesskit_node().value().unwrap_or_default()
}

fn text(window: &Window) -> String {
    value(window, "Session text")
}

pub fn has(window: &Window, label: &str) -> bool {
    window.harness.query_by_label(label).is_some()
}

/// The room with a session that is half changed: a key misspelt, and a word begun.
pub fn shown(width: usize, height: usize, ground: Ground) -> Window {
    let window = Window::with(states::idle(), prepare_states::first(), width, height, 1.0);
    half_changed(window, ground)
}

pub fn half_changed(mut window: Window, ground: Ground) -> Window {
    if ground == Ground::Paper {
        window.press(Key::G);
    }
    window.press(Key::T);
    window.harness.run_steps(2);
    let wrong = SHORT.replace("effort = 3", "efort = 3\npo");
    replaces(&mut window, wrong.trim_end());
    window
}

pub const SHORT: &str = "format = 1\nname = \"Quay\"\npurpose = \"A short one.\"\n\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\neffort = [2, 4]\n\n[[block]]\nkind = \"cool-down\"\ntime = \"4:00\"\neffort = 3\n";

#[test]
fn a_session_is_written_saved_and_ridden_by_the_keyboard() {
    let mut window = writing(1280, 800);
    assert_eq!(
        text(&window),
        plan::builtin()[0].1,
        "a copy of the chosen one"
    );
    replaces(&mut window, SHORT);
    assert_eq!(value(&window, "Session"), "Quay");
    assert_eq!(value(&window, "Whole"), "12:00");
    assert_eq!(value(&window, "File"), "Not saved yet");
    assert!(has(&window, "No problems."));
    with(&mut window, Modifiers::COMMAND, Key::S);
    assert_eq!(window.folder.says("Quay").as_deref(), Some(SHORT));
    assert_eq!(value(&window, "Said"), "Saved as Quay.toml.");
    window.hand.told();
    with(&mut window, Modifiers::COMMAND, Key::Enter);
    let told = window.hand.told();
    assert!(
        matches!(told.as_slice(), [Command::Choose(choice)] if choice.plan.name == "Quay"),
        "{told:?}"
    );
    assert!(has(&window, "Sessions"), "back in Prepare");
}

#[test]
fn what_is_wrong_stands_on_its_line_as_check_tells_it() {
    let mut window = writing(1280, 800);
    let wrong = SHORT.replace("effort = 3", "efort = 3");
    replaces(&mut window, &wrong);
    let problems = plan::read(&wrong).problems;
    assert!(
        problems
            .iter()
            .any(|problem| problem.line == 13 && problem.instead.contains("effort"))
    );
    for problem in &problems {
        assert!(has(&window, &problem.to_string()), "{problem}");
    }
    assert!(value(&window, "File").contains("as it last was right"));
    // The next problem is gone to, and typing goes on there.
    window.press(Key::F8);
    window.press(Key::F8);
    types(&mut window, "# ");
    assert!(text(&window).contains("\n# efort = 3"), "{}", text(&window));
}

#[test]
fn undo_to_the_start_gives_the_start() {
    let mut window = writing(1280, 800);
    let start = text(&window);
    types(&mut window, "# one two\n# three\n");
    with(&mut window, Modifiers::COMMAND, Key::A);
    pastes(&mut window, "nothing");
    let end = text(&window);
    assert_eq!(end, "nothing");
    for _ in 0..30 {
        with(&mut window, Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(text(&window), start);
    assert_eq!(
        value(&window, "Said"),
        "There is nothing more to take back."
    );
    for _ in 0..30 {
        with(&mut window, Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    }
    assert_eq!(text(&window), end);
}

#[test]
fn keys_are_completed_by_tab_and_walked_by_arrows() {
    let mut window = writing(1280, 800);
    replaces(&mut window, "format = 1\nname = \"A\"\n[[block]]\n");
    types(&mut window, "ki");
    assert!(has(&window, "kind: What the block is for."));
    window.press(Key::Tab);
    assert!(
        text(&window).ends_with("kind = \"hold\""),
        "{}",
        text(&window)
    );
    // The value is marked, so that typing takes its place.
    types(&mut window, "war");
    assert!(text(&window).ends_with("kind = \"war\""));
    window.press(Key::Tab);
    assert!(text(&window).ends_with("kind = \"warm-up\""));
    types(&mut window, "\n");
    with(&mut window, Modifiers::COMMAND, Key::Space);
    window.press(Key::ArrowDown);
    window.press(Key::ArrowUp);
    window.press(Key::Enter);
    assert!(
        text(&window).ends_with("\ntime = \"10:00\""),
        "{}",
        text(&window)
    );
}

#[test]
fn a_file_that_another_program_changed_is_asked_about() {
    for (answer, file, ours) in [
        ("Take the file's", "# theirs\n", "# theirs\n"),
        ("Keep mine", "mine", "mine"),
        ("Save mine as a copy", "# theirs\n", "mine"),
    ] {
        let mut window = writing(1280, 800);
        replaces(&mut window, SHORT);
        with(&mut window, Modifiers::COMMAND, Key::S);
        let mine = format!("# mine\n{SHORT}");
        replaces(&mut window, &mine);
        window.folder.put("Quay", "# theirs\n");
        with(&mut window, Modifiers::COMMAND, Key::S);
        assert_eq!(window.folder.says("Quay").as_deref(), Some("# theirs\n"));
        window.harness.get_by_label(answer).click();
        window.harness.run_steps(3);
        let whole = |words: &str| {
            if words == "mine" {
                mine.clone()
            } else {
                words.to_owned()
            }
        };
        assert_eq!(window.folder.says("Quay"), Some(whole(file)), "{answer}");
        assert_eq!(text(&window), whole(ours), "{answer}");
        let copy = window.folder.says("Quay-2");
        assert_eq!(
            copy,
            (answer == "Save mine as a copy").then_some(mine.clone())
        );
    }
}

#[test]
fn what_is_not_saved_survives_leaving_closing_and_beginning_anew() {
    let mut window = writing(1280, 800);
    replaces(&mut window, SHORT);
    window.press(Key::Escape);
    assert!(has(&window, "Sessions"));
    assert_eq!(window.folder.says("Quay"), None);
    window.press(Key::T);
    assert_eq!(text(&window), SHORT, "leaving keeps the text");
    // Beginning with something else asks first.
    with(&mut window, Modifiers::COMMAND, Key::O);
    window.harness.get_by_label("New: Sprints").click();
    window.harness.run_steps(3);
    assert_eq!(text(&window), SHORT);
    window.harness.get_by_label("Stay at the text").click();
    window.harness.run_steps(3);
    let folder = window.folder.clone();
    drop(window);
    let kept = folder.draft.borrow().clone().unwrap();
    assert!(kept.ends_with(SHORT), "{kept}");
    // The next window begins with it, and lets it go only when told to.
    let mut window = writing(1280, 800);
    *window.folder.draft.borrow_mut() = Some(kept);
    window.press(Key::Escape);
    let mut again = Window::with(states::idle(), prepare_states::first(), 1280, 800, 1.0);
    *again.folder.draft.borrow_mut() = window.folder.draft.borrow().clone();
    again.press(Key::T);
    again.harness.run_steps(2);
    assert_eq!(text(&again), SHORT);
    assert_eq!(value(&again, "File"), "Not saved yet");
    with(&mut again, Modifiers::COMMAND, Key::S);
    assert_eq!(again.folder.says("Quay").as_deref(), Some(SHORT));
    assert_eq!(*again.folder.draft.borrow(), None);
}

#[test]
fn another_choice_in_prepare_is_what_is_opened_next() {
    let mut window = writing(1280, 800);
    window.press(Key::Escape);
    let (_, second) = plan::builtin()[1];
    let plan = plan::read(second).plan.unwrap();
    let label = format!("{}, {}", plan.name, plan.length());
    window.harness.get_by_label(&label).click();
    window.harness.run_steps(2);
    window.press(Key::T);
    assert_eq!(text(&window), second);
}

#[test]
fn what_cannot_be_saved_says_why_and_stays() {
    let mut window = writing(800, 600);
    window.folder.refuses.set(true);
    replaces(&mut window, SHORT);
    with(&mut window, Modifiers::COMMAND, Key::S);
    assert_eq!(
        value(&window, "Said"),
        "The folder is full. Throw something away."
    );
    assert_eq!(value(&window, "File"), "Not saved yet");
    assert_eq!(text(&window), SHORT);
}

#[test]
fn nonsense_is_told_in_a_sentence_and_too_much_is_refused() {
    let mut window = writing(1280, 800);
    replaces(&mut window, "\u{0}\u{1}\u{fffd}\u{202e}[[[[ = \"");
    assert!(has(&window, "1 error; it cannot be ridden yet."));
    let before = text(&window);
    pastes(&mut window, &"kind = \"hold\"\n".repeat(400_000));
    assert!(value(&window, "Said").contains("nothing was put in"));
    assert_eq!(text(&window), before);
    // Nor over a selection, which stays what it was: what is typed next takes its place.
    with(&mut window, egui::Modifiers::COMMAND, Key::A);
    pastes(&mut window, &"kind = \"hold\"\n".repeat(400_000));
    assert_eq!(text(&window), before);
    types(&mut window, "k");
    assert_eq!(text(&window), "k");
    with(&mut window, egui::Modifiers::COMMAND, Key::Z);
    assert_eq!(text(&window), before);
    // Ten thousand blocks, and one line without an end: as much as a file may hold.
    for much in ["[[block]]\n".repeat(10_000), "x".repeat(150_000)] {
        replaces(&mut window, &much);
        assert_eq!(text(&window).len(), much.len());
        window
            .hand
            .now
            .set(stillroad::time::Instant(states::AT.0 + 10_000_000));
        window.harness.run_steps(2);
        assert!(!has(&window, "No problems."));
    }
}

/// What is painted over something else, or beyond the window.
pub fn faults(window: &mut Window, width: f32, height: f32) -> Vec<String> {
    let texts = window.seen_texts();
    let whole = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(width, height));
    let mut faults = Vec::new();
    for (index, (words, ink)) in texts.iter().enumerate() {
        if !whole.contains_rect(*ink) {
            faults.push(format!("{words:?} leaves the window at {ink:?}"));
        }
        for (other, beside) in &texts[index + 1..] {
            let common = ink.intersect(*beside);
            if common.width() > 1.0 && common.height() > 1.0 {
                faults.push(format!("{words:?} lies over {other:?}"));
            }
        }
    }
    faults
}

#[test]
fn nothing_overlaps_in_any_state_of_the_room() {
    for (width, height) in [(800, 600), (1280, 800), (1920, 1080)] {
        let here = |window: &mut Window| faults(window, width as f32, height as f32);
        let mut window = writing(width, height);
        assert_eq!(here(&mut window), Vec::<String>::new(), "{width}, at first");
        with(&mut window, Modifiers::COMMAND, Key::O);
        assert_eq!(here(&mut window), Vec::<String>::new(), "{width}, the list");
        let mut window = shown(width, height, Ground::Dark);
        assert_eq!(here(&mut window), Vec::<String>::new(), "{width}, wrong");
        replaces(&mut window, SHORT);
        with(&mut window, Modifiers::COMMAND, Key::S);
        window.folder.put("Quay", "x");
        types(&mut window, "#");
        with(&mut window, Modifiers::COMMAND, Key::S);
        assert!(has(&window, "Keep mine"));
        assert_eq!(here(&mut window), Vec::<String>::new(), "{width}, asked");
    }
}

#[test]
fn every_control_and_figure_has_a_name_of_its_own() {
    let mut window = shown(1280, 800, Ground::Dark);
    let mut seen = std::collections::BTreeSet::new();
    window.harness.step();
    for node in window.harness.root().children_recursive() {
        let node = node.accesskit_node();
        use egui::accesskit::Role;
        if matches!(
            node.role(),
            Role::Button | Role::Status | Role::ListBoxOption | Role::MultilineTextInput
        ) {
            let label = node.label().unwrap_or_default();
            assert!(!label.trim().is_empty(), "{:?} has no name", node.role());
            assert!(seen.insert(label.clone()), "two are called {label}");
        }
    }
    for label in [
        "Session text",
        "Save",
        "Ride it",
        "New or open",
        "Back to Prepare",
        "File",
        "position: How to sit or stand; `own-choice` if left out.",
    ] {
        assert!(seen.contains(label), "{label} is not among {seen:?}");
    }
}

/// What is written here is a file that `stillroad check` finds by its name, and says of it what the room said.
#[test]
fn the_saved_file_is_read_by_check() {
    use stillroad::app::{Files, SessionFiles};
    let room = tempfile::tempdir().unwrap();
    let mut files = Files::new(stillroad::store::Places::under(&room.path().join("kept")));
    let check = |name: &str| {
        let ended = std::process::Command::new(env!("CARGO_BIN_EXE_stillroad"))
            .args(["check", name])
            .current_dir(room.path())
            .env("STILLROAD_HOME", "kept")
            .env("LC_ALL", "C")
            .env_remove("LANGUAGE")
            .output()
            .unwrap();
        (
            ended.status.code(),
            String::from_utf8(ended.stdout).unwrap(),
        )
    };
    let key = files.save_new("Quay", SHORT).unwrap();
    let (code, told) = check(&key);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("no problems"), "{told}");
    let wrong = SHORT.replace("effort = 3", "efort = 3");
    assert_eq!(files.save_over(&key, SHORT, &wrong), Ok(true));
    assert_eq!(
        files.save_over(&key, SHORT, "x"),
        Ok(false),
        "it says something else by now"
    );
    let (code, told) = check(&key);
    assert_eq!(code, Some(1));
    for problem in stillroad::write::Editor::new(&wrong).problems() {
        assert!(told.contains(&problem.to_string()), "{told}");
    }
    // A session that comes with the program keeps its name to itself.
    assert_eq!(files.save_new("first ride", SHORT).unwrap(), "first-ride-2");
}

/// The room in words: every control, figure and answer, for people to read and for changes to be seen.
#[test]
fn what_the_room_says() {
    use egui::accesskit::Role;
    let mut window = shown(1280, 800, Ground::Dark);
    window.harness.step();
    let mut lines = Vec::new();
    for node in window.harness.root().children_recursive() {
        let node = node.accesskit_node();
        let told = [Role::Button, Role::Status, Role::ListBoxOption, Role::Label];
        if told.contains(&node.role()) {
            let (label, value) = (
                node.label().unwrap_or_default(),
                node.value().unwrap_or_default(),
            );
            lines.push(format!("{:?} {label}: {value}", node.role()));
        }
    }
    insta::assert_snapshot!("write", lines.join("\n"));
}
