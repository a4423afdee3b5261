//! A name made fit for a folder or file on every system.

/// The most letters that a name keeps.
const MOST_LETTERS: usize = 60;

/// Names that Windows keeps for devices (Microsoft, "Naming Files, Paths, and Namespaces").
const RESERVED: [&str; 6] = ["con", "prn", "aux", "nul", "com", "lpt"];

/// Letters and digits of any script, with single hyphens between; at most sixty letters, never empty, never a name
/// that a system keeps for itself, never with a dot, a space or a separator of paths.
pub fn slug(name: &str) -> String {
    let mut slug = String::new();
    let mut letters = 0;
    let mut gap = false;
    for letter in name.chars() {
        if ('\u{300}'..='\u{36F}').contains(&letter) {
            // A combining accent belongs to the letter before it; some systems compose and some do not.
            continue;
        }
        if !letter.is_alphanumeric() {
            gap = true;
            continue;
        }
        let hyphen = gap && !slug.is_empty();
        if letters + 1 + usize::from(hyphen) > MOST_LETTERS {
            break;
        }
        if hyphen {
            slug.push('-');
            letters += 1;
        }
        slug.push(letter);
        letters += 1;
        gap = false;
    }
    let plain = slug.to_lowercase();
    let stem = plain.trim_end_matches(|c: char| c.is_numeric());
    if slug.is_empty() {
        "unnamed".to_owned()
    } else if RESERVED.contains(&stem) {
        format!("{slug}-file")
    } else {
        slug
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_safe_for_every_system() {
        for (name, expected) in [
            ("Steady with repeats", "Steady-with-repeats"),
            ("../../etc/passwd", "etc-passwd"),
            (r"C:\rides\x", "C-rides-x"),
            ("...", "unnamed"),
            ("", "unnamed"),
            ("   ", "unnamed"),
            ("a/b\\c:d*e?f\"g<h>i|j\0k\nl", "a-b-c-d-e-f-g-h-i-j-k-l"),
            ("trailing. ", "trailing"),
            ("CON", "CON-file"),
            ("lpt1", "lpt1-file"),
            ("COM¹", "COM¹-file"),
            ("Console", "Console"),
            ("Überführung 4×4 — früh", "Überführung-4-4-früh"),
            ("坂道 練習", "坂道-練習"),
            ("cafe\u{301} run", "cafe-run"),
            ("--help", "help"),
        ] {
            assert_eq!(slug(name), expected, "from {name:?}");
        }
        assert_eq!(slug(&"long name ".repeat(30)).chars().count(), 59);
        assert_eq!(slug(&"x".repeat(300)), "x".repeat(60));
    }
}
