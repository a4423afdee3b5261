//! Rides side by side: what is flagged, which blocks stand beside which, and the pages and verbs made of it.

use std::fs;
use std::process::Output;

use stillroad::review::over::class_sheet::class_sheet;
use stillroad::review::over::compare::{Changed, Comparison, compare};
use stillroad::review::over::{Brief, compare_tables};
use stillroad::ride::RideMode;
use stillroad::units::{Effort, Watts};

use super::{Rec, row};
use crate::program::{printed, stillroad};
use crate::world::EPOCH_MS;

const DAY_MS: i64 = 86_400_000;

/// A ride of one block, so many days after the first.
fn ridden(days: i64) -> Rec {
    let mut kept = Rec::new();
    kept.start.session_text = kept.start.session_text.replace("4:00:00", "5:00").into();
    kept.start.utc_ms += days * DAY_MS;
    kept.start.devices = vec![("trainer".into(), "Hall trainer".into(), "AA".into(), false)];
    kept.rows = (1..=300).map(row).collect();
    for row in &mut kept.rows {
        row.utc_ms += days * DAY_MS;
        row.power_from = Some("trainer");
    }
    kept
}

fn compared(rides: &[Rec]) -> Comparison {
    let reviews: Vec<_> = rides.iter().map(Rec::review).collect();
    let all: Vec<_> = rides
        .iter()
        .zip(&reviews)
        .enumerate()
        .map(|(index, (kept, review))| (format!("ride-{index}"), kept.recording(), review))
        .collect();
    compare(&all)
}

fn changed(comparison: &Comparison) -> Vec<(usize, Changed)> {
    comparison
        .flags
        .iter()
        .map(|flag| (flag.ride, flag.changed))
        .collect()
}

#[test]
fn rides_that_are_alike_have_no_flag() {
    let comparison = compared(&[ridden(0), ridden(7)]);
    assert_eq!(comparison.flags, []);
    let said = compare_tables::sentences(&comparison);
    assert_eq!(said.len(), 1);
    assert!(said[0].contains("differs between these rides"), "{said:?}");
}

#[test]
fn each_change_that_figures_hang_on_is_flagged_alone() {
    type Change = (Changed, fn(&mut Rec));
    let changes: [Change; 7] = [
        (Changed::Rider, |kept| kept.start.rider = "Another".into()),
        (Changed::Session, |kept| {
            kept.start.session_text = kept.start.session_text.replace("150", "151").into();
        }),
        (Changed::Mode, |kept| kept.start.mode = RideMode::EffortOnly),
        (Changed::Trainer, |kept| {
            kept.start.devices[0].2 = "BB".into()
        }),
        (Changed::PowerSource, |kept| {
            // Most seconds by the meter; a minute without it is no change of source.
            for row in &mut kept.rows[60..] {
                row.power_from = Some("meter");
            }
        }),
        (Changed::Calibration, |kept| {
            kept.start.spin_down = Some("2026-01-03T10:00:00Z".into())
        }),
        (Changed::Threshold, |kept| {
            kept.start.threshold = Watts(205.0)
        }),
    ];
    for (what, change) in changes {
        let mut later = ridden(7);
        change(&mut later);
        // Given out of order: the earlier one comes first all the same.
        let comparison = compared(&[later.clone(), ridden(0)]);
        assert_eq!(changed(&comparison), [(2, what)]);
        let said = compare_tables::sentences(&comparison);
        assert!(
            said[0].starts_with("Ride 2 of 2026-01-08 is not like"),
            "{said:?}"
        );
    }
    // A calibration that is no longer known is none.
    let mut before = ridden(0);
    before.start.spin_down = Some("2026-01-03T10:00:00Z".into());
    assert_eq!(compared(&[before, ridden(7)]).flags, []);
}

#[test]
fn blocks_stand_beside_those_of_their_name() {
    let session =
        |blocks: &str| format!("format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n{blocks}");
    let block = |name: &str| {
        format!("[[block]]\nkind = \"hold\"\nname = \"{name}\"\ntime = \"1:00\"\nwatts = 150\n")
    };
    let ride = |names: &[&str], days: i64, watts: &[f64]| {
        let mut kept = ridden(days);
        let text: String = names.iter().map(|name| block(name)).collect();
        kept.start.session_text = session(&text).into();
        kept.rows.truncate(60 * names.len());
        for row in &mut kept.rows {
            let place = (row.ridden_s - 1) as usize / 60;
            row.block = place as u32 + 1;
            row.power = Some(Watts(watts[place]));
        }
        kept
    };
    let one = ride(&["Quay", "Bridge", "Quay"], 0, &[100.0, 110.0, 120.0]);
    // The bridge comes first here, and a hill is new.
    let other = ride(&["Bridge", "Quay", "Hill"], 7, &[111.0, 101.0, 130.0]);
    let comparison = compared(&[one, other]);
    let told: Vec<_> = comparison
        .blocks
        .iter()
        .map(|block| {
            let watts = |ride: usize| block.each[ride].map(|cell| cell.power_w.unwrap());
            (block.name.as_str(), watts(0), watts(1))
        })
        .collect();
    assert_eq!(
        told,
        [
            ("Quay", Some(100.0), Some(101.0)),
            ("Bridge", Some(110.0), Some(111.0)),
            ("Quay", Some(120.0), None),
            ("Hill", None, Some(130.0)),
        ]
    );
    let csv = compare_tables::csv(&comparison);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    assert_eq!(
        reader.records().map(Result::unwrap).count(),
        6,
        "a line each block that was ridden"
    );
}

/// Nothing of what a rider is called becomes markup, and what is not known is no figure.
#[test]
fn the_class_sheet_has_a_row_a_rider_and_takes_no_text_for_markup() {
    let mut one = ridden(0);
    one.start.rider = "<script>alert(1)</script>".into();
    let mut other = ridden(0);
    other.start.rider = "B & C".into();
    for row in &mut other.rows {
        row.power = None;
    }
    let page = class_sheet(&compared(&[one, other]));
    assert!(page.starts_with("<!DOCTYPE html>"));
    for never in ["<script", "http:", "https:", "url(", "src=", "NaN"] {
        assert!(!page.contains(never), "{never}");
    }
    assert!(page.contains("B &amp; C"));
    for tag in ["table", "tr", "td", "span", "p", "body", "html"] {
        let opened =
            page.matches(&format!("<{tag}>")).count() + page.matches(&format!("<{tag} ")).count();
        assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "{tag}");
    }
    // A head and a row each; 150 W of 200 W, and a dash for the rider without a power.
    assert_eq!(page.matches("<tr>").count(), 3);
    assert!(page.contains("<td>75 %"), "{page}");
    assert!(page.contains("<td>–"), "{page}");
}

#[test]
fn a_ride_in_short_keeps_its_ratings_bests_and_strip() {
    let mut kept = ridden(0);
    for (block, rating) in [(Some(1), 8.0), (None, 6.0)] {
        kept.notes.push(stillroad::record::NoteLine {
            utc_ms: EPOCH_MS,
            block,
            what: "rating".into(),
            rating: Some(Effort(rating)),
            text: String::new(),
        });
    }
    let brief = Brief::of("here", &kept.recording());
    assert_eq!(
        (brief.ridden_s, brief.power_w, brief.rating),
        (300, Some(150.0), Some(6.0))
    );
    // Foster 2001: 6 × 5 min.
    assert_eq!(brief.load, Some(30.0));
    assert_eq!(brief.rated.len(), 1);
    let rated = brief.rated[0];
    // 150 W of a threshold of 200 W for five minutes.
    assert_eq!((rated.share, rated.minutes, rated.rating), (0.75, 5.0, 8.0));
    // 1, 5, 10, 15, 30, 60, 120, 180 and 300 s.
    assert_eq!(brief.best_means_w, [150.0; 9]);
    assert_eq!((brief.asked.len(), brief.ridden.len()), (40, 40));
    let json = serde_json::to_string(&brief).unwrap();
    assert_eq!(serde_json::from_str::<Brief>(&json).unwrap(), brief);
}

fn refused(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(1), "{}", printed(output));
    String::from_utf8(output.stderr.clone()).unwrap()
}

#[test]
fn rides_are_compared_listed_and_put_on_a_page_by_the_verbs() {
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    let text = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\neffort = [2, 4]\n\
                [[block]]\nkind = \"hold\"\ntime = \"3:00\"\neffort = 7\n[[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\neffort = 2\n";
    fs::write(here.join("pier.toml"), text).unwrap();
    for _ in 0..2 {
        let ended = stillroad(
            here,
            &["ride", "pier.toml", "--pace", "max", "--heart", "practice"],
        );
        assert_eq!(ended.status.code(), Some(0), "{}", printed(&ended));
    }
    let rides = here.join("kept/rides");
    let listing = stillroad::store::ride_list::list(&rides);
    assert_eq!((listing.rides.len(), listing.troubles.len()), (2, 0));
    let keys: Vec<String> = listing.rides.iter().map(|ride| ride.key.clone()).collect();
    let both = ["compare", &keys[0], &keys[1]];
    let told = printed(&stillroad(here, &both));
    let flat = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("differs between these rides"), "{told}");
    assert!(told.contains("Block by block, W"), "{told}");
    let csv = printed(&stillroad(here, &[&both[..], &["--csv"]].concat()));
    assert_eq!(csv.lines().count(), 7, "{csv}");
    let json = printed(&stillroad(here, &[&both[..], &["--json"]].concat()));
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["comparison"]["blocks"].as_array().unwrap().len(), 3);
    // One ride is nothing to compare; one that is not there is named.
    let alone = stillroad(here, &["compare", &keys[0], "nowhere"]);
    let sentence = refused(&alone);
    assert!(
        sentence.contains("nowhere") && sentence.contains("nothing to compare"),
        "{sentence}"
    );
    // The class sheet is written once, and not over anything.
    let sheet = ["class-sheet", &keys[0], &keys[1], "--out", "class.html"];
    assert_eq!(stillroad(here, &sheet).status.code(), Some(0));
    let page = fs::read_to_string(here.join("class.html")).unwrap();
    assert!(page.contains("<h1>Pier</h1>"));
    fs::write(here.join("class.html"), "mine").unwrap();
    assert!(refused(&stillroad(here, &sheet)).contains("was not overwritten"));
    assert_eq!(fs::read_to_string(here.join("class.html")).unwrap(), "mine");
    // Without a rider's file or ratings nothing is learned, and that is said.
    assert!(refused(&stillroad(here, &["effort-map"])).contains("no rider's file"));
    fs::create_dir_all(here.join("kept/riders")).unwrap();
    fs::write(
        here.join("kept/riders/trial.toml"),
        "name = \"Trial\"\nthreshold = 200\n",
    )
    .unwrap();
    let sentence = refused(&stillroad(here, &["effort-map", "--adopt"]));
    assert!(
        sentence.contains("0 ratings of blocks in 0 rides"),
        "{sentence}"
    );
    let effort = format!("{}:2", keys[0]);
    assert!(refused(&stillroad(here, &["critical-power", &effort])).contains("there are 1"));
    assert!(refused(&stillroad(here, &["critical-power", "pier"])).contains("behind a colon"));
    let twice = ["critical-power", &*effort, &*effort];
    assert!(refused(&stillroad(here, &twice)).contains("named twice"));
    // A block in which a second is missing was no effort in one piece.
    let samples = rides.join(&keys[0]).join("samples.csv");
    let rows = fs::read_to_string(&samples).unwrap();
    let lines: Vec<&str> = rows.split_inclusive('\n').collect();
    fs::write(&samples, [&lines[..200], &lines[201..]].concat().concat()).unwrap();
    assert!(refused(&stillroad(here, &["critical-power", &*effort])).contains("one piece"));
}

/// The index is only what can be found again: damaged, older or of rides that changed, the list is the same.
#[test]
fn the_index_of_rides_is_made_anew_where_it_is_stale() {
    use stillroad::store::ride_list::list;
    let room = tempfile::tempdir().unwrap();
    let here = room.path();
    assert_eq!(list(&here.join("nowhere")).rides.len(), 0);
    let text = "format = 1\nname = \"Pier\"\npurpose = \"A test.\"\n[[block]]\nkind = \"free\"\ntime = \"1:00\"\n";
    fs::write(here.join("pier.toml"), text).unwrap();
    assert_eq!(
        stillroad(here, &["ride", "pier.toml", "--pace", "max"])
            .status
            .code(),
        Some(0)
    );
    let rides = here.join("kept/rides");
    let first = list(&rides);
    assert_eq!(first.rides.len(), 1);
    let index = rides.join(".stillroad-index");
    let kept = fs::read_to_string(&index).unwrap();
    assert_eq!(list(&rides), first, "by the index");
    for damage in [
        "",
        "another program's file",
        &kept[..kept.len() / 2],
        "stillroad rides 1\n{}\n",
        "stillroad rides 2\n{}\n",
    ] {
        fs::write(&index, damage).unwrap();
        assert_eq!(list(&rides), first, "{damage:?}");
    }
    // A rating that is appended later is seen, and a damaged ride is told while the others stand.
    let folder = rides.join(&first.rides[0].key);
    let notes = fs::read_to_string(folder.join("notes.csv")).unwrap();
    fs::write(
        folder.join("notes.csv"),
        notes + "2026-01-01T00:00:00.000Z,,rating,7.0,\n",
    )
    .unwrap();
    assert_eq!(list(&rides).rides[0].rating, Some(7.0));
    let broken = rides.join("2099-01-01 0000 broken");
    fs::create_dir(&broken).unwrap();
    fs::write(
        broken.join("ride.toml"),
        "format = 9\nprogram = \"later\"\n",
    )
    .unwrap();
    let listing = list(&rides);
    assert_eq!((listing.rides.len(), listing.troubles.len()), (1, 1));
    assert!(
        listing.troubles[0].contains("recorded by later"),
        "{:?}",
        listing.troubles
    );
}
