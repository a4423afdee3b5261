//! The window: what each room says for each state, that the keys reach the ride, and that nothing overlaps.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod hand;
mod pictures;
mod raster;
mod rest;
mod rooms;
mod states;
mod window;
