//! The Prepare room, in the order of the job: what will be ridden, for whom, with what, safely; and then go.
//!
//! The strip of the chosen session stands across the room. Under it are three columns, or a page in their place: the
//! rider's, the cautions, or all that is missing. Nothing that comes and goes moves anything else.

mod data;
mod devices;
mod draw;
pub mod fit;
mod go;
pub mod group;
mod layout;
pub mod left;
mod session;
mod spin_down;
mod timing;

pub use data::{Data, Figure};
pub use devices::{DeviceLine, FlywheelLine, Order, RoleButton};
pub(in crate::ui::rooms) use draw::dress;
pub(in crate::ui::rooms) use draw::list::List;
pub use draw::room_ui;
pub use go::{Button, Press, Trouble};
pub(in crate::ui::rooms) use session::card;
pub use session::{SessionCard, SessionLine};
pub use spin_down::{CalibrateButton, Guide};
pub use timing::TimingRow;

use std::sync::Arc;

use crate::engine::{Choice, Command, Snapshot};
use crate::plan::Plan;
use crate::plan::fit::{Recoveries, Wish};
use crate::ride::RideMode;
use crate::rider::Rider;
use crate::ui::rooms::rider::Form;
use left::{LeftWish, Offer};

/// What can be chosen from, read before the window opens.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelf {
    /// Each session with the name of its file, or of the built-in one. The first is the one for a newcomer.
    pub sessions: Vec<(String, Arc<Plan>)>,
    /// Each rider with the name of their file; none for one who was never saved. The first is chosen at the start.
    pub riders: Vec<(Option<String>, Arc<Rider>)>,
    /// What could not be read, a sentence each.
    pub troubles: Vec<String>,
}

/// What is chosen: places on the shelf.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Chosen {
    /// Which session.
    pub session: usize,
    /// Which rider.
    pub rider: usize,
    /// Who sets the load.
    pub mode: RideMode,
    /// What is wished for of the session today.
    pub wish: Wish,
}

impl Chosen {
    /// The command that tells the core; nothing while the shelf has no such session or rider.
    pub fn command(self, shelf: &Shelf) -> Option<Command> {
        let (plan, _) = self.fitted(shelf)?;
        let (_, rider) = shelf.riders.get(self.rider)?;
        Some(Command::Choose(Box::new(Choice {
            plan,
            rider: Arc::clone(rider),
            mode: self.mode,
        })))
    }
}

/// What stands in the middle of the room.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Page {
    /// Sessions, timing, rider and devices.
    #[default]
    Columns,
    /// The cautions in full.
    Cautions,
    /// Everything that is missing, in full.
    Troubles,
    /// A rider being edited.
    Rider,
    /// Whose clock the ride follows, and the window for a television.
    Group,
    /// A ride that was left open.
    LeftOpen,
}

/// What the room keeps from one frame to the next.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct State {
    /// What stands in the middle.
    pub page: Page,
    /// The rider being edited.
    pub form: Option<Form>,
    /// Why the session could not be fitted as was wished last.
    pub refused: Option<String>,
    /// How the recoveries of the chosen session were last ridden.
    pub last_recoveries: Recoveries,
    /// What is typed of a group's clock.
    pub group: group::Form,
    /// The ride that was left open.
    pub offer: Offer,
    /// The order of the devices.
    pub order: Order,
    /// Whether pointer or keyboard were among the devices in the last frame.
    pub hand_on_devices: bool,
}

impl State {
    /// Takes in what the core says now, before the room is made.
    pub fn settle(&mut self, snapshot: &Snapshot) {
        self.order.settle(&snapshot.devices, self.hand_on_devices);
        self.last_recoveries = snapshot.last_recoveries;
        if self.page == Page::Rider && self.form.is_none() {
            self.page = Page::Columns;
        }
        self.settle_left(snapshot);
    }

    /// Back to the columns from a rider's page.
    pub fn leave_form(&mut self) {
        self.form = None;
        self.page = Page::Columns;
    }
}

/// What the room is told beside the ride: about the display and the settings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Around<'a> {
    /// Why the display is not kept awake, where it is not.
    pub display: Option<&'a str>,
    /// Why nothing is heard, or no words, where it is so.
    pub sound: Option<&'a str>,
    /// The key of the settings, as it is written on the screen.
    pub settings_key: String,
    /// The key of the Write room, as it is written on the screen.
    pub write_key: String,
    /// The key of the Review room, as it is written on the screen.
    pub review_key: String,
    /// The key of the page of a ride that was left open, as it is written on the screen.
    pub left_key: String,
    /// The key of the television's window, as it is written on the screen.
    pub television_key: String,
    /// Whether that window is open.
    pub television_open: bool,
    /// Whether the size of the screen and its distance were told.
    pub screen_told: bool,
    /// What is wrong with the settings' file, a sentence each.
    pub settings_troubles: &'a [String],
}

/// What the room gives back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// What the core is told.
    pub commands: Vec<Command>,
    /// Whether the rider goes to the settings.
    pub settings: bool,
    /// Whether the rider goes to write a session.
    pub write: bool,
    /// Whether the rider goes to look at rides.
    pub review: bool,
    /// Whether the window for a television is opened or closed.
    pub television: bool,
    /// A rider to be saved: the place on the shelf that it takes, none for a new one, and the rider. Its source is the
    /// text that it was edited from.
    pub save: Option<(Option<usize>, Rider)>,
    /// What becomes of the ride that was left open.
    pub left: Option<LeftWish>,
    /// Whether the file of the rider that is edited is to be read again.
    pub reread: bool,
}
