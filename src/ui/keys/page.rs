//! The page of keys, made from the table.

use super::acts::{Act, BINDINGS};
use super::keymap::Keymap;
use super::names::{WORDS, shown};
use super::table::{State, TABLE};

/// Markdown: what each act does in each state, and which keys it is on at first.
pub fn acts() -> String {
    let keymap = Keymap::default();
    let name = |act: Act| {
        BINDINGS
            .iter()
            .find(|binding| binding.act == act)
            .map_or("a digit", |binding| binding.name)
    };
    let columns: Vec<&str> = State::ALL.iter().map(|state| state.name()).collect();
    let mut text = format!(
        "| | keys at first | {} |\n|---|---|{}\n",
        columns.join(" | "),
        "---|".repeat(columns.len())
    );
    for (act, effects) in TABLE {
        let keys = match act {
            Act::Digit(_) => "0 to 9".to_owned(),
            _ => keymap
                .keys(act)
                .iter()
                .map(|&key| format!("`{}`", shown(key)))
                .collect::<Vec<_>>()
                .join(" "),
        };
        let effects: Vec<&str> = effects
            .iter()
            .map(|effect| match effect {
                super::Effect::Nothing => "",
                other => other.words(),
            })
            .collect();
        text.push_str(&format!(
            "| **{}** | {keys} | {} |\n",
            name(act),
            effects.join(" | ")
        ));
    }
    text
}

/// Markdown: the names of all keys that can be assigned.
pub fn names() -> String {
    let names: Vec<String> = WORDS.iter().map(|word| format!("`{word}`")).collect();
    format!("{}.\n", names.join(", "))
}
