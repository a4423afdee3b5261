//! What was said and noted: moments that were marked, with what was measured in that second; remarks of the rider, notes of
//! the coach; and how the day was.

use serde::Serialize;

use super::Recording;
use super::Review;
use super::blocks::BlockResult;
use super::tables::Shown;
use super::words::{DASH, clock, number, plain};
use crate::record::cell;
use crate::record::noted::{About, Circumstance, Fan, Noted, Who};
use crate::record::{EventLine, MOST_MARKS, Row};
use crate::units::{Bpm, Effort, Rpm, Watts};

/// Somebody's words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Words {
    /// Whose.
    pub who: Who,
    /// When, RFC 3339, UTC.
    pub utc: String,
    /// The words.
    pub text: String,
}

/// A moment that was marked. Its figures are those of the ridden second in which it lies; none where the clock stood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Marked {
    /// Its number, from 1.
    pub number: u32,
    /// Seconds ridden when it was marked.
    pub at_s: f64,
    /// When, RFC 3339, UTC.
    pub utc: String,
    /// Whether the clock stood.
    pub paused: bool,
    /// The number of its block in the session, from 1; none where no second of it was kept.
    pub block: Option<u32>,
    /// The block's name with its repeat.
    pub name: Option<String>,
    /// The effort asked for, out of ten.
    pub effort: Option<f64>,
    /// The lane, W.
    pub lane_w: Option<f64>,
    /// Power, W.
    pub power_w: Option<f64>,
    /// Cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Heart rate, bpm.
    pub heart_rate_bpm: Option<f64>,
    /// What was said of it, in the order in which it was kept.
    pub words: Vec<Words>,
}

/// Words about the session, a block, or a mark that the ride does not have.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Remark {
    /// The block's number, from 1; none where it is about something else.
    pub block: Option<u32>,
    /// The block's name with its repeat; none where it was not ridden.
    pub name: Option<String>,
    /// The number of a mark that the ride does not have.
    pub mark: Option<u32>,
    /// The words.
    #[serde(flatten)]
    pub words: Words,
}

/// How the day was, as far as it was told.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Day {
    /// The fan.
    pub fan: Option<Fan>,
    /// The room's temperature, °C.
    pub room_c: Option<f64>,
    /// Sleep of the night before, h.
    pub sleep_h: Option<f64>,
    /// Soreness of the legs before the ride, out of ten.
    pub soreness: Option<f64>,
    /// Why the clock stood.
    pub paused: Option<String>,
    /// Why the ride was ended early.
    pub ended_early: Option<String>,
}

/// What was said and noted.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Said {
    /// The moments that were marked.
    pub marks: Vec<Marked>,
    /// Remarks of the rider and notes of the coach, in the order in which they were kept.
    pub remarks: Vec<Remark>,
    /// How the day was.
    pub day: Day,
    /// How many notes of the day cannot be what their word says, and are left out.
    pub unreadable: u32,
}

/// Puts together what was said and noted of a ride.
pub fn said(recording: &Recording<'_>, blocks: &[BlockResult]) -> Said {
    let mut said = Said {
        marks: marks(recording, blocks),
        ..Said::default()
    };
    for note in recording.notes {
        match note.noted() {
            Some(Noted::Words { who, about, text }) => {
                let words = Words {
                    who,
                    utc: cell::write_time(note.utc_ms),
                    text: text.to_owned(),
                };
                said.add(about, words, blocks);
            }
            Some(Noted::Day(circumstance)) => said.day.take(circumstance),
            Some(Noted::Unreadable) => said.unreadable += 1,
            None => {}
        }
    }
    said
}

impl Said {
    fn add(&mut self, about: About, words: Words, blocks: &[BlockResult]) {
        let (mut of_block, mut of_mark) = (None, None);
        match about {
            About::Mark(number) => {
                let mut marks = self.marks.iter_mut();
                if let Some(mark) = marks.find(|mark| mark.number == number) {
                    mark.words.push(words);
                    return;
                }
                of_mark = Some(number);
            }
            About::Block(number) => of_block = Some(number),
            About::Session => {}
        }
        let ridden = of_block.and_then(|of| blocks.iter().find(|block| block.block == of));
        self.remarks.push(Remark {
            block: of_block,
            name: ridden.map(BlockResult::title),
            mark: of_mark,
            words,
        });
    }
}

impl Day {
    /// A later one stands for those of its sort before it.
    fn take(&mut self, circumstance: Circumstance) {
        match circumstance {
            Circumstance::Fan(fan) => self.fan = Some(fan),
            Circumstance::Room(celsius) => self.room_c = Some(celsius),
            Circumstance::Sleep(hours) => self.sleep_h = Some(hours),
            Circumstance::Soreness(soreness) => self.soreness = Some(soreness),
            Circumstance::Paused(why) => self.paused = Some(why),
            Circumstance::EndedEarly(why) => self.ended_early = Some(why),
        }
    }
}

/// The ridden second in which a moment lies, from 1: the first lasts from 0 to 1.
fn second(at_s: f64) -> u64 {
    at_s.ceil().max(1.0) as u64
}

/// Whether a mark was set in this block.
pub(super) fn is_in(mark: &Marked, block: &BlockResult) -> bool {
    let second = second(mark.at_s);
    second > block.start_s && second <= block.start_s + block.ridden_s
}

fn marks(recording: &Recording<'_>, blocks: &[BlockResult]) -> Vec<Marked> {
    let mut paused = false;
    let mut marks = Vec::new();
    for event in recording.events {
        match &*event.what {
            "pause" => paused = true,
            "start" | "resume" | "taken-up" => paused = false,
            _ => {}
        }
        // No ride keeps more; a file that was written in may hold any number.
        if marks.len() >= MOST_MARKS as usize {
            break;
        }
        if let Some(number) = event.mark() {
            marks.push(marked(number, event, paused, recording.rows, blocks));
        }
    }
    marks
}

fn marked(
    number: u32,
    event: &EventLine,
    paused: bool,
    rows: &[Row],
    blocks: &[BlockResult],
) -> Marked {
    let second = second(event.ridden_s);
    let row = rows.iter().find(|row| row.ridden_s == second && !paused);
    let mut mark = Marked {
        number,
        at_s: event.ridden_s,
        utc: cell::write_time(event.utc_ms),
        paused,
        block: None,
        name: None,
        effort: row.and_then(|row| row.effort).map(Effort::get),
        lane_w: row.and_then(|row| row.lane).map(Watts::get),
        power_w: row.and_then(|row| row.power).map(Watts::get),
        cadence_rpm: row.and_then(|row| row.cadence).map(Rpm::get),
        heart_rate_bpm: row.and_then(|row| row.heart_rate).map(Bpm::get),
        words: Vec::new(),
    };
    if let Some(block) = blocks.iter().find(|block| is_in(&mark, block)) {
        mark.block = Some(block.block);
        mark.name = Some(block.title());
    }
    mark
}

/// What was said and noted, one paragraph a line: how the day was, the marks, then the remarks.
pub fn sentences(review: &Review) -> Vec<String> {
    let said = &review.said;
    let mut lines = of_day(&said.day);
    lines.extend(said.marks.iter().map(of_mark));
    lines.extend(said.remarks.iter().map(of_remark));
    lines
}

fn of_day(day: &Day) -> Vec<String> {
    let figure = |value: Option<f64>| value.map(|value| number(Some(value), decimals(value)));
    let told = [
        day.fan.map(|fan| match fan {
            Fan::None => word!("no fan").to_owned(),
            Fan::Low => word!("the fan low").to_owned(),
            Fan::High => word!("the fan high").to_owned(),
        }),
        figure(day.room_c).map(|celsius| say!("{celsius} °C in the room", celsius)),
        figure(day.sleep_h).map(|hours| say!("{hours} h of sleep", hours)),
        figure(day.soreness).map(|soreness| say!("soreness {soreness} out of ten", soreness)),
    ];
    let told: Vec<String> = told.into_iter().flatten().collect();
    let mut lines = Vec::new();
    if !told.is_empty() {
        lines.push(say!("The day: {told}.", told = told.join(", ")));
    }
    for (what, why) in [
        (word!("Why the clock stood"), &day.paused),
        (word!("Why it was ended early"), &day.ended_early),
    ] {
        lines.extend(why.as_ref().map(|why| format!("{what}: {}", quoted(why))));
    }
    lines
}

/// Whole figures are told without decimals.
pub(super) fn decimals(value: f64) -> usize {
    usize::from((value - value.round()).abs() >= 0.05)
}

fn quoted(text: &str) -> String {
    format!("{}{}{}", word!("“"), plain(text), word!("”"))
}

fn whose(who: Who) -> &'static str {
    match who {
        Who::Rider => word!("Rider"),
        Who::Coach => word!("Coach"),
    }
}

fn of_mark(mark: &Marked) -> String {
    let place = mark
        .name
        .as_ref()
        .map_or_else(String::new, |name| format!(", {}", plain(name)));
    let figures = [
        (mark.power_w, "W"),
        (mark.cadence_rpm, "rpm"),
        (mark.heart_rate_bpm, "bpm"),
    ];
    let known: Vec<String> = figures
        .into_iter()
        .filter(|(value, _)| value.is_some())
        .map(|(value, unit)| format!("{} {unit}", number(value, 0)))
        .collect();
    let then = match (mark.paused, known.is_empty()) {
        (true, _) => word!("the clock stood").to_owned(),
        (false, true) => word!("nothing was measured in that second").to_owned(),
        (false, false) => known.join(", "),
    };
    let mut line = say!(
        "Mark {number} at {clock}{place}: {then}.",
        number = mark.number,
        clock = clock(mark.at_s),
        place,
        then
    );
    for words in &mark.words {
        line += &format!(" {}: {}", whose(words.who), quoted(&words.text));
    }
    line
}

fn of_remark(remark: &Remark) -> String {
    let words = &remark.words;
    let (who, text) = (whose(words.who), quoted(&words.text));
    let about = match (remark.block, &remark.name, remark.mark) {
        (_, Some(name), _) => plain(name),
        (Some(number), None, _) => say!("block {number}, which was not ridden", number),
        (None, None, Some(number)) => {
            say!("mark {number}, which this ride does not have", number)
        }
        (None, None, None) => return say!("{who}, on the session: {words}", who, words = text),
    };
    say!("{who}, on {about}: {words}", who, about, words = text)
}

/// The marks with what was asked for and measured in their seconds.
pub(super) fn marks_table(review: &Review) -> Shown {
    let row = |mark: &Marked| {
        vec![
            mark.number.to_string(),
            clock(mark.at_s),
            mark.name
                .as_ref()
                .map_or_else(|| DASH.to_owned(), |name| plain(name)),
            number(mark.effort, 1),
            number(mark.lane_w, 0),
            number(mark.power_w, 0),
            number(mark.cadence_rpm, 0),
            number(mark.heart_rate_bpm, 0),
        ]
    };
    let heads = [
        word!("mark" # "a column"),
        word!("at" # "a column"),
        word!("block" # "a column"),
        word!("effort" # "a column"),
        word!("lane W" # "a column"),
        "W",
        "rpm",
        "bpm",
    ];
    Shown {
        title: word!("Marks").to_owned(),
        heads: heads.map(str::to_owned).to_vec(),
        rows: review.said.marks.iter().map(row).collect(),
        note: word!(
            "Figures of the ridden second in which the moment lies; none where the clock stood."
        ),
        left: vec![2],
    }
}

/// What cannot be told of the day, in a sentence.
pub(super) fn unreadable(said: &Said) -> Option<String> {
    match said.unreadable {
        0 => None,
        1 => Some(
            word!(
                "1 note of how the day was cannot be read, or is outside of what can be, and is left out. Look at notes.csv."
            )
            .to_owned(),
        ),
        count => Some(say!(
            "{count} notes of how the day was cannot be read, or are outside of what can be, and are left out. Look at \
             notes.csv.",
            count
        )),
    }
}
