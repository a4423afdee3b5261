//! Everything that is tested across modules, in one program.

mod ui;
