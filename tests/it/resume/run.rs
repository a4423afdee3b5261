//! A ride that goes on among other rides of one run of the program, as the window makes it possible.

use super::*;

/// Rides a session from its beginning to its end in a program that runs.
fn another(ride: &mut Ride, until: f64) {
    let plan = session("[[block]]\nkind = \"hold\"\ntime = \"0:20\"\neffort = 6\n");
    ride.choose(&plan, &rider(), RideMode::TargetPower);
    ride.pass(1.0);
    ride.command(Command::Start);
    ride.to_the_end(until);
    ride.pass(10.0);
}

/// A program that was started anew beside its trainer.
fn program() -> Ride {
    let mut ride = Ride::new(vec![tap(Practice::new(PracticeConfig::default()))]);
    let id = Some(DeviceId::new(practice::TRAINER));
    ride.command(Command::Use(Role::Trainer, id));
    ride.to(5.0);
    ride
}

fn on_with(ride: &mut Ride, folder: &Path, until: f64) {
    ride.command(take_up(folder).unwrap().command());
    ride.pass(1.0);
    ride.command(Command::Start);
    ride.to_the_end(until);
    ride.pass(10.0);
}

/// Writes what was kept as a ride does: what is due goes to the disk, so that a folder has its name before another begins.
fn written_as_it_comes(ride: &Ride, rides: &Path) {
    let mut writer = writer(rides);
    for (_, kept) in ride.kept() {
        writer.take(kept);
        if writer.due() {
            writer.tick();
        }
    }
    assert!(writer.finish());
}

/// The folders of rides, `first` before the others.
fn folders(rides: &Path, first: &Path) -> Vec<PathBuf> {
    let mut folders: Vec<_> = fs::read_dir(rides)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    folders.sort_by_key(|folder| (folder != first, folder.clone()));
    folders
}

/// Exports a ride, and gives the rows in it.
fn exported(folder: &Path, to: &Path) -> usize {
    export(&Recording::open(folder).unwrap(), to, false).unwrap();
    let made = Recording::open(to).unwrap();
    let (text, well) = report("the export", &replay(&made, |_| {}).unwrap());
    assert!(well, "{text}");
    let rows = made.bytes("samples.csv").unwrap().unwrap();
    rows.iter().filter(|byte| **byte == b'\n').count() - 1
}

#[test]
fn a_ride_after_one_that_was_gone_on_with_replays_and_is_exported() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 70.7, &[]);
    let mut ride = program();
    on_with(&mut ride, &folder, 900.0);
    another(&mut ride, 1500.0);
    let rides = home.path().join("rides");
    written_as_it_comes(&ride, &rides);
    let folders = folders(&rides, &folder);
    assert_eq!(folders.len(), 2);
    for folder in &folders {
        replays(folder);
    }
    assert_eq!(exported(&folders[0], &home.path().join("first.zip")), 230);
    assert_eq!(exported(&folders[1], &home.path().join("second.zip")), 20);
}

#[test]
fn a_ride_that_goes_on_after_another_replays_and_is_exported_by_itself() {
    let home = tempfile::tempdir().unwrap();
    let folder = killed(home.path(), 70.7, &[]);
    let mut ride = program();
    another(&mut ride, 600.0);
    on_with(&mut ride, &folder, 1500.0);
    let rides = home.path().join("rides");
    written_as_it_comes(&ride, &rides);
    let folders = folders(&rides, &folder);
    assert_eq!(folders.len(), 2);
    for folder in &folders {
        replays(folder);
    }
    every_second_has_a_row(&read_ride(&folder).unwrap(), 230);
    assert_eq!(exported(&folders[0], &home.path().join("first.zip")), 230);
    assert_eq!(exported(&folders[1], &home.path().join("second.zip")), 20);
}
