//! What the writer tells about the recording, and the bounds that it keeps.

use std::path::PathBuf;

/// What the writer tells about the recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RecordReport {
    /// The ride's folder was made and holds the start of the recording.
    Began(PathBuf),
    /// So many rows are safe on the disk.
    Rows(u64),
    /// Something cannot be written or was lost: what, and what to do. Said once for each sort of trouble.
    Trouble(String),
    /// Everything that was kept in memory is written again.
    Recovered,
    /// The ride is over and whole on the disk: its folder and its rows.
    Closed(PathBuf, u64),
}

/// The bounds of what is held and written. A line over a bound is dropped, counted, and the count is an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// Raw lines held before a ride begins.
    pub raw_before: u64,
    /// Bytes of raw lines that wait for the disk.
    pub raw_memory: usize,
    /// Bytes that `raw.csv` may grow to.
    pub raw_file: u64,
    /// Bytes of rows that wait for the disk.
    pub row_memory: usize,
    /// Bytes of events that wait for the disk, and of notes.
    pub other_memory: usize,
}

impl Default for Bounds {
    /// 262,144 lines before the ride, some hours of waiting beside a trainer; 64 MiB of raw lines in memory and 256 MiB in the file; rows of over four hours
    /// (14,400 rows of at most 200 bytes are 2.9 MB); 4 MiB each of events and notes.
    fn default() -> Self {
        Self {
            raw_before: 262_144,
            raw_memory: 64 << 20,
            raw_file: 256 << 20,
            row_memory: 4 << 20,
            other_memory: 4 << 20,
        }
    }
}
