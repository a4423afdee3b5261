//! The window's rooms, as data first and drawing second.
//!
//! Nothing here sees a channel, a clock, a file or anything asynchronous: a room is made of a moment and a
//! [`Snapshot`](crate::engine::Snapshot), and what it gives back are [`Command`](crate::engine::Command)s.

pub mod fonts;
pub mod keys;
pub mod lane;
pub mod legibility;
pub mod rooms;
pub mod settings;
pub mod theme;
pub mod widgets;
pub mod words;
