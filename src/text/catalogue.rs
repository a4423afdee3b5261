//! The entries of a language: English to its own words, and a sentence filled with its figures.

use std::borrow::Cow;
use std::cmp::Reverse;
use std::collections::HashMap;
use std::fmt;
use std::sync::OnceLock;

use super::Language;

/// The German, a file for each part of the program.
const GERMAN: &[(&str, &str)] = &[
    (
        "command_line.toml",
        include_str!("german/command_line.toml"),
    ),
    ("engine.toml", include_str!("german/engine.toml")),
    ("help.toml", include_str!("german/help.toml")),
    (
        "prepare_and_finish.toml",
        include_str!("german/prepare_and_finish.toml"),
    ),
    ("review.toml", include_str!("german/review.toml")),
    ("ride.toml", include_str!("german/ride.toml")),
    ("ride_room.toml", include_str!("german/ride_room.toml")),
    (
        "sessions_and_riders.toml",
        include_str!("german/sessions_and_riders.toml"),
    ),
    (
        "write_and_review_rooms.toml",
        include_str!("german/write_and_review_rooms.toml"),
    ),
];

/// A sentence in English, the key, and in its own language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The file that it stands in.
    pub file: &'static str,
    /// The English, with names for its figures and, after `#`, what tells it from others of the same letters.
    pub english: &'static str,
    /// The same in the language.
    pub own: &'static str,
}

/// All entries of a language, by file; none for English, which is the key.
///
/// # Errors
/// A sentence where a file cannot be read.
pub fn entries(language: Language) -> Result<Vec<Entry>, String> {
    let files = match language {
        Language::English => &[],
        Language::German => GERMAN,
    };
    let mut entries = Vec::new();
    for &(file, text) in files {
        let table: toml::Table = text.parse().map_err(|error| format!("{file}: {error}"))?;
        for (english, own) in table {
            let toml::Value::String(own) = own else {
                return Err(format!("{file}: {english:?} is no text."));
            };
            // Read once a run, and spoken until its end.
            let (english, own) = (english.leak(), own.leak());
            entries.push(Entry { file, english, own });
        }
    }
    Ok(entries)
}

/// A sentence or a part of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    Words(String),
    /// A figure by its name, and how it is written: what stands after the colon.
    Figure(String, String),
}

/// The pieces of a sentence. Doubled braces are braces.
pub(super) fn pieces(text: &str) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut words = String::new();
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '{' | '}' if letters.peek() == Some(&letter) => {
                letters.next();
                words.push(letter);
            }
            '{' => {
                let inside: String = letters
                    .by_ref()
                    .take_while(|&letter| letter != '}')
                    .collect();
                if !words.is_empty() {
                    pieces.push(Piece::Words(std::mem::take(&mut words)));
                }
                let (name, form) = inside.split_once(':').unwrap_or((&inside, ""));
                pieces.push(Piece::Figure(name.to_owned(), form.to_owned()));
            }
            _ => words.push(letter),
        }
    }
    if !words.is_empty() {
        pieces.push(Piece::Words(words));
    }
    pieces
}

/// How many signs of this sort are fixed in a sentence.
fn fixed(pieces: &[Piece], counts: impl Fn(char) -> bool) -> usize {
    let words = pieces.iter().filter_map(|piece| match piece {
        Piece::Words(words) => Some(words.chars().filter(|&sign| counts(sign)).count()),
        Piece::Figure(..) => None,
    });
    words.sum()
}

/// A sentence with figures, in both languages.
#[derive(Debug)]
pub(super) struct Sentence {
    pub(super) english: Vec<Piece>,
    pub(super) own: Vec<Piece>,
    /// How many letters of the English are fixed.
    pub(super) letters: usize,
}

/// A language's entries at hand.
#[derive(Debug)]
pub(super) struct Catalogue {
    words: HashMap<&'static str, &'static str>,
    /// Those with the most fixed letters first.
    sentences: Vec<Sentence>,
    /// Where a sentence stands among them, by its key.
    places: HashMap<&'static str, usize>,
}

impl Catalogue {
    pub(super) fn new(entries: &[Entry]) -> Self {
        let mut words = HashMap::new();
        let mut keyed = Vec::new();
        for entry in entries {
            let english = pieces(entry.english);
            if english.iter().all(|piece| matches!(piece, Piece::Words(_))) {
                words.insert(entry.english, entry.own);
                continue;
            }
            let letters = fixed(&english, char::is_alphabetic);
            let own = in_the_forms_of(&english, pieces(entry.own));
            keyed.push((
                entry.english,
                Sentence {
                    english,
                    own,
                    letters,
                },
            ));
        }
        // Of as many letters those with more marks between them.
        keyed.sort_by_cached_key(|(key, sentence)| {
            let signs = fixed(&sentence.english, |_| true);
            (Reverse(sentence.letters), Reverse(signs), *key)
        });
        let places = keyed
            .iter()
            .enumerate()
            .map(|(at, (key, _))| (*key, at))
            .collect();
        let sentences = keyed.into_iter().map(|(_, sentence)| sentence).collect();
        Self {
            words,
            sentences,
            places,
        }
    }

    pub(super) fn word(&self, english: &str) -> Option<&'static str> {
        self.words.get(english).copied()
    }

    /// Every sentence with figures, those with the most fixed letters first.
    pub(super) fn sentences(&self) -> impl Iterator<Item = &Sentence> {
        self.sentences.iter()
    }

    pub(super) fn said(&self, key: &str, figures: &[(&str, &dyn fmt::Display)]) -> Option<String> {
        let sentence = self.sentences.get(*self.places.get(key)?)?;
        let mut said = String::new();
        for piece in &sentence.own {
            match piece {
                Piece::Words(words) => said.push_str(words),
                Piece::Figure(name, form) => {
                    let (_, figure) = figures.iter().find(|(figure, _)| figure == name)?;
                    said.push_str(&with_comma(&written(*figure, form)));
                }
            }
        }
        Some(said)
    }
}

/// A figure without a form of its own is written as the English writes it.
fn in_the_forms_of(english: &[Piece], mut own: Vec<Piece>) -> Vec<Piece> {
    for piece in &mut own {
        if let Piece::Figure(name, form) = piece
            && form.is_empty()
        {
            for other in english {
                if let Piece::Figure(same, written) = other
                    && same == name
                {
                    form.clone_from(written);
                }
            }
        }
    }
    own
}

/// The catalogue of a language; none for English. A file that cannot be read is an error of the program that its tests
/// find; the words are English then.
pub(super) fn of(language: Language) -> Option<&'static Catalogue> {
    static GERMAN: OnceLock<Catalogue> = OnceLock::new();
    match language {
        Language::English => None,
        Language::German => {
            Some(GERMAN.get_or_init(|| Catalogue::new(&entries(language).unwrap_or_default())))
        }
    }
}

/// A figure in the form that stands after the colon: alignment, sign, leading zeros, width and decimals, as in the standard
/// library.
fn written(figure: &dyn fmt::Display, form: &str) -> String {
    let mut rest = form;
    let mut letters = form.chars();
    let (mut fill, mut side) = (' ', None);
    match (letters.next(), letters.next()) {
        (Some(first), Some(second)) if matches!(second, '<' | '>' | '^') => {
            (fill, side) = (first, Some(second));
            rest = letters.as_str();
        }
        (Some(first), _) if matches!(first, '<' | '>' | '^') => {
            side = Some(first);
            rest = form.get(1..).unwrap_or_default();
        }
        _ => {}
    }
    let plus = rest.strip_prefix('+');
    rest = plus.unwrap_or(rest);
    let zeros = rest.strip_prefix('0');
    rest = zeros.unwrap_or(rest);
    let (width, places) = rest.split_once('.').unwrap_or((rest, ""));
    let width: usize = width.parse().unwrap_or(0);
    let text = match (places.parse::<usize>(), plus) {
        (Ok(places), Some(_)) => format!("{figure:+.places$}"),
        (Ok(places), None) => format!("{figure:.places$}"),
        (Err(_), Some(_)) => format!("{figure:+}"),
        (Err(_), None) => figure.to_string(),
    };
    let missing = width.saturating_sub(text.chars().count());
    if missing == 0 {
        return text;
    }
    let (before, after) = match side {
        None if zeros.is_some() => {
            let digits = text.trim_start_matches(['+', '-']);
            let sign = &text[..text.len() - digits.len()];
            return format!("{sign}{}{digits}", "0".repeat(missing));
        }
        // Numbers stand on the right where nothing is said, and words on the left.
        None if text.parse::<f64>().is_ok() => (missing, 0),
        None | Some('<') => (0, missing),
        Some('^') => (missing / 2, missing - missing / 2),
        Some(_) => (missing, 0),
    };
    let mut padded = String::new();
    for _ in 0..before {
        padded.push(fill);
    }
    padded.push_str(&text);
    for _ in 0..after {
        padded.push(fill);
    }
    padded
}

/// The text with a comma for its point where it begins with a number that has decimals.
pub(super) fn with_comma(text: &str) -> Cow<'_, str> {
    let is_number = || {
        let (number, _) = text
            .trim_start()
            .split_once([' ', '\u{a0}', '\u{202f}'])
            .unwrap_or((text.trim_start(), ""));
        let digits = number.trim_start_matches(['+', '-', '−', '±']);
        let (whole, decimals) = digits.split_once('.')?;
        let all = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
        (all(whole) && all(decimals)).then_some(())
    };
    match is_number() {
        Some(()) => Cow::Owned(text.replacen('.', ",", 1)),
        None => Cow::Borrowed(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(english: &'static str, own: &'static str) -> Catalogue {
        Catalogue::new(&[Entry {
            file: "planted",
            english,
            own,
        }])
    }

    #[test]
    fn figures_go_where_the_language_wants_them_in_the_forms_of_the_english() {
        let catalogue = of(
            "{name}: {watts:.0} W at {share:.1} {{%}}",
            "{{%}} {share}, {name} mit {watts} W",
        );
        let figures: &[(&str, &dyn fmt::Display)] =
            &[("name", &"Halt"), ("watts", &99.6), ("share", &12.34)];
        assert_eq!(
            catalogue
                .said("{name}: {watts:.0} W at {share:.1} {{%}}", figures)
                .as_deref(),
            Some("{%} 12,3, Halt mit 100 W")
        );
    }

    #[test]
    fn a_sentence_that_lacks_a_figure_stays_english() {
        let catalogue = of("{one}", "{two}");
        assert_eq!(catalogue.said("{one}", &[("one", &1)]), None);
        assert_eq!(catalogue.said("{other}", &[("other", &1)]), None);
    }

    /// Held against the standard library's own way.
    #[test]
    fn forms_are_those_of_the_standard_library() {
        let minus = -7.256;
        for (ours, std) in [
            (written(&minus, ""), format!("{minus}")),
            (written(&minus, ".1"), format!("{minus:.1}")),
            (written(&5.0, "+.1"), format!("{:+.1}", 5.0)),
            (written(&7, "02"), format!("{:02}", 7)),
            (written(&-7, "04"), format!("{:04}", -7)),
            (written(&7, "5"), format!("{:5}", 7)),
            (written(&"ab", "5"), format!("{:5}", "ab")),
            (written(&"ab", ">5"), format!("{:>5}", "ab")),
            (written(&"ab", "<5"), format!("{:<5}", "ab")),
            (written(&"ab", "^5"), format!("{:^5}", "ab")),
            (written(&"ab", "*^7"), format!("{:*^7}", "ab")),
            (written(&minus, ">8.2"), format!("{minus:>8.2}")),
            (written(&minus, "8.2"), format!("{minus:8.2}")),
            (written(&"äöü", "5"), format!("{:5}", "äöü")),
        ] {
            assert_eq!(ours, std);
        }
    }
}
