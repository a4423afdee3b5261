//! What Prepare shows, without drawing it.

use super::devices::{DeviceLine, line};
use super::fit::offer;
use super::go::{Button, Press, Trouble, buttons, cautions_stand, troubles};
use super::left::{self, GoingOn, LeftCard};
use super::session::{SessionCard, card};
use super::{Around, Chosen, Page, Shelf, State, group, spin_down};
use crate::engine::snapshot::Snapshot;
use crate::engine::{Command, GroupClock};
use crate::plan::fit::{Recoveries, changes_of};
use crate::ride::{Mode, RideMode};
use crate::rider::Rider;
use crate::time::Instant;
use crate::ui::words;

/// A figure of the rider's.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// What it is.
    pub what: &'static str,
    /// The same in a word, to stand over it.
    pub short: &'static str,
    /// The figure with its unit.
    pub value: String,
    /// Whether nobody has confirmed it yet.
    pub check_me: bool,
}

/// Everything that the room shows, but for the lists of sessions and riders, of which only what is in view is made.
#[derive(Clone, Debug, PartialEq)]
pub struct Data {
    /// What stands in the middle.
    pub page: Page,
    /// What is chosen.
    pub chosen: Chosen,
    /// The chosen session, for the rider as they stand or as they are being edited.
    pub session: SessionCard,
    /// The chosen rider's figures.
    pub figures: Vec<Figure>,
    /// The devices.
    pub devices: Vec<DeviceLine>,
    /// The guide through a calibration, which stands in the columns' place.
    pub guide: Option<spin_down::Guide>,
    /// The ride that was left open and is offered.
    pub left: Option<LeftCard>,
    /// The ride that was taken and goes on at the start, in the place of sessions, timing and rider.
    pub going_on: Option<GoingOn>,
    /// What is missing before a start, what could not be read, what the core has to say; the most urgent first.
    pub missing: Vec<Trouble>,
    /// The large button, which has the keyboard at first.
    pub primary: Button,
    /// Other ways, at most two.
    pub others: Vec<Button>,
    /// What stands where nothing is missing: what the pedals do now, or a question that can wait.
    pub calm: String,
    /// Whose clock the ride will follow; empty for the rider's own.
    pub group: String,
    /// What the button of the television's window does.
    pub television: String,
    /// The way to the settings, with its key.
    pub settings: String,
    /// The way to where sessions are written, with its key.
    pub write: String,
    /// The way to where rides are looked at, with its key.
    pub review: String,
}

impl Data {
    /// What the room shows at `now`.
    pub fn new(
        now: Instant,
        snapshot: &Snapshot,
        shelf: &Shelf,
        chosen: Chosen,
        state: &State,
        around: &Around,
    ) -> Self {
        let fitted = chosen.fitted(shelf);
        let kept = shelf.riders.get(chosen.rider).map(|(_, rider)| &**rider);
        let draft = state.form.as_ref().map(|form| &form.draft);
        let rider: Option<&Rider> = draft.or(kept);
        let offers =
            chosen.wish.recoveries == Recoveries::Full && state.last_recoveries != Recoveries::Full;
        let (mut primary, mut others) = buttons(snapshot, shelf, state);
        if let (Page::Columns, Some(words)) = (state.page, group::waits(now, snapshot)) {
            primary = Button::new(words, Press::Wait);
            others = vec![Button::new(
                word!("Not with the group"),
                Press::Tell(Command::Clock(GroupClock::Own)),
            )];
        }
        // While a rider is edited only what is said of that stands at the foot.
        let missing = match &state.form {
            Some(form) => form
                .refusal
                .iter()
                .map(|words| Trouble::new(words))
                .collect(),
            None => troubles(snapshot, shelf, state, around),
        };
        if state.offer.rests(now) {
            primary.press = Press::Wait;
            others.iter_mut().for_each(|way| way.press = Press::Wait);
        }
        let left = left::card(now, snapshot, &state.offer, &around.left_key);
        let going_on = left::going_on(snapshot, &state.offer);
        let calm = match snapshot.mode {
            Mode::Ready if snapshot.waits_for_pedals => word!("Turn the pedals to begin."),
            _ if going_on.is_some() => "",
            _ if offers => offer(state.last_recoveries),
            _ if around.screen_told => "",
            _ => word!("How large is this screen, and how far away? Settings ask."),
        };
        let calm = match (&left, snapshot.waits_for_pedals) {
            (Some(left), false) => format!("{}.", left.spoken),
            _ => calm.to_owned(),
        };
        Self {
            page: if cautions_stand(snapshot, state) {
                Page::Cautions
            } else {
                state.page
            },
            chosen,
            session: match (&going_on, &snapshot.plan) {
                // What goes on is what the core holds, and not what is chosen here.
                (Some(_), Some(plan)) => {
                    let rider = snapshot.rider.as_deref();
                    card(plan, changes_of(&plan.source), rider, snapshot.ride_mode)
                }
                _ => fitted
                    .map(|(plan, changes)| card(&plan, changes, rider, chosen.mode))
                    .unwrap_or_default(),
            },
            figures: kept.map(figures).unwrap_or_default(),
            devices: state
                .order
                .of(&snapshot.devices)
                .into_iter()
                .map(|row| {
                    let mut line = DeviceLine {
                        calibrate: spin_down::button(row, snapshot),
                        ..line(row, &snapshot.devices, snapshot.flywheel, now)
                    };
                    // What is in use can always be let go.
                    line.roles.retain(|button| {
                        button.used || left::may_use(row, button.role, snapshot, &state.offer)
                    });
                    line
                })
                .collect(),
            guide: spin_down::guide(snapshot).filter(|_| state.page == Page::Columns),
            missing,
            calm,
            left,
            going_on,
            settings: match around.settings_key.as_str() {
                "" => word!("Settings").to_owned(),
                key => say!("Settings ({key})", key),
            },
            write: match around.write_key.as_str() {
                "" => word!("Write").to_owned(),
                key => say!("Write ({key})", key),
            },
            review: match around.review_key.as_str() {
                "" => word!("Rides").to_owned(),
                key => say!("Rides ({key})", key),
            },
            group: group::words(now, snapshot),
            television: match (around.television_open, around.television_key.as_str()) {
                (true, _) => word!("Close the television's window").to_owned(),
                (false, "") => word!("Open a window for a television").to_owned(),
                (false, key) => say!("Open a window for a television ({key})", key),
            },
            primary,
            others,
        }
    }
}

fn figures(rider: &Rider) -> Vec<Figure> {
    let figure = |what, short, key: &str, value: String| Figure {
        what,
        short,
        value,
        check_me: rider
            .unconfirmed
            .iter()
            .any(|unconfirmed| unconfirmed == key),
    };
    let ceiling = rider
        .heart_rate_ceiling
        .map_or_else(|| words::DASH.to_owned(), |ceiling| ceiling.to_string());
    vec![
        figure(
            word!("Threshold"),
            word!("threshold"),
            "threshold",
            rider.threshold.to_string(),
        ),
        figure(
            word!("Power cap"),
            word!("power cap"),
            "power_cap",
            rider.power_cap.to_string(),
        ),
        figure(
            word!("Sprint cap"),
            word!("sprint cap" # "over its figure"),
            "sprint_cap",
            rider.sprint_cap.to_string(),
        ),
        figure(
            word!("Heart-rate ceiling"),
            word!("ceiling"),
            "heart_rate_ceiling",
            ceiling,
        ),
    ]
}

/// The two modes and the entries to choose them by.
pub const MODES: [(RideMode, &str); 2] = [
    (RideMode::TargetPower, entry!("The brake holds the watts")),
    (
        RideMode::EffortOnly,
        entry!("I ride by effort, without watts"),
    ),
];
