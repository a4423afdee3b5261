//! What was written and not saved, as it is kept on the disk until it is.

use super::editor::Origin;

/// How the first line of a draft begins.
const HEAD: &str = "# draft";

/// A draft that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// The key of the file that it is a version of; none for a new session.
    pub key: Option<String>,
    /// The check of what that file said.
    check: u32,
    /// The text.
    pub text: String,
}

/// The check of a text, CRC-32 as the raw log has it. It tells versions apart and guards nothing.
fn check(text: &str) -> u32 {
    crc32fast::hash(text.as_bytes())
}

/// The draft of a text: a line that says of what, then the text as it stands.
pub fn written(origin: &Origin, text: &str) -> String {
    match origin {
        Origin::New => format!("{HEAD}\n{text}"),
        Origin::Own { key, known } => format!("{HEAD} {:08x} of {key}\n{text}", check(known)),
    }
}

/// A draft from what was kept; nothing where its first line does not say of what it is one.
pub fn read(kept: &str) -> Option<Draft> {
    let (head, text) = kept.split_once('\n')?;
    let of = head.strip_prefix(HEAD)?;
    let (key, check) = match of.trim().split_once(" of ") {
        None if of.trim().is_empty() => (None, 0),
        None => return None,
        Some((check, key)) => (Some(key.to_owned()), u32::from_str_radix(check, 16).ok()?),
    };
    Some(Draft {
        key,
        check,
        text: text.to_owned(),
    })
}

impl Draft {
    /// Whether the file still says what it said when this was written.
    pub fn is_of(&self, now: &str) -> bool {
        check(now) == self.check
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;
    use std::sync::Arc;

    #[test]
    fn a_draft_comes_back_and_knows_its_file() {
        let known: Arc<str> = Arc::from("format = 1\n");
        let origin = Origin::Own {
            key: "of the day".to_owned(),
            known: Arc::clone(&known),
        };
        let draft = read(&written(&origin, "half\na line")).unwrap();
        assert_eq!(draft.key.as_deref(), Some("of the day"));
        assert_eq!(draft.text, "half\na line");
        assert!(draft.is_of(&known) && !draft.is_of("format = 2\n"));
        let new = read(&written(&Origin::New, "")).unwrap();
        assert_eq!((new.key, new.text), (None, String::new()));
        for torn in [
            "",
            "# draft",
            "# draft zz of a\nx",
            "format = 1\n",
            "# draft 12\n",
        ] {
            assert_eq!(read(torn), None, "{torn:?}");
        }
    }
}
