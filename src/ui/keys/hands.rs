//! What the hands have begun and not finished, and what an act comes to with it.

use super::acts::Act;
use super::keymap::Keymap;
use super::menu::{self, Menu};
use super::table::{Effect, State, effect};
use super::{off_by_hand, paused};
use crate::engine::Command;
use crate::engine::snapshot::{Armed, Question, Snapshot, TestOutcome};
use crate::ride::Mode;
use crate::time::{Instant, Span};
use crate::units::Effort;

/// Choices that were opened leave by themselves when nothing was pressed for so long; so does an answer that was begun
/// while riding. Longer than a first press waits for its second.
const LEAVES_AFTER: Span = Span::from_seconds(8);

/// The words for why a load stands leave by themselves after so long: time to read all of them twice.
const WHY_LEAVES_AFTER: Span = Span::from_seconds(20);

/// Where an answer begins: the middle of the scale.
const MIDDLE: u8 = 5;

/// What the hands have begun and not finished, and the keys under them: state of the window alone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hands {
    /// The answer chosen so far.
    pub rating: Option<u8>,
    /// The keys.
    pub keys: Keymap,
    /// Whether what a threshold test found is to be taken, as chosen so far.
    take_found: Option<bool>,
    menu: Option<Menu>,
    /// When the last key did something here, on the snapshots' clock.
    touched: Instant,
    asked: Option<Question>,
    /// Since when it is shown why the load stands.
    why: Option<Instant>,
    /// Whether the page to lead from is shown.
    leads: bool,
    /// What the window itself has to do; taken at once, so that it holds one act's worth.
    for_window: Vec<Effect>,
}

impl Hands {
    /// With these keys.
    pub fn with_keys(keys: Keymap) -> Self {
        Self {
            keys,
            ..Self::default()
        }
    }

    /// The choices that are shown, where any are.
    pub const fn menu(&self) -> Option<&Menu> {
        self.menu.as_ref()
    }

    /// Whether the rider has walked the choices, so that they matter more than what stands in their place.
    pub fn is_choosing(&self) -> bool {
        self.menu
            .as_ref()
            .is_some_and(|menu| menu.state() == State::Choosing || menu.place() > 0)
    }

    /// Whether it is shown why the load stands.
    pub const fn asks_why(&self) -> bool {
        self.why.is_some()
    }

    /// Whether the page to lead from is shown.
    pub const fn leads(&self) -> bool {
        self.leads
    }

    /// What is chosen so far of a threshold test's finding: to take it, or not.
    pub const fn take_found(&self) -> Option<bool> {
        self.take_found
    }

    /// Everything that was begun is forgotten; the keys stay.
    pub fn put_down(&mut self) {
        *self = Self::with_keys(self.keys.clone());
    }

    /// What the window itself has to do since this was last asked.
    pub fn take_for_window(&mut self) -> Vec<Effect> {
        std::mem::take(&mut self.for_window)
    }

    /// Follows the ride: forgets an answer that was begun for a question which no longer stands, shows the choices of a
    /// ride that stands, and has what was opened leave by itself.
    pub fn settle(&mut self, snapshot: &Snapshot) {
        if self.asked != snapshot.question {
            self.asked = snapshot.question;
            self.rating = None;
        }
        if !proposes(snapshot) {
            self.take_found = None;
        }
        let idle = snapshot.at.since(self.touched) >= LEAVES_AFTER && snapshot.armed.is_none();
        if idle && snapshot.mode.under_way() {
            self.rating = None;
        }
        self.why = self.why.filter(|&since| {
            snapshot.mode.under_way() && snapshot.at.since(since) < WHY_LEAVES_AFTER
        });
        let stands = if !snapshot.mode.under_way() {
            None
        } else if paused(snapshot.mode).is_some() {
            Some(State::Paused)
        } else if off_by_hand(snapshot) {
            Some(State::Off)
        } else {
            self.menu
                .as_ref()
                .map(Menu::state)
                .filter(|&state| state == State::Choosing && !idle)
        };
        match (&mut self.menu, stands) {
            (_, None) => self.menu = None,
            (Some(menu), Some(state)) if menu.state() == state => {
                menu.renew(snapshot);
                if idle {
                    menu.rest();
                }
            }
            (_, Some(state)) => self.menu = Menu::new(state, snapshot),
        }
    }
}

/// What an act means in this state of the ride: what the core is told. What the window itself has to do is left in
/// `hands`, and so is what was begun.
pub fn commands(act: Act, snapshot: &Snapshot, hands: &mut Hands) -> Vec<Command> {
    hands.settle(snapshot);
    hands.touched = snapshot.at;
    let does = effect(act, State::of(snapshot, hands));
    if does == Effect::Take {
        return take(snapshot, hands);
    }
    perform(does, act, snapshot, hands)
}

/// Whether what a threshold test found waits for an answer.
pub(super) fn proposes(snapshot: &Snapshot) -> bool {
    let waits = |told: &TestOutcome| told.found.is_ok() && told.taken.is_none();
    matches!(snapshot.mode, Mode::Finished(_))
        && snapshot.question.is_none()
        && snapshot.test.as_deref().is_some_and(waits)
}

/// Takes the choice: it is done, and choices that were opened leave, but for those that are pressed again.
fn take(snapshot: &Snapshot, hands: &mut Hands) -> Vec<Command> {
    let Some(menu) = &mut hands.menu else {
        return Vec::new();
    };
    let chosen = menu.chosen();
    let second = matches!(
        (chosen, snapshot.armed),
        (Effect::Skip, Some(Armed::Skip)) | (Effect::End, Some(Armed::End))
    );
    let again = matches!(
        chosen,
        Effect::Harder | Effect::Easier | Effect::Stretch | Effect::Undo
    ) || (chosen.twice() && !second);
    if !again {
        if menu.state() == State::Choosing {
            hands.menu = None;
        } else {
            menu.rest();
        }
    }
    perform(chosen, Act::Yes, snapshot, hands)
}

fn perform(does: Effect, act: Act, snapshot: &Snapshot, hands: &mut Hands) -> Vec<Command> {
    let asked = snapshot.question.is_some();
    if does == Effect::NoteGear && !menu::shifts(snapshot) {
        return Vec::new();
    }
    if let Some(command) = does.command() {
        if does == Effect::Pass {
            hands.rating = None;
            return if asked { vec![command] } else { Vec::new() };
        }
        return vec![command];
    }
    if proposes(snapshot) {
        // More takes it, less does not, and yes answers. A yes by itself only chooses *not now*: a threshold is never
        // taken by the press that leaves the room, nor is a question left by it.
        match (does, hands.take_found) {
            (Effect::Higher, _) => hands.take_found = Some(true),
            (Effect::Lower, _) | (Effect::Leave, None) => hands.take_found = Some(false),
            (Effect::Leave, Some(true)) => hands.for_window.push(Effect::TakeFound),
            (Effect::Leave, Some(false)) => hands.for_window.push(Effect::LeaveFound),
            _ => {}
        }
        if matches!(does, Effect::Higher | Effect::Lower | Effect::Leave) {
            return Vec::new();
        }
    }
    match does {
        Effect::PauseOrGoOn => {
            let stands = paused(snapshot.mode).is_some() || off_by_hand(snapshot);
            return vec![if stands {
                Command::Resume
            } else {
                Command::Pause
            }];
        }
        Effect::UseAgain => {
            let changed = snapshot.changed.iter().cloned();
            return changed
                .map(|(role, id)| Command::Use(role, Some(id)))
                .collect();
        }
        Effect::Why => {
            hands.why = match hands.why {
                None => Some(snapshot.at),
                Some(_) => None,
            };
        }
        Effect::Lead => hands.leads = !hands.leads,
        Effect::Open => hands.menu = Menu::new(State::Choosing, snapshot),
        Effect::Next => {
            if let Some(menu) = &mut hands.menu {
                menu.on();
            }
        }
        Effect::Previous => {
            let leaves = hands.menu.as_mut().is_some_and(|menu| !menu.back());
            if leaves {
                hands.menu = None;
            }
        }
        Effect::BeginAnswer | Effect::Higher | Effect::Lower if asked => {
            hands.rating = Some(match (hands.rating, does) {
                (Some(rating), Effect::Higher) => (rating + 1).min(10),
                (Some(rating), Effect::Lower) => rating.saturating_sub(1),
                (rating, _) => rating.unwrap_or(MIDDLE),
            });
        }
        Effect::Digit if asked => {
            if let Act::Digit(digit) = act {
                // A nought after a one makes ten.
                hands.rating = Some(match (digit, hands.rating) {
                    (0, Some(1)) => 10,
                    _ => digit,
                });
            }
        }
        Effect::Answer => {
            if let Some(rating) = hands.rating.take() {
                return vec![Command::Rate(Effort(f64::from(rating)))];
            }
        }
        Effect::Ground
        | Effect::Sound
        | Effect::Television
        | Effect::Settings
        | Effect::Write
        | Effect::Review
        | Effect::LeftOpen
        | Effect::NextSession
        | Effect::Leave => {
            hands.for_window.push(does);
        }
        // The rest is done by the widgets, or is nothing.
        _ => {}
    }
    Vec::new()
}
