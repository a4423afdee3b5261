//! The Write room as it is looked at: with large text, in pictures, and how long large texts take.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use stillroad::plan;
use stillroad::text::word;
use stillroad::ui::settings::Settings;
use stillroad::ui::theme::Ground;

use super::hand::Window;
use super::pictures;
use super::states;
use super::views::View;
use super::write::{SHORT, faults, half_changed, has, replaces, shown, types, with, writing};

/// The room with a session that is half changed, with the text twice as large.
fn shown_large(width: usize, height: usize, ground: Ground) -> Window {
    let settings = Settings {
        text_size: 200,
        ..Settings::default()
    };
    half_changed(
        Window::open_with(states::idle(), width, height, settings),
        ground,
    )
}

/// What is wrong with the room in each of its states.
pub(super) fn wrong() -> Vec<String> {
    let mut wrong = Vec::new();
    for (width, height) in [(1280, 800), (1920, 1080)] {
        let mut here = |window: &mut Window, state: &str| {
            let faults = faults(window, width as f32, height as f32);
            wrong.extend(
                faults
                    .iter()
                    .map(|fault| format!("{width}, {state}: {fault}")),
            );
        };
        let keep = word("Keep mine");
        let mut window = shown_large(width, height, Ground::Dark);
        here(&mut window, "wrong");
        replaces(&mut window, SHORT);
        here(&mut window, "right");
        with(&mut window, Modifiers::COMMAND, Key::S);
        window.folder.put("Quay", "x");
        types(&mut window, "#");
        with(&mut window, Modifiers::COMMAND, Key::S);
        assert!(has(&window, keep));
        here(&mut window, "asked");
        window.harness.get_by_label(keep).click();
        window.harness.run_steps(2);
        with(&mut window, Modifiers::COMMAND, Key::O);
        here(&mut window, "the list");
    }
    wrong
}

#[test]
fn nothing_overlaps_where_the_text_is_twice_as_large() {
    assert_eq!(wrong(), Vec::<String>::new());
}

/// Writes the room's states in two sizes and on both grounds to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_the_room_s_pictures() {
    let folder = std::path::PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    for (width, height, large) in [(800, 600, ""), (1280, 800, ""), (1280, 800, "large-")] {
        for ground in [Ground::Dark, Ground::Paper] {
            let mut window = match large {
                "" => shown(width, height, ground),
                _ => shown_large(width, height, ground),
            };
            let picture = |window: &mut Window, name: &str| {
                let name = format!("write-{large}{name}-{width}-{ground:?}.png").to_lowercase();
                pictures::written(&folder.join(name), window, View::Plain);
            };
            picture(&mut window, "wrong");
            replaces(&mut window, SHORT);
            with(&mut window, Modifiers::COMMAND, Key::S);
            picture(&mut window, "saved");
            window.folder.put("Quay", "x");
            types(&mut window, "#");
            with(&mut window, Modifiers::COMMAND, Key::S);
            picture(&mut window, "asked");
            window.harness.get_by_label("Keep mine").click();
            window.harness.run_steps(2);
            with(&mut window, Modifiers::COMMAND, Key::O);
            picture(&mut window, "list");
        }
    }
}

/// Prints how long the dearest texts take: to be read over, and a frame with a letter typed.
#[test]
#[ignore = "prints times for people to look at; nothing hangs on them"]
fn write_how_long_large_texts_take() {
    let repeats = "[[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 5\n";
    let head = SHORT
        .lines()
        .take(4)
        .map(|line| format!("{line}\n"))
        .collect::<String>();
    for (name, text) in [
        (
            "built in, the largest",
            plan::builtin()
                .iter()
                .max_by_key(|(_, text)| text.len())
                .unwrap()
                .1
                .to_owned(),
        ),
        ("300 blocks", head.clone() + &repeats.repeat(300)),
        ("900 blocks", head.clone() + &repeats.repeat(900)),
        ("5000 blocks", head + &repeats.repeat(5000)),
        ("20,000 headings", "[[block]]\n".repeat(20_000)),
        ("one line", "x".repeat(250_000)),
        ("brackets", "[".repeat(250_000)),
        ("quotes", "\"\n".repeat(100_000)),
    ] {
        let clock = std::time::Instant::now();
        let problems = plan::read(&text).problems.len();
        let read = clock.elapsed();
        let mut window = writing(1280, 800);
        replaces(&mut window, &text);
        let clock = std::time::Instant::now();
        window.harness.event(egui::Event::Text("x".to_owned()));
        window.harness.step();
        println!(
            "{name}: {} KiB, {problems} problems, read in {read:?}, a letter's frame {:?}",
            text.len() / 1024,
            clock.elapsed()
        );
    }
}
