//! What stands on the brake when a killed ride goes on: nothing at first, and never more than before the kill.

use super::*;

#[test]
fn the_load_of_a_ride_that_goes_on_builds_up_from_nothing() {
    let home = tempfile::tempdir().unwrap();
    // In the hold, with its load on the brake.
    let folder = killed(home.path(), 100.0, &[]);
    let ride = gone_on(&folder, Some(20.0));
    let watts = ride.watts();
    let begun = ride.kept().into_iter().find_map(|(at, kept)| match kept {
        Kept::GoOn(_) => Some(at),
        _ => None,
    });
    let begun = begun.unwrap();
    assert!(
        watts.iter().all(|(at, watts)| *at >= begun || *watts == 0),
        "{watts:?}"
    );
    // Six seconds at least from nothing to the whole (rules of the ride: every return from a release).
    let most = watts.iter().map(|(_, watts)| *watts).max().unwrap();
    let whole = watts.iter().find(|(_, watts)| *watts == most).unwrap().0;
    let first = watts.iter().find(|(at, _)| *at >= begun).unwrap();
    assert!(first.1 < most / 2, "{watts:?}");
    assert!(whole.since(begun).seconds() >= 5.0, "{watts:?}");
}

#[test]
fn a_brake_that_the_hand_let_off_before_the_kill_stays_off_until_it_is_set_again() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 100.0, &[(95.0, Command::BrakeOff)]);
    let mut ride = gone_on(&folder, Some(20.0));
    let off = |ride: &Ride| ride.watts().iter().all(|(_, watts)| *watts == 0);
    assert!(off(&ride), "{:?}", ride.watts());
    ride.command(Command::Resume);
    ride.pass(15.0);
    assert!(!off(&ride), "set again by hand");
}

/// Appends events as a killed ride would have kept them.
fn tell(folder: &Path, lines: &[&str]) {
    let file = folder.join("events.csv");
    let before = fs::read_to_string(&file).unwrap();
    fs::write(file, before + &lines.join("\n") + "\n").unwrap();
}

#[test]
fn a_heart_rate_that_was_lost_before_the_kill_still_holds_the_load_at_a_recoverys() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 90.0, &[]);
    let most = |folder: &Path| {
        let mut ride = Ride::new(vec![tap(Practice::new(PracticeConfig::default()))]);
        ride.command(take_up(folder).unwrap().command());
        let id = Some(DeviceId::new(practice::TRAINER));
        ride.command(Command::Use(Role::Trainer, id));
        ride.to(5.0);
        ride.command(Command::Start);
        ride.to(30.0);
        ride.watts().into_iter().map(|(_, watts)| watts).max()
    };
    // In the hold: effort 7 of 200 W by the default map is 164 W, and the session's recovery, effort 3, is 94 W.
    assert_eq!(most(&folder), Some(164));
    tell(
        &folder,
        &["90.000,90.000,2026-11-24T18:31:30.000Z,heart-lost,lost"],
    );
    assert_eq!(most(&folder), Some(94));
    tell(
        &folder,
        &["90.000,90.000,2026-11-24T18:31:30.000Z,heart-back,back"],
    );
    assert_eq!(most(&folder), Some(164));
}

#[test]
fn a_level_goes_on_with_the_trainer_on_which_it_stood_and_with_no_other() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 90.0, &[]);
    tell(
        &folder,
        &[
            "20.000,20.000,2026-11-24T18:30:20.000Z,level,\"20 % of the range, looked for\"",
            "40.000,40.000,2026-11-24T18:30:40.000Z,level,34 % of the range",
        ],
    );
    let left = take_up(&folder).unwrap();
    let own = DeviceId::new(practice::TRAINER);
    let other = DeviceId::new("F0:00:00:00:AB:09");
    let now = stillroad::time::Instant::ZERO;
    let unknown = stillroad::memory::TrainerMemory::default();
    for (trainer, level) in [(Some(&own), 0.34), (Some(&other), 0.0), (None, 0.0)] {
        let mut runner = left.runner(now, trainer);
        runner.know(now, &unknown);
        assert!((runner.level() - level).abs() < 1e-9, "{trainer:?}");
        // Another trainer in the middle of the ride begins at its lowest.
        runner.know(now, &unknown);
        assert_eq!(runner.level(), 0.0, "{trainer:?}");
    }
}
