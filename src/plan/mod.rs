//! Sessions: from a file's text to a [`Plan`] and every problem in it with its line.

mod model;

pub use model::*;
