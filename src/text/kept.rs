//! Words that were kept in English, recognised by their entries and told in the language of this thread.
//!
//! An entry is a pattern: its words stand fixed, and what lies between them are its figures. Of several that fit, the one
//! with the most fixed letters is meant. Figures are words again where they are entries, but for those that a person
//! chose.

use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::HashMap;

use super::catalogue::{self, Catalogue, Piece, Sentence, with_comma};

/// Figures of these names are a person's own words, or a system's, and stay as they are.
const OWN_WORDS: [&str; 9] = [
    "name", "device", "session", "rider", "file", "folder", "path", "block", "words",
];

/// A sentence in a figure of a sentence, and no deeper.
const DEEPEST: u8 = 3;

/// An entry that begins with a figure says nothing with fewer fixed letters than this.
const LEAST_LETTERS: usize = 4;

/// What was recognised is kept, since a window asks for the same at every frame. All of it goes when there are so many.
const REMEMBERED: usize = 1_024;

thread_local! {
    static KNOWN: RefCell<HashMap<String, String>> = RefCell::new(HashMap::new());
}

/// The words in the language of this thread, as far as they are entries of ours; the rest stays as it is.
pub fn translated(english: &str) -> Cow<'_, str> {
    let language = super::language();
    let Some(catalogue) = catalogue::of(language) else {
        return Cow::Borrowed(english);
    };
    KNOWN.with_borrow_mut(|known| {
        if let Some(words) = known.get(english) {
            return Cow::Owned(words.clone());
        }
        let words = told(catalogue, english, DEEPEST).unwrap_or_else(|| english.to_owned());
        if known.len() >= REMEMBERED {
            known.clear();
        }
        known.insert(english.to_owned(), words.clone());
        Cow::Owned(words)
    })
}

/// The text as one entry, as several one after another, or as one whose figures hold whole sentences.
fn told(catalogue: &Catalogue, text: &str, depth: u8) -> Option<String> {
    one(catalogue, text, depth, false)
        .or_else(|| several(catalogue, text, depth))
        .or_else(|| one(catalogue, text, depth, true))
}

/// The text as one entry. `loose` lets its figures run over the end of a sentence.
fn one(catalogue: &Catalogue, text: &str, depth: u8, loose: bool) -> Option<String> {
    if let Some(word) = catalogue.word(text) {
        return Some(word.to_owned());
    }
    catalogue.sentences().find_map(|sentence| {
        let mut figures = Vec::new();
        (says_enough(sentence, text) && fits(&sentence.english, text, loose, &mut figures))
            .then(|| filled(catalogue, sentence, &figures, depth))
    })
}

/// Whether the fixed words of an entry are enough to know it by.
fn says_enough(sentence: &Sentence, text: &str) -> bool {
    let begins =
        matches!(sentence.english.first(), Some(Piece::Words(words)) if letters(words) >= 3);
    let share = sentence.letters * 4 >= letters(text);
    if begins {
        share || sentence.letters >= 12
    } else {
        share && sentence.letters >= LEAST_LETTERS
    }
}

fn letters(text: &str) -> usize {
    text.chars().filter(|letter| letter.is_alphabetic()).count()
}

/// Whether the text is made of these pieces, and what stands for the figures. A figure is never nothing.
fn fits<'t>(pieces: &[Piece], text: &'t str, loose: bool, figures: &mut Vec<&'t str>) -> bool {
    match pieces {
        [] => text.is_empty(),
        [Piece::Words(words), rest @ ..] => text
            .strip_prefix(words.as_str())
            .is_some_and(|after| fits(rest, after, loose, figures)),
        [Piece::Figure(..), rest @ ..] => {
            let ends = text
                .char_indices()
                .skip(1)
                .map(|(at, _)| at)
                .chain([text.len()]);
            for end in ends {
                let (figure, after) = text.split_at(end);
                if !loose && figure.contains(". ") {
                    break;
                }
                // What follows a figure is fixed words nearly always: the cheap look first.
                let hopeful = match rest.first() {
                    Some(Piece::Words(words)) => after.starts_with(words.as_str()),
                    Some(Piece::Figure(..)) => !after.is_empty(),
                    None => after.is_empty(),
                };
                if figure.is_empty() || !hopeful {
                    continue;
                }
                figures.push(figure);
                if fits(rest, after, loose, figures) {
                    return true;
                }
                figures.pop();
            }
            false
        }
    }
}

/// The sentence in its own language, with the figures that were found in the English.
fn filled(catalogue: &Catalogue, sentence: &Sentence, figures: &[&str], depth: u8) -> String {
    let names = sentence.english.iter().filter_map(|piece| match piece {
        Piece::Figure(name, _) => Some(name.as_str()),
        Piece::Words(_) => None,
    });
    let named: Vec<(&str, &str)> = names.zip(figures.iter().copied()).collect();
    let mut words = String::new();
    for piece in &sentence.own {
        match piece {
            Piece::Words(fixed) => words.push_str(fixed),
            Piece::Figure(name, _) => {
                let figure = named
                    .iter()
                    .find(|(other, _)| other == name)
                    .map_or("", |(_, figure)| figure);
                if OWN_WORDS.contains(&name.as_str()) || depth == 0 {
                    words.push_str(figure);
                } else {
                    match told(catalogue, figure, depth - 1) {
                        Some(inner) => words.push_str(&inner),
                        None => words.push_str(&with_comma(figure)),
                    }
                }
            }
        }
    }
    words
}

/// The text as sentences one after another, the longest entries first; what is none stays. Nothing where none is one.
fn several(catalogue: &Catalogue, text: &str, depth: u8) -> Option<String> {
    let ends: Vec<usize> = [". ", "; ", "\n", ", "]
        .iter()
        .flat_map(|end| text.match_indices(end).map(|(at, end)| at + end.len()))
        .collect();
    if ends.is_empty() || depth == 0 {
        return None;
    }
    let mut ends = ends;
    ends.sort_unstable();
    ends.push(text.len());
    let mut words = String::new();
    let (mut from, mut any) = (0, false);
    while from < text.len() {
        let mut upto = None;
        for &end in ends
            .iter()
            .rev()
            .filter(|&&end| end > from && end - from < text.len())
        {
            let part = &text[from..end];
            let bare = part.trim_end_matches([' ', '\n', ';', ',']);
            if let Some(own) = one(catalogue, bare, depth, false) {
                words.push_str(&own);
                words.push_str(&part[bare.len()..]);
                upto = Some(end);
                any = true;
                break;
            }
        }
        let end = upto.unwrap_or_else(|| {
            let end = ends
                .iter()
                .copied()
                .find(|&end| end > from)
                .unwrap_or(text.len());
            words.push_str(&text[from..end]);
            end
        });
        from = end;
    }
    any.then_some(words)
}

#[cfg(test)]
mod tests {
    use super::super::Entry;
    use super::*;

    const PLANTED: [(&str, &str); 9] = [
        ("Brake off: {why}.", "Bremse gelöst: {why}."),
        ("the pedals stand still", "die Pedale stehen"),
        ("Trainer lost. Ease off.", "Rolle weg. Nachlassen."),
        ("Trainer lost.", "Rolle weg."),
        (
            "The load is {watts} of {most}.",
            "Von {most} liegen {watts} an.",
        ),
        ("{name} was lost.", "{name} ist weg."),
        ("{one} and {two}", "{one} und {two}"),
        ("Hold", "Halten"),
        ("It could not be read: {error}", "Nicht lesbar: {error}"),
    ];

    fn in_german(text: &str) -> Option<String> {
        let entries = PLANTED.map(|(english, own)| Entry {
            file: "planted",
            english,
            own,
        });
        told(&Catalogue::new(&entries), text, DEEPEST)
    }

    #[test]
    fn a_sentence_is_recognised_with_its_figures() {
        for (english, german) in [
            (
                "The load is 192.5 W of 200 W.",
                "Von 200 W liegen 192,5 W an.",
            ),
            (
                "Brake off: the pedals stand still.",
                "Bremse gelöst: die Pedale stehen.",
            ),
            ("Trainer lost. Ease off.", "Rolle weg. Nachlassen."),
            ("Trainer lost. Hold was lost.", "Rolle weg. Hold ist weg."),
            (
                "Trainer lost. Something else. Hold",
                "Rolle weg. Something else. Halten",
            ),
            (
                "It could not be read: Line 3. Column 4.",
                "Nicht lesbar: Line 3. Column 4.",
            ),
        ] {
            assert_eq!(in_german(english).as_deref(), Some(german), "{english}");
        }
    }

    #[test]
    fn what_is_no_entry_stays() {
        for text in [
            "",
            "Bread and butter",
            " was lost.",
            "trainer lost.",
            "Brake off: .",
        ] {
            assert_eq!(in_german(text), None, "{text}");
        }
    }

    #[test]
    fn a_thread_of_english_gets_its_words_back() {
        assert!(matches!(
            translated("Brake off"),
            Cow::Borrowed("Brake off")
        ));
    }
}
