//! The one table of keys: which key does what, where, and in which words it is shown.
//!
//! The ride's keys are taken out of the input before any widget sees them, escape first of all. A key held down counts
//! once: its repeats must not be the second press that a skip or an end asks for.

use egui::{Event, Key};

use crate::engine::Command;
use crate::engine::snapshot::{Armed, Question, Snapshot};
use crate::ride::{Mode, PauseCause};
use crate::units::Effort;

/// What a key stands for, before the state of the ride decides what that means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Act {
    /// Let the brake off; first of all in every state.
    BrakeOff,
    /// Yes, or pause and resume.
    Yes,
    /// Less, or back.
    Less,
    /// More, or on.
    More,
    /// On to the next block; twice.
    Skip,
    /// Show the other keys; answer a question.
    Enter,
    /// Ease this block.
    Ease,
    /// Half a minute more of this block.
    Stretch,
    /// Leave out the next block that may be cut.
    Cut,
    /// Take back the last skip, stretch or cut.
    Undo,
    /// The other ride mode.
    SwitchMode,
    /// Pass a question.
    Pass,
    /// End the ride; twice.
    End,
    /// The other ground.
    Ground,
    /// A digit, for an answer.
    Digit(u8),
}

/// Where a key is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard {
    /// In every room.
    Everywhere,
    /// While a ride is under way.
    Ride,
    /// While a question waits, whatever the room.
    Question,
}

/// One row of the table.
#[derive(Clone, Copy, Debug)]
pub struct Binding {
    /// What it stands for.
    pub act: Act,
    /// The keys, any of them. Page keys and the full stop are what a presenter's remote sends.
    pub keys: &'static [Key],
    /// The key as it is written on the screen.
    pub shown: &'static str,
    /// What it does, in a word or three, as it is written on the screen.
    pub words: &'static str,
    /// Where it is heard.
    pub heard: Heard,
}

const fn row(
    act: Act,
    keys: &'static [Key],
    shown: &'static str,
    words: &'static str,
    heard: Heard,
) -> Binding {
    Binding {
        act,
        keys,
        shown,
        words,
        heard,
    }
}

/// The table. Escape stands first, and is acted on first.
pub const TABLE: &[Binding] = &[
    row(
        Act::BrakeOff,
        &[Key::Escape],
        "esc",
        "brake off",
        Heard::Everywhere,
    ),
    row(
        Act::Yes,
        &[Key::Space, Key::Period],
        "space",
        "pause, go on",
        Heard::Ride,
    ),
    row(
        Act::More,
        &[Key::ArrowUp, Key::PageDown],
        "up",
        "harder",
        Heard::Ride,
    ),
    row(
        Act::Less,
        &[Key::ArrowDown, Key::PageUp],
        "down",
        "easier",
        Heard::Ride,
    ),
    row(
        Act::Skip,
        &[Key::ArrowRight],
        "right twice",
        "skip",
        Heard::Ride,
    ),
    row(Act::Ease, &[Key::E], "e", "ease this block", Heard::Ride),
    row(
        Act::Stretch,
        &[Key::Plus, Key::Equals],
        "+",
        "30 s more",
        Heard::Ride,
    ),
    row(Act::Cut, &[Key::C], "c", "leave out a block", Heard::Ride),
    row(Act::Undo, &[Key::U], "u", "take back", Heard::Ride),
    row(
        Act::SwitchMode,
        &[Key::M],
        "m",
        "watts or effort",
        Heard::Ride,
    ),
    row(Act::End, &[Key::Q], "q twice", "end", Heard::Ride),
    row(Act::Enter, &[Key::Enter], "enter", "more keys", Heard::Ride),
    row(
        Act::Ground,
        &[Key::G],
        "g",
        "dark or paper",
        Heard::Everywhere,
    ),
    row(
        Act::More,
        &[Key::ArrowUp, Key::PageDown],
        "up",
        "higher",
        Heard::Question,
    ),
    row(
        Act::Less,
        &[Key::ArrowDown, Key::PageUp],
        "down",
        "lower",
        Heard::Question,
    ),
    row(
        Act::Enter,
        &[Key::Enter],
        "enter",
        "answer",
        Heard::Question,
    ),
    row(
        Act::Pass,
        &[Key::Backspace, Key::Delete],
        "backspace",
        "no answer",
        Heard::Question,
    ),
    row(Act::Digit(0), &[Key::Num0], "0", "0", Heard::Question),
    row(Act::Digit(1), &[Key::Num1], "1", "1", Heard::Question),
    row(Act::Digit(2), &[Key::Num2], "2", "2", Heard::Question),
    row(Act::Digit(3), &[Key::Num3], "3", "3", Heard::Question),
    row(Act::Digit(4), &[Key::Num4], "4", "4", Heard::Question),
    row(Act::Digit(5), &[Key::Num5], "5", "5", Heard::Question),
    row(Act::Digit(6), &[Key::Num6], "6", "6", Heard::Question),
    row(Act::Digit(7), &[Key::Num7], "7", "7", Heard::Question),
    row(Act::Digit(8), &[Key::Num8], "8", "8", Heard::Question),
    row(Act::Digit(9), &[Key::Num9], "9", "9", Heard::Question),
];

/// What the hands have begun and not finished: state of the window alone.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Hands {
    /// The answer chosen so far.
    pub rating: Option<u8>,
    /// Whether all keys are shown.
    pub all_keys: bool,
    asked: Option<Question>,
}

impl Hands {
    /// Forgets an answer that was begun for a question which no longer stands.
    pub fn settle(&mut self, snapshot: &Snapshot) {
        if self.asked != snapshot.question {
            self.asked = snapshot.question;
            self.rating = None;
        }
    }
}

/// Why the clock stands, if it does.
pub const fn paused(mode: Mode) -> Option<PauseCause> {
    match mode {
        Mode::Paused(cause) => Some(cause),
        Mode::Degraded { paused, .. } => paused,
        _ => None,
    }
}

/// Whether the brake was let off by hand and waits for the rider to have it set again.
pub fn off_by_hand(snapshot: &Snapshot) -> bool {
    snapshot.released.contains("by hand")
}

/// Takes the table's keys out of the input, so that no widget sees them, and says what they stand for: escape first,
/// the rest in the order in which they were pressed. A repeat of a held key is taken out and does nothing.
pub fn take(ctx: &egui::Context, snapshot: &Snapshot, hands: &Hands) -> Vec<Act> {
    let riding = snapshot.mode.under_way();
    let asked = snapshot.question.is_some();
    let find = |key: Key| {
        let heard = |wanted: Heard| {
            TABLE
                .iter()
                .find(|row| row.heard == wanted && row.keys.contains(&key))
        };
        asked
            .then(|| heard(Heard::Question))
            .flatten()
            .or_else(|| riding.then(|| heard(Heard::Ride)).flatten())
            .or_else(|| heard(Heard::Everywhere))
            .map(|row| row.act)
            // After the ride, enter belongs to the button until an answer was chosen.
            .filter(|&act| riding || act != Act::Enter || hands.rating.is_some())
    };
    let mut acts = Vec::new();
    ctx.input_mut(|input| {
        input.events.retain(|event| match event {
            Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } if *key == Key::Escape || !(modifiers.ctrl || modifiers.alt || modifiers.command) => {
                match find(*key) {
                    Some(act) => {
                        if !repeat {
                            acts.push(act);
                        }
                        false
                    }
                    None => true,
                }
            }
            _ => true,
        });
    });
    // A stable sort: only escape moves.
    acts.sort_by_key(|&act| act != Act::BrakeOff);
    acts
}

/// What an act means in this state of the ride. `hands` is changed where an answer is being chosen.
///
/// Three buttons do everything: while riding, less and more trim and yes pauses; while paused, less ends and more
/// skips, both at the second press, and yes goes on; while a question waits, less and more choose and yes answers.
pub fn commands(act: Act, snapshot: &Snapshot, hands: &mut Hands) -> Vec<Command> {
    hands.settle(snapshot);
    let asked = snapshot.question.is_some();
    let standing = paused(snapshot.mode).is_some();
    let one = |command| vec![command];
    match act {
        Act::BrakeOff => one(Command::BrakeOff),
        Act::Yes | Act::Enter if asked && hands.rating.is_some() => {
            let rating = hands.rating.take().unwrap_or_default();
            one(Command::Rate(Effort(f64::from(rating))))
        }
        Act::Yes if standing || off_by_hand(snapshot) => one(Command::Resume),
        Act::Yes => one(Command::Pause),
        Act::Enter if asked => Vec::new(),
        Act::Enter => {
            hands.all_keys = !hands.all_keys;
            Vec::new()
        }
        Act::More if asked => {
            hands.rating = Some(hands.rating.map_or(5, |rating| (rating + 1).min(10)));
            Vec::new()
        }
        Act::Less if asked => {
            hands.rating = Some(hands.rating.map_or(5, |rating| rating.saturating_sub(1)));
            Vec::new()
        }
        Act::Digit(digit) => {
            // A nought after a one makes ten.
            hands.rating = Some(match (digit, hands.rating) {
                (0, Some(1)) => 10,
                _ => digit,
            });
            Vec::new()
        }
        Act::More if standing => one(Command::Skip),
        Act::Less if standing => one(Command::End),
        Act::More => one(Command::Trim(1)),
        Act::Less => one(Command::Trim(-1)),
        Act::Skip => one(Command::Skip),
        Act::Ease => one(Command::EaseBlock),
        Act::Stretch => one(Command::Stretch),
        Act::Cut => one(Command::Cut),
        Act::Undo => one(Command::Undo),
        Act::SwitchMode => one(Command::SwitchMode),
        Act::Pass => {
            hands.rating = None;
            one(Command::PassRating)
        }
        Act::End => one(Command::End),
        Act::Ground => Vec::new(),
    }
}

/// One hint on the screen: the key, the words, and what a press of the mouse on it stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hint {
    /// The key as written.
    pub key: &'static str,
    /// What it does.
    pub words: &'static str,
    /// What it stands for.
    pub act: Act,
}

/// The hints that belong on the screen in this state, the most needed first.
pub fn hints(snapshot: &Snapshot, hands: &Hands) -> Vec<Hint> {
    let hint = |act: Act, heard: Heard, words: Option<&'static str>| {
        TABLE
            .iter()
            .find(|row| row.act == act && (row.heard == heard || row.heard == Heard::Everywhere))
            .map(|row| Hint {
                key: row.shown,
                words: words.unwrap_or(row.words),
                act,
            })
    };
    let ride = |act, words| hint(act, Heard::Ride, words);
    let question = |act| hint(act, Heard::Question, None);
    let asked = snapshot.question.is_some();
    let standing = paused(snapshot.mode).is_some();
    let yes = match (standing, off_by_hand(snapshot), snapshot.armed) {
        (true, ..) => "go on",
        (_, true, _) => "set the brake",
        _ => "pause",
    };
    let mut hints = Vec::new();
    if asked {
        hints.extend([
            question(Act::More),
            question(Act::Less),
            question(Act::Enter),
        ]);
        hints.push(question(Act::Pass));
    } else if standing {
        hints.push(ride(Act::Yes, Some(yes)));
        hints.push(ride(Act::More, Some("twice: skip")));
        hints.push(ride(Act::Less, Some("twice: end")));
    } else {
        hints.push(ride(Act::Yes, Some(yes)));
        hints.push(ride(Act::More, None));
        hints.push(ride(Act::Less, None));
        if snapshot.can_undo {
            hints.push(ride(Act::Undo, None));
        }
    }
    if hands.all_keys && !asked {
        for act in [
            Act::Skip,
            Act::Ease,
            Act::Stretch,
            Act::Cut,
            Act::SwitchMode,
            Act::Ground,
            Act::End,
        ] {
            hints.push(ride(act, None));
        }
    }
    if !asked {
        hints.push(ride(Act::Enter, hands.all_keys.then_some("fewer keys")));
    }
    hints.push(ride(Act::BrakeOff, None));
    hints.into_iter().flatten().collect()
}

/// What a first press of a key that needs two says.
pub const fn armed_words(armed: Armed) -> &'static str {
    match armed {
        Armed::Skip => "Press again to skip.",
        Armed::End => "Press again to end.",
    }
}
