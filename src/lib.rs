//! Stillroad: indoor interval sessions on a smart trainer.
//!
//! A pure core takes `(now, input)` and gives outputs; everything that touches the world is a thin shell round it.
//! A module imports only what stands above it here:
//!
//! | module | what it is |
//! |---|---|
//! | [`text`] | the words of the program, in the reader's language |
//! | [`units`], [`time`] | quantities with their units; instants and spans |
//! | [`toml_table`] | hand-written TOML, read against a table of fields |
//! | [`gatt`] | the Bluetooth SIG's characteristics, bytes to values and back |
//! | [`plan`] | a session file's blocks, and every problem in it |
//! | [`rider`] | threshold, caps, and what an effort means in watts |
//! | [`memory`] | what is remembered between rides |
//! | [`ride`] | how a ride behaves: modes, clock, guards, the ledger |
//! | [`cue`] | what is heard: when each tone and cue is due |
//! | [`lead`] | for whoever leads: rehearsal and cue sheet |
//! | [`control`] | the control-point procedures |
//! | [`record`] | what is kept, encoded and decoded |
//! | [`review`] | from a recording to what it tells |
//! | [`write`](mod@write) | a session's text while it is written |
//! | [`device`] | the seam, the radio, the practice trainer |
//! | [`store`] | the disk |
//! | [`engine`] | the core, the loop with the one clock, virtual time |
//! | [`forecast`] | a session ridden by a model of the rider before they ride it |
//! | [`sound`] | tones and the system's voice; silent where there is neither |
//! | [`ui`], [`awake`], [`app`] | the window |
//! | [`cli`] | the command line |

// First, for its macros.
#[macro_use]
pub mod text;

pub mod app;
pub mod awake;
pub mod cli;
pub mod control;
pub mod cue;
pub mod device;
pub mod engine;
pub mod forecast;
pub mod gatt;
pub mod lead;
pub mod memory;
pub mod plan;
pub mod record;
pub mod review;
pub mod ride;
pub mod rider;
pub mod sound;
pub mod store;
pub mod time;
pub mod toml_table;
pub mod ui;
pub mod units;
pub mod write;
