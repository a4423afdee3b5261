//! Words for problems: the nearest known key, lists, and quotations that are safe to show.

/// The most characters that a problem quotes from a file.
const MOST_QUOTED: usize = 40;

/// A piece of the file as a problem quotes it: clipped, without control characters or changes of direction.
pub fn quoted(piece: &str) -> String {
    let mut safe: String = piece
        .chars()
        .take(MOST_QUOTED)
        .map(|c| if is_unsafe(c) { '\u{fffd}' } else { c })
        .collect();
    if piece.chars().nth(MOST_QUOTED).is_some() {
        safe.push('…');
    }
    format!("`{safe}`")
}

/// Whether a character has no place in a text that is shown, spoken or written into a table: controls, changes of
/// writing direction (they let a text show other than it reads), line and paragraph separators, marks of byte order.
pub(super) fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{2028}' | '\u{2029}' | '\u{feff}')
}

/// `a, b or c`.
pub fn one_of(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} {} {last}", first.join(", "), word!("or")),
    }
}

/// The sentence with its first letter as a capital.
pub fn a_capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The nearest of the candidates to a misspelt word, where one is near enough to be meant.
///
/// Distance by Damerau's optimal alignment (insert, drop, change, swap of neighbours); near enough is a third of the
/// word's length, two at least.
pub fn nearest<'c>(word: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<&'c str> {
    let word: Vec<char> = word
        .chars()
        .take(MOST_QUOTED)
        .flat_map(char::to_lowercase)
        .map(|c| if c == '-' { '_' } else { c })
        .collect();
    let near_enough = (word.len() / 3).max(2);
    candidates
        .into_iter()
        .map(|candidate| {
            let letters: Vec<char> = candidate
                .chars()
                .map(|c| if c == '-' { '_' } else { c })
                .collect();
            (distance(&word, &letters), candidate)
        })
        // Two changes in a word of two letters would make anything of it.
        .filter(|&(far, candidate)| far <= near_enough && far < candidate.len())
        .min_by_key(|&(far, _)| far)
        .map(|(_, candidate)| candidate)
}

fn distance(a: &[char], b: &[char]) -> usize {
    let mut before_last = vec![0; b.len() + 1];
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let changed = usize::from(a[i - 1] != b[j - 1]);
            row[j] = (last[j] + 1).min(row[j - 1] + 1).min(last[j - 1] + changed);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before_last[j - 2] + 1);
            }
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_those_of_the_literature() {
        let far = |a: &str, b: &str| {
            distance(
                &a.chars().collect::<Vec<_>>(),
                &b.chars().collect::<Vec<_>>(),
            )
        };
        // Levenshtein's usual examples, and one swap of neighbours (Damerau 1964).
        assert_eq!(far("kitten", "sitting"), 3);
        assert_eq!(far("saturday", "sunday"), 3);
        assert_eq!(far("caedence", "cadence"), 1);
        assert_eq!(far("brkae", "brake"), 1);
        assert_eq!(far("", "abc"), 3);
    }

    #[test]
    fn the_nearest_is_offered_only_where_it_may_be_meant() {
        let keys = ["time", "effort", "cadence", "build_up", "at"];
        assert_eq!(nearest("cadance", keys), Some("cadence"));
        assert_eq!(nearest("Build-Up", keys), Some("build_up"));
        assert_eq!(nearest("tmie", keys), Some("time"));
        assert_eq!(nearest("sandwich", keys), None);
        assert_eq!(nearest("xy", keys), None);
    }

    #[test]
    fn a_quotation_is_clipped_and_safe() {
        assert_eq!(quoted("a\u{202e}b\u{7}"), "`a\u{fffd}b\u{fffd}`");
        assert_eq!(quoted(&"x".repeat(50)), format!("`{}…`", "x".repeat(40)));
    }
}
