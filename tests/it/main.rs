//! The integration tests: one binary, a module for each subject.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod control;
mod gatt;
mod plan;
mod practice;
mod record;
mod tidy;
mod ui;
