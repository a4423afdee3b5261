//! What was said and noted, on recordings made by hand.

use stillroad::record::noted::{Fan, Who};
use stillroad::record::{EventLine, NoteLine};
use stillroad::review::csv_table::csv_table;
use stillroad::review::over::compare::{Changed, compare};
use stillroad::review::page::page;
use stillroad::review::said::{Day, sentences};
use stillroad::review::{Review, said::Marked};
use stillroad::units::{Bpm, Effort, Rpm, Watts};

use super::{Rec, row};
use crate::world::EPOCH_MS;

fn ridden(seconds: u64) -> Rec {
    let mut kept = Rec::new();
    kept.rows = (1..=seconds).map(row).collect();
    kept.finish = Some("by-rider".to_owned());
    kept
}

fn event(ridden_s: f64, what: &'static str, detail: &str) -> EventLine {
    EventLine {
        ridden_s,
        plan_s: ridden_s,
        utc_ms: EPOCH_MS.saturating_add((ridden_s * 1000.0) as i64),
        what: what.into(),
        detail: detail.to_owned(),
    }
}

fn note(what: &str, block: Option<u32>, text: &str) -> NoteLine {
    NoteLine {
        utc_ms: EPOCH_MS + 5_000_000,
        block,
        what: what.to_owned().into(),
        rating: None,
        text: text.to_owned(),
    }
}

fn figures(mark: &Marked) -> [Option<f64>; 5] {
    [
        mark.effort,
        mark.lane_w,
        mark.power_w,
        mark.cadence_rpm,
        mark.heart_rate_bpm,
    ]
}

#[test]
fn a_mark_has_the_figures_of_its_second() {
    let mut kept = ridden(100);
    // The second from 41 to 42 is the forty-second.
    let there = &mut kept.rows[41];
    there.power = Some(Watts(212.0));
    there.cadence = Some(Rpm(91.0));
    there.heart_rate = Some(Bpm(151.0));
    // That from 60 to 61 has no power; the eightieth was not kept.
    kept.rows[60].power = None;
    kept.rows.remove(79);
    kept.events = vec![
        event(41.3, "mark", "1"),
        event(60.5, "mark", "2"),
        event(79.9, "mark", "3"),
        event(85.0, "pause", "rider"),
        event(85.0, "mark", "4"),
        event(85.0, "resume", ""),
        event(90.0, "mark", "5"),
        // No number of a mark.
        event(95.0, "mark", "many"),
    ];
    let said = kept.review().said;
    assert_eq!(said.marks.len(), 5);
    let of = |number: usize| figures(&said.marks[number - 1]);
    let usual = [Some(6.5), Some(150.0), Some(150.0), Some(85.0), Some(140.0)];
    assert_eq!(
        of(1),
        [Some(6.5), Some(150.0), Some(212.0), Some(91.0), Some(151.0)]
    );
    assert_eq!(
        of(2),
        [Some(6.5), Some(150.0), None, Some(85.0), Some(140.0)]
    );
    assert_eq!((of(3), of(4)), ([None; 5], [None; 5]));
    assert_eq!(of(5), usual);
    let stood: Vec<bool> = said.marks.iter().map(|mark| mark.paused).collect();
    assert_eq!(stood, [false, false, false, true, false]);
    // The session's one block is a hold of four hours, without a name of its own.
    let first = &said.marks[0];
    assert_eq!((first.number, first.at_s, first.block), (1, 41.3, Some(1)));
    assert_eq!(first.utc, "2026-01-01T00:00:41.300Z");
}

#[test]
fn words_go_to_their_mark_their_block_or_the_ride() {
    let mut kept = ridden(100);
    kept.events = vec![event(41.3, "mark", "1"), event(60.0, "mark", "2")];
    kept.notes = vec![
        note("mark-2", None, "The left knee"),
        note("remark", None, "Windows open"),
        note("coach", Some(1), "Sit back"),
        note("coach-mark-2", None, "Saddle lower?"),
        note("mark-7", None, "Nowhere"),
        note("remark", Some(9), "Never came"),
        note("later-word", None, "Of a newer program"),
    ];
    kept.notes.push(NoteLine {
        rating: Some(Effort(7.0)),
        ..note("rating", None, "")
    });
    let review = kept.review();
    let words: Vec<_> = review.said.marks[1]
        .words
        .iter()
        .map(|words| (words.who, &*words.text))
        .collect();
    assert_eq!(
        words,
        [(Who::Rider, "The left knee"), (Who::Coach, "Saddle lower?")]
    );
    assert_eq!(review.said.marks[0].words, []);
    let remarks: Vec<_> = review
        .said
        .remarks
        .iter()
        .map(|one| (one.words.who, one.block, one.mark, &*one.words.text))
        .collect();
    assert_eq!(
        remarks,
        [
            (Who::Rider, None, None, "Windows open"),
            (Who::Coach, Some(1), None, "Sit back"),
            (Who::Rider, None, Some(7), "Nowhere"),
            (Who::Rider, Some(9), None, "Never came"),
        ]
    );
    let told = sentences(&review);
    let block = review.blocks[0].title();
    assert_eq!(
        told,
        [
            format!("Mark 1 at 0:41, {block}: 150 W, 85 rpm, 140 bpm."),
            format!(
                "Mark 2 at 1:00, {block}: 150 W, 85 rpm, 140 bpm. Rider: “The left knee” Coach: “Saddle lower?”"
            ),
            "Rider, on the session: “Windows open”".to_owned(),
            format!("Coach, on {block}: “Sit back”"),
            "Rider, on mark 7, which this ride does not have: “Nowhere”".to_owned(),
            "Rider, on block 9, which was not ridden: “Never came”".to_owned(),
        ]
    );
}

#[test]
fn a_later_word_of_the_day_stands_for_an_earlier_one() {
    let mut kept = ridden(100);
    kept.notes = vec![
        note("fan", None, "low"),
        note("room", None, "25"),
        note("sleep", None, "6.5"),
        note("soreness", None, "4"),
        note("paused", None, "The door"),
        note("ended-early", None, "Cramp"),
        note("room", None, "21.5"),
        note("fan", None, "high"),
        // These cannot be, and take nothing's place.
        note("room", None, "80"),
        note("fan", None, "gale"),
    ];
    let review = kept.review();
    let expected = Day {
        fan: Some(Fan::High),
        room_c: Some(21.5),
        sleep_h: Some(6.5),
        soreness: Some(4.0),
        paused: Some("The door".to_owned()),
        ended_early: Some("Cramp".to_owned()),
    };
    assert_eq!(review.said.day, expected);
    assert_eq!(
        sentences(&review),
        [
            "The day: the fan high, 21.5 °C in the room, 6.5 h of sleep, soreness 4 out of ten.",
            "Why the clock stood: “The door”",
            "Why it was ended early: “Cramp”",
        ]
    );
    let unread = review.missing.iter().find(|line| line.contains("the day"));
    assert_eq!(
        unread.unwrap(),
        "2 notes of how the day was cannot be read, or are outside of what can be, and are left out. Look at notes.csv."
    );
    // A ride of which nothing was said has no such part.
    assert_eq!(sentences(&ridden(100).review()), Vec::<String>::new());
}

/// The table, the JSON and the page hold what the words hold, and no text becomes a formula, markup or a control letter.
#[test]
fn the_same_stands_in_table_json_and_page() {
    let mut kept = ridden(100);
    kept.events = vec![event(41.3, "mark", "1"), event(60.0, "mark", "2")];
    kept.notes = vec![
        note("mark-1", None, "<script>alert(1)</script>"),
        note("remark", None, "=1+1"),
        note("coach", Some(1), "Sit\u{1b}[2J back"),
        note("room", None, "-3"),
        note("fan", None, "none"),
    ];
    let review = kept.review();
    let json = serde_json::to_value(&review).unwrap();
    let said = &json["said"];
    assert_eq!(said["marks"][0]["power_w"], 150.0);
    assert_eq!(
        said["marks"][0]["words"][0]["text"],
        "<script>alert(1)</script>"
    );
    assert_eq!(said["marks"][0]["words"][0]["who"], "rider");
    assert_eq!(said["remarks"][1]["who"], "coach");
    assert_eq!(said["remarks"][1]["block"], 1);
    assert_eq!(said["day"]["fan"], "none");
    assert_eq!(said["day"]["room_c"], -3.0);
    assert!(said["day"]["sleep_h"].is_null());

    let text = csv_table(std::slice::from_ref(&review));
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let line = reader.records().next().unwrap().unwrap();
    let cell = |name: &str| {
        let place = heads.iter().position(|head| head == name).unwrap();
        line[place].to_owned()
    };
    assert_eq!(cell("marks"), "1 2");
    assert_eq!(cell("said_of_ride"), "'=1+1");
    assert!(cell("said_of_block").ends_with(" back"));
    assert_eq!(
        (cell("fan"), cell("room_c"), cell("sleep_h")),
        ("none".to_owned(), "-3".to_owned(), String::new())
    );

    for line in sentences(&review) {
        assert!(!line.contains(char::is_control), "{line:?}");
    }
    let made = page(&[(kept.recording(), review)]);
    assert!(made.contains("Said and noted"));
    assert!(made.contains("&lt;script&gt;") && !made.contains("<script"));
}

/// What is about no line of the table stands with the ride, and says what it is about.
#[test]
fn what_belongs_to_no_block_is_not_left_out_of_the_table() {
    let mut kept = ridden(100);
    kept.events = vec![
        event(41.3, "mark", "1"),
        event(150.0, "mark", "2"),
        event(160.0, "mark", "3"),
    ];
    kept.notes = vec![
        note("remark", None, "Windows open"),
        note("remark", Some(9), "Never came"),
        note("mark-1", None, "Here"),
        note("mark-2", None, "The left knee"),
        note("coach-mark-2", None, "Saddle lower?"),
        note("mark-7", None, "Nowhere"),
    ];
    let text = csv_table(&[kept.review()]);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let line = reader.records().next().unwrap().unwrap();
    let cell = |name: &str| &line[heads.iter().position(|head| head == name).unwrap()];
    assert_eq!((cell("marks"), cell("said_of_block")), ("1", "Here"));
    assert_eq!(
        cell("said_of_ride"),
        "Windows open / block 9: Never came / mark 7: Nowhere / mark 2: The left knee / Saddle lower? / mark 3"
    );
}

#[test]
fn days_that_differ_are_flagged_beside_each_other() {
    let day = |notes: &[(&str, &str)]| {
        let mut kept = ridden(100);
        let notes = notes.iter();
        kept.notes = notes.map(|(what, text)| note(what, None, text)).collect();
        kept
    };
    let flags = |old: &[(&str, &str)], new: &[(&str, &str)]| -> Vec<(Changed, String)> {
        let (old, mut new) = (day(old), day(new));
        new.start.utc_ms += 86_400_000;
        let reviews: Vec<Review> = [&old, &new].map(Rec::review).into();
        let rides: Vec<_> = [&old, &new]
            .into_iter()
            .zip(&reviews)
            .map(|(kept, review)| (String::new(), kept.recording(), review))
            .collect();
        let compared = compare(&rides);
        assert!(compared.flags.iter().all(|flag| flag.ride == 2));
        let flags = compared.flags.into_iter();
        flags.map(|flag| (flag.changed, flag.words)).collect()
    };
    let one = |changed, words: &str| vec![(changed, words.to_owned())];
    assert_eq!(
        flags(&[("fan", "low")], &[("fan", "high")]),
        one(Changed::Fan, "fan high, before low")
    );
    assert_eq!(
        flags(&[("room", "18.1")], &[("room", "21.1")]),
        one(Changed::Room, "21.1 °C in the room, before 18.1")
    );
    assert_eq!(
        flags(&[("sleep", "8")], &[("sleep", "6")]),
        one(Changed::Sleep, "6 h of sleep, before 8")
    );
    assert_eq!(
        flags(&[("soreness", "2")], &[("soreness", "5")]),
        one(Changed::Soreness, "soreness 5, before 2")
    );
    // Less than that, and what is not known of both, is no change.
    for (old, new) in [
        (&[("room", "18.1")][..], &[("room", "21")][..]),
        (&[("sleep", "8")], &[("sleep", "6.1")]),
        (&[("soreness", "2")], &[("soreness", "4.9")]),
        (&[("fan", "low")], &[("fan", "low")]),
        (&[("fan", "low")], &[]),
        (&[], &[("room", "40"), ("sleep", "0"), ("soreness", "10")]),
    ] {
        assert_eq!(flags(old, new), [], "{old:?} {new:?}");
    }
}

/// Files that were written in: whatever stands there, the review is made.
#[test]
fn marks_beyond_all_bounds_are_bounded() {
    let mut kept = ridden(10);
    kept.events = (0..5_000).map(|_| event(1.0, "mark", "7")).collect();
    kept.events.push(event(f64::MAX, "mark", "8"));
    kept.notes = vec![note("mark-7", None, "Which?")];
    let said = kept.review().said;
    assert_eq!(said.marks.len(), 999);
    assert_eq!(said.marks[0].words.len(), 1);
    let mut kept = ridden(10);
    for at in [f64::MAX, f64::NAN, -5.0, 0.0, 1e18] {
        kept.events.push(event(at, "mark", "1"));
    }
    assert_eq!(kept.review().said.marks.len(), 5);
}
