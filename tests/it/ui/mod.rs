//! The window: what each room says for each state, that the keys reach the ride, and that nothing overlaps.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod hand;
mod pictures;
mod prepare;
mod prepare_states;
mod raster;
mod rest;
mod rider;
mod rooms;
mod states;
mod window;
