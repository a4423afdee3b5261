//! The integration tests: one binary, a module for each subject.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod control;
mod gatt;
//! Everything that is tested from outside the library.

mod practice;
//! Everything that is tested across modules, in one program.

mod ui;
