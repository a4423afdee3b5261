//! Tests of the whole from outside: one binary, a module a subject.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod formats;
mod plan;
mod plan_any;
mod plan_bounds;
mod plan_broken;
mod plan_warned;
