//! Names and addresses from outside, made safe: what a device calls itself is text from a stranger, and what a rider
//! types is an address in any spelling.

use crate::device::DeviceId;

/// How much of a name is shown, in characters. A name fits in 29 octets of an advertisement, so a longer one is odd.
pub const LONGEST_NAME: usize = 40;

/// What a device without a usable name is called.
pub const NAMELESS: &str = entry!("(no name)");

/// A name from the air as it can be shown in a terminal or a window: one line, no control characters, no marks that
/// change the direction of writing, hide or stretch over other text, at most [`LONGEST_NAME`] characters.
///
/// Nothing left gives [`NAMELESS`].
pub fn safe_name(text: &str) -> String {
    let safe = safe_text(text, LONGEST_NAME);
    if safe.is_empty() {
        NAMELESS.to_owned()
    } else {
        safe
    }
}

/// A text from the air, made safe in the same way, of at most so many characters; empty where nothing is left.
pub fn safe_text(text: &str, longest: usize) -> String {
    let mut safe = String::new();
    let mut characters = 0;
    let mut marks = 0;
    for character in text.chars() {
        // A cell of no dots is a blank to the eye, and no white space to Unicode.
        let space = character.is_whitespace() || character == '\u{2800}';
        if !space && (character.is_control() || hidden(character)) {
            continue;
        }
        // Stacked accents would cover the lines around them.
        let (mark, most) = if combining(character) {
            (true, 1)
        } else {
            // A vowel and a tone, or a vowel and a doubling, stand over one letter in these scripts.
            (mark_of_a_script(character), 2)
        };
        marks = if mark { marks + 1 } else { 0 };
        if mark && marks > most {
            continue;
        }
        if space && (safe.is_empty() || safe.ends_with(' ')) {
            continue;
        }
        if characters == longest {
            safe.truncate(safe.trim_end().len());
            safe.push('…');
            return safe;
        }
        safe.push(if space { ' ' } else { character });
        characters += 1;
    }
    safe.truncate(safe.trim_end().len());
    safe
}

/// Names to be listed beside each other, from names made safe and their addresses: those that look the same get the end
/// of their address behind them, as much of it as tells them apart.
pub fn told_apart(devices: &[(&str, &str)]) -> Vec<String> {
    let same = |a: &str, b: &str| a.to_lowercase() == b.to_lowercase();
    let end = |address: &str, length: usize| {
        let from = address.chars().count().saturating_sub(length);
        address.chars().skip(from).collect::<String>()
    };
    devices
        .iter()
        .enumerate()
        .map(|(at, (name, address))| {
            let others: Vec<_> = devices
                .iter()
                .enumerate()
                .filter(|(other, (called, _))| *other != at && same(called, name))
                .map(|(_, (_, address))| *address)
                .collect();
            if others.is_empty() {
                return (*name).to_owned();
            }
            // Two pairs of digits, then whole pairs more.
            let apart = |length: &usize| {
                let mine = end(address, *length);
                others.iter().all(|other| end(other, *length) != mine)
            };
            let length = (5..17).step_by(3).find(apart).unwrap_or(17);
            format!("{name} [{}]", end(address, length))
        })
        .collect()
}

/// Whether a listed name is what a device is called, with or without the end of its address, in any case.
pub fn is_called(listed: &str, text: &str) -> bool {
    let bare = listed
        .strip_suffix(']')
        .and_then(|rest| rest.rsplit_once(" ["))
        .map_or(listed, |(name, _)| name);
    listed.eq_ignore_ascii_case(text) || bare.eq_ignore_ascii_case(text)
}

/// Characters that show nothing themselves and change how the rest is shown: Unicode's bidirectional controls, zero
/// width and other format characters, variation selectors, tags, private use and what is not a character.
fn hidden(character: char) -> bool {
    matches!(
        u32::from(character),
        0x00AD
            | 0x034F
            | 0x061C
            | 0x115F..=0x1160
            | 0x17B4..=0x17B5
            | 0x180B..=0x180F
            | 0x200B..=0x200F
            | 0x202A..=0x202E
            | 0x2060..=0x206F
            | 0x3164
            | 0xE000..=0xF8FF
            | 0xFE00..=0xFE0F
            | 0xFEFF
            | 0xFFA0
            | 0xFFF0..=0xFFFF
            | 0x13430..=0x13455
            | 0x1BCA0..=0x1BCA3
            | 0x1D159
            | 0x1D173..=0x1D17A
            | 0xE0000..=0x10FFFF
    )
}

/// The blocks of combining marks that stack: enough to keep a name on its line.
fn combining(character: char) -> bool {
    matches!(
        u32::from(character),
        0x0300..=0x036F | 0x0483..=0x0489 | 0x1AB0..=0x1AFF | 0x1DC0..=0x1DFF | 0x20D0..=0x20FF | 0xFE20..=0xFE2F
    )
}

/// The marks of Hebrew, Arabic, Syriac, Thai, Lao and Tibetan that stand over or under a letter, by Unicode's blocks.
fn mark_of_a_script(character: char) -> bool {
    matches!(
        u32::from(character),
        0x0591..=0x05BD
            | 0x05BF
            | 0x05C1..=0x05C2
            | 0x05C4..=0x05C5
            | 0x05C7
            | 0x0610..=0x061A
            | 0x064B..=0x065F
            | 0x0670
            | 0x06D6..=0x06DC
            | 0x06DF..=0x06E4
            | 0x06E7..=0x06E8
            | 0x06EA..=0x06ED
            | 0x0711
            | 0x0730..=0x074A
            | 0x0E31
            | 0x0E34..=0x0E3A
            | 0x0E47..=0x0E4E
            | 0x0EB1
            | 0x0EB4..=0x0EBC
            | 0x0EC8..=0x0ECE
            | 0x0F71..=0x0F7E
            | 0x0F80..=0x0F84
            | 0x0F8D..=0x0FBC
    )
}

/// The device that an address names: six pairs of hexadecimal digits parted by colons or hyphens, in any case.
///
/// The radio spells addresses with colons and capitals, and so does what is returned. Anything else is no address.
pub fn device_at(address: &str) -> Option<DeviceId> {
    let pairs: Vec<&str> = address.trim().split([':', '-']).collect();
    let whole = pairs.len() == 6
        && pairs
            .iter()
            .all(|pair| pair.len() == 2 && pair.bytes().all(|digit| digit.is_ascii_hexdigit()));
    whole.then(|| DeviceId::new(pairs.join(":").to_ascii_uppercase()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ordinary_names_stay_as_they_are() {
        for name in [
            "Rig Trainer",
            "Émile's bike 2",
            "自転車",
            "Vélo d'Anaïs (3)",
            "e\u{301}",
        ] {
            assert_eq!(safe_name(name), name);
        }
    }

    #[test]
    fn what_would_move_or_hide_text_is_taken_out() {
        for (sent, shown) in [
            ("a\u{1b}[2Jb", "a[2Jb"),
            ("one\r\ntwo\tthree", "one two three"),
            ("\u{202e}reniarT\u{202c}", "reniarT"),
            ("a\u{200b}\u{200d}\u{feff}b\u{2066}c", "abc"),
            ("x\0\u{7f}\u{9b}y", "xy"),
            ("  padded  out  ", "padded out"),
            ("tag\u{e0041}\u{10ffff}", "tag"),
            ("z\u{301}\u{302}\u{303}", "z\u{301}"),
            ("line\u{2028}end", "line end"),
            // Thai "ที่" has a vowel and a tone over its letter; a pile of tones has no meaning.
            ("ที่", "ที่"),
            (
                "\u{e17}\u{e48}\u{e48}\u{e48}\u{e48}",
                "\u{e17}\u{e48}\u{e48}",
            ),
            (
                "\u{628}\u{64e}\u{651}\u{650}\u{652}",
                "\u{628}\u{64e}\u{651}",
            ),
            ("\u{2800}a\u{2800}\u{2800}b\u{2800}", "a b"),
            ("a\u{a0}\u{3000}b\u{1d173}c", "a bc"),
        ] {
            assert_eq!(safe_name(sent), shown, "{sent:?}");
        }
    }

    #[test]
    fn nothing_left_is_said_and_too_much_is_cut() {
        for nothing in ["", " ", "\u{200e}\n", "\0\0\0"] {
            assert_eq!(safe_name(nothing), NAMELESS);
        }
        let long = "n".repeat(41);
        assert_eq!(safe_name(&long), format!("{}…", "n".repeat(40)));
        assert_eq!(safe_name(&long[..40]), "n".repeat(40));
        assert_eq!(
            safe_name(&format!("{} tail", "n".repeat(39))),
            format!("{}…", "n".repeat(39))
        );
    }

    #[test]
    fn devices_of_one_name_are_told_apart_by_the_end_of_their_address() {
        let shown = told_apart(&[
            ("T", "F0:00:00:00:AB:01"),
            ("Strap", "F0:00:00:00:00:01"),
            ("t", "F0:00:00:00:AB:02"),
            ("Meter", "F0:00:00:01:AB:02"),
            ("Meter", "F0:00:00:02:AB:02"),
            ("Same", "x"),
            ("Same", "x"),
        ]);
        assert_eq!(
            shown,
            [
                "T [AB:01]",
                "Strap",
                "t [AB:02]",
                "Meter [01:AB:02]",
                "Meter [02:AB:02]",
                "Same [x]",
                "Same [x]",
            ]
        );
        assert!(is_called("T [AB:01]", "t") && is_called("T [AB:01]", "T [ab:01]"));
        assert!(is_called("Bike [two]", "bike [two]"));
        assert!(!is_called("T [AB:01]", "[AB:01]") && !is_called("Strap", "Str"));
    }

    #[test]
    fn addresses_are_known_in_any_spelling_and_nothing_else_is() {
        let device = DeviceId::new("F0:00:00:00:AB:01");
        for spelling in [
            "F0:00:00:00:AB:01",
            "f0:00:00:00:ab:01",
            " f0-00-00-00-aB-01\n",
        ] {
            assert_eq!(device_at(spelling), Some(device.clone()), "{spelling}");
        }
        for other in [
            "",
            "F0:00:00:00:AB",
            "F0:00:00:00:AB:01:02",
            "F0:00:00:00:AB:0",
            "F0:00:00:00:AB:+1",
            "G0:00:00:00:AB:01",
            "F0000000AB01",
            "practice",
        ] {
            assert_eq!(device_at(other), None, "{other}");
        }
    }

    proptest! {
        #[test]
        fn whatever_is_sent_one_short_line_is_shown(sent in any::<String>()) {
            let shown = safe_name(&sent);
            prop_assert!(!shown.is_empty());
            prop_assert!(shown.chars().count() <= LONGEST_NAME + 1);
            prop_assert!(!shown.chars().any(|c| c.is_control()));
            prop_assert_eq!(safe_name(&shown).chars().take(LONGEST_NAME).collect::<String>(),
                shown.chars().take(LONGEST_NAME).collect::<String>());
        }
    }
}
