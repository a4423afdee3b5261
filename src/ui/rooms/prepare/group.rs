//! Whose clock the ride follows: the rider's own, or a group's from a time of the day or a minute of the session.

use crate::engine::snapshot::Snapshot;
use crate::engine::{Command, GroupClock};
use crate::text::translated;
use crate::time::{Instant, Span};
use crate::toml_table::time_of_day;

/// What is typed on the page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Form {
    /// The time at which the group begins, as typed.
    pub time: String,
    /// The minute at which the session is joined, as typed.
    pub minute: String,
    /// What is wrong with what was pressed last.
    pub refused: String,
}

/// A press on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroupPress {
    /// Begin with the group at the time that is typed.
    At,
    /// Join at the minute that is typed.
    Join,
    /// By one's own clock.
    Own,
}

impl Form {
    /// What the core is told; where what is typed cannot be read, nothing, and the page says why.
    pub fn press(&mut self, press: GroupPress) -> Option<Command> {
        let clock = match press {
            GroupPress::Own => Ok(GroupClock::Own),
            GroupPress::At => time_of_day(self.time.trim()).map(GroupClock::At),
            GroupPress::Join => match self.minute.trim().parse::<u64>() {
                Ok(minute @ 0..=1_440) => Ok(GroupClock::Join(Span::from_seconds(minute * 60))),
                _ => Err(word!("Write a minute of the session, as 12.").to_owned()),
            },
        };
        match clock {
            Ok(clock) => {
                self.refused.clear();
                Some(Command::Clock(clock))
            }
            Err(why) => {
                self.refused = translated(&why).into_owned();
                None
            }
        }
    }
}

/// Seconds that are begun count as whole ones, so that the last of a countdown is one and not nought.
fn whole(span: Span) -> Span {
    Span::from_seconds(span.0.div_ceil(1_000_000))
}

/// Whose clock the ride will follow, in a sentence; empty for the rider's own.
pub fn words(now: Instant, snapshot: &Snapshot) -> String {
    let Some(group) = &snapshot.group else {
        return String::new();
    };
    let Some(clock) = group.clock_words() else {
        return group.join.map_or_else(String::new, |into| {
            say!(
                "The session is joined at {into}; the load builds up from nothing.",
                into
            )
        });
    };
    match (group.starts_in(now), group.is_at(now)) {
        (Some(left), _) if group.waits => say!(
            "Starts at {clock}, in {left}. The pedals may turn: the brake stays off till then.",
            clock,
            left = whole(left)
        ),
        (Some(left), _) => say!(
            "With the group at {clock}, in {left}.",
            clock,
            left = whole(left)
        ),
        (None, Some(at)) => say!(
            "The group began at {clock} and is {at} in: you join it there.",
            clock,
            at = Span::from_seconds(at.whole_seconds())
        ),
        (None, None) => String::new(),
    }
}

/// The words of the large button while the ride waits for the group; none where it does not.
pub(super) fn waits(now: Instant, snapshot: &Snapshot) -> Option<String> {
    let group = snapshot.group.as_ref().filter(|group| group.waits)?;
    let left = group.starts_in(now)?;
    Some(say!("Starts in {left}", left = whole(left)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_becomes_a_clock_or_a_sentence() {
        let mut form = Form {
            time: " 18:30 ".to_owned(),
            minute: "12".to_owned(),
            refused: String::new(),
        };
        let clock = |clock| Some(Command::Clock(clock));
        assert_eq!(form.press(GroupPress::At), clock(GroupClock::At(66_600)));
        assert_eq!(
            form.press(GroupPress::Join),
            clock(GroupClock::Join(Span::from_seconds(720)))
        );
        form.time = "half past six".to_owned();
        assert_eq!(form.press(GroupPress::At), None);
        assert!(form.refused.contains("18:30"));
        form.minute = "-3".to_owned();
        assert_eq!(form.press(GroupPress::Join), None);
        assert_eq!(form.press(GroupPress::Own), clock(GroupClock::Own));
        assert_eq!(form.refused, "");
    }
}
