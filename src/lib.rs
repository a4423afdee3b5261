//! Stillroad: indoor interval sessions on a smart trainer.

pub mod cli;
pub mod control;
pub mod device;
pub mod engine;
pub mod gatt;
pub mod plan;
pub mod record;
pub mod ride;
pub mod rider;
pub mod time;
pub mod units;
