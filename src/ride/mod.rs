//! How a ride behaves: its modes, the block clock, readings with their age, and the ledger behind every target.

pub mod ahead;
pub mod build_up;
pub mod chain;
pub mod clock;
pub mod gear;
pub mod guard;
pub mod last_like;
pub mod lead;
pub mod ledger;
pub mod let_off;
pub mod level;
pub mod load;
pub mod mean;
pub mod meter_led;
pub mod mode;
pub mod pedals;
pub mod reading;
pub mod runner;
pub mod slow_hold;
pub mod table;
#[cfg(test)]
pub mod testing;
pub mod threshold_test;
pub mod timeline;
pub mod tired;
pub mod want;
pub mod way;

pub use ahead::Going;
pub use gear::GearWords;
pub use lead::Lead;
pub use ledger::{Entry, Ledger, Stage};
pub use mode::{Cause, Finish, Mode, PauseCause, RideMode};
pub use reading::Reading;
pub use runner::{Demand, Facts, LeftAt, Runner};
pub use timeline::{Lap, Timeline};
pub use want::Offer;
