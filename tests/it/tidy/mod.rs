//! The house's order, held by reading every source file: who may name whom, where the world is touched, how long a file
//! is, and what must not be committed. `planted.rs` breaks each rule once and sees it noticed.

mod planted;
mod scan;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path as FilePath, PathBuf};

use scan::{Named, Path, module_of, names, tokens};

/// So many lines at most: a longer file has a second idea in it.
const LONGEST: usize = 500;

/// These four stand beside each other: of another's names they see those in [`SEEN`] and no more.
const APART: [&str; 4] = ["gatt", "plan", "rider", "record"];

/// What the four see of each other, and why.
const SEEN: &[(&str, &str, &str)] = &[
    (
        "rider",
        "crate::plan::Load",
        "a session's load becomes watts by the rider's figures",
    ),
    (
        "record",
        "crate::plan::Kind",
        "each row says what kind of block it was ridden in",
    ),
    (
        "record",
        "crate::plan::fit",
        "a fitted session is kept beside what it was fitted from",
    ),
];

/// A name of the world outside, the modules or files that may know it, and what is said of anyone else.
struct Guarded {
    what: &'static [&'static str],
    homes: &'static [&'static str],
    why: &'static str,
}

const GUARDED: &[Guarded] = &[
    Guarded {
        what: &[
            "egui",
            "eframe",
            "egui_extras",
            "egui_plot",
            "epaint",
            "emath",
            "winit",
            "glow",
            "egui_system_font_provider",
        ],
        homes: &["src/ui/", "src/app.rs", "src/app/"],
        why: "only the window draws",
    },
    Guarded {
        what: &["btleplug", "bluez_async"],
        homes: &["src/device/radio/"],
        why: "only the radio knows the radio",
    },
    Guarded {
        what: &["pulseaudio", "cpal"],
        homes: &["src/sound/linux.rs"],
        why: "only the loudspeaker's own file knows the sound server",
    },
    Guarded {
        what: &["dbus", "zbus"],
        homes: &["src/awake.rs"],
        why: "only keeping awake speaks to the system's bus",
    },
    Guarded {
        what: &[
            "std::fs",
            "std::os::unix::fs",
            "tokio::fs",
            "tempfile",
            "memmap2",
        ],
        homes: &["src/store/"],
        why: "only the store touches the disk",
    },
    Guarded {
        what: &["std::net", "std::os::unix::net", "tokio::net", "socket2"],
        homes: &[],
        why: "nothing listens on a network, and nothing calls out",
    },
    Guarded {
        what: &[
            "std::time::Instant",
            "std::time::SystemTime",
            "std::time::UNIX_EPOCH",
            "tokio::time::Instant",
            "jiff::Timestamp::now",
            "jiff::Zoned::now",
            "chrono",
            "time",
        ],
        homes: &["src/engine/drive.rs"],
        why: "there is one clock, and it is handed down",
    },
];

/// What no pure part may know: those up to the engine's core, and the rooms of the window.
const WORLD: &[&str] = &[
    "std::thread",
    "std::net",
    "std::env",
    "std::process",
    "std::sync::mpsc",
    "std::sync::Mutex",
    "std::sync::RwLock",
    "std::sync::Condvar",
    "tokio",
    "futures",
    "crate::store",
    "crate::engine::drive",
    "crate::device::radio",
];

/// The modules that know nothing of the world, whatever stands above them.
const PURE: [&str; 16] = [
    "units",
    "time",
    "toml_table",
    "gatt",
    "plan",
    "rider",
    "memory",
    "ride",
    "cue",
    "lead",
    "control",
    "record",
    "review",
    "write",
    "engine",
    "ui",
];

/// What a ride does is the same on every device, a simulated one too.
const BLIND: [&str; 5] = [
    "src/gatt/",
    "src/plan/",
    "src/rider/",
    "src/ride/",
    "src/control/",
];

/// The engine's thread is its one part that knows the world.
const DRIVE: &str = "src/engine/drive.rs";

/// The order of the modules: the first column of the table in `lib.rs`, from above and from the left.
fn order(lib: &str) -> Vec<String> {
    lib.lines()
        .filter_map(|line| line.strip_prefix("//! | "))
        .filter_map(|line| line.split('|').next())
        .flat_map(|cell| cell.split('`').skip(1).step_by(2))
        .map(str::to_owned)
        .collect()
}

fn begins(path: &[String], with: &str) -> bool {
    let parts: Vec<&str> = with.split("::").collect();
    path.len() >= parts.len() && path.iter().zip(&parts).all(|(a, b)| a == b)
}

/// A glob of something that has the guarded name in it.
fn swallows(named: &Named, guarded: &str) -> bool {
    named.glob && guarded.starts_with(&format!("{}::", named.path.join("::")))
}

/// Every breach of the order in these files, given as place and text, by the order of modules.
fn breaches(order: &[String], files: &[(&str, &str)]) -> Vec<String> {
    let modules: BTreeSet<Path> = files.iter().map(|(file, _)| module_of(file)).collect();
    let all: Vec<(&str, Vec<Named>)> = files
        .iter()
        .map(|(file, text)| (*file, names(file, text, &modules)))
        .collect();
    // What is passed on under another name: each such name and what it stands for.
    let mut passed_on: BTreeMap<Path, BTreeSet<Path>> = BTreeMap::new();
    for (file, found) in &all {
        for named in found {
            if let Some(name) = named.passed_on.as_ref().filter(|name| *name != "*") {
                let mut path = module_of(file);
                path.push(name.clone());
                if path != named.path {
                    passed_on
                        .entry(path)
                        .or_default()
                        .insert(named.path.clone());
                }
            }
        }
    }
    let mut wrong = BTreeSet::new();
    for (file, found) in &all {
        for named in found {
            let mut meant = vec![named.clone()];
            let mut seen = BTreeSet::new();
            while let Some(named) = meant.pop() {
                if !seen.insert(named.path.clone()) || seen.len() > 64 {
                    continue;
                }
                for length in 2..=named.path.len() {
                    for target in passed_on.get(&named.path[..length]).into_iter().flatten() {
                        let mut path = target.clone();
                        path.extend_from_slice(&named.path[length..]);
                        meant.push(Named {
                            path,
                            ..named.clone()
                        });
                    }
                }
                for why in breach(order, file, &named) {
                    wrong.insert(format!(
                        "{file}:{}: {}: {why}",
                        named.line,
                        named.path.join("::")
                    ));
                }
            }
        }
    }
    for (file, text) in files {
        wrong.extend(words(file, text));
    }
    wrong.into_iter().collect()
}

/// What is wrong with naming that path in that file.
fn breach(order: &[String], file: &str, named: &Named) -> Vec<String> {
    let mut wrong = Vec::new();
    let module = module_of(file);
    let here = module.get(1).map(String::as_str);
    for guarded in GUARDED {
        let known = |what: &&&str| begins(&named.path, what) || swallows(named, what);
        if guarded.what.iter().any(|what| known(&what))
            && !guarded.homes.iter().any(|home| file.starts_with(home))
        {
            wrong.push(guarded.why.to_owned());
        }
    }
    // The root passes nothing on and has no place in the order; the program itself names what it starts.
    let Some(here) = here else {
        return wrong;
    };
    if PURE.contains(&here)
        && file != DRIVE
        && WORLD
            .iter()
            .any(|what| begins(&named.path, what) || swallows(named, what))
    {
        wrong.push(format!(
            "`{here}` knows nothing of threads, channels, files and the system"
        ));
    }
    if PURE.contains(&here) && begins(&named.path, "crate::device::practice") {
        wrong.push(format!(
            "`{here}` knows no practice trainer: it goes the same road as the radio"
        ));
    }
    if named.glob && named.passed_on.is_some() && !begins(&named.path, &module.join("::")) {
        wrong.push("what is passed on is named".to_owned());
    }
    if named.path[0] != "crate" {
        return wrong;
    }
    let Some(there) = named.path.get(1) else {
        if named.glob {
            wrong.push("the whole package is taken in".to_owned());
        }
        return wrong;
    };
    if there == here {
        return wrong;
    }
    let place = |name: &str| order.iter().position(|known| known == name);
    match (place(here), place(there)) {
        (Some(mine), Some(theirs)) if theirs < mine => {}
        (Some(_), Some(_)) => wrong.push(format!("`{there}` stands below `{here}`")),
        (None, _) => wrong.push(format!("`{here}` is not in the table of lib.rs")),
        (_, None) => wrong.push(format!("`{there}` is not in the table of lib.rs")),
    }
    let listed = |(from, what, _): &(&str, &str, &str)| *from == here && begins(&named.path, what);
    if APART.contains(&here) && APART.contains(&there.as_str()) && !SEEN.iter().any(listed) {
        wrong.push(format!("`{here}` and `{there}` stand apart"));
    }
    wrong
}

/// Words that no file may have, and words that the window may not have.
fn words(file: &str, text: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    let words = tokens(text);
    let at = |index: usize| words.get(index).map_or("", |token| token.text.as_str());
    for (index, token) in words.iter().enumerate() {
        let mut say = |why: &str| wrong.push(format!("{file}:{}: {why}", token.line));
        match (at(index), at(index + 1), at(index + 2)) {
            ("todo" | "unimplemented" | "dbg", "!", _) => say("unfinished or left over"),
            ("[", "ignore", "]") if index > 0 && at(index - 1) == "#" => {
                say("a test that is passed over says why");
            }
            ("[", "path", "=") => say("a module lies where its name says"),
            ("extern", "crate", _) => say("a crate is named by its own name"),
            ("simulated" | "is_simulated", ..)
                if BLIND.iter().any(|module| file.starts_with(module)) =>
            {
                say("nothing asks whether a device is simulated but to show or to remember it");
            }
            ("async" | "await", ..) if file.starts_with("src/ui/") => {
                say("the window waits for nothing")
            }
            _ => {}
        }
    }
    if file.starts_with("src/") && !text.starts_with("//!") {
        wrong.push(format!("{file}:1: a file says first what it is"));
    }
    wrong
}

/// What must not stand in any committed text: places of one machine.
fn strange_places(file: &str, text: &str) -> Vec<String> {
    let needles = [
        concat!("/wo", "rk/"),
        concat!("/ro", "ot/"),
        concat!("shar", "ed/"),
    ];
    let mut wrong = Vec::new();
    for (number, line) in text.lines().enumerate() {
        // The one script that says where the Bluetooth bench is.
        let bench = file == "tests/bench/run" && line.contains("STILLROAD_BENCH");
        if !bench && needles.iter().any(|needle| line.contains(needle)) {
            wrong.push(format!(
                "{file}:{}: a place of one machine: {}",
                number + 1,
                line.trim()
            ));
        }
    }
    wrong
}

fn too_long(file: &str, text: &str) -> Option<String> {
    let lines = text.lines().count();
    (lines > LONGEST).then(|| format!("{file}: {lines} lines: look for the second idea"))
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Every text under these places of the package, with its place written with strokes.
fn texts(places: &[&str]) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut open: Vec<PathBuf> = places.iter().map(|place| root().join(place)).collect();
    while let Some(path) = open.pop() {
        if path.is_dir() {
            let inside = fs::read_dir(&path).unwrap();
            open.extend(inside.map(|entry| entry.unwrap().path()));
        } else if let Ok(text) = fs::read_to_string(&path) {
            // What is no text, a font or a picture, is passed over.
            let place = path.strip_prefix(root()).unwrap();
            let parts: Vec<_> = place.iter().map(|part| part.to_string_lossy()).collect();
            found.push((parts.join("/"), text));
        }
    }
    found.sort();
    found
}

fn sources() -> Vec<(String, String)> {
    let mut found = texts(&["src"]);
    found.retain(|(place, _)| place.ends_with(".rs"));
    assert!(
        found.len() > 100,
        "the sources were not found: {}",
        found.len()
    );
    found
}

fn order_now() -> Vec<String> {
    let order = order(&fs::read_to_string(root().join("src/lib.rs")).unwrap());
    assert!(
        order.len() > 10,
        "the table in lib.rs was not found: {order:?}"
    );
    order
}

#[test]
fn the_sources_keep_the_order_of_the_house() {
    let files = sources();
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(a, b)| (a.as_str(), b.as_str()))
        .collect();
    let wrong = breaches(&order_now(), &files);
    assert!(
        wrong.is_empty(),
        "{} breaches:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[test]
fn the_table_in_lib_names_every_module_once() {
    let order = order_now();
    let declared: BTreeSet<String> = fs::read_to_string(root().join("src/lib.rs"))
        .unwrap()
        .lines()
        .filter_map(|line| line.strip_prefix("pub mod "))
        .map(|line| line.trim_end_matches(';').to_owned())
        .collect();
    let listed: BTreeSet<String> = order.iter().cloned().collect();
    assert_eq!(listed, declared);
    assert_eq!(listed.len(), order.len(), "a module stands twice");
    let inside = fs::read_dir(root().join("src")).unwrap();
    let there: BTreeSet<String> = inside
        .map(|entry| entry.unwrap().path())
        .filter_map(|path| Some(FilePath::new(path.file_stem()?).display().to_string()))
        .filter(|name| !matches!(name.as_str(), "lib" | "main"))
        .collect();
    assert_eq!(there, declared, "what lies in src is not what lib.rs has");
}

#[test]
fn what_the_four_see_of_each_other_is_needed() {
    let files = sources();
    for (from, what, why) in SEEN {
        let needed = files
            .iter()
            .any(|(place, text)| place.starts_with(&format!("src/{from}")) && text.contains(what));
        assert!(needed, "{from} does not name {what} any more ({why})");
    }
}

#[test]
fn no_file_is_too_long() {
    let mut files = texts(&["src", "tests", ".ci"]);
    files.retain(|(place, _)| {
        let plain = FilePath::new(place)
            .extension()
            .is_none_or(|end| end == "rs" || end == "py");
        plain && !place.contains("__pycache__")
    });
    let wrong: Vec<_> = files
        .iter()
        .filter_map(|(place, text)| too_long(place, text))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn nothing_committed_names_a_place_of_one_machine() {
    let mut files = texts(&["src", "tests", "sessions", "docs", "assets", ".ci"]);
    for name in ["Cargo.toml", "README.md", "DEVELOPERS.md", ".gitignore"] {
        if let Ok(text) = fs::read_to_string(root().join(name)) {
            files.push((name.to_owned(), text));
        }
    }
    let wrong: Vec<_> = files
        .iter()
        .flat_map(|(place, text)| strange_places(place, text))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_tests_leave_nothing_unfinished() {
    let mut files = texts(&["tests/it"]);
    files.retain(|(place, _)| place.ends_with(".rs"));
    let wrong: Vec<_> = files
        .iter()
        .flat_map(|(place, text)| words(place, text))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
