//! The keys that an act can be put on, with the words that the settings file and the screen have for them.
//!
//! Left out are those that would lock the rider out or never come alone: tab, which moves between controls, and the keys
//! that are held while another is pressed.

use egui::Key;

/// So many keys can be assigned.
const COUNT: usize = 109;

/// Each key with its word. A keypad's digits and signs come as the plain ones.
pub const KEYS: [(&str, Key); COUNT] = [
    ("escape", Key::Escape),
    ("space", Key::Space),
    ("enter", Key::Enter),
    ("up", Key::ArrowUp),
    ("down", Key::ArrowDown),
    ("left", Key::ArrowLeft),
    ("right", Key::ArrowRight),
    ("page_up", Key::PageUp),
    ("page_down", Key::PageDown),
    ("home", Key::Home),
    ("end", Key::End),
    ("insert", Key::Insert),
    ("delete", Key::Delete),
    ("backspace", Key::Backspace),
    ("period", Key::Period),
    ("comma", Key::Comma),
    ("colon", Key::Colon),
    ("semicolon", Key::Semicolon),
    ("plus", Key::Plus),
    ("minus", Key::Minus),
    ("equals", Key::Equals),
    ("slash", Key::Slash),
    ("backslash", Key::Backslash),
    ("pipe", Key::Pipe),
    ("quote", Key::Quote),
    ("backtick", Key::Backtick),
    ("open_bracket", Key::OpenBracket),
    ("close_bracket", Key::CloseBracket),
    ("play", Key::MediaPlayPause),
    ("next_track", Key::MediaTrackNext),
    ("previous_track", Key::MediaTrackPrevious),
    ("stop", Key::MediaStop),
    ("mute", Key::AudioVolumeMute),
    ("volume_down", Key::AudioVolumeDown),
    ("volume_up", Key::AudioVolumeUp),
    ("browser_back", Key::BrowserBack),
    ("browser_forward", Key::BrowserForward),
    ("browser_home", Key::BrowserHome),
    ("browser_refresh", Key::BrowserRefresh),
    ("browser_search", Key::BrowserSearch),
    ("browser_favorites", Key::BrowserFavorites),
    ("browser_stop", Key::BrowserStop),
    ("mail", Key::LaunchMail),
    ("menu", Key::Menu),
    ("pause", Key::Pause),
    ("scroll_lock", Key::ScrollLock),
    ("print_screen", Key::PrintScreen),
    ("help", Key::Help),
    ("clear", Key::Clear),
    ("0", Key::Num0),
    ("1", Key::Num1),
    ("2", Key::Num2),
    ("3", Key::Num3),
    ("4", Key::Num4),
    ("5", Key::Num5),
    ("6", Key::Num6),
    ("7", Key::Num7),
    ("8", Key::Num8),
    ("9", Key::Num9),
    ("a", Key::A),
    ("b", Key::B),
    ("c", Key::C),
    ("d", Key::D),
    ("e", Key::E),
    ("f", Key::F),
    ("g", Key::G),
    ("h", Key::H),
    ("i", Key::I),
    ("j", Key::J),
    ("k", Key::K),
    ("l", Key::L),
    ("m", Key::M),
    ("n", Key::N),
    ("o", Key::O),
    ("p", Key::P),
    ("q", Key::Q),
    ("r", Key::R),
    ("s", Key::S),
    ("t", Key::T),
    ("u", Key::U),
    ("v", Key::V),
    ("w", Key::W),
    ("x", Key::X),
    ("y", Key::Y),
    ("z", Key::Z),
    ("f1", Key::F1),
    ("f2", Key::F2),
    ("f3", Key::F3),
    ("f4", Key::F4),
    ("f5", Key::F5),
    ("f6", Key::F6),
    ("f7", Key::F7),
    ("f8", Key::F8),
    ("f9", Key::F9),
    ("f10", Key::F10),
    ("f11", Key::F11),
    ("f12", Key::F12),
    ("f13", Key::F13),
    ("f14", Key::F14),
    ("f15", Key::F15),
    ("f16", Key::F16),
    ("f17", Key::F17),
    ("f18", Key::F18),
    ("f19", Key::F19),
    ("f20", Key::F20),
    ("f21", Key::F21),
    ("f22", Key::F22),
    ("f23", Key::F23),
    ("f24", Key::F24),
];

/// The words alone, for the table of the settings file.
pub const WORDS: [&str; COUNT] = {
    let mut words = [""; COUNT];
    let mut index = 0;
    while index < COUNT {
        words[index] = KEYS[index].0;
        index += 1;
    }
    words
};

/// The word of a key, as the settings file has it; none where it cannot be assigned.
pub fn word(key: Key) -> Option<&'static str> {
    KEYS.iter()
        .find(|(_, known)| *known == key)
        .map(|&(word, _)| word)
}

/// The key of a word of the settings file.
pub fn key(word: &str) -> Option<Key> {
    KEYS.iter()
        .find(|(known, _)| *known == word)
        .map(|&(_, key)| key)
}

/// The key as it is written on the screen: "page down", "esc", "+".
pub fn shown(key: Key) -> String {
    let named = match key {
        Key::Escape => word!("esc" # "of a key"),
        Key::Plus => "+",
        Key::Minus => "-",
        Key::Space => word!("space" # "of a key"),
        Key::Enter => word!("enter" # "of a key"),
        Key::ArrowUp => word!("up" # "of a key"),
        Key::ArrowDown => word!("down" # "of a key"),
        Key::ArrowLeft => word!("left" # "of a key"),
        Key::ArrowRight => word!("right" # "of a key"),
        Key::PageUp => word!("page up" # "of a key"),
        Key::PageDown => word!("page down" # "of a key"),
        Key::Home => word!("home" # "of a key"),
        Key::End => word!("end" # "of a key"),
        Key::Insert => word!("insert" # "of a key"),
        Key::Delete => word!("delete" # "of a key"),
        Key::Backspace => word!("backspace" # "of a key"),
        Key::Period => word!("period" # "of a key"),
        Key::Comma => word!("comma" # "of a key"),
        Key::Colon => word!("colon" # "of a key"),
        Key::Semicolon => word!("semicolon" # "of a key"),
        Key::Equals => word!("equals" # "of a key"),
        Key::Slash => word!("slash" # "of a key"),
        Key::Backslash => word!("backslash" # "of a key"),
        Key::Pipe => word!("pipe" # "of a key"),
        Key::Quote => word!("quote" # "of a key"),
        Key::Backtick => word!("backtick" # "of a key"),
        Key::OpenBracket => word!("open bracket" # "of a key"),
        Key::CloseBracket => word!("close bracket" # "of a key"),
        Key::MediaPlayPause => word!("play" # "of a key"),
        Key::MediaTrackNext => word!("next track" # "of a key"),
        Key::MediaTrackPrevious => word!("previous track" # "of a key"),
        Key::MediaStop => word!("stop" # "of a key"),
        Key::AudioVolumeMute => word!("mute" # "of a key"),
        Key::AudioVolumeDown => word!("volume down" # "of a key"),
        Key::AudioVolumeUp => word!("volume up" # "of a key"),
        Key::BrowserBack => word!("browser back" # "of a key"),
        Key::BrowserForward => word!("browser forward" # "of a key"),
        Key::BrowserHome => word!("browser home" # "of a key"),
        Key::BrowserRefresh => word!("browser refresh" # "of a key"),
        Key::BrowserSearch => word!("browser search" # "of a key"),
        Key::BrowserFavorites => word!("browser favorites" # "of a key"),
        Key::BrowserStop => word!("browser stop" # "of a key"),
        Key::LaunchMail => word!("mail" # "of a key"),
        Key::Menu => word!("menu" # "of a key"),
        Key::Pause => word!("pause" # "of a key"),
        Key::ScrollLock => word!("scroll lock" # "of a key"),
        Key::PrintScreen => word!("print screen" # "of a key"),
        Key::Help => word!("help" # "of a key"),
        Key::Clear => word!("clear" # "of a key"),
        // Letters, digits and the numbered keys are the same everywhere.
        _ => return word(key).unwrap_or(key.name()).replace('_', " "),
    };
    named.to_owned()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_word_and_no_key_stands_twice() {
        let words: BTreeSet<_> = WORDS.iter().collect();
        let keys: BTreeSet<_> = KEYS.iter().map(|&(_, key)| key).collect();
        assert_eq!((words.len(), keys.len()), (COUNT, COUNT));
        for (name, each) in KEYS {
            assert_eq!(word(each), Some(name));
            assert_eq!(key(name).unwrap(), each);
        }
    }

    #[test]
    fn what_would_lock_the_rider_out_cannot_be_assigned() {
        for key in [
            Key::Tab,
            Key::ShiftLeft,
            Key::ControlRight,
            Key::AltLeft,
            Key::SuperLeft,
        ] {
            assert_eq!(word(key), None, "{key:?}");
        }
    }
}
