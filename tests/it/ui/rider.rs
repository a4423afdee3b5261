//! The rider's page: what is said of each slip, what is saved, and what the strip shows meanwhile.

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use stillroad::engine::Snapshot;
use stillroad::engine::command::Command;
use stillroad::rider::{self, Rider};
use stillroad::ui::rooms::rider::{ENTRIES, Form};
use stillroad::units::{Bpm, Watts};

use stillroad::app::{Desk as _, Files};
use stillroad::store::Places;

use super::hand::Window;
use super::states;

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

fn typed(form: &mut Form, key: &str, text: &str) {
    let index = ENTRIES.iter().position(|entry| entry.key == key).unwrap();
    form.texts[index] = text.to_owned();
    form.typed(index);
}

fn error(form: &Form, key: &str) -> String {
    let index = ENTRIES.iter().position(|entry| entry.key == key).unwrap();
    form.errors[index].clone().unwrap_or_default()
}

/// The bounds are those of the rider file's page: 30 to 600 W, 30 to 1500 W, 30 to 2500 W, 1000 to 60000 J,
/// 30 to 240 bpm, 10 to 110 years, 5 to 120 s.
#[test]
fn every_slip_in_a_figure_is_said_beside_it() {
    for (key, text, says) in [
        ("name", "", "needs a name"),
        (
            "threshold",
            "20",
            "A threshold of 20 W is outside 30 to 600 W.",
        ),
        ("threshold", "601", "outside 30 to 600 W"),
        ("threshold", "", "Write a number"),
        ("threshold", "12x", "Write a plain number"),
        ("threshold", "-180", "Write a plain number"),
        ("threshold", "nan", "Write a plain number"),
        ("threshold", "1.2.3", "Write a plain number"),
        ("power_cap", "1501", "outside 30 to 1500 W"),
        ("sprint_cap", "2501", "outside 30 to 2500 W"),
        ("sprint_cap", "199", "below the power cap of 200 W"),
        ("w_prime", "999", "outside 1000 to 60000 J"),
        ("heart_rate_ceiling", "250", "outside 30 to 240 bpm"),
        ("max_heart_rate", "29", "outside 30 to 240 bpm"),
        ("age", "9", "outside 10 to 110 years"),
        ("age", "300", "outside 10 to 110 years"),
        ("age", "41.5", "whole number"),
        ("chainrings", "50x34", "Write whole numbers"),
        ("chainrings", "50 34 30 26", "from one to 3"),
        ("chainrings", "99999999 34", "outside 20 to 70 teeth"),
        ("sprockets", "11, 11", "twice"),
        ("sprockets", "11 12.5", "Write whole numbers"),
        ("sprockets", "7 11", "outside 8 to 60 teeth"),
        ("pause_after", "4", "0:05"),
        ("pause_after", "soon", "Write a plain number"),
    ] {
        let mut form = Form::new(None, &Rider::default());
        assert_eq!(form.wrong(), 0);
        typed(&mut form, key, text);
        assert!(
            error(&form, key).contains(says),
            "{key} {text:?}: {:?}",
            form.errors
        );
        assert_eq!(form.rider(), None, "{key} {text:?}");
        assert_eq!(form.wrong(), 1, "{key} {text:?}: {:?}", form.errors);
    }
}

#[test]
fn what_is_right_becomes_the_rider_and_is_checked_by_typing_it() {
    let mut form = Form::new(None, &Rider::default());
    for (key, text) in [
        ("name", "Kim"),
        ("threshold", "182,5"),
        ("heart_rate_ceiling", "165"),
        ("age", "41"),
        ("pause_after", "Never"),
        ("chainrings", "50, 34"),
        ("sprockets", "11 13 15 17  19,21"),
    ] {
        typed(&mut form, key, text);
    }
    let kim = form.rider().unwrap();
    assert_eq!(kim.name, "Kim");
    assert_eq!(kim.threshold, Watts(182.5));
    assert_eq!(kim.heart_rate_ceiling, Some(Bpm(165.0)));
    assert_eq!(kim.age, Some(41));
    assert_eq!(kim.drivetrain.chainrings, [50, 34]);
    assert_eq!(kim.drivetrain.sprockets, [11, 13, 15, 17, 19, 21]);
    assert_eq!(Form::new(None, kim).texts[11], "11 13 15 17 19 21");
    assert_eq!(kim.pause_after, rider::PauseAfter::Never);
    assert_eq!(kim.unconfirmed, ["power_cap", "sprint_cap", "w_prime"]);
    // Age and a maximal heart rate set no ceiling by themselves.
    let mut form = Form::new(None, &Rider::default());
    typed(&mut form, "age", "60");
    typed(&mut form, "max_heart_rate", "170");
    assert_eq!(form.rider().unwrap().heart_rate_ceiling, None);
}

#[test]
fn a_rider_is_edited_and_saved_by_keyboard_and_the_strip_follows() {
    let mut window = Window::open(seen(states::idle()), 1280, 800);
    let row = "Row 2, 4 × Hold";
    assert!(
        value(&window, row).contains("235 W"),
        "{}",
        value(&window, row)
    );
    window.harness.get_by_label("Edit this rider").focus();
    window.harness.run_steps(2);
    window.press(Key::Enter);
    window.harness.run_steps(2);
    // The name has the keyboard; a g in it is a letter, and changes no ground.
    window.press(Key::End);
    window.harness.event(egui::Event::Text("g".into()));
    window.press(Key::G);
    assert_eq!(
        window.picture().count(stillroad::ui::theme::PAPER.ground),
        0
    );
    window.press(Key::Tab);
    window.harness.run_steps(2);
    let modifiers = egui::Modifiers::COMMAND;
    window.harness.key_press_modifiers(modifiers, Key::A);
    window.harness.run_steps(2);
    window.harness.event(egui::Event::Text("200".into()));
    window.harness.run_steps(2);
    // Effort 7 is 82 % of the threshold: 164 W of 200 W.
    assert!(window.words().iter().any(|words| words == "164 W"));
    window.harness.get_by_label("Save this rider").click();
    window.harness.run_steps(3);
    let saved = window.drawer.riders.borrow().clone();
    assert_eq!(saved.len(), 1);
    assert_eq!(saved[0].0.as_deref(), Some("robin"));
    assert_eq!(saved[0].1.name, "Robing");
    assert_eq!(saved[0].1.threshold, Watts(200.0));
    assert_eq!(saved[0].1.sprint_cap, Watts(700.0));
    let told = window.hand.told();
    assert!(
        matches!(told.last(), Some(Command::Choose(choice)) if choice.rider.threshold == Watts(200.0)),
        "{told:?}"
    );
    assert!(value(&window, row).contains("164 W"));
}

#[test]
fn a_new_rider_gets_a_place_of_their_own() {
    let mut window = Window::open(seen(states::idle()), 1280, 800);
    window.harness.get_by_label("New rider").click();
    window.harness.run_steps(3);
    window.harness.get_by_label("Save this rider").click();
    window.harness.run_steps(3);
    let saved = window.drawer.riders.borrow().clone();
    assert_eq!(saved[0].0, None);
    assert_eq!(saved[0].1.name, "Rider 2", "the name of nobody else");
    assert_eq!(
        saved[0].1.unconfirmed.len(),
        4,
        "nobody has checked anything yet"
    );
    assert_eq!(value(&window, "Riders"), "Rider 2");
}

#[test]
fn a_failure_to_save_is_said_and_nothing_is_lost() {
    let mut window = Window::open(seen(states::idle()), 800, 600);
    window.drawer.refuses.set(true);
    window.harness.get_by_label("Edit this rider").click();
    window.harness.run_steps(3);
    window.harness.get_by_label("Save this rider").click();
    window.harness.run_steps(3);
    assert!(value(&window, "Missing").starts_with("The drawer is locked."));
    window.harness.get_by_label("Save this rider");
    assert_eq!(window.hand.told(), []);
}

/// A file that was changed by somebody else is read again with one button; what was typed stays over it.
#[test]
fn a_changed_file_is_read_again_and_what_was_typed_stays() {
    let mut window = Window::open(seen(states::idle()), 1280, 800);
    window.harness.get_by_label("Edit this rider").click();
    window.harness.run_steps(3);
    assert!(
        window
            .harness
            .query_by_label("Read the file again")
            .is_none()
    );
    window.harness.get_by_label("Name").focus();
    window.harness.run_steps(2);
    window.press(Key::End);
    window.harness.event(egui::Event::Text("g".into()));
    window.harness.run_steps(2);
    window.drawer.refuses.set(true);
    window.harness.get_by_label("Save this rider").click();
    window.harness.run_steps(3);
    // First it cannot be read.
    window.harness.get_by_label("Read the file again").click();
    window.harness.run_steps(3);
    assert!(value(&window, "Missing").starts_with("The drawer is stuck."));
    *window.drawer.read.borrow_mut() = Some(Rider {
        threshold: Watts(250.0),
        source: "threshold = 250".into(),
        ..states::rider()
    });
    window.harness.get_by_label("Read the file again").click();
    window.harness.run_steps(3);
    assert_eq!(value(&window, "Name"), "Robing");
    assert_eq!(value(&window, "Threshold"), "250");
    assert_eq!(value(&window, "Power cap"), "350");
    assert!(
        window
            .harness
            .query_by_label("Read the file again")
            .is_none()
    );
    let told = window.hand.told();
    assert!(
        matches!(told.as_slice(), [Command::Choose(choice)] if choice.rider.threshold == Watts(250.0)),
        "{told:?}"
    );
    window.drawer.refuses.set(false);
    window.harness.get_by_label("Save this rider").click();
    window.harness.run_steps(3);
    let saved = window.drawer.riders.borrow().clone();
    assert_eq!(saved[0].1.name, "Robing");
    assert_eq!(saved[0].1.threshold, Watts(250.0));
    assert_eq!(
        &*saved[0].1.source, "threshold = 250",
        "what it is saved over"
    );
}

#[test]
fn the_meter_is_switched_with_its_reason_beside_it() {
    let mut window = Window::open(seen(states::idle()), 800, 600);
    window.harness.get_by_label("Edit this rider").click();
    window.harness.run_steps(3);
    assert!(value(&window, "About the meter").contains("a tenth at most"));
    window
        .harness
        .get_by_label("Hold my power meter's watts")
        .click();
    window.harness.run_steps(2);
    window.harness.get_by_label("Save this rider").click();
    window.harness.run_steps(3);
    let saved = window.drawer.riders.borrow().clone();
    assert!(saved[0].1.meter_led);
    assert!(!states::rider().meter_led, "it was off before");
    // And off again: the line goes out of the file.
    let on = rider::read("name = \"Kim\"\nmeter_led = true # trusted\n")
        .0
        .unwrap();
    let mut form = Form::new(Some(0), &on);
    assert!(form.meter_led);
    form.meter_led = false;
    form.check();
    let text = rider::amended(form.rider().unwrap());
    assert!(!rider::read(&text).0.unwrap().meter_led, "{text}");
}

/// On a real disk: comments stay, a file that somebody else changed meanwhile is left alone, and so is one that is gone.
#[test]
fn a_file_changed_by_another_program_is_not_overwritten() {
    let home = tempfile::tempdir().unwrap();
    let places = Places::under(home.path());
    std::fs::create_dir_all(&places.riders).unwrap();
    let file = places.riders.join("kim.toml");
    let text = "# Kim, by hand.\nname = \"Kim\"\nthreshold = 180 # March\npower_cap = 260\n";
    std::fs::write(&file, text).unwrap();
    let read = rider::read(text).0.unwrap();
    let stronger = Rider {
        threshold: Watts(190.0),
        ..read
    };
    let mut desk = Files::new(places.clone());
    assert_eq!(
        desk.save_rider(Some("kim"), &stronger),
        Ok("kim".to_owned())
    );
    let after = std::fs::read_to_string(&file).unwrap();
    assert_eq!(after, text.replace("180", "190"));
    // The rider still carries the old text as what was read: by now the file says something else.
    let refused = desk.save_rider(Some("kim"), &stronger).unwrap_err();
    assert!(refused.contains("changed by another program"), "{refused}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), after);
    assert!(refused.contains("Read the file again"), "{refused}");
    let now = desk.read_rider("kim").unwrap();
    assert_eq!(
        (now.threshold, &*now.source),
        (Watts(190.0), after.as_str())
    );
    assert_eq!(desk.save_rider(Some("kim"), &now), Ok("kim".to_owned()));
    std::fs::write(&file, "threshold = 5\n").unwrap();
    let wrong = desk.read_rider("kim").unwrap_err();
    assert!(wrong.contains("outside 30 to 600 W"), "{wrong}");
    std::fs::remove_file(&file).unwrap();
    assert!(desk.read_rider("kim").is_err());
    assert!(desk.save_rider(Some("kim"), &stronger).is_err());
    assert!(!file.exists());
    // A new rider of a name that is taken gets a file of their own.
    let new = Rider {
        name: "Kim".into(),
        ..Rider::default()
    };
    assert_eq!(desk.save_rider(None, &new), Ok("Kim".to_owned()));
    assert_eq!(desk.save_rider(None, &new), Ok("Kim-2".to_owned()));
    let kept = std::fs::read_to_string(places.riders.join("Kim-2.toml")).unwrap();
    assert_eq!(rider::read(&kept).0.unwrap().unconfirmed.len(), 4);
}
