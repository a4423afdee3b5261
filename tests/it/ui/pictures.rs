//! Pictures of every state: some are looked at by the tests, all can be written out to be looked at by people.

use std::path::{Path, PathBuf};

use egui::Key;
use stillroad::engine::Snapshot;
use stillroad::text::{Language, within};
use stillroad::ui::theme::{DARK, Ground, PAPER};

use super::hand::Window;
use egui_kittest::kittest::Queryable as _;

use super::views::View;
use super::{ended, prepare_states, states};

/// Width and height in points, and pixels a point: the smallest window, the one that opens, a common screen, and 2560
/// by 1440 pixels at scale 2.
const SIZES: [(usize, usize, f32); 4] = [
    (800, 600, 1.0),
    (1280, 800, 1.0),
    (1920, 1080, 1.0),
    (1280, 720, 2.0),
];

const GROUNDS: [Ground; 2] = [Ground::Dark, Ground::Paper];

/// The pictures that the documents show: file, state, ground.
const DOCS: [(&str, &str, Ground); 7] = [
    ("prepare.png", "ready", Ground::Paper),
    ("ride-target-power.png", "riding", Ground::Dark),
    ("ride-effort-only.png", "effort-only", Ground::Paper),
    ("left-open.png", "left-page", Ground::Paper),
    ("paused.png", "paused", Ground::Dark),
    ("finish.png", "end-asked", Ground::Dark),
    ("lead-page.png", "lead-now", Ground::Dark),
];

/// The picture of the Write room, which no snapshot makes.
const WRITE: &str = "write.png";

/// That of a session that was fitted by presses.
const FITTED: &str = "prepare-fitted.png";
/// Those of the Review room, and how far to the right of its views each lies.
const REVIEW: [(&str, usize); 3] = [
    ("review.png", 0),
    ("review-blocks.png", 1),
    ("review-over-rides.png", 6),
];

/// The picture of the television's window, which is none of the main one's.
const TELEVISION: &str = "television.png";

/// What is drawn: every state, and those that no snapshot makes. With the keys that are pressed first; none where no key
/// reaches the window.
fn shown() -> Vec<(&'static str, Snapshot, Option<Vec<Key>>)> {
    let named = |name: &str| states::all().into_iter().find(|(state, _)| *state == name);
    let (_, paused) = named("paused-by-hand").unwrap();
    let (_, asked) = named("asked").unwrap();
    let states = states::all().into_iter();
    let mut shown: Vec<_> = states
        .map(|(name, state)| {
            let keys = states::opened_by(name).into_iter().collect();
            (name, state, Some(keys))
        })
        .collect();
    let walked = vec![Key::Enter, Key::ArrowUp, Key::ArrowUp];
    shown.push(("choices", states::riding(), Some(walked)));
    shown.push(("choices-paused", paused, Some(vec![Key::ArrowUp])));
    shown.push(("answering", asked, Some(vec![Key::Num7])));
    shown.push(("unfocused", states::riding(), None));
    shown
}

fn window(
    snapshot: &Snapshot,
    keys: Option<&[Key]>,
    ground: Ground,
    (width, height, dots): (usize, usize, f32),
) -> Window {
    let mut window = Window::open_at(snapshot.clone(), width, height, dots);
    if ground == Ground::Paper {
        window.press(Key::G);
    }
    for &key in keys.into_iter().flatten() {
        window.press(key);
    }
    window.harness.input_mut().focused = keys.is_some();
    window.harness.run_steps(2);
    window
}

pub fn written(to: &Path, window: &mut Window, view: View) {
    std::fs::write(to, view.of(&window.picture()).png()).unwrap();
}

/// Writes every state in every size and on both grounds, as PNG, to the folder named by `STILLROAD_PICTURES`.
///
/// `STILLROAD_ONLY` takes only the states whose names hold one of its words, parted by commas, and `STILLROAD_WIDTHS` only
/// windows so many pixels wide. `STILLROAD_VIEWS` names the ways of looking at them, parted
/// by commas: plain, glance, protanopia, deuteranopia, tritanopia, achromatopsia, or all; plain where it is not given. `STILLROAD_LANGUAGE` is the code of a language.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_every_state() {
    let code = std::env::var("STILLROAD_LANGUAGE").unwrap_or_else(|_| "en".to_owned());
    within(Language::from_code(&code).unwrap(), write_states);
}

fn write_states() {
    let folder = PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    let only = std::env::var("STILLROAD_ONLY").unwrap_or_default();
    let widths = std::env::var("STILLROAD_WIDTHS").unwrap_or_default();
    let asked = std::env::var("STILLROAD_VIEWS").unwrap_or_else(|_| "plain".to_owned());
    let mut views: Vec<_> = View::ALL.to_vec();
    views.retain(|(name, _)| asked == "all" || asked.split(',').any(|asked| asked == *name));
    assert!(!views.is_empty(), "there is no view {asked}");
    let mut count = 0;
    for (state, snapshot, keys) in shown() {
        if !only.split(',').any(|only| state.contains(only)) {
            continue;
        }
        let wide = |size: &(usize, usize, f32)| ((size.0 as f32 * size.2) as usize).to_string();
        for size in SIZES {
            if !widths.is_empty() && !widths.split(',').any(|width| width == wide(&size)) {
                continue;
            }
            for ground in GROUNDS {
                let mut window = window(&snapshot, keys.as_deref(), ground, size);
                for (name, view) in &views {
                    let pixels = (size.0 as f32 * size.2) as usize;
                    let name = format!("{state}-{pixels}-{ground:?}-{name}.png").to_lowercase();
                    written(&folder.join(name), &mut window, *view);
                    count += 1;
                }
            }
        }
    }
    count += write_prepare(&folder, &only, &views);
    assert!(count > 0, "no state's name holds {only}");
    println!("{count} pictures in {}", folder.display());
}

/// Prepare with all sorts of things to choose from, and its page of a new rider with a mistake in it.
fn write_prepare(folder: &Path, only: &str, views: &[(&str, View)]) -> usize {
    let mut count = 0;
    for (state, snapshot, shelf) in prepare_states::all() {
        if !state.contains(only) {
            continue;
        }
        for (width, height, dots) in SIZES {
            let pixels = (width as f32 * dots) as usize;
            let mut window = Window::with(snapshot.clone(), shelf.clone(), width, height, dots);
            for ground in GROUNDS {
                for (view_name, view) in views {
                    let name =
                        format!("{state}-{pixels}-{ground:?}-{view_name}.png").to_lowercase();
                    written(&folder.join(name), &mut window, *view);
                    count += 1;
                }
                window.press(Key::G);
            }
            let Some(edit) = window.harness.query_by_label("New rider") else {
                continue;
            };
            edit.click();
            window.harness.run_steps(3);
            window.press(Key::Tab);
            window.harness.event(egui::Event::Text("9".into()));
            window.harness.run_steps(3);
            let mistaken = format!("{state}-rider-{pixels}-dark-plain.png");
            written(&folder.join(mistaken), &mut window, View::Plain);
            count += 1;
        }
    }
    count
}

/// Draws the pictures of the documents anew.
#[test]
#[ignore = "writes docs/pictures"]
fn write_the_documents_pictures() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/pictures");
    for (file, state, ground) in DOCS {
        let mut all = states::all().into_iter().chain(ended::all());
        let found = all.find(|(name, _)| *name == state);
        let (_, snapshot) = found.unwrap();
        let snapshot = Snapshot {
            cautions_seen_today: true,
            ..snapshot
        };
        let keys: Vec<Key> = states::opened_by(state).into_iter().collect();
        let mut window = window(&snapshot, Some(&keys), ground, (1280, 800, 1.0));
        written(&folder.join(file), &mut window, View::Plain);
    }
    let mut window = super::write::shown(1280, 800, Ground::Paper);
    written(&folder.join(WRITE), &mut window, View::Plain);
    let mut window = super::prepare_fit::shown();
    written(&folder.join(FITTED), &mut window, View::Plain);
    for (file, right) in REVIEW {
        let mut window = super::review::shown(right);
        written(&folder.join(file), &mut window, View::Plain);
    }
    std::fs::write(folder.join(TELEVISION), super::television::led_picture()).unwrap();
}

/// Every picture in the documents is one that can be made again, and every one that is made is there.
#[test]
fn the_documents_show_named_states() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut there: Vec<String> = std::fs::read_dir(root.join("docs/pictures"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        // Diagrams are made by the tests of what they show.
        .filter(|name| !name.ends_with(".svg"))
        .collect();
    there.sort();
    let mut made: Vec<String> = DOCS.iter().map(|(file, ..)| (*file).to_owned()).collect();
    made.extend([WRITE, FITTED, TELEVISION].map(str::to_owned));
    made.extend(REVIEW.map(|(file, _)| file.to_owned()));
    made.sort();
    assert_eq!(there, made);
    for (_, state, _) in DOCS {
        assert!(
            states::all()
                .into_iter()
                .chain(ended::all())
                .any(|(name, _)| name == state),
            "{state}"
        );
    }
    // The first octets of a PNG say its width and height (ISO/IEC 15948, 11.2.2).
    for file in made {
        let octets = std::fs::read(root.join("docs/pictures").join(&file)).unwrap();
        assert_eq!(&octets[12..24], b"IHDR\0\0\x05\0\0\0\x03\x20", "{file}");
    }
}

#[test]
fn the_ground_is_changed_by_one_key() {
    let mut window = Window::open(states::riding(), 800, 600);
    let whole = 800 * 600;
    // More than half of the Ride room is bare ground.
    assert!(window.picture().count(DARK.ground) > whole / 2);
    window.press(Key::G);
    let paper = window.picture();
    assert!(paper.count(PAPER.ground) > whole / 2);
    assert_eq!(paper.count(DARK.ground), 0);
}

/// The arrow heads of a colour: whether each points up.
fn arrow_heads(snapshot: Snapshot, colour: egui::Color32) -> Vec<bool> {
    let mut window = Window::open(snapshot, 1280, 800);
    window.harness.step();
    let shapes = window.harness.output().shapes.iter();
    let heads = shapes.filter_map(|clipped| match &clipped.shape {
        egui::Shape::Path(path) if path.closed && path.fill == colour => {
            let mut heights: Vec<f32> = path.points.iter().map(|point| point.y).collect();
            heights.sort_by(f32::total_cmp);
            assert_eq!(heights.len(), 3, "{path:?}");
            // One corner is the tip, and the other two are level.
            let tip_first = heights[1] == heights[2];
            assert!(tip_first != (heights[0] == heights[1]), "{path:?}");
            Some(tip_first)
        }
        _ => None,
    });
    heads.collect()
}

/// Above and below differ in more than hue: the mark lies on the other side of the ink and points the other way.
#[test]
fn marks_off_the_lane_point_back_to_it() {
    let state = |name: &str| {
        let mut all = states::all().into_iter();
        all.find(|(state, _)| *state == name).unwrap().1
    };
    assert_eq!(arrow_heads(state("below"), DARK.below), [true]);
    assert_eq!(
        arrow_heads(state("below"), DARK.above),
        [false],
        "of before"
    );
    let above = arrow_heads(state("above"), DARK.above);
    assert_eq!(above, [false, false], "of before, and now");
    assert!(arrow_heads(state("above"), DARK.below).is_empty());
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
