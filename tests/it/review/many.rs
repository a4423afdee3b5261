//! Many rides: a generator of them, and how long a list of them takes. Commands, and no tests that wait for a clock.

use std::fs;
use std::path::PathBuf;
use std::time::Instant;

use stillroad::record::{EventLine, NoteLine, Row, Table, encode, encode_header, ride_toml};
use stillroad::store::ride_list::list;
use stillroad::units::{Effort, Watts};

use super::{Rec, row};

const DAY_MS: i64 = 86_400_000;

fn number(variable: &str, otherwise: usize) -> usize {
    let set = std::env::var(variable).ok();
    set.map_or(otherwise, |text| text.parse().unwrap())
}

fn folder() -> PathBuf {
    PathBuf::from(
        std::env::var("STILLROAD_FOLDER").expect("STILLROAD_FOLDER names the folder of rides"),
    )
}

fn file<T: Table>(records: &[T]) -> Vec<u8> {
    let mut bytes = Vec::new();
    encode_header::<T>(&mut bytes).unwrap();
    for record in records {
        encode(record, &mut bytes).unwrap();
    }
    bytes
}

/// Writes `STILLROAD_RIDES` rides, ten thousand where it is not given, of `STILLROAD_ROWS` seconds each, ten minutes where it
/// is not given, into the folder `STILLROAD_FOLDER`: one a day, with four loads in turn and a rating each.
#[test]
#[ignore = "writes thousands of rides: set STILLROAD_FOLDER"]
fn write_many_rides() {
    let (rides, rows) = (
        number("STILLROAD_RIDES", 10_000),
        number("STILLROAD_ROWS", 600),
    );
    let folder = folder();
    // Rows differ by their load alone, so that four files serve for all.
    let samples: Vec<Vec<u8>> = [110.0, 140.0, 170.0, 200.0]
        .into_iter()
        .map(|watts| {
            let ridden = (1..=rows as u64).map(|second| Row {
                power: Some(Watts(watts + (second % 7) as f64)),
                ..row(second)
            });
            file(&ridden.collect::<Vec<_>>())
        })
        .collect();
    let mut kept = Rec::new();
    let first = kept.start.utc_ms;
    for index in 0..rides {
        kept.start.utc_ms = first - index as i64 * DAY_MS;
        let day = jiff::Timestamp::from_millisecond(kept.start.utc_ms).unwrap();
        let ride = folder.join(format!("{} Pier-{index}", day.strftime("%Y-%m-%d %H%M")));
        fs::create_dir_all(&ride).unwrap();
        let note = NoteLine {
            utc_ms: kept.start.utc_ms,
            block: None,
            what: "rating".into(),
            rating: Some(Effort((index % 11) as f64)),
            text: String::new(),
        };
        for (name, bytes) in [
            (
                "ride.toml",
                ride_toml::write(&kept.start).unwrap().into_bytes(),
            ),
            ("session.toml", kept.start.session_text.as_bytes().to_vec()),
            ("rider.toml", kept.start.rider_text.as_bytes().to_vec()),
            ("samples.csv", samples[index % samples.len()].clone()),
            ("events.csv", file::<EventLine>(&[])),
            ("notes.csv", file(&[note])),
        ] {
            fs::write(ride.join(name), bytes).unwrap();
        }
    }
    println!("{rides} rides of {rows} s in {}", folder.display());
}

/// Lists the rides of `STILLROAD_FOLDER` and prints how long that took: without an index, and with one; and the memory
/// that the process has by then.
#[test]
#[ignore = "prints how long a list takes: set STILLROAD_FOLDER"]
fn tell_how_long_a_list_takes() {
    let folder = folder();
    let _ = fs::remove_file(folder.join(".stillroad-index"));
    let memory = || {
        let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
        let line = status
            .lines()
            .find(|line| line.starts_with("VmRSS"))
            .unwrap_or("VmRSS: ?");
        line.to_owned()
    };
    for what in [
        "without an index",
        "with the index",
        "with the index again",
        "and again",
    ] {
        let began = Instant::now();
        let listing = list(&folder);
        println!(
            "{} rides {what}: {:.3} s, {}",
            listing.rides.len(),
            began.elapsed().as_secs_f64(),
            memory()
        );
        assert!(listing.troubles.is_empty(), "{:?}", listing.troubles);
    }
}
