//! Counts written out in a cue where a field would stay true when the session is stretched or cut.

use super::model::CuePiece;
use crate::text::Language;

/// Words that count, beside figures.
const NUMBERS: &[&str] = &[
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "fifteen", "twenty", "thirty", "forty", "fifty", "sixty", "ninety",
];
/// Words that say of what.
const UNITS: &[&str] = &[
    "second", "seconds", "sec", "secs", "s", "minute", "minutes", "min", "mins", "hour", "hours",
    "repeat", "repeats", "rep", "reps", "round", "rounds", "time", "times", "block", "blocks",
    "sprint", "sprints", "set", "sets",
];
/// Words that make a count one of what remains.
const REMAINING: &[&str] = &["left", "more", "remaining", "remain"];

/// The same in German. "Ein" is left out of what counts without a unit: "noch ein Schluck", "noch einmal".
const GERMAN_NUMBERS: &[&str] = &[
    "ein",
    "eine",
    "einen",
    "zwei",
    "drei",
    "vier",
    "fünf",
    "sechs",
    "sieben",
    "acht",
    "neun",
    "zehn",
    "elf",
    "zwölf",
    "fünfzehn",
    "zwanzig",
    "dreißig",
    "vierzig",
    "fünfzig",
    "sechzig",
    "neunzig",
];
const GERMAN_ONE: &[&str] = &["ein", "eine", "einen"];
/// Those of time come first.
const GERMAN_UNITS: &[&str] = &[
    "sekunde",
    "sekunden",
    "sek",
    "s",
    "minute",
    "minuten",
    "min",
    "stunde",
    "stunden",
    "wiederholung",
    "wiederholungen",
    "runde",
    "runden",
    "mal",
    "block",
    "blöcke",
    "sprint",
    "sprints",
    "serie",
    "serien",
];

/// A token of a cue's text: a word in lower case, or nothing where a field stands.
type Token = Option<String>;

/// The piece of a cue's text that counts what can change on the day, with the field that would stay true.
pub(super) fn literal_count(
    text: &[CuePiece],
    language: Language,
) -> Option<(String, &'static str)> {
    let tokens = tokens(text);
    let count_at = match language {
        Language::English => count_at,
        Language::German => german_count_at,
    };
    (0..tokens.len()).find_map(|at| count_at(&tokens, at))
}

fn tokens(text: &[CuePiece]) -> Vec<Token> {
    text.iter()
        .flat_map(|piece| match piece {
            CuePiece::Field(_) => vec![None],
            CuePiece::Text(text) => text
                .split(|c: char| !(c.is_alphanumeric() || matches!(c, ':' | '\'' | '’')))
                .map(|word| word.trim_matches([':', '\'', '’']))
                .filter(|word| !word.is_empty())
                .map(|word| Some(word.to_lowercase()))
                .collect(),
        })
        .collect()
}

fn count_at(tokens: &[Token], at: usize) -> Option<(String, &'static str)> {
    let word = |offset: usize| tokens.get(at + offset).and_then(Option::as_deref);
    let is = |offset: usize, words: &[&str]| word(offset).is_some_and(|word| words.contains(&word));
    let number = |offset: usize| word(offset).is_some_and(is_number);
    let said = |count: usize| {
        let words: Vec<&str> = (0..count).filter_map(word).collect();
        words.join(" ")
    };
    let remaining = |offset: usize| {
        is(offset, REMAINING) || (is(offset, &["to"]) && is(offset + 1, &["go", "come"]))
    };

    if number(0) && remaining(1) {
        return Some((said(2), "{left} or {repeat} of {repeats}"));
    }
    if number(0) && is(1, UNITS) && remaining(2) {
        return Some((said(3), "{left}"));
    }
    if number(0) && is(1, &["of"]) && number(2) {
        return Some((said(3), "{repeat} of {repeats}"));
    }
    if is(0, &["repeat", "round", "rep"]) && number(1) {
        return Some((said(2), "{repeat}"));
    }
    if is(0, &["next"]) {
        // "next is 8", "next is at 8", "next: effort 8", "next, 4 minutes at 8".
        let skipped = (1..4)
            .take_while(|&offset| is(offset, &["is", "at", "effort", "comes", "up"]))
            .count();
        // "The next one" counts nothing.
        let figure = |word: &str| word.starts_with(|c: char| c.is_ascii_digit());
        if number(1 + skipped) && (skipped > 0 || word(1).is_some_and(figure)) {
            return Some((said(2 + skipped), "{next.effort} or {next.time}"));
        }
    }
    if is(0, &["then", "for"]) && number(1) && is(2, &UNITS[..11]) && is(3, &["at"]) {
        return Some((said(4), "{next.time} at {next.effort}"));
    }
    None
}

fn german_count_at(tokens: &[Token], at: usize) -> Option<(String, &'static str)> {
    let word = |offset: usize| tokens.get(at + offset).and_then(Option::as_deref);
    let is = |offset: usize, words: &[&str]| word(offset).is_some_and(|word| words.contains(&word));
    let number = |offset: usize| {
        word(offset).is_some_and(|word| GERMAN_NUMBERS.contains(&word) || is_figure(word))
    };
    let unit = |offset: usize| is(offset, GERMAN_UNITS);
    let said = |count: usize| {
        let words: Vec<&str> = (0..count).filter_map(word).collect();
        words.join(" ")
    };

    if is(0, &["noch"]) && number(1) && unit(2) {
        return Some((said(3), "{left}"));
    }
    // "Noch zwei." and "noch zwei, dann": what follows is not what is counted.
    let ends = |offset: usize| tokens.len() <= at + offset || is(offset, &["dann", "und"]);
    if is(0, &["noch"]) && number(1) && !is(1, GERMAN_ONE) && ends(2) {
        return Some((said(2), "{left} oder {repeat} von {repeats}"));
    }
    if number(0) && unit(1) && is(2, &["übrig", "verbleiben"]) {
        return Some((said(3), "{left}"));
    }
    if number(0) && is(1, &["von"]) && number(2) {
        return Some((said(3), "{repeat} von {repeats}"));
    }
    if is(0, &["wiederholung", "runde"]) && number(1) {
        return Some((said(2), "{repeat}"));
    }
    let ahead = is(0, &["dann", "gleich", "nächstes", "folgen"]);
    if ahead && number(1) && is(2, &GERMAN_UNITS[..9]) && is(3, &["bei", "mit"]) {
        return Some((said(4), "{next.time} bei {next.effort}"));
    }
    None
}

fn is_number(word: &str) -> bool {
    NUMBERS.contains(&word) || is_figure(word)
}

fn is_figure(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit())
        && word
            .chars()
            .all(|c| c.is_ascii_digit() || c == ':' || c == 's')
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::CueField;

    fn found(text: &str) -> Option<String> {
        found_in(text, Language::English)
    }

    fn found_in(text: &str, language: Language) -> Option<String> {
        literal_count(&[CuePiece::Text(text.to_owned())], language).map(|(said, _)| said)
    }

    #[test]
    fn german_counts_are_found_in_german_alone() {
        for (text, said) in [
            ("Noch 30 Sekunden.", "noch 30 sekunden"),
            ("Noch eine Minute, dann locker", "noch eine minute"),
            ("Noch drei!", "noch drei"),
            ("Noch zwei, dann locker", "noch zwei"),
            ("Das ist 2 von 4", "2 von 4"),
            ("Runde 3, bleib rund", "runde 3"),
            ("zwei Minuten übrig", "zwei minuten übrig"),
            ("Dann vier Minuten bei acht", "dann vier minuten bei"),
        ] {
            assert_eq!(found_in(text, Language::German).as_deref(), Some(said));
            assert_eq!(found(text), None, "{text}");
        }
        for text in [
            "Trink noch einmal.",
            "Noch ein Schluck.",
            "Noch zehn Umdrehungen im Stehen.",
            "Denk dir eine Zahl von null bis zehn.",
            "In drei Minuten kommt nicht alles zurück.",
            "Trink jetzt, und dann alle zehn Minuten.",
        ] {
            assert_eq!(found_in(text, Language::German), None, "{text}");
        }
    }

    #[test]
    fn counts_that_can_go_wrong_are_found() {
        for (text, said) in [
            ("Only 3 more!", "3 more"),
            ("Three more of these", "three more"),
            ("30 seconds left.", "30 seconds left"),
            ("You have one minute to go", "one minute to"),
            ("2:30 left", "2:30 left"),
            ("This is 2 of 4", "2 of 4"),
            ("Repeat 3, keep it smooth", "repeat 3"),
            ("Next is 8, sit down", "next is 8"),
            ("Next: effort 7", "next effort 7"),
            ("and then 4 minutes at eight", "then 4 minutes at"),
        ] {
            assert_eq!(found(text).as_deref(), Some(said), "{text}");
        }
    }

    #[test]
    fn numbers_that_stay_true_are_let_be() {
        for text in [
            "Hold 90 turns a minute.",
            "Stand for ten pedal turns.",
            "Drink one mouthful.",
            "Single phrases, no more.",
            "Keep one hand on the bars, then sit.",
            "Next time you will know the way.",
            "The next one is easier.",
        ] {
            assert_eq!(found(text), None, "{text}");
        }
    }

    #[test]
    fn a_field_is_no_literal() {
        let text = [
            CuePiece::Field(CueField::Left),
            CuePiece::Text(" left, gust ".to_owned()),
            CuePiece::Field(CueField::Repeat),
            CuePiece::Text(" of ".to_owned()),
            CuePiece::Field(CueField::Repeats),
        ];
        assert_eq!(literal_count(&text, Language::English), None);
    }
}
