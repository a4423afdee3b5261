//! Each rule broken once: a checker that lets any of these pass is broken itself.

use super::{breaches, order_now, strange_places, too_long, words};

/// What is found in these files beside what is planted.
fn found(files: &[(&str, &str)]) -> Vec<String> {
    breaches(&order_now(), files)
}

/// The planted line is in a file that begins as a file should.
fn planted(file: &str, code: &str) -> Vec<String> {
    found(&[(file, &format!("//! Planted.\n{code}\n"))])
}

fn is_caught(file: &str, code: &str, says: &str) {
    let wrong = planted(file, code);
    assert!(
        wrong
            .iter()
            .any(|line| line.starts_with(file) && line.contains(says)),
        "{file}: {code}\nshould be caught ({says}), found: {wrong:?}"
    );
}

fn is_right(file: &str, code: &str) {
    let wrong = planted(file, code);
    assert!(
        wrong.is_empty(),
        "{file}: {code}\nis right, found: {wrong:?}"
    );
}

#[test]
fn a_module_below_is_caught_wherever_in_a_line_it_stands() {
    for code in [
        "use crate::store::Places;",
        "use crate::{time::Span, store::Places};",
        "use crate::{time::{Instant, Span}, store};",
        "use crate::store as shelf;",
        "use crate::store::{self, Places as Where};",
        "use crate::store::*;",
        "pub use crate::store::Places;",
        "use super::store::Places;",
        "fn place() -> crate::store::Places { todo() }",
        "fn place() { let places = crate::store::Places::find().map(|p| p.rides); }",
        "const A: u8 = 1; /* between */ fn place() { drop(super::store::Places::find()); }",
        "mod inner { fn place() { super::super::store::Places::find(); } }",
        "mod inner { mod deeper { use super::super::super::store::Places; } }",
        "fn f() { call!(crate::store::Places::find()); }",
        "#[crate::store::marked] fn f() {}",
        "fn f<T: crate::store::disk::Disk>(t: T) {}",
        "fn f() -> &'static str { let quote = '\"'; crate::store::NAME }",
        "fn f() -> &'static str { let text = r#\"a \" in it\"#; crate::store::NAME }",
        "use stillroad::store::Places;",
    ] {
        is_caught(
            "src/ride/mode.rs",
            &code.replace("super::store", "super::super::store"),
            "below",
        );
    }
    is_caught(
        "src/ride/runner/hand.rs",
        "use super::super::super::store::Places;",
        "below",
    );
    is_caught("src/engine/core.rs", "use crate::ui::theme;", "below");
    is_caught("src/ui/theme.rs", "use crate::app::App;", "below");
    is_caught("src/app/open.rs", "use crate::cli::ride;", "below");
    is_caught("src/units.rs", "use crate::time::Span;", "below");
    is_caught(
        "src/engine/core.rs",
        "use crate::novelty::Thing;",
        "not in the table",
    );
    is_caught(
        "src/novelty.rs",
        "use crate::time::Span;",
        "not in the table",
    );
}

#[test]
fn what_only_looks_like_a_breach_is_let_be() {
    for code in [
        "// use crate::store::Places;",
        "/* outer /* crate::store::Places */ crate::store::Places */",
        "/// See [`crate::store::Places`].\npub struct A;",
        "const A: &str = \"crate::store::Places, std::fs::read, todo!()\";",
        "const A: &str = r##\"crate::store::Places\"# std::fs::read\"##;",
        "const A: &[u8] = b\"crate::store \\\" std::fs::read\";",
        "use crate::time::{Instant, Span};",
        "fn f(now: crate::time::Instant) { let now = self.clock.now(); }",
        "mod tests { use super::*; use crate::plan::Kind; }",
        "fn f<'a>(a: &'a str) -> char { 'a' }",
        "#[ignore = \"takes an hour\"]\nfn f() {}",
    ] {
        is_right("src/ride/mode.rs", code);
    }
}

#[test]
fn the_four_that_stand_apart_are_kept_apart() {
    is_caught(
        "src/plan/read.rs",
        "use crate::gatt::Uuid16;",
        "stand apart",
    );
    is_caught(
        "src/rider/lane.rs",
        "use crate::plan::{Load, Plan};",
        "stand apart",
    );
    is_caught(
        "src/record/mod.rs",
        "use crate::rider::Rider;",
        "stand apart",
    );
    is_caught("src/record/mod.rs", "use crate::gatt;", "stand apart");
    is_caught("src/gatt/mod.rs", "use crate::plan::Kind;", "below");
    is_right("src/rider/lane.rs", "use crate::plan::Load;");
    is_right("src/record/mod.rs", "use crate::plan::Kind;");
}

#[test]
fn the_world_outside_is_known_in_one_place_each() {
    for (file, code, says) in [
        ("src/cli/check.rs", "use eframe::egui;", "only the window"),
        (
            "src/engine/core.rs",
            "fn f(ui: &mut egui::Ui) {}",
            "only the window",
        ),
        (
            "src/device/practice/mod.rs",
            "use btleplug::api::Central;",
            "the radio",
        ),
        ("src/cli/devices.rs", "use btleplug as radio;", "the radio"),
        (
            "src/app.rs",
            "use dbus::blocking::Connection;",
            "system's bus",
        ),
        (
            "src/device/radio/link.rs",
            "use std::net::TcpListener;",
            "nothing listens",
        ),
        ("src/cli/files.rs", "use std::fs;", "the disk"),
        ("src/cli/files.rs", "use std::fs as disk;", "the disk"),
        ("src/cli/files.rs", "use std::{env, fs::File};", "the disk"),
        ("src/cli/files.rs", "use std::*;", "the disk"),
        (
            "src/cli/files.rs",
            "use std as s; fn f() { s::fs::read(\"x\"); }",
            "the disk",
        ),
        (
            "src/cli/files.rs",
            "fn f() { ::std::fs::write(\"x\", \"y\"); }",
            "the disk",
        ),
        (
            "src/cli/files.rs",
            "type F = std::fs::OpenOptions;",
            "the disk",
        ),
        (
            "src/cli/ride.rs",
            "fn f() { jiff::Timestamp::now(); }",
            "one clock",
        ),
        (
            "src/cli/ride.rs",
            "use jiff::Zoned; fn f() { Zoned::now(); }",
            "one clock",
        ),
        (
            "src/cli/ride.rs",
            "use jiff::Timestamp as T; fn f() -> T { T::now() }",
            "one clock",
        ),
        (
            "src/cli/ride.rs",
            "type T = jiff::Timestamp; fn f() { let now = T::now; now(); }",
            "one clock",
        ),
        (
            "src/cli/ride.rs",
            "use std::time; fn f() { time::Instant::now(); }",
            "one clock",
        ),
        ("src/cli/ride.rs", "use std::time::*;", "one clock"),
        (
            "src/cli/ride.rs",
            "use std::time::{Duration, Instant as I};",
            "one clock",
        ),
        (
            "src/engine/world.rs",
            "fn f() { std::time::SystemTime::now(); }",
            "one clock",
        ),
        (
            "src/ui/keys.rs",
            "use std::sync::mpsc::channel;",
            "knows nothing",
        ),
        (
            "src/ui/keys.rs",
            "use std::sync::{Arc, mpsc};",
            "knows nothing",
        ),
        (
            "src/ui/keys.rs",
            "fn f() { tokio::spawn(f()); }",
            "knows nothing",
        ),
        (
            "src/ui/keys.rs",
            "use crate::store::Places;",
            "knows nothing",
        ),
        (
            "src/ui/keys.rs",
            "use crate::engine::drive::Clock;",
            "knows nothing",
        ),
        ("src/ui/keys.rs", "use std::fs::File;", "the disk"),
        ("src/ui/keys.rs", "async fn f() {}", "waits for nothing"),
        (
            "src/engine/core.rs",
            "fn f() { std::thread::sleep(d); }",
            "knows nothing",
        ),
        ("src/ride/runner.rs", "use std::env;", "knows nothing"),
    ] {
        is_caught(file, code, says);
    }
    is_right("src/store/disk.rs", "use std::fs::{self, File};");
    is_right(
        "src/engine/drive.rs",
        "fn f() { std::time::Instant::now(); std::thread::yield_now(); }",
    );
    is_right("src/device/radio/link.rs", "use btleplug::api::Central;");
    is_right("src/cli/ride.rs", "use std::time::Duration;");
}

#[test]
fn a_ride_that_asks_whether_its_trainer_is_simulated_is_caught() {
    for (file, code, says) in [
        (
            "src/engine/core.rs",
            "use crate::device::practice::PREFIX;",
            "the same road",
        ),
        (
            "src/ride/runner.rs",
            "fn f() { crate::device::practice::TRAINER; }",
            "the same road",
        ),
        (
            "src/ride/runner.rs",
            "fn f(row: &Row) -> bool { row.simulated }",
            "whether a device is simulated",
        ),
        (
            "src/control/split.rs",
            "fn f(links: &Links) { if links.is_simulated(1) {} }",
            "whether a device is simulated",
        ),
    ] {
        is_caught(file, code, says);
    }
    is_right("src/cli/ride.rs", "use crate::device::practice::Practice;");
    is_right(
        "src/ui/rooms/prepare/devices.rs",
        "fn f(row: &Row) -> bool { row.simulated }",
    );
}

#[test]
fn a_name_that_is_passed_on_is_followed() {
    let head = "//! Planted.\n";
    let files = |shop: &str, buyer: &str| {
        found(&[
            ("src/store/mod.rs", &format!("{head}{shop}\n")),
            ("src/cli/files.rs", &format!("{head}{buyer}\n")),
        ])
    };
    for (shop, buyer) in [
        ("pub use std::fs as disk;", "use crate::store::disk::read;"),
        (
            "pub use std::fs as disk;",
            "fn f() { crate::store::disk::read(\"x\"); }",
        ),
        (
            "pub(crate) use std::fs;",
            "use crate::store; fn f() { store::fs::read(\"x\"); }",
        ),
        (
            "pub use std::fs::read as take;",
            "use super::super::store::take;",
        ),
    ] {
        let wrong = files(shop, buyer);
        assert!(
            wrong
                .iter()
                .any(|line| line.starts_with("src/cli/files.rs") && line.contains("the disk")),
            "{shop} {buyer}: {wrong:?}"
        );
    }
    // The four see of each other what is listed, by whatever road.
    let wrong = found(&[
        ("src/plan/mod.rs", "//! Planted.\n"),
        (
            "src/ride/mod.rs",
            "//! Planted.\npub use crate::rider::Rider;\n",
        ),
        (
            "src/record/mod.rs",
            "//! Planted.\nuse crate::ride::Rider;\n",
        ),
    ]);
    assert!(
        wrong.iter().any(|line| line.contains("stand apart")),
        "{wrong:?}"
    );
    is_caught("src/engine/mod.rs", "pub use crate::ride::*;", "is named");
}

#[test]
fn unfinished_and_undocumented_work_is_caught() {
    is_caught("src/ride/mode.rs", "fn f() { todo!() }", "unfinished");
    is_caught(
        "src/ride/mode.rs",
        "fn f() { unimplemented!(\"later\") }",
        "unfinished",
    );
    is_caught("src/ride/mode.rs", "fn f() { dbg!(1); }", "unfinished");
    is_caught(
        "src/ride/mode.rs",
        "#[test]\n#[ignore]\nfn f() {}",
        "says why",
    );
    is_caught(
        "src/ride/mode.rs",
        "#[path = \"../store/disk.rs\"]\nmod disk;",
        "where its name says",
    );
    is_caught("src/ride/mode.rs", "extern crate std as s;", "its own name");
    let bare = words("src/ride/mode.rs", "pub struct A;\n");
    assert!(
        bare.iter().any(|line| line.contains("what it is")),
        "{bare:?}"
    );
}

#[test]
fn long_files_and_places_of_one_machine_are_caught() {
    assert_eq!(too_long("src/a.rs", &"x\n".repeat(500)), None);
    assert!(too_long("src/a.rs", &"x\n".repeat(501)).is_some());
    for place in [
        concat!("/wo", "rk/main"),
        concat!("/ro", "ot/.cargo"),
        concat!("../shar", "ed/bench"),
    ] {
        assert_eq!(
            strange_places("docs/a.md", &format!("see {place}")).len(),
            1,
            "{place}"
        );
    }
    let bench = concat!("bench=${STILLROAD_BENCH:-../shar", "ed/bench}");
    assert_eq!(
        strange_places("tests/bench/run", bench),
        Vec::<String>::new()
    );
    for elsewhere in [".ci/run", "DEVELOPERS.md"] {
        assert_eq!(strange_places(elsewhere, bench).len(), 1, "{elsewhere}");
    }
    assert!(strange_places("docs/a.md", "a shared bench, the work at hand").is_empty());
}
