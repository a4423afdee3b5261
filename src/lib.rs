//! Stillroad: indoor interval sessions on a smart trainer.
//!
//! A pure core takes a moment and an input and gives outputs; radio, clock, disk and window are thin shells round it. A
//! module may name those above it in this table and none below:
//!
//! ```text
//! units       watts, beats, revolutions, and one table of legal ranges that also words the errors
//! time        moments and spans of the ride's clock, in microseconds
//! toml_table  reading a TOML file against a table of fields, with every problem and its line
//! gatt        the Bluetooth SIG's formats: octets to values and back, no device
//! plan        a session file as a plan: what is asked at each moment
//! rider       a rider's figures, and watts from them
//! ride        the ride itself: modes, block clock, sensors' freshness, targets, guards
//! control     the trainer's control point, one procedure at a time
//! record      what is kept of a ride, as lines of text
//! device      the seam to devices: the radio and the practice trainer stand behind it
//! store       the disk: sessions, riders, rides, and the writer's thread
//! engine      the core, which puts all of the above together; and the loop with the one clock
//! ui          the rooms of the window: data first, then drawing
//! awake       keeps the display from sleeping while riding
//! app         the window: takes snapshots, passes commands on
//! cli         the command line, a file for each verb
//! ```
//!
//! `gatt`, `plan`, `rider` and `record` see nothing of each other but what is listed in the tests. Only `ui` and `app`
//! draw, only `device::radio` knows the radio, only `store` touches the disk, and only `engine::drive` reads a clock. A
//! test reads every source file and holds it to this.

pub mod app;
pub mod awake;
pub mod cli;
pub mod control;
pub mod device;
pub mod engine;
pub mod gatt;
pub mod plan;
pub mod record;
pub mod ride;
pub mod rider;
pub mod store;
pub mod time;
pub mod toml_table;
pub mod ui;
pub mod units;
