//! What can go wrong with a recording, in words.

use std::io;
use std::path::Path;

/// Sorts of trouble, each said once until all is well again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum TroubleKind {
    Full,
    Forbidden,
    Gap,
    Other,
}

impl TroubleKind {
    /// The sort of an error that the disk gave.
    pub(super) fn of(error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::StorageFull
            | io::ErrorKind::QuotaExceeded
            | io::ErrorKind::WriteZero => Self::Full,
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => Self::Forbidden,
            _ => Self::Other,
        }
    }

    /// What happened, what it means for the ride and what to do.
    pub(super) fn sentence(self, rides: &Path, error: &io::Error) -> String {
        let rides = rides.display();
        match self {
            Self::Full => say!(
                "The disk is full, so the recording cannot be written to {rides}. The ride goes on and is kept in \
                 memory: free some space, and it is written at once. Do not close the program before.",
                rides
            ),
            Self::Forbidden => say!(
                "The recording cannot be written to {rides}: this program may not write there. The ride goes on and \
                 is kept in memory: allow writing to that folder, and it is written at once. Do not close the program \
                 before.",
                rides
            ),
            Self::Gap | Self::Other => say!(
                "The recording cannot be written to {rides} ({error}). The ride goes on and is kept in memory, and \
                 writing is tried each second. Check the disk, and do not close the program before.",
                rides,
                error
            ),
        }
    }
}
