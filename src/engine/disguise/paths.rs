//! Paths of the computer in a text of the system. Where a path with spaces ends nobody can tell, so that all up to the
//! next mark goes with it.

const STAND_IN: &str = "(path)";

/// The text with each path replaced.
pub(super) fn out_of(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    let mut before: Option<char> = None;
    while let Some(letter) = rest.chars().next() {
        let length = if begins(before, rest) {
            out += STAND_IN;
            length(before, rest)
        } else {
            out.push(letter);
            letter.len_utf8()
        };
        before = rest[..length].chars().next_back();
        rest = &rest[length..];
    }
    out
}

/// Those of the system's bus begin alike and tell nothing but the adapter and the device.
fn begins(before: Option<char>, rest: &str) -> bool {
    if before.is_some_and(|letter| letter.is_alphanumeric() || "/\\._-~".contains(letter)) {
        return false;
    }
    let rest = rest.as_bytes();
    let named =
        |start: &[u8]| rest.len() > start.len() && rest[..start.len()].eq_ignore_ascii_case(start);
    match rest {
        _ if named(b"file:") => rest[5] == b'/',
        _ if named(b"/org/") => false,
        [b'/', second, third, ..] => {
            *second != b'/' && !second.is_ascii_whitespace() && !third.is_ascii_whitespace()
        }
        [b'~', b'/', ..] | [b'\\', b'\\', _, ..] => true,
        [drive, b':', b'\\' | b'/', ..] => drive.is_ascii_alphabetic(),
        _ => false,
    }
}

/// How long the path at the beginning may be, octets; more than nothing.
fn length(before: Option<char>, rest: &str) -> usize {
    let closing = match before {
        Some('“') => Some('”'),
        Some('‘') => Some('’'),
        Some(mark @ ('"' | '\'')) => Some(mark),
        _ => None,
    };
    if let Some(end) = closing.and_then(|mark| rest.find(mark)) {
        return end;
    }
    let mut letters = rest.char_indices().peekable();
    while let Some((at, letter)) = letters.next() {
        let next = letters.peek().map(|(_, next)| *next);
        let last = next.is_none_or(char::is_whitespace);
        let ends = match letter {
            '\n' | '\r' => true,
            ',' | ';' | ':' | '.' | ')' | ']' | '>' | '"' | '\'' | '”' | '’' => last,
            ' ' => next.is_some_and(|next| "(/[<\"“‘".contains(next)),
            _ => false,
        };
        if ends && at > 0 {
            return at;
        }
    }
    rest.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_goes_with_its_spaces_and_behind_marks() {
        for (text, other) in [
            (
                "cannot open /home/Tim Smith/my rides: no such file",
                "cannot open (path): no such file",
            ),
            ("see file:///home/tim/x, please", "see (path), please"),
            ("Exec=/usr/bin/x", "Exec=(path)"),
            ("\"C:\\Users\\Tim S\\x\" is full", "\"(path)\" is full"),
            ("at ~/rides", "at (path)"),
            ("/org/bluez/hci0/dev_1", "/org/bluez/hci0/dev_1"),
            ("and/or 5 W / 3", "and/or 5 W / 3"),
        ] {
            assert_eq!(out_of(text), other);
        }
    }
}
