//! What the review makes of a ride that was killed and went on.

use stillroad::review;
use stillroad::store::{read_raw, ride_list};

use super::*;

#[test]
fn sprints_of_every_part_are_read_off_the_reports() {
    let plan = session(
        "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\neffort = [2, 5]\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:10\"\neffort = 9\n\
         [[block]]\nkind = \"recovery\"\ntime = \"0:40\"\neffort = 3\n\
         [[block]]\nkind = \"sprint\"\ntime = \"0:10\"\neffort = 9\n\
         [[block]]\nkind = \"cool-down\"\ntime = \"0:30\"\neffort = [3, 1]\n",
    );
    let home = tempfile::tempdir().unwrap();
    let mut ride = Ride::practice(
        PracticeConfig::default(),
        &plan,
        &rider(),
        RideMode::TargetPower,
    );
    ride.start();
    // In the recovery between the two.
    ride.to(5.0 + 90.4);
    let mut first = written(&ride, &home.path().join("first"));
    first.tick();
    let folder = as_it_stands(&home.path().join("first"), &home.path().join("rides"));
    let whole = finished(&folder);

    let sources = |folder: &Path, whole: &RideRead| {
        let (raw, problems) = read_raw(folder);
        assert!(problems.is_empty(), "{problems:?}");
        let review = review::review(&ride_list::recording(whole, &raw));
        let each = review.sprints.each.iter();
        each.map(|sprint| (sprint.block, sprint.source, sprint.peak_w))
            .collect::<Vec<_>>()
    };
    let told = sources(&folder, &whole);
    let of = |told: &[(u32, &'static str, Option<f64>)]| -> Vec<_> {
        told.iter()
            .map(|(block, source, _)| (*block, *source))
            .collect()
    };
    assert_eq!(of(&told), [(2, "reports"), (4, "reports")]);
    // Each beside the rows of its own ten seconds: the mean of any second is no more than the best report in it.
    for (block, _, peak) in &told {
        let rows = whole.rows.iter().filter(|row| row.block == *block);
        let most = rows
            .filter_map(|row| Some(row.power?.0))
            .fold(0.0, f64::max);
        let peak = peak.unwrap();
        assert!(
            most > 0.0 && (peak / most - 1.0).abs() < 0.1,
            "{peak} {most}"
        );
    }
    // Each part is placed by itself: without one log the other's sprint is still read off its reports.
    let second = fs::read(folder.join("raw-2.csv")).unwrap();
    fs::remove_file(folder.join("raw-2.csv")).unwrap();
    assert_eq!(of(&sources(&folder, &whole)), [(2, "reports"), (4, "rows")]);
    fs::write(folder.join("raw.csv"), second).unwrap();
    assert_eq!(of(&sources(&folder, &whole)), [(2, "rows"), (4, "reports")]);
}
