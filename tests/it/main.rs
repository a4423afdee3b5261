//! The integration tests: the library from outside, in one binary.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod record;
