//! The integration tests: one binary, a module for each subject.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod control;
mod faults;
mod gatt;
mod invariants;
mod plan;
mod practice;
mod replay;
mod rules;
mod sessions;
mod ui;
mod world;
