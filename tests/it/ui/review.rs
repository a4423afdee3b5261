//! The Review room worked by keys and accessible names: rides are listed, opened, looked at, kept; nothing overlaps.

use std::cell::RefCell;
use std::path::PathBuf;
use std::rc::Rc;
use std::sync::{Arc, OnceLock};

use egui::{Key, OutputCommand};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::app::{Answer, Ask, RideShelf};
use stillroad::device::practice::PracticeConfig;
use stillroad::engine::Command;
use stillroad::plan;
use stillroad::record::{EventLine, NoteLine};
use stillroad::review::over::compare::compare;
use stillroad::review::over::{Brief, Listing, Opened};
use stillroad::review::{Asked, chart};
use stillroad::ride::RideMode;
use stillroad::ui::rooms::review::Keep;
use stillroad::ui::settings::Settings;
use stillroad::ui::theme::Ground;
use stillroad::units::{Effort, Rpm, Watts};

use super::hand::Window;
use super::pictures;
use super::states;
use super::views::View;
use crate::review::Rec;
use crate::review::ridden::of_everything;
use crate::world::{EPOCH_MS, Ride, rider};

/// Rides behind the window, answered when the window looks; what was asked for is written down.
#[derive(Clone, Default)]
pub struct Pile {
    /// The rides, with the names of their folders.
    pub rides: Rc<RefCell<Vec<(String, Rec)>>>,
    /// What was asked for.
    pub asked: Rc<RefCell<Vec<Ask>>>,
    waits: Rc<RefCell<Vec<Ask>>>,
    /// Why a ride cannot be opened, where it cannot.
    pub refuses: Rc<RefCell<Option<String>>>,
}

impl RideShelf for Pile {
    fn ask(&mut self, ask: Ask, _done: Arc<dyn Fn() + Send + Sync>) {
        self.asked.borrow_mut().push(ask.clone());
        self.waits.borrow_mut().push(ask);
    }

    fn take(&mut self) -> Option<Answer> {
        let ask = self.waits.borrow_mut().pop()?;
        let rides = self.rides.borrow();
        Some(match ask {
            Ask::List => Answer::Listed(Listing {
                rides: rides
                    .iter()
                    .map(|(key, kept)| Brief::of(key, &kept.recording()))
                    .collect(),
                troubles: Vec::new(),
            }),
            Ask::Open(key) => {
                let opened = match &*self.refuses.borrow() {
                    Some(why) => Err(why.clone()),
                    None => Ok(opened(
                        &key,
                        &rides.iter().find(|(known, _)| *known == key).unwrap().1,
                    )),
                };
                Answer::Opened(key, Box::new(opened))
            }
            Ask::Compare(keys) => {
                let named = |key: &String| rides.iter().find(|(known, _)| known == key).unwrap();
                let reviews: Vec<_> = keys.iter().map(|key| named(key).1.review()).collect();
                let all: Vec<_> = keys
                    .iter()
                    .zip(&reviews)
                    .map(|(key, review)| (key.clone(), named(key).1.recording(), review))
                    .collect();
                Answer::Compared(keys.clone(), Ok(compare(&all)))
            }
            Ask::Keep(key, what) => Answer::Kept(match &*self.refuses.borrow() {
                Some(why) => Err(why.clone()),
                None => Ok(format!("{key}/{what:?}")),
            }),
        })
    }
}

fn opened(key: &str, kept: &Rec) -> Opened {
    Opened {
        key: key.to_owned(),
        review: kept.review(),
        chart: chart::chart(&kept.recording(), &Asked::of(&kept.start)),
    }
}

/// A built-in session ridden by the practice rider, days before the others, with ratings and a pause.
fn ridden(session: &str, mode: RideMode, days: i64) -> Rec {
    let builtin = plan::builtin();
    let (_, text) = builtin.iter().find(|(key, _)| *key == session).unwrap();
    let plan = Arc::new(plan::read(text).plan.unwrap());
    let config = PracticeConfig::for_rider(Watts(200.0), stillroad::units::Joules(20_000.0));
    let mut ride = Ride::practice(config, &plan, &rider(), mode);
    ride.start();
    ride.to(905.0);
    ride.command(Command::Pause);
    ride.pass(75.0);
    ride.command(Command::Resume);
    ride.pass(300.0);
    ride.command(Command::Trim(-1));
    ride.to_the_end(20_000.0);
    let mut kept = Rec::of(&ride);
    let back = days * 86_400_000;
    kept.start.utc_ms -= back;
    for row in &mut kept.rows {
        row.utc_ms -= back;
    }
    for (block, rating) in [(None, 7.0), (Some(4), 7.0), (Some(6), 8.0)] {
        kept.notes.push(NoteLine {
            utc_ms: EPOCH_MS,
            block,
            what: "rating".into(),
            rating: Some(Effort(rating)),
            text: String::new(),
        });
    }
    kept
}

/// A ride of the rider who is chosen in Prepare, on a machine, with ratings of four loads: each a whole effort above what
/// the default map says.
fn rated(days: i64) -> Rec {
    let mut kept = Rec::new();
    let shares = [0.63, 0.73, 0.82, 0.91];
    let block = "[[block]]\nkind = \"hold\"\ntime = \"8:00\"\neffort = 6\n";
    kept.start.session = "Ladder".to_owned();
    let head = "format = 1\nname = \"Ladder\"\npurpose = \"A test.\"\n";
    kept.start.session_text = format!("{head}{}", block.repeat(4)).into();
    kept.start.rider = states::rider().name;
    kept.start.threshold = states::rider().threshold;
    kept.start.utc_ms -= days * 86_400_000;
    kept.finish = Some("completed".to_owned());
    for second in 1..=1920_u64 {
        let mut row = crate::review::row(second);
        let place = (second - 1) as usize / 480;
        row.block = place as u32 + 1;
        row.power = Some(Watts(states::rider().threshold.0 * shares[place]));
        row.utc_ms -= days * 86_400_000;
        kept.rows.push(row);
    }
    for place in 0..4 {
        kept.notes.push(NoteLine {
            utc_ms: EPOCH_MS,
            block: Some(place + 1),
            what: "rating".into(),
            // The default map has 63, 73, 82 and 91 % at efforts 5 to 8.
            rating: Some(Effort(f64::from(place) + 6.0)),
            text: String::new(),
        });
    }
    kept
}

/// Rides of every sort: held, with a gap and a lost link; with sprints; by effort; without a sensor; broken off.
fn rides() -> Vec<(String, Rec)> {
    static RIDES: OnceLock<Vec<(String, Rec)>> = OnceLock::new();
    let make = || {
        let mut held = ridden("steady-repeats", RideMode::TargetPower, 0);
        let middle = held.rows.len() as u64 / 2;
        for row in &mut held.rows {
            if (middle..middle + 40).contains(&row.ridden_s) {
                row.power = None;
            }
            if row.ridden_s > middle + 40 {
                row.cadence = row.cadence.map(|rpm| Rpm(rpm.0 - 3.0));
            }
        }
        held.events.push(EventLine {
            ridden_s: middle as f64,
            plan_s: middle as f64,
            utc_ms: EPOCH_MS,
            what: "link-lost".into(),
            detail: "Hall trainer".into(),
        });
        let mut bare = ridden("first-ride", RideMode::TargetPower, 9);
        for row in &mut bare.rows {
            (row.power, row.cadence, row.heart_rate, row.lane) = (None, None, None, None);
            (row.could, row.w_balance) = (None, None);
        }
        bare.finish = None;
        vec![
            ("held".to_owned(), held),
            ("sprints".to_owned(), of_everything()),
            (
                "effort".to_owned(),
                ridden("steady-repeats", RideMode::EffortOnly, 3),
            ),
            ("bare".to_owned(), bare),
            ("nothing".to_owned(), Rec::new()),
            ("rated-0".to_owned(), rated(20)),
            ("rated-1".to_owned(), rated(27)),
            ("rated-2".to_owned(), rated(34)),
        ]
    };
    RIDES.get_or_init(make).clone()
}

/// A window over these rides, with the room entered by its key.
fn reviewing(width: usize, height: usize, dots: f32, settings: Settings) -> Window {
    let mut window = Window::set_up(states::idle(), width, height, dots, settings);
    *window.pile.rides.borrow_mut() = rides();
    window.press(Key::R);
    window.harness.run_steps(4);
    window
}

fn value(window: &Window, label: &str) -> String {
    let node = window.harness.get_by_label(label);
    node.accesskit_node().value().unwrap_or_default()
}

fn has(window: &Window, label: &str) -> bool {
    window.harness.query_by_label(label).is_some()
}

fn presses(window: &mut Window, label: &str) {
    window.harness.get_by_label(label).click();
    window.harness.run_steps(4);
}

#[test]
fn rides_are_chosen_and_looked_at_by_the_keyboard_alone() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    assert_eq!(value(&window, "Place"), "Ride 1 of 8");
    assert!(
        value(&window, "Rides").starts_with("Four times to the light"),
        "{}",
        value(&window, "Rides")
    );
    assert!(
        value(&window, "Strip").contains("no power from"),
        "{}",
        value(&window, "Strip")
    );
    assert!(value(&window, "Strip").contains("the clock stood"));
    assert!(value(&window, "What happened, 1").starts_with("Ridden to the end"));
    // Right goes through the views, and stays at the last.
    for (view, label) in [
        ("Blocks", "Bar 1"),
        ("Repeats", "Causeway, repeat by repeat, row 1"),
        ("Best means", "Best mean powers of this ride, row 1"),
        ("Sprints, recoveries", "Recoveries, row 1"),
        ("Over rides", "Rides, row 1"),
        ("Over rides", "Rides, row 2"),
    ] {
        window.press(Key::ArrowRight);
        assert_eq!(value(&window, "Looked at"), view);
        assert!(has(&window, label), "{label}");
    }
    let before = value(&window, "The same session before, 1");
    assert!(before.contains("ridden in target-power mode"), "{before}");
    assert!(has(&window, "Week of 2025-12-29"));
    window.press(Key::ArrowLeft);
    window.press(Key::ArrowDown);
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Place"), "Ride 2 of 8");
    assert!(
        has(&window, "Sprints, row 1"),
        "the view stays from ride to ride"
    );
    let asked = window.pile.asked.borrow().clone();
    let open = |key: &str| Ask::Open(key.to_owned());
    let both = Ask::Compare(vec!["held".to_owned(), "effort".to_owned()]);
    assert_eq!(
        asked,
        [Ask::List, open("held"), both, open("sprints")],
        "each is asked for once"
    );
    assert_eq!(window.hand.told(), [], "the ride hears nothing of it");
    window.press(Key::R);
    window.harness.run_steps(2);
    assert!(has(&window, "Sessions"), "the same key leads back");
}

/// What the ratings say is shown, and adopted by a press alone: the rider's file is saved with the new map.
#[test]
fn the_effort_map_learned_is_shown_and_adopted_when_the_rider_says_so() {
    let mut window = reviewing(1280, 2400, 1.0, Settings::default());
    for _ in 0..5 {
        window.press(Key::ArrowDown);
        window.press(Key::ArrowRight);
    }
    window.harness.run_steps(4);
    assert_eq!(value(&window, "Session"), "Ladder");
    let told = value(&window, "Effort map");
    // Twelve ratings go a good part of the way from 91 % at 8 towards the 82 % that they say.
    let eight = told.split("8: ").nth(1).unwrap();
    let share: f64 = eight.split(' ').next().unwrap().parse().unwrap();
    assert!((82.0..90.0).contains(&share), "{told}");
    assert!(eight.contains("so far 91 %"), "{told}");
    assert!(
        window.drawer.riders.borrow().is_empty(),
        "nothing is adopted by looking"
    );
    presses(&mut window, "Adopt this map");
    let saved = window.drawer.riders.borrow().clone();
    assert_eq!(saved.len(), 1);
    let (key, rider) = &saved[0];
    assert_eq!(key.as_deref(), Some("robin"));
    assert!(
        (rider.effort_map.shares()[8] * 100.0 - share).abs() < 0.51,
        "{:?}",
        rider.effort_map
    );
    assert!(value(&window, "Said").starts_with("The map was adopted"));
    assert!(matches!(
        window.hand.told().as_slice(),
        [Command::Choose(_)]
    ));
}

#[test]
fn watts_of_a_ride_by_effort_stand_here() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    window.press(Key::ArrowDown);
    window.press(Key::ArrowDown);
    window.press(Key::ArrowRight);
    window.harness.run_steps(3);
    assert!(value(&window, "About").contains("effort-only"));
    let bar = value(&window, "Bar 2");
    assert!(bar.contains(" W"), "{bar}");
}

#[test]
fn what_was_not_measured_is_said_and_drawn_as_nothing() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    for _ in 0..3 {
        window.press(Key::ArrowDown);
    }
    window.harness.run_steps(3);
    assert!(value(&window, "What happened, 1").contains("breaks off"));
    assert!(value(&window, "What is missing, 1").contains("Power was not measured"));
    let lacking = [(
        "Best means",
        "Power was not measured, so there are no best means.",
    )];
    for (view, words) in lacking {
        while value(&window, "Looked at") != view {
            window.press(Key::ArrowRight);
        }
        assert_eq!(value(&window, "Lacking"), words);
    }
    window.press(Key::ArrowDown);
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Time ridden"), "0:00");
}

#[test]
fn a_view_is_copied_as_a_table_and_kept_as_files() {
    let mut window = reviewing(1280, 800, 1.0, Settings::default());
    window.press(Key::ArrowRight);
    presses(&mut window, "Save the page");
    presses(&mut window, "Save the strip");
    assert_eq!(value(&window, "Said"), "Saved as held/Picture.");
    presses(&mut window, "Save the table");
    let asked = window.pile.asked.borrow().clone();
    let keep = |what| Ask::Keep("held".to_owned(), what);
    assert_eq!(
        asked[2..],
        [keep(Keep::Page), keep(Keep::Picture), keep(Keep::Table)]
    );
    *window.pile.refuses.borrow_mut() = Some("The disk is full. Free some space.".to_owned());
    presses(&mut window, "Save the page");
    assert_eq!(value(&window, "Said"), "The disk is full. Free some space.");
    window.harness.get_by_label("Copy this view").click();
    window.harness.step();
    let mut copied = None;
    for _ in 0..4 {
        for command in &window.harness.output().platform_output.commands {
            if let OutputCommand::CopyText(text) = command {
                copied = Some(text.clone());
            }
        }
        window.harness.step();
    }
    let copied = copied.expect("text for the clipboard");
    let mut reader = csv::Reader::from_reader(copied.as_bytes());
    assert!(
        reader
            .headers()
            .unwrap()
            .iter()
            .any(|head| head == "power_w")
    );
    assert_eq!(
        reader.records().map(Result::unwrap).count(),
        rides()[0].1.review().blocks.len()
    );
}

#[test]
fn a_ride_that_cannot_be_opened_is_told_and_asked_for_once() {
    let mut window = Window::open(states::idle(), 1280, 800);
    *window.pile.rides.borrow_mut() = rides();
    *window.pile.refuses.borrow_mut() = Some("The file is gone. Look for it.".to_owned());
    window.press(Key::R);
    window.harness.run_steps(6);
    assert_eq!(value(&window, "Ride"), "The file is gone. Look for it.");
    assert_eq!(window.pile.asked.borrow().len(), 2);
    assert!(!has(&window, "Save the page"));
}

#[test]
fn without_a_ride_the_room_says_so_and_escape_leaves() {
    let mut window = Window::open(states::idle(), 1280, 800);
    presses(&mut window, "Look at rides");
    assert!(value(&window, "Ride").starts_with("Nothing was ridden yet."));
    window.press(Key::Escape);
    window.harness.run_steps(2);
    assert!(has(&window, "Sessions"));
}

/// From the end of a ride: that ride is shown, and the keys choose rides and rate nothing.
#[test]
fn after_a_ride_that_ride_is_looked_at() {
    let (_, finished) = states::all()
        .into_iter()
        .find(|(name, _)| *name == "finished")
        .unwrap();
    let mut window = Window::open(finished, 1280, 800);
    let mut kept = rides();
    kept.insert(1, ("2026-11-24".to_owned(), kept[3].1.clone()));
    *window.pile.rides.borrow_mut() = kept;
    presses(&mut window, "Look at it");
    assert_eq!(value(&window, "Place"), "Ride 2 of 9");
    window.hand.told();
    window.press(Key::ArrowDown);
    window.press(Key::Num7);
    window.press(Key::Enter);
    assert_eq!(value(&window, "Place"), "Ride 3 of 9");
    assert_eq!(window.hand.told(), []);
    presses(&mut window, "Back (esc)");
    assert!(
        has(&window, "How hard was the whole ride, 0 to 10?"),
        "back where it was"
    );
}

/// Every view of every ride, in the smallest and in larger windows, with large type: no text on another, none cut.
#[test]
fn nothing_overlaps_or_leaves_the_window() {
    let mut wrong = Vec::new();
    for (width, height, text) in [
        (800, 600, 100),
        (800, 600, 200),
        (1280, 800, 100),
        (1280, 800, 200),
        (2560, 1440, 100),
    ] {
        let settings = Settings {
            text_size: text,
            ..Settings::default()
        };
        let mut window = reviewing(width, height, 1.0, settings);
        for ride in 0..rides().len() {
            for view in 0..6 {
                let texts = window.seen_texts();
                let whole = egui::Rect::from_min_size(
                    egui::Pos2::ZERO,
                    egui::vec2(width as f32, height as f32),
                );
                for (index, (words, ink)) in texts.iter().enumerate() {
                    if !whole.contains_rect(ink.shrink(0.5)) {
                        wrong.push(format!(
                            "{width} at {text}, ride {ride}, view {view}: {words} leaves the window"
                        ));
                    }
                    for (other, beside) in &texts[index + 1..] {
                        let common = ink.intersect(*beside);
                        if common.width() > 1.0 && common.height() > 1.0 {
                            wrong.push(format!("{width} at {text}, ride {ride}, view {view}: {words} lies on {other}"));
                        }
                    }
                }
                window.press(Key::ArrowRight);
            }
            for _ in 0..6 {
                window.press(Key::ArrowLeft);
            }
            window.press(Key::ArrowDown);
            window.harness.run_steps(2);
        }
    }
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
}

/// Writes the room's pictures to the folder named by `STILLROAD_PICTURES`.
#[test]
#[ignore = "writes pictures for people to look at: set STILLROAD_PICTURES to a folder"]
fn write_the_review_s_pictures() {
    let folder = PathBuf::from(std::env::var("STILLROAD_PICTURES").unwrap());
    std::fs::create_dir_all(&folder).unwrap();
    let only = std::env::var("STILLROAD_WIDTHS").unwrap_or_default();
    for (width, height, text) in [
        (1280, 800, 100),
        (800, 600, 100),
        (800, 600, 200),
        (2560, 1440, 100),
    ] {
        if !only.is_empty()
            && !only
                .split(',')
                .any(|only| only == format!("{width}x{text}"))
        {
            continue;
        }
        for ground in [Ground::Dark, Ground::Paper] {
            let settings = Settings {
                text_size: text,
                ..Settings::default()
            };
            let mut window = reviewing(width, height, 1.0, settings);
            if ground == Ground::Paper {
                window.press(Key::G);
            }
            for (ride, (key, _)) in rides().iter().enumerate() {
                for view in 0..6 {
                    // One ride of each sort is enough of the last views.
                    if ride < 2 || view < 2 || (ride, view) == (5, 5) {
                        let name = format!("review-{width}-{text}-{ground:?}-{key}-{view}.png");
                        pictures::written(
                            &folder.join(name.to_lowercase()),
                            &mut window,
                            View::Plain,
                        );
                    }
                    window.press(Key::ArrowRight);
                }
                for _ in 0..6 {
                    window.press(Key::ArrowLeft);
                }
                window.press(Key::ArrowDown);
                window.harness.run_steps(2);
            }
        }
    }
}
