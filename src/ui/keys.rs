//! The keys: what each does in each state of a ride, on which keys that is put, and in which words it is shown.
//!
//! Three buttons and brake off do everything; [`table::TABLE`] says what each does where. The ride's keys are taken
//! out of the input before any widget sees them, escape first of all. A key held down counts once: its repeats must not
//! be the second press that a skip or an end asks for. Nothing asks for a long press: a presenter's remote has none.

mod acts;
mod hands;
mod hints;
mod keymap;
mod menu;
pub mod names;
pub mod page;
pub mod table;
mod take;

pub use acts::{Act, BINDINGS, Binding};
pub use hands::{Hands, commands};
pub use hints::{Hint, answer_words, go_on_words, hints, set_again_words, take_words};
pub use keymap::{Keymap, MOST_KEYS};
pub use menu::Menu;
pub use table::{Effect, State};
pub use take::take;

pub(in crate::ui) use hints::choice_words;

use crate::engine::snapshot::{Armed, Snapshot};
use crate::ride::{Mode, PauseCause};

/// Why the clock stands, if it does.
pub const fn paused(mode: Mode) -> Option<PauseCause> {
    match mode {
        Mode::Paused(cause) => Some(cause),
        Mode::Degraded { paused, .. } => paused,
        _ => None,
    }
}

/// Whether the brake was let off by hand and waits for the rider to have it set again.
pub fn off_by_hand(snapshot: &Snapshot) -> bool {
    snapshot.released.contains("by hand")
}

/// What a first press of a key that needs two says; in English, and looked up where it is shown.
pub const fn armed_words(armed: Armed) -> &'static str {
    match armed {
        Armed::Skip => entry!("Press again to skip."),
        Armed::End => entry!("Press again to end."),
    }
}
