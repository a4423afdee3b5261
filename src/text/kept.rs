//! Words that were kept in English, recognised by their entries and told in the language of this thread.
//!
//! An entry is a pattern: its words stand fixed, and what lies between them are its figures. Of several that fit, the one
//! with the most fixed letters is meant. Figures are words again where they are entries, but for those that a person
//! chose. Texts come from files that others sent too, so what one of them may cost is bounded.

use std::borrow::Cow;
use std::cell::{Cell, RefCell};
use std::collections::HashMap;

use super::catalogue::{self, Catalogue, Piece, Sentence, with_comma};

/// Figures of these names are a person's own words, or a system's, and stay as they are.
const OWN_WORDS: [&str; 18] = [
    "name",
    "names",
    "device",
    "session",
    "rider",
    "file",
    "folder",
    "path",
    "place",
    "aside",
    "recording",
    "rides",
    "out",
    "block",
    "words",
    "word",
    "key",
    "text",
];

/// A figure of this name is an entry, so that one of two words is not taken for its first.
const ENTRY: &str = "what";

/// A sentence in a figure of a sentence, and no deeper.
const DEEPEST: u8 = 2;

/// An entry that begins with a figure says nothing with fewer fixed letters than this.
const LEAST_LETTERS: usize = 4;

/// Octets of a text that is looked at; a longer one is none of ours.
const LONGEST: usize = 1_200;

/// So much is tried for one text, in places of its figures; a text of ours takes some hundreds.
const MOST_TRIES: u32 = 20_000;

/// What it costs to go once through all entries, in tries.
const ALL_ENTRIES: u32 = 20;

/// Sentences behind one another that are looked at as one entry.
const MOST_SENTENCES: usize = 6;

/// What was recognised is kept, since a window asks for the same at every frame. All of it goes when there are so many:
/// a megabyte or two.
const REMEMBERED: usize = 1_024;

thread_local! {
    static KNOWN: RefCell<HashMap<String, String>> = RefCell::new(HashMap::new());
}

/// The words in the language of this thread, as far as they are entries of ours; the rest stays as it is.
pub fn translated(english: &str) -> Cow<'_, str> {
    let Some(catalogue) = catalogue::of(super::language()) else {
        return Cow::Borrowed(english);
    };
    if english.len() > LONGEST {
        return Cow::Borrowed(english);
    }
    if let Some(words) = KNOWN.with_borrow(|known| known.get(english).cloned()) {
        return Cow::Owned(words);
    }
    let words = Recogniser::new(catalogue).told(english, DEEPEST);
    let words = words.unwrap_or_else(|| english.to_owned());
    KNOWN.with_borrow_mut(|known| {
        if known.len() >= REMEMBERED {
            known.clear();
        }
        known.insert(english.to_owned(), words.clone());
    });
    Cow::Owned(words)
}

/// Looks for the entries that one text is made of.
struct Recogniser<'c> {
    catalogue: &'c Catalogue,
    tries: Cell<u32>,
}

impl<'c> Recogniser<'c> {
    const fn new(catalogue: &'c Catalogue) -> Self {
        Self {
            catalogue,
            tries: Cell::new(MOST_TRIES),
        }
    }

    /// Whether there is still something to be tried.
    fn may_try(&self, cost: u32) -> bool {
        let left = self.tries.get().checked_sub(cost);
        self.tries.set(left.unwrap_or(0));
        left.is_some()
    }

    /// The text as one entry, as several one after another, or as one whose figures hold whole sentences.
    fn told(&self, text: &str, depth: u8) -> Option<String> {
        self.one(text, depth, false)
            .or_else(|| self.several(text, depth))
            .or_else(|| self.one(text, depth, true))
    }

    /// The text as one entry. `loose` lets its figures run over the end of a sentence.
    fn one(&self, text: &str, depth: u8, loose: bool) -> Option<String> {
        if let Some(word) = self.catalogue.word(text) {
            return Some(word.to_owned());
        }
        if !self.may_try(ALL_ENTRIES) {
            return None;
        }
        self.catalogue.sentences().find_map(|sentence| {
            let mut figures = Vec::new();
            (may_be(sentence, text)
                && says_enough(sentence, text)
                && self.fits(&sentence.english, text, loose, &mut figures))
            .then(|| self.filled(sentence, &figures, depth))
        })
    }

    /// Whether the text is made of these pieces, and what stands for the figures. A figure is never nothing.
    fn fits<'t>(
        &self,
        pieces: &[Piece],
        text: &'t str,
        loose: bool,
        figures: &mut Vec<&'t str>,
    ) -> bool {
        let (name, rest) = match pieces {
            [] => return text.is_empty(),
            [Piece::Words(words), rest @ ..] => {
                return text
                    .strip_prefix(words.as_str())
                    .is_some_and(|after| self.fits(rest, after, loose, figures));
            }
            [Piece::Figure(name, _), rest @ ..] => (name, rest),
        };
        // The point of a sentence may end a figure, and what follows it is none of it.
        let most = match text.find(". ") {
            Some(at) if !loose => at + 1,
            _ => text.len(),
        };
        let only_entries = [name == ENTRY, false];
        let passes = if name == ENTRY {
            &only_entries[..]
        } else {
            &only_entries[1..]
        };
        for &only_entry in passes {
            let mut from = text.chars().next().map_or(0, char::len_utf8);
            while let Some(end) = next_end(rest, text, from).filter(|end| *end <= most) {
                if !self.may_try(1) {
                    return false;
                }
                let (figure, after) = text.split_at(end);
                if !figure.is_empty() && (!only_entry || self.catalogue.word(figure).is_some()) {
                    figures.push(figure);
                    if self.fits(rest, after, loose, figures) {
                        return true;
                    }
                    figures.pop();
                }
                from = end + after.chars().next().map_or(1, char::len_utf8);
            }
        }
        false
    }

    /// The sentence in its own language, with the figures that were found in the English.
    fn filled(&self, sentence: &Sentence, figures: &[&str], depth: u8) -> String {
        let names = sentence.english.iter().filter_map(|piece| match piece {
            Piece::Figure(name, _) => Some(name.as_str()),
            Piece::Words(_) => None,
        });
        let named: Vec<(&str, &str)> = names.zip(figures.iter().copied()).collect();
        let mut words = String::new();
        for piece in &sentence.own {
            let name = match piece {
                Piece::Words(fixed) => {
                    words.push_str(fixed);
                    continue;
                }
                Piece::Figure(name, _) => name,
            };
            let found = named.iter().find(|(other, _)| other == name);
            let figure = found.map_or("", |(_, figure)| figure);
            if OWN_WORDS.contains(&name.as_str()) || depth == 0 {
                words.push_str(figure);
            } else {
                match self.told(figure, depth - 1) {
                    Some(inner) => words.push_str(&inner),
                    None => words.push_str(&with_comma(figure)),
                }
            }
        }
        words
    }

    /// The text as sentences one after another, the longest entries first; what is none stays. Nothing where none is one.
    fn several(&self, text: &str, depth: u8) -> Option<String> {
        let mut ends: Vec<usize> = [". ", "; ", "\n", ", "]
            .iter()
            .flat_map(|end| text.match_indices(end).map(|(at, end)| at + end.len()))
            .collect();
        if ends.is_empty() || depth == 0 {
            return None;
        }
        ends.sort_unstable();
        ends.push(text.len());
        let mut words = String::new();
        let (mut from, mut any) = (0, false);
        while from < text.len() {
            let behind = ends.partition_point(|&end| end <= from);
            let near = &ends[behind..ends.len().min(behind + MOST_SENTENCES)];
            let found = near.iter().rev().find_map(|&end| {
                let part = &text[from..end];
                if part.len() == text.len() {
                    return None;
                }
                let bare = part.trim_end_matches([' ', '\n', ';', ',']);
                let own = self.one(bare, depth, false)?;
                Some((end, own + &part[bare.len()..]))
            });
            from = if let Some((end, own)) = found {
                words.push_str(&own);
                any = true;
                end
            } else {
                let end = near.first().copied().unwrap_or(text.len());
                words.push_str(&text[from..end]);
                end
            };
        }
        any.then_some(words)
    }
}

/// Where a figure may end that begins the text, from this octet on: before the fixed words that follow it, before any
/// letter where another figure follows, and else at the end.
fn next_end(rest: &[Piece], text: &str, from: usize) -> Option<usize> {
    let behind = text.get(from..)?;
    match rest {
        [] => (!text.is_empty() && from <= text.len()).then_some(text.len()),
        // The last words stand at the end.
        [Piece::Words(words)] => {
            let end = text.len().checked_sub(words.len())?;
            (end >= from && text.ends_with(words.as_str())).then_some(end)
        }
        [Piece::Words(words), ..] => behind.find(words.as_str()).map(|at| from + at),
        [Piece::Figure(..), ..] => (from < text.len()).then_some(from),
    }
}

/// Whether an entry may fit at all, by its beginning and its end.
fn may_be(sentence: &Sentence, text: &str) -> bool {
    let begins = match sentence.english.first() {
        Some(Piece::Words(words)) => text.starts_with(words.as_str()),
        _ => true,
    };
    let ends = match sentence.english.last() {
        Some(Piece::Words(words)) => text.ends_with(words.as_str()),
        _ => true,
    };
    begins && ends
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

#[cfg(test)]
mod tests {
    use super::super::{Entry, Language};
    use super::*;

    const PLANTED: [(&str, &str); 11] = [
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
        ("The {what} {place} is empty.", "{what} {place} ist leer."),
        ("session file", "Einheitendatei"),
    ];

    fn in_german(text: &str) -> Option<String> {
        let entries = PLANTED.map(|(english, own)| Entry {
            file: "planted",
            english,
            own,
        });
        Recogniser::new(&Catalogue::new(&entries)).told(text, DEEPEST)
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
            (
                "The session file my rides/Hold is empty.",
                "Einheitendatei my rides/Hold ist leer.",
            ),
            ("The other file Hold is empty.", "other file Hold ist leer."),
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

    /// Nothing that somebody sends costs more than its tries, and all of it comes back.
    #[test]
    fn whatever_is_sent_is_looked_at_within_bounds() {
        let entries = PLANTED.map(|(english, own)| Entry {
            file: "planted",
            english,
            own,
        });
        let catalogue = Catalogue::new(&entries);
        for piece in [
            "ab, ",
            ". ",
            "The load is of ",
            "x and ",
            "It is so. ",
            "Hold; ",
            "ä",
        ] {
            for count in [10, 100, 1_000] {
                let text = piece.repeat(count);
                let recogniser = Recogniser::new(&catalogue);
                let told = recogniser
                    .told(&text, DEEPEST)
                    .unwrap_or_else(|| text.clone());
                assert!(told.len() >= text.len() / 2, "{piece:?} {count}");
                assert!(super::super::within(Language::German, || translated(&text).len()) > 0);
            }
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
