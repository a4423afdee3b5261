//! The core that knows the whole ride and the loop that drives it.

pub mod command;
pub mod core;
pub mod disguise;
pub mod drive;
pub mod input;
pub mod links;
mod notices;
pub mod replay;
pub mod roles;
pub mod rows;
pub mod sensor;
pub mod snapshot;
pub mod take_up;
pub mod tally;
pub mod world;

pub use command::{Choice, Command, GroupClock, Role};
pub use core::Core;
pub use input::{Input, Output};
pub use snapshot::Snapshot;
pub use world::World;
