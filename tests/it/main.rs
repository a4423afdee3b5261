//! The integration tests: one binary, a module for each subject.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod gatt;
mod practice;
