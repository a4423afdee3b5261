//! Every key in every state, pressed in the window; and that no keys, however they are put, keep the brake on.

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use proptest::prelude::*;
use stillroad::device::DeviceId;
use stillroad::engine::command::{Command, Role};
use stillroad::engine::snapshot::{Armed, Question, Snapshot};
use stillroad::ride::{Finish, Mode, PauseCause, RideMode};
use stillroad::time::Span;
use stillroad::ui::keys::{self, Act, BINDINGS, Hands, Keymap, names};
use stillroad::ui::settings::{self, Settings};
use stillroad::units::Effort;

use super::hand::Window;
use super::states;

const LESS: [Key; 3] = [Key::ArrowDown, Key::PageUp, Key::MediaTrackPrevious];
const YES: [Key; 3] = [Key::Enter, Key::Period, Key::MediaPlayPause];
const MORE: [Key; 3] = [Key::ArrowUp, Key::PageDown, Key::MediaTrackNext];

/// The states of the table, each with the keys that lead there.
fn reached() -> Vec<(&'static str, Snapshot, &'static [Key])> {
    let asked = Snapshot {
        question: Some(Question::RateBlock(1)),
        ..states::riding()
    };
    vec![
        ("riding", states::riding(), &[]),
        ("choices", states::riding(), &[Key::Enter]),
        (
            "paused",
            Snapshot {
                mode: Mode::Paused(PauseCause::Rider),
                ..states::riding()
            },
            &[],
        ),
        (
            "off",
            Snapshot {
                released: "let off by hand",
                ..states::riding()
            },
            &[],
        ),
        ("asked", asked.clone(), &[]),
        ("answering", asked, &[Key::Num5]),
        (
            "armed",
            Snapshot {
                armed: Some(Armed::Skip),
                can_undo: true,
                ..states::riding()
            },
            &[],
        ),
    ]
}

/// What the core shall be told, from the rules of the ride: brake off from any state; three buttons trim, answer and
/// walk; every other key does its one thing all through.
fn wanted(state: &str, key: Key) -> Vec<Command> {
    let stands = matches!(state, "paused" | "off");
    let question = matches!(state, "asked" | "answering");
    let free = matches!(state, "riding" | "armed");
    let one = match key {
        Key::Escape => Command::BrakeOff,
        Key::E => Command::EaseBlock,
        Key::Plus | Key::Equals => Command::Stretch,
        Key::C => Command::Cut,
        Key::ArrowRight => Command::Skip,
        Key::U => Command::Undo,
        Key::M => Command::SwitchMode,
        Key::K => Command::Mark,
        // In a block that the brake holds there is no gear to note, and why a load stands is the window's to say.
        Key::N | Key::W => return Vec::new(),
        Key::Q => Command::End,
        Key::Space if stands => Command::Resume,
        Key::Space => Command::Pause,
        Key::Backspace | Key::Delete if question => Command::PassRating,
        _ if MORE.contains(&key) && free => Command::Trim(1),
        _ if LESS.contains(&key) && free => Command::Trim(-1),
        _ if YES.contains(&key) && stands => Command::Resume,
        _ if YES.contains(&key) && state == "choices" => Command::Pause,
        _ if YES.contains(&key) && state == "answering" => Command::Rate(Effort(5.0)),
        _ => return Vec::new(),
    };
    vec![one]
}

#[test]
fn every_key_in_every_state_of_a_ride() {
    let mut window = Window::open(states::idle(), 800, 600);
    for (state, snapshot, lead) in reached() {
        // The first key of each act, and what a remote sends; the others stand on the same acts, as the keymap's own
        // tests say.
        let assigned = BINDINGS.iter().filter_map(|binding| binding.keys.first());
        for &key in assigned.chain(&[
            Key::PageUp,
            Key::Period,
            Key::PageDown,
            Key::Num7,
            Key::Tab,
            Key::F9,
        ]) {
            // Through another room, so that nothing is left of the key before.
            for shown in [states::ready(), snapshot.clone()] {
                window.hand.show(shown);
                window.harness.step();
            }
            for &key in lead {
                window.press(key);
            }
            window.hand.told();
            window.press(key);
            assert_eq!(
                window.hand.told(),
                wanted(state, key),
                "{key:?} while {state}"
            );
        }
    }
}

#[test]
fn before_and_after_a_ride_only_the_brake_hears_the_keys_of_the_ride() {
    let finished = Snapshot {
        mode: Mode::Finished(Finish::Completed),
        question: None,
        ..states::riding()
    };
    for (state, snapshot) in [("before", states::ready()), ("after", finished)] {
        let mut window = Window::open(snapshot, 800, 600);
        for key in [
            Key::E,
            Key::C,
            Key::U,
            Key::M,
            Key::Q,
            Key::Plus,
            Key::Backspace,
            Key::Num3,
        ] {
            window.press(key);
            assert_eq!(window.hand.told(), [], "{key:?} {state}");
        }
        window.press(Key::Escape);
        assert_eq!(window.hand.told(), [Command::BrakeOff], "{state}");
    }
}

#[test]
fn a_remote_starts_a_ride_and_leaves_the_end() {
    let mut window = Window::open(states::ready(), 1280, 800);
    window.press(Key::PageDown);
    window.press(Key::PageUp);
    // The cautions of the day stand first, under the same button.
    window.press(Key::Period);
    assert_eq!(window.hand.told(), [Command::CautionsSeen]);
    window.hand.show(Snapshot {
        cautions_seen_today: true,
        ..states::ready()
    });
    window.harness.run_steps(2);
    window.press(Key::Period);
    assert_eq!(window.hand.told(), [Command::StartWithPedals]);
    window.hand.show(Snapshot {
        mode: Mode::Finished(Finish::Completed),
        question: Some(Question::RateSession),
        ..states::riding()
    });
    window.harness.run_steps(2);
    window.press(Key::PageDown);
    window.press(Key::PageDown);
    window.press(Key::Period);
    assert_eq!(window.hand.told(), [Command::Rate(Effort(6.0))]);
    window.press(Key::Period);
    assert!(matches!(
        window.hand.told().as_slice(),
        [Command::Choose(_), Command::Scan(true)]
    ));
}

/// The rider's own keys do what the usual ones did, and those do nothing more.
#[test]
fn assigned_keys_act_and_the_old_ones_do_not() {
    let keys = [
        (Act::Yes, Key::Num5),
        (Act::Less, Key::Num4),
        (Act::More, Key::AudioVolumeUp),
        (Act::BrakeOff, Key::Num0),
    ];
    let keymap = keys.iter().fold(Keymap::default(), |map, &(act, key)| {
        map.put(act, &[key]).unwrap()
    });
    let settings = Settings {
        keys: keymap,
        ..Settings::default()
    };
    let mut window = Window::open_with(states::riding(), 1280, 800, settings);
    for (key, expected) in [
        (Key::Num4, Some(Command::Trim(-1))),
        (Key::AudioVolumeUp, Some(Command::Trim(1))),
        (Key::Num0, Some(Command::BrakeOff)),
        (Key::Escape, Some(Command::BrakeOff)),
        (Key::Num5, None),
        (Key::Num5, Some(Command::Pause)),
        (Key::PageDown, None),
        (Key::ArrowUp, None),
        (Key::Enter, None),
    ] {
        window.press(key);
        assert_eq!(window.hand.told(), Vec::from_iter(expected), "{key:?}");
    }
    window.harness.get_by_label("easier (4)");
    window.harness.get_by_label("brake off (esc)");
}

#[test]
fn choices_leave_by_themselves_and_come_to_an_end() {
    let mut window = Window::open(states::riding(), 1280, 800);
    window.press(Key::Period);
    assert!(window.harness.query_by_label("Choices").is_some());
    window.harness.get_by_label("Strip");
    // Eight seconds later nobody had pressed anything.
    let later = |seconds: u64| Snapshot {
        at: states::AT + Span::from_seconds(seconds),
        ..states::riding()
    };
    window.hand.show(later(7));
    window.harness.run_steps(2);
    assert!(window.harness.query_by_label("Choices").is_some());
    window.hand.show(later(9));
    window.harness.run_steps(2);
    assert!(window.harness.query_by_label("Choices").is_none());
    // And back before the first leaves them at once.
    window.press(Key::Period);
    assert!(window.harness.query_by_label("Choices").is_some());
    window.press(Key::PageUp);
    assert!(window.harness.query_by_label("Choices").is_none());
    assert_eq!(window.hand.told(), []);
}

/// A trainer that came back as another one is used again by a choice, which stands only then.
#[test]
fn a_changed_device_is_used_again_by_a_choice() {
    let trainer = DeviceId::new("F0:00:00:00:00:01");
    let mut window = Window::open(states::riding(), 1280, 800);
    let offered = |window: &mut Window| {
        let words = window.words();
        words.iter().any(|words| words.contains("use it again"))
    };
    window.press(Key::Period);
    assert!(!offered(&mut window));
    window.hand.show(Snapshot {
        changed: vec![(Role::Trainer, trainer.clone())],
        ..states::riding()
    });
    window.press(Key::PageDown);
    assert!(offered(&mut window));
    assert_eq!(window.hand.told(), []);
    window.press(Key::Period);
    assert_eq!(
        window.hand.told(),
        [Command::Use(Role::Trainer, Some(trainer))]
    );
}

/// Everything that a ride offers is among the choices, in every state, so that three buttons reach it.
#[test]
fn three_buttons_reach_everything() {
    let everything = [
        Command::Pause,
        Command::EaseBlock,
        Command::Stretch,
        Command::Cut,
        Command::Skip,
        Command::Undo,
        Command::SwitchMode,
        Command::Mark,
        Command::End,
        Command::Trim(1),
        Command::Trim(-1),
    ];
    for (state, snapshot, _) in reached() {
        let mut found: Vec<Command> = Vec::new();
        for acts in three_button_walks() {
            let mut hands = Hands::default();
            for act in acts {
                found.extend(keys::commands(act, &snapshot, &mut hands));
            }
        }
        for command in everything.iter().chain(
            snapshot
                .question
                .map(|_| [Command::PassRating, Command::Rate(Effort(4.0))])
                .as_ref()
                .into_iter()
                .flatten(),
        ) {
            let other = matches!(command, Command::Pause) && state == "paused";
            assert!(
                other || found.contains(command),
                "{command:?} while {state}"
            );
        }
    }
}

/// What makes sense only at times is among the choices then, and only then: gears where the rider shifts, the meter's
/// watts where a meter is used and watts are held.
#[test]
fn gears_and_meter_are_offered_where_they_make_sense() {
    let metered = |snapshot: Snapshot| {
        let mut devices = snapshot.devices.to_vec();
        devices[0].used_for.push(Role::Meter);
        Snapshot {
            devices: devices.into(),
            ..snapshot
        }
    };
    let by_effort = Snapshot {
        ride_mode: RideMode::EffortOnly,
        ..states::riding()
    };
    let led = Snapshot {
        meter_led: Some("Held by your meter: the trainer is asked for 3 % more.".to_owned()),
        ..metered(states::riding())
    };
    let sprint = states::all()
        .into_iter()
        .find(|(name, _)| *name == "sprinting")
        .map(|(_, snapshot)| snapshot)
        .unwrap();
    let (gear, on, off) = (
        Command::NoteGear,
        Command::HoldByMeter(true),
        Command::HoldByMeter(false),
    );
    for (state, snapshot, offered) in [
        ("held", states::riding(), vec![]),
        ("by effort", by_effort.clone(), vec![&gear]),
        ("a free sprint", sprint, vec![&gear]),
        ("with a meter", metered(states::riding()), vec![&on]),
        ("held by the meter", led, vec![&off]),
        ("by effort with a meter", metered(by_effort), vec![&gear]),
    ] {
        let mut found: Vec<Command> = Vec::new();
        for acts in three_button_walks() {
            let mut hands = Hands::default();
            for act in acts {
                found.extend(keys::commands(act, &snapshot, &mut hands));
            }
        }
        for command in [&gear, &on, &off] {
            assert_eq!(
                found.contains(command),
                offered.contains(&command),
                "{command:?} {state}"
            );
        }
        let key = keys::commands(Act::NoteGear, &snapshot, &mut Hands::default());
        assert_eq!(key.contains(&gear), offered.contains(&&gear), "{state}");
    }
}

/// Walks of three buttons: yes to open, so many steps, yes to take; straight, and after a step before it.
fn three_button_walks() -> Vec<Vec<Act>> {
    let mut walks = Vec::new();
    for first in [
        &[][..],
        &[Act::Yes],
        &[Act::More],
        &[Act::Less],
        &[Act::More, Act::Less],
    ] {
        for step in [Act::More, Act::Less] {
            for steps in 0..20 {
                let mut walk = first.to_vec();
                walk.extend(std::iter::repeat_n(step, steps));
                walk.push(Act::Yes);
                walks.push(walk);
            }
        }
    }
    walks
}

/// Any list of assignments, good and bad.
fn any_keymap() -> impl Strategy<Value = Keymap> {
    let one = (
        0..BINDINGS.len(),
        proptest::collection::vec(0..names::KEYS.len(), 0..4),
        any::<bool>(),
    );
    proptest::collection::vec(one, 0..30).prop_map(|puts| {
        puts.into_iter()
            .fold(Keymap::default(), |map, (act, keys, beside)| {
                let act = BINDINGS[act].act;
                let keys: Vec<Key> = keys.into_iter().map(|key| names::KEYS[key].1).collect();
                let changed = match (beside, keys.first()) {
                    (true, Some(&key)) => map.add(act, key),
                    _ => map.put(act, &keys),
                };
                changed.unwrap_or(map)
            })
    })
}

fn holds(keymap: &Keymap) {
    assert_eq!(keymap.act(Key::Escape), Some(Act::BrakeOff));
    let mut seen = std::collections::BTreeSet::new();
    for binding in BINDINGS {
        let keys = keymap.keys(binding.act);
        assert!(!binding.needed || !keys.is_empty(), "{:?}", binding.act);
        for &key in keys {
            assert!(seen.insert(key), "{key:?} stands for two acts");
            assert_eq!(keymap.act(key), Some(binding.act));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn however_keys_are_put_the_brake_has_one(keymap in any_keymap()) {
        holds(&keymap);
        let settings = Settings { keys: keymap, ..Settings::default() };
        let (read, problems) = settings::read(&settings::to_toml(&settings));
        prop_assert_eq!(problems, vec![]);
        prop_assert_eq!(read, settings);
    }

    #[test]
    fn whatever_a_file_says_the_brake_has_a_key(
        lines in proptest::collection::vec((0..BINDINGS.len(), proptest::collection::vec(0..names::WORDS.len(), 0..6)), 0..16)
    ) {
        let text: String = lines
            .iter()
            .map(|(act, keys)| {
                let words: Vec<String> = keys.iter().map(|&key| format!("\"{}\"", names::WORDS[key])).collect();
                format!("{} = [{}]\n", BINDINGS[*act].setting, words.join(", "))
            })
            .collect();
        holds(&settings::read(&text).0.keys);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    /// Whatever was pressed before, in whatever state, escape comes first to the core.
    #[test]
    fn no_keys_keep_the_brake_from_being_let_off(
        keymap in any_keymap(),
        start in 0..16usize,
        pressed in proptest::collection::vec(0..names::KEYS.len() + 1, 0..25),
    ) {
        let all = states::all();
        let snapshot = all[start % all.len()].1.clone();
        let settings = Settings { keys: keymap, ..Settings::default() };
        let mut window = Window::open_with(snapshot, 800, 600, settings);
        for key in pressed {
            window.press(names::KEYS.get(key).map_or(Key::Tab, |&(_, key)| key));
        }
        window.hand.told();
        window.press(Key::Escape);
        let told = window.hand.told();
        prop_assert_eq!(told.first(), Some(&Command::BrakeOff));
    }
}
