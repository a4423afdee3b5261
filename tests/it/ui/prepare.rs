//! Prepare and the rider's page: what they say, what they save, and that nothing overlaps.

use std::sync::Arc;

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::app::Shelf;
use stillroad::device::{Adapter, DeviceId};
use stillroad::engine::Snapshot;
use stillroad::engine::command::{Command, Role};
use stillroad::engine::snapshot::{DeviceRow, Flywheel, Link};
use stillroad::ride::Mode;
use stillroad::ui::rooms::prepare::{Around, Chosen, Data, Order, Page, Press, State};

use super::hand::{Window, shelf};
use super::prepare_states::{self as made, device, dozen, first};
use super::states::{self, AT, practice};

fn data(snapshot: &Snapshot, shelf: &Shelf) -> Data {
    let mut state = State::default();
    state.settle(snapshot);
    Data::new(
        AT,
        snapshot,
        shelf,
        Chosen::default(),
        &state,
        &Around::default(),
    )
}

fn seen(snapshot: Snapshot) -> Snapshot {
    Snapshot {
        cautions_seen_today: true,
        ..snapshot
    }
}

fn value(window: &Window, label: &str) -> String {
    let node = window.harness.get_by_label(label);
    node.accesskit_node().value().unwrap_or_default()
}

/// 10:00 + 4 × 7:00 + 3 × 3:00 + 6:00 = 53:00, of it 37:00 main part: reckoned by hand from the session.
#[test]
fn repeats_are_folded_and_the_table_adds_up() {
    let rows = data(&states::idle(), &shelf()).session.rows;
    let told: Vec<_> = rows
        .iter()
        .map(|row| {
            (
                row.name(),
                row.length.as_str(),
                row.in_all.to_string(),
                row.turns,
            )
        })
        .collect();
    let expected = [
        ("Warm-up", "10:00", "10:00", false),
        ("4 × Hold", "7:00", "28:00", true),
        ("3 × Recovery", "3:00", "9:00", false),
        ("Cool-down", "6:00", "6:00", false),
    ];
    let expected =
        expected.map(|(name, each, all, turns)| (name.to_owned(), each, all.to_owned(), turns));
    assert_eq!(told, expected);
    assert_eq!(rows[1].watts, "235 W");
    assert_eq!(rows[0].watts, "106 to 180 W");
    for (key, plan) in &first().sessions {
        let shelf = Shelf {
            sessions: vec![(key.clone(), Arc::clone(plan))],
            ..first()
        };
        let rows = data(&states::idle(), &shelf).session.rows;
        let sum: u64 = rows.iter().map(|row| row.in_all.0).sum();
        assert_eq!(sum, plan.length().0, "{key}");
        let blocks: usize = rows.iter().map(|row| row.times).sum();
        assert_eq!(blocks, plan.blocks.len(), "{key}");
    }
}

#[test]
fn the_large_button_offers_the_real_trainer_first() {
    let trainer = |known| DeviceRow {
        known,
        ..device("D0:00:00:00:00:07", "Hall trainer", &[Role::Trainer])
    };
    let use_it = |id: &str| Press::Tell(Command::Use(Role::Trainer, Some(DeviceId::new(id))));
    let with = |devices: Vec<DeviceRow>| {
        seen(Snapshot {
            devices: devices.into(),
            missing: Vec::new(),
            ..states::ready()
        })
    };
    let alone = data(&with(vec![practice(false)]), &shelf());
    assert_eq!(alone.primary.press, use_it("practice"));
    assert_eq!(alone.others[0].words, "Start without a trainer");
    let both = data(&with(vec![practice(false), trainer(false)]), &shelf());
    assert_eq!(both.primary.words, "Use Hall trainer");
    assert_eq!(both.primary.press, use_it("D0:00:00:00:00:07"));
    assert_eq!(both.others[0].press, use_it("practice"));
    let busy = DeviceRow {
        link: Link::Unusable("It is busy.".into()),
        ..trainer(false)
    };
    let busy = data(&with(vec![practice(false), busy]), &shelf());
    assert_eq!(
        busy.primary.press,
        use_it("practice"),
        "one that cannot be used is not offered"
    );
    let mut other = device("D0:00:00:00:00:08", "Loft trainer", &[Role::Trainer]);
    other.known = true;
    let known = data(
        &with(vec![practice(false), trainer(false), other]),
        &shelf(),
    );
    assert_eq!(
        known.primary.words, "Use Loft trainer",
        "the known one first"
    );
    // A known trainer that was lost: wait for it, with the practice trainer beside.
    let lost = DeviceRow {
        used_for: vec![Role::Trainer],
        link: Link::Lost,
        ..trainer(true)
    };
    let lost = Snapshot {
        mode: Mode::Connecting,
        ..with(vec![practice(false), lost])
    };
    let lost = data(&lost, &shelf());
    assert_eq!(lost.primary.words, "Waiting for Hall trainer");
    assert_eq!(lost.primary.press, Press::Wait);
    assert_eq!(lost.others[0].press, use_it("practice"));
}

#[test]
fn nothing_starts_before_the_cautions_of_the_day_were_seen() {
    for snapshot in [
        states::ready(),
        Snapshot {
            waits_for_pedals: true,
            ..states::ready()
        },
        Snapshot {
            devices: Arc::from([practice(false)]),
            ..states::ready()
        },
    ] {
        let begins = |press: &Press| {
            matches!(
                press,
                Press::Tell(Command::Start | Command::StartWithPedals)
            )
        };
        let before = data(&snapshot, &shelf());
        assert!(!begins(&before.primary.press), "{:?}", before.primary);
        assert!(!before.others.iter().any(|other| begins(&other.press)));
        let after = data(&seen(snapshot), &shelf());
        assert!(
            begins(&after.primary.press) || after.others.iter().any(|other| begins(&other.press))
        );
    }
    let window = Window::open(states::ready(), 1280, 800);
    assert!(value(&window, "Cautions").contains("Axle"));
    assert!(value(&window, "Stop signs").starts_with("Stop at once for pain"));
}

#[test]
fn the_cautions_stay_within_reach_after_they_were_seen() {
    let mut window = Window::open(seen(states::ready()), 800, 600);
    assert!(window.harness.query_by_label("Stop signs").is_none());
    window
        .harness
        .get_by_label("Cautions and stop signs")
        .click();
    window.harness.run_steps(2);
    assert!(value(&window, "Stop signs").contains("chest"));
    window.harness.get_by_label("Back").click();
    window.harness.run_steps(2);
    window.harness.get_by_label("Sessions");
}

#[test]
fn what_is_missing_stands_in_order_and_folds() {
    let (_, snapshot, shelf) = made::all()
        .into_iter()
        .find(|(name, ..)| *name == "prepare-wanting")
        .unwrap();
    let told = data(&snapshot, &shelf);
    let short: Vec<_> = told.missing.iter().map(|one| one.short.as_str()).collect();
    assert_eq!(short[0], "No session could be read.");
    assert_eq!(short[1], "Hall trainer is not connected yet.");
    assert!(short[3].starts_with("The last ride ended with the brake on"));
    assert!(
        short[4].starts_with("The computer has no Bluetooth")
            && !short[4].contains("Start the service")
    );
    assert!(short[5].starts_with("The session bridge"));
    let mut window = Window::with(snapshot, shelf, 800, 600, 1.0);
    window.harness.get_by_label("All that is missing").click();
    window.harness.run_steps(2);
    let all = window.words().join(" ");
    assert!(
        all.contains("Start the service or plug an adapter in"),
        "{all}"
    );
}

#[test]
fn devices_are_told_apart_and_keep_their_places() {
    let snapshot = dozen();
    let told = data(&snapshot, &shelf());
    let named: Vec<_> = told.devices.iter().map(|line| line.name.as_str()).collect();
    assert_eq!(
        &named[..3],
        [
            "Hall trainer …56:78",
            "Practice trainer",
            "Hall trainer …56:99"
        ]
    );
    let mut order = Order::default();
    order.settle(&snapshot.devices, false);
    let ids = |order: &Order, devices: &[DeviceRow]| -> Vec<String> {
        let rows = order.of(devices);
        rows.iter().map(|row| row.id.as_str().to_owned()).collect()
    };
    let before = ids(&order, &snapshot.devices);
    // A device that becomes known, and another signal, move nothing.
    let mut devices = snapshot.devices.to_vec();
    devices[7].known = true;
    devices[8].rssi = Some(-20);
    devices.reverse();
    order.settle(&devices, false);
    assert_eq!(ids(&order, &devices), before);
    // One that is new and known goes up to its group, but not under a hand.
    let late = DeviceRow {
        known: true,
        ..device("F0:00:00:00:00:01", "Late", &[Role::Heart])
    };
    devices.push(late);
    let mut under_the_hand = order.clone();
    under_the_hand.settle(&devices, true);
    assert_eq!(ids(&under_the_hand, &devices)[..12], before);
    order.settle(&devices, false);
    assert_eq!(ids(&order, &devices)[1], "F0:00:00:00:00:01");
}

#[test]
fn sessions_are_walked_by_arrows_and_five_hundred_cost_no_more_than_five() {
    let mut window = Window::with(seen(states::ready()), made::many(500), 1280, 800, 1.0);
    window.harness.get_by_label("Sessions").focus();
    window.harness.run_steps(2);
    window.press(Key::ArrowDown);
    window.press(Key::ArrowDown);
    let told = window.hand.told();
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(window.harness.get_by_label("Sessions").is_focused());
    window.press(Key::End);
    assert!(
        value(&window, "Sessions").contains(" 499, 53:00"),
        "{}",
        value(&window, "Sessions")
    );
    window.harness.run_steps(30);
    // Only the lines in view are made, whatever the list's length.
    let lines = |window: &Window| {
        let nodes = window.harness.root().children_recursive();
        nodes
            .filter(|node| node.accesskit_node().role() == egui::Role::ListBoxOption)
            .count()
    };
    assert!(lines(&window) < 30, "{}", lines(&window));
    window.press(Key::Home);
    assert!(value(&window, "Sessions").starts_with("To the quay and back"));
}

#[test]
fn no_adapter_is_said_and_the_practice_trainer_still_offered() {
    let (_, snapshot, shelf) = made::all().into_iter().nth(1).unwrap();
    assert!(matches!(snapshot.adapter, Adapter::Missing(_)));
    let told = data(&snapshot, &shelf);
    assert_eq!(told.missing.len(), 1);
    assert_eq!(told.primary.words, "Use the practice trainer (simulated)");
}

#[test]
fn every_text_of_prepare_stays_in_its_place() {
    for (name, snapshot, shelf) in made::all() {
        for (width, height) in [(1280, 800), (800, 600), (1920, 1080), (1280, 720)] {
            let mut window = Window::with(snapshot.clone(), shelf.clone(), width, height, 1.0);
            check_texts(&mut window, name, width, height);
            if let Some(edit) = window.harness.query_by_label("Edit this rider") {
                edit.click();
                window.harness.run_steps(3);
                check_texts(&mut window, &format!("{name}, rider"), width, height);
            }
        }
    }
}

/// No text lies over another and none leaves the window; what a scroll area cuts off at its edge is not looked at.
pub fn check_texts(window: &mut Window, name: &str, width: usize, height: usize) {
    let texts = window.seen_texts();
    assert!(texts.len() > 12, "{name}: only {} texts", texts.len());
    let size = egui::vec2(width as f32, height as f32);
    let whole = egui::Rect::from_min_size(egui::Pos2::ZERO, size);
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

/// The sentences at the foot come and go; the lists, the strip and the button must not move for them.
#[test]
fn nothing_moves_when_something_is_missing() {
    let place = |snapshot: Snapshot, label: &str| {
        let window = Window::open(snapshot, 800, 600);
        window.harness.get_by_label(label).rect()
    };
    let calm = seen(states::idle());
    let mut loud = seen(states::idle());
    loud.missing = (0..7)
        .map(|number| format!("Sensor {number} is not connected yet, and this sentence goes on for a long while. So does this."))
        .collect();
    loud.adapter = Adapter::Off("Bluetooth is switched off. Switch it on.".into());
    assert_eq!(data(&loud, &shelf()).page, Page::Columns);
    for label in [
        "Preview",
        "Sessions",
        "Riders",
        "Safety",
        "Use the practice trainer (simulated)",
    ] {
        assert_eq!(
            place(calm.clone(), label),
            place(loud.clone(), label),
            "{label}"
        );
    }
}

/// Two names in letters that no font here has, of which one letter differs: each letter stands as a box with its number,
/// so that the two look different.
#[test]
fn names_in_other_scripts_stay_apart() {
    let named = |name: &str| {
        let mut snapshot = seen(states::idle());
        snapshot.devices = Arc::from([device("D0:00:00:00:00:07", name, &[Role::Trainer])]);
        Window::open(snapshot, 1280, 800)
    };
    let mut there = named("灯台まで静かに");
    let mut back = named("灯台から静かに");
    let shown = |window: &mut Window, name: &str| {
        let texts = window.texts();
        let text = texts.iter().find(|(words, _)| words == name);
        text.unwrap_or_else(|| panic!("{name} is not shown")).1
    };
    let places = [
        shown(&mut there, "灯台まで静かに"),
        shown(&mut back, "灯台から静かに"),
    ];
    assert!(places[0].width() > 60.0, "{places:?}");
    let (there, back) = (there.picture(), back.picture());
    assert!(there.png() != back.png(), "the two look alike");
}

/// Asked once for a machine, answered with one press, and changed later; a model has no legs to carry round.
#[test]
fn the_flywheel_is_asked_for_once_for_each_machine() {
    let machine = DeviceRow {
        used_for: vec![Role::Trainer],
        link: Link::Connected,
        ..device("D0:00:00:00:00:07", "Hall trainer", &[Role::Trainer])
    };
    let with = |row: &DeviceRow, asks: bool, fixed: Option<bool>| {
        let mut snapshot = seen(states::ready());
        snapshot.devices = Arc::from([row.clone()]);
        snapshot.flywheel = Flywheel { asks, fixed };
        snapshot
    };
    let mut window = Window::open(with(&machine, true, None), 1280, 800);
    assert!(
        window
            .words()
            .iter()
            .any(|words| words == Flywheel::QUESTION)
    );
    // The large button has the keyboard all the same.
    window.press(egui::Key::Enter);
    assert_eq!(window.hand.told(), [Command::StartWithPedals]);
    for (fixed, answer) in [(false, Flywheel::RUNS_ON), (true, Flywheel::FIXED)] {
        let label = format!("{answer}: the flywheel of Hall trainer");
        window.harness.get_by_label(&label).click();
        window.harness.run_steps(2);
        assert_eq!(window.hand.told(), [Command::FixedFlywheel(fixed)]);
    }
    for (fixed, other) in [(true, "It runs on"), (false, "It is fixed")] {
        window.hand.show(with(&machine, false, Some(fixed)));
        window.harness.run_steps(2);
        assert!(
            !window
                .words()
                .iter()
                .any(|words| words == Flywheel::QUESTION)
        );
        let label = format!("{other}: the flywheel of Hall trainer");
        window.harness.get_by_label(&label).click();
        window.harness.run_steps(2);
        assert_eq!(window.hand.told(), [Command::FixedFlywheel(!fixed)]);
    }
    let told = data(&with(&practice(true), true, None), &shelf());
    assert_eq!(told.devices[0].flywheel, None);
    let idle = DeviceRow {
        used_for: Vec::new(),
        ..machine
    };
    let told = data(&with(&idle, false, Some(true)), &shelf());
    assert_eq!(told.devices[0].flywheel, None, "not the trainer in use");
}
