//! The room of settings: the screen and where the rider sits, sizes, language, ground, motion, and
//! the keys.

mod capture;
mod data;
mod draw;
mod line;

pub use capture::{Capture, capture};
pub use data::{Data, KeyRow, MILLIMETRES};
pub use draw::room_ui;
