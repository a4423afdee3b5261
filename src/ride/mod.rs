//! How a ride behaves: its modes, the block clock, readings with their age, and the ledger behind every target.

pub mod ledger;
pub mod mode;
pub mod reading;

pub use ledger::{Entry, Ledger, Stage};
pub use mode::{Cause, Finish, Mode, PauseCause, RideMode};
pub use reading::Reading;
