//! The window in German: what it says, that nothing English is left in it, and that the longer words have room.

use std::collections::BTreeSet;

use egui_kittest::kittest::NodeT as _;
use stillroad::engine::Snapshot;
use stillroad::text::{Language, translated, within};

use super::hand::{Window, shelf};
use super::{ended, legible, prepare_states, reader, review, rooms, states, write, write_shown};

fn in_german<T>(work: impl FnOnce() -> T) -> T {
    within(Language::German, work)
}

fn is_right(wrong: &[String]) {
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
}

/// Everything that is painted and everything that a screen reader is told.
fn everything(window: &mut Window) -> BTreeSet<String> {
    let mut all: BTreeSet<String> = window.texts().into_iter().map(|(text, _)| text).collect();
    for node in window.harness.root().children_recursive() {
        let node = node.accesskit_node();
        all.extend(node.label());
        all.extend(node.value());
    }
    all
}

/// Every state of the rooms before, in and after a ride.
fn windows() -> Vec<(&'static str, Window)> {
    let opened = |(name, snapshot): (&'static str, Snapshot)| {
        let mut window = Window::open(snapshot, 1280, 800);
        if let Some(key) = states::opened_by(name) {
            window.press(key);
        }
        (name, window)
    };
    let mut all: Vec<_> = states::all()
        .into_iter()
        .chain(ended::all())
        .map(opened)
        .collect();
    for (name, snapshot, shelf) in prepare_states::all() {
        all.push((name, Window::with(snapshot, shelf, 1280, 800, 1.0)));
    }
    all
}

/// Words that the states of these tests bring along as a rider's, a coach's or a device's own, and that are entries too.
fn own_words() -> BTreeSet<String> {
    let mut own = BTreeSet::new();
    for shelf in [shelf(), prepare_states::first()] {
        for (_, plan) in &shelf.sessions {
            own.insert(plan.name.clone());
            own.extend(plan.blocks.iter().map(|block| block.name.clone()));
        }
    }
    own
}

/// What an entry would still turn into German was left in English. Words that are the same in both are none.
#[test]
fn no_english_is_left_in_any_state() {
    let own = own_words();
    let mut wrong = BTreeSet::new();
    in_german(|| {
        for (name, mut window) in windows() {
            for text in everything(&mut window) {
                let german = translated(&text);
                if german != text && !own.iter().any(|own| text.starts_with(own.as_str())) {
                    wrong.insert(format!("{name}: {text:?} would be {german:?}"));
                }
            }
        }
    });
    is_right(&wrong.into_iter().collect::<Vec<_>>());
}

#[test]
fn every_state_of_the_ride_in_german() {
    insta::assert_snapshot!("ride_in_german", in_german(rooms::all_told));
}

#[test]
fn nothing_of_the_ride_overlaps_or_is_clipped_or_is_too_small() {
    is_right(&in_german(|| legible::faults(1.0)));
}

#[test]
fn so_it_is_with_type_twice_as_large() {
    is_right(&in_german(|| legible::faults(2.0)));
}

#[test]
fn a_screen_reader_is_told_the_same_german() {
    is_right(&in_german(reader::wrong));
}

#[test]
fn nothing_overlaps_in_the_rooms_to_write_and_to_review() {
    is_right(&in_german(write_shown::wrong));
    is_right(&in_german(review::wrong));
}

#[test]
fn nothing_overlaps_before_and_after_a_ride() {
    let mut wrong = Vec::new();
    in_german(|| {
        for (width, height) in [(800, 600), (1280, 800)] {
            let ends = ended::all()
                .into_iter()
                .map(|(name, snapshot)| (name, snapshot, shelf()));
            for (name, snapshot, shelf) in prepare_states::all().into_iter().chain(ends) {
                let mut window = Window::with(snapshot, shelf, width, height, 1.0);
                let faults = write::faults(&mut window, width as f32, height as f32);
                wrong.extend(
                    faults
                        .iter()
                        .map(|fault| format!("{name} at {width}: {fault}")),
                );
            }
        }
    });
    is_right(&wrong);
}
