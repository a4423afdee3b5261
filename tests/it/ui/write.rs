//! The Write room worked by keys and accessible names: open, edit, see what is wrong, save, and nothing lost.

use egui::{Key, Modifiers};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::command::Command;
use stillroad::plan;

use super::hand::Window;
use super::prepare_states;
use super::states;

/// A window over the built-in sessions, with the Write room entered by its key.
fn writing(width: usize, height: usize) -> Window {
    let shelf = prepare_states::first();
    let mut window = Window::with(states::idle(), shelf, width, height, 1.0);
    window.press(Key::T);
    window.harness.run_steps(2);
    window
}

fn with(window: &mut Window, modifiers: Modifiers, key: Key) {
    window.harness.key_press_modifiers(modifiers, key);
    window.harness.run_steps(3);
}

fn types(window: &mut Window, text: &str) {
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
fn replaces(window: &mut Window, text: &str) {
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

fn has(window: &Window, label: &str) -> bool {
    window.harness.query_by_label(label).is_some()
}

const SHORT: &str = "format = 1\nname = \"Quay\"\npurpose = \"A short one.\"\n\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\neffort = [2, 4]\n\n[[block]]\nkind = \"cool-down\"\ntime = \"4:00\"\neffort = 3\n";

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
    assert_eq!(value(&window, "File"), "New, not saved yet");
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
    assert_eq!(value(&again, "File"), "New, not saved yet");
    with(&mut again, Modifiers::COMMAND, Key::S);
    assert_eq!(again.folder.says("Quay").as_deref(), Some(SHORT));
    assert_eq!(*again.folder.draft.borrow(), None);
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
    assert_eq!(value(&window, "File"), "New, not saved yet");
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
