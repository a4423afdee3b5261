//! The window: what each room says for each state, that the keys reach the ride, and that nothing overlaps.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod built_in;
mod ended;
mod ends;
mod failure;
pub mod hand;
mod in_german;
mod keys;
mod lead_page;
mod left_open;
mod legible;
mod moments;
mod next;
mod pictures;
mod plans;
mod prepare;
mod prepare_fit;
pub mod prepare_states;
mod raster;
mod reader;
mod rest;
mod review;
mod review_rides;
mod rider;
mod rooms;
mod settings;
mod states;
mod television;
mod tested;
mod three_buttons;
mod views;
mod why;
mod window;
mod write;
mod write_shown;
