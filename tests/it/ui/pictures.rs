//! Pictures of every state: some are looked at by the tests, all can be written out to be looked at by people.

use stillroad::ui::theme::{DARK, Ground, PAPER};

use super::hand::Window;
use super::{prepare_states, states};
use egui_kittest::kittest::Queryable as _;

/// Writes every state in three sizes and on both grounds, as PNG, to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_every_state() {
    let folder = std::path::PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    let only = std::env::var("STILLROAD_ONLY").unwrap_or_default();
    for (state, snapshot) in states::all() {
        if !state.contains(&only) {
            continue;
        }
        for (width, height) in [(1280, 800), (800, 600), (1920, 1080)] {
            let mut window = Window::open(snapshot.clone(), width, height);
            for ground in [Ground::Dark, Ground::Paper] {
                let name = format!("{state}-{width}-{ground:?}.png").to_lowercase();
                std::fs::write(folder.join(name), window.picture().png()).unwrap();
                window.press(egui::Key::G);
            }
        }
    }
    for (state, snapshot, shelf) in prepare_states::all() {
        if !state.contains(&only) {
            continue;
        }
        for (width, height, dots) in [
            (1280, 800, 1),
            (800, 600, 1),
            (1920, 1080, 1),
            (1280, 720, 2),
        ] {
            let mut window = Window::with(snapshot.clone(), shelf.clone(), width, height, dots);
            for ground in [Ground::Dark, Ground::Paper] {
                let name = format!("{state}-{width}x{dots}-{ground:?}.png").to_lowercase();
                std::fs::write(folder.join(name), window.picture().png()).unwrap();
                window.press(egui::Key::G);
            }
            if let Some(edit) = window.harness.query_by_label("New rider") {
                edit.click();
                window.harness.run_steps(3);
                let mistaken = format!("{state}-rider-{width}x{dots}-dark.png");
                window.press(egui::Key::Tab);
                window.harness.event(egui::Event::Text("9".into()));
                window.harness.run_steps(3);
                std::fs::write(folder.join(mistaken), window.picture().png()).unwrap();
            }
        }
    }
    if !only.is_empty() {
        return;
    }
    let mut window = Window::open(states::riding(), 1280, 800);
    window.harness.input_mut().focused = false;
    window.harness.run_steps(2);
    std::fs::write(
        folder.join("unfocused-1280-dark.png"),
        window.picture().png(),
    )
    .unwrap();
}

#[test]
fn the_ground_is_changed_by_one_key() {
    let mut window = Window::open(states::riding(), 800, 600);
    let whole = 800 * 600;
    // More than half of the Ride room is bare ground.
    assert!(window.picture().count(DARK.ground) > whole / 2);
    window.press(egui::Key::G);
    let paper = window.picture();
    assert!(paper.count(PAPER.ground) > whole / 2);
    assert_eq!(paper.count(DARK.ground), 0);
}

#[test]
fn colour_off_the_lane_is_there_only_when_the_rider_is_off_it() {
    // 22 W over a lane of 235 W for five seconds is over its tolerance of 5 %.
    let mut window = Window::open(states::riding(), 1280, 800);
    let off = window.picture();
    assert!(off.count(DARK.above) > 50, "{}", off.count(DARK.above));
    assert_eq!(off.count(DARK.below), 0);
    let mut calm = states::riding();
    calm.ink = calm
        .ink
        .iter()
        .map(|point| stillroad::engine::snapshot::InkPoint {
            power: point.lane,
            ..*point
        })
        .collect();
    window.hand.show(calm);
    assert_eq!(window.picture().count(DARK.above), 0);
}
