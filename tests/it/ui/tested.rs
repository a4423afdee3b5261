//! A threshold test in the window: its value is asked for, saved and only then taken; and a calibration in Prepare.

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use stillroad::engine::Command;
use stillroad::rider::amended;
use stillroad::units::Watts;

use super::ended;
use super::hand::Window;
use super::prepare_states;

fn state(name: &str) -> stillroad::engine::Snapshot {
    let found = ended::all().into_iter().find(|(each, _)| *each == name);
    found.unwrap().1
}

#[test]
fn a_value_is_saved_before_it_is_taken() {
    let mut window = Window::open(state("end-test"), 1280, 800);
    let question =
        "Take 212 W as your threshold from now on? The last was 200 W. Give or take 9 W.";
    assert!(
        window
            .texts()
            .iter()
            .any(|(text, _)| text.contains("Take 212 W as your threshold"))
    );
    window.harness.get_by_label("Threshold test");
    // A desk that refuses: nothing is taken, and the reason is shown.
    window.drawer.refuses.set(true);
    window.harness.get_by_label("Take 212 W").click();
    window.harness.run();
    assert_eq!(window.hand.told(), []);
    assert!(
        window
            .texts()
            .iter()
            .any(|(text, _)| text.contains("The drawer is locked"))
    );
    window.drawer.refuses.set(false);
    window.harness.get_by_label("Take 212 W").click();
    window.harness.run();
    assert_eq!(
        window.hand.told(),
        [Command::TakeThreshold(true)],
        "{question}"
    );
    let saved = window.drawer.riders.borrow();
    let (key, rider) = saved.last().unwrap();
    assert_eq!(key.as_deref(), Some("robin"));
    assert_eq!(rider.threshold, Watts(212.0));
    // Caps and W′ are as they were.
    assert_eq!(
        (rider.power_cap, rider.sprint_cap),
        (Watts(350.0), Watts(700.0))
    );
    assert_eq!(rider.w_prime, super::states::rider().w_prime);
}

/// A presenter's remote has three buttons, and a keyboard's arrows and enter do the same.
#[test]
fn a_value_is_taken_or_not_by_three_buttons() {
    for (less, yes, more) in [
        (Key::PageUp, Key::Period, Key::PageDown),
        (Key::ArrowDown, Key::Enter, Key::ArrowUp),
    ] {
        let mut window = Window::open(state("end-test"), 800, 600);
        window.press(more);
        assert_eq!(window.hand.told(), [], "chosen is not answered");
        window.press(less);
        window.press(more);
        window.press(yes);
        window.harness.run_steps(2);
        assert_eq!(window.hand.told(), [Command::TakeThreshold(true)]);
        assert_eq!(
            window.drawer.riders.borrow().last().unwrap().1.threshold,
            Watts(212.0)
        );
        let mut window = Window::open(state("end-test"), 1280, 800);
        window.press(less);
        window.press(yes);
        window.harness.run_steps(2);
        assert_eq!(window.hand.told(), [Command::TakeThreshold(false)]);
        assert!(window.drawer.riders.borrow().is_empty());
    }
    // Yes alone never takes a value, however often, and does not leave with the question open.
    let mut window = Window::open(state("end-test"), 1280, 800);
    window.press(Key::Period);
    assert_eq!(window.hand.told(), []);
    window.press(Key::Period);
    window.harness.run_steps(2);
    assert_eq!(window.hand.told(), [Command::TakeThreshold(false)]);
    // Enter by itself presses the button that has the keyboard: that is *not now*.
    let mut window = Window::open(state("end-test"), 1280, 800);
    window.press(Key::Enter);
    window.harness.run_steps(2);
    assert_eq!(window.hand.told(), [Command::TakeThreshold(false)]);
    assert!(window.drawer.riders.borrow().is_empty());
    // Where there is nothing to take, yes leaves the room as after any ride.
    let mut window = Window::open(state("end-test-none"), 1280, 800);
    window.press(Key::PageDown);
    window.press(Key::Period);
    window.harness.run_steps(2);
    assert!(window.hand.told().contains(&Command::Scan(true)));
}

#[test]
fn not_now_saves_nothing() {
    let mut window = Window::open(state("end-test"), 800, 600);
    window.harness.get_by_label("Not now").click();
    window.harness.run();
    assert_eq!(window.hand.told(), [Command::TakeThreshold(false)]);
    assert!(window.drawer.riders.borrow().is_empty());
}

#[test]
fn a_test_without_a_value_asks_nothing_and_says_why() {
    let mut window = Window::open(state("end-test-none"), 1280, 800);
    assert!(window.harness.query_by_label("Not now").is_none());
    let texts = window.texts();
    assert!(texts.iter().any(|(text, _)| text.contains("gave no value")));
    assert!(
        texts
            .iter()
            .any(|(text, _)| text.contains("within six minutes"))
    );
}

#[test]
fn the_threshold_before_stays_in_the_file() {
    let text = "name = \"Robin\"\nthreshold = 200\npower_cap = 350\nsprint_cap = 700\n";
    let mut rider = stillroad::rider::read(text).0.unwrap();
    rider.threshold = Watts(212.0);
    let once = amended(&rider);
    assert!(once.contains("threshold = 212  # before: 200\n"), "{once}");
    let mut rider = stillroad::rider::read(&once).0.unwrap();
    rider.threshold = Watts(215.0);
    let twice = amended(&rider);
    assert!(
        twice.contains("threshold = 215  # before: 212\n"),
        "{twice}"
    );
}

#[test]
fn a_trainer_is_calibrated_from_its_row_and_the_guide_is_left_by_the_large_button() {
    let of = |name: &str| {
        let found = prepare_states::all()
            .into_iter()
            .find(|(each, ..)| *each == name);
        found.unwrap().1
    };
    let mut window = Window::open(of("prepare-calibrate"), 1280, 800);
    let label = "Calibrate Practice trainer by a spin-down";
    window.harness.get_by_label(label).click();
    window.harness.run();
    assert_eq!(window.hand.told(), [Command::SpinDown]);
    let mut window = Window::open(of("prepare-spin-down"), 1280, 800);
    let texts = window.texts();
    for words in ["Pedal faster", "21.4 km/h", "wanted: 25.0 to 34.0 km/h"] {
        assert!(
            texts.iter().any(|(text, _)| text.contains(words)),
            "{words}: {texts:?}"
        );
    }
    window.harness.get_by_label("Leave it").click();
    window.harness.run();
    assert_eq!(window.hand.told(), [Command::LeaveSpinDown]);
}
