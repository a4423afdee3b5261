//! Where in a TOML text (toml.io, v1.0.0) people's own words stand: the comments, and the strings that are values.

/// The key whose value is a word of the format and nobody's own.
pub(super) const WORD: &str = "kind";

/// The inside of each comment and string value, in octets, in order.
pub(super) fn spans(text: &str) -> Vec<(usize, usize)> {
    let mut spans = Vec::new();
    let mut at = 0;
    while let Some(found) = text[at..].find(['#', '"', '\'']) {
        let open = at + found;
        let rest = &text[open..];
        if rest.starts_with('#') {
            let end = rest.find('\n').map_or(text.len(), |end| open + end);
            spans.push((open, end));
            at = end;
            continue;
        }
        let mark = if rest.starts_with('"') { "\"" } else { "'" };
        let threefold = mark.repeat(3);
        let mark = if rest.starts_with(&threefold) {
            &threefold
        } else {
            mark
        };
        let start = open + mark.len();
        let Some(length) = closes(&text[start..], mark) else {
            break;
        };
        let end = start + length;
        at = end + mark.len();
        let is_key = text[at..].trim_start_matches([' ', '\t']).starts_with('=');
        if !is_key && !is_word(&text[..open]) {
            spans.push((start, end));
        }
    }
    spans
}

/// Where the string ends: in those with double quotes a backslash takes the next letter along.
fn closes(inside: &str, mark: &str) -> Option<usize> {
    let mut at = 0;
    loop {
        at += inside[at..].find(['\\', '"', '\''])?;
        if inside[at..].starts_with(mark) {
            return Some(at);
        }
        let escaped = inside[at..].starts_with('\\') && mark.starts_with('"');
        at += 1;
        if escaped {
            at += inside[at..].chars().next()?.len_utf8();
        }
    }
}

fn is_word(before: &str) -> bool {
    let key = before.trim_end().strip_suffix('=').map(str::trim_end);
    key.and_then(|key| key.strip_suffix(WORD))
        .is_some_and(|rest| {
            !rest.ends_with(|letter: char| letter.is_alphanumeric() || "_-".contains(letter))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_values_are_found_and_keys_and_words_are_not() {
        let text = "# a 'b\nkind = \"hold\" # c\n\"d\" = \"e \\\" # f\"\ng = ['h\\', \"\"\"i\n\"j\"\"\"]\n";
        let found: Vec<_> = spans(text)
            .into_iter()
            .map(|(from, to)| &text[from..to])
            .collect();
        assert_eq!(found, ["# a 'b", "# c", "e \\\" # f", "h\\", "i\n\"j"]);
    }
}
