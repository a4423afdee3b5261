//! The core that knows the whole ride and the loop that drives it.

pub mod command;
pub mod snapshot;

pub use command::{Choice, Command};
pub use snapshot::Snapshot;
