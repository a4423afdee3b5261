//! A ride that a killed program left open: it is offered, told on a page, and once it is taken stands in the columns'
//! place until it begins or another is chosen.

use super::devices::shown_name;
use super::go::{Button, Press};
use super::{Page, State};
use crate::engine::command::Role;
use crate::engine::snapshot::{DeviceRow, Snapshot};
use crate::ride::RideMode;
use crate::text::translated;
use crate::time::{Instant, Span};

/// The foot takes nothing for so long after an answer, since other buttons stand in its place then: a double click or a
/// second press of a key is over by then. Our own choice.
const RESTS: Span = Span::from_millis(500);

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

/// An answer with the ride that it is meant for: by the time that it is seen to another may be offered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftWish {
    /// The name of the ride's folder.
    pub ride: String,
    /// What was answered.
    pub press: LeftPress,
}

/// A wish that was refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// What was wished for.
    pub wish: LeftWish,
    /// Why not, a sentence or two.
    pub why: String,
    /// Whether it was told on the page. Until then it stands among what is missing.
    pub told: bool,
}

/// What is kept of the offer from one frame to the next.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Offer {
    /// The newest ride that was left open; none where there is none, or while that is not known.
    pub left: Option<Left>,
    /// When it was read.
    pub read_at: Instant,
    /// What was pressed and is not answered yet.
    pub waits: Option<LeftWish>,
    /// What was pressed last, where it was refused.
    pub refused: Option<Refused>,
    /// Until then the foot takes nothing.
    pub rests_until: Instant,
    /// Whether the trainer of the ride that was taken was a model.
    pub practice: bool,
    /// Whether the trainer of the ride that was taken is not asked for yet, because another one is let go first.
    pub trainer_waits: bool,
}

impl Offer {
    /// Whether the page has something to tell.
    pub(super) const fn stands(&self) -> bool {
        self.left.is_some() || self.refused.is_some()
    }

    /// Something was answered at `now`, and other buttons stand where a second press would land.
    pub fn rest(&mut self, now: Instant) {
        self.rests_until = now + RESTS;
    }

    /// Whether the foot takes nothing at `now`.
    pub(super) fn rests(&self, now: Instant) -> bool {
        now < self.rests_until
    }

    /// What was refused and is not told on the page yet.
    pub(super) fn untold(&self) -> Option<&str> {
        let refused = self.refused.as_ref().filter(|refused| !refused.told)?;
        Some(&refused.why)
    }

    /// Whether what was refused was asked for another ride than the one that is offered now.
    fn tells_of_another(&self, left: &Left) -> bool {
        let refused = self.refused.as_ref();
        refused.is_some_and(|refused| refused.wish.ride != left.ride)
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
        "" | "–" => word!("A ride was left open").to_owned(),
        key => say!("A ride was left open ({key})", key),
    };
    let refused = offer.refused.as_ref();
    let mut refused =
        refused.map_or_else(String::new, |refused| translated(&refused.why).into_owned());
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
    let spoken = say!(
        "{way}: {named}, {ridden} ridden",
        way,
        named,
        ridden = left.ridden
    );
    if offer.tells_of_another(left) {
        // The figures of this one beside what was said of that one would mislead.
        return Some(LeftCard {
            way,
            spoken,
            lines,
            refused,
        });
    }
    lines.push(match (left.began.as_str(), left.rider.as_str()) {
        ("", "") => format!("{named}."),
        ("", rider) => say!("{named}, ridden by {rider}.", named, rider),
        (began, "") => say!("{named}, begun on {began}.", named, began),
        (began, rider) => say!("{named}, begun on {began} by {rider}.", named, began, rider),
    });
    lines.push(match &left.left {
        Ok(rest) => say!("{ridden} ridden, {rest} left.", ridden = left.ridden, rest),
        Err(_) => say!("{ridden} ridden.", ridden = left.ridden),
    });
    if let Some(kept) = left.kept {
        let ago = words_of(kept + now.since(offer.read_at));
        lines.push(say!(
            "Its last second was kept {ago} ago. Then the program ended, and the recording was never closed.",
            ago
        ));
    }
    match &left.left {
        Ok(_) => lines.push(
            word!("Gone on with, it is ridden with the figures of that day and on the devices it began with, and what you ride \
             is added to the same recording. The brake stays off until the pedals turn. Closed, it stays as far as it \
             was ridden. Nothing is lost by leaving it: another ride can come first.")
                .to_owned(),
        ),
        Err(why) if refused.is_empty() => refused = translated(why).into_owned(),
        Err(_) => {}
    }
    Some(LeftCard {
        spoken,
        way,
        lines,
        refused,
    })
}

/// How long ago, coarse enough to stand still while it is read.
fn words_of(span: Span) -> String {
    // Two days are the least that is told in days.
    match span.whole_seconds() {
        0..60 => word!("less than a minute" # "ago").to_owned(),
        60..120 => word!("one minute" # "ago").to_owned(),
        seconds @ 120..3_600 => say!("{past} minutes", past = seconds / 60),
        3_600..7_200 => word!("one hour" # "ago").to_owned(),
        seconds @ 7_200..172_800 => say!("{past} hours", past = seconds / 3_600),
        seconds => say!("{past} days", past = seconds / 86_400),
    }
}

/// The buttons of the page. Where something was refused the large one leaves, so that a second press of it does nothing
/// else than was meant; and where another ride is offered by then, leaving is all that can be pressed.
pub(super) fn buttons(offer: &Offer) -> (Button, Vec<Button>) {
    let leave = |words: &str| Button::new(words, Press::Show(Page::Columns));
    let not_now = leave(word!("Not now"));
    let press = offer.waits.as_ref().map(|wish| wish.press);
    let left = match (press, &offer.left) {
        (Some(LeftPress::GoOn), _) => {
            let waits = Button::new(word!("The ride is being read"), Press::Wait);
            return (waits, vec![not_now]);
        }
        (Some(LeftPress::Close), _) => {
            let waits = Button::new(word!("The recording is being closed"), Press::Wait);
            return (waits, vec![not_now]);
        }
        (None, Some(left)) if !offer.tells_of_another(left) => left,
        (None, _) => return (leave(word!("Back")), Vec::new()),
    };
    let wish = |words: &str, press| {
        let ride = left.ride.clone();
        Button::new(words, Press::Left(LeftWish { ride, press }))
    };
    let close = wish(word!("Close it"), LeftPress::Close);
    let go_on = wish(word!("Go on with it"), LeftPress::GoOn);
    let refused = offer.refused.as_ref().map(|refused| refused.wish.press);
    match (refused, left.left.is_ok()) {
        (None, true) => (go_on, vec![close, not_now]),
        (None | Some(LeftPress::GoOn), false) => (not_now, vec![close]),
        (Some(LeftPress::GoOn), true) => (
            not_now,
            vec![wish(word!("Try again"), LeftPress::GoOn), close],
        ),
        (Some(LeftPress::Close), goes_on) => {
            let mut others = vec![wish(word!("Try again"), LeftPress::Close)];
            others.extend(goes_on.then_some(go_on));
            (not_now, others)
        }
    }
}

/// Whether a device may be taken in a role for what goes on at the start. What was ridden on machines is not gone on with
/// on models, nor on a machine what was ridden on a practice trainer: the recording names its devices once, at its
/// beginning, and would not tell. Where that is not known it counts as ridden on machines.
pub(super) fn may_use(row: &DeviceRow, role: Role, snapshot: &Snapshot, offer: &Offer) -> bool {
    match (snapshot.taken_up.is_some(), offer.practice) {
        (false, _) => true,
        (true, false) => !row.simulated,
        (true, true) => row.simulated || role != Role::Trainer,
    }
}

/// A ride that was taken and goes on at the start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GoingOn {
    /// Its sentences; the first says which.
    pub lines: Vec<String>,
}

/// What is told of the ride that goes on; none where a ride of its own begins.
pub(super) fn going_on(snapshot: &Snapshot, offer: &Offer) -> Option<GoingOn> {
    let taken = snapshot.taken_up.as_ref()?;
    let mut lines = vec![
        format!("{}.", taken.ride),
        say!(
            "{ridden} ridden, {rest} left.",
            ridden = taken.ridden,
            rest = taken.left
        ),
    ];
    if let Some(rider) = &snapshot.rider {
        lines.push(say!(
            "For {rider}, as on that day: threshold {threshold}, power cap {cap}, sprint cap {sprint_cap}.",
            rider = rider.called(),
            threshold = rider.threshold,
            cap = rider.power_cap,
            sprint_cap = rider.sprint_cap
        ));
    }
    lines.push(
        match snapshot.ride_mode {
            RideMode::TargetPower => word!("The brake holds the watts."),
            RideMode::EffortOnly => word!("You ride by effort, without watts."),
        }
        .to_owned(),
    );
    lines.push(say!(
        "Nothing is set before the pedals turn. {held_back} What you ride is added to the same recording.",
        held_back = translated(taken.held_back)
    ));
    if let (true, Some(first)) = (offer.trainer_waits, snapshot.let_go_first.first()) {
        let row = snapshot.devices.iter().find(|row| row.id == *first);
        let name = row.map(|row| shown_name(row, &snapshot.devices));
        lines.push(say!(
            "{name} may hold its load since the last ride. It is let go as soon as it is connected, and then the trainer of \
             this ride is taken; one that you choose among the devices is taken at once.",
            name = name.as_deref().unwrap_or(word!("A trainer"))
        ));
    }
    Some(GoingOn { lines })
}

impl State {
    /// Opens the page of the ride that was left open, and says whether there is one. Not while a rider is edited.
    pub fn open_left(&mut self, snapshot: &Snapshot) -> bool {
        let opens = self.form.is_none() && self.offer.stands() && snapshot.taken_up.is_none();
        if opens {
            self.page = Page::LeftOpen;
        }
        opens
    }

    /// Leaves the page where there is nothing to tell on it any more, and forgets what was refused once it was told there
    /// and the page was left.
    pub(super) fn settle_left(&mut self, snapshot: &Snapshot) {
        let offer = &mut self.offer;
        if self.page == Page::LeftOpen && (!offer.stands() || snapshot.taken_up.is_some()) {
            self.page = Page::Columns;
        }
        if self.page == Page::LeftOpen {
            if let Some(refused) = &mut offer.refused {
                refused.told = true;
            }
            return;
        }
        offer.refused.take_if(|refused| refused.told);
        // An answer that comes after the page was left is no answer any more; a recording that is being closed is
        // closed all the same.
        offer.waits.take_if(|wish| wish.press == LeftPress::GoOn);
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
