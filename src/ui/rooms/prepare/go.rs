//! The way to a start: what is missing in the order of urgency, and what the large button does.

use super::devices::{adapter, shown_name};
use super::left::{self, LeftWish, may_use};
use super::{Around, Page, Shelf, State, spin_down};
use crate::engine::Command;
use crate::engine::command::Role;
use crate::engine::snapshot::{DeviceRow, Link, Snapshot};
use crate::ride::Mode;
use crate::text::translated;

/// Something that is missing or wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Its first sentence.
    pub short: String,
    /// All of it.
    pub whole: String,
}

impl Trouble {
    /// From words that may have been made elsewhere, in English.
    pub(super) fn new(whole: &str) -> Self {
        let whole = translated(whole).into_owned();
        // A sentence ends at a stop with a space behind it; "e.g. this" is not written here.
        let end = whole.find(". ").map_or(whole.len(), |at| at + 1);
        Self {
            short: whole[..end].to_owned(),
            whole,
        }
    }
}

/// What a button of the foot does.
#[derive(Clone, Debug, PartialEq)]
pub enum Press {
    /// Tells the core.
    Tell(Command),
    /// Shows a page of the room.
    Show(Page),
    /// Goes to the settings.
    Settings,
    /// Saves what was edited.
    Save,
    /// Reads the file of the rider that is edited again.
    Reread,
    /// Goes on with the ride that was left open, or closes it.
    Left(LeftWish),
    /// Nothing: it waits.
    Wait,
}

/// A button of the foot.
#[derive(Clone, Debug, PartialEq)]
pub struct Button {
    /// Its words.
    pub words: String,
    /// What a press does.
    pub press: Press,
}

impl Button {
    pub(super) fn new(words: impl Into<String>, press: Press) -> Self {
        Self {
            words: words.into(),
            press,
        }
    }
}

/// What is missing or wrong, the most urgent first: nothing to ride, a wish that was refused, what the core waits for, what
/// it has to say, the radio, the display, sound, files that could not be read.
pub(super) fn troubles(
    snapshot: &Snapshot,
    shelf: &Shelf,
    state: &State,
    around: &Around,
) -> Vec<Trouble> {
    let mut all = Vec::new();
    if shelf.sessions.is_empty() {
        all.push(word!(
            "No session could be read. Put one into the sessions folder."
        ));
    }
    all.extend(state.refused.as_deref());
    all.extend(state.offer.untold());
    all.extend(snapshot.missing.iter().map(String::as_str));
    all.extend(snapshot.notice.as_deref());
    all.extend(adapter(&snapshot.adapter));
    all.extend(around.display);
    all.extend(around.sound);
    all.extend(around.settings_troubles.iter().map(String::as_str));
    all.extend(shelf.troubles.iter().map(String::as_str));
    let mut troubles: Vec<Trouble> = Vec::new();
    for trouble in all.into_iter().map(Trouble::new) {
        // The radio's trouble may be the core's newest notice as well: it is said once.
        if troubles.iter().all(|told| told.short != trouble.short) {
            troubles.push(trouble);
        }
    }
    troubles
}

/// The large button and the ways beside it, at most two.
pub(super) fn buttons(snapshot: &Snapshot, shelf: &Shelf, state: &State) -> (Button, Vec<Button>) {
    match state.page {
        Page::Rider => {
            let leave = Button::new(word!("Leave without saving"), Press::Show(Page::Columns));
            let mut others = vec![leave];
            if state.form.as_ref().is_some_and(|form| form.reread) {
                others.insert(0, Button::new(word!("Read the file again"), Press::Reread));
            }
            return (Button::new(word!("Save this rider"), Press::Save), others);
        }
        Page::Troubles => {
            return (
                Button::new(word!("Back"), Press::Show(Page::Columns)),
                Vec::new(),
            );
        }
        Page::Group => {
            return (
                Button::new(word!("Back"), Press::Show(Page::Columns)),
                Vec::new(),
            );
        }
        Page::LeftOpen => return left::buttons(&state.offer),
        Page::Cautions if snapshot.cautions_seen_today => {
            return (
                Button::new(word!("Back"), Press::Show(Page::Columns)),
                Vec::new(),
            );
        }
        Page::Columns => {
            if let Some(guide) = spin_down::guide(snapshot) {
                let leave = Press::Tell(Command::LeaveSpinDown);
                return (Button::new(guide.leave, leave), Vec::new());
            }
        }
        Page::Cautions => {}
    }
    let ready = !shelf.sessions.is_empty() && snapshot.mode == Mode::Ready;
    let use_it = |row: &DeviceRow, words: String| {
        let command = Command::Use(Role::Trainer, Some(row.id.clone()));
        Button::new(words, Press::Tell(command))
    };
    let can = |row: &&DeviceRow| {
        row.can.contains(&Role::Trainer)
            && !matches!(row.link, Link::Unusable(_))
            && may_use(row, Role::Trainer, snapshot, &state.offer)
    };
    let practice = snapshot
        .devices
        .iter()
        .filter(can)
        .find(|row| row.simulated);
    let practice = practice.map(|row| {
        use_it(
            row,
            word!("Use the practice trainer (simulated)").to_owned(),
        )
    });
    let used = |row: &&DeviceRow| row.used_for.contains(&Role::Trainer);
    if let Some(row) = snapshot.devices.iter().find(used) {
        let name = shown_name(row, &snapshot.devices);
        let fits = may_use(row, Role::Trainer, snapshot, &state.offer);
        let primary = match (snapshot.mode, &row.link) {
            _ if !fits && snapshot.let_go_first.contains(&row.id) => {
                Button::new(say!("{name} is being let go", name), Press::Wait)
            }
            _ if !fits => {
                let stop = Press::Tell(Command::Use(Role::Trainer, None));
                Button::new(say!("Stop using {name}", name), stop)
            }
            (_, Link::Unusable(_)) => Button::new(say!("{name} cannot be used", name), Press::Wait),
            (_, Link::Lost) => Button::new(say!("Waiting for {name}", name), Press::Wait),
            _ if !snapshot.cautions_seen_today => cautions(),
            (Mode::Connecting, Link::Heard | Link::Connecting) => {
                Button::new(say!("Connecting {name}", name), Press::Wait)
            }
            (Mode::Connecting, Link::Connected) => Button::new(word!("Connecting"), Press::Wait),
            _ if ready && snapshot.waits_for_pedals => {
                Button::new(word!("Start now"), Press::Tell(Command::Start))
            }
            _ if ready => Button::new(
                word!("Ready to ride"),
                Press::Tell(Command::StartWithPedals),
            ),
            _ => Button::new(word!("Not ready yet"), Press::Wait),
        };
        let standing = !matches!(row.link, Link::Connected) && !row.simulated;
        let others = practice.filter(|_| standing).into_iter().collect();
        return (primary, others);
    }
    let mut ways = Vec::new();
    let real = |row: &&DeviceRow| can(row) && !row.simulated;
    let heard = snapshot.devices.iter().filter(real).find(|row| row.known);
    let heard = heard.or_else(|| snapshot.devices.iter().find(real));
    ways.extend(heard.map(|row| {
        let name = shown_name(row, &snapshot.devices);
        use_it(row, say!("Use {name}", name))
    }));
    ways.extend(practice);
    if ready {
        let without = if snapshot.cautions_seen_today {
            Button::new(
                word!("Start without a trainer"),
                Press::Tell(Command::Start),
            )
        } else if state.page == Page::Cautions {
            cautions()
        } else {
            Button::new(
                word!("Start without a trainer"),
                Press::Show(Page::Cautions),
            )
        };
        ways.push(without);
    }
    if state.page == Page::Cautions {
        // What stands in the middle is what the button answers.
        return (
            cautions(),
            ways.into_iter()
                .filter(|way| *way != cautions())
                .take(2)
                .collect(),
        );
    }
    if ways.is_empty() {
        return (Button::new(word!("Not ready yet"), Press::Wait), Vec::new());
    }
    let primary = ways.remove(0);
    ways.truncate(2);
    (primary, ways)
}

fn cautions() -> Button {
    Button::new(
        word!("I have read this"),
        Press::Tell(Command::CautionsSeen),
    )
}

/// Whether the cautions stand in the middle of the room: because they were asked for, or because a trainer was taken
/// for the first ride of the day.
pub(super) fn cautions_stand(snapshot: &Snapshot, state: &State) -> bool {
    match state.page {
        Page::Cautions => true,
        Page::Columns => {
            let used = |row: &DeviceRow| {
                row.used_for.contains(&Role::Trainer)
                    && !matches!(row.link, Link::Lost | Link::Unusable(_))
            };
            !snapshot.cautions_seen_today && snapshot.devices.iter().any(used)
        }
        Page::Rider | Page::Troubles | Page::Group | Page::LeftOpen => false,
    }
}
