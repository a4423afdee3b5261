//! The page about platforms, and what is handed to the systems, say what the program says.

use std::fs;
use std::path::PathBuf;

fn at_home(path: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path);
    fs::read_to_string(path).unwrap()
}

/// A source text with the strings that run over several lines in one.
fn joined(path: &str) -> String {
    let text = at_home(path);
    let mut lines = text.split("\\\n");
    let first = lines.next().unwrap_or_default().to_owned();
    lines.fold(first, |all, line| all + line.trim_start())
}

#[test]
fn the_sentences_that_the_page_explains_are_the_programs() {
    let said = joined("src/device/radio/failure.rs")
        + &joined("src/control/event.rs")
        + &joined("src/engine/core/doubt.rs");
    let page = at_home("docs/platforms.md");
    let rows = page.lines().filter(|line| line.starts_with("| *"));
    let mut explained = 0;
    for row in rows {
        let told = row.split('|').nth(1).unwrap();
        for sentence in told.split(", *").map(|part| part.trim().trim_matches('*')) {
            assert!(said.contains(sentence), "nowhere said: {sentence}");
            explained += 1;
        }
    }
    assert_eq!(explained, 9);
}

/// The system shows the sentence of macOS once, in the rider's own words for what happens.
#[test]
fn what_the_systems_are_handed_names_the_program() {
    let desktop = at_home("assets/linux/stillroad.desktop");
    for line in [
        "Exec=stillroad",
        "Icon=stillroad",
        "StartupWMClass=stillroad",
        "Type=Application",
    ] {
        assert!(desktop.lines().any(|each| each == line), "{line}");
    }
    let plist = at_home("assets/macos/Info.plist");
    let (_, after) = plist
        .split_once("NSBluetoothAlwaysUsageDescription")
        .unwrap();
    assert!(after.contains("by Bluetooth"));
    assert!(at_home("assets/windows/AppxManifest.fragment.xml").contains("Name=\"bluetooth\""));
    assert!(at_home("assets/stillroad.svg").contains("<title>Stillroad</title>"));
    let version = env!("CARGO_PKG_VERSION");
    assert!(plist.contains(&format!("<string>{version}</string>")));
    assert!(
        at_home("assets/windows/stillroad.exe.manifest")
            .contains(&format!("version=\"{version}.0\""))
    );
}
