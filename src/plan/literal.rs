//! Counts written out in a cue where a field would stay true when the session is stretched or cut.

use super::model::CuePiece;

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

/// A token of a cue's text: a word in lower case, or nothing where a field stands.
type Token = Option<String>;

/// The piece of a cue's text that counts what can change on the day, with the field that would stay true.
pub(super) fn literal_count(text: &[CuePiece]) -> Option<(String, &'static str)> {
    let tokens = tokens(text);
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

fn is_number(word: &str) -> bool {
    NUMBERS.contains(&word)
        || (word.starts_with(|c: char| c.is_ascii_digit())
            && word
                .chars()
                .all(|c| c.is_ascii_digit() || c == ':' || c == 's'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::CueField;

    fn found(text: &str) -> Option<String> {
        literal_count(&[CuePiece::Text(text.to_owned())]).map(|(said, _)| said)
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
        assert_eq!(literal_count(&text), None);
    }
}
