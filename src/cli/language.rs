//! The language of the command line: what is named there, else that of the settings, else the system's.

use std::ffi::OsString;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::error::ErrorKind;
use clap::{CommandFactory, Parser};

use super::{Arguments, help};
use crate::store::{Places, settings as settings_file};
use crate::text::{self, Language};
use crate::ui::settings;

/// The option that names it.
const OPTION: &str = "--language";

/// Reads the code of a language that the program speaks.
pub(super) fn parser() -> impl TypedValueParser<Value = Language> {
    PossibleValuesParser::new(Language::ALL.map(Language::code))
        .try_map(|code| Language::from_code(&code).ok_or("no language of ours"))
}

/// The language to speak where this one is named, or none.
pub fn spoken(named: Option<Language>) -> Language {
    named.or_else(set).unwrap_or_else(Language::of_the_system)
}

/// The language of the settings; none where there are none, or where they cannot be read: the window says what is wrong.
fn set() -> Option<Language> {
    let places = Places::find().ok()?;
    let text = settings_file::load(&places.settings).ok()?;
    settings::read(&text).0.language
}

/// What the command line asks for. Ends the program where that is help, or where it cannot be understood.
///
/// Help is told in the reader's language. What clap itself says of a mistake stays English: its sentences cannot be
/// replaced as wholes.
pub fn asked() -> Arguments {
    let given: Vec<OsString> = std::env::args_os().collect();
    let refusal = match Arguments::try_parse_from(&given) {
        Ok(arguments) => return arguments,
        Err(refusal) => refusal,
    };
    // Where help is asked for clap reads no further, and the option may stand behind it.
    let language = spoken(named(&given));
    if refusal.kind() == ErrorKind::DisplayHelp && language != Language::English {
        let command = text::within(language, || help::told(Arguments::command()));
        if let Err(help) = command.try_get_matches_from(&given) {
            help.exit();
        }
    }
    refusal.exit()
}

/// The language that arguments name, before they are understood.
fn named(arguments: &[OsString]) -> Option<Language> {
    let mut arguments = arguments
        .iter()
        .map(|argument| argument.to_string_lossy())
        .take_while(|argument| argument != "--");
    while let Some(argument) = arguments.next() {
        if argument == OPTION {
            return Language::from_code(&arguments.next()?);
        }
        let rest = argument.strip_prefix(OPTION);
        if let Some(code) = rest.and_then(|rest| rest.strip_prefix('=')) {
            return Language::from_code(code);
        }
    }
    None
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn given(line: &str) -> Vec<OsString> {
        line.split(' ').map(OsString::from).collect()
    }

    #[test]
    fn a_language_is_named_anywhere_in_the_line() {
        for (line, language) in [
            ("stillroad --language de where", Some(Language::German)),
            ("stillroad where --language=de", Some(Language::German)),
            ("stillroad where --language en", Some(Language::English)),
            ("stillroad where", None),
        ] {
            let arguments = Arguments::try_parse_from(given(line)).unwrap();
            assert_eq!(arguments.language, language, "{line}");
            assert_eq!(named(&given(line)), language, "{line}");
        }
        assert!(Arguments::try_parse_from(given("stillroad --language fr")).is_err());
    }

    #[test]
    fn a_language_is_found_behind_what_is_not_read_any_more() {
        for (line, language) in [
            ("stillroad --help --language de", Some(Language::German)),
            ("stillroad check -h --language=de", Some(Language::German)),
            ("stillroad --help --language", None),
            ("stillroad --help --languages=de", None),
            ("stillroad check -- --language de", None),
        ] {
            assert_eq!(named(&given(line)), language, "{line}");
        }
    }

    #[test]
    fn what_is_named_is_spoken() {
        for language in Language::ALL {
            assert_eq!(spoken(Some(language)), language);
        }
    }
}
