//! Memory, riders, sessions, places and damaged ride folders, on a real disk.

use std::fs;

use stillroad::memory::Memory;
use stillroad::record::Kept;
use stillroad::rider;
use stillroad::store::{MemoryKeeper, Places, RideWriter, memory, read_ride, riders, sessions};
use stillroad::units::{BrakeLag, BrakeTarget, Level, Watts};

use super::{begin, end, event, kept_row, row};

#[test]
fn memory_comes_back_and_unknown_keys_are_kept() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("deep/memory.toml");
    assert_eq!(memory::load(&path), (Memory::default(), None));
    let mut kept = Memory {
        cautions_seen: Some("2026-11-24".to_owned()),
        control_held: vec!["AA:BB:CC:DD:EE:FF".to_owned()],
        ..Memory::default()
    };
    let trainer = kept.trainer("AA:BB:CC:DD:EE:FF");
    trainer.name = "Ü \"trainer\"".to_owned();
    trainer.lag = Some(BrakeLag {
        dead_time: 0.4,
        rise: 1.25,
        fall: 0.9,
        least: 1.5,
        least_half: 1.2,
        cadence_prompt: true,
    });
    trainer.free_target = Some(BrakeTarget::Resistance(Level(12.5)));
    trainer.resistance_form = Some("two-bytes".to_owned());
    memory::save(&kept, &path).unwrap();
    assert_eq!(memory::load(&path), (kept, None));

    fs::write(
        &path,
        "version = 1\nlater = { a = [1, 2] }\n[trainers.X]\ngears = [2.5]\n",
    )
    .unwrap();
    let (mut kept, said) = memory::load(&path);
    assert_eq!(said, None);
    kept.control_held = vec!["X".to_owned()];
    memory::save(&kept, &path).unwrap();
    let text: toml::Table = fs::read_to_string(&path).unwrap().parse().unwrap();
    assert_eq!(text["later"]["a"][1].as_integer(), Some(2));
    assert_eq!(text["trainers"]["X"]["gears"][0].as_float(), Some(2.5));
    assert_eq!(text["control_held"].as_str(), Some("X"));
    assert_eq!(fs::read_dir(path.parent().unwrap()).unwrap().count(), 1);
}

#[test]
fn the_keeper_has_the_newest_memory_on_the_disk_when_it_is_dropped() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("memory.toml");
    let mut keeper = MemoryKeeper::start(path.clone());
    let mut kept = Memory::default();
    for day in 1..=3 {
        kept.cautions_seen = Some(format!("2026-11-0{day}"));
        keeper.keep(kept.clone());
    }
    assert_eq!(keeper.trouble(), None);
    drop(keeper);
    assert_eq!(memory::load(&path), (kept, None));

    let mut keeper = MemoryKeeper::start(home.path().to_owned());
    keeper.keep(Memory::default());
    let mut said = None;
    while said.is_none() {
        said = keeper.trouble();
        std::thread::yield_now();
    }
    assert!(said.unwrap().contains("cannot be saved"));
}

#[test]
fn memory_that_cannot_be_understood_is_moved_aside_and_said() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("memory.toml");
    let contents: [&[u8]; 5] = [
        b"version = [",
        b"",
        b"\xFF\xFE",
        b"version = 99\nx = 1",
        b"cautions_seen = 3",
    ];
    for (number, content) in contents.iter().enumerate() {
        fs::write(&path, content).unwrap();
        let (kept, said) = memory::load(&path);
        assert_eq!(kept, Memory::default());
        let said = said.unwrap();
        assert!(said.contains("begins anew"), "{said}");
        assert!(!path.exists());
        let aside = home.path().join(if number == 0 {
            "memory.toml.bad".to_owned()
        } else {
            format!("memory.toml.bad-{}", number + 1)
        });
        assert!(said.contains(aside.to_str().unwrap()), "{said}");
        assert_eq!(&fs::read(aside).unwrap(), content);
    }
}

#[test]
fn a_file_that_cannot_be_used_is_a_sentence() {
    let home = tempfile::tempdir().unwrap();
    let path = |name: &str| home.path().join(name);
    fs::create_dir(path("folder.toml")).unwrap();
    fs::write(path("empty.toml"), " \n").unwrap();
    fs::write(path("binary.toml"), [0xC3, 0x28]).unwrap();
    fs::write(path("most.toml"), "#".repeat(256 * 1024)).unwrap();
    fs::write(path("huge.toml"), "#".repeat(256 * 1024 + 1)).unwrap();
    fs::write(path("good.toml"), "name = \"x\"").unwrap();
    fs::write(path(".hidden.toml"), "x").unwrap();
    fs::write(path("readme.txt"), "x").unwrap();
    for (name, sentence) in [
        ("none.toml", "There is no session file at"),
        ("good.toml/below", "There is no session file at"),
        ("folder.toml", "is a folder, not a session file"),
        ("empty.toml", "is empty"),
        ("binary.toml", "is not a text in UTF-8"),
        ("huge.toml", "is larger than 256 KiB"),
    ] {
        let error = sessions::load(&path(name)).unwrap_err().to_string();
        assert!(error.contains(sentence), "{name}: {error}");
        assert!(error.contains(path(name).to_str().unwrap()), "{error}");
    }
    assert_eq!(
        &*sessions::load(&path("good.toml")).unwrap(),
        "name = \"x\""
    );

    let listed = sessions::list(&[("first-ride", "name = \"First\"")], home.path()).unwrap();
    let keys: Vec<_> = listed
        .iter()
        .map(|session| (session.key.as_str(), session.text.is_ok()))
        .collect();
    assert_eq!(
        keys,
        [
            ("first-ride", true),
            ("binary", false),
            ("empty", false),
            ("folder", false),
            ("good", true),
            ("huge", false),
            ("most", true),
        ]
    );
    assert_eq!(sessions::list(&[], &path("nowhere")).unwrap().len(), 0);
    assert!(sessions::list(&[], &path("good.toml")).is_err());
}

#[test]
fn riders_are_saved_whole_and_listed() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("riders");
    assert_eq!(riders::list(&folder).unwrap(), []);
    let path = riders::path_for(&folder, "../Ådne / 2");
    assert_eq!(path, folder.join("Ådne-2.toml"));
    riders::save(&path, "name = \"a\"").unwrap();
    riders::save(&path, "name = \"b\"").unwrap();
    riders::save(&riders::path_for(&folder, "Eve"), "name = \"Eve\"").unwrap();
    let listed = riders::list(&folder).unwrap();
    let keys: Vec<_> = listed.iter().map(|rider| rider.key.as_str()).collect();
    assert_eq!(keys, ["Eve", "Ådne-2"]);
    assert_eq!(&*riders::load(&listed[1].path).unwrap(), "name = \"b\"");
    // A file stands where the folder would have to be.
    let error = riders::save(&path.join("x.toml"), "x").unwrap_err();
    assert!(error.to_string().contains("cannot be saved"), "{error}");
    assert_eq!(&*riders::load(&path).unwrap(), "name = \"b\"");
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 2);
}

/// The page on rider files: every key may be left out, and all of them.
#[test]
fn an_empty_rider_file_is_the_cautious_rider() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("nobody.toml");
    for text in ["", " \n\n", "\u{FEFF}\n"] {
        fs::write(&path, text).unwrap();
        let (rider, problems) = rider::read(&riders::load(&path).unwrap());
        assert_eq!(problems, [], "{text:?}");
        let rider = rider.unwrap();
        assert_eq!(
            (rider.threshold, rider.power_cap, rider.sprint_cap),
            (Watts(120.0), Watts(200.0), Watts(300.0))
        );
        assert_eq!(rider.unconfirmed.len(), 4);
    }
    let missing = riders::load(&home.path().join("none.toml")).unwrap_err();
    assert!(missing.to_string().starts_with("There is no rider file at"));
}

#[test]
fn a_relative_home_is_taken_from_where_the_program_was_started() {
    let here = std::env::current_dir().unwrap();
    for relative in ["kept", "./kept"] {
        let places = Places::from_variable(Some(relative.into())).unwrap();
        assert_eq!(places, Places::under(&here.join("kept")), "{relative}");
    }
    let places = Places::from_variable(Some(here.clone().into())).unwrap();
    assert_eq!(places.rides, here.join("rides"));
}

#[test]
fn every_place_is_told_with_its_state() {
    let home = tempfile::tempdir().unwrap();
    let places = Places::from_variable(Some(home.path().into())).unwrap();
    assert_eq!(places, Places::under(home.path()));
    fs::create_dir(&places.rides).unwrap();
    fs::write(&places.riders, "a file").unwrap();
    let text = places.describe();
    let state = |path: &std::path::Path| {
        let mut lines = text.lines();
        let place = path.to_str().unwrap();
        lines.find(|line| line.ends_with(place)).unwrap();
        lines.next().unwrap().trim().to_owned()
    };
    assert_eq!(state(&places.rides), "is there, can be written");
    assert_eq!(
        state(&places.riders),
        "is a file where a folder should be: move it away"
    );
    assert_eq!(
        state(&places.sessions),
        "is not there yet, is made when first needed"
    );
    assert_eq!(
        state(&places.memory),
        "is not there yet, is made when first needed"
    );
    // Looking leaves nothing behind.
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 2);
    assert_eq!(fs::read_dir(&places.rides).unwrap().count(), 0);
}

#[test]
fn a_ride_killed_after_its_end_was_ridden_to_it() {
    let home = tempfile::tempdir().unwrap();
    let mut writer = RideWriter::new(home.path());
    writer.take(begin());
    writer.take(kept_row(1));
    for (second, what, detail) in [(1, "end", "by-rider"), (2, "released", "at the end")] {
        writer.take(Kept::Event(event(second, what, detail)));
    }
    writer.tick();
    // Killed in the seconds after the end: nothing closes the files.
    std::mem::forget(writer);
    let folder = fs::read_dir(home.path())
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let events = fs::read_to_string(folder.join("events.csv")).unwrap();
    assert!(!events.contains("recording-closed"), "{events}");
    assert_eq!(
        read_ride(&folder).unwrap().finish.as_deref(),
        Some("by-rider")
    );
    // The last of several counts, and without any the ride was killed under way.
    let more = format!("{events}2.000,2.000,2026-11-24T18:30:02.000Z,end,completed\n");
    fs::write(folder.join("events.csv"), &more).unwrap();
    assert_eq!(
        read_ride(&folder).unwrap().finish.as_deref(),
        Some("completed")
    );
    fs::write(folder.join("events.csv"), more.replace(",end,", ",block,")).unwrap();
    assert_eq!(read_ride(&folder).unwrap().finish, None);
}

#[test]
fn figures_that_cannot_be_are_damage_and_cost_their_line() {
    let home = tempfile::tempdir().unwrap();
    let mut writer = RideWriter::new(home.path());
    writer.take(begin());
    (1..=9).for_each(|second| writer.take(kept_row(second)));
    writer.take(end());
    assert!(writer.finish());
    let folder = fs::read_dir(home.path())
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let samples = fs::read_to_string(folder.join("samples.csv")).unwrap();
    let mut lines: Vec<String> = samples.lines().map(str::to_owned).collect();
    let header: Vec<String> = lines[0].split(',').map(str::to_owned).collect();
    // The line, its column, what stands in it, and what is said.
    let wild = [
        (
            2,
            "ridden_s",
            "4000000000",
            "beyond 360000, a hundred hours",
        ),
        (3, "plan_s", "-1e12", "beyond 360000"),
        (4, "power_w", "1e300", "beyond 65535"),
        (5, "w_balance_j", "-1e10", "beyond 1000000000"),
        (6, "speed_kmh", "NaN", "is not a number"),
        (7, "brake_target", "7e5", "beyond 65535"),
        (8, "power_from", "neighbour", "is none of trainer, meter"),
    ];
    for (line, column, cell, _) in wild {
        let at = header.iter().position(|name| name == column).unwrap();
        let mut cells: Vec<_> = lines[line - 1].split(',').collect();
        cells[at] = cell;
        lines[line - 1] = cells.join(",");
    }
    fs::write(folder.join("samples.csv"), lines.join("\n") + "\n").unwrap();
    let events = fs::read_to_string(folder.join("events.csv")).unwrap();
    let events = events + "9e99,1.000,2026-11-24T18:30:02.000Z,pause,\n";
    fs::write(folder.join("events.csv"), events).unwrap();
    let ride = read_ride(&folder).unwrap();
    assert_eq!(ride.rows, [row(8), row(9)]);
    let said = ride.problems.join("\n");
    for (line, column, _, words) in wild {
        let sentence = ride
            .problems
            .iter()
            .find(|said| said.contains(&format!("line {line}, {column}: ")));
        assert!(sentence.is_some_and(|said| said.contains(words)), "{said}");
    }
    assert!(
        said.contains("events.csv, line") && said.contains("ridden_s: "),
        "{said}"
    );
    assert!(ride.events.iter().all(|event| event.what != "pause"));
}

#[test]
fn a_damaged_folder_is_read_as_far_as_it_goes() {
    let home = tempfile::tempdir().unwrap();
    let mut writer = RideWriter::new(home.path());
    writer.take(begin());
    for second in 1..=5 {
        writer.take(kept_row(second));
    }
    writer.take(end());
    assert!(writer.finish());
    let folder = fs::read_dir(home.path())
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    assert_eq!(read_ride(&folder).unwrap().problems, [""; 0]);

    let samples = fs::read_to_string(folder.join("samples.csv")).unwrap();
    let mut lines: Vec<_> = samples.lines().collect();
    lines[3] = "what?";
    let cut = lines.join("\n");
    fs::write(folder.join("samples.csv"), &cut[..cut.len() - 3]).unwrap();
    fs::remove_file(folder.join("notes.csv")).unwrap();
    fs::remove_file(folder.join("session.toml")).unwrap();
    let ride = read_ride(&folder).unwrap();
    assert_eq!(ride.rows, [row(1), row(2), row(4)]);
    assert_eq!(ride.finish.as_deref(), Some("completed"));
    let said = ride.problems.join("\n");
    for sentence in [
        "There is no session file at",
        "samples.csv, line 4: has 1 cells where the header has 21; the line was skipped.",
        "samples.csv, line 6: the file was cut off inside its last line, which was dropped.",
        "samples.csv: second 2 is followed by second 4.",
        "There is no notes.csv",
    ] {
        assert!(said.contains(sentence), "{said}");
    }
    assert_eq!(ride.problems.len(), 5);

    fs::write(
        folder.join("ride.toml"),
        "format = 2\nprogram = \"stillroad 9\"",
    )
    .unwrap();
    let error = read_ride(&folder).unwrap_err().to_string();
    assert!(error.contains("recorded by stillroad 9"), "{error}");
    fs::remove_file(folder.join("ride.toml")).unwrap();
    let error = read_ride(&folder).unwrap_err().to_string();
    assert!(error.starts_with("There is no ride.toml"), "{error}");
}
