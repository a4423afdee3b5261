//! The pages and schemas in `docs/` are those that the tables of fields make.
//!
//! `STILLROAD_WRITE_DOCS=1 cargo test --test it formats` writes them anew.

use std::fs;
use std::path::PathBuf;

use stillroad::ui::{keys, settings};
use stillroad::{plan, rider};

fn docs(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("docs")
        .join(name)
}

fn writes() -> bool {
    std::env::var_os("STILLROAD_WRITE_DOCS").is_some()
}

fn check_schema(name: &str, made: &serde_json::Value) {
    if writes() {
        fs::write(docs(name), format!("{made:#}\n")).unwrap();
    }
    // Compared as values: the order of keys depends on how the JSON library was built.
    let kept: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(docs(name)).unwrap()).unwrap();
    assert_eq!(&kept, made, "docs/{name} is out of date");
}

fn check_page(name: &str, made: &str) {
    const BEGIN: &str = "<!-- keys -->\n";
    const END: &str = "<!-- /keys -->";
    let page = fs::read_to_string(docs(name)).unwrap();
    let (before, rest) = page.split_once(BEGIN).unwrap();
    let (kept, after) = rest.split_once(END).unwrap();
    if writes() {
        fs::write(docs(name), format!("{before}{BEGIN}\n{made}\n{END}{after}")).unwrap();
        return;
    }
    assert_eq!(kept.trim(), made.trim(), "docs/{name} is out of date");
}

#[test]
fn the_schemas_are_those_of_the_tables() {
    check_schema("session.schema.json", &plan::session_schema());
    check_schema("rider.schema.json", &rider::fields::rider_schema());
    check_schema("settings.schema.json", &settings::settings_schema());
}

#[test]
fn the_pages_list_the_keys_of_the_tables() {
    check_page("session-format.md", &plan::session_keys());
    check_page("rider-file.md", &rider::fields::rider_keys());
    check_page("settings.md", &settings::settings_keys());
    let page = format!(
        "{}\n### Names of keys\n\n{}",
        keys::page::acts(),
        keys::page::names()
    );
    check_page("keys.md", &page);
}

/// The examples of the tables are good values, and those of the pages good files.
#[test]
fn the_examples_are_good() {
    for (name, whole) in [("session-format.md", true), ("rider-file.md", false)] {
        let page = fs::read_to_string(docs(name)).unwrap();
        let example = page
            .split("```toml\n")
            .nth(1)
            .unwrap()
            .split("```")
            .next()
            .unwrap();
        if whole {
            assert_eq!(plan::read(example).problems, [], "{name}");
        } else {
            assert_eq!(rider::read(example).1, [], "{name}");
        }
    }
    let page = fs::read_to_string(docs("settings.md")).unwrap();
    let example = page.split("```toml\n").nth(1).unwrap();
    let example = example.split("```").next().unwrap();
    assert_eq!(settings::read(example).1, []);
    for field in settings::FIELDS {
        let text = format!("{} = {}\n", field.key, field.example);
        assert_eq!(settings::read(&text).1, [], "{text}");
    }
    for field in rider::fields::FIELDS {
        let needed = match field.key {
            "confirmed" => "threshold = 180\npower_cap = 260\n",
            // One without the other is a warning.
            "chainrings" => "sprockets = [11, 13]\n",
            "sprockets" => "chainrings = [50]\n",
            _ => "",
        };
        let text = format!("{needed}{} = {}\n", field.key, field.example);
        assert_eq!(rider::read(&text).1, [], "{text}");
    }
}
