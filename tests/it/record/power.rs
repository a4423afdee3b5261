//! The power fails: of each file only what was synced is sure to be there, and of the rest any part, cut off anywhere.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use jiff::tz::TimeZone;
use proptest::prelude::*;
use stillroad::record::Kept;
use stillroad::store::disk::{Disk, DiskFile};
use stillroad::store::{Bounds, RideWriter, read_ride};

use super::{begin, event, kept_row, raw, row};

/// A file as the disk has it, and how much of it is safe.
#[derive(Clone, Default)]
struct Content {
    bytes: Vec<u8>,
    safe: usize,
}

#[derive(Default)]
struct State {
    files: BTreeMap<PathBuf, Content>,
    /// The names inside the ride's folder were synced with so many of its files in it.
    names: usize,
    /// So many operations until the power fails; what happens then is seen by nobody.
    left: usize,
    /// What there was when it failed.
    failed: Option<(BTreeMap<PathBuf, Content>, usize)>,
}

impl State {
    fn act<T>(&mut self, act: impl FnOnce(&mut Self) -> T) -> T {
        if self.left == 0 && self.failed.is_none() {
            self.failed = Some((self.files.clone(), self.names));
        }
        self.left = self.left.saturating_sub(1);
        act(self)
    }
}

#[derive(Clone)]
struct LosingDisk(Arc<Mutex<State>>);

impl Disk for LosingDisk {
    fn create_folders(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn create_folder(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn create_file(&mut self, file: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut state = self.0.lock().unwrap();
        state.act(|state| state.files.insert(file.to_owned(), Content::default()));
        Ok(Box::new(LosingFile(self.clone(), file.to_owned())))
    }

    fn sync_folder(&mut self, folder: &Path) -> io::Result<()> {
        let mut state = self.0.lock().unwrap();
        state.act(|state| {
            if state.files.keys().any(|file| file.parent() == Some(folder)) {
                state.names = state.files.len();
            }
        });
        Ok(())
    }
}

struct LosingFile(LosingDisk, PathBuf);

impl DiskFile for LosingFile {
    fn write_at(&mut self, place: u64, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.0.0.lock().unwrap();
        // No more than a few hundred at once, so that the power may also fail within a line.
        let count = bytes.len().min(300);
        state.act(|state| {
            let content = &mut state.files.get_mut(&self.1).unwrap().bytes;
            content.resize(content.len().max(place as usize + count), 0);
            content[place as usize..place as usize + count].copy_from_slice(&bytes[..count]);
        });
        Ok(count)
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.0.0.lock().unwrap();
        state.act(|state| {
            let content = state.files.get_mut(&self.1).unwrap();
            content.safe = content.bytes.len();
        });
        Ok(())
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        let mut state = self.0.0.lock().unwrap();
        state.act(|state| {
            let content = state.files.get_mut(&self.1).unwrap();
            content.bytes.truncate(length as usize);
            content.safe = content.safe.min(length as usize);
        });
        Ok(())
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn a_loss_of_power_costs_the_seconds_since_the_last_sync_at_most(
        left in 0usize..700,
        // Of what was not synced so much is there all the same; and whether the rest of it is there as zeros.
        tails in prop::collection::vec(0.0..1.0f64, 8),
        zeros in any::<bool>(),
    ) {
        let disk = LosingDisk(Arc::new(Mutex::new(State { left, ..State::default() })));
        let mut writer = RideWriter::with_disk(
            Path::new("rides"),
            Box::new(disk.clone()),
            TimeZone::UTC,
            Bounds::default(),
        );
        let failed = || disk.0.lock().unwrap().failed.is_some();
        writer.take(begin());
        let mut safe = 0;
        let mut named = false;
        for second in 1..=60 {
            writer.take(raw(second * 1_000_000));
            writer.take(kept_row(second));
            if second % 3 == 0 {
                writer.take(Kept::Event(event(second, "target", "150 W")));
            }
            writer.tick();
            if !failed() {
                safe = second as usize;
                named = true;
            }
        }
        writer.finish();
        let (files, names) = {
            let state = disk.0.lock().unwrap();
            state.failed.clone().unwrap_or_else(|| (state.files.clone(), state.names))
        };
        prop_assert!(!named || names >= 7, "the names of {names} files were synced");

        let home = tempfile::tempdir().unwrap();
        let mut torn = Vec::new();
        for ((path, content), tail) in files.iter().zip(tails.iter().cycle()) {
            let unsafe_bytes = content.bytes.len() - content.safe;
            let end = content.safe + (unsafe_bytes as f64 * tail) as usize;
            let mut bytes = content.bytes[..end].to_vec();
            if zeros {
                bytes.resize(content.bytes.len(), 0);
            }
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if bytes.last().is_some_and(|byte| *byte != b'\n') && name.ends_with(".csv") {
                torn.push(name.clone());
            }
            fs::write(home.path().join(name), bytes).unwrap();
        }
        let read = match read_ride(home.path()) {
            Ok(read) => read,
            // Before its first sync was over a ride may be no ride yet.
            Err(why) => {
                prop_assert_eq!(safe, 0, "{}", why);
                return Ok(());
            }
        };
        prop_assert!(read.rows.len() >= safe, "{} rows, {safe} were synced", read.rows.len());
        for (read, second) in read.rows.iter().zip(1..) {
            prop_assert_eq!(read, &row(second));
        }
        for name in ["samples.csv", "events.csv", "notes.csv"] {
            if torn.iter().any(|torn| torn == name) {
                let says = |problem: &String| problem.starts_with(name) && problem.contains("cut off");
                prop_assert!(read.problems.iter().any(says), "{name}: {:?}", read.problems);
            }
        }
        if torn.is_empty() && safe > 0 {
            prop_assert!(read.problems.is_empty(), "{:?}", read.problems);
        }
    }
}
