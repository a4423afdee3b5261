//! What becomes of each answer: it is meant for the ride that it was given for, once, and is told wherever the rider is.

use stillroad::device::DeviceId;
use stillroad::engine::snapshot::Link;

use super::super::write::{self, SHORT};
use super::super::{prepare_states, review_rides};
use super::*;

const WHY: &str = "2026-11-24 1830 Four-by-seven cannot be closed (the disk is full). What was ridden stays as it is.";

fn older() -> Left {
    Left {
        ride: "2026-11-20 0700 Six-sprints".into(),
        session: "Six sprints".into(),
        ..cut_off()
    }
}

fn has(window: &Window, label: &str) -> bool {
    window.harness.query_by_label(label).is_some()
}

#[test]
fn while_a_refusal_stands_another_ride_is_neither_closed_nor_gone_on_with() {
    for answer in ["Go on with it", "Close it"] {
        let mut window = opened();
        window.left.rides.borrow_mut().push(older());
        window.left.refuses.replace(Some(WHY.to_owned()));
        // Another program has the newest by now, so that the older is found after the refusal.
        window.left.rides.borrow_mut().remove(0);
        click(&mut window, answer);
        assert_eq!(value(&window, "Refused").as_deref(), Some(WHY), "{answer}");
        for gone in ["Try again", "Close it", "Go on with it", "Not now"] {
            assert!(!has(&window, gone), "{answer}: {gone}");
        }
        assert_eq!(value(&window, "Left open"), None, "{answer}");
        rested(&mut window);
        click(&mut window, "Back");
        // The older one is offered as it is, and nothing was done with it.
        let asked = asked(&window);
        assert!(
            !asked.contains(&LeftAsk::Close(older().ride))
                && !asked.contains(&LeftAsk::GoOn(older().ride)),
            "{asked:?}"
        );
        window.press(Key::O);
        assert!(has(&window, "Go on with it") && has(&window, "Close it"));
        assert_eq!(value(&window, "Refused"), None);
    }
}

#[test]
fn trying_again_does_what_was_refused() {
    let ride = cut_off().ride;
    for (answer, ask) in [
        ("Go on with it", LeftAsk::GoOn(ride.clone())),
        ("Close it", LeftAsk::Close(ride)),
    ] {
        let mut window = opened();
        window.left.refuses.replace(Some(WHY.to_owned()));
        click(&mut window, answer);
        rested(&mut window);
        asked(&window);
        click(&mut window, "Try again");
        assert_eq!(asked(&window)[0], ask);
        // The other answer is beside it, under its own name.
        for other in ["Go on with it", "Close it"] {
            assert_eq!(has(&window, other), other != answer, "{answer}: {other}");
        }
    }
}

#[test]
fn a_second_press_in_the_same_place_does_nothing() {
    // Twice on Close: what stands there next would leave the page.
    let mut window = opened();
    window.left.slow.replace(true);
    click(&mut window, "Close it");
    click(&mut window, "Not now");
    assert!(has(&window, "The recording is being closed"));
    rested(&mut window);
    window.left.slow.replace(false);
    window.harness.run_steps(3);
    // It is closed, and the large button of the columns is no answer to that.
    assert!(has(&window, "Sessions"));
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), []);
    rested(&mut window);
    window.press(Key::Enter);
    assert_eq!(window.hand.told(), [Command::StartWithPedals]);
    // Nor does a second press after leaving arm the start.
    let mut window = opened();
    window.left.refuses.replace(Some(WHY.to_owned()));
    click(&mut window, "Close it");
    rested(&mut window);
    window.press(Key::Enter);
    window.press(Key::Enter);
    assert!(has(&window, "Sessions"));
    assert_eq!(window.hand.told(), []);
}

#[test]
fn a_late_answer_to_going_on_leaves_a_closing_that_waits() {
    let mut window = opened();
    window.left.slow.replace(true);
    click(&mut window, "Go on with it");
    rested(&mut window);
    click(&mut window, "Not now");
    window.press(Key::O);
    rested(&mut window);
    click(&mut window, "Close it");
    // The closing waits behind the reading, which is answered now.
    let ride = cut_off().ride;
    window.left.waits.replace(vec![LeftAsk::GoOn(ride.clone())]);
    window.left.slow.replace(false);
    window.harness.run_steps(3);
    assert!(has(&window, "The recording is being closed"));
    assert_eq!(value(&window, "Refused"), None);
    window.left.waits.replace(vec![LeftAsk::Close(ride)]);
    window.harness.run_steps(3);
    assert!(has(&window, "Sessions"));
    assert!(!has(&window, WAY), "it was closed");
}

#[test]
fn a_closing_that_fails_behind_the_rider_is_told() {
    let mut window = opened();
    window.left.slow.replace(true);
    window.left.refuses.replace(Some(WHY.to_owned()));
    click(&mut window, "Close it");
    rested(&mut window);
    click(&mut window, "Not now");
    assert_eq!(value(&window, "Missing"), None);
    window.left.slow.replace(false);
    window.harness.run_steps(4);
    assert!(has(&window, "Sessions"), "nobody is taken to another page");
    assert_eq!(value(&window, "Missing").as_deref(), Some(WHY));
    // On its page it is told as ever, and over when that is left.
    rested(&mut window);
    window.press(Key::O);
    assert_eq!(value(&window, "Refused").as_deref(), Some(WHY));
    assert_eq!(value(&window, "Missing"), None, "said once");
    assert!(has(&window, "Try again"));
    click(&mut window, "Not now");
    assert_eq!(value(&window, "Missing"), None);
}

#[test]
fn what_was_pressed_before_a_ride_is_not_answered_after_it() {
    let mut window = opened();
    window.left.slow.replace(true);
    click(&mut window, "Go on with it");
    // An armed start begins a ride of its own.
    window.hand.show(states::riding());
    window.harness.run_steps(3);
    window.hand.show(Snapshot {
        mode: Mode::Finished(Finish::Completed),
        question: None,
        ..states::riding()
    });
    window.harness.run_steps(3);
    window.left.slow.replace(false);
    window.harness.run_steps(3);
    window.hand.told();
    window.press(Key::Enter);
    window.hand.show(offered());
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Refused"), None);
    assert!(
        window
            .hand
            .told()
            .iter()
            .all(|told| !matches!(told, Command::TakeUp(_)))
    );
}

#[test]
fn what_was_ridden_on_a_trainer_does_not_go_on_on_a_practice_one() {
    // Its own trainer is being connected, and the practice trainer is in reach.
    let waiting = |taken: bool| {
        let mut snapshot = going_on();
        let mut devices = snapshot.devices.to_vec();
        devices[0].link = Link::Connecting;
        devices.push(states::practice(false));
        snapshot.devices = devices.into();
        snapshot.mode = Mode::Connecting;
        snapshot.taken_up = snapshot.taken_up.filter(|_| taken);
        snapshot
    };
    let ways = [
        "Use the practice trainer (simulated)",
        "Use Practice trainer as trainer",
        "Use Practice trainer as heart",
    ];
    let window = Window::open(waiting(false), 1280, 1600);
    for way in ways {
        assert!(has(&window, way), "{way}: a ride of its own is free");
    }
    let window = Window::open(waiting(true), 1280, 1600);
    for way in ways {
        assert!(!has(&window, way), "{way}");
    }
    assert!(has(&window, "Stop using Trainer as trainer"));
    assert!(has(&window, "Use Chest strap as heart"));
    // Where a model is in use all the same, it is put away first.
    let mut snapshot = going_on();
    snapshot.devices = states::ready().devices;
    let mut window = Window::open(snapshot, 1280, 800);
    assert!(!has(&window, "Ready to ride"));
    click(&mut window, "Stop using Practice trainer");
    assert_eq!(window.hand.told(), [Command::Use(Role::Trainer, None)]);
}

#[test]
fn who_is_let_go_first_is_named_and_stays() {
    // A practice ride is not known to be one here, so the trainer that is let go is made a model.
    let mut snapshot = going_on();
    snapshot.devices = states::ready().devices;
    snapshot.let_go_first = vec![DeviceId::new("practice")];
    let window = Window::open(snapshot, 1280, 800);
    assert!(has(&window, "Practice trainer is being let go"));
}

#[test]
fn a_saved_session_does_not_let_go_of_a_ride_that_goes_on() {
    let mut window = Window::with(offered(), prepare_states::first(), 1280, 800, 1.0);
    window.press(Key::T);
    window.harness.run_steps(2);
    write::replaces(&mut window, SHORT);
    write::with(&mut window, egui::Modifiers::COMMAND, Key::S);
    // Chosen, and then the ride that was left open is taken.
    write::with(&mut window, egui::Modifiers::COMMAND, Key::Enter);
    window.hand.show(going_on());
    window.harness.run_steps(3);
    window.hand.told();
    window.press(Key::T);
    window.harness.run_steps(2);
    let longer = SHORT.replace("time = \"4:00\"", "time = \"6:00\"");
    write::replaces(&mut window, &longer);
    write::with(&mut window, egui::Modifiers::COMMAND, Key::S);
    assert_eq!(window.folder.says("Quay").as_ref(), Some(&longer));
    assert_eq!(window.hand.told(), []);
    window.press(Key::Escape);
    window.harness.run_steps(2);
    window.hand.told();
    // What was saved is what something else is.
    click(&mut window, "Ride something else first");
    let told = window.hand.told();
    assert!(
        matches!(told.as_slice(), [Command::Choose(choice)] if *choice.plan.source == *longer),
        "{told:?}"
    );
}

#[test]
fn an_adopted_map_does_not_let_go_of_a_ride_that_goes_on() {
    let mut window = Window::open(going_on(), 1280, 2400);
    *window.pile.rides.borrow_mut() = review_rides::rides();
    window.press(Key::R);
    window.harness.run_steps(4);
    for _ in 0..5 {
        window.press(Key::ArrowDown);
        window.press(Key::ArrowRight);
    }
    window.press(Key::ArrowRight);
    window.harness.run_steps(4);
    window.harness.get_by_label("Adopt this map").focus();
    window.harness.run_steps(3);
    window.press(Key::Enter);
    window.harness.run_steps(3);
    assert_eq!(window.drawer.riders.borrow().len(), 1);
    assert_eq!(window.hand.told(), []);
}
