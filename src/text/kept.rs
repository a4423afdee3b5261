//! Words that were kept in English, recognised by their entries and told in the language of this thread.

use std::borrow::Cow;

use super::Language;

/// The words in the language of this thread, as far as they are entries of ours; the rest stays as it is.
pub fn translated(english: &str) -> Cow<'_, str> {
    match super::language() {
        Language::English => Cow::Borrowed(english),
        Language::German => Cow::Borrowed(english),
    }
}
