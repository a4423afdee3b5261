//! Codecs for the Bluetooth SIG's characteristics: bytes to values and back. No time, no device.

pub mod uuid16;

pub use uuid16::Uuid16;
