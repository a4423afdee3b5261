//! The words of the program, in the language of whoever reads them.
//!
//! The English sentence in the code is the key, and `german/` holds every one of them beside its German. So the code can be
//! read, and a translator has all text in one place; `tests/it/text` reads the sources and fails on a sentence that is
//! missing there, on one that nobody says any more, and on words that go past this module.
//!
//! | macro | gives | where |
//! |---|---|---|
//! | `word!("Brake off")` | `&'static str` in the reader's language | words without figures |
//! | `say!("Mark {number} kept.", number)` | `String` in the reader's language | words with figures |
//! | `entry!("Brake off")` | the English, to be looked up by [`word`] where it is drawn | tables and constants |
//! | `kept!("Mark {number}.")` | `String` in English, always | what a recording keeps and the core tells |
//!
//! A thread speaks English unless it is told otherwise, and only those are told that draw, print or speak: the core and
//! the writer never are, so that a recording is the same in every language and replays everywhere. What they keep is
//! recognised by [`translated`] where it is drawn.

mod catalogue;
mod kept;

use std::borrow::Cow;
use std::cell::Cell;
use std::fmt;
use std::sync::atomic::{AtomicU8, Ordering};

use serde::{Deserialize, Serialize};

pub use catalogue::{Entry, entries};
pub use kept::translated;

/// A language that the program speaks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Language {
    /// The language of the code, of recordings and of everything that programs read.
    #[default]
    #[serde(rename = "en")]
    English,
    /// German.
    #[serde(rename = "de")]
    German,
}

impl Language {
    /// Every language.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its code after ISO 639-1.
    pub const fn code(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// Its own name for itself.
    pub fn name(self) -> &'static str {
        match self {
            Self::English => "English",
            Self::German => "Deutsch",
        }
    }

    /// The language of a code or of a locale's name: "de", "de-AT", "`de_DE.UTF-8`". Nothing for those not spoken.
    pub fn from_code(code: &str) -> Option<Self> {
        let primary = code.split(['-', '_', '.', '@']).next().unwrap_or_default();
        Self::ALL
            .into_iter()
            .find(|language| language.code().eq_ignore_ascii_case(primary))
    }

    /// The language that the system is set to; English where that is none of ours, and in the C locale, which scripts ask
    /// for: it goes before everything else there (POSIX.1-2017, 8.2).
    pub fn of_the_system() -> Self {
        let set = ["LC_ALL", "LC_MESSAGES", "LANG"]
            .into_iter()
            .find_map(|name| std::env::var(name).ok().filter(|locale| !locale.is_empty()));
        if set.is_some_and(|locale| is_c(&locale)) {
            return Self::English;
        }
        sys_locale::get_locales()
            .find_map(|locale| Self::from_code(&locale))
            .unwrap_or_default()
    }
}

/// Whether a locale is that of programs: "C", "POSIX", "C.UTF-8".
fn is_c(locale: &str) -> bool {
    matches!(locale.split('.').next(), Some("C" | "POSIX"))
}

/// Whom a thread speaks to.
#[derive(Clone, Copy)]
enum Speaks {
    /// One language, whoever reads.
    Only(Language),
    /// The language of the reader, as it was last chosen.
    ToTheReader,
}

/// The reader's language, a place in [`Language::ALL`].
static READER: AtomicU8 = AtomicU8::new(0);

thread_local! {
    static SPEAKS: Cell<Speaks> = const { Cell::new(Speaks::Only(Language::English)) };
}

/// Chooses the language of whoever reads the screen.
pub fn choose(language: Language) {
    READER.store(language as u8, Ordering::Relaxed);
}

/// From now on this thread speaks the reader's language.
pub fn speak_to_the_reader() {
    SPEAKS.set(Speaks::ToTheReader);
}

/// What this thread speaks.
pub fn language() -> Language {
    match SPEAKS.get() {
        Speaks::Only(language) => language,
        Speaks::ToTheReader => Language::ALL
            .get(usize::from(READER.load(Ordering::Relaxed)))
            .copied()
            .unwrap_or_default(),
    }
}

/// Does something in one language, whoever reads: in English what a program will read.
pub fn within<T>(language: Language, work: impl FnOnce() -> T) -> T {
    /// Puts back what was spoken before, also where the work panics.
    struct Back(Speaks);
    impl Drop for Back {
        fn drop(&mut self) {
            SPEAKS.set(self.0);
        }
    }
    let _back = Back(SPEAKS.replace(Speaks::Only(language)));
    work()
}

/// English words from a table, in the language of this thread. Words that are no entry stay as they are.
pub fn word(english: &'static str) -> &'static str {
    catalogue::of(language())
        .and_then(|catalogue| catalogue.word(english))
        .unwrap_or(english)
}

/// What stands before `#`, where a word needs to be told from another of the same letters.
pub fn word_of(english: &'static str, key: &'static str) -> &'static str {
    catalogue::of(language())
        .and_then(|catalogue| catalogue.word(key))
        .unwrap_or(english)
}

/// A sentence with its figures; `english` is the same, put together already by the compiler's own way.
pub fn said(key: &str, figures: &[(&str, &dyn fmt::Display)], english: fmt::Arguments) -> String {
    catalogue::of(language())
        .and_then(|catalogue| catalogue.said(key, figures))
        .unwrap_or_else(|| english.to_string())
}

/// A figure with decimals as it is written: with a point, or a comma in German.
pub fn decimal(value: impl Into<f64>, places: usize) -> String {
    figure(&format!("{:.places$}", value.into())).into_owned()
}

/// A figure that begins with decimals, "6.5" or "6.5 kJ", as this thread's language writes it.
pub fn figure(text: &str) -> Cow<'_, str> {
    match language() {
        Language::English => Cow::Borrowed(text),
        Language::German => catalogue::with_comma(text),
    }
}

/// Words without figures, in the language of this thread: `&'static str`. After `#` stands what tells them from others of
/// the same letters: `word!("left" # "of a time")`.
macro_rules! word {
    ($english:literal) => {
        $crate::text::word($english)
    };
    ($english:literal # $context:literal) => {
        $crate::text::word_of($english, concat!($english, "#", $context))
    };
}

/// Words with figures, in the language of this thread: a `String`. Every figure is named after the sentence, as
/// `say!("{watts:.0} W after {time}.", watts, time = span)`.
macro_rules! say {
    (@value $name:ident) => { $name };
    (@value $name:ident = $value:expr) => { $value };
    ($english:literal $(, $name:ident $(= $value:expr)?)+ $(,)?) => {
        match ($(&say!(@value $name $(= $value)?),)+) {
            ($($name,)+) => $crate::text::said(
                $english,
                &[$((stringify!($name), $name as &dyn std::fmt::Display)),+],
                format_args!($english, $($name = $name),+),
            ),
        }
    };
}

/// English words of a table or constant, which are looked up by [`word`] where they are drawn.
macro_rules! entry {
    ($english:literal) => {
        $english
    };
}

/// Words of the core and of recordings: English always, and recognised by [`translated`] where they are drawn. Its figures
/// have names in the literal.
macro_rules! kept {
    ($english:literal $($figures:tt)*) => {
        format!($english $($figures)*)
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_locale_is_known_by_its_first_part() {
        for (code, language) in [
            ("de", Some(Language::German)),
            ("de-AT", Some(Language::German)),
            ("DE_ch.UTF-8", Some(Language::German)),
            ("en_GB", Some(Language::English)),
            ("den", None),
            ("C", None),
            ("", None),
        ] {
            assert_eq!(Language::from_code(code), language, "{code}");
        }
    }

    #[test]
    fn the_locale_of_programs_is_told_from_those_of_people() {
        for (locale, c) in [
            ("C", true),
            ("POSIX", true),
            ("C.UTF-8", true),
            ("ca_ES", false),
            ("de_DE.UTF-8", false),
        ] {
            assert_eq!(is_c(locale), c, "{locale}");
        }
    }

    #[test]
    fn a_thread_speaks_english_until_it_is_told() {
        assert_eq!(language(), Language::English);
        within(Language::German, || {
            assert_eq!(language(), Language::German);
            let other = std::thread::spawn(language).join();
            assert_eq!(other.ok(), Some(Language::English));
        });
        assert_eq!(language(), Language::English);
        drop(std::panic::catch_unwind(|| {
            within(Language::German, || panic!("planted"));
        }));
        assert_eq!(language(), Language::English);
    }

    #[test]
    fn decimals_follow_the_language() {
        assert_eq!(decimal(6.25, 1), "6.2");
        within(Language::German, || {
            assert_eq!(decimal(-6.5, 1), "-6,5");
            assert_eq!(decimal(6.0, 0), "6");
            assert_eq!(figure("12.5 kJ"), "12,5 kJ");
            assert_eq!(figure("0.1.0"), "0.1.0");
            assert_eq!(figure("2:30"), "2:30");
        });
    }
}
