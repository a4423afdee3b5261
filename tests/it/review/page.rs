//! The page and the table for a spreadsheet.

use std::sync::Arc;

use stillroad::record::noted::{About, Who};
use stillroad::record::{EventLine, NoteLine};
use stillroad::review::csv_table::csv_table;
use stillroad::review::page::page;

use super::{Rec, row};

fn hostile() -> Rec {
    let mut kept = Rec::new();
    kept.rows = (1..=300).map(row).collect();
    kept.start.session = "<script>alert(1)</script>\u{7}".to_owned();
    kept.start.rider = "\"A\" & 'B'".to_owned();
    kept.start.session_text = Arc::from(
        kept.start
            .session_text
            .replace("kind = \"hold\"", "kind = \"hold\"\nname = \"=<b>1</b>\""),
    );
    kept
}

#[test]
fn a_page_is_whole_by_itself_and_takes_no_text_for_markup() {
    let kept = hostile();
    let review = kept.review();
    assert_eq!(review.blocks[0].name, "=<b>1</b>", "the session was read");
    let page = page(&[(kept.recording(), review)]);
    assert!(page.starts_with("<!DOCTYPE html>"));
    for never in [
        "<script", "<b>", "http:", "https:", "url(", "@import", "src=", "\u{7}",
    ] {
        assert!(!page.contains(never), "{never}");
    }
    for once in [
        "<svg",
        "@page { size: A4",
        "class=\"ink\"",
        "class=\"lane\"",
    ] {
        assert!(page.contains(once), "{once}");
    }
    // Every mark-up is closed: as many ends as beginnings.
    for tag in [
        "section", "table", "tr", "svg", "figure", "article", "p", "h2", "html", "body",
    ] {
        let opened =
            page.matches(&format!("<{tag}>")).count() + page.matches(&format!("<{tag} ")).count();
        assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "{tag}");
    }
}

#[test]
fn a_long_ride_is_drawn_in_several_strips() {
    let mut kept = Rec::new();
    kept.rows = (1..=14_400).map(row).collect();
    let page = page(&[(kept.recording(), kept.review())]);
    assert_eq!(page.matches("<svg").count(), 4);
}

#[test]
fn the_spreadsheets_table_has_a_line_a_block_and_guards_text() {
    let review = hostile().review();
    let table = csv_table(&[review.clone(), review]);
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(records.len(), 2);
    let cell = |name: &str| {
        let place = heads.iter().position(|head| head == name).unwrap();
        records[0][place].to_owned()
    };
    assert_eq!(cell("name"), "'=<b>1</b>");
    assert_eq!(cell("power_w"), "150");
    assert_eq!(cell("in_lane_s"), "300");
    assert_eq!(cell("rating"), "", "what was not given is empty");
}

#[test]
fn the_page_of_the_documentation_names_every_key_of_the_json() {
    fn keys(value: &serde_json::Value, found: &mut std::collections::BTreeSet<String>) {
        match value {
            serde_json::Value::Object(map) => {
                for (key, value) in map {
                    found.insert(key.clone());
                    keys(value, found);
                }
            }
            serde_json::Value::Array(list) => list.iter().for_each(|value| keys(value, found)),
            _ => {}
        }
    }
    let mut kept = super::ridden::of_everything();
    kept.events.push(EventLine {
        ridden_s: 30.5,
        what: "mark".into(),
        detail: "1".to_owned(),
        ..kept.events[0].clone()
    });
    for (who, about) in [(Who::Rider, About::Mark(1)), (Who::Coach, About::Session)] {
        kept.notes.push(NoteLine::words(0, who, about, "Words"));
    }
    let review = kept.review();
    let mut found = std::collections::BTreeSet::new();
    keys(&serde_json::to_value(&review).unwrap(), &mut found);
    assert!(found.len() > 80, "{}", found.len());
    let place = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/review.md");
    let page = std::fs::read_to_string(place).unwrap();
    let unnamed: Vec<_> = found
        .iter()
        .filter(|key| !page.contains(&format!("`{key}`")))
        .collect();
    assert!(
        unnamed.is_empty(),
        "docs/review.md does not name {unnamed:?}"
    );
}
