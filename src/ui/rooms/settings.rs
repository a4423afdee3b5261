//! The room of settings: the screen and where the rider sits, sizes, ground, motion, and the keys.

mod capture;
mod data;
mod door;
mod draw;
mod line;

pub use capture::{Capture, capture};
pub use data::{Data, KeyRow, MILLIMETRES};
pub use door::{Door, door_ui};
pub use draw::room_ui;
