//! Legibility by measure: every text of the Ride room in every state, at every size of window and type.

use egui::{Pos2, Rect, vec2};
use stillroad::engine::Snapshot;
use stillroad::text::word;
use stillroad::time::Span;
use stillroad::ui::keys::Hands;
use stillroad::ui::legibility::{CAPITALS, Sight};
use stillroad::ui::rooms::ride::{Data, Own};
use stillroad::units::Rpm;

use super::hand::{Drawn, Window};
use super::states;

/// 13 inches across 1280×800 points: millimetres per point.
const MM: f32 = 330.2 / 1509.4;

/// 16 minutes of arc at a metre and a half (ISO 9241-303).
const LEAST_MM: f32 = 6.98;

const SIZES: [(usize, usize, f32); 4] = [
    (800, 600, 1.0),
    (1280, 800, 1.0),
    (1920, 1080, 1.0),
    (1280, 720, 2.0),
];

fn sight(text: f32) -> Sight {
    Sight {
        text,
        ..Sight::default()
    }
}

fn rides() -> impl Iterator<Item = (&'static str, Snapshot)> {
    states::all()
        .into_iter()
        .filter(|(_, snapshot)| snapshot.mode.under_way())
}

/// What has to be read from the saddle in a state, whatever else has dropped out.
fn critical(data: &Data) -> Vec<String> {
    let mut critical = vec![data.next.clone()];
    // The choices stand in the sentence's place, and so does a question while nothing more urgent is to be said.
    match &data.menu {
        Some(menu) => critical.push(menu.items[menu.chosen].clone()),
        None if data.rating.is_some() && !data.sentence.urgent => {}
        None => critical.push(data.sentence.words.clone()),
    }
    critical.push(data.left.clone());
    match &data.banner {
        Some(banner) => {
            critical.push(banner.title.clone());
            critical.push(banner.lines[0].clone());
        }
        // All out the seconds stand in the place of the figure.
        None if data.all_out => {}
        None => match &data.own {
            Own::Cadence(figure, _) if data.pulse.is_none() => critical.push(figure.value.clone()),
            Own::Cadence(..) => {}
            Own::Aim(aim, _) => critical.push(aim.clone()),
        },
    }
    critical.retain(|words| !words.is_empty() && words != "–");
    critical
}

/// The text that stands for these words: whole, or as far as there was room.
fn find<'a>(drawn: &'a [Drawn], words: &str) -> Option<&'a Drawn> {
    let largest = |one: &&Drawn, other: &&Drawn| one.size.total_cmp(&other.size);
    let whole = drawn
        .iter()
        .filter(|text| text.words == words)
        .max_by(largest);
    whole.or_else(|| {
        let cut = |text: &&Drawn| {
            let begun = text.words.strip_suffix('…');
            begun.is_some_and(|begun| begun.len() > 4 && words.starts_with(begun))
        };
        // "Then recovery, 3:00 at 4." may be said without its name.
        let short = |text: &&Drawn| {
            text.words.starts_with("Then ")
                && words.starts_with("Then ")
                && words.ends_with(text.words.trim_start_matches("Then "))
        };
        drawn.iter().find(|text| cut(text) || short(text))
    })
}

/// What is wrong in any state at any size of window, with type so much larger than designed.
pub(super) fn faults(text: f32) -> Vec<String> {
    let mut faults = Vec::new();
    for (name, snapshot) in rides() {
        let data = Data::new(snapshot.at, &snapshot, &Hands::default(), true);
        for (width, height, dots) in SIZES {
            let here = format!("{name} at {width}×{height}, text {text}");
            let mut window = Window::seen(snapshot.clone(), width, height, dots, sight(text));
            let opened = states::opened_by(name);
            if let Some(key) = opened {
                window.press(key);
            }
            let drawn = window.drawn();
            let whole = Rect::from_min_size(Pos2::ZERO, vec2(width as f32, height as f32));
            for (index, one) in drawn.iter().enumerate() {
                if !whole.contains_rect(one.ink) || !one.clip.expand(0.5).contains_rect(one.ink) {
                    faults.push(format!(
                        "{here}: {:?} is clipped at {:?}",
                        one.words, one.ink
                    ));
                }
                for other in &drawn[index + 1..] {
                    let common = one.ink.intersect(other.ink);
                    if common.width() >= 1.0 && common.height() >= 1.0 {
                        faults.push(format!(
                            "{here}: {:?} at {:?} lies over {:?} at {:?}",
                            one.words, one.ink, other.words, other.ink
                        ));
                    }
                }
            }
            let mut least = |words: &str, millimetres: f32| match find(&drawn, words) {
                None => faults.push(format!("{here}: {words:?} is not drawn")),
                Some(found) => {
                    let high = found.size * CAPITALS * MM;
                    if high < millimetres - 0.01 {
                        faults.push(format!("{here}: {words:?} is {high:.2} mm high"));
                    }
                }
            };
            for words in critical(&data) {
                // In a small window, or with type twice as large, the words behind the load stand in the own figure's place.
                let own = match &data.own {
                    Own::Cadence(figure, _) => &figure.value,
                    Own::Aim(aim, _) => aim,
                };
                if opened.is_none() || words != *own || (height > 600 && text < 2.0) {
                    least(&words, LEAST_MM);
                }
            }
            // Keys are looked at leaning over the bars, from six tenths of the distance.
            for key in [word("esc"), word("brake off")] {
                least(key, 0.6 * LEAST_MM);
            }
        }
    }
    faults
}

#[test]
fn nothing_overlaps_or_is_clipped_and_what_matters_is_seven_millimetres_high() {
    assert_eq!(faults(1.0), Vec::<String>::new());
}

#[test]
fn so_it_is_with_type_half_as_large_again() {
    assert_eq!(faults(1.5), Vec::<String>::new());
}

#[test]
fn so_it_is_with_type_twice_as_large() {
    assert_eq!(faults(2.0), Vec::<String>::new());
}

#[test]
fn the_big_figures_are_twenty_five_millimetres_high_on_a_small_laptop() {
    // Twelve minutes and thirty-four seconds left of a cool-down that was made longer.
    let mut long = states::riding();
    let mut laps = long.laps.to_vec();
    laps[8].length = Span::from_seconds(900);
    long.lap = 8;
    long.session = laps[8].start + Span::from_seconds(900 - 754);
    long.session_length = laps[8].start + Span::from_seconds(900);
    long.laps = laps.into();
    for (snapshot, left) in [(states::riding(), "0:35"), (long, "12:34")] {
        let mut window = Window::seen(snapshot, 1280, 800, 1.0, sight(1.0));
        let drawn = window.drawn();
        for words in [left, "86"] {
            let high = find(&drawn, words).unwrap().size * CAPITALS * MM;
            assert!(high >= 24.9, "{words} is {high:.1} mm high");
        }
    }
}

#[test]
fn figures_do_not_move_what_stands_beside_them() {
    let left_of_unit = |rpm: f64| {
        let mut snapshot = states::riding();
        snapshot.ink = snapshot
            .ink
            .iter()
            .map(|point| stillroad::engine::snapshot::InkPoint {
                cadence: Some(Rpm(rpm)),
                ..*point
            })
            .collect();
        let mut window = Window::open(snapshot, 1280, 800);
        let drawn = window.drawn();
        assert!(find(&drawn, &format!("{rpm:.0}")).is_some());
        find(&drawn, "rpm").unwrap().ink.left()
    };
    let first = left_of_unit(88.0);
    for rpm in [81.0, 71.0, 77.0, 99.0] {
        assert!((left_of_unit(rpm) - first).abs() < 0.01, "{rpm}");
    }
}
