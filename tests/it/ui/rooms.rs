//! What the rooms say, as text: every word and figure of a state, for people to read and for changes to be seen.

use std::fmt::Write as _;
use std::sync::Arc;

use egui_kittest::kittest::{NodeT as _, Queryable as _};

use stillroad::engine::Snapshot;
use stillroad::engine::snapshot::Question;
use stillroad::ride::{Mode, Reading};
use stillroad::time::{Instant, Span};
use stillroad::ui::keys::Hands;
use stillroad::ui::rooms::prepare::{self, Chosen};
use stillroad::ui::rooms::ride::{self, Own};
use stillroad::ui::widgets::strip::Side;
use stillroad::units::{Rpm, Watts};

use super::hand::shelf;
use super::states;

/// The Ride room as lines of text.
fn told(data: &ride::Data) -> String {
    let mut out = String::new();
    let mut line = |what: &str, words: String| {
        if !words.is_empty() {
            writeln!(out, "{what}: {words}").unwrap();
        }
    };
    line("block", data.block.clone());
    line("left", data.left.clone());
    match &data.own {
        Own::Cadence(figure, band) => {
            line("own job, cadence", figure.spoken());
            if let Some(band) = band {
                line(
                    "band",
                    format!(
                        "{:.0} to {:.0} {}",
                        band.band.low.0,
                        band.band.high.0,
                        band.judged()
                    ),
                );
            }
        }
        Own::Aim(effort, feel) => line("own job, aim for", format!("{effort} ({feel})")),
    }
    for figure in &data.smaller {
        line(figure.name, figure.spoken());
    }
    let mark = if data.sentence.urgent { "! " } else { "" };
    if !data.sentence.words.is_empty() {
        line("sentence", format!("{mark}{}", data.sentence.words));
        line("more", data.sentence.more.clone());
    }
    if let Some(menu) = &data.menu {
        let mut items = menu.items.clone();
        items[menu.chosen] = format!("[{}]", items[menu.chosen]);
        line("choices", items.join(" | "));
    }
    if let Some(rating) = &data.rating {
        line("question", rating.words.to_owned());
    }
    if let Some(banner) = &data.banner {
        let signs = if banner.stop_signs {
            " [stop signs]"
        } else {
            ""
        };
        line(
            "banner",
            format!("{} | {}{signs}", banner.title, banner.lines.join(" | ")),
        );
    }
    line("strip", data.strip.spoken.clone());
    let labels: Vec<_> = data
        .strip
        .labels
        .iter()
        .map(|label| label.words.as_str())
        .collect();
    line("labels", labels.join(" | "));
    let marks: Vec<_> = data
        .strip
        .marks()
        .iter()
        .map(|mark| format!("{:?}", mark.side))
        .collect();
    line("marks", marks.join(" "));
    line("next", data.next.clone());
    line("gear", data.gear.clone());
    line("caution", data.caution.to_owned());
    line("clock", data.clock.clone());
    let hints: Vec<_> = data
        .hints
        .iter()
        .map(|hint| format!("{} {}", hint.key, hint.words))
        .collect();
    line("keys", hints.join(", "));
    out
}

fn ride_data(snapshot: &Snapshot) -> ride::Data {
    ride::Data::new(snapshot.at, snapshot, &Hands::default(), true)
}

/// Every state of the Ride room.
pub(super) fn all_told() -> String {
    let mut all = String::new();
    for (state, snapshot) in states::all() {
        if snapshot.mode.under_way() {
            write!(all, "== {state}\n{}\n", told(&ride_data(&snapshot))).unwrap();
        }
    }
    all
}

#[test]
fn every_state_of_the_ride_in_words() {
    insta::assert_snapshot!("ride", all_told());
}

#[test]
fn prepare_in_words() {
    let mut state = prepare::State::default();
    let idle = states::idle();
    state.settle(&idle);
    let data = prepare::Data::new(
        states::AT,
        &idle,
        &shelf(),
        Chosen::default(),
        &state,
        &prepare::Around::default(),
    );
    insta::assert_debug_snapshot!("prepare_rows", data.session.rows);
    insta::assert_debug_snapshot!("prepare_devices", data.devices);
}

/// 26:25 into the sketch's session: the second hold runs from 20:00 to 27:00, so 35 s are left; effort 7 is 82 % of a
/// threshold of 286 W by the default map, 234.5 W; the recovery after it is effort 4, 55 %, 157.3 W.
#[test]
fn the_ride_room_says_what_the_session_says() {
    let data = ride_data(&states::riding());
    assert_eq!(data.block, "Hold 2 of 4");
    assert_eq!(data.left, "0:35");
    assert_eq!(data.clock, "26:25 of 53:00");
    assert_eq!(data.next, "Then recovery, 3:00 at 4.");
    assert_eq!(data.smaller[0].note, "lane 235");
    let labels: Vec<_> = data
        .strip
        .labels
        .iter()
        .map(|label| label.words.as_str())
        .collect();
    assert_eq!(labels, ["235 W", "157 W"]);
    assert_eq!(data.ruler.blocks.len(), 9);
    let minutes: Vec<_> = data
        .ruler
        .blocks
        .iter()
        .map(|block| block.2.as_str())
        .collect();
    assert_eq!(minutes, ["10", "7", "3", "7", "3", "7", "3", "7", "6"]);
}

#[test]
fn session_time_runs_on_between_snapshots_only_while_the_clock_runs() {
    let snapshot = states::riding();
    let later = Instant(snapshot.at.0 + 1_400_000);
    let at = |snapshot: &Snapshot| ride::Data::new(later, snapshot, &Hands::default(), true);
    // 35 s less 1.4 s is 33.6 s, shown rounded up.
    assert_eq!(at(&snapshot).left, "0:34");
    assert_eq!(at(&snapshot).clock, "26:26 of 53:00");
    let paused = Snapshot {
        mode: Mode::Paused(stillroad::ride::PauseCause::Rider),
        ..snapshot.clone()
    };
    assert_eq!(at(&paused).left, "0:35");
    // Past the block's end, before a snapshot says so, the next block is shown; past the session's end, its last.
    let beyond = Instant(snapshot.at.0 + 40_000_000);
    let data = ride::Data::new(beyond, &snapshot, &Hands::default(), true);
    assert_eq!(
        (data.block.as_str(), data.left.as_str()),
        ("Recovery", "2:55")
    );
    let far = Instant(snapshot.at.0 + 9_000_000_000);
    let data = ride::Data::new(far, &snapshot, &Hands::default(), true);
    assert_eq!(data.clock, "53:00 of 53:00");
}

/// Every word that the Ride room paints in effort-only mode, whatever the state: a W anywhere would be one too many.
#[test]
fn effort_only_shows_no_watts_anywhere() {
    for (state, snapshot) in states::all() {
        let snapshot = Snapshot {
            ride_mode: stillroad::ride::RideMode::EffortOnly,
            ..snapshot
        };
        if !snapshot.mode.under_way() {
            continue;
        }
        let mut window = super::hand::Window::open(snapshot, 1280, 800);
        if let Some(key) = states::opened_by(state) {
            window.press(key);
        }
        for words in window.words() {
            let watts = words
                .split(|c: char| !c.is_alphanumeric())
                .any(|word| word == "W" || word == "kJ");
            assert!(!watts && !words.contains("lane 2"), "{state}: {words}");
        }
    }
    let mut window = super::hand::Window::open(states::riding(), 1280, 800);
    assert!(
        window.words().iter().any(|words| words == "235 W"),
        "the check can see watts"
    );
}

#[test]
fn a_stale_reading_is_never_drawn_as_a_number() {
    for lost in [Reading::Stale(Rpm(86.0)), Reading::Gone, Reading::NeverSeen] {
        let mut snapshot = states::riding();
        snapshot.cadence = lost;
        snapshot.power = match lost {
            Reading::Stale(_) => Reading::Stale(Watts(232.0)),
            _ => Reading::Gone,
        };
        snapshot.heart_rate = Reading::Gone;
        let data = ride_data(&snapshot);
        let Own::Cadence(cadence, band) = &data.own else {
            panic!("the brake holds the watts: cadence is the rider's job");
        };
        assert_eq!(band.unwrap().at, None);
        for figure in data.smaller.iter().chain([cadence]) {
            assert_eq!(figure.value, "–", "{figure:?}");
            assert!(!figure.known && !figure.note.is_empty(), "{figure:?}");
        }
        assert_eq!(data.strip.now, None);
        assert_eq!(data.strip.cadence_now, None);
        let mut window = super::hand::Window::open(snapshot, 1280, 800);
        for words in window.words() {
            assert!(words != "86" && words != "232" && words != "151", "{words}");
        }
    }
}

#[test]
fn ink_off_the_lane_has_one_mark_that_says_which_way() {
    let snapshot = states::riding();
    let marks = ride_data(&snapshot).strip.marks();
    assert_eq!(
        marks.iter().map(|mark| mark.side).collect::<Vec<_>>(),
        [Side::Above]
    );
    // The planted time over the lane lies 33 to 38 seconds back; a mean of three seconds is at its most at its end.
    assert!((-38.0..=-32.5).contains(&marks[0].at), "{marks:?}");
    let mut under = snapshot.clone();
    under.ink = under
        .ink
        .iter()
        .map(|point| stillroad::engine::snapshot::InkPoint {
            power: point.lane.map(|lane| lane * 0.9),
            ..*point
        })
        .collect();
    let data = ride_data(&under);
    assert_eq!(data.strip.marks().len(), 1);
    assert_eq!(data.strip.now.unwrap().side, Side::Below);
}

#[test]
fn the_plan_is_hidden_while_a_rating_is_asked_for() {
    let asked = states::all()
        .into_iter()
        .find(|(state, _)| *state == "asked")
        .unwrap()
        .1;
    let data = ride_data(&asked);
    assert!(
        data.strip.lane.iter().all(|point| point.at > -1e-3),
        "no lane of the past"
    );
    assert_eq!(
        data.next, "Then hold 2 of 4, 7:00.",
        "nor the next hold's figure"
    );
    let open = Snapshot {
        question: None,
        ..asked
    };
    assert!(
        ride_data(&open)
            .strip
            .lane
            .iter()
            .any(|point| point.at < -30.0)
    );
    assert_eq!(open.question, None::<Question>);
}

#[test]
fn a_cut_block_leaves_no_trace() {
    let mut snapshot = states::riding();
    let mut laps = snapshot.laps.to_vec();
    // The recovery after this hold is cut: everything after it moves up by three minutes.
    laps[4].length = Span::ZERO;
    for lap in &mut laps[5..] {
        lap.start = lap.start.less(Span::from_seconds(180));
    }
    snapshot.laps = Arc::from(laps);
    snapshot.session_length = Span::from_seconds(50 * 60);
    let data = ride_data(&snapshot);
    assert_eq!(data.next, "Then hold 3 of 4, 7:00 at 7.");
    assert_eq!(data.ruler.blocks.len(), 8);
    assert_eq!(data.clock, "26:25 of 50:00");
}

/// Snapshots that no core should make: the window still has to stand, since it shows how to stop.
#[test]
fn odd_snapshots_are_shown_without_a_panic() {
    let riding = states::riding();
    let mut laps = riding.laps.to_vec();
    laps[2].block = 999;
    let odd = [
        Snapshot {
            plan: None,
            ..riding.clone()
        },
        Snapshot {
            rider: None,
            ..riding.clone()
        },
        Snapshot {
            laps: Arc::from([]),
            lap: 7,
            ..riding.clone()
        },
        Snapshot {
            laps: Arc::from(laps),
            lap: 2,
            session: Span::from_seconds(1100),
            ..riding.clone()
        },
        Snapshot {
            lap: 99,
            ..riding.clone()
        },
        Snapshot {
            session: Span(u64::MAX),
            session_length: Span::ZERO,
            ..riding.clone()
        },
        Snapshot {
            at: Instant(u64::MAX),
            lane: Some(Watts(f64::NAN)),
            ..riding.clone()
        },
        Snapshot {
            power: Reading::Fresh(Watts(-5.0)),
            trim_work: i32::MIN,
            ..riding
        },
    ];
    for (index, snapshot) in odd.into_iter().enumerate() {
        let mut window = super::hand::Window::open(snapshot, 800, 600);
        assert!(
            window.words().iter().any(|words| words == "brake off"),
            "{index}"
        );
    }
}

/// While the choices are walked the key no longer goes on: nothing on the screen may say so.
#[test]
fn what_the_key_does_is_said_truly_while_the_choices_are_walked() {
    for state in ["paused-by-hand", "off-by-hand"] {
        let mut all = states::all().into_iter();
        let (_, snapshot) = all.find(|(name, _)| *name == state).unwrap();
        let mut window = super::hand::Window::open(snapshot, 1280, 800);
        let first = |window: &super::hand::Window| {
            let node = window.harness.get_by_label("What to do");
            let said = node.accesskit_node().value().unwrap_or_default();
            said.split(". ").next().unwrap_or_default().to_owned()
        };
        let before = first(&window);
        assert_ne!(before, "Enter takes the choice", "{state}");
        window.press(egui::Key::ArrowUp);
        assert_eq!(first(&window), "Enter takes the choice", "{state}");
        window.press(egui::Key::ArrowDown);
        assert_eq!(first(&window), before, "{state}");
    }
}

/// Four hundred blocks of 36 s: ticks are never closer than a hundred-and-fiftieth of the ruler, the whole length is there,
/// and a block that is told apart keeps its minutes.
#[test]
fn a_long_sessions_ruler_is_thinned_to_what_can_be_seen() {
    let lap = |block: usize, start: u64, length: u64| stillroad::ride::Lap {
        block,
        start: Span::from_seconds(start),
        length: Span::from_seconds(length),
    };
    let mut laps: Vec<_> = (0..400).map(|n| lap(n, n as u64 * 36, 36)).collect();
    laps.push(lap(400, 14_400, 600));
    let whole = Span::from_seconds(15_000);
    let data = stillroad::ui::widgets::ruler::Data::new(&laps, Span::ZERO, whole);
    // A hundred-and-fiftieth of 15 000 s is 100 s, so two blocks of 36 s stand together: 72 s, and a third is too far.
    assert_eq!(data.blocks.len(), 201);
    for (index, (start, end, words)) in data.blocks[..200].iter().enumerate() {
        let at = index as f64 * 72.0;
        assert_eq!((*start, *end, words.as_str()), (at, at + 72.0, ""));
    }
    assert_eq!(data.blocks[200], (14_400.0, 15_000.0, "10".to_owned()));
}
