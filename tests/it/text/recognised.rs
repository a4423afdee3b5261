//! Words that were kept in English are recognised with their figures, whatever stands beside them, and nothing makes the
//! recogniser fail.

use std::collections::BTreeMap;

use proptest::prelude::*;
use stillroad::text::{Language, entries, translated, within};

use super::everything_said;
use super::sources::figures;

/// A sentence with figures in the place of its names.
fn filled(sentence: &str, values: &BTreeMap<String, String>) -> String {
    let mut filled = String::new();
    let mut rest = sentence;
    while let Some(at) = rest.find('{') {
        let (before, from) = rest.split_at(at);
        filled.push_str(before);
        if let Some(braces) = from.strip_prefix("{{") {
            filled.push('{');
            rest = braces;
            continue;
        }
        let (inside, after) = from[1..].split_once('}').unwrap();
        filled.push_str(&values[inside.split(':').next().unwrap()]);
        rest = after;
    }
    filled.push_str(rest);
    filled.replace("}}", "}")
}

/// Every sentence that the core or an error keeps, with plain figures, is told as its own German and as no other's.
#[test]
fn every_kept_sentence_is_recognised() {
    let german: BTreeMap<&str, &str> = entries(Language::German)
        .unwrap()
        .iter()
        .map(|entry| (entry.english, entry.own))
        .collect();
    let mut wrong = Vec::new();
    for (file, said) in everything_said() {
        for marked in &said.marked {
            let kept = matches!(marked.by.as_str(), "kept" | "error" | "entry");
            let Some(own) = german.get(marked.key.as_str()).filter(|_| kept) else {
                continue;
            };
            let values: BTreeMap<String, String> = figures(&marked.key)
                .into_iter()
                .enumerate()
                .map(|(number, name)| (name, format!("{}", 417 + number)))
                .collect();
            let (english, expected) = (filled(&marked.key, &values), filled(own, &values));
            let told = within(Language::German, || translated(&english).into_owned());
            if told != expected {
                wrong.push(format!(
                    "{file}:{}: {english:?} is told as {told:?} and not {expected:?}",
                    marked.line
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
}

proptest! {
    #[test]
    fn any_text_is_told_somehow(text in "\\PC{0,80}") {
        within(Language::German, || translated(&text).into_owned());
        prop_assert_eq!(translated(&text).into_owned(), text);
    }

    /// Sentences of ours behind one another, cut anywhere.
    #[test]
    fn any_piece_of_sentences_is_told_somehow(at in 0..2_000_usize, other in 0..2_000_usize, cut in 0..200_usize) {
        let entries = entries(Language::German).unwrap();
        let sentence = |at: usize| entries[at % entries.len()].english;
        let both = format!("{} {}", sentence(at), sentence(other));
        let text: String = both.chars().skip(cut / 8).take(cut).collect();
        within(Language::German, || translated(&text).into_owned());
    }
}
