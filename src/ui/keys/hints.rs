//! The keys as they stand on the screen.

use super::acts::Act;
use super::hands::Hands;
use super::table::{Effect, State, effect};
use crate::engine::snapshot::{Armed, Snapshot};
use crate::text;
use crate::toml_table::a_capital;

/// One hint on the screen: the key, the words, and what a press of the mouse on it stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hint {
    /// The key as written.
    pub key: String,
    /// What it does.
    pub words: String,
    /// What it stands for.
    pub act: Act,
}

/// The hints that belong on the screen in this state, the most needed first.
pub fn hints(snapshot: &Snapshot, hands: &Hands) -> Vec<Hint> {
    let state = State::of(snapshot, hands);
    let acts: &[Act] = match state {
        State::Riding => &[Act::Pause, Act::More, Act::Less, Act::Yes],
        State::Asked | State::Answering => &[Act::More, Act::Less, Act::Yes, Act::Pass],
        _ => &[Act::Yes, Act::More, Act::Less],
    };
    let undo = (state == State::Riding && snapshot.can_undo).then_some(Act::Undo);
    acts.iter()
        .copied()
        .chain(undo)
        .chain([Act::BrakeOff])
        // An act that the rider left without a key has no hint; the choices have it.
        .filter(|&act| !hands.keys.keys(act).is_empty())
        .map(|act| Hint {
            key: hands.keys.shown(act),
            words: words(act, state, snapshot, hands),
            act,
        })
        .collect()
}

fn words(act: Act, state: State, snapshot: &Snapshot, hands: &Hands) -> String {
    match effect(act, state) {
        Effect::PauseOrGoOn => text::word(Effect::Pause.words()).to_owned(),
        Effect::Take => hands
            .menu()
            .map_or_else(String::new, |menu| choice_words(menu.chosen(), snapshot)),
        other => text::word(other.words()).to_owned(),
    }
}

/// A choice in words; one that waits for its second press says so.
pub(in crate::ui) fn choice_words(choice: Effect, snapshot: &Snapshot) -> String {
    match (choice, snapshot.armed) {
        (Effect::Skip, Some(Armed::Skip)) => word!("again: skip this block").to_owned(),
        (Effect::End, Some(Armed::End)) => word!("again: end the ride").to_owned(),
        _ => text::word(choice.words()).to_owned(),
    }
}

/// What ends a pause, in a sentence with the rider's own key.
pub fn go_on_words(hands: &Hands) -> String {
    say!("{key} goes on.", key = capital(hands, Act::Yes))
}

/// What sets the brake again after it was let off by hand, in a sentence with the rider's own key.
pub fn set_again_words(hands: &Hands) -> String {
    say!(
        "{key} sets it again, gently.",
        key = capital(hands, Act::Yes)
    )
}

/// How what a threshold test found is answered, in a sentence with the rider's own keys.
pub fn take_words(hands: &Hands) -> String {
    say!(
        "{more} takes it, {less} does not; {yes} answers.",
        more = capital(hands, Act::More),
        less = hands.keys.shown(Act::Less),
        yes = hands.keys.shown(Act::Yes)
    )
}

/// How a question is answered, in a sentence with the rider's own keys.
pub fn answer_words(hands: &Hands) -> String {
    let keys = &hands.keys;
    let (more, less) = (keys.shown(Act::More), keys.shown(Act::Less));
    let yes = keys.shown(Act::Yes);
    if keys.keys(Act::Pass).is_empty() {
        return say!(
            "A digit, or {more} and {less}; {yes} answers.",
            more,
            less,
            yes
        );
    }
    say!(
        "A digit, or {more} and {less}; {yes} answers, {pass} gives no answer.",
        more,
        less,
        yes,
        pass = keys.shown(Act::Pass)
    )
}

/// The key of an act at the head of a sentence.
fn capital(hands: &Hands, act: Act) -> String {
    a_capital(&hands.keys.shown(act))
}
