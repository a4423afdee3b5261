//! A rider written over the text of their file: what a hand wrote there stays, comments and order too.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Rider, read, to_toml};

/// How the threshold before the last change is noted in the file.
const BEFORE: &str = "  # before: ";

/// The rider as a file, made from the text that they were read from ([`Rider::source`]): each figure that changed is
/// written in its own line, what is new stands at the end, and everything else stays as it was.
///
/// Where the old text is written in a way that this cannot follow, a value over several lines for instance, the file is
/// written anew and its comments are lost. Either way [`read`] gives the rider back.
pub fn amended(rider: &Rider) -> String {
    let text = patched(rider);
    match read(&text).0 {
        Some(back) if same(&back, rider) => text,
        _ => to_toml(rider),
    }
}

fn same(back: &Rider, rider: &Rider) -> bool {
    let source = Arc::clone(&rider.source);
    let back = Rider {
        source,
        ..back.clone()
    };
    back == *rider
}

/// Brackets opened less those closed, outside of quotes and comments.
fn opened(text: &str) -> i32 {
    let (mut depth, mut quote, mut escaped) = (0, None, false);
    for letter in text.chars() {
        match (quote, letter) {
            _ if escaped => escaped = false,
            (Some('"'), '\\') => escaped = true,
            (Some(open), close) if open == close => quote = None,
            (None, '"' | '\'') => quote = Some(letter),
            (None, '#') => break,
            (None, '[') => depth += 1,
            (None, ']') => depth -= 1,
            _ => {}
        }
    }
    depth
}

fn patched(rider: &Rider) -> String {
    let old = read(&rider.source).0.unwrap_or_default();
    let (before, after) = (lines(&old), lines(rider));
    let mut waiting = after.clone();
    let mut out = String::new();
    // Brackets that are open where a list goes on over several lines, and whether that list is written anew.
    let (mut depth, mut dropping) = (0_i32, false);
    for line in rider.source.split_inclusive('\n') {
        if depth > 0 {
            depth += opened(line);
            if !dropping {
                out += line;
            }
            continue;
        }
        let Some((key, rest)) = key_of(line) else {
            out += line;
            continue;
        };
        let new = waiting.remove(key);
        depth = opened(rest).max(0);
        dropping = new.as_ref() != before.get(key);
        match (new, before.get(key)) {
            // A figure that was taken away.
            (None, Some(_)) => {}
            (Some(new), was) if was != Some(&new) => {
                out += key;
                out += " = ";
                out += &new;
                out += &beside(key, comment(rest), was);
                out += if line.ends_with("\r\n") { "\r\n" } else { "\n" };
            }
            _ => out += line,
        }
    }
    if !out.is_empty() && !out.ends_with('\n') {
        out.push('\n');
    }
    // A cautious value that the file does not give need not be written, unless somebody has checked it.
    let cautious = lines(&Rider::default());
    for line in to_toml(rider).lines() {
        if let Some((key, _)) = line.split_once(" = ")
            && let Some(value) = waiting.get(key)
        {
            let confirmed = super::fields::CONFIRMED.contains(&key)
                && !rider.unconfirmed.iter().any(|other| other == key);
            if confirmed || rider.source.is_empty() || cautious.get(key) != Some(value) {
                out += line;
                out.push('\n');
            }
        }
    }
    out
}

/// Each key with its value as it is written.
fn lines(rider: &Rider) -> BTreeMap<String, String> {
    to_toml(rider)
        .lines()
        .filter_map(|line| line.split_once(" = "))
        .map(|(key, value)| (key.to_owned(), value.to_owned()))
        .collect()
}

/// The key of a line that gives one, and what stands after the equals sign.
fn key_of(line: &str) -> Option<(&str, &str)> {
    let (key, rest) = line.split_once('=')?;
    let key = key.trim();
    let bare = !key.is_empty()
        && key
            .bytes()
            .all(|byte| byte.is_ascii_lowercase() || byte == b'_');
    bare.then_some((key, rest))
}

/// What stands behind a changed value: its comment, and behind a threshold without one what it was before.
fn beside(key: &str, comment: &str, was: Option<&String>) -> String {
    match was {
        Some(was) if key == "threshold" && (comment.is_empty() || comment.starts_with(BEFORE)) => {
            format!("{BEFORE}{was}")
        }
        _ => comment.to_owned(),
    }
}

/// The comment at the end of a value, with the blanks before it.
fn comment(rest: &str) -> &str {
    let rest = rest.trim_end();
    let mut quote = None;
    let mut escaped = false;
    for (at, letter) in rest.char_indices() {
        match (quote, letter) {
            _ if escaped => escaped = false,
            (Some('"'), '\\') => escaped = true,
            (Some(open), close) if open == close => quote = None,
            (None, '"' | '\'') => quote = Some(letter),
            (None, '#') => {
                let value = rest[..at].trim_end().len();
                return &rest[value..];
            }
            _ => {}
        }
    }
    ""
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::units::{Bpm, Watts};

    const HAND: &str = "# The keeper's own figures.\nname = \"Lamp # keeper\" # not a comment inside\n\nthreshold = 180   # from the March test\npower_cap = 260\n\n# Doctor's word, not a formula.\nheart_rate_ceiling = 165\neffort_map = [0.0, 0.2, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.05]\nconfirmed = [\"threshold\"]\n";

    fn rider(text: &str) -> Rider {
        read(text).0.unwrap()
    }

    #[test]
    fn an_unchanged_rider_is_the_same_file() {
        assert_eq!(amended(&rider(HAND)), HAND);
    }

    #[test]
    fn a_list_over_several_lines_is_one_value_and_the_words_around_it_stay() {
        let old = "effort_map = [0.0, 0.2, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.05]\n";
        let broken = "effort_map = [ # easy ones first ]\n  0.0, 0.2, 0.37, 0.47, 0.55, # half\n  0.63, 0.73, 0.82, 0.91, 1.05,\n]\n";
        let text = HAND.replace(old, broken);
        assert_eq!(amended(&rider(&text)), text);
        let other = Rider {
            threshold: Watts(190.0),
            ..rider(&text)
        };
        assert_eq!(
            amended(&other),
            text.replace("threshold = 180 ", "threshold = 190 ")
        );
        let shares = [0.0, 0.2, 0.37, 0.47, 0.55, 0.63, 0.73, 0.82, 0.91, 1.0];
        let learned = Rider {
            effort_map: crate::rider::EffortMap::new(shares).unwrap(),
            ..rider(&text)
        };
        let told = amended(&learned);
        assert_eq!(rider(&told).effort_map, learned.effort_map);
        for kept in [
            "# from the March test",
            "# Doctor's word",
            "# The keeper's own",
        ] {
            assert!(told.contains(kept), "{told}");
        }
        assert!(!told.contains("1.05"), "{told}");
    }

    #[test]
    fn comments_order_and_other_keys_stay() {
        let changed = Rider {
            threshold: Watts(190.0),
            ..rider(HAND)
        };
        assert_eq!(
            amended(&changed),
            HAND.replace("threshold = 180 ", "threshold = 190 ")
        );
        let named = Rider {
            name: "Keeper".into(),
            ..rider(HAND)
        };
        assert_eq!(amended(&named), HAND.replace("Lamp # keeper", "Keeper"));
    }

    #[test]
    fn what_is_taken_away_goes_and_what_is_new_stands_at_the_end() {
        let changed = Rider {
            heart_rate_ceiling: None,
            max_heart_rate: Some(Bpm(182.0)),
            ..rider(HAND)
        };
        let text = amended(&changed);
        assert!(!text.contains("heart_rate_ceiling = "), "{text}");
        assert!(text.ends_with("max_heart_rate = 182\n"), "{text}");
        assert!(text.contains("# Doctor's word"), "{text}");
    }

    #[test]
    fn what_cannot_be_followed_is_written_anew_and_still_right() {
        let text = "threshold = 180\nconfirmed = [\n  \"threshold\", # sure\n]\n";
        let changed = Rider {
            unconfirmed: vec!["power_cap".into(), "sprint_cap".into()],
            ..rider(text)
        };
        let back = rider(&amended(&changed));
        assert_eq!(back.unconfirmed, changed.unconfirmed);
        assert_eq!(back.threshold, Watts(180.0));
    }

    #[test]
    fn a_new_rider_is_a_whole_file() {
        let text = amended(&Rider::default());
        assert_eq!(text, to_toml(&Rider::default()));
    }

    #[test]
    fn windows_line_ends_stay() {
        let text = HAND.replace('\n', "\r\n");
        let changed = Rider {
            threshold: Watts(190.0),
            ..rider(&text)
        };
        assert_eq!(
            amended(&changed),
            text.replace("threshold = 180 ", "threshold = 190 ")
        );
    }
}
