//! Pictures of every state: some are looked at by the tests, all can be written out to be looked at by people.

use stillroad::ui::theme::{DARK, Ground, PAPER};

use stillroad::ui::legibility::Sight;

use super::hand::Window;
use super::states;

/// Writes every state in four sizes, one of them at two dots a point, and on both grounds, as PNG, to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_every_state() {
    let folder = std::path::PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    let only = std::env::var("STILLROAD_ONLY").unwrap_or_default();
    for (state, snapshot) in states::all() {
        if !only.is_empty() && !only.split(',').any(|name| name == state) {
            continue;
        }
        for (width, height, dots) in [
            (1280, 800, 1.0),
            (800, 600, 1.0),
            (1920, 1080, 1.0),
            (1280, 720, 2.0),
        ] {
            let sight = Sight::default();
            let mut window = Window::seen(snapshot.clone(), width, height, dots, sight);
            let width = (width as f32 * dots) as usize;
            for ground in [Ground::Dark, Ground::Paper] {
                let name = format!("{state}-{width}-{ground:?}.png").to_lowercase();
                std::fs::write(folder.join(name), window.picture().png()).unwrap();
                window.press(egui::Key::G);
            }
        }
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
