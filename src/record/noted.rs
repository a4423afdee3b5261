//! The words of `notes.csv` beside ratings: what somebody said of the session, of a block or of a mark, and how the day was.
//!
//! Each is a line by itself, known by its word, so that files of before are read as they are and nothing is rewritten. A
//! later line of how the day was replaces an earlier one of the same word when it is read.

use serde::Serialize;

use super::NoteLine;
use super::lines::MOST_MARKS;
use crate::units::{Legal, legal};

/// Who says something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Who {
    /// Who rode.
    Rider,
    /// Who wrote the session, or reads the recording.
    Coach,
}

/// What somebody's words are about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// The whole session.
    Session,
    /// The block of this number, from 1.
    Block(u32),
    /// The moment that was marked under this number, from 1.
    Mark(u32),
}

/// How the fan was set.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fan {
    /// There was none, or it was off.
    None,
    /// Low.
    Low,
    /// High.
    High,
}

impl Fan {
    /// As it is kept and as it is said.
    pub const fn key(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Low => "low",
            Self::High => "high",
        }
    }
}

/// One thing of how the day was.
#[derive(Clone, Debug, PartialEq)]
pub enum Circumstance {
    /// The fan.
    Fan(Fan),
    /// The room's temperature, °C.
    Room(f64),
    /// Sleep of the night before, hours.
    Sleep(f64),
    /// Soreness of the legs before the ride, out of ten.
    Soreness(f64),
    /// Why the clock stood.
    Paused(String),
    /// Why the ride was ended early.
    EndedEarly(String),
}

const FAN: &str = "fan";
const ROOM: &str = "room";
const SLEEP: &str = "sleep";
const SORENESS: &str = "soreness";
const PAUSED: &str = "paused";
const ENDED_EARLY: &str = "ended-early";

impl Circumstance {
    /// The words of all of them.
    const WORDS: [&'static str; 6] = [FAN, ROOM, SLEEP, SORENESS, PAUSED, ENDED_EARLY];

    /// The word under which it is kept.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Fan(_) => FAN,
            Self::Room(_) => ROOM,
            Self::Sleep(_) => SLEEP,
            Self::Soreness(_) => SORENESS,
            Self::Paused(_) => PAUSED,
            Self::EndedEarly(_) => ENDED_EARLY,
        }
    }

    fn text(&self) -> String {
        match self {
            Self::Fan(fan) => fan.key().to_owned(),
            Self::Room(figure) | Self::Sleep(figure) | Self::Soreness(figure) => figure.to_string(),
            Self::Paused(words) | Self::EndedEarly(words) => words.clone(),
        }
    }

    /// From a word and its text; none where they are no circumstance, or its figure is outside of its range.
    fn read(word: &str, text: &str) -> Option<Self> {
        let text = text.trim();
        let figure = |range: Legal| range.check(text.parse().ok()?).ok();
        let words = || (!text.is_empty()).then(|| text.to_owned());
        Some(match word {
            FAN => {
                let all = [Fan::None, Fan::Low, Fan::High];
                Self::Fan(all.into_iter().find(|fan| fan.key() == text)?)
            }
            ROOM => Self::Room(figure(legal::ROOM)?),
            SLEEP => Self::Sleep(figure(legal::SLEEP)?),
            SORENESS => Self::Soreness(figure(legal::SORENESS)?),
            PAUSED => Self::Paused(words()?),
            ENDED_EARLY => Self::EndedEarly(words()?),
            _ => return None,
        })
    }
}

/// What a line of `notes.csv` says, where it is no rating.
#[derive(Clone, Debug, PartialEq)]
pub enum Noted<'n> {
    /// Somebody's words.
    Words {
        /// Whose.
        who: Who,
        /// Of what.
        about: About,
        /// The words.
        text: &'n str,
    },
    /// How the day was.
    Day(Circumstance),
    /// How the day was, but its text cannot be it: a figure outside of its range, for instance.
    Unreadable,
}

impl NoteLine {
    /// Somebody's words, at a moment in milliseconds since 1970-01-01T00:00:00Z.
    pub fn words(utc_ms: i64, who: Who, about: About, text: &str) -> Self {
        let what = match (who, about) {
            (Who::Rider, About::Mark(number)) => format!("mark-{number}").into(),
            (Who::Coach, About::Mark(number)) => format!("coach-mark-{number}").into(),
            (Who::Rider, _) => "remark".into(),
            (Who::Coach, _) => "coach".into(),
        };
        Self {
            utc_ms,
            block: match about {
                About::Block(number) => Some(number),
                About::Session | About::Mark(_) => None,
            },
            what,
            rating: None,
            text: text.to_owned(),
        }
    }

    /// How the day was, told at a moment in milliseconds since 1970-01-01T00:00:00Z.
    pub fn day(utc_ms: i64, circumstance: &Circumstance) -> Self {
        Self {
            utc_ms,
            block: None,
            what: circumstance.word().into(),
            rating: None,
            text: circumstance.text(),
        }
    }

    /// What it says; none for a rating, and for a word that this program does not know.
    pub fn noted(&self) -> Option<Noted<'_>> {
        let of_block = self.block.map_or(About::Session, About::Block);
        let words = |who, about| Noted::Words {
            who,
            about,
            text: &self.text,
        };
        match &*self.what {
            "remark" => return Some(words(Who::Rider, of_block)),
            "coach" => return Some(words(Who::Coach, of_block)),
            word if Circumstance::WORDS.contains(&word) => {
                let read = Circumstance::read(word, &self.text);
                return Some(read.map_or(Noted::Unreadable, Noted::Day));
            }
            _ => {}
        }
        let (who, mark) = match self.what.strip_prefix("coach-") {
            Some(mark) => (Who::Coach, mark),
            None => (Who::Rider, &*self.what),
        };
        let number: u32 = mark.strip_prefix("mark-")?.parse().ok()?;
        (1..=MOST_MARKS)
            .contains(&number)
            .then(|| words(who, About::Mark(number)))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn line(what: &str, text: &str) -> NoteLine {
        NoteLine {
            utc_ms: 0,
            block: None,
            what: what.to_owned().into(),
            rating: None,
            text: text.to_owned(),
        }
    }

    #[test]
    fn words_are_known_by_who_says_them_and_of_what() {
        for (what, block, who, about) in [
            ("remark", None, Who::Rider, About::Session),
            ("remark", Some(3), Who::Rider, About::Block(3)),
            ("coach", None, Who::Coach, About::Session),
            ("coach", Some(7), Who::Coach, About::Block(7)),
            ("mark-1", None, Who::Rider, About::Mark(1)),
            ("coach-mark-999", None, Who::Coach, About::Mark(999)),
        ] {
            let note = NoteLine {
                block,
                ..line(what, "Wind")
            };
            assert_eq!(NoteLine::words(0, who, about, "Wind"), note, "{what}");
            let noted = note.noted().unwrap();
            assert_eq!(
                noted,
                Noted::Words {
                    who,
                    about,
                    text: "Wind"
                },
                "{what}"
            );
        }
    }

    #[test]
    fn how_the_day_was_is_read_as_it_was_kept() {
        for (what, text, told) in [
            ("fan", "none", Circumstance::Fan(Fan::None)),
            ("fan", "high", Circumstance::Fan(Fan::High)),
            ("room", "21.5", Circumstance::Room(21.5)),
            ("room", "-3", Circumstance::Room(-3.0)),
            ("sleep", "0", Circumstance::Sleep(0.0)),
            ("sleep", "24", Circumstance::Sleep(24.0)),
            ("soreness", "10", Circumstance::Soreness(10.0)),
            (
                "paused",
                "The door",
                Circumstance::Paused("The door".into()),
            ),
            (
                "ended-early",
                "Cramp",
                Circumstance::EndedEarly("Cramp".into()),
            ),
        ] {
            assert_eq!(NoteLine::day(0, &told), line(what, text), "{what}");
            assert_eq!(line(what, text).noted(), Some(Noted::Day(told)), "{what}");
        }
    }

    #[test]
    fn what_cannot_be_is_no_figure() {
        for (what, text) in [
            ("fan", "medium"),
            ("fan", ""),
            ("room", "warm"),
            ("room", "50.1"),
            ("room", "-10.1"),
            ("room", "NaN"),
            ("sleep", "24.5"),
            ("sleep", "-1"),
            ("soreness", "11"),
            ("soreness", "inf"),
            ("paused", "  "),
            ("ended-early", ""),
        ] {
            assert_eq!(line(what, text).noted(), Some(Noted::Unreadable), "{what}");
        }
        for what in [
            "rating",
            "mark-",
            "mark-0",
            "mark-1000",
            "mark--1",
            "mark-x",
            "coach-mark",
            "later",
            "",
        ] {
            assert_eq!(line(what, "5").noted(), None, "{what}");
        }
    }
}
