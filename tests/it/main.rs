//! The integration tests: one binary, a module for each subject.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod control;
mod formats;
mod gatt;
mod plan;
mod plan_any;
mod plan_bounds;
mod plan_broken;
mod plan_warned;
mod practice;
mod record;
mod tidy;
mod ui;
