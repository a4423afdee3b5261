//! The Prepare room: what will be ridden, by whom, with what; and whether the ride can begin.

mod data;
mod draw;

pub use data::{Data, DeviceLine, Figure, Primary, RoleButton, SessionCard, TimingRow};
pub(in crate::ui::rooms) use draw::dress;
pub use draw::room_ui;

use std::sync::Arc;

use crate::engine::{Choice, Command};
use crate::plan::Plan;
use crate::ride::RideMode;
use crate::rider::Rider;

/// What can be chosen from, read before the window opens.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelf {
    /// Each session with the name of its file, or of the built-in one. The first is the one for a newcomer.
    pub sessions: Vec<(String, Arc<Plan>)>,
    /// The riders. The first is chosen at the start.
    pub riders: Vec<Arc<Rider>>,
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
}

impl Chosen {
    /// The command that tells the core; nothing while the shelf has no such session or rider.
    pub fn command(self, shelf: &Shelf) -> Option<Command> {
        let (_, plan) = shelf.sessions.get(self.session)?;
        let rider = shelf.riders.get(self.rider)?;
        Some(Command::Choose(Box::new(Choice {
            plan: Arc::clone(plan),
            rider: Arc::clone(rider),
            mode: self.mode,
        })))
    }
}
