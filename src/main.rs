//! Stillroad.
fn main() {}
