//! What is heard of a session: when each tone is due and each cue said, and what is asked of the loudspeaker.
//!
//! Pure, like the ride: the blocks of today go in with the moment, requests come out. Nothing here makes a sound.

mod announce;
mod caller;
mod coach;
mod kinds;
pub mod recorded;
mod score;

pub use caller::{Caller, Facts, LATEST, Request};
pub use coach::{Coach, Seen};
pub use kinds::{Kind, Kinds};
pub use score::{Due, Saying, Sound, Tone, sayings, score};
