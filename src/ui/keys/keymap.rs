//! Which keys each act is on: the rider's own choice, kept free of conflicts.

use std::collections::BTreeMap;
use std::sync::Arc;

use egui::Key;

use super::acts::{Act, BINDINGS, binding};
use super::names;
use crate::text;

/// So many keys an act can be on.
pub const MOST_KEYS: usize = 4;

/// The keys of every act. No key stands for two acts, the three buttons and brake off are never without one, and escape
/// lets the brake off whatever else is assigned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Keymap {
    keys: Arc<BTreeMap<Act, Vec<Key>>>,
}

impl Default for Keymap {
    fn default() -> Self {
        let keys = BINDINGS
            .iter()
            .map(|binding| (binding.act, binding.keys.to_vec()))
            .collect();
        Self {
            keys: Arc::new(keys),
        }
    }
}

impl Keymap {
    /// The keys of an act, the one that is shown first; empty for a digit.
    pub fn keys(&self, act: Act) -> &[Key] {
        self.keys.get(&act).map_or(&[], Vec::as_slice)
    }

    /// What a key stands for: what it was put on, else the digit that it is.
    pub fn act(&self, key: Key) -> Option<Act> {
        if key == Key::Escape {
            return Some(Act::BrakeOff);
        }
        let put = self
            .keys
            .iter()
            .find(|(_, keys)| keys.contains(&key))
            .map(|(&act, _)| act);
        put.or_else(|| digit(key).map(Act::Digit))
    }

    /// The key of an act as it is written on the screen; a dash where it has none.
    pub fn shown(&self, act: Act) -> String {
        match act {
            Act::Digit(digit) => digit.to_string(),
            _ => self
                .keys(act)
                .first()
                .map_or_else(|| "–".to_owned(), |&key| names::shown(key)),
        }
    }

    /// All keys of an act as they are written on the screen.
    pub fn all_shown(&self, act: Act) -> String {
        let shown: Vec<String> = self
            .keys(act)
            .iter()
            .map(|&key| names::shown(key))
            .collect();
        if shown.is_empty() {
            word!("no key").to_owned()
        } else {
            shown.join(", ")
        }
    }

    /// The same with an act on these keys alone; brake off keeps escape beside them.
    ///
    /// # Errors
    /// A sentence where a key cannot be assigned or stands for another act, where there are more than [`MOST_KEYS`], or
    /// where an act that is needed would be left without a key.
    pub fn put(&self, act: Act, keys: &[Key]) -> Result<Self, String> {
        let Some(row) = binding(act) else {
            return Err(
                word!("A digit is the answer to a question and is not assigned.").to_owned(),
            );
        };
        let mut wanted: Vec<Key> = Vec::new();
        if act == Act::BrakeOff {
            wanted.push(Key::Escape);
        }
        for &key in keys {
            if !wanted.contains(&key) {
                wanted.push(key);
            }
        }
        for &key in &wanted {
            self.check(act, key)?;
        }
        if wanted.len() > MOST_KEYS {
            return Err(say!(
                "{most} keys are the most for one thing. Choose fewer.",
                most = MOST_KEYS
            ));
        }
        if wanted.is_empty() && row.needed {
            return Err(say!(
                "“{act}” is one of the buttons that a ride cannot do without, so it keeps a key. Choose another for it.",
                act = text::word(row.name)
            ));
        }
        let mut map = (*self.keys).clone();
        map.insert(act, wanted);
        Ok(Self {
            keys: Arc::new(map),
        })
    }

    /// The same with one more key for an act.
    ///
    /// # Errors
    /// As [`put`](Self::put).
    pub fn add(&self, act: Act, key: Key) -> Result<Self, String> {
        let mut keys = self.keys(act).to_vec();
        keys.push(key);
        self.put(act, &keys)
    }

    /// Whether a key stands for no act, its meaning as a digit left out.
    pub fn is_free(&self, key: Key) -> bool {
        !self.keys.values().any(|keys| keys.contains(&key))
    }

    /// The same with an act on these keys, whatever else they stand for: a step on the way of reading a file, which
    /// then looks the whole over.
    pub(in crate::ui) fn put_unguarded(&self, act: Act, keys: Vec<Key>) -> Self {
        let mut map = (*self.keys).clone();
        map.insert(act, keys);
        Self {
            keys: Arc::new(map),
        }
    }

    fn check(&self, act: Act, key: Key) -> Result<(), String> {
        if key == Key::Escape && act != Act::BrakeOff {
            return Err(word!(
                "Escape always lets the brake off, so it cannot stand for anything else. Choose another key."
            )
            .to_owned());
        }
        if names::word(key).is_none() {
            return Err(say!(
                "The key {key} cannot be assigned: it moves between controls, or is held while others are pressed. \
                 Choose another key.",
                key = key.name().to_lowercase()
            ));
        }
        let other = self
            .keys
            .iter()
            .find(|(other, keys)| **other != act && keys.contains(&key));
        if let Some((&other, _)) = other {
            let name = binding(other).map_or(entry!("something else"), |row| row.name);
            return Err(say!(
                "The key {key} stands for “{act}” already. Choose another key, or first give “{act}” another.",
                key = names::shown(key),
                act = text::word(name)
            ));
        }
        Ok(())
    }
}

fn digit(key: Key) -> Option<u8> {
    const DIGITS: [Key; 10] = [
        Key::Num0,
        Key::Num1,
        Key::Num2,
        Key::Num3,
        Key::Num4,
        Key::Num5,
        Key::Num6,
        Key::Num7,
        Key::Num8,
        Key::Num9,
    ];
    let place = DIGITS.iter().position(|&each| each == key)?;
    u8::try_from(place).ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn nothing_stands_on_two_acts_at_first() {
        let keymap = Keymap::default();
        for binding in BINDINGS {
            for &key in binding.keys {
                assert_eq!(keymap.act(key), Some(binding.act), "{key:?}");
            }
        }
        assert_eq!(keymap.act(Key::Num7), Some(Act::Digit(7)));
        assert_eq!(keymap.act(Key::Tab), None);
    }

    #[test]
    fn a_key_is_put_and_the_old_one_is_free() {
        let keymap = Keymap::default().put(Act::Yes, &[Key::Num5]).unwrap();
        assert_eq!(keymap.act(Key::Num5), Some(Act::Yes), "before the digit");
        assert_eq!(keymap.act(Key::Enter), None);
        let keymap = keymap.put(Act::More, &[Key::Enter]).unwrap();
        assert_eq!(keymap.act(Key::Enter), Some(Act::More));
    }

    #[test]
    fn conflicts_are_refused_with_a_sentence() {
        let keymap = Keymap::default();
        for (act, keys, says) in [
            (
                Act::Yes,
                &[Key::ArrowUp][..],
                "stands for “more, on” already",
            ),
            (Act::Yes, &[], "keeps a key"),
            (Act::Less, &[], "keeps a key"),
            (Act::More, &[], "keeps a key"),
            (Act::Ease, &[Key::Escape], "always lets the brake off"),
            (Act::Ease, &[Key::Tab], "cannot be assigned"),
            (Act::Ease, &[Key::ShiftLeft], "cannot be assigned"),
            (Act::Digit(3), &[Key::F3], "not assigned"),
            (
                Act::Ease,
                &[Key::F1, Key::F2, Key::F3, Key::F4, Key::F5],
                "the most",
            ),
        ] {
            let refused = keymap.put(act, keys).unwrap_err();
            assert!(refused.contains(says), "{refused}");
        }
        assert!(
            keymap.put(Act::Ease, &[]).is_ok(),
            "the menu has it as well"
        );
    }

    #[test]
    fn brake_off_keeps_escape() {
        let keymap = Keymap::default();
        for keys in [&[][..], &[Key::Num0], &[Key::Escape, Key::F1]] {
            let keymap = keymap.put(Act::BrakeOff, keys).unwrap();
            assert_eq!(keymap.act(Key::Escape), Some(Act::BrakeOff));
            for &key in keys {
                assert_eq!(keymap.act(key), Some(Act::BrakeOff));
            }
        }
    }
}
