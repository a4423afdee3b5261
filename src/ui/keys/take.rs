//! Taking the keys out of the input before any widget sees them.

use egui::{Context, Event, Key, Modifiers};

use super::acts::Act;
use super::hands::{Hands, proposes};
use super::table::{Effect, State, effect};
use crate::engine::snapshot::Snapshot;

/// What becomes of a key.
enum Fate {
    /// It is taken and acted on.
    Taken(Act),
    /// It becomes one of the keys that widgets know.
    Becomes(Key, Modifiers),
    /// It is left to the widgets.
    Left,
}

/// Takes the keys out of the input, so that no widget sees them, and says what they stand for: brake off first, the
/// rest in the order in which they were pressed. A repeat of a held key is taken out and does nothing.
///
/// Where no ride is under way the widgets keep tab, the arrows, space and enter, and all but brake off while a text is
/// being written; the three buttons on other keys become tab and enter, so that a remote can start a ride.
pub fn take(ctx: &Context, snapshot: &Snapshot, hands: &Hands) -> Vec<Act> {
    let state = State::of(snapshot, hands);
    let riding = snapshot.mode.under_way();
    let asked = snapshot.question.is_some();
    let proposed = proposes(snapshot);
    let writing = !riding && ctx.text_edit_focused();
    let fate = |key: Key| {
        let Some(act) = hands.keys.act(key) else {
            return Fate::Left;
        };
        if act == Act::BrakeOff || riding {
            return Fate::Taken(act);
        }
        let own = matches!(
            key,
            Key::Enter
                | Key::Space
                | Key::ArrowUp
                | Key::ArrowDown
                | Key::ArrowLeft
                | Key::ArrowRight
        );
        match effect(act, state) {
            _ if writing => Fate::Left,
            Effect::Nothing => Fate::Left,
            Effect::Press | Effect::NextControl | Effect::PreviousControl if own => Fate::Left,
            Effect::Press => Fate::Becomes(Key::Enter, Modifiers::NONE),
            Effect::NextControl => Fate::Becomes(Key::Tab, Modifiers::NONE),
            Effect::PreviousControl => Fate::Becomes(Key::Tab, Modifiers::SHIFT),
            // Until an answer is begun enter belongs to the button that has the keyboard.
            Effect::Leave if own && hands.take_found().is_none() => Fate::Left,
            Effect::Higher | Effect::Lower if proposed => Fate::Taken(act),
            Effect::Higher | Effect::Lower | Effect::Digit | Effect::Pass if !asked => Fate::Left,
            _ => Fate::Taken(act),
        }
    };
    let mut acts = Vec::new();
    ctx.input_mut(|input| {
        input.events.retain_mut(|event| {
            let Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } = event
            else {
                return true;
            };
            let held = modifiers.ctrl || modifiers.alt || modifiers.command;
            if held && hands.keys.act(*key) != Some(Act::BrakeOff) {
                return true;
            }
            match fate(*key) {
                Fate::Taken(act) => {
                    if !*repeat {
                        acts.push(act);
                    }
                    false
                }
                Fate::Becomes(other, with) => {
                    *key = other;
                    *modifiers = with;
                    true
                }
                Fate::Left => true,
            }
        });
    });
    // A stable sort: only brake off moves.
    acts.sort_by_key(|&act| act != Act::BrakeOff);
    acts
}
