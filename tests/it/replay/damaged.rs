//! Recordings with a changed byte, lost, doubled or swapped lines, cut off or full of noise: each is told, none panics.

use std::fs;
use std::path::Path;

use proptest::prelude::*;

use super::log::{recorded, replayed, short_ride};
use stillroad::record::log::LogReader;

/// The files of the recording that a replay can tell by: all of them.
const FILES: [&str; 7] = [
    "raw.csv",
    "samples.csv",
    "events.csv",
    "notes.csv",
    "ride.toml",
    "session.toml",
    "rider.toml",
];

/// A recording that replays without a difference, and a folder for what is made of it.
struct Sound {
    _home: tempfile::TempDir,
    folder: std::path::PathBuf,
}

impl Sound {
    fn new() -> Self {
        let home = tempfile::tempdir().unwrap();
        let folder = recorded(&short_ride(), home.path()).remove(0);
        assert_eq!(replayed(&folder).differences.count, 0);
        Self {
            _home: home,
            folder,
        }
    }

    /// The differences with these bytes in place of a file.
    fn with(&self, file: &str, bytes: &[u8]) -> u64 {
        let path = self.folder.join(file);
        let before = fs::read(&path).unwrap();
        fs::write(&path, bytes).unwrap();
        let count = replayed(&self.folder).differences.count;
        fs::write(&path, before).unwrap();
        count
    }

    fn read(&self, file: &str) -> Vec<u8> {
        fs::read(self.folder.join(file)).unwrap()
    }
}

#[test]
fn a_byte_changed_anywhere_is_told() {
    let sound = Sound::new();
    let mut chance = fastrand::Rng::with_seed(7);
    let mut tried = 0;
    for file in FILES {
        let bytes = sound.read(file);
        for round in 0..if file == "raw.csv" { 40 } else { 12 } {
            let at = match round {
                0 => 0,
                1 => bytes.len().saturating_sub(1),
                // Inside the last line, which in events.csv is the writer's own.
                2 => bytes.len().saturating_sub(5),
                _ => chance.usize(..bytes.len().max(1)),
            };
            if bytes.is_empty() {
                continue;
            }
            let mut changed = bytes.clone();
            changed[at] ^= 1 << chance.u8(..8);
            tried += 1;
            assert!(
                sound.with(file, &changed) > 0,
                "{file}, byte {at}: {:?} became {:?}",
                char::from(bytes[at]),
                char::from(changed[at])
            );
        }
    }
    assert!(tried > 80, "{tried}");
}

#[test]
fn another_program_in_the_head_is_told_and_so_is_one_in_ride_toml_alone() {
    let sound = Sound::new();
    let ride = String::from_utf8(sound.read("ride.toml")).unwrap();
    let from = ride.find("program = \"").unwrap() + "program = \"".len();
    for at in from..from + ride[from..].find('"').unwrap() {
        let mut changed = ride.clone().into_bytes();
        changed[at] ^= 1;
        assert_eq!(sound.with("ride.toml", &changed), 1, "byte {at}");
    }
}

#[test]
fn lines_lost_doubled_swapped_or_cut_off_are_told() {
    let sound = Sound::new();
    let mut chance = fastrand::Rng::with_seed(8);
    for file in ["raw.csv", "samples.csv", "events.csv"] {
        let text = String::from_utf8(sound.read(file)).unwrap();
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        for way in 0..12 {
            let mut other = lines.clone();
            // The last event is the writer's own, and says only that the recording was closed.
            let last = lines.len() - usize::from(file == "events.csv") - 1;
            let at = chance.usize(1..last);
            match way % 4 {
                0 => drop(other.remove(at)),
                1 => other.insert(at, lines[at]),
                2 => other.swap(at, at + 1),
                _ => other.truncate(at),
            }
            if other == lines {
                continue;
            }
            let count = sound.with(file, other.concat().as_bytes());
            assert!(count > 0, "{file}, line {}, way {}", at + 1, way % 4);
        }
        let cut = chance.usize(1..text.len());
        assert!(
            sound.with(file, &text.as_bytes()[..cut]) > 0,
            "{file}, {cut} bytes"
        );
    }
}

#[test]
fn a_file_that_is_missing_is_told() {
    let sound = Sound::new();
    for file in &FILES[1..] {
        let bytes = sound.read(file);
        fs::remove_file(sound.folder.join(file)).unwrap();
        assert!(replayed(&sound.folder).differences.count > 0, "{file}");
        fs::write(sound.folder.join(file), bytes).unwrap();
    }
}

/// Splices, repeats and scatters of a real log, so that much of it can still be read.
fn mutated(log: &[u8], cuts: &[(usize, usize, u8)]) -> Vec<u8> {
    let mut bytes = log.to_vec();
    for &(at, length, value) in cuts {
        if bytes.is_empty() {
            break;
        }
        let at = at % bytes.len();
        let end = (at + length).min(bytes.len());
        match value % 4 {
            0 => drop(bytes.drain(at..end)),
            1 => bytes[at..end].fill(value),
            2 => {
                let copy = bytes[at..end].to_vec();
                bytes.splice(at..at, copy);
            }
            _ => bytes[at] = value,
        }
    }
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_make_a_replay_panic(
        cuts in proptest::collection::vec((any::<usize>(), 0_usize..400, any::<u8>()), 1..12),
    ) {
        thread_local!(static SOUND: Sound = Sound::new());
        SOUND.with(|sound| {
            let bytes = mutated(&sound.read("raw.csv"), &cuts);
            let path = sound.folder.join("raw.csv");
            let before = fs::read(&path).unwrap();
            fs::write(&path, &bytes).unwrap();
            drop(replayed(&sound.folder));
            fs::write(&path, before).unwrap();
        });
    }

    #[test]
    fn any_bytes_can_be_read_as_a_log(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
        let with_header = [b"at_us,input,content,check\n".as_slice(), &bytes].concat();
        for bytes in [bytes, with_header] {
            let mut reader = LogReader::new(bytes.as_slice());
            while reader.next_item().unwrap().is_some() {}
        }
    }
}

#[test]
fn an_archive_of_noise_is_refused_in_a_sentence() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("noise.zip");
    for bytes in [&b""[..], b"PK\x03\x04", b"PK\x05\x06\0\0\0\0", &[7; 5000]] {
        fs::write(&path, bytes).unwrap();
        let told = stillroad::store::recording::Recording::open(&path).unwrap_err();
        assert!(told.contains("is no recording"), "{told}");
    }
    let told = stillroad::store::recording::Recording::open(Path::new("nowhere.zip")).unwrap_err();
    assert!(
        told.contains("There is no recording at nowhere.zip"),
        "{told}"
    );
}
