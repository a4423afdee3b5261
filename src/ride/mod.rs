//! How a ride behaves: its modes, the block clock, readings with their age, and the ledger behind every target.

pub mod build_up;
pub mod chain;
pub mod clock;
pub mod guard;
pub mod lead;
pub mod ledger;
pub mod let_off;
pub mod level;
pub mod mean;
pub mod mode;
pub mod pedals;
pub mod reading;
pub mod runner;
#[cfg(test)]
pub mod testing;
pub mod threshold_test;
pub mod timeline;
pub mod tired;
pub mod want;

pub use lead::Lead;
pub use ledger::{Entry, Ledger, Stage};
pub use mode::{Cause, Finish, Mode, PauseCause, RideMode};
pub use reading::Reading;
pub use runner::{Demand, Facts, Runner};
pub use timeline::{Lap, Timeline};
pub use want::Offer;
