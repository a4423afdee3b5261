//! A ride that a killed program left open: it is offered, told on a page, and once it is taken stands in the columns'
//! place until it begins or another is chosen.

use super::go::{Button, Press};
use super::{Page, State};
use crate::engine::snapshot::Snapshot;
use crate::ride::RideMode;
use crate::time::{Instant, Span};

/// A ride that was left open, as it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Left {
    /// The name of its folder, among the rides.
    pub ride: String,
    /// Its session's name; empty where it could not be read.
    pub session: String,
    /// Who rode it; empty where that could not be read.
    pub rider: String,
    /// When it began, by the clock on the wall; empty where that is not known.
    pub began: String,
    /// What was ridden of it.
    pub ridden: Span,
    /// From its last second that was kept to when it was read; none where no second was.
    pub kept: Option<Span>,
    /// What is left of it, or why it cannot be gone on with, in a sentence.
    pub left: Result<Span, String>,
}

/// An answer to the offer that the window has to see to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeftPress {
    /// Go on with it.
    GoOn,
    /// Close it: what was ridden stays.
    Close,
}

/// What is kept of the offer from one frame to the next.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Offer {
    /// The newest ride that was left open; none where there is none, or while that is not known.
    pub left: Option<Left>,
    /// When it was read.
    pub read_at: Instant,
    /// What was pressed and is not answered yet.
    pub waits: Option<LeftPress>,
    /// What came of what was pressed last, where it was refused.
    pub refused: String,
}

impl Offer {
    /// Whether the page has something to tell.
    pub(super) const fn stands(&self) -> bool {
        self.left.is_some() || !self.refused.is_empty()
    }
}

/// The offer in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftCard {
    /// The words of the way to its page.
    pub way: String,
    /// The same for a screen reader.
    pub spoken: String,
    /// The page's sentences; the first is what it is.
    pub lines: Vec<String>,
    /// What was refused, or why it cannot be gone on with; empty where nothing stands in the way.
    pub refused: String,
}

/// What is offered at `now`; none where there is nothing, or where a ride was taken already. `key` opens the page.
pub(super) fn card(
    now: Instant,
    snapshot: &Snapshot,
    offer: &Offer,
    key: &str,
) -> Option<LeftCard> {
    if snapshot.taken_up.is_some() || !offer.stands() {
        return None;
    }
    let way = match key {
        "" | "–" => "A ride was left open".to_owned(),
        key => format!("A ride was left open ({key})"),
    };
    let mut refused = offer.refused.clone();
    let Some(left) = &offer.left else {
        return Some(LeftCard {
            spoken: way.clone(),
            way,
            lines: Vec::new(),
            refused,
        });
    };
    let mut lines = Vec::new();
    let named = if left.session.is_empty() {
        left.ride.clone()
    } else {
        left.session.clone()
    };
    lines.push(match (left.began.as_str(), left.rider.as_str()) {
        ("", "") => format!("{named}."),
        ("", rider) => format!("{named}, ridden by {rider}."),
        (began, "") => format!("{named}, begun on {began}."),
        (began, rider) => format!("{named}, begun on {began} by {rider}."),
    });
    lines.push(match &left.left {
        Ok(rest) => format!("{} ridden, {rest} left.", left.ridden),
        Err(_) => format!("{} ridden.", left.ridden),
    });
    if let Some(kept) = left.kept {
        let ago = words_of(kept + now.since(offer.read_at));
        lines.push(format!(
            "Its last second was kept {ago} ago. Then the program ended, and the recording was never closed."
        ));
    }
    match &left.left {
        Ok(_) => lines.push(
            "Gone on with, it is ridden with the figures of that day and on the devices it began with, and what you ride \
             is added to the same recording. The brake stays off until the pedals turn. Closed, it stays as far as it \
             was ridden. Nothing is lost by leaving it: another ride can come first."
                .to_owned(),
        ),
        Err(why) if refused.is_empty() => refused.clone_from(why),
        Err(_) => {}
    }
    Some(LeftCard {
        spoken: format!("{way}: {named}, {} ridden", left.ridden),
        way,
        lines,
        refused,
    })
}

/// How long ago, coarse enough to stand still while it is read.
fn words_of(span: Span) -> String {
    let some = |count: u64, what: &str| match count {
        1 => format!("one {what}"),
        count => format!("{count} {what}s"),
    };
    match span.whole_seconds() {
        0..60 => "less than a minute".to_owned(),
        seconds @ 60..3_600 => some(seconds / 60, "minute"),
        seconds @ 3_600..172_800 => some(seconds / 3_600, "hour"),
        seconds => some(seconds / 86_400, "day"),
    }
}

/// The buttons of the page. Where something was refused the large one leaves, so that a second press of it does nothing
/// else than was meant.
pub(super) fn buttons(offer: &Offer) -> (Button, Vec<Button>) {
    let leave = |words: &str| Button::new(words, Press::Show(Page::Columns));
    let close = Button::new("Close it", Press::Left(LeftPress::Close));
    let go_on = |words: &str| Button::new(words, Press::Left(LeftPress::GoOn));
    let not_now = leave("Not now");
    match (offer.waits, &offer.left) {
        (Some(LeftPress::GoOn), _) => {
            let waits = Button::new("The ride is being read", Press::Wait);
            (waits, vec![not_now])
        }
        (Some(LeftPress::Close), _) => {
            let waits = Button::new("The recording is being closed", Press::Wait);
            (waits, vec![not_now])
        }
        (None, None) => (leave("Back"), Vec::new()),
        (None, Some(left)) if left.left.is_err() => (not_now, vec![close]),
        (None, Some(_)) if !offer.refused.is_empty() => (not_now, vec![go_on("Try again"), close]),
        (None, Some(_)) => (go_on("Go on with it"), vec![close, not_now]),
    }
}

/// A ride that was taken and goes on at the start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GoingOn {
    /// Its sentences; the first says which.
    pub lines: Vec<String>,
}

/// What is told of the ride that goes on; none where a ride of its own begins.
pub(super) fn going_on(snapshot: &Snapshot) -> Option<GoingOn> {
    let taken = snapshot.taken_up.as_ref()?;
    let mut lines = vec![
        format!("{}.", taken.ride),
        format!("{} ridden, {} left.", taken.ridden, taken.left),
    ];
    if let Some(rider) = &snapshot.rider {
        lines.push(format!(
            "For {}, as on that day: threshold {}, power cap {}, sprint cap {}.",
            rider.name, rider.threshold, rider.power_cap, rider.sprint_cap
        ));
    }
    lines.push(
        match snapshot.ride_mode {
            RideMode::TargetPower => "The brake holds the watts.",
            RideMode::EffortOnly => "You ride by effort, without watts.",
        }
        .to_owned(),
    );
    lines.push(format!(
        "Nothing is set before the pedals turn. {} What you ride is added to the same recording.",
        taken.held_back
    ));
    Some(GoingOn { lines })
}

impl State {
    /// Opens the page of the ride that was left open, and says whether there is one. Not while a rider is edited.
    pub fn open_left(&mut self, snapshot: &Snapshot) -> bool {
        let opens = self.form.is_none() && self.offer.left.is_some() && snapshot.taken_up.is_none();
        if opens {
            self.page = Page::LeftOpen;
        }
        opens
    }

    /// Leaves the page where there is nothing to tell on it any more, and forgets what was refused once it was left.
    pub(super) fn settle_left(&mut self, snapshot: &Snapshot) {
        if self.page == Page::LeftOpen && (!self.offer.stands() || snapshot.taken_up.is_some()) {
            self.page = Page::Columns;
        }
        if self.page != Page::LeftOpen {
            self.offer.refused.clear();
            // An answer that comes after the page was left is no answer any more; a recording that is being closed is
            // closed all the same.
            if self.offer.waits == Some(LeftPress::GoOn) {
                self.offer.waits = None;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn how_long_ago_is_told_in_whole_units() {
        for (seconds, words) in [
            (0, "less than a minute"),
            (59, "less than a minute"),
            (60, "one minute"),
            (3_599, "59 minutes"),
            (3_600, "one hour"),
            (172_799, "47 hours"),
            (172_800, "2 days"),
        ] {
            assert_eq!(words_of(Span::from_seconds(seconds)), words, "{seconds}");
        }
    }
}
