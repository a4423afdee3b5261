//! Sentences for the screen, one at a time: each stands long enough to be read, and the more urgent first.

use std::collections::VecDeque;
use std::sync::Arc;

use crate::time::{Instant, Span};

/// A sentence stands this long where no other waits.
const STANDS: Span = Span::from_seconds(8);

/// And this long where one waits: some twenty words at an unhurried reader's pace.
const READ_IN: Span = Span::from_seconds(4);

/// What has waited longer than this is no news any more, and is dropped; it stands in the recording's events.
const WAITS: Span = Span::from_seconds(24);

/// So many wait at most. When there are more, the oldest of the least urgent is dropped.
const MOST_WAITING: usize = 6;

/// How much a sentence matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Urgency {
    /// Worth knowing.
    News,
    /// Something acts on the ride, or what is recorded may be lost.
    Acting,
    /// The brake may hold a load that nobody can take off.
    Danger,
}

#[derive(Clone, Debug)]
struct Notice {
    words: Arc<str>,
    urgency: Urgency,
    /// When it was said, or put back.
    since: Instant,
}

/// The sentence that stands, and those that wait.
#[derive(Clone, Debug, Default)]
pub struct Notices {
    shown: Option<Notice>,
    waiting: VecDeque<Notice>,
}

impl Notices {
    /// A sentence to be shown: at once where nothing as urgent is still being read, else in its turn.
    pub fn say(&mut self, now: Instant, words: String, urgency: Urgency) {
        self.settle(now);
        let notice = Notice {
            words: Arc::from(words),
            urgency,
            since: now,
        };
        match &mut self.shown {
            Some(shown) if shown.words == notice.words => shown.since = now,
            Some(shown) if shown.urgency >= urgency => {
                if now.since(shown.since) >= READ_IN {
                    self.shown = Some(notice);
                } else if self.waiting.iter().all(|wait| wait.words != notice.words) {
                    self.put(notice);
                }
            }
            _ => {
                if let Some(mut broken_off) = self.shown.replace(notice)
                    && now.since(broken_off.since) < READ_IN
                {
                    broken_off.since = now;
                    self.put(broken_off);
                }
            }
        }
    }

    fn put(&mut self, notice: Notice) {
        self.waiting.push_back(notice);
        if self.waiting.len() > MOST_WAITING
            && let Some(least) = self.waiting.iter().map(|wait| wait.urgency).min()
            && let Some(at) = self.waiting.iter().position(|wait| wait.urgency == least)
        {
            self.waiting.remove(at);
        }
    }

    /// Takes down what has stood long enough, and shows what waits.
    pub fn settle(&mut self, now: Instant) {
        self.waiting.retain(|wait| now.since(wait.since) < WAITS);
        if self.next_change().is_some_and(|due| now < due) {
            return;
        }
        // The first of the most urgent.
        let most = self.waiting.iter().map(|wait| wait.urgency).max();
        let at = self
            .waiting
            .iter()
            .position(|wait| Some(wait.urgency) == most);
        self.shown = at
            .and_then(|at| self.waiting.remove(at))
            .map(|wait| Notice { since: now, ..wait });
    }

    /// When the sentence that stands is to be taken down.
    pub fn next_change(&self) -> Option<Instant> {
        let stands = if self.waiting.is_empty() {
            STANDS
        } else {
            READ_IN
        };
        self.shown.as_ref().map(|shown| shown.since + stands)
    }

    /// The sentence that stands.
    pub fn shown(&self) -> Option<Arc<str>> {
        self.shown.as_ref().map(|shown| shown.words.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Instant {
        Instant::ZERO + Span::from_seconds(seconds)
    }

    /// What stands at each second of the next so many.
    fn stand(notices: &mut Notices, seconds: std::ops::Range<u64>) -> String {
        seconds
            .map(|second| {
                notices.settle(at(second));
                notices
                    .shown()
                    .map_or("-".to_owned(), |words| words.to_string())
            })
            .collect()
    }

    #[test]
    fn each_of_three_said_in_one_step_is_read_and_the_most_urgent_first() {
        let mut notices = Notices::default();
        for (words, urgency) in [
            ("n", Urgency::News),
            ("d", Urgency::Danger),
            ("a", Urgency::Acting),
        ] {
            notices.say(at(0), words.to_owned(), urgency);
        }
        assert_eq!(stand(&mut notices, 0..22), "ddddaaaannnnnnnn------");
    }

    #[test]
    fn what_was_read_gives_way_at_once_and_the_same_words_do_not_queue() {
        let mut notices = Notices::default();
        notices.say(at(0), "x".to_owned(), Urgency::News);
        notices.say(at(1), "x".to_owned(), Urgency::News);
        notices.say(at(6), "y".to_owned(), Urgency::News);
        assert_eq!(notices.shown().as_deref(), Some("y"));
        assert_eq!(stand(&mut notices, 6..16), "yyyyyyyy--");
    }

    #[test]
    fn a_flood_keeps_its_bound_and_its_danger() {
        let mut notices = Notices::default();
        notices.say(at(0), "0".to_owned(), Urgency::Danger);
        notices.say(at(0), "1".to_owned(), Urgency::Danger);
        for number in 0..100 {
            notices.say(at(0), format!("news {number}"), Urgency::News);
        }
        assert_eq!(notices.waiting.len(), MOST_WAITING);
        assert_eq!(stand(&mut notices, 0..5), "00001");
        // Old news is dropped rather than shown late: four seconds each, none after twenty-four.
        let mut last = String::new();
        for second in 5..60 {
            notices.settle(at(second));
            last = notices
                .shown()
                .map_or(String::new(), |words| words.to_string());
        }
        assert_eq!(last, "");
    }
}
