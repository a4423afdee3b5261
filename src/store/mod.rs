//! The disk: where sessions, riders, rides and memory live, and the only place that touches it.

pub mod cue_recordings;
pub mod disk;
pub mod left_open;
pub mod memory;
pub mod notes;
pub mod places;
mod raw_log;
pub mod reader;
mod record_report;
pub mod recording;
mod ride_file;
mod ride_folder;
pub mod ride_list;
pub mod ride_writer;
pub mod riders;
pub mod sessions;
pub mod settings;
pub mod text_file;
mod trouble;
pub mod writer;

pub use memory::MemoryKeeper;
pub use places::Places;
pub use reader::{RideRead, read_raw, read_ride};
pub use record_report::{Bounds, RecordReport};
pub use ride_writer::RideWriter;
pub use text_file::FileError;
pub use writer::{RecordSender, Writer};
