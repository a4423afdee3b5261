//! Which room the window shows.

use crate::ride::Mode;

/// Which room is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Room {
    Prepare,
    Settings,
    Write,
    Review,
    Ride,
    Finish,
}

/// The room for a mode.
pub(super) const fn room_of(mode: Mode, left_finish: bool, in_settings: bool) -> Room {
    match mode {
        Mode::Idle | Mode::Connecting | Mode::Ready if in_settings => Room::Settings,
        Mode::Idle | Mode::Connecting | Mode::Ready => Room::Prepare,
        Mode::Finished(_) if left_finish => Room::Prepare,
        Mode::Finished(_) => Room::Finish,
        Mode::Riding | Mode::Paused(_) | Mode::Degraded { .. } => Room::Ride,
    }
}
