//! A ride that was left open, in the window: offered, told on a page, and each of its answers.

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::app::{LeftAnswer, LeftAsk, LeftRides};
use stillroad::device::DeviceId;
use stillroad::engine::snapshot::{DeviceRow, Snapshot, TakenUp};
use stillroad::engine::{Command, Role};
use stillroad::ride::{Finish, Mode};
use stillroad::time::{Instant, Span};
use stillroad::ui::rooms::prepare::left::Left;

use super::hand::Window;
use super::prepare::check_texts;
use super::states::{self, AT};

mod answers;

/// The stamp of a snapshot beside which a ride was left open: such a ride stands in no snapshot.
const STAMP: Instant = Instant(AT.0 + 1);

/// Rides that were left open behind the window, answered when the window looks; what was asked for is written down.
#[derive(Clone, Default)]
pub struct LeftPile {
    /// The rides, the newest first.
    pub rides: Rc<RefCell<Vec<Left>>>,
    /// What was asked for.
    pub asked: Rc<RefCell<Vec<LeftAsk>>>,
    /// Why nothing can be done with them, where that is so.
    pub refuses: Rc<RefCell<Option<String>>>,
    /// What is asked for is not answered yet.
    pub slow: Rc<RefCell<bool>>,
    /// What is not answered yet; the newest is answered first.
    pub waits: Rc<RefCell<Vec<LeftAsk>>>,
}

impl LeftPile {
    pub fn beside(snapshot: &Snapshot) -> Self {
        let pile = Self::default();
        if snapshot.at == STAMP {
            pile.rides.borrow_mut().push(cut_off());
        }
        pile
    }
}

impl LeftRides for LeftPile {
    fn ask(&mut self, ask: LeftAsk, _done: Arc<dyn Fn() + Send + Sync>) {
        self.asked.borrow_mut().push(ask.clone());
        self.waits.borrow_mut().push(ask);
    }

    fn take(&mut self) -> Option<LeftAnswer> {
        if *self.slow.borrow() {
            return None;
        }
        let ask = self.waits.borrow_mut().pop()?;
        let refuses = self.refuses.borrow().clone();
        Some(match ask {
            LeftAsk::Find => {
                let first = self.rides.borrow().first().cloned();
                LeftAnswer::Found(first.map(Box::new))
            }
            LeftAsk::GoOn(ride) => {
                // A ride that does go on is made from files: see `resume::window`.
                let why = refuses.unwrap_or_else(|| format!("{ride} is made of paper."));
                LeftAnswer::GoesOn(ride, Box::new(Err(why)))
            }
            LeftAsk::Close(ride) => {
                if refuses.is_none() {
                    self.rides.borrow_mut().retain(|left| left.ride != ride);
                }
                LeftAnswer::Closed(ride, refuses.map_or(Ok(()), Err))
            }
        })
    }
}

/// 24:10 of 53:00 ridden, and left seven minutes ago.
pub fn cut_off() -> Left {
    Left {
        ride: "2026-11-24 1830 Four-by-seven".into(),
        session: "Four by seven".into(),
        rider: "Robin".into(),
        began: "24 November 2026, 18:30".into(),
        ridden: Span::from_seconds(24 * 60 + 10),
        kept: Some(Span::from_seconds(7 * 60 + 5)),
        left: Ok(Span::from_seconds(28 * 60 + 50)),
    }
}

fn offered() -> Snapshot {
    Snapshot {
        at: STAMP,
        cautions_seen_today: true,
        missing: Vec::new(),
        ..states::ready()
    }
}

fn going_on() -> Snapshot {
    let plan = states::steady_plan();
    // What was ridden on a machine goes on on one.
    let trainer = DeviceRow {
        id: DeviceId::new("C4:12:00:00:00:03"),
        name: "Trainer".into(),
        simulated: false,
        known: true,
        ..states::practice(true)
    };
    let mut devices = states::ready().devices.to_vec();
    devices[0] = trainer;
    Snapshot {
        devices: devices.into(),
        plan: Some(Arc::new(plan)),
        rider: Some(Arc::new(states::rider())),
        taken_up: Some(TakenUp {
            ride: cut_off().ride,
            ridden: cut_off().ridden,
            left: Span::from_seconds(28 * 60 + 50),
            held_back: "The load builds up gently.",
        }),
        ..offered()
    }
}

/// The states of it by name.
pub fn all() -> Vec<(&'static str, Snapshot)> {
    vec![
        ("left-page", offered()),
        ("left-offered", offered()),
        ("going-on", going_on()),
    ]
}

const WAY: &str = "A ride was left open (o): Four by seven, 24:10 ridden";

fn value(window: &Window, label: &str) -> Option<String> {
    let node = window.harness.query_by_label(label)?;
    node.accesskit_node().value()
}

fn click(window: &mut Window, label: &str) {
    window.harness.get_by_label(label).click();
    window.harness.run_steps(3);
}

/// The half second is over in which the foot takes nothing.
fn rested(window: &mut Window) {
    let later = window.hand.now.get() + Span::from_millis(501);
    window.hand.now.set(later);
    window.harness.run_steps(2);
}

fn opened() -> Window {
    let mut window = Window::open(offered(), 1280, 800);
    window.press(Key::O);
    window
}

fn asked(window: &Window) -> Vec<LeftAsk> {
    window.left.asked.take()
}

#[test]
fn it_is_offered_and_nothing_moves_for_it() {
    for (width, height) in [(800, 600), (1280, 800)] {
        let calm = Snapshot {
            at: AT,
            ..offered()
        };
        let without = Window::open(calm, width, height);
        let with = Window::open(offered(), width, height);
        assert!(without.harness.query_by_label(WAY).is_none());
        with.harness.get_by_label(WAY);
        assert_eq!(value(&with, "Hint").unwrap(), format!("{WAY}."));
        assert_eq!(asked(&with), [LeftAsk::Find], "once");
        for label in [
            "Preview",
            "Session",
            "Sessions",
            "Riders",
            "Safety",
            "Ready to ride",
        ] {
            let place = |window: &Window| window.harness.get_by_label(label).rect();
            assert_eq!(place(&without), place(&with), "{label}");
        }
    }
}

#[test]
fn a_key_or_the_button_opens_its_page() {
    let mut window = Window::open(offered(), 1280, 800);
    click(&mut window, WAY);
    let by_button = value(&window, "Left open").unwrap();
    assert_eq!(value(&opened(), "Left open").unwrap(), by_button);
    assert!(
        by_button.starts_with(
            "Four by seven, begun on 24 November 2026, 18:30 by Robin. 24:10 ridden, 28:50 left. \
             Its last second was kept 7 minutes ago."
        ),
        "{by_button}"
    );
    for label in ["Go on with it", "Close it", "Not now"] {
        window.harness.get_by_label(label);
    }
    // The large button has the keyboard, and tab and the arrows reach the others.
    let has = |window: &Window, label: &str| window.harness.get_by_label(label).is_focused();
    assert!(has(&window, "Go on with it"));
    window.press(Key::Tab);
    assert!(has(&window, "Close it"));
    window.press(Key::ArrowRight);
    assert!(has(&window, "Not now"));
    assert_eq!(window.hand.told(), [], "reading it starts nothing");
    // It grows older while the page stands.
    let later = window.hand.now.get() + Span::from_seconds(60);
    window.hand.now.set(later);
    window.harness.run_steps(2);
    let older = value(&window, "Left open").unwrap();
    assert!(older.contains("kept 8 minutes ago"), "{older}");
}

#[test]
fn not_now_leaves_it_for_later() {
    let mut window = opened();
    asked(&window);
    click(&mut window, "Not now");
    window.harness.get_by_label("Sessions");
    window.harness.get_by_label(WAY);
    // Another ride first: it is ridden, and the offer is there again.
    rested(&mut window);
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [Command::StartWithPedals]);
    window.hand.show(states::riding());
    window.harness.run_steps(3);
    assert!(window.harness.query_by_label(WAY).is_none());
    window.press(Key::O);
    assert_eq!(window.hand.told(), []);
    assert_eq!(asked(&window), [], "not while a ride is under way");
    window.hand.show(Snapshot {
        mode: Mode::Finished(Finish::Completed),
        question: None,
        ..states::riding()
    });
    window.harness.run_steps(3);
    window.press(Key::Enter);
    window.hand.show(offered());
    window.harness.run_steps(3);
    assert!(asked(&window).contains(&LeftAsk::Find));
    window.harness.get_by_label(WAY);
}

#[test]
fn closing_it_names_the_next() {
    let mut window = opened();
    let older = Left {
        ride: "2026-11-20 0700 Six-sprints".into(),
        session: "Six sprints".into(),
        left: Err("It is a threshold test.".into()),
        ..cut_off()
    };
    window.left.rides.borrow_mut().push(older);
    asked(&window);
    click(&mut window, "Close it");
    let first = cut_off().ride;
    assert_eq!(asked(&window), [LeftAsk::Close(first), LeftAsk::Find]);
    window.harness.get_by_label("Sessions");
    click(
        &mut window,
        "A ride was left open (o): Six sprints, 24:10 ridden",
    );
    // It cannot be gone on with: that is said, and it can be closed.
    assert_eq!(
        value(&window, "Refused").unwrap(),
        "It is a threshold test."
    );
    assert!(window.harness.query_by_label("Go on with it").is_none());
    assert!(window.harness.get_by_label("Not now").is_focused());
    rested(&mut window);
    click(&mut window, "Close it");
    assert!(
        window
            .words()
            .iter()
            .all(|words| !words.contains("left open"))
    );
    window.press(Key::O);
    window.harness.get_by_label("Sessions");
    assert_eq!(window.hand.told(), [], "the core hears of none of it");
}

#[test]
fn what_is_refused_is_said_and_changes_nothing() {
    let why = "2026-11-24 1830 Four-by-seven is being written by another program now. End the ride there first.";
    for answer in ["Go on with it", "Close it"] {
        let mut window = opened();
        window.left.refuses.replace(Some(why.to_owned()));
        click(&mut window, answer);
        assert_eq!(value(&window, "Refused").as_deref(), Some(why), "{answer}");
        assert_eq!(window.hand.told(), [], "{answer}");
        // A second, impatient press does nothing, and a later one does nothing but leave.
        window.press(Key::Enter);
        window.harness.get_by_label("Not now");
        rested(&mut window);
        window.press(Key::Enter);
        window.harness.get_by_label("Sessions");
        window.press(Key::O);
        assert_eq!(value(&window, "Refused"), None, "said once");
        window.harness.get_by_label("Go on with it");
    }
    // Meanwhile it went: what was refused still stands until it is left.
    let mut window = opened();
    window.left.refuses.replace(Some(why.to_owned()));
    window.left.rides.borrow_mut().clear();
    click(&mut window, "Go on with it");
    assert_eq!(value(&window, "Refused").as_deref(), Some(why));
    rested(&mut window);
    click(&mut window, "Back");
    window.harness.get_by_label("Sessions");
    assert!(window.harness.query_by_label(WAY).is_none());
}

#[test]
fn an_answer_that_comes_after_the_page_was_left_is_none() {
    let mut window = opened();
    window.left.slow.replace(true);
    click(&mut window, "Go on with it");
    window.harness.get_by_label("The ride is being read");
    window.press(Key::Enter);
    assert_eq!(asked(&window).len(), 2, "asked for once");
    rested(&mut window);
    click(&mut window, "Not now");
    window.left.slow.replace(false);
    window.harness.run_steps(3);
    window.harness.get_by_label("Sessions");
    assert_eq!(window.hand.told(), []);
    window.press(Key::O);
    assert_eq!(value(&window, "Refused"), None);
}

#[test]
fn a_recording_that_is_closed_slowly_takes_nobody_from_another_page() {
    let mut window = opened();
    window.left.slow.replace(true);
    click(&mut window, "Close it");
    window.harness.get_by_label("The recording is being closed");
    rested(&mut window);
    click(&mut window, "Not now");
    click(&mut window, "Edit this rider");
    window.left.slow.replace(false);
    window.harness.run_steps(3);
    window.harness.get_by_label("Save this rider");
    click(&mut window, "Leave without saving");
    assert!(window.harness.query_by_label(WAY).is_none());
}

#[test]
fn escape_lets_the_brake_off_on_its_page_too() {
    let mut window = opened();
    window.press(Key::Escape);
    assert_eq!(window.hand.told(), [Command::BrakeOff]);
}

#[test]
fn the_key_leads_there_from_other_rooms_before_a_ride() {
    for room in [Key::S, Key::R] {
        let mut window = Window::open(offered(), 1280, 800);
        window.press(room);
        assert!(
            window.harness.query_by_label("Preview").is_none(),
            "{room:?}"
        );
        window.press(Key::O);
        window.harness.get_by_label("Go on with it");
        // Without one it leads nowhere.
        let calm = Snapshot {
            at: AT,
            ..offered()
        };
        let mut window = Window::open(calm, 1280, 800);
        window.press(room);
        window.press(Key::O);
        assert!(
            window.harness.query_by_label("Preview").is_none(),
            "{room:?}"
        );
    }
}

#[test]
fn a_rider_that_is_being_edited_is_not_left_for_it() {
    let mut window = Window::open(offered(), 1280, 800);
    click(&mut window, "Edit this rider");
    // From a button of the page: in a field the key is a letter.
    window.harness.get_by_label("Leave without saving").focus();
    window.harness.run_steps(2);
    window.press(Key::O);
    window.harness.get_by_label("Save this rider");
    assert!(window.harness.query_by_label(WAY).is_none());
}

#[test]
fn a_ride_that_goes_on_stands_in_the_place_of_what_could_be_chosen() {
    let mut window = Window::open(going_on(), 1280, 800);
    let told = value(&window, "Going on").unwrap();
    assert_eq!(
        told,
        "2026-11-24 1830 Four-by-seven. 24:10 ridden, 28:50 left. For Robin, as on that day: threshold 286 W, power \
         cap 350 W, sprint cap 700 W. The brake holds the watts. Nothing is set before the pedals turn. The load builds \
         up gently. What you ride is added to the same recording."
    );
    for gone in [WAY, "Sessions", "Riders", "Ride with a group"] {
        assert!(window.harness.query_by_label(gone).is_none(), "{gone}");
    }
    window.press(Key::O);
    assert!(value(&window, "Going on").is_some(), "it was taken already");
    // It starts as any ride does, and devices can be chosen.
    window
        .harness
        .get_by_label("Use Chest strap as heart")
        .focus();
    window.harness.run_steps(2);
    window.press(Key::Enter);
    assert!(matches!(
        window.hand.told().as_slice(),
        [Command::Use(Role::Heart, Some(_))]
    ));
    click(&mut window, "Ready to ride");
    assert_eq!(window.hand.told(), [Command::StartWithPedals]);
    // A session of the shelf instead: the core is told, and lets go of the ride.
    click(&mut window, "Ride something else first");
    let told = window.hand.told();
    assert!(
        matches!(told.as_slice(), [Command::Choose(choice)] if choice.plan.name == "Four by seven"),
        "{told:?}"
    );
    window.hand.show(offered());
    window.harness.run_steps(3);
    window.harness.get_by_label("Sessions");
    window.harness.get_by_label(WAY);
}

#[test]
fn the_cautions_of_the_day_come_first_here_too() {
    let window = Window::open(
        Snapshot {
            cautions_seen_today: false,
            ..going_on()
        },
        1280,
        800,
    );
    window.harness.get_by_label("I have read this");
    assert!(window.harness.query_by_label("Ready to ride").is_none());
}

#[test]
fn every_text_of_it_stays_in_its_place() {
    let refused = "2026-11-24 1830 Four-by-seven cannot be gone on with: samples.csv has other columns than this program \
                   writes. What was ridden stays as it is; close the recording, and choose a session anew.";
    for (width, height) in [(1280, 800), (800, 600), (1920, 1080), (1280, 720)] {
        for (name, snapshot) in all() {
            let mut window = Window::open(snapshot, width, height);
            if name == "left-page" {
                window.left.refuses.replace(Some(refused.to_owned()));
                window.press(Key::O);
                check_texts(&mut window, name, width, height);
                click(&mut window, "Go on with it");
            }
            check_texts(&mut window, name, width, height);
        }
    }
}
