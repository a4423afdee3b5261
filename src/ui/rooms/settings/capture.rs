//! Assigning a key by pressing it.

use egui::{Context, Event, Key};

use crate::engine::Command;
use crate::ui::keys::{Act, Keymap};

/// A key that is about to be assigned, and what the last try came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Capture {
    /// The act that waits for its key, and whether the key comes beside those that it has.
    pub waits: Option<(Act, bool)>,
    /// Why the last key was refused, in a sentence.
    pub refused: Option<String>,
}

/// Takes the next key that is pressed and puts the waiting act on it. Every key is taken out of the input meanwhile.
/// Escape leaves the keys as they are; it lets the brake off all the same, and so does any other key of that act.
pub fn capture(ctx: &Context, capture: &mut Capture, keys: &mut Keymap) -> Option<Command> {
    let (act, beside) = capture.waits?;
    let pressed = ctx.input_mut(|input| {
        let mut pressed: Option<Key> = None;
        input.events.retain(|event| match event {
            Event::Key {
                key,
                pressed: true,
                repeat,
                ..
            } => {
                // Of several in one frame escape counts first.
                if !repeat && (pressed.is_none() || *key == Key::Escape) {
                    pressed = Some(*key);
                }
                false
            }
            Event::Text(_) => false,
            _ => true,
        });
        pressed
    })?;
    capture.waits = None;
    capture.refused = None;
    let release = (keys.act(pressed) == Some(Act::BrakeOff)).then_some(Command::BrakeOff);
    if pressed != Key::Escape {
        let changed = if beside {
            keys.add(act, pressed)
        } else {
            keys.put(act, &[pressed])
        };
        match changed {
            Ok(changed) => *keys = changed,
            Err(sentence) => capture.refused = Some(sentence),
        }
    }
    release
}
