//! The room after a ride, in every state that it has to show.

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use stillroad::engine::command::Command;
use stillroad::engine::snapshot::{RecordState, Snapshot};
use stillroad::ui::keys::Hands;
use stillroad::ui::rooms::finish::{Data, Rating};
use stillroad::units::Effort;

use super::ended::{FOLDER, all, completed};
use super::hand::Window;

fn state(name: &str) -> Snapshot {
    let mut all = all().into_iter();
    all.find(|(state, _)| *state == name).unwrap().1
}

fn data(name: &str) -> Data {
    Data::new(&state(name), &Hands::default())
}

fn told(name: &str, label: &str) -> String {
    let lines = data(name).record;
    let line = lines.iter().find(|line| line.label == label).unwrap();
    line.words.clone()
}

#[test]
fn the_recording_is_told_as_it_is() {
    assert_eq!(
        told("end-asked", "recording"),
        "whole and closed: 3180 rows for 3180 seconds ridden"
    );
    assert_eq!(
        told("end-asked", "measured"),
        "heart rate throughout; power and cadence 3158 of 3180 s, 1 gap of 0:22"
    );
    assert_eq!(
        told("end-asked", "pauses"),
        "2 by still pedals, 1:10 in all; 1 by you, 5:05 in all"
    );
    assert_eq!(
        told("end-asked", "brake"),
        "in hand throughout; let off, as the trainer confirmed"
    );
    assert_eq!(told("end-asked", "folder"), FOLDER);
    assert_eq!(
        told("end-closing", "recording"),
        "being closed: 3176 rows for 3180 seconds ridden"
    );
    assert_eq!(
        told("end-closing", "brake"),
        "in hand throughout; being let off"
    );
    assert!(told("end-disk", "recording").contains("The ride is kept in memory: free some space"));
    assert_eq!(
        told("end-holds", "brake"),
        "in hand for 23:40 of 26:25; not confirmed as let off"
    );
    assert_eq!(told("end-bare", "brake"), "none was set in this ride");
    assert_eq!(
        told("end-at-once", "recording"),
        "nothing was ridden, so nothing was recorded"
    );
    let urgent = |name| {
        let lines = data(name).record;
        lines.iter().filter(|line| line.urgent).count()
    };
    assert_eq!(
        (urgent("end-asked"), urgent("end-disk"), urgent("end-holds")),
        (0, 1, 1)
    );
    // A row short, or an entry lost, is not whole.
    let mut short = state("end-asked");
    short.record = RecordState::Closed(FOLDER.into(), 3179);
    let lines = Data::new(&short, &Hands::default()).record;
    assert!(lines[0].words.starts_with("closed, not whole"));
}

#[test]
fn what_matters_most_stands_largest() {
    assert!(
        data("end-holds")
            .sentence
            .words
            .contains("may hold its last load")
    );
    assert!(data("end-holds").sentence.urgent);
    assert!(
        data("end-asked")
            .sentence
            .words
            .contains("Keep the legs turning")
    );
    assert!(!data("end-asked").sentence.urgent);
    assert!(
        data("end-failed")
            .sentence
            .words
            .contains("The program failed")
    );
    assert_eq!(data("end-asked").title, "Ridden to the end");
    assert_eq!(data("end-early").title, "Ended by you");
    assert_eq!(data("end-early").chart.ended, Some(1585.0));
    assert_eq!(data("end-asked").chart.ended, None);
    assert_eq!(data("end-at-once").chart.ended, None);
    assert_eq!(data("end-at-once").no_figures, "Nothing was ridden.");
    assert_eq!(
        data("end-failed").no_figures,
        "What it came to is not known."
    );
    assert_eq!(
        data("end-early").rating,
        Rating::Told("You rated the whole ride 8 of 10: very hard.".into())
    );
    assert_eq!(data("end-at-once").rating, Rating::Told(String::new()));
    let figures: Vec<_> = data("end-asked")
        .figures
        .iter()
        .map(|f| f.spoken())
        .collect();
    assert_eq!(
        figures,
        [
            "595 kJ of work done",
            "188 W mean",
            "84 rpm mean",
            "142 bpm mean, 168 at most"
        ]
    );
    assert!(data("end-bare").figures.is_empty());
}

/// Power on the scale of effort, by the rider's own map: with a lane at effort 7 the ink lies around 7.
#[test]
fn the_whole_ride_is_drawn_on_the_whole_session() {
    let chart = data("end-asked").chart;
    assert_eq!(chart.ink.len(), 397);
    let in_hold = chart
        .ink
        .iter()
        .filter(|(at, _)| (660.0..960.0).contains(at));
    for (_, effort) in in_hold {
        assert!((effort.unwrap() - 7.0).abs() < 0.5, "{effort:?}");
    }
    let gone = chart.ink.iter().filter(|(_, effort)| effort.is_none());
    assert!((3..=4).contains(&gone.count()));
    let ratings: Vec<_> = chart.ratings.iter().map(|r| (r.0, r.1.as_str())).collect();
    assert_eq!(
        ratings,
        [(810.0, "6"), (1410.0, "7"), (2010.0, "–"), (2610.0, "10")]
    );
    // The lane covers the session from end to end, in order, the part not ridden too.
    for name in ["end-asked", "end-early", "end-effort"] {
        let lane = data(name).chart.lane;
        assert!(
            lane.windows(2).all(|pair| pair[0].at <= pair[1].at),
            "{name}"
        );
        assert_eq!(lane.first().unwrap().at, 0.0);
        assert!((lane.last().unwrap().at - 3180.0).abs() < 0.001);
        let hold = lane
            .iter()
            .filter(|point| (2500.0..2700.0).contains(&point.at));
        for point in hold {
            let (low, high) = point.edges.unwrap();
            assert!(low < 7.0 && high.unwrap() > 7.0, "{name}: {point:?}");
        }
    }
}

#[test]
fn without_watts_there_are_none_at_the_end_either() {
    let effort = data("end-effort");
    assert!(effort.chart.ink.is_empty());
    assert!(!effort.chart.cadence.is_empty());
    let mut window = Window::open(state("end-effort"), 1280, 800);
    for words in window.words() {
        let watts = words
            .split(|c: char| !c.is_alphanumeric())
            .any(|word| word == "W" || word == "kJ");
        assert!(!watts && !words.contains("188"), "{words}");
    }
    let mut window = Window::open(completed(), 1280, 800);
    assert!(window.words().iter().any(|words| words.contains("kJ")));
}

#[test]
fn the_rating_is_given_by_digits_or_arrows_and_the_words_of_the_scale_are_read_out() {
    let mut window = Window::open(completed(), 1280, 800);
    let value = |window: &Window, label: &str| {
        window
            .harness
            .get_by_label(label)
            .value()
            .unwrap_or_default()
    };
    let question = "How hard was the whole ride, 0 to 10?";
    assert_eq!(value(&window, question), "no answer yet");
    window.press(Key::Num7);
    assert_eq!(value(&window, question), "7");
    assert_eq!(value(&window, "In words"), "Hard, in single phrases");
    window.press(Key::ArrowUp);
    assert_eq!(value(&window, question), "8");
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [Command::Rate(Effort(8.0))]);
    window.press(Key::Backspace);
    assert_eq!(window.hand.told(), [Command::PassRating]);
}

#[test]
fn by_keyboard_alone_the_path_is_copied_and_the_way_back_is_found() {
    let mut window = Window::open(state("end-early"), 1280, 800);
    for label in [
        "Whole ride",
        "Sentence",
        "recording",
        "folder",
        "Mean power",
        "Time ridden",
    ] {
        let node = window.harness.get_by_label(label);
        assert!(
            node.value().is_some_and(|value| !value.is_empty()),
            "{label}"
        );
    }
    assert!(window.harness.get_by_label("Back to Prepare").is_focused());
    window.press(Key::Tab);
    assert!(window.harness.get_by_label("Open the folder").is_focused());
    window.press(Key::Tab);
    // One frame at a time: what is copied stands in the output of a single one.
    window.harness.key_down(Key::Enter);
    let mut copied = false;
    for _ in 0..3 {
        window.harness.step();
        let commands = &window.harness.output().platform_output.commands;
        copied |= commands.iter().any(
            |command| matches!(command, egui::OutputCommand::CopyText(text) if text == FOLDER),
        );
    }
    window.harness.run_steps(2);
    let hint = window.harness.get_by_label("Hint").value();
    assert_eq!(hint.as_deref(), Some("The path was copied."));
    assert!(copied, "nothing was copied");
    let mut window = Window::open(state("end-at-once"), 800, 600);
    assert!(window.harness.query_by_label("Open the folder").is_none());
    window.press(Key::Enter);
    assert!(matches!(
        window.hand.told().as_slice(),
        [Command::Choose(_), Command::Scan(true)]
    ));
}

/// Everything painted, in every state, at every size: nothing lies over another, nothing leaves the window, nothing is
/// too small to be read from the saddle.
#[test]
fn nothing_in_the_room_after_a_ride_overlaps() {
    for (name, snapshot) in all() {
        for (width, height) in [(1280, 800), (800, 600), (1920, 1080), (1280, 720)] {
            let mut window = Window::open(snapshot.clone(), width, height);
            if snapshot.question.is_some() {
                window.press(Key::Num3);
            }
            let texts = window.texts();
            assert!(texts.len() > 8, "{name}: only {} texts", texts.len());
            let whole = egui::Rect::from_min_size(
                egui::Pos2::ZERO,
                egui::vec2(width as f32, height as f32),
            );
            for (index, (words, rect)) in texts.iter().enumerate() {
                assert!(
                    whole.contains_rect(*rect),
                    "{name} at {width}: {words:?} leaves the window at {rect:?}"
                );
                for (other, beside) in &texts[index + 1..] {
                    let common = rect.intersect(*beside);
                    assert!(
                        common.width() < 1.0 || common.height() < 1.0,
                        "{name} at {width}: {words:?} at {rect:?} lies over {other:?} at {beside:?}"
                    );
                }
            }
        }
    }
}

/// Writes every state of the room in four sizes and on both grounds, as PNG, to the folder named by
/// `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_every_end() {
    let folder = std::path::PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    let only = std::env::var("STILLROAD_ONLY").unwrap_or_default();
    for (name, snapshot) in all() {
        for (width, height) in [(1280, 800), (800, 600), (1920, 1080), (2560, 1440)] {
            let shown = format!("{name}-{width}x{height}");
            if !shown.contains(&only) {
                continue;
            }
            let mut window = Window::open(snapshot.clone(), width, height);
            if name == "end-closing" {
                window.press(Key::Num7);
            }
            for ground in ["dark", "paper"] {
                let file = folder.join(format!("{shown}-{ground}.png"));
                std::fs::write(file, window.picture().png()).unwrap();
                window.press(Key::G);
            }
        }
    }
}
