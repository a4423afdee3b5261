//! The integration tests: one binary, a module for each subject.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod bounded;
mod command_line;
mod control;
mod drawn_lane;
mod engine;
mod faults;
mod formats;
mod free;
mod gatt;
mod invariants;
mod known;
mod lead;
mod left;
mod plan;
mod plan_any;
mod plan_bounds;
mod plan_broken;
mod plan_warned;
mod practice;
mod record;
mod refusals;
mod replay;
mod rules;
mod sessions;
mod spin_down;
mod threshold_tests;
mod tidy;
mod tired;
mod ui;
mod world;
