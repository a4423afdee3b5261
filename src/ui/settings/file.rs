//! The file of settings: from text to [`Settings`] with every problem, and back.

use std::fmt::Write as _;

use egui::Key;

use super::Settings;
use super::fields::{FIELDS, SETTINGS};
use crate::cue::{Kind, Kinds};
use crate::text::{self, Language};
use crate::toml_table::{Problem, Problems, Table, Value, Values, decode, parse, read_table};
use crate::ui::keys::{BINDINGS, Keymap, names};
use crate::ui::theme::Ground;

/// Reads settings from a file's text. There always are some: what is not given, or is wrong, keeps its default, and
/// every problem is said.
pub fn read(text: &str) -> (Settings, Vec<Problem>) {
    let text = match decode(text.as_bytes()) {
        Ok(text) => text,
        Err(problem) => return (Settings::default(), vec![problem]),
    };
    let mut problems = Problems::new(text);
    let mut settings = Settings::default();
    parse(text, &mut problems, |entries, lost_keys, problems| {
        let table = Table { at: 0, entries };
        let values = read_table(FIELDS, SETTINGS, table, lost_keys, problems);
        settings = from_values(&values, problems);
    });
    (settings, problems.finish())
}

fn from_values(values: &Values, problems: &mut Problems) -> Settings {
    let usual = Settings::default();
    let length = |key| values.number(key).map(|number| number as f32);
    Settings {
        diagonal_mm: length("diagonal_mm"),
        distance_mm: length("distance_mm"),
        // The bounds of the field keep it from 100 to 200.
        text_size: values
            .number("text_size")
            .map_or(usual.text_size, |number| number as u8),
        // None is the code of "system".
        language: values.word("language").and_then(Language::from_code),
        ground: match values.word("ground") {
            Some("paper") => Ground::Paper,
            Some(_) => Ground::Dark,
            None => usual.ground,
        },
        reduced_motion: values
            .flag("reduced_motion")
            .unwrap_or(usual.reduced_motion),
        kinds: kinds(values),
        keys: keymap(values, problems),
    }
}

/// What is heard, by the file over what is heard at first.
fn kinds(values: &Values) -> Kinds {
    let mut kinds = Kinds::default();
    if let Some(on) = values.flag("sound") {
        kinds.on = on;
    }
    for kind in Kind::ALL {
        if let Some(heard) = values.flag(kind.key()) {
            kinds = kinds.with(kind, heard);
        }
    }
    kinds
}

/// The keys of the file over those of a first start. An act that the file puts on a key takes it from the act that had
/// it at first, unless the file puts that act there itself: then it is a conflict.
fn keymap(values: &Values, problems: &mut Problems) -> Keymap {
    let given: Vec<_> = BINDINGS
        .iter()
        .filter_map(|binding| match values.get(binding.setting) {
            Some(Value::Words(words)) => {
                let keys: Vec<Key> = words.iter().filter_map(|word| names::key(word)).collect();
                Some((binding, keys))
            }
            _ => None,
        })
        .collect();
    let mut map = Keymap::default();
    // What the file moves is first taken from where it stood, so that the order of lines does not matter.
    for binding in BINDINGS {
        let named = given.iter().any(|(each, _)| each.act == binding.act);
        let kept: Vec<Key> = binding
            .keys
            .iter()
            .copied()
            .filter(|key| !named && !given.iter().any(|(_, keys)| keys.contains(key)))
            .collect();
        map = map.put_unguarded(binding.act, kept);
    }
    for (binding, keys) in &given {
        match map.put(binding.act, keys) {
            Ok(changed) => map = changed,
            Err(what) => {
                let (what, instead) = what.split_once(". ").unwrap_or((&what, ""));
                problems.error(values.at(binding.setting), format!("{what}."), instead);
            }
        }
    }
    // An act that is needed and lost all its keys, to others or by a slip, gets back those that are free.
    for binding in BINDINGS.iter().filter(|binding| binding.needed) {
        if map.keys(binding.act).is_empty() {
            let free: Vec<Key> = binding
                .keys
                .iter()
                .copied()
                .filter(|&key| map.is_free(key))
                .collect();
            match map.put(binding.act, &free) {
                Ok(changed) => map = changed,
                Err(_) => {
                    let what = say!(
                        "“{act}” is one of the buttons that a ride cannot do without, and its keys are given to others.",
                        act = text::word(binding.name)
                    );
                    let instead = say!(
                        "Give {setting} a key; all keys stand as at first.",
                        setting = binding.setting
                    );
                    problems.error(values.at(binding.setting), what, instead);
                    return Keymap::default();
                }
            }
        }
    }
    map
}

/// Settings as a file that [`read`] gives back the same. Keys and kinds of sound that are as at first are left out, and the
/// language where it is the system's.
pub fn to_toml(settings: &Settings) -> String {
    let mut text = String::new();
    let mut line = |key: &str, value: String| {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{key} = {value}");
    };
    for (key, length) in [
        ("diagonal_mm", settings.diagonal_mm),
        ("distance_mm", settings.distance_mm),
    ] {
        if let Some(length) = length {
            line(key, length.to_string());
        }
    }
    line("text_size", settings.text_size.to_string());
    if let Some(language) = settings.language {
        line("language", format!("\"{}\"", language.code()));
    }
    let ground = match settings.ground {
        Ground::Dark => "dark",
        Ground::Paper => "paper",
    };
    line("ground", format!("\"{ground}\""));
    line("reduced_motion", settings.reduced_motion.to_string());
    let first = Kinds::default();
    line("sound", settings.kinds.on.to_string());
    for kind in Kind::ALL {
        let heard = settings.kinds.chosen(kind);
        if heard != first.chosen(kind) {
            line(kind.key(), heard.to_string());
        }
    }
    let usual = Keymap::default();
    for binding in BINDINGS {
        let keys = settings.keys.keys(binding.act);
        if keys != usual.keys(binding.act) {
            let words: Vec<String> = keys
                .iter()
                .filter_map(|&key| names::word(key))
                .map(|word| format!("\"{word}\""))
                .collect();
            line(binding.setting, format!("[{}]", words.join(", ")));
        }
    }
    text
}
