//! What each piece of a line is, so that it can be told apart on the screen.

use std::ops::Range;

/// What a piece of a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// A remark for people, from its # on.
    Remark,
    /// A heading, as `[[block]]`.
    Heading,
    /// A key before its equals sign.
    Key,
    /// A text in quotes.
    Text,
    /// Everything else: numbers, signs, blanks.
    Plain,
}

/// The pieces of a line, in its order and without a gap. A text that is not closed goes to the line's end.
pub fn inks(line: &str) -> Vec<(Range<usize>, Ink)> {
    let mut pieces: Vec<(Range<usize>, Ink)> = Vec::new();
    let mut put = |range: Range<usize>, ink| {
        if range.is_empty() {
            return;
        }
        match pieces.last_mut() {
            Some((last, same)) if *same == ink => last.end = range.end,
            _ => pieces.push((range, ink)),
        }
    };
    let begin = line.len() - line.trim_start().len();
    if line[begin..].starts_with('[') {
        let end = line.find('#').unwrap_or(line.len());
        put(0..end, Ink::Heading);
        put(end..line.len(), Ink::Remark);
        return pieces;
    }
    let mut from = 0;
    // An equals sign behind a remark or a quote is no key's.
    let equals = line
        .find('=')
        .filter(|&at| !line[..at].contains(['#', '"', '\'']));
    if let Some(at) = equals {
        put(0..at, Ink::Key);
        from = at;
    }
    let mut quote = None;
    let mut escaped = false;
    for (at, letter) in line[from..].char_indices() {
        let at = from + at;
        let range = at..at + letter.len_utf8();
        match quote {
            Some(open) => {
                put(range, Ink::Text);
                if letter == open && !escaped {
                    quote = None;
                }
                escaped = open == '"' && letter == '\\' && !escaped;
            }
            None if letter == '#' => {
                put(at..line.len(), Ink::Remark);
                return pieces;
            }
            None if matches!(letter, '"' | '\'') => {
                quote = Some(letter);
                escaped = false;
                put(range, Ink::Text);
            }
            None => put(range, Ink::Plain),
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn told(line: &str) -> Vec<(&str, Ink)> {
        inks(line)
            .into_iter()
            .map(|(range, ink)| (&line[range], ink))
            .collect()
    }

    #[test]
    fn pieces_are_told_apart() {
        assert_eq!(
            told("say = \"A #1 \\\" b\" # why"),
            [
                ("say ", Ink::Key),
                ("= ", Ink::Plain),
                ("\"A #1 \\\" b\"", Ink::Text),
                (" ", Ink::Plain),
                ("# why", Ink::Remark),
            ]
        );
        assert_eq!(told("  [[block]]"), [("  [[block]]", Ink::Heading)]);
        assert_eq!(told("# a = b"), [("# a = b", Ink::Remark)]);
        assert_eq!(
            told("effort = [2, 4]"),
            [("effort ", Ink::Key), ("= [2, 4]", Ink::Plain)]
        );
        assert_eq!(
            told("é = 'x"),
            [("é ", Ink::Key), ("= ", Ink::Plain), ("'x", Ink::Text)]
        );
    }

    proptest! {
        #[test]
        fn the_pieces_of_any_line_are_the_line(line in "[^\n]{0,60}") {
            let pieces = inks(&line);
            let mut next = 0;
            for (range, _) in pieces {
                prop_assert_eq!(range.start, next);
                prop_assert!(line.is_char_boundary(range.end));
                next = range.end;
            }
            prop_assert_eq!(next, line.len());
        }
    }
}
