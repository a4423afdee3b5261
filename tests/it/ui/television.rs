//! What a television shows to the others: by its labels, at every size, and as pictures.

use std::path::PathBuf;

use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::Command;
use stillroad::engine::snapshot::{GroupView, Snapshot};
use stillroad::ride::{Finish, Mode, PauseCause};
use stillroad::time::{Instant, Span};
use stillroad::ui::rooms::television::{Data, room_ui};
use stillroad::ui::theme::{self, Ground};
use stillroad::ui::widgets::Look;

use super::hand::Window;
use super::raster::{Picture, Textures};
use super::{lead_page, states};

/// The television's window over a snapshot.
struct Screen {
    harness: Harness<'static>,
    textures: Textures,
    size: [usize; 2],
}

impl Screen {
    fn of(snapshot: &Snapshot, width: usize, height: usize, ground: Ground) -> Self {
        let data = Data::new(snapshot.at, snapshot, true);
        let textures = Textures::default();
        let mut dressed = false;
        let mut harness = Harness::builder()
            .with_size(egui::vec2(width as f32, height as f32))
            .renderer(textures.clone())
            .build_ui(move |ui| {
                if !dressed {
                    theme::install(ui.ctx(), ground);
                    dressed = true;
                    ui.ctx().request_repaint();
                    return;
                }
                let all = ui.ctx().content_rect();
                let mut ui = ui.new_child(egui::UiBuilder::new().max_rect(all));
                ui.set_clip_rect(all);
                let look = Look {
                    colours: ground.colours(),
                    scale: theme::scale(all.size()),
                    text: 1.0,
                    least: 0.0,
                    reduced_motion: false,
                };
                room_ui(&mut ui, &data, look);
            });
        harness.run_steps(3);
        Self {
            harness,
            textures,
            size: [width, height],
        }
    }

    fn told(&self, label: &str) -> String {
        let node = self.harness.get_by_label(label);
        node.accesskit_node().value().unwrap_or_default()
    }

    fn picture(&mut self) -> Picture {
        self.harness.step();
        let output = self.harness.output();
        let meshes = self
            .harness
            .ctx
            .tessellate(output.shapes.clone(), output.pixels_per_point);
        Picture::of(self.size, &meshes, &self.textures, output.pixels_per_point)
    }
}

/// With a group that began so many seconds before the snapshot; negative where it is still to begin.
pub fn in_group(snapshot: Snapshot, began: i64, waits: bool, behind: Option<u64>) -> Snapshot {
    let at = i64::try_from(snapshot.at.0).unwrap();
    Snapshot {
        group: Some(GroupView {
            clock: Some(66_600),
            join: None,
            waits,
            zero_us: Some(at - began * 1_000_000),
            behind: behind.map(Span::from_seconds),
        }),
        ..snapshot
    }
}

fn all() -> Vec<(&'static str, Snapshot)> {
    let led = lead_page::all().remove(0).1;
    let paused = Snapshot {
        mode: Mode::Paused(PauseCause::Rider),
        ..states::riding()
    };
    let ended = Snapshot {
        mode: Mode::Finished(Finish::Completed),
        ..states::riding()
    };
    vec![
        ("television-led", led),
        ("television-riding", states::riding()),
        ("television-sprint", states::sprinting()),
        ("television-paused", paused),
        ("television-test", states::all_out_test()),
        (
            "television-waits",
            in_group(states::ready(), -252, true, None),
        ),
        ("television-before", states::ready()),
        ("television-ended", ended),
    ]
}

/// The picture for the documents, as PNG.
pub fn led_picture() -> Vec<u8> {
    let led = lead_page::all().remove(0).1;
    Screen::of(&led, 1280, 800, Ground::Dark).picture().png()
}

#[test]
fn the_others_see_the_countdown_the_cue_the_beat_and_the_plan_and_nobodys_watts() {
    let led = lead_page::all().remove(0).1;
    let lap = led.laps[led.lap];
    for (width, height) in [(800, 450), (1280, 720), (1920, 1080), (1024, 768)] {
        let screen = Screen::of(&led, width, height, Ground::Dark);
        let left = lap.end().less(led.session);
        assert_eq!(
            screen.told("Group countdown"),
            stillroad::ui::words::left(left)
        );
        assert!(screen.told("Group hears").starts_with("Half of it."));
        assert!(screen.told("Group feels").starts_with("Firm, and yours."));
        assert!(screen.told("Cadence pulse").contains("turns a minute"));
        for label in ["Group block", "Group effort", "Group next", "Group cadence"] {
            let told = screen.told(label);
            assert!(!told.is_empty(), "{label}");
            assert!(!told.contains(" W"), "{label}: {told}");
        }
        let root = screen.harness.root();
        for node in root.children_recursive() {
            let value = node.accesskit_node().value().unwrap_or_default();
            assert!(!value.contains(" W"), "{value}");
        }
    }
}

#[test]
fn before_the_group_begins_it_counts_down_to_that() {
    let waits = in_group(states::ready(), -252, true, None);
    let screen = Screen::of(&waits, 1280, 720, Ground::Dark);
    assert_eq!(screen.told("Group countdown"), "4:12");
    assert!(screen.told("Group feels").contains("Starts at 18:30"));
}

#[test]
fn where_no_clock_may_be_seen_none_is() {
    let test = states::all_out_test();
    let data = Data::new(test.at, &test, true);
    assert_eq!((data.clock.as_str(), data.says.as_str()), ("", ""));
    assert!(!data.left.contains(':'), "{}", data.left);
    assert_eq!(data.strip, Default::default());
}

#[test]
fn watts_of_the_plan_are_no_effort_of_the_others() {
    let riding = states::riding();
    let mut plan = (**riding.plan.as_ref().unwrap()).clone();
    let block = riding.laps[riding.lap].block;
    plan.blocks[block].target = stillroad::plan::Target::Steady(stillroad::plan::Load::Power(
        stillroad::units::Watts(240.0),
    ));
    let riding = Snapshot {
        plan: Some(std::sync::Arc::new(plan)),
        ..riding
    };
    let data = Data::new(riding.at, &riding, true);
    assert_eq!((data.aim.as_str(), data.feel.as_str()), ("", ""));
}

#[test]
fn a_clock_that_stands_beats_nothing_and_says_so() {
    let paused = Snapshot {
        mode: Mode::Paused(PauseCause::Rider),
        ..states::riding()
    };
    let data = Data::new(paused.at, &paused, true);
    assert!(data.head.ends_with(", paused"), "{}", data.head);
    assert_eq!(data.pulse, None);
}

/// At no size is one text drawn over another, or over the window's edge.
#[test]
fn nothing_overlaps_at_any_size() {
    for (name, snapshot) in all() {
        for (width, height) in [(800, 450), (1280, 720), (1920, 1080), (1024, 768)] {
            let mut screen = Screen::of(&snapshot, width, height, Ground::Paper);
            screen.harness.step();
            let window = egui::Rect::from_min_size(
                egui::Pos2::ZERO,
                egui::vec2(width as f32, height as f32),
            );
            let mut texts: Vec<(String, egui::Rect)> = Vec::new();
            for clipped in &screen.harness.output().shapes {
                if let egui::Shape::Text(text) = &clipped.shape
                    && !text.galley.text().trim().is_empty()
                {
                    let ink = text.galley.mesh_bounds.translate(text.pos.to_vec2());
                    texts.push((text.galley.text().to_owned(), ink));
                }
            }
            assert!(!texts.is_empty(), "{name}");
            for (at, (words, ink)) in texts.iter().enumerate() {
                assert!(
                    window.expand(0.5).contains_rect(*ink),
                    "{name} at {width}: {words} at {ink:?}"
                );
                for (other, over) in &texts[at + 1..] {
                    let both = ink.intersect(*over);
                    let apart = both.width() <= 1.0 || both.height() <= 1.0;
                    assert!(apart, "{name} at {width}: {words:?} over {other:?}");
                }
            }
        }
    }
}

#[test]
fn its_key_opens_it_in_every_room_and_tells_the_ride_nothing() {
    for snapshot in [states::ready(), states::riding()] {
        let mut window = Window::open(snapshot, 1280, 800);
        assert!(!window.harness.state().has_television());
        window.press(Key::V);
        assert!(window.harness.state().has_television());
        window.press(Key::V);
        assert!(!window.harness.state().has_television());
        assert_eq!(window.hand.told(), []);
    }
}

#[test]
fn prepare_opens_it_and_chooses_a_groups_clock_by_what_is_typed() {
    let seen = Snapshot {
        cautions_seen_today: true,
        ..states::ready()
    };
    let mut window = Window::open(seen, 1280, 800);
    let click = |window: &mut Window, label: &str| {
        window.harness.get_by_label(label).click();
        window.harness.run_steps(3);
    };
    click(&mut window, "Ride with a group");
    click(&mut window, "Open a window for a television (v)");
    assert!(window.harness.state().has_television());
    click(&mut window, "Begin with the group");
    let said = |window: &Window| {
        let node = window.harness.get_by_label("Clock");
        node.accesskit_node().value().unwrap_or_default()
    };
    assert!(said(&window).contains("18:30"), "{}", said(&window));
    assert_eq!(window.hand.told(), []);
    let field = egui::accesskit::Role::TextInput;
    window
        .harness
        .get_by_role_and_label(field, "Begin at")
        .focus();
    window.harness.run_steps(2);
    window.harness.event(egui::Event::Text("18:30".into()));
    window.harness.run_steps(2);
    click(&mut window, "Begin with the group");
    let clock = stillroad::engine::GroupClock::At(66_600);
    assert_eq!(window.hand.told(), [Command::Clock(clock)]);
}

#[test]
fn prepare_waits_for_the_group_and_can_be_told_not_to() {
    let waits = Snapshot {
        cautions_seen_today: true,
        waits_for_pedals: true,
        ..in_group(states::ready(), -252, true, None)
    };
    let mut window = Window::open(waits, 1280, 800);
    window.harness.get_by_label("Starts in 4:12").click();
    window.harness.run_steps(2);
    assert_eq!(window.hand.told(), [], "it waits");
    let said = window.harness.get_by_label("Clock");
    let said = said.accesskit_node().value().unwrap_or_default();
    assert!(said.contains("Starts at 18:30, in 4:12."), "{said}");
    assert!(said.contains("the brake stays off"), "{said}");
    window.hand.now.set(Instant(states::AT.0 + 1_000_000));
    window.harness.run_steps(2);
    window.harness.get_by_label("Starts in 4:11");
    window.harness.get_by_label("Not with the group").click();
    window.harness.run_steps(2);
    let own = stillroad::engine::GroupClock::Own;
    assert_eq!(window.hand.told(), [Command::Clock(own)]);
}

#[test]
fn who_stands_behind_the_group_is_told_by_how_much_and_has_the_way_back_as_a_choice() {
    let behind = in_group(
        Snapshot {
            mode: Mode::Paused(PauseCause::Rider),
            ..states::riding()
        },
        1_700,
        false,
        Some(130),
    );
    let mut window = Window::open(behind, 1280, 800);
    let words = window.words();
    let ahead = |words: &String| words.contains("The group is 2:10 ahead.");
    assert!(words.iter().any(ahead), "{words:?}");
    // Go on from there is the first choice, the group the second.
    window.press(Key::ArrowUp);
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [Command::Rejoin]);
}

#[test]
fn muting_stands_on_the_screen_and_leaves_it_when_it_is_over() {
    let mut window = Window::open(states::riding(), 1280, 800);
    let sign = |window: &Window| {
        let node = window.harness.query_by_label("Sound");
        node.and_then(|node| node.accesskit_node().value())
    };
    assert_eq!(sign(&window), None);
    window.press(Key::X);
    assert_eq!(sign(&window).as_deref(), Some("sound off"));
    window.press(Key::X);
    assert_eq!(sign(&window).as_deref(), Some("sound on"));
    window.hand.now.set(Instant(states::AT.0 + 6_000_000));
    window.harness.run_steps(2);
    assert_eq!(sign(&window), None);
}

/// Writes every state in some sizes, as PNG, to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_what_a_television_shows() {
    let folder = PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    for (name, snapshot) in all() {
        for (width, height) in [(800, 450), (1280, 720), (1920, 1080)] {
            let mut screen = Screen::of(&snapshot, width, height, Ground::Dark);
            let file = folder.join(format!("{name}-{width}.png"));
            std::fs::write(file, screen.picture().png()).unwrap();
        }
    }
}
