//! A session that was fitted to the day, kept beside what it was fitted from, and reviewed by both.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use stillroad::cli::export::export;
use stillroad::cli::replay::report;
use stillroad::plan::fit::{Recoveries, Wish, fit};
use stillroad::review::{Recording as Ridden, Review, review};
use stillroad::ride::RideMode;
use stillroad::store::read_ride;
use stillroad::store::recording::Recording;

use super::log::{recorded, replayed};
use crate::world::{Fake, Knobs, Ride, session};

/// 5:30 in all.
const BLOCKS: &str = "# Ingeborg asked for this one\n[[block]]\nkind = \"warm-up\"\ntime = \"2:00\"\neffort = [2, 4]\n\
    [[block]]\nrepeat = 3\n\
    [[block.block]]\nkind = \"hold\"\nname = \"For Ingeborg\"\ntime = \"0:30\"\neffort = 6\n\
    [[block.block]]\nkind = \"recovery\"\nname = \"Lull\"\ntime = \"0:20\"\neffort = 4\n\
    [[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\neffort = 2\n";

const RIDER: &str =
    "name = \"Ingeborg\"\nthreshold = 200\npower_cap = 250\nsprint_cap = 400\nw_prime = 20000\n";

const WISH: Wish = Wish {
    minutes: Some(5),
    warm_up: 0,
    recoveries: Recoveries::Easier,
};

/// Ridden with one repeat fewer, which is 4:40, and easier recoveries.
fn fitted_ride(home: &Path) -> PathBuf {
    let fitted = fit(&session(BLOCKS), &WISH).unwrap();
    assert_eq!(fitted.plan.length().to_string(), "4:40");
    let rider = stillroad::rider::read(RIDER).0.unwrap();
    let fake = Fake::new(Knobs::default());
    let plan = Arc::new(fitted.plan);
    let mut ride = Ride::on(&fake, &plan, &rider, RideMode::TargetPower);
    ride.start();
    ride.to_the_end(320.0);
    recorded(&ride, home).remove(0)
}

fn reviewed(folder: &Path) -> Review {
    let ride = read_ride(folder).unwrap();
    review(&Ridden {
        start: &ride.start,
        finish: ride.finish.as_deref(),
        rows: &ride.rows,
        events: &ride.events,
        notes: &ride.notes,
        raw: &[],
        problems: &ride.problems,
    })
}

fn nothing_differs(place: &Path) {
    let replayed = replayed(place);
    let (text, well) = report("the ride", &replayed);
    assert!(well, "{text}");
}

#[test]
fn what_the_coach_wrote_is_kept_beside_what_was_ridden() {
    let home = tempfile::tempdir().unwrap();
    let folder = fitted_ride(home.path());
    let text = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    assert_eq!(text("written.toml"), &*session(BLOCKS).source);
    assert!(text("session.toml").starts_with("# Fitted to the day from"));
    let about: toml::Table = toml::from_str(&text("ride.toml")).unwrap();
    let fitted = &about["fitted"];
    assert_eq!(fitted["minutes"].as_integer(), Some(5));
    assert_eq!(fitted["recoveries"].as_str(), Some("easier"));
    // By hand: of warm-up, three times two blocks and cool-down the third pair is not ridden.
    let blocks: Vec<_> = fitted["blocks"].as_array().unwrap().iter().collect();
    let expected = [1, 2, 3, 4, 5, 8].map(toml::Value::from);
    assert_eq!(blocks, expected.iter().collect::<Vec<_>>());
    let changes = fitted["changes"].as_array().unwrap();
    let changes: Vec<_> = changes.iter().filter_map(toml::Value::as_str).collect();
    assert_eq!(
        changes,
        [
            "Recoveries easier: Lull at effort 3 in place of effort 4.",
            "For Ingeborg: 2 times in place of 3.",
        ]
    );
    nothing_differs(&folder);
    // A file that does not belong, or that was changed or lost, is told.
    for broken in [Some("name = \"another\"\n"), None] {
        let place = folder.join("written.toml");
        match broken {
            Some(text) => fs::write(&place, text).unwrap(),
            None => fs::remove_file(&place).unwrap(),
        }
        let differences = replayed(&folder).differences;
        assert!(differences.count > 0);
        for told in &differences.told {
            assert!(told.to_string().contains("written.toml"), "{told}");
        }
        let told = reviewed(&folder);
        let missing = told.missing.join("\n");
        assert!(
            missing.contains("as it was written cannot be read"),
            "{missing}"
        );
        let layers = told.blocks.iter().map(|block| block.written.mean_w);
        assert!(layers.into_iter().all(|mean| mean.is_none()));
        assert!(told.blocks[1].fitted.mean_w.is_some());
    }
}

/// The default map has effort 3 at 0.47 of threshold and effort 4 at 0.55 (`docs/rider-file.md`): 94 and 110 W of 200.
#[test]
fn the_review_sets_what_was_written_beside_what_was_ridden() {
    let home = tempfile::tempdir().unwrap();
    let told = reviewed(&fitted_ride(home.path()));
    let lull = &told.blocks[2];
    assert_eq!((lull.name.as_str(), lull.written_block), ("Lull", Some(3)));
    assert!((lull.written.mean_w.unwrap() - 110.0).abs() < 1e-9);
    // The lane stands at the easier effort, but for the second in which it falls.
    assert!((lull.fitted.mean_w.unwrap() - 94.0).abs() < 1.0, "{lull:?}");
    let last = &told.blocks[5];
    assert_eq!((last.block, last.written_block), (6, Some(8)));
    let fitted = told.fitted.unwrap();
    assert_eq!(fitted.written_s, Some(330.0));
    assert_eq!(fitted.left_out, ["For Ingeborg 3 of 3", "Lull 3 of 3"]);
    assert_eq!(
        fitted.sentence(),
        "The session was fitted to the day (5 minutes at most, easier recoveries); it is 5:30 long as it was written. \
         Recoveries easier: Lull at effort 3 in place of effort 4. For Ingeborg: 2 times in place of 3. Not ridden of \
         it: For Ingeborg 3 of 3; Lull 3 of 3."
    );
}

#[test]
fn names_go_out_of_what_was_written_as_well() {
    let home = tempfile::tempdir().unwrap();
    let folder = fitted_ride(&home.path().join("rides"));
    // They were there.
    for file in ["written.toml", "ride.toml", "raw.csv"] {
        assert!(
            fs::read_to_string(folder.join(file))
                .unwrap()
                .contains("Ingeborg")
        );
    }
    let to = home.path().join("sent.zip");
    export(&Recording::open(&folder).unwrap(), &to, false).unwrap();
    nothing_differs(&to);
    let sent = Recording::open(&to).unwrap();
    let text = |name| String::from_utf8(sent.bytes(name).unwrap().unwrap()).unwrap();
    for file in ["written.toml", "session.toml", "ride.toml", "raw.csv"] {
        assert!(!text(file).contains("Ingeborg"), "{file}");
    }
    assert!(text("written.toml").contains("# Rider asked for this one"));
    assert!(text("ride.toml").contains("For Rider: 2 times in place of 3."));
    assert!(text("ride.toml").contains("blocks = [1, 2, 3, 4, 5, 8]"));
}
